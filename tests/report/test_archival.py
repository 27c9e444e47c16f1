"""PDF/A, by an independent checker: Apache PDFBox Preflight knows part 1b, and knows it strictly.

A report is PDF/A-3b because of its attachments; so a twin without them, that calls itself 1b, is
checked, before and after both signatures. What part 3 adds is held by structure in test_pdf.
"""

from __future__ import annotations

import io
import os
import subprocess
from pathlib import Path

import pikepdf
import pytest
from pikepdf import Name, ObjectStreamMode, Stream

from inspect_rec.people import Person, Role
from inspect_rec.report import pdf
from tests import signing
from tests.programs import needs
from tests.report import photographs, samples

JARS = [
    Path("/usr/share/java") / f"{name}.jar"
    for name in (
        "preflight", "xmpbox", "pdfbox2", "fontbox2", "commons-logging", "javax.activation",
        "jaxb-api",
    )
]  # fmt: skip
PROGRAM = Path(__file__).with_name("Preflight.java")

pytestmark = [
    needs("java"),
    pytest.mark.skipif(
        os.environ.get("CI") != "true" and not all(jar.exists() for jar in JARS),
        reason="needs libpdfbox2-java, libactivation-java, libjaxb-api-java",
    ),
]


def twin(data: bytes) -> bytes:
    """The same report without attachments, called PDF/A-1b."""
    with pikepdf.open(io.BytesIO(data)) as file:
        said = bytes(file.Root.Metadata.read_bytes())
        assert said.count(b"<pdfaid:part>3<") == 1
        text = said.replace(b"<pdfaid:part>3<", b"<pdfaid:part>1<")
        file.Root.Metadata = Stream(file, text, Type=Name.Metadata, Subtype=Name.XML)
        for key in ("/AF", "/Names"):
            if key in file.Root:
                del file.Root[key]
        out = io.BytesIO()
        file.save(
            out,
            force_version="1.4",
            fix_metadata_version=False,
            object_stream_mode=ObjectStreamMode.disable,
            deterministic_id=True,
        )
    return out.getvalue()


def preflight(folder: Path, files: dict[str, bytes]) -> list[str]:
    """What Preflight says: a line a file, and a line for each thing that is wrong."""
    for name, data in files.items():
        (folder / name).write_bytes(data)
    path = os.pathsep.join(str(jar) for jar in JARS)
    done = subprocess.run(
        ["java", "-cp", path, PROGRAM, *files],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_reports_of_every_length_are_archival(tmp_path: Path) -> None:
    names = ["I1", "I2", "I3", "I1 before rework", "longest", "emptiest"]
    names += ["foreign names", "Korean names", "contour", "known tool"]
    files = {f"{n}.pdf": twin(samples.rendered(name)) for n, name in enumerate(names)}
    assert preflight(tmp_path, files) == ["valid"] * len(names)


@pytest.mark.parametrize("mode", ["RGB", "L", "RGBA"])
def test_pictures_of_every_kind_leave_it_archival(tmp_path: Path, mode: str) -> None:
    data = photographs.picture("PNG", mode=mode)
    of = photographs.entries(("edge.png", data, {}))
    made = photographs.report(of, {"picture 1 edge.png": data})
    drawn = pdf.render(made.said, {}, samples.ISSUED).pdf
    assert preflight(tmp_path, {"report.pdf": twin(drawn)}) == ["valid"]


def test_both_signatures_with_their_visible_blocks_leave_it_archival(tmp_path: Path) -> None:
    first = signing.measured("I2", base=twin(samples.rendered("I2")))
    second = signing.released(first, None, "not released", "DC_2 neither shown")
    assert preflight(tmp_path, {"first.pdf": first, "second.pdf": second}) == ["valid", "valid"]


def test_signatures_with_korean_names_leave_it_archival(tmp_path: Path) -> None:
    grinder = Person("G-02", "김하늘 (연삭)", (Role.GRINDS, Role.MEASURES))
    inspector = Person("Q-02", "박서준", (Role.RELEASES,))
    first = signing.measured("I2", signing.who(grinder), twin(samples.rendered("I2")))
    second = signing.released(first, signing.who(inspector), "not released", "마모가 커서")
    assert preflight(tmp_path, {"first.pdf": first, "second.pdf": second}) == ["valid", "valid"]


def test_the_checker_sees_a_font_that_is_not_embedded(tmp_path: Path) -> None:
    with pikepdf.open(io.BytesIO(twin(samples.rendered("emptiest")))) as file:
        font = next(iter(file.pages[0].Resources.Font.values()))
        del font.FontDescriptor["/FontFile2"]
        out = io.BytesIO()
        file.save(out, object_stream_mode=ObjectStreamMode.disable)
    assert preflight(tmp_path, {"without.pdf": out.getvalue()})[0] == "not valid"


def test_the_twin_is_the_report_but_for_its_attachments() -> None:
    assert pdf.text_of(twin(samples.rendered("I1"))) == pdf.text_of(samples.rendered("I1"))

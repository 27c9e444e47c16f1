"""Ways to a line that other packages bring: found, tried, and named where they fail."""

from __future__ import annotations

from pathlib import Path

import pytest

from drivers.installed import GROUP, installed, way
from drivers.layout import packaged
from drivers.opening import opened
from drivers.transport import Chunk, Lost
from inspect_rec.errors import ReadoutError
from tests.drivers.peers import until

LAYOUT = packaged()["two-axis line"]
TOWER = """
class Port:
    def __init__(self): self.left = [b"X+00001.234Z+00005.678\\r\\n"]
    def read(self, timeout_s):
        if self.left: return self.left.pop()
        raise OSError("the tower fell")
    def write(self, data): raise OSError("nothing can be asked")
    def close(self): pass

class Tower:
    vanishes = False
    def __init__(self, address, layout):
        self.address, self.opened = address, 0
    def open(self):
        self.opened += 1
        if self.opened > 1: raise OSError("no tower")
        return Port()
    def close(self): pass

def fallen(address, layout):
    tower = Tower(address, layout)
    tower.opened = 1
    return tower

def fails(address, layout): raise RuntimeError("no key")
def gives_nothing(address, layout): return object()
"""


def install(at: Path, package: str, ways: dict[str, str]) -> None:
    """A package as an installer leaves it."""
    (at / f"{package}.py").write_text(TOWER, encoding="utf-8")
    said = at / f"{package}-1.0.dist-info"
    said.mkdir()
    (said / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {package}\nVersion: 1.0\n")
    lines = "".join(f"{name} = {package}:{what}\n" for name, what in ways.items())
    (said / "entry_points.txt").write_text(f"[{GROUP}]\n{lines}")


@pytest.fixture
def towers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ways = {"tower": "Tower", "fallen": "fallen", "broken": "fails", "empty": "gives_nothing"}
    install(tmp_path, "towers", ways)
    monkeypatch.syspath_prepend(tmp_path)


@pytest.mark.usefixtures("towers")
def test_a_line_of_another_package_is_opened_by_its_address() -> None:
    with opened("tower:3", LAYOUT) as line:
        assert until(line, Chunk).data.startswith(b"X+00001.234")
        assert "the tower fell" in until(line, Lost).why


@pytest.mark.usefixtures("towers")
@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("broken:1", "RuntimeError: no key"),
        ("empty:1", "object without address, vanishes, open, close"),
        ("castle:1", "tower:…"),
    ],
)
def test_one_that_fails_or_isn_t_there_is_said(address: str, said: str) -> None:
    with pytest.raises(ReadoutError) as caught:
        opened(address, LAYOUT)
    assert said in str(caught.value)


@pytest.mark.usefixtures("towers")
def test_two_packages_with_one_beginning_are_both_named(tmp_path: Path) -> None:
    install(tmp_path, "others", {"Tower": "Tower"})
    with pytest.raises(ReadoutError) as caught:
        way("tower", "tower:1", LAYOUT)
    assert "others" in str(caught.value)
    assert "towers" in str(caught.value)


def keeps_the_contract(name: str) -> None:
    """Where nothing is connected it raises OSError, and lets go without a word."""
    found = way(name, f"{name}:nothing-is-there", LAYOUT)
    assert found is not None
    assert isinstance(found.address, str)
    assert isinstance(found.vanishes, bool)
    with pytest.raises(OSError, match=r".*"):
        found.open()
    found.close()


@pytest.mark.usefixtures("towers")
def test_every_way_that_is_installed_here_keeps_the_contract() -> None:
    names = [each.name for each in installed() if each.value.partition(":")[0] != "towers"]
    for name in [*names, "fallen"]:
        keeps_the_contract(name)


@pytest.mark.usefixtures("towers")
def test_one_that_does_not_is_found() -> None:
    with pytest.raises(pytest.fail.Exception):
        keeps_the_contract("tower")

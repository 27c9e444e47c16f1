"""The calculator as it is typed: values, JSON, lists, files of cases, exit codes."""

from __future__ import annotations

import io
import json
import math
from pathlib import Path
from typing import Any

import pytest

from inspect_rec import cli
from inspect_rec.calculator import base
from inspect_rec.cli import methods_page
from inspect_rec.methods import register as methods
from tests.compute.published import FILE, cases

PAGE = Path(__file__).parents[2] / "docs" / "methods.md"


@pytest.fixture
def calc(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Any:
    """``calc(words, piped)`` -> exit code, what was printed, what was said of errors."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("INSPECT_REC_SHOP", raising=False)

    def run(*words: str, piped: str = "") -> tuple[int, str, str]:
        monkeypatch.setattr("sys.argv", ["inspect-rec", "calc", *words])
        monkeypatch.setattr("sys.stdin", io.StringIO(piped))
        with pytest.raises(SystemExit) as caught:
            cli.main()
        said = capsys.readouterr()
        return int(caught.value.code or 0), said.out, said.err

    return run


def test_typed_and_piped_values_give_the_same(calc: Any) -> None:
    code, typed, _ = calc("chord-rise", "chord_mm=4", "rise_mm=0.35", "--json")
    piped = calc("chord-rise", "--json", piped='{"chord_mm": 4, "rise_mm": 0.35}')[1]
    assert code == 0
    assert json.loads(typed)["got"] == json.loads(piped)["got"]
    assert json.loads(typed)["got"]["radius_mm"] == pytest.approx(5.889285714, abs=1e-9)


def test_points_lists_and_tables_are_typed_without_quotes(calc: Any) -> None:
    out = calc("circle", "points_mm=1:7,2:6,5:8,7:7,9:5,3:7", "--json")[1]
    assert json.loads(out)["got"]["radius_mm"] == pytest.approx(4.7142, abs=6e-5)
    out = calc("lead-from-travel", "z_mm=0,10.01,20", "phi_deg=0,66,132", "--json")[1]
    assert json.loads(out)["inputs"]["z_mm"] == [0, 10.01, 20]
    out = calc(
        "width-by-two-sightings-no-master", "edges.greater=15.318", "edges.smaller=14.706", "--json"
    )[1]
    assert json.loads(out)["got"]["value_mm"] == pytest.approx(0.612)


def test_words_show_value_uncertainty_budget_formula_and_source(calc: Any) -> None:
    code, out, _ = calc("chord-rise", "chord_mm=4", "rise_mm=0.35", "u.rise_mm=0.001")
    assert code == 0
    # By hand: dR/dh = 1/2 - c^2 / (8 h^2) = -15.83 mm of R for one of h.
    assert "5.889 mm, U 0.032 mm, k 2" in out
    assert "rise_mm (0.0010 normal)" in out
    assert "formula: radius = c^2 / (8 h) + h / 2" in out
    assert "source: derived" in out
    assert max(map(len, out.splitlines())) <= 80


def test_a_method_outside_a_shop_takes_common_practice_and_says_so(calc: Any) -> None:
    words = ("edges.greater=15.318", "edges.smaller=14.706")
    out = calc("width-by-two-sightings-no-master", *words)[1]
    assert "crosshair at the two ends (1.5 normal, 2 ends, assumed)" in out
    told = json.loads(calc("width-by-two-sightings-no-master", *words, "--json")[1])
    row = told["uncertainty"]["value_mm"]["budget"][0]
    assert row["assumed"]
    assert row["u"] == pytest.approx(1.5 * math.sqrt(2))


def test_trials_are_told_beside_the_budget(calc: Any) -> None:
    words = ("chord-rise", "chord_mm=4", "rise_mm=0.35", "u.rise_mm=0.05", "--trials", "20000")
    told = json.loads(calc(*words, "--json")[1])["uncertainty"]["radius_mm"]
    assert told["trials"]["number"] == 20_000
    assert told["trials"]["budget"] == "disagrees"
    assert "does NOT agree" in " ".join(calc(*words)[1].split())


def test_the_list_holds_every_computation_and_method(calc: Any) -> None:
    told = json.loads(calc("--list", "--json")[1])["computations"]
    names = [each["name"] for each in told]
    assert set(names) == {*base.register(), *(m.slug for m in methods.register().values())}
    assert len(set(names)) == len(names)
    for each in told:
        assert each["inputs"]
        assert each["outputs"]
        assert each["formula"]
        assert each["source"]
        units = {one["name"]: one["unit"] for one in each["inputs"]}
        assert all(unit == "mm" for name, unit in units.items() if name.endswith("_mm"))
    words = calc("--list")[1]
    assert max(map(len, words.splitlines())) <= 80
    for name in names:
        assert f"  {name}" in words


@pytest.mark.parametrize("method", methods.register().values(), ids=lambda m: m.slug)
def test_each_method_is_told_alone(calc: Any, method: methods.Method) -> None:
    code, out, _ = calc(method.slug, "--list")
    assert code == 0
    for role in method.roles:
        assert role.name in out
    for each in method.asks:
        assert each.name in out
    assert calc(method.name, "--list")[1] == out


@pytest.mark.parametrize(
    ("words", "piped", "said"),
    [
        ((), "", "nothing to compute"),
        (("cirle", "x=1"), "", "circle"),
        (("circle",), "", "no inputs"),
        (("circle",), "[1]", "a JSON object"),
        (("circle",), "{", "a JSON object"),
        (("circle", "points"), "", "INPUT=VALUE"),
        (("chord-rise", "chord_mm=4", "chord_mm=5"), "", "given twice"),
        (("chord-rise", "chord_mm=4", "chord_mm.x=5"), "", "given twice"),
        (("chord-rise", "chord_mm=4", "rise_mm=NaN"), "", "rise_mm"),
        (("chord-rise", "chord_mm=4", "rise_mm=1", "u=3"), "", "u must be a table"),
        (("chord-rise", "chord_mm=4", "rise_mm=1", "--trials", "9000"), "", "u.chord_mm"),
        (("--record", "x.pdf"), "", "--cases"),
        (("--list", "nothing-like-it"), "", "no such computation"),
        (("--cases", "missing.json"), "", "missing.json"),
    ],
)
def test_a_mistake_is_said_and_ends_with_the_code_of_inputs(
    calc: Any, words: tuple[str, ...], piped: str, said: str
) -> None:
    code, _, error = calc(*words, piped=piped)
    assert code == 2
    assert said in " ".join(error.split())


def test_what_has_no_result_ends_with_the_code_of_computations(calc: Any) -> None:
    code, _, error = calc("circle", "points_mm=1:2,2:4,3:6")
    assert code == 8
    assert "Traceback" not in error


def test_the_published_cases_run_as_a_file(calc: Any) -> None:
    code, out, _ = calc("--cases", str(FILE), "--json")
    told = {each["id"]: each for each in json.loads(out)["cases"]}
    assert code == 0
    assert set(told) == set(cases())
    for id_, case in cases().items():
        if case["calc"] is None:
            assert told[id_]["skipped"] == "test only"
        else:
            assert told[id_]["ok"], id_
            assert ("got" in told[id_]) is True


def test_one_case_that_is_off_makes_the_exit_code_one(calc: Any, tmp_path: Path) -> None:
    case = json.loads(json.dumps(cases()["circle-three-points"]))
    file = tmp_path / "mine.json"
    for value, code in ((case["expect"]["radius_mm"]["value"], 0), (5.9, 1)):
        case["expect"]["radius_mm"]["value"] = value
        file.write_text(json.dumps({"cases": [case]}), encoding="utf-8")
        assert calc("--cases", str(file))[0] == code
        assert calc("--cases", str(file), "--json")[0] == code
    assert "OFF" in calc("--cases", str(file))[1]
    case["calc"], case["expect"] = "squircle", None
    file.write_text(json.dumps({"cases": [case]}), encoding="utf-8")
    code, out, _ = calc("--cases", str(file), "--json")
    assert code == 1
    assert "no such computation" in json.loads(out)["cases"][0]["error"]


def test_words_that_differ_are_both_told_and_a_quantity_that_is_lacking_is(
    calc: Any, tmp_path: Path
) -> None:
    file = tmp_path / "mine.json"
    inputs = {"y_mm": 1, "u_mm": 0.1, "upper_limit_mm": 2}
    expect = {"verdict": {"value": "does not conform"}, "colour": {"value": 1}}
    case = {"id": "a", "calc": "conformity", "inputs": inputs, "expect": expect}
    file.write_text(json.dumps({"cases": [case]}), encoding="utf-8")
    said = " ".join(calc("--cases", str(file))[1].split())
    assert "verdict: got conforms, expected does not conform; colour: not given" in said


def test_a_record_in_the_place_of_a_folder_is_no_fault_of_the_program(
    calc: Any, tmp_path: Path
) -> None:
    code, _, error = calc("--cases", str(FILE), "--record", str(tmp_path))
    assert code == 2
    assert "can't be written" in error


@pytest.mark.parametrize(
    ("words", "name", "value"),
    [
        (("degrees-to-dms", "angle_deg_text=29.99999"), "degrees", 30),
        (("angle-text", "angle_text=-0°30'"), "angle_deg", -0.5),
        (("angle-text", "angle_text=12.5"), "angle_deg", 12.5),
        (("inch-to-mm", "inch_text=0.3125"), "mm_text_1", "7.9375"),
        (("inch-to-mm", "inch_text=1,0.3125"), "mm_text_2", "7.9375"),
        (("inch-to-mm", 'inch_text=["1", "0.3125"]'), "mm_text_2", "7.9375"),
        (("t-factor", "p=.95", "dof=null"), "t", [pytest.approx(1.959964, abs=1e-6)]),
        (("grubbs-critical", "n=5"), "critical", [pytest.approx(1.715037, abs=1e-6)]),
        (("pooled-study", "readings_group_trial=1,2,3"), "s", 1.0),
        (("width-two-sightings", "x1=+1.", "x2=.5", "bias_mm=null"), "diameter_mm", 0.5),
        (("size-limits", "class=h7", "nominal_mm=10"), "lower_deviation_um", -15.0),
    ],
)
def test_values_are_typed_as_people_write_them(
    calc: Any, words: tuple[str, ...], name: str, value: Any
) -> None:
    code, out, error = calc(*words, "--json")
    assert (code, error) == (0, "")
    assert json.loads(out)["got"][name] == value


def test_a_case_cannot_steer_the_terminal(calc: Any, tmp_path: Path) -> None:
    file = tmp_path / "mine.json"
    case = {"id": "a\x1b[31m\r\nb", "calc": "squircle\x07", "inputs": {}}
    refused = {"id": "c", "calc": "circle", "inputs": {"\x1b[2J": 1}, "expect": {"r": {"value": 1}}}
    file.write_text(json.dumps({"cases": [case, refused]}), encoding="utf-8")
    _, out, _ = calc("--cases", str(file))
    assert "OFF" in out
    assert all(sign.isprintable() for line in out.split("\n") for sign in line)


def test_lists_nested_too_deep_are_said_to_be_none(calc: Any) -> None:
    code, _, error = calc("circle", "points_mm=" + "[" * 100_000)
    assert code == 2
    assert "points_mm.0.0: expected a number" in error
    code, _, error = calc("circle", piped="[" * 100_000)
    assert code == 2
    assert "nested too deep" in error


def test_an_input_that_is_piped_twice_is_refused(calc: Any) -> None:
    code, _, error = calc("chord-rise", piped='{"chord_mm": 4, "rise_mm": 1, "chord_mm": 5}')
    assert code == 2
    assert "'chord_mm' stands twice" in " ".join(error.split())


def test_the_page_of_methods_is_current() -> None:
    assert PAGE.read_text(encoding="utf-8") == methods_page.page()

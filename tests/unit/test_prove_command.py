"""``heldtrue prove``: a program that comes back edited, and what is wrong with it, by line."""

import json
import re
import shutil
from pathlib import Path

import pytest
from conftest import ROOT, longer
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.planning.boring import BORING_CAUTIONS, bore
from heldtrue.planning.boring_program import template_of
from heldtrue.planning.setup import Setup
from heldtrue.program.front import program as program_of_job
from heldtrue.terminal.boring import _program_words

SHAFT = ROOT / "examples" / "winch-shaft.toml"
USED = ROOT / "examples" / "gland-flange-repeat.toml"


def run(*arguments):
    return CliRunner().invoke(app, [str(a) for a in arguments], catch_exceptions=False)


def program_of(folder, *arguments):
    assert run(*arguments, "--out", folder).exit_code == 0
    (path,) = folder.glob("*.nc")
    return path


pytestmark = pytest.mark.usefixtures("planned_once")


@pytest.fixture(scope="module")
def written(tmp_path_factory, planned_once):
    return program_of(tmp_path_factory.mktemp("bored") / "jaws", "bore", SHAFT)


def prove(path, text, *arguments):
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return run("prove", path, "--setup", SHAFT, *arguments)


def test_what_was_written_is_proved(written):
    result = run("prove", written, "--setup", SHAFT)
    assert result.exit_code == 0
    assert "bore-J-031.nc: proved" in result.output
    assert "by the template neutral" in result.output
    assert "with the wear offset at zero" in result.output
    said = " ".join(re.sub(r"[│─╭╮╰╯]", " ", result.output).split())
    assert all(words in said for words in BORING_CAUTIONS)


def test_a_proof_for_a_part_whose_plan_does_not_pass_says_so(tmp_path):
    setup = tmp_path / "shaft.toml"
    shutil.copytree(ROOT / "examples", tmp_path, dirs_exist_ok=True)
    setup.write_text(SHAFT.read_text() + '\n[run]\npressure = "200 psi"\n')
    made = bore(Setup.from_toml(setup))
    assert made.verdict != "passes"
    path = program_of(tmp_path / "jaws", "bore", setup)
    said = " ".join(run("prove", path, "--setup", setup).output.split())
    assert f"the plan of the part itself {made.verdict}: see why" in said.replace("is not proven", "not proven")


def test_a_harmless_edit_is_proved(written, tmp_path):
    """Line ends of a control, a program number, other comments, a slower feed."""
    text = written.read_text().replace("%\n(WINCH", "%\nO0031\n(OURS, WINCH", 1).replace("F0.150", "F0.120")
    assert prove(tmp_path / "back.nc", text.replace("\n", "\r\n")).exit_code == 0


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("G0 Z4.000", "G92 S2000 Z4.000", "line 28: G92 beside a move"),
        ("G92 S2000", "G92 S2600", "spindle limit"),
        ("F0.150", "F0.015", "no less than 0.03"),
        ("G1 X59.986 Z-41.870", "G1 X60.086 Z-41.870", "into metal that must stay"),
        ("M5\n(MEAS", "(MEAS", "for a person with the spindle turning"),
        ("X42.172", "X4\u0662.172", "arabic-indic digit two"),
        ("M30", "M99", "M99 is not known here"),
        ("(FINISH)", "(FINISH) G0 Z-50.", "is no comment at the end of a block"),
    ],
)
def test_an_edit_that_is_not_is_refused_with_its_line(written, tmp_path, old, new, words):
    text = written.read_text()
    assert old in text
    result = prove(tmp_path / "back.nc", text.replace(old, new, 1), "--units", "metric")
    assert result.exit_code == 1
    assert "back.nc: NOT proved, do not run it" in result.output
    assert words in " ".join(result.output.split())
    assert re.search(r"- line \d+: ", result.output)


def test_bytes_that_are_no_text_are_refused_as_a_line(written, tmp_path):
    spoilt = written.read_bytes().replace(b"G0 Z4.000", b"G0 Z4\xb7000", 1)
    result = prove(tmp_path / "back.nc", spoilt)
    assert result.exit_code == 1
    assert "line 28: a program has plain ASCII letters alone; this line has middle dot" in result.output
    assert prove(tmp_path / "back.nc", b"\xef\xbb\xbf" + written.read_bytes()).exit_code == 1
    assert prove(tmp_path / "back.nc", b"").exit_code == 1
    assert prove(tmp_path / "back.nc", bytes(range(256))).exit_code == 1


def test_the_document_is_the_proof(written, tmp_path):
    good = json.loads(run("prove", written, "--setup", SHAFT, "--json").stdout)
    assert good == json.loads((written.parent / "proof.json").read_text())
    bad = prove(tmp_path / "back.nc", written.read_text().replace("M30", "M99"), "--json")
    document = json.loads(bad.stdout)
    assert bad.exit_code == 1
    assert not document["passed"]
    assert document["findings"][0]["code"] == "unreadable"
    assert document["findings"][0]["line"] == written.read_text().split("\n").index("M30") + 1


def test_a_program_of_other_jaws_is_not_proved(written):
    assert run("prove", written, "--setup", ROOT / "examples" / "gland-flange.toml").exit_code == 1


def test_a_re_cut_needs_what_was_touched_off(tmp_path):
    path = program_of(tmp_path / "jaws", "recut", USED, "--measured", "Ø89.5")
    assert run("prove", path, "--setup", USED, "--measured", "Ø89.5").exit_code == 0


def test_what_cannot_be_read_is_bad_input(written, tmp_path):
    assert run("prove", tmp_path / "none.nc", "--setup", SHAFT).exit_code == 2
    assert run("prove", tmp_path, "--setup", SHAFT).exit_code == 2
    assert run("prove", written, "--setup", tmp_path / "none.toml").exit_code == 2


@pytest.fixture
def shop(tmp_path):
    shutil.copytree(ROOT / "examples", tmp_path / "shop")
    return tmp_path / "shop"


def with_lines(path, *lines):
    path.write_text(path.read_text().replace("[boring] ", "[boring]\n" + "\n".join(lines) + "\n#", 1))
    return path


@pytest.mark.parametrize("name", ["radius-x", "inch", *longer("iso-g50-g99", "iso-g92-g95", "lims-cr")])
def test_a_template_is_taken_by_its_name(shop, tmp_path, name):
    setup = with_lines(shop / "winch-shaft.toml", f'template = "{name}"')
    path = program_of(tmp_path / "jaws", "bore", setup)
    document = json.loads((path.parent / "bore.json").read_text())["program"]
    assert (document["dialect"], document["unit"]) == (name, "inch" if name == "inch" else "mm")
    result = run("prove", path, "--setup", setup)
    assert result.exit_code == 0
    assert f"by the template {name}" in result.output
    assert run("prove", path, "--setup", SHAFT).exit_code == 1  # in the words of another control


def test_a_template_of_no_such_name_names_those_there_are(shop):
    result = run("bore", with_lines(shop / "winch-shaft.toml", 'template = "g50"'))
    assert result.exit_code == 2
    assert "by name there are inch, iso-g50-g99, iso-g92-g95, lims-cr, neutral, radius-x" in " ".join(
        result.output.split()
    )


def test_inches_make_an_inch_program_unless_the_template_says_otherwise():
    made = Setup.from_toml(SHAFT)
    assert template_of(made) == "neutral"
    inch = made.with_({"units": "inch"})
    assert template_of(inch) == "inch"
    assert template_of(inch.with_({"boring.template": "radius-x"})) == "radius-x"
    assert template_of(inch.with_({"boring.template": "ours.toml"}), "shop") == Path("shop/ours.toml")


def test_the_units_of_a_program_are_said(written):
    assert "in millimetres, template neutral" in " ".join(run("bore", SHAFT, "--units", "inch").output.split())
    assert "(ALL LENGTHS IN MILLIMETRES, X AS A DIAMETER)" in written.read_text()
    proved = program_of_job(bore(Setup.from_toml(SHAFT)).job, "inch")
    assert _program_words(proved, "inch", "inch").count("in inches, template inch") == 1
    words = _program_words(proved, "metric", "metric")
    assert "in inches, though the setup is not: its template says so" in words
    assert "allowed 0.0024 mm" in words

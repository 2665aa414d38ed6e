"""``heldtrue bore`` and ``heldtrue recut``: what a setter reads, what lies in the folder, what is never left there."""

import json
import re
import shutil
import sys

import ezdxf
import jsonschema
import pytest
import trimesh
from conftest import ROOT
from pypdf import PdfReader
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.drawing import solids
from heldtrue.errors import ProofError
from heldtrue.folder_lock import LOCK
from heldtrue.planning import boring_program
from heldtrue.planning.result import CAUTIONS
from heldtrue.program.front import proved
from heldtrue.program.read import read_program

EXAMPLES = ROOT / "examples"
SHAFT = EXAMPLES / "winch-shaft.toml"
GLAND = EXAMPLES / "gland-flange.toml"
USED = EXAMPLES / "gland-flange-repeat.toml"
GOOD = {"files.json", "jaw.svg", "jaw.dxf", "jaw-sheet.pdf", "steps.txt", "tool-path.svg", "proof.json", "bore.json",
        "jaws.step", "jaw-1.stl"}  # fmt: skip


def run(*arguments):
    return CliRunner().invoke(app, [str(a) for a in arguments], catch_exceptions=False)


def names(folder):
    return {path.name for path in folder.iterdir()} - {LOCK}


pytestmark = pytest.mark.usefixtures("planned_once")


@pytest.fixture(scope="module")
def cut(tmp_path_factory, planned_once):
    """The folder of the winch shaft's jaws, and what the command printed."""
    folder = tmp_path_factory.mktemp("cut") / "jaws"
    result = run("bore", SHAFT, "--out", folder)
    assert result.exit_code == 0
    return folder, result.output


def test_the_folder_holds_everything_for_the_machine(cut):
    folder, printed = cut
    assert names(folder) == GOOD | {"bore-J-031.nc"}
    assert "tooth 14 on every jaw" in printed
    assert "proved: read back" in printed
    assert all(words in printed for words in CAUTIONS)


def test_the_program_in_the_folder_is_the_one_that_was_proved(cut):
    folder, _ = cut
    document = json.loads((folder / "bore.json").read_text())
    assert document["program"]["text"] == (folder / "bore-J-031.nc").read_text()
    assert document["program"]["proof"] == json.loads((folder / "proof.json").read_text())
    assert document["proof"]["passed"]
    assert max(document["proof"]["gouge"], document["proof"]["left_over"]) <= 0.001


def test_the_printed_document_is_the_schema_s(cut):
    for command, schema, arguments in (("bore", "bore", ()), ("recut", "recut", ("--measured", "Ø89.5"))):
        printed = run(command, USED if arguments else SHAFT, "--json", *arguments)
        assert printed.exit_code == 0
        rules = json.loads(run("schema", schema).stdout)
        jsonschema.Draft202012Validator(rules).validate(json.loads(printed.stdout))


@pytest.mark.parametrize("name", ["jaws", "rings", "tool"])
def test_hardware_files_have_a_schema(name):
    jsonschema.Draft202012Validator.check_schema(json.loads(run("schema", name).stdout))


def test_the_drawing_measures_what_the_plan_says(cut):
    folder, _ = cut
    made = json.loads((folder / "bore.json").read_text())["bore"]
    drawing = ezdxf.readfile(folder / "jaw.dxf")
    assert not drawing.audit().errors
    dimensions = drawing.modelspace().query("DIMENSION")  # a view at another scale has its factor
    measured = {round(one.get_measurement() * one.override().get("dimlfac"), 3) for one in dimensions}
    for value in (made["diameter"], made["mouth_diameter"], made["depth"], made["relief_width"], made["relief_depth"]):
        assert round(value, 3) in measured
    assert {"A4", "Letter"} <= set(drawing.layout_names())


def test_the_drawing_in_inch_measures_in_inch(tmp_path):
    assert run("bore", SHAFT, "--out", tmp_path, "--units", "inch").exit_code == 0
    made = json.loads((tmp_path / "bore.json").read_text())["bore"]
    drawing = ezdxf.readfile(tmp_path / "jaw.dxf")
    measured = [one.get_measurement() for one in drawing.modelspace().query("DIMENSION")]
    assert any(value == pytest.approx(made["diameter"] / 25.4, abs=5e-5) for value in measured)
    assert " mm" not in (tmp_path / "steps.txt").read_text()


def test_the_steps_come_with_numbers_and_cautions(cut):
    text = (cut[0] / "steps.txt").read_text()
    for words in ("[ ]  1 clean", "74.2 N m", "395 psi", "Ø59.985", *CAUTIONS):
        assert words in text


def test_the_jaws_come_as_solids_and_all_say_what_is_not_in_them(cut):
    folder, printed = cut
    told = json.loads((folder / "bore.json").read_text())["solids"]
    assert [one["name"] for one in told["files"]] == ["jaws.step", "jaw-1.stl"]
    assert (told["chord"], told["failed"]) == (0.01, [])
    assert 0 < told["off"] <= 0.01
    head = (folder / "jaws.step").read_text().partition("ENDSEC")[0].replace("\n", "").replace("''", "'")
    for words in told["not_in_it"]:
        assert f"not in it: {words}" in head
        assert f"not in it: {words}" in " ".join(printed.split())
    for words in told["shows"]:
        assert words in head
        assert words in " ".join(printed.split())
    assert any("serration" in words for words in told["not_in_it"])
    assert any("origin on the spindle axis" in words for words in told["shows"])
    listed = json.loads((folder / "files.json").read_text())["files"]
    assert {"jaws.step", "jaw-1.stl"} <= set(listed)
    mesh = trimesh.load(folder / "jaw-1.stl")
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(told["volume"], rel=1e-3)


def broken_kernel(monkeypatch, tmp_path, lines):
    """The process of the geometry kernel does what is said, whatever it is asked."""
    stand_in = tmp_path / "kernel"
    stand_in.write_text("#!/bin/sh\n" + lines)
    stand_in.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(stand_in))


@pytest.mark.parametrize(("lines", "why"), [
    ("kill -SEGV $$", "the geometry kernel broke off (exit status -11)"),
    ("exec sleep 60", "the geometry kernel was stopped after 0.3 s"),
    ("exit 0", "the geometry kernel broke off (exit status 0)"),
    ("""echo '{"made": {}, "failed": {"jaws.step": "no", "jaw-1.stl": "no"}}' > $3/answer.json""", "not written: no"),
    ("""echo '{"made"' > $3/answer.json""", "an answer that cannot be read"),
    ("""echo '{"made": {}, "failed": {}}' > $3/answer.json""", "an answer that cannot be read"),
])  # fmt: skip
def test_a_kernel_that_breaks_off_leaves_a_reason_and_no_file(shaft, tmp_path, monkeypatch, lines, why):
    broken_kernel(monkeypatch, tmp_path, lines)
    made = solids.make_solids(shaft, longest=0.3)
    assert made.files == {}
    assert made.told.files == ()
    assert why in " ".join(made.told.failed)


@pytest.fixture(scope="module")
def shaft():
    """The plan for the winch shaft's jaws."""
    from heldtrue.planning.boring import bore
    from heldtrue.planning.setup import Setup

    return bore(Setup.from_toml(SHAFT))


def test_the_program_is_written_although_the_kernel_breaks_off(cut, tmp_path, monkeypatch):
    folder = tmp_path / "jaws"
    shutil.copytree(cut[0], folder)
    broken_kernel(monkeypatch, tmp_path, "kill -SEGV $$")
    result = run("bore", SHAFT, "--out", folder)
    assert result.exit_code == 0
    assert names(folder) == (GOOD - {"jaws.step", "jaw-1.stl"}) | {"bore-J-031.nc"}
    said = " ".join(result.output.split())
    assert "jaws.step and jaw-1.stl not written: the geometry kernel broke off" in said
    assert f"removed {folder / 'jaws.step'}" in said
    told = json.loads((folder / "bore.json").read_text())["solids"]
    assert told["files"] == []
    assert "broke off" in told["failed"][0]
    assert run("folder", folder).exit_code == 0


@pytest.mark.parametrize(("options", "why"), [
    (("--chord", "0.01 mm"), "without --out none is written"),
    (("--out", "x", "--chord", "0"), "found 0; 0.0005 to 1 mm"),
    (("--out", "x", "--chord", "2 mm"), "found 2 mm; 0.0005 to 1 mm"),
    (("--out", "x", "--chord", "fine"), "--chord"),
])  # fmt: skip
def test_a_chord_that_cannot_be_is_refused(options, why, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run("bore", SHAFT, *options)
    assert result.exit_code == 2
    assert why in " ".join(result.output.split())
    assert list(tmp_path.iterdir()) == []


def spoilt(monkeypatch, old, new):
    """The next program has ``new`` for the first ``old`` in its text."""
    from heldtrue.program import front

    good = front.write_program

    def bad(*arguments):
        text = good(*arguments)
        assert old in text
        return text.replace(old, new, 1)

    monkeypatch.setattr(front, "write_program", bad)


def test_a_program_that_fails_its_proof_is_not_written_and_an_older_one_goes(cut, tmp_path, monkeypatch):
    folder = tmp_path / "jaws"
    shutil.copytree(cut[0], folder)
    spoilt(monkeypatch, "G1 Z-43.300", "G1 Z-53.300")
    result = run("bore", SHAFT, "--out", folder)
    assert result.exit_code == 1
    assert names(folder) == {"files.json", "jaw.svg", "jaw.dxf", "proof.json", "failed-path.svg", "bore.json"}
    assert "the program is not written: its proof failed. line " in result.output
    picture = (folder / "failed-path.svg").read_text()
    assert "NOT PROVED" in picture
    assert re.search(r">1(?:, \d)*</text>", picture)
    document = json.loads((folder / "bore.json").read_text())
    assert document["program"] is None
    assert not document["proof"]["passed"]
    assert f"removed {folder / 'bore-J-031.nc'}" in result.output.replace("\n", "")


def test_what_heldtrue_did_not_write_is_left_alone_and_named(tmp_path):
    """Also where today's answer has a file of that name, and where a failed run takes an older set away."""
    (tmp_path / "tool-path.svg").write_text("my own drawing")
    refused = run("bore", SHAFT, "--out", tmp_path)
    assert refused.exit_code == 2
    assert "tool-path.svg: there already, and not written by heldtrue" in " ".join(refused.output.split())
    assert names(tmp_path) == {"tool-path.svg"}
    assert (tmp_path / "tool-path.svg").read_text() == "my own drawing"


def test_an_edited_program_is_kept_under_another_name_and_said(cut, tmp_path, monkeypatch):
    folder = tmp_path / "jaws"
    shutil.copytree(cut[0], folder)
    assert run("folder", folder).exit_code == 0
    program = folder / "bore-J-031.nc"
    program.write_text(edited := program.read_text().replace("G0", "G00", 1))
    (folder / "notes.txt").write_text("mine")
    looked = run("folder", folder)
    assert looked.exit_code == 1
    assert "changed since it was written: bore-J-031.nc" in looked.output
    assert "not of the set: notes.txt" in looked.output
    spoilt(monkeypatch, "G1 Z-43.300", "G1 Z-53.300")
    result = run("bore", SHAFT, "--out", folder)
    assert result.exit_code == 1
    said = " ".join(result.output.split())
    assert f"kept {program} as bore-J-031.nc.edited: it was changed by hand" in said
    assert f"left {folder / 'notes.txt'}: not written by heldtrue" in said
    assert not any(name.endswith(".nc") for name in names(folder))
    assert (folder / "bore-J-031.nc.edited").read_text() == edited
    assert (folder / "notes.txt").read_text() == "mine"


def test_a_program_of_another_set_does_not_stay_beside_this_one(cut, tmp_path):
    folder = tmp_path / "jaws"
    shutil.copytree(cut[0], folder)
    result = run("recut", USED, "--measured", "Ø89.55", "--out", folder)
    assert result.exit_code == 0
    assert names(folder) == GOOD | {"bore-J-072.nc"}
    assert f"removed {folder / 'bore-J-031.nc'}" in result.output.replace("\n", "")
    assert run("folder", folder).exit_code == 0


def test_a_recut_that_cannot_be_takes_the_program_of_an_earlier_one_away(cut, tmp_path):
    folder = tmp_path / "jaws"
    shutil.copytree(cut[0], folder)
    result = run("recut", USED, "--measured", "Ø45", "--out", folder)
    assert result.exit_code == 1
    assert "cannot be these jaws" in " ".join(result.output.split())
    assert names(folder) == set()


def test_a_folder_without_a_set_or_half_written_is_none_to_take_to_the_machine(cut, tmp_path):
    none = run("folder", tmp_path)
    assert none.exit_code == 1
    assert "there is no files.json" in none.output
    folder = tmp_path / "jaws"
    shutil.copytree(cut[0], folder)
    listed = json.loads((folder / "files.json").read_text())
    (folder / "files.json").write_text(json.dumps(listed | {"complete": False}))
    half = run("folder", folder)
    assert half.exit_code == 1
    assert "its writing stopped half-way" in half.output
    again = run("bore", SHAFT, "--out", folder)
    assert again.exit_code == 0
    assert "had stopped half-way; it is whole now" in " ".join(again.output.split())
    (folder / "files.json").write_text("{")
    assert run("bore", SHAFT, "--out", folder).exit_code == 2


def test_a_tool_that_cannot_cut_the_shape_is_refused_in_words(tmp_path):
    shutil.copytree(EXAMPLES, tmp_path / "examples")
    tool = tmp_path / "examples" / "tools" / "boring-bar-16.toml"
    text = tool.read_text()
    assert "nose_radius = 0.4" in text
    tool.write_text(text.replace("nose_radius = 0.4", "nose_radius = 1.2"))
    setup = tmp_path / "examples" / "winch-shaft.toml"
    setup.write_text(setup.read_text().replace("[boring]", "[boring]\nrelief_width = 0.8\nrelief_depth = 0.4", 1))
    result = run("bore", setup, "--out", tmp_path / "out")
    assert result.exit_code == 1
    assert not any(name.endswith(".nc") for name in names(tmp_path / "out"))
    assert "nose" in result.output


def test_an_attempt_says_why_there_is_no_program(monkeypatch):
    from heldtrue.planning.boring import bore
    from heldtrue.planning.setup import Setup

    plan = bore(Setup.from_toml(SHAFT))
    spoilt(monkeypatch, "G1 Z-43.300", "G1 Z-53.300")
    made = boring_program.attempt(plan, EXAMPLES)
    assert made.program is None
    assert made.proof is not None
    assert len(made.moves) > 10
    with pytest.raises(ProofError):
        boring_program.program_of(plan, EXAMPLES)


# Re-cut


def test_a_used_set_is_skimmed_from_the_diameter_found(tmp_path):
    result = run("recut", USED, "--measured", "Ø89,55", "--out", tmp_path)
    assert result.exit_code == 0
    assert "skim 0.21 mm per side" in result.output
    assert "cut on chuck CH-02, now CH-04" in result.output
    assert names(tmp_path) == GOOD | {"bore-J-072.nc"}
    assert "cut 4;" in (tmp_path / "steps.txt").read_text()


def test_nothing_is_written_for_the_machine_before_the_jaws_are_touched_off(tmp_path):
    result = run("recut", USED, "--out", tmp_path)
    assert result.exit_code == 1
    assert "touch off a diameter" in " ".join(result.output.split())
    assert not any(name.endswith((".nc", ".txt", ".pdf")) for name in names(tmp_path))


def test_a_set_that_will_not_clean_up_says_what_would():
    result = run("recut", USED, "--measured", "90.2")
    assert result.exit_code == 1
    assert "it will not clean up" in result.output
    assert "is cut past Ø89.97 mm already" in result.output
    assert "smaller on diameter" in " ".join(result.output.split())


def test_a_set_that_stands_as_recorded_is_not_cut(tmp_path):
    shutil.copytree(EXAMPLES, tmp_path / "examples")
    setup = tmp_path / "examples" / "gland-flange-repeat.toml"
    text = setup.read_text().replace("diameter = 89.5\n", "diameter = 89.975\n").replace("CH-02", "CH-04")
    text = text.replace('machine = "lathe 1"', 'machine = "lathe 3"')
    setup.write_text(text.replace("tooth = 21  ", "in_order = true\ntooth = 21  ", 1))
    result = run("recut", setup, "--out", tmp_path / "out")
    assert result.exit_code == 0
    assert "check run-out" in result.output
    assert not (tmp_path / "out").exists()


def test_jaws_on_an_unknown_tooth_are_not_guessed():
    result = run("recut", SHAFT, "--measured", "59.4")
    assert result.exit_code == 1
    assert "state jaws.tooth" in " ".join(result.output.split())


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("R48.8", "a radius"),
        ("-3", "above 0"),
        ("wide", "expected length"),
        ("Ø", "--measured:"),
        ("97 kg", "--measured"),
    ],
)
def test_what_is_no_diameter_is_refused(typed, words):
    result = run("recut", USED, "--measured", typed)
    assert result.exit_code == 2
    assert words in result.output


def test_the_program_reads_back_as_it_was_proved(cut):
    from heldtrue.planning.boring import bore
    from heldtrue.planning.setup import Setup
    from heldtrue.program.dialect import load_dialect
    from heldtrue.program.path import tool_path

    plan = bore(Setup.from_toml(SHAFT))
    text = (cut[0] / "bore-J-031.nc").read_text()
    made = proved(plan.job, text, tool_path(plan.job), load_dialect())
    assert made.moves == read_program(text, load_dialect()).moves


def test_every_face_says_the_forces_and_what_could_not_be_checked(cut):
    folder, _ = cut
    made = json.loads((folder / "bore.json").read_text())["forces"]
    torque = next(check for check in made["checks"] if check["name"] == "torque" and check["part"] == "rough")
    assert (torque["state"], torque["limit"], torque["measure"]) == ("not checked", None, "machine.torque")
    printed = " ".join(run("bore", SHAFT).stdout.split())
    steps = " ".join((folder / "steps.txt").read_text(encoding="utf-8").split())
    sheet = " ".join(page.extract_text() for page in PdfReader(folder / "jaw-sheet.pdf").pages)
    for text in (printed, steps, " ".join(sheet.split())):
        assert "Forces while cutting, at their worst" in text
        assert "push of a jaw on its ring" in text
        assert "NOT CHECKED: state machine.torque" in text
        assert f"roughing needs {torque['value']:.3g} N m; state machine.torque" in text


def test_a_cut_whose_forces_do_not_hold_writes_no_program(tmp_path):
    shutil.copytree(EXAMPLES, tmp_path / "setups")
    deep = tmp_path / "setups" / GLAND.name
    words = GLAND.read_text(encoding="utf-8")
    deep.write_text(words.replace("[boring] ", "[boring]\npass_depth = 5\nrough_feed = 1.0\n# "), encoding="utf-8")
    done = run("bore", deep, "--out", tmp_path / "out")
    assert done.exit_code == 1
    assert "pushes a jaw off its ring" in " ".join(done.stdout.split())
    assert "DOES NOT HOLD" in done.stdout
    assert not list((tmp_path / "out").glob("*.nc"))
    made = json.loads((tmp_path / "out" / "bore.json").read_text())
    assert not made["can_be_cut"]
    assert not made["forces"]["hold"]
    assert {"pass_depth", "rough_feed"} == {way["name"] for way in made["forces"]["together"]}

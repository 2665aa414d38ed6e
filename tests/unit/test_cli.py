"""The command line: what a person sees, what a script reads, and what is left on disk when something goes wrong."""

import json
import os
import pickle
import re
import signal
import subprocess
import sys
from dataclasses import replace
from functools import cache
from io import StringIO
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from conftest import EXAMPLES, ROOT, example, longer, planned
from rich.console import Console
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.planning.result import CAUTIONS
from heldtrue.terminal.plan import show_plan

RING = ROOT / "examples" / "wear-ring.toml"
SLEEVE = ROOT / "examples" / "pump-sleeve-inch.toml"
STEM = ROOT / "examples" / "valve-stem.toml"
SHAFT = ROOT / "examples" / "winch-shaft.toml"


PIN = """
title = "Pin"
units = "metric"
[part]
number = "P-1"
material = "C45"
profile = [[0, 0], ["5 mm", 0], [5, 12], [4, 12], [4, 15], [0, 15]]
[[surface]]
name = "end"
side = "outside"
diameter = 4
z = [12, 15]
roundness = 0.02
[grip]
side = "outside"
diameter = 5
z = [1, 10]
[chuck]
use = "chucks/200-wedge.toml"
[jaws]
style = "standard"
material = "C45"
[[cut]]
name = "end"
kind = "turn"
surface = "end"
depth = 0.1
feed = 0.05
speed = 20
[limits]
marking_allowed = true
"""


HELDTRUE = [sys.executable, "-m", "heldtrue"]


def run(*arguments):
    """In process; an exception that is no error on purpose comes through."""
    return CliRunner().invoke(app, [str(a) for a in arguments], catch_exceptions=False)


def run_process(*arguments, cwd=None, **more):
    command = [*HELDTRUE, *(str(a) for a in arguments)]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", cwd=cwd, **more)


RECORDED = """
import pickle, sys
from dataclasses import replace
from pathlib import Path
import heldtrue.files, heldtrue.planning.plan
from heldtrue import cli

made = pickle.loads(Path({path!r}).read_bytes())
heldtrue.planning.plan.plan = lambda setup: replace(made, setup=setup)
sys.argv = ["heldtrue", *sys.argv[1:]]
{more}
cli.main()
"""


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """The command line as a process whose plans are that of the wear ring, worked out before; ``more``: code."""
    path = tmp_path_factory.mktemp("recorded") / "plan"
    path.write_bytes(pickle.dumps(planned("wear-ring")))
    return lambda more="": [sys.executable, "-c", RECORDED.format(path=str(path), more=more)]


@cache
def document_schema(name):
    schema = json.loads(run("schema", name).stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    return schema


def written(text, folder, name="setup.toml"):
    """A setup file in a folder of its own, its chuck file beside it."""
    for shelf in ("chucks", "jaws", "rings", "tools"):
        (folder / shelf).mkdir(exist_ok=True)
        for file in (ROOT / "examples" / shelf).glob("*.toml"):
            (folder / shelf / file.name).write_bytes(file.read_bytes())
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


# Exit status and who gets what


@pytest.mark.parametrize(("setup", "status"), [(RING, 0), *longer((STEM, 1))])
def test_json_is_one_object_on_stdout_and_nothing_else(setup, status):
    done = run_process("plan", setup, "--json")
    assert done.returncode == status
    assert done.stderr == ""
    found = json.loads(done.stdout)
    jsonschema.Draft202012Validator(document_schema("plan")).validate(found)
    assert found["verdict"] == ("passes" if status == 0 else "fails")


@pytest.mark.parametrize(
    ("path", "left_out", "pressure"), [(RING, "", 9), *longer((SHAFT, "friction", 26))], ids=["pressure", "friction"]
)
def test_not_proven_is_no_pass(tmp_path, path, left_out, pressure):
    lines = path.read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not (left_out and line.startswith(left_out))]
    setup = written("\n".join([*kept, "[run]", f"pressure = {pressure}", ""]), tmp_path)
    done = run("plan", setup, "--json")
    assert json.loads(done.stdout)["verdict"] == "not proven"
    assert done.exit_code == 1


def test_python_minus_m_and_the_script_are_the_same():
    script = Path(sys.executable).with_name("heldtrue.exe" if os.name == "nt" else "heldtrue")
    by_script = subprocess.run([script, "--version"], capture_output=True, text=True)
    assert by_script.stdout == run_process("--version").stdout
    assert by_script.stdout.startswith("heldtrue 0.")


def test_every_plan_shows_verdict_pressure_and_every_caution():
    shown = run("plan", RING).stdout
    plain = " ".join(shown.replace("│", " ").split())
    assert "passes" in shown
    assert "bar" in shown
    assert "psi" in shown
    for caution in CAUTIONS:
        assert caution in plain


def test_a_failing_plan_names_the_check_that_fails_and_not_one_that_passes():
    done = run("plan", STEM)
    assert done.exit_code == 1
    found = json.loads(run("plan", STEM, "--json").stdout)
    assert found["answer"]["leading"] in {c["name"] for c in found["checks"] if c["state"] == "fails"}
    said = " ".join(done.stdout.replace("│", " ").split())
    assert f"FAILS {found['answer']['words']}" in said
    assert "tips out of the jaws during 'rough guide'" in found["answer"]["words"]


def test_a_plan_without_a_window_blames_no_check_that_passes():
    """No window is reason enough; a check with little to spare has nothing to do with it."""
    from heldtrue.terminal.plan import show_plan

    made = planned("wear-ring")
    assert made.verdict == "passes"
    screen = Console(file=StringIO(), width=140)
    show_plan(screen, replace(made, verdict="not proven"), "metric")
    assert "NOT PROVEN" in screen.file.getvalue()
    assert "because of" not in screen.file.getvalue()


def test_units_of_the_output_change_the_words_and_not_the_plan():
    metric, inch = (run("plan", RING, "--units", units).stdout for units in ("metric", "inch"))
    assert "Ø140.000 mm" in metric
    assert "Ø5.5118 in" in inch
    assert " mm" not in inch.replace("250 mm wedge chuck", "")
    assert json.loads(run("plan", RING, "--json", "--units", "inch").stdout) == json.loads(
        run("plan", RING, "--json").stdout
    )


@pytest.mark.parametrize(("setup", "more"), [(SHAFT, ["--units", "inch"]), *longer((SLEEVE, []))])
def test_pressure_in_json_is_in_the_unit_of_the_gauge_and_forces_in_newton(setup, more):
    found = json.loads(run("plan", setup, "--json").stdout)
    assert found["pressure"]["unit"] == "psi"
    shown = run("plan", setup, *more).stdout
    assert f"{found['pressure']['recommended']:.0f} psi" in shown
    pounds = round(found["grip_force"]["static_total"] / 4.4482216152605)
    assert f"Grip at least {pounds} lbf" in shown


def test_a_stated_pressure_is_said_to_be_the_one_that_was_checked(tmp_path):
    setup = written(RING.read_text(encoding="utf-8") + "\n[run]\npressure = 9\n", tmp_path)
    done = run("plan", setup)
    assert "checked at the stated 9.00 bar" in done.stdout
    assert done.exit_code == 1, "9 bar is over the ceiling of the finish"


# Comparison, schemas, materials


def test_compare_marks_the_stated_way_and_its_json_fits_its_schema(only_styles):
    only_styles("pie", jaws=(3,))
    done = run("compare", RING)
    assert done.exit_code == 0
    assert sum("(as stated)" in line for line in done.stdout.splitlines()) == 1
    found = json.loads(run("compare", RING, "--json").stdout)
    jsonschema.Draft202012Validator(document_schema("comparison")).validate(found)
    stated = [way for way in found["ways"] if way["stated"]]
    assert [(way["side"], way["style"], way["jaws"]) for way in stated] == [("inside", "pie", 3)]


@pytest.mark.long
def test_compare_fails_where_no_way_passes(only_styles):
    only_styles("pie")
    assert run("compare", STEM).exit_code == 1


@pytest.mark.long
def test_compare_shows_ways_that_cannot_be_with_the_reason(tmp_path, only_styles):
    only_styles("pie")
    done = run("compare", written(PIN, tmp_path))
    (line,) = [line for line in done.stdout.splitlines() if "cannot be" in line]
    assert "outside, 6" in line
    assert "leave nothing to grip" in line
    ways = json.loads(run("compare", tmp_path / "setup.toml", "--json").stdout)["ways"]
    (none,) = [way for way in ways if way["plan"] is None]
    assert none["form_error"] is None
    assert "leave nothing to grip" in none["why"]
    assert len(ways) > 1


# Contact


def test_contact_shows_prints_taper_bores_and_what_it_rests_on():
    done = run("contact", SHAFT)
    assert done.exit_code == 0
    shown = " ".join(done.stdout.split())
    for wanted in (
        "395 psi (advised)", "smallest part Ø59.970 mm", "largest part Ø60.000 mm", "times the mean", "no taper",
        "0.025 less", "0.025 more", "as set up = truest part = most even", "Rests on an assumed input: tilt stiffness",
        CAUTIONS[0],
    ):  # fmt: skip
        assert wanted in shown, wanted
    assert "Friction in the jaws" not in shown, "no indicator sees it on a solid shaft"
    thin = run("contact", RING).stdout
    assert re.search(r"seal land: 0\.0\d+ mm at 0\.00, 0\.0\d+ mm at 0\.06, 0\.0\d+ mm at 0\.08", thin)
    maps = [line for line in done.stdout.splitlines() if line.count("|") == 6]
    assert len(maps) >= 8
    for line in maps:
        for face in line.split("|")[1::2]:
            assert face == face[::-1], "the whole face, mirrored about its middle"


def test_contact_says_what_to_cut_or_that_nothing_is_needed():
    assert "none needed: 0.00" in run("contact", RING).stdout
    cut = run("contact", SHAFT).stdout
    line = next(line for line in cut.splitlines() if line.startswith("cut +"))
    side, diameter = (float(word) for word in re.findall(r"\+(\d\.\d+) mm (?:per side|on diameter),", line))
    assert diameter == pytest.approx(2 * side, abs=0.0011)
    low, high = (float(one) for one in re.findall(r"\+(\d\.\d+) mm to \+(\d\.\d+) mm", " ".join(cut.split()))[0])
    assert low < side < high


def test_contact_json_fits_its_schema_and_holds_the_pressures():
    found = json.loads(run("contact", RING, "--json").stdout)
    jsonschema.Draft202012Validator(document_schema("contact")).validate(found)
    assert [p["fit"] for p in found["prints"]] == ["smallest", "middle", "largest"]
    for one in found["prints"]:
        rows, columns = len(one["z_edges"]) - 1, len(one["angle_edges"]) - 1
        assert [len(row) for row in one["pressure"]] == [columns] * rows
        assert max(max(row) for row in one["pressure"]) == pytest.approx(one["peak"])
        assert one["peak_over_mean"] > 1
    tapers = [one["per_side"] for one in found["taper"]["tried"]]
    assert tapers == sorted(tapers)
    assert found["taper"]["per_side"] in tapers
    assert found["taper"]["on_diameter"] == pytest.approx(2 * found["taper"]["per_side"], rel=1e-8)
    assert found["bores"]["truest"]["form_error"] <= found["bores"]["as_set_up"]["form_error"]
    assert [f["surface"] for f in found["friction"]] == ["seal land", "end face"]
    for one in found["friction"]:
        frictions = [friction for friction, _ in one["by_friction"]]
        assert frictions[0] == 0
        assert frictions == sorted(set(frictions))
    assert found["friction"][0]["by_friction"][2][1] == found["bores"]["as_set_up"]["form_error"]
    assert found["assumed"][0]["name"] == "tilt stiffness of the master jaws"
    assert found["cautions"] == list(CAUTIONS)


def test_contact_pressures_of_one_jaw_carry_its_force():
    """Equilibrium along the jaw, from what is printed: twice the half face, the cosine integrated over each cell.

    A pie jaw slides round the ring almost everywhere: friction carries its share, the sine integrated over each cell.
    """
    found = json.loads(run("contact", RING, "--json").stdout)
    for one in found["prints"]:
        sines, cosines = np.diff(np.sin(one["angle_edges"])), -np.diff(np.cos(one["angle_edges"]))
        pressed = one["part_diameter"] * np.diff(one["z_edges"]) @ np.array(one["pressure"])
        without, friction = float(pressed @ sines), found["friction"][0]["by_friction"][2][0]
        assert without < found["grip"] / 3
        assert without + friction * float(pressed @ cosines) == pytest.approx(found["grip"] / 3, rel=3e-3)


@pytest.mark.long
def test_contact_of_a_grooved_part_has_nulls_and_says_groove():
    from heldtrue.drawing.all_pictures import contact_drawings
    from heldtrue.planning.contact_document import contact_json
    from heldtrue.planning.jaw_contact import contact
    from heldtrue.terminal.contact import show_contact

    made = contact(example("gland-flange"))
    one = made.prints[0]
    pressure, gap = one.pressure.copy(), one.gap.copy()
    pressure[2], gap[2] = np.nan, np.nan
    grooved = replace(one, pressure=pressure, gap=gap)
    made = replace(made, bores=replace(made.bores, nominal=replace(made.bores.nominal, prints=(grooved,))))

    found = json.loads(contact_json(made))
    jsonschema.Draft202012Validator(document_schema("contact")).validate(found)
    rows = found["prints"][0]["pressure"]
    assert [i for i, row in enumerate(rows) if row == [None] * len(row)] == [2]
    assert None not in rows[0] + rows[1] + rows[3]
    assert found["prints"][0]["peak_over_mean"] == pytest.approx(mean_share(grooved), rel=1e-9)

    screen = Console(file=StringIO(), width=140)
    show_contact(screen, made, "metric")
    assert f"|{'groove'.center(30)}|" in screen.file.getvalue()
    assert "nan" not in screen.file.getvalue()
    drawn = contact_drawings(made)["contact-fits.svg"]
    assert drawn.count(">groove<") == 1
    assert "nan" not in drawn


@pytest.mark.long
def test_contact_reads_a_grip_across_a_groove(tmp_path):
    text = PIN.replace("[5, 12]", "[5, 7], [4.6, 7], [4.6, 8.5], [5, 8.5], [5, 12]")
    found = json.loads(run("contact", written(text, tmp_path), "--json").stdout)
    assert [one["fit"] for one in found["prints"]] == ["smallest", "middle", "largest"]
    for one in found["prints"]:
        empty = [i for i, row in enumerate(one["pressure"]) if row[0] is None]
        assert [(one["z_edges"][i], one["z_edges"][i + 1]) for i in empty] == [(7.0, 8.5)]
    assert any("no tolerance of the gripped diameter is stated" in note for note in found["notes"])


def mean_share(one):
    """Peak over the mean of the cells that are there, one by one."""
    force = area = 0.0
    for i, row in enumerate(one.pressure):
        for j, pressure in enumerate(row):
            if not np.isnan(pressure):
                cell = (one.z_edges[i + 1] - one.z_edges[i]) * (one.angle_edges[j + 1] - one.angle_edges[j])
                force, area = force + pressure * cell, area + cell
    return one.peak * area / force


def test_contact_at_a_pressure_of_ones_own():
    low, high = (json.loads(run("contact", SHAFT, "--json", "--pressure", p).stdout) for p in ("6 bar", "174.045 psi"))
    assert low["pressure"]["from"] == high["pressure"]["from"] == "stated"
    assert (high["pressure"]["unit"], high["pressure"]["value"]) == ("psi", pytest.approx(174.045))
    # 0.8 bar of it is lost before the jaws grip.
    assert high["taper"]["used_force"] / low["taper"]["used_force"] == pytest.approx(11.2 / 5.2, rel=1e-3)


@pytest.mark.parametrize(
    ("pressure", "words"),
    [("18 mm", "is a length, not a pressure"), ("0.5 bar", "do not grip"), ("-3", "outside"), ("much", "pressure")],
)
def test_contact_at_no_pressure_is_bad_input(pressure, words):
    done = run("contact", RING, "--pressure", pressure)
    assert done.exit_code == 2
    assert words in done.stderr
    assert done.stdout == ""


def test_contact_drawings_are_written_whole(tmp_path):
    done = run("contact", SHAFT, "--drawings", tmp_path / "new", "--json", "--units", "inch")
    assert done.exit_code == 0
    assert left(tmp_path) == ["new", "new/contact-bores.svg", "new/contact-fits.svg", "new/contact-tapers.svg"]
    tapers = (tmp_path / "new" / "contact-tapers.svg").read_text(encoding="utf-8")
    for wanted in ("no taper", "advised taper", ".001 less", ".001 more", "a side", "ksi"):
        assert wanted in tapers
    (tmp_path / "file").write_text("mine")
    assert run("contact", SHAFT, "--drawings", tmp_path / "file").exit_code == 2


def test_contact_in_inch_has_no_millimetres():
    shown = run("contact", RING, "--units", "inch").stdout
    assert "Ø5.5118 in" in shown
    assert " mm" not in shown
    cut = " ".join(run("contact", SHAFT, "--units", "inch").stdout.split())
    ends = re.search(r"\+(\.\d+) in to \+(\.\d+) in per side by what the jaws stand on", cut)
    assert ends is not None
    assert 0.0002 < float(ends[1]) < float(ends[2]) < 0.002


def test_what_the_cut_leaves_is_shown_where_it_can_be_seen():
    shown = run("plan", SHAFT).stdout
    line = next(line for line in shown.splitlines() if line.startswith("drum seat"))
    assert re.search(r"up to \+0\.0\d+ mm, taper 0\.0\d+ mm", line)
    screen, made = Console(file=StringIO(), width=140), planned("wear-ring")
    small = tuple(replace(surface, cut_size=0.0009) for surface in made.surfaces)
    show_plan(screen, replace(made, surfaces=small), "metric")
    assert "seal land" in screen.file.getvalue()
    assert "force of the cut leaves" not in screen.file.getvalue()


@pytest.mark.parametrize("name", ["setup", "chuck", "plan", "comparison", "contact"])
def test_schemas_are_valid_and_say_what_they_are(name):
    schema = document_schema(name)
    assert schema["$schema"].endswith("2020-12/schema")
    assert schema["type"] == "object"
    assert schema["additionalProperties"] is False


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_every_example_fits_the_printed_setup_schema(path):
    import tomllib

    jsonschema.Draft202012Validator(document_schema("setup")).validate(tomllib.loads(path.read_text(encoding="utf-8")))


def test_the_plan_schema_asks_for_every_name_that_a_plan_prints():
    schema = document_schema("plan")
    found = json.loads(run("plan", RING, "--json").stdout)
    assert set(schema["required"]) | {"format"} == set(found)
    assert set(schema["$defs"]["CheckEntry"]["required"]) == set(found["checks"][0])
    del found["checks"][0]["from"]
    assert list(jsonschema.Draft202012Validator(schema).iter_errors(found))


def test_materials_gives_every_number_with_its_source():
    found = json.loads(run("materials", "--json").stdout)
    assert {"work", "jaws"} == set(found)
    for material in found["work"] + found["jaws"]:
        for name in ("young", "poisson", "density", "yield_strength"):
            assert material[name]["value"] > 0
            assert len(material[name]["source"]) > 10, (material["key"], name)
    shown = run("materials").stdout
    assert "Part materials" in shown
    assert "from memory" in shown
    assert "ksi" in run("materials", "--units", "inch").stdout


# Wrong input


BAD_FILES = {
    "missing": (None, "there is no such file"),
    "empty": (b"", "the file is empty"),
    "binary": (bytes(range(128, 256)) * 20, "not UTF-8"),
    "utf-16": ('title = "x"'.encode("utf-16"), "UTF-16"),
    "picture": (b"\x89PNG\r\n\x1a\n" + bytes(500), "not UTF-8"),
    "no toml": (b"<html><body>no</body></html>", "line 1"),
    "not a setup": (b'[tool]\nname = "x"\n', "tool"),
    "unit unknown": (b'units = "wibble"\n', "wibble"),
}


@pytest.mark.parametrize("command", ["plan", "compare", "contact"])
@pytest.mark.parametrize("case", BAD_FILES)
def test_a_file_that_is_no_setup_gets_a_plain_message(tmp_path, case, command):
    content, words = BAD_FILES[case]
    path = tmp_path / "setup.toml"
    if content is not None:
        path.write_bytes(content)
    done = run(command, path)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert words in done.stderr
    assert "Traceback" not in done.stderr


def test_a_folder_is_no_setup(tmp_path):
    done = run("plan", tmp_path)
    assert done.exit_code == 2
    assert "is a folder" in done.stderr


def test_bad_input_in_a_process_of_its_own_has_no_traceback_and_an_empty_stdout(tmp_path):
    done = run_process("plan", tmp_path / "nothing.toml", "--json")
    assert (done.returncode, done.stdout) == (2, "")
    assert "there is no such file" in done.stderr
    assert "Traceback" not in done.stderr


def test_every_problem_comes_at_once_one_a_line(tmp_path):
    text = (
        RING.read_text(encoding="utf-8")
        .replace("feed = 0.2\n", "feed = 20\n")
        .replace('side = "inside"', 'side = "in"')
    )
    done = run("plan", written(text, tmp_path))
    assert done.exit_code == 2
    assert any("feed" in line and "20" in line for line in done.stderr.splitlines())
    assert any("side" in line and "inside" in line for line in done.stderr.splitlines())


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('mass = { value = "1.8 kg", from = "measured" }', 'mass = "1.8 bar"', "bar"),
        ("depth = 1.5\n", 'depth = "1.5 wibble"\n', "wibble"),
        ('use = "chucks/250-wedge.toml"', 'use = "chucks/251-wedge.toml"', "250-wedge.toml"),
        ('material = "CuSn12"', 'material = "unobtainium"', "unobtainium"),
        ('material = "CuSn12"', 'material = "cheese"', "cheese"),
        ('surface = "seal land"', 'surface = "no such"', "no such"),
        ("[jaws]", "[jawz]", "jaws"),
    ],
)
def test_a_wrong_value_is_named(tmp_path, old, new, words):
    text = RING.read_text(encoding="utf-8")
    assert old in text
    done = run("plan", written(text.replace(old, new), tmp_path))
    assert done.exit_code == 2
    assert words in done.stderr
    assert done.stdout == ""


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["plan"], "setup_file"),
        (["plan", RING, "--units", "imperial"], "imperial"),
        (["plan", RING, "--paper", "a3"], "a3"),
        (["plan", RING, "--jsno"], "--jsno"),
        (["schema", "drawing"], "drawing"),
        (["paln"], "paln"),
    ],
)
def test_a_wrong_command_line_is_bad_input(arguments, words):
    done = run(*arguments)
    assert done.exit_code == 2
    assert words in done.stderr


@pytest.mark.long
@pytest.mark.parametrize("encoding", ["ascii", *longer("cp1252", "utf-8")])
def test_letters_that_the_screen_lacks_stop_nothing(tmp_path, encoding, recorded):
    setup = written(RING.read_text(encoding="utf-8").replace("Wear ring, second side", "Кольцо № 5 Ø140"), tmp_path)
    env = {**os.environ, "PYTHONIOENCODING": encoding}
    as_json = subprocess.run([*recorded(), "plan", setup, "--json"], capture_output=True, env=env)
    assert as_json.returncode == 0
    assert json.loads(as_json.stdout.decode("utf-8"))["title"] == "Кольцо № 5 Ø140"
    shown = subprocess.run([*recorded(), "plan", setup], capture_output=True, env=env)
    assert (shown.returncode, shown.stderr) == (0, b"")
    assert ("Кольцо" in shown.stdout.decode(encoding)) == (encoding == "utf-8")
    wrong = subprocess.run([*HELDTRUE, "plan", tmp_path / "Кольцо"], capture_output=True, env=env)
    assert wrong.returncode == 2
    assert b"Traceback" not in wrong.stderr


# What is left on disk


def left(folder):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def test_sheet_and_drawings_are_written_and_said_on_stderr(tmp_path):
    sheet, drawings = tmp_path / "sheet.pdf", tmp_path / "new" / "drawings"
    done = run("plan", RING, "--json", "--sheet", sheet, "--drawings", drawings, "--paper", "us-letter")
    assert done.exit_code == 0
    json.loads(done.stdout)
    assert sheet.read_bytes().startswith(b"%PDF-")
    names = {path.name for path in drawings.iterdir()}
    assert {"section.svg", "chuck-face.svg", "contact-print.svg", "window.svg", "polar-seal-land.svg"} <= names
    assert all(f"wrote {path}" in done.stderr for path in [sheet, *drawings.iterdir()])
    assert len(left(tmp_path)) == 3 + len(names), "no part files"


def test_a_failing_plan_still_writes_its_sheet(tmp_path):
    assert run("plan", STEM, "--sheet", tmp_path / "s.pdf").exit_code == 1
    assert left(tmp_path) == ["s.pdf"]


def test_outputs_that_cannot_be_written_are_refused_and_nothing_is(tmp_path):
    (tmp_path / "file").write_text("mine")
    (tmp_path / "folder").mkdir()
    before = left(tmp_path)
    for option, target, words in (
        ("--sheet", "folder", "it is a folder"),
        ("--sheet", "missing/sheet.pdf", "its folder does not exist"),
        ("--sheet", "file/sheet.pdf", "its folder does not exist"),
        ("--drawings", "file", "is a file"),
        ("--drawings", "file/inside", "is a file"),
    ):
        done = run("plan", RING, option, tmp_path / target, "--json")
        assert done.exit_code == 2, (option, target)
        assert words in done.stderr
        assert "Traceback" not in done.stderr
        assert done.stdout == ""
        assert left(tmp_path) == before
    assert (tmp_path / "file").read_text() == "mine"


def test_a_sheet_that_cannot_go_leaves_no_drawings_either(tmp_path):
    """The drawings' folder holds a folder where a drawing must go: found only at the end, nothing is put in place."""
    (tmp_path / "d" / "window.svg").mkdir(parents=True)
    before = left(tmp_path)
    done = run("plan", RING, "--sheet", tmp_path / "sheet.pdf", "--drawings", tmp_path / "d")
    assert done.exit_code == 2
    assert "window.svg" in done.stderr
    assert left(tmp_path) == before


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_on_stdout_is_no_pass(recorded):
    with Path("/dev/full").open("w") as full:
        done = subprocess.run([*recorded(), "plan", RING, "--json"], stdout=full, stderr=subprocess.PIPE, text=True)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_the_setup_file_is_never_overwritten(tmp_path):
    setup = written(RING.read_text(encoding="utf-8"), tmp_path)
    before = setup.read_bytes()
    done = run("plan", setup, "--sheet", setup)
    assert done.exit_code == 2
    assert "the setup file itself" in done.stderr
    assert setup.read_bytes() == before


STOP_AT = """
import signal, time

def wait(*_):
    print("here", flush=True)
    time.sleep(600)

signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell that ran the tests in the background took it away
{where} = wait
"""


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C reaches a whole console there")
@pytest.mark.parametrize(
    "where", ["heldtrue.files.os.fsync", pytest.param("heldtrue.planning.plan.plan", marks=pytest.mark.long)]
)
def test_ctrl_c_leaves_nothing_half_written(tmp_path, where, recorded):
    sheet, drawings = tmp_path / "sheet.pdf", tmp_path / "drawings"
    command = [*recorded(STOP_AT.format(where=where)), "plan", RING, "--sheet", sheet, "--drawings", drawings]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "here\n"
        if "fsync" in where:
            assert left(tmp_path), "a part file is on disk at this moment"
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=300)
    assert process.returncode == 130
    assert (out, "stopped" in err, "Traceback" in err) == ("", True, False)
    assert left(tmp_path) == []


@pytest.mark.skipif(os.name == "nt", reason="pipes end otherwise there")
@pytest.mark.parametrize("more", [[], pytest.param(["--json"], marks=pytest.mark.long)], ids=["screen", "json"])
def test_a_reader_that_goes_away_is_neither_a_pass_nor_a_traceback(recorded, more):
    process = subprocess.Popen([*recorded(), "plan", RING, *more], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    assert process.wait() == 141
    assert process.stderr.read() == b""
    process.stderr.close()


# Help


@pytest.mark.parametrize("arguments", [["--help"], ["plan", "--help"], ["--version"], ["plan", "no-such-file"]])
def test_help_and_early_errors_do_not_wait_for_the_solver(arguments):
    script = (
        "import sys\nfrom heldtrue.cli import app\n"
        "try:\n    app(sys.argv[1:])\nexcept SystemExit:\n    pass\n"
        "heavy = {'ngsolve', 'netgen', 'numpy', 'scipy', 'clarabel', 'pint', 'typst', 'ezdxf'} & set(sys.modules)\n"
        "sys.exit(f'imported {sorted(heavy)}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", script, *arguments], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_help_says_what_each_command_is_for():
    shown = run("--help").stdout
    for command in ("plan", "compare", "contact", "schema", "materials"):
        assert command in shown
        assert run(command, "--help").exit_code == 0


@pytest.mark.long
def test_the_examples_come_with_an_installation(tmp_path):
    made = run("examples", "--out", tmp_path / "mine")
    assert made.exit_code == 0
    copied = {path.relative_to(tmp_path / "mine") for path in (tmp_path / "mine").rglob("*.*") if path.is_file()}
    assert copied == {
        path.relative_to(ROOT / "examples") for path in (ROOT / "examples").rglob("*.*") if path.is_file()
    }
    again = run_process("examples", "--out", tmp_path / "mine")
    assert again.returncode == 2
    assert "is there already" in again.stderr
    assert run("plan", tmp_path / "mine" / "gland-flange.toml").exit_code in (0, 1)


def test_what_a_library_prints_is_not_in_the_output():
    """The mesher writes to the descriptor itself, also in processes that a search of ways starts."""
    code = (
        "import os, subprocess, sys; from heldtrue import cli; cli._own_stdout(); os.write(1, b'WARNING: mesher');"
        "subprocess.run([sys.executable, '-c', 'print(1)']); print('ours: Ø')"
    )
    made = subprocess.run([sys.executable, "-X", "utf8", "-c", code], capture_output=True)
    assert made.stdout.decode() == "ours: Ø\n"
    assert made.stderr == b""

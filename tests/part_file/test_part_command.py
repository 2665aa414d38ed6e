"""heldtrue part: what it shows, what it writes, and how it refuses."""

import json
import re
import tomllib
from pathlib import Path

import ezdxf
import jsonschema
import pytest
from drawings import Sheet
from plain_step import TILTED, Style, write
from step_solids import everything, step_of
from test_step import FLANGE, RING
from typer.testing import CliRunner

from heldtrue.cli import app
from heldtrue.errors import InputError
from heldtrue.part_file import read
from heldtrue.part_file.document import part_schema
from heldtrue.planning.setup import Setup

EXAMPLES = Path(__file__).parents[2] / "examples"


def run(*args):
    return CliRunner().invoke(app, ["part", *(str(arg) for arg in args)])


@pytest.fixture(scope="module")
def hub(tmp_path_factory):
    path = tmp_path_factory.mktemp("hub") / "hub.step"
    path.write_bytes(step_of(everything()))
    return path


@pytest.fixture
def flange(tmp_path):
    path = tmp_path / "flange.stp"
    path.write_bytes(write(FLANGE.pieces, Style(**TILTED)))
    return path


def test_it_shows_section_surfaces_and_what_is_not_turned(hub):
    said = run(hub, "--material", "CuSn12")
    assert said.exit_code == 0
    for words in ("volume turned full round", "mass of the solid", "outside Ø120", "keyway: 8 mm wide, 3.5 mm deep",
                  "axial hole: Ø8", "cross hole: Ø6", "flat: 55 mm off the axis", "take away"):  # fmt: skip
        assert words in said.stdout


def test_json_has_the_promised_names(hub):
    said = run(hub, "--json")
    document = json.loads(said.stdout)
    jsonschema.validate(document, part_schema())
    assert set(document) == {
        "format",
        "axis",
        "volume",
        "solid_volume",
        "profile",
        "arcs",
        "surfaces",
        "not_turned",
        "notes",
    }
    assert set(document["axis"]) == {"origin", "direction"}
    assert document["volume"] > document["solid_volume"]
    assert all(set(one) == {"name", "side", "diameter", "z", "tolerances"} for one in document["surfaces"])
    assert {one["kind"] for one in document["not_turned"]} == {"keyway", "axial hole", "cross hole", "flat"}
    assert len(document["profile"]) > len(document["arcs"]) == 1
    assert document["arcs"][0]["radius"] == pytest.approx(3)


def elsewhere(folder):
    """A setup that does not stand beside the drawing, and has to be written corner by corner."""
    (folder / "elsewhere").mkdir()
    return folder / "elsewhere" / "new.toml"


def test_a_setup_beside_the_drawing_names_it_and_refuses_it_when_it_has_changed(flange, tmp_path):
    new = tmp_path / "new.toml"
    assert run(flange, "--setup", new, "--seat", "high", "--material", "CuSn12").exit_code == 0
    table, example = tomllib.loads(new.read_text()), tomllib.loads((EXAMPLES / "wear-ring.toml").read_text())
    assert set(table["part"]["profile"]) == {"file", "seat_end", "sha256"}
    assert all(set(one) == {"name"} for one in table["surface"])
    table |= {"jaws": {"style": "pie", "material": "6061-T6"}, "cut": [{**example["cut"][1], "surface": "bore Ø40"}]}
    table["cut"][0]["kind"] = "bore"
    table["grip"] = {"surface": "outside Ø120", "z": [34, 42]}
    table["chuck"] = {**example["chuck"], "use": "wedge.toml"}
    (tmp_path / "wedge.toml").write_bytes((EXAMPLES / "chucks" / "250-wedge.toml").read_bytes())
    setup = Setup.from_dict(table, base_dir=tmp_path)
    assert (setup.grip.side, setup.grip.diameter, setup.part.holes) == ("outside", 120, None)
    assert min(corner.z for corner in setup.part.profile) == 0
    flange.write_bytes(flange.read_bytes() + b"\n")
    with pytest.raises(InputError, match="has changed since this setup was made"):
        Setup.from_dict(table, base_dir=tmp_path)


def test_a_setup_to_go_on_with_says_what_is_missing_and_becomes_a_setup(flange, tmp_path):
    new = elsewhere(tmp_path)
    assert run(flange, "--setup", new, "--seat", "low", "--material", "CuSn12").exit_code == 0
    with pytest.raises(InputError) as missing:
        Setup.from_toml(new)
    assert all(
        any(name in problem for problem in missing.value.problems)
        for name in ("[grip]", "[chuck]", "[jaws]", "[[cut]]")
    )
    table = tomllib.loads(new.read_text())
    example = tomllib.loads((EXAMPLES / "wear-ring.toml").read_text())
    table["grip"] = {"side": "outside", "diameter": 120, "z": [3, 11]}
    table["jaws"] = {**example["jaws"], "bore_diameter": 120.05}
    table["cut"] = [{**example["cut"][1], "surface": "bore Ø40", "kind": "bore"}]
    table["chuck"] = example["chuck"]
    table["jaws"].pop("use")
    table["jaws"] |= {"style": "pie", "material": "6061-T6"}
    setup = Setup.from_dict(table, base_dir=EXAMPLES)
    assert {one.name for one in setup.surfaces} == {"outside Ø120", "face z 12", "face z 45", "bore Ø40", "face z 0"}
    assert sorted(corner.radius for corner in setup.part.profile if corner.radius) == pytest.approx([2, 3])


@pytest.mark.parametrize("seat", ["low", "high"])
def test_the_chosen_end_sits_at_zero(flange, tmp_path, seat):
    new = elsewhere(tmp_path)
    run(flange, "--setup", new, "--seat", seat)
    profile = tomllib.loads(new.read_text())["part"]["profile"]
    widest = max(corner[0] for corner in profile)
    assert min(corner[1] for corner in profile) == 0
    assert {corner[1] for corner in profile if corner[0] == widest} == ({0, 12} if seat == "low" else {33, 45})


def test_a_setup_is_never_written_over_and_the_end_never_guessed(flange, tmp_path):
    new = tmp_path / "new.toml"
    assert run(flange, "--setup", new).exit_code == 2
    assert not new.exists()
    new.write_text("mine")
    said = run(flange, "--setup", new, "--seat", "low")
    assert (said.exit_code, new.read_text()) == (2, "mine")
    assert "is there already" in said.stderr


def test_the_picture_names_every_surface(flange, tmp_path):
    picture = tmp_path / "part.svg"
    assert run(flange, "--picture", picture).exit_code == 0
    drawn = picture.read_text()
    for words in ("outside Ø120", "bore Ø40", "low end", "high end"):
        assert words in drawn
    assert len(re.findall("<circle", drawn)) == 5


def test_questions_are_answered_by_options(tmp_path):
    ring = tmp_path / "ring.stp"
    ring.write_bytes(RING)
    said = run(ring)
    assert said.exit_code == 2
    assert "--file-units inch: its numbers are inches" in said.stderr
    assert "Ø63" in run(ring, "--file-units", "inch", "--units", "inch").stdout


def opened():
    """A drawing of two lines that close to nothing."""
    made = ezdxf.new("R2010", units=4)
    made.modelspace().add_line((0, 0), (50, 0))
    made.modelspace().add_line((50, 0), (50, 20))
    return Sheet.text(made)


OPEN = opened()


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("part.step", b"", "part.step is empty"),
        ("part.step", b"not a drawing", "no STEP file"),
        ("part.step", RING[:2000], "cut off"),
        ("part.step", b"Dear setter, here is the part.", "no STEP file: it begins with 'Dear setter"),
        ("part.dxf", OPEN, "part.dxf: no line encloses an area beside any line that may be the axis"),
        ("part.dxf", OPEN[: len(OPEN) // 3], "cut off: its last line, EOF"),
        ("part.pdf", b"%PDF-1.4", "from a STEP file (.step, .stp) or a DXF file (.dxf), not from .pdf"),
    ],
)
def test_what_cannot_be_read_is_said_and_ends_with_two(tmp_path, name, content, words):
    path = tmp_path / name
    path.write_bytes(content)
    said = run(path)
    assert said.exit_code == 2
    assert words in said.stderr
    assert not said.stdout


def test_no_file_a_folder_and_a_huge_file(tmp_path):
    huge = tmp_path / "huge.step"
    with huge.open("wb") as file:
        file.truncate(200_000_000)
    for path, words in ((tmp_path / "none.step", "no such file"), (tmp_path, "is a folder"), (huge, "has 200 MB")):
        said = run(path)
        assert said.exit_code == 2
        assert words in said.stderr
    with pytest.raises(InputError, match="has 65 MB"):
        read.read_part("part.step", b" " * 65_000_000)

"""Parts from files, shapes and stock in setup files: there and back, what counts, and what must fail."""

import copy
import sys
import tomllib
from hashlib import sha256
from math import cos, pi, sin
from pathlib import Path

import ezdxf
import jsonschema
import pytest
from conftest import ROOT
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString

from heldtrue import Setup
from heldtrue.errors import InputError
from heldtrue.part_file.outline import OutlineCorner
from heldtrue.planning.allowance import Gripped, with_allowance
from heldtrue.planning.drawn_part import from_file, from_shape
from heldtrue.planning.entries import SectionSource

sys.path.insert(0, str(Path(__file__).parent))
from drawings import RING, UNSAID, Sheet, profile

EXAMPLES = ROOT / "examples"
WEAR_RING = tomllib.loads((EXAMPLES / "wear-ring.toml").read_text(encoding="utf-8"))
SLEEVE = {"shape": "sleeve", "outside": 158, "bore": 140, "length": 32, "collar": 166, "collar_length": 24}
CORNERS = [[140, 0], [166, 0], [166, 24], [158, 24], [158, 32], [140, 32]]


def table(part=None, without=(), **changes):
    raw = copy.deepcopy(WEAR_RING)
    raw["part"].update(part or {})
    raw.update(changes)
    for key in without:
        del raw["grip"][key]
    return raw


def read(raw, folder=EXAMPLES):
    return Setup.from_dict({**raw, "chuck": inline(raw, "chuck"), "jaws": inline(raw, "jaws"), "boring": {}}, folder)


def inline(raw, key):
    """The file that chuck or jaws name, put into the setup: it may then stand in any folder."""
    use = raw[key].get("use")
    if use is None:
        return raw[key]
    file = tomllib.loads((EXAMPLES / use).read_text(encoding="utf-8"))
    assert file.pop("units") == raw["units"]
    return {**file, **{name: value for name, value in raw[key].items() if name != "use"}}


def refused(raw, words, folder=EXAMPLES):
    with pytest.raises(InputError, match=words) as raised:
        read(raw, folder)
    return raised.value.problems


def sizes(corners):
    return [[corner.diameter, corner.z] for corner in corners]


def walked(corners):
    """Corners from the least one on, counter-clockwise: where the walk begins is no part of a section."""
    start = corners.index(min(corners))
    round_ = corners[start:] + corners[:start]
    return round_ if round_[1][0] > round_[-1][0] else [round_[0], *round_[:0:-1]]


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "ring.dxf").write_bytes(Sheet(at=(30, 0)).draw(RING))
    return tmp_path


def test_a_shape_is_its_corners_and_is_written_as_a_shape_again():
    setup = read(table({"profile": SLEEVE}))
    assert sizes(setup.part.profile) == CORNERS
    written = setup.to_dict()
    assert written["part"]["profile"] == SLEEVE
    assert Setup.from_dict(written) == setup
    assert setup.to_dict(as_corners=True)["part"]["profile"] == CORNERS


def test_dimensions_of_a_shape_take_units_and_a_source():
    typed = {**SLEEVE, "outside": "6.2204724409 in", "from": "drawing"}
    setup = read(table({"profile": typed, "blank": {"tube": [170, 140], "length": 40}}))
    assert setup.part.profile[3].diameter == pytest.approx(158, abs=1e-6)
    assert setup.source("part.profile") == "drawing"
    again = Setup.from_dict(setup.to_dict())
    assert again == setup
    assert again.source("part.profile") == "drawing"


def test_a_changed_corner_takes_the_shape_away():
    setup = read(table({"profile": SLEEVE})).with_({"part.profile.4.z": 31.0, "part.profile.5.z": 31.0,
                                                    "surfaces.1.z": [31, 31], "surfaces.0.z": [24, 31]})  # fmt: skip
    assert "profile" not in setup.drawn
    assert sizes(setup.part.profile)[4] == [158, 31]
    assert isinstance(setup.to_dict()["part"]["profile"], list)


def test_a_change_elsewhere_keeps_the_shape_and_the_file(folder):
    assert read(table({"profile": SLEEVE})).with_(pressure=2.5).to_dict()["part"]["profile"] == SLEEVE
    setup = read(table({"profile": "ring.dxf"}), folder).with_({"grip.z": [2, 15]})
    assert setup.drawn["profile"].file == "ring.dxf"


@pytest.mark.parametrize(("stock", "expected"), [
    ({"bar": 170, "length": 40, "seat_at": 2}, [[0, -2], [170, -2], [170, 38], [0, 38]]),
    ({"tube": [170, 136], "length": 33}, [[136, 0], [170, 0], [170, 33], [136, 33]]),
    ({"on_diameter": 3, "on_faces": 1}, [[140, 0], [169, 0], [169, 25], [161, 25], [161, 33], [140, 33]]),
    ({"shape": "ring", "outside": 166, "bore": 140, "length": 33}, [[140, 0], [166, 0], [166, 33], [140, 33]]),
])  # fmt: skip
def test_a_blank_from_stock_allowance_or_shape(stock, expected):
    setup = read(table({"blank": stock}))
    assert walked(sizes(setup.part.blank)) == expected
    assert setup.to_dict()["part"]["blank"] == stock
    assert Setup.from_dict(setup.to_dict()) == setup


def test_an_allowance_follows_what_is_gripped_and_is_no_longer_one_when_the_grip_changes():
    setup = read(table({"blank": {"on_diameter": 3, "on_faces": 1}}))
    moved = setup.with_({"grip.side": "outside", "grip.diameter": 166, "grip.diameter_tolerance": [0, 0.02],
                         "jaws.bore_diameter": 166.02})  # fmt: skip
    assert moved.part.blank == setup.part.blank
    assert isinstance(moved.to_dict()["part"]["blank"], list)


def corners(points):
    return [OutlineCorner(p[0] / 2, *p[1:]) for p in points]


@pytest.mark.parametrize(("points", "gripped", "expected"), [
    ([[62, 0], [90, 0], [90, 30, 2.0], [150, 30], [150, 46], [62, 46]], Gripped("outside", 90, (2, 14)),
     [[58, 0], [90, 0], [90, 28], [154, 28], [154, 48], [58, 48]]),
    ([[0, 0], [60, 0], [60, 20], [50, 20], [50, 21.5], [60, 21.5], [60, 50], [0, 50]], None,
     [[0, 0], [64, 0], [64, 52], [0, 52]]),
    ([[3, 0], [60, 0], [60, 50], [3, 50]], None, [[0, 0], [64, 0], [64, 52], [0, 52]]),
    ([[0, -10], [20, -10], [20, 0], [60, 0], [60, 50], [0, 50]], None,
     [[0, -10], [20, -10], [20, 0], [64, 0], [64, 52], [0, 52]]),
], ids=["hub gripped", "groove closes", "small bore closes", "below the seat"])  # fmt: skip
def test_an_allowance_leaves_seat_and_grip_as_they_are(points, gripped, expected):
    found = with_allowance(corners(points), 4.0, 2.0, gripped)
    assert walked([[2 * c.r, c.z] for c in found]) == expected


def test_an_allowance_keeps_the_rounding_of_an_inner_corner():
    found = with_allowance(corners([[62, 0], [90, 0], [90, 30, 8.0], [150, 30], [150, 46], [62, 46]]), 4.0, 2.0, None)
    assert [(2 * c.r, c.z, c.radius) for c in found if c.radius] == [(94, 28, 8.0)]


def test_a_drawing_is_the_part_with_its_seat_at_zero_and_its_hash(folder):
    setup = read(table({"profile": "ring.dxf"}), folder)
    assert walked(sizes(setup.part.profile)) == CORNERS
    digest = sha256((folder / "ring.dxf").read_bytes()).hexdigest()
    assert setup.drawn["profile"].sha256 == digest
    assert setup.source("part.profile") == "drawing"
    turned = profile(*CORNERS).turned_round().moved(32)
    (folder / "ring.dxf").write_bytes(Sheet(at=(30, 0)).draw(turned))
    again = read(table({"profile": {"file": "ring.dxf", "seat_end": "high"}}), folder)
    assert walked(sizes(again.part.profile)) == CORNERS


def test_a_setup_from_a_drawing_can_be_read_where_the_drawing_is_not(folder, tmp_path):
    setup = read(table({"profile": "ring.dxf"}), folder)
    written = setup.to_dict()
    assert written["part"]["profile"]["file"] == "ring.dxf"
    assert Setup.from_dict(written) == setup
    assert Setup.from_dict(written, tmp_path / "elsewhere") == setup
    assert Setup.from_dict(written, folder) == setup


def test_corners_read_from_a_drawing_that_are_no_section_are_refused_in_words(folder):
    written = read(table({"profile": "ring.dxf"}), folder).to_dict()
    written["part"]["profile"]["corners"] = [[140, 0], [166, 0], [140, 32], [166, 32]]
    refused(written, r"corners that were read from ring\.dxf are no half section")


def test_a_changed_drawing_never_passes_unseen(folder):
    written = read(table({"profile": "ring.dxf"}), folder).to_dict()
    (folder / "ring.dxf").write_bytes(Sheet(at=(30, 0)).draw(profile((140, 0), (166, 0), (166, 33), (140, 33))))
    with pytest.raises(InputError, match=r"ring\.dxf has changed since this setup was made"):
        Setup.from_dict(written, folder)
    stated = {"file": "ring.dxf", "sha256": "0" * 64}
    refused(table({"profile": stated}), "has changed", folder)


def test_a_hole_on_the_drawing_makes_cuts_interrupted_unless_somebody_says_otherwise(folder):
    content = Sheet().draw(RING, lambda space, point: space.add_circle(point(0, 12), 4))
    (folder / "holed.dxf").write_bytes(content)
    setup = read(table({"profile": "holed.dxf"}), folder)
    assert setup.part.holes is True
    assert Setup.from_dict(setup.to_dict()).part.holes is True
    assert read(table({"profile": "holed.dxf", "holes": False}), folder).part.holes is False
    assert read(table({"profile": "ring.dxf"}), folder).part.holes is None


def test_corners_that_are_not_those_of_the_drawing_are_refused(folder):
    written = read(table({"profile": "ring.dxf"}), folder).to_dict()
    corners = written["part"]["profile"]["corners"]
    rows = corners["value"] if isinstance(corners, dict) else corners
    rows[:] = [[139.0 if diameter == 140 else diameter, z] for diameter, z in rows]
    with pytest.raises(InputError, match=r"corners here are not those of ring\.dxf"):
        Setup.from_dict(written, folder)


def test_what_a_drawing_leaves_open_is_asked_with_the_key_to_write(folder):
    (folder / "bare.dxf").write_bytes(Sheet(code=UNSAID, hatched=False).draw(RING))
    refused(table({"profile": "bare.dxf"}), 'units = "mm"', folder)
    refused(table({"profile": {"file": "bare.dxf", "units": "mm"}}), 'body = "hollow"', folder)
    setup = read(table({"profile": {"file": "bare.dxf", "units": "mm", "body": "hollow"}}), folder)
    assert walked(sizes(setup.part.profile)) == CORNERS


@pytest.mark.parametrize(("name", "words"), [
    ("missing.dxf", "no such file"), ("../ring.dxf", "outside the folder"), ("/etc/passwd", "relative to the setup"),
    ("link.dxf", "outside the folder"), (".", "no such file"), ("text.dxf", "not a DXF"), ("ring.png", "STEP file"),
])  # fmt: skip
def test_no_file_outside_the_folder_and_no_other_file_is_read(folder, name, words):
    inner = folder / "setups"
    inner.mkdir()
    (inner / "text.dxf").write_text("hello", encoding="utf-8")
    (inner / "ring.png").write_bytes(b"\x89PNG" + bytes(50))
    (inner / "link.dxf").symlink_to(folder / "ring.dxf")
    refused(table({"profile": name}), words, inner)


def test_a_setup_that_comes_from_no_folder_reads_no_file(monkeypatch):
    raw = table({"profile": "wear-ring.toml"}, chuck=inline(WEAR_RING, "chuck"), jaws=inline(WEAR_RING, "jaws"))
    monkeypatch.setattr(Path, "open", lambda *_, **__: pytest.fail("a file was opened"))
    del raw["boring"]
    with pytest.raises(InputError, match="does not come from a file"):
        Setup.from_dict(raw)


@pytest.mark.parametrize(("part", "words"), [
    ({"profile": {"shape": "ring", "outside": 158, "bore": 160, "length": 32}}, "must be less than outside"),
    ({"profile": {"shape": "ring", "outside": 158, "bore": 140, "length": 32, "bar": 3}}, "give one of"),
    ({"profile": {"bar": 170, "length": 30}}, "are for a blank"),
    ({"profile": {"shape": "rin", "outside": 1}}, 'did you mean "ring"'),
    ({"profile": {**SLEEVE, "oustide": 3}}, 'did you mean "outside"'),
    ({"profile": {**SLEEVE, "outside": 15800}}, "outside 0 to 3000"),
    ({"blank": {"on_diameter": 0}}, "not both 0"), ({"blank": {"bar": 170}}, "length is missing"),
    ({"blank": {"tube": [140, 170], "length": 40}}, "outside diameter first"),
    ({"blank": {"bar": 160, "length": 40}}, "reaches outside it"), ({"blank": {}}, "none of them"),
    ({"profile": {"shape": "ring", "outside": 158, "bore": 140, "length": 32, "axis": "y 0"}}, "axis does not go"),
])  # fmt: skip
def test_a_form_that_cannot_be_is_refused_in_words(part, words):
    refused(table(part), words)


def test_grip_cuts_and_tolerances_choose_surfaces_by_name():
    cuts = [{**cut, "surface": {"end face": "face z 32", "seal land": "outside Ø158"}[cut["surface"]]}
            for cut in WEAR_RING["cut"]]  # fmt: skip
    raw = table({"profile": SLEEVE}, without=("side", "diameter", "diameter_tolerance"), cut=cuts,
                surface=[{"name": "outside Ø158", "roundness": 0.02}, {"name": "bore Ø140",
                                                                       "diameter_tolerance": [0, 0.04]}])  # fmt: skip
    raw["grip"]["surface"] = "bore Ø140"
    setup = read(raw)
    assert (setup.grip.side, setup.grip.diameter, setup.grip.diameter_tolerance) == ("inside", 140, (0, 0.04))
    land, bore, face = setup.surfaces
    assert (land.side, land.diameter, land.z, land.roundness) == ("outside", 158, (24, 32), 0.02)
    assert (bore.name, bore.z) == ("bore Ø140", (0, 32))
    assert (face.name, face.side, face.diameters, face.z) == ("face z 32", "face", (140, 158), (32, 32))
    assert Setup.from_dict(setup.to_dict()) == setup


def test_names_of_surfaces_are_in_the_units_of_the_setup():
    raw = tomllib.loads((EXAMPLES / "pump-sleeve-inch.toml").read_text(encoding="utf-8"))
    for key in ("side", "diameter"):
        del raw["grip"][key]
    raw["grip"]["surface"] = "outside Ø3.25"
    raw["chuck"] = {"use": "chucks/200-wedge.toml", "grease": "good"}
    assert Setup.from_dict(raw, EXAMPLES).grip.diameter == pytest.approx(82.55, abs=1e-12)


def test_a_name_that_is_no_surface_of_the_part_is_refused_with_those_that_are():
    raw = table(without=("side", "diameter"))
    raw["grip"]["surface"] = "bore Ø141"
    assert len(refused(raw, "its surfaces are 'face z 0', 'outside Ø166'")) == 1
    raw["grip"]["surface"] = "face z 32"
    refused(raw, "is a face; jaws grip")
    refused(table(surface=[{"name": "land"}]), 'no surface "land"')
    both = table()
    both["grip"]["surface"] = "bore Ø140"
    refused(both, "says it already")


TEXTS = ["file", "ring", "ring.dxf", "stepped shaft", "bore Ø140", "3 mm", "", "\0", "drawing"]
VALUES = st.one_of(
    st.sampled_from(TEXTS), st.booleans(), st.floats(-1e6, 1e6), st.integers(-10, 300), st.none(),
    st.lists(st.floats(0, 300), max_size=4),
    st.dictionaries(st.sampled_from(["value", "from", "shape"]), st.integers(0, 3), max_size=2),
)  # fmt: skip
FORMS = st.dictionaries(st.sampled_from([*SectionSource.model_fields, "from", "value"]), VALUES, max_size=6)


@settings(max_examples=50)
@given(FORMS, FORMS, VALUES)
def test_whatever_stands_in_a_form_gives_a_setup_or_words(profile, blank, name):
    raw = table({"profile": {"shape": "ring", **profile}, "blank": blank}, surface=[{"name": name}])
    raw["grip"]["surface"] = name
    try:
        setup = read(raw)
    except InputError as error:
        assert all(problem.isprintable() for problem in error.problems)  # noqa: PT017
    else:
        assert Setup.from_dict(setup.to_dict()) == setup


def test_the_schema_takes_every_form_and_refuses_what_the_reader_refuses():
    schema = jsonschema.Draft202012Validator(Setup.json_schema())
    named = table(
        {"profile": "part.dxf", "blank": {"on_diameter": "3 mm", "on_faces": 1}}, without=("side", "diameter")
    )
    named["grip"]["surface"] = "bore Ø140"
    for good in (table({"profile": SLEEVE}), named):
        assert list(schema.iter_errors(good)) == []
    for bad in (table({"profile": {**SLEEVE, "shape": "bowl"}}), table({"profile": {**SLEEVE, "oustide": 1}}),
                table(without=("side",))):  # fmt: skip
        assert list(schema.iter_errors(bad)) != []


def test_curves_are_few_chords_near_the_curve_and_cylinders_stay(folder):
    made = ezdxf.new("R2010", setup=["linetypes"], units=4)
    space = made.modelspace()
    space.add_ellipse((60, 20), (40, 0), 0.25, start_param=0, end_param=pi)
    space.add_lwpolyline([(20, 20), (0, 20), (0, 0), (120, 0), (120, 19.98), (100, 19.98), (100, 20)])
    space.add_line((-5, 0), (130, 0), dxfattribs={"linetype": "CENTER"})
    (folder / "egg.dxf").write_bytes(Sheet.text(made))
    seated = from_file(SectionSource(file="egg.dxf"), folder, "metric")
    assert 20 < len(seated.corners) < 60
    curve = LineString([(40 * cos(k * pi / 5000) + 60, 20 + 10 * sin(k * pi / 5000)) for k in range(5001)])
    on = [(c.z, c.r) for c in seated.corners if c.r > 20]
    assert curve.hausdorff_distance(LineString([(100, 20), *sorted(on, reverse=True), (20, 20)])) < 0.052
    straight = {(c.z, c.r) for c in seated.corners if c.r <= 20}
    assert {(0, 20), (100, 19.98), (120, 19.98), (0, 0), (120, 0)} <= straight  # a step of 0.02 mm is no chord


def test_the_other_end_and_a_shoulder_may_sit():
    source = SectionSource.model_validate({**SLEEVE, "seat_end": "high", "seat_at": 8})
    found = walked([[2 * c.r, c.z] for c in from_shape(source)])
    assert found == [[140, -8], [158, -8], [158, 0], [166, 0], [166, 24], [140, 24]]

"""The setup file: read, traced to its sources, changed, written back and described by a schema."""

import copy
import pickle
import subprocess
import sys
import tomllib
from math import radians
from pathlib import Path

import jsonschema
import pytest
from conftest import example
from pydantic import ValidationError

from heldtrue.errors import InputError
from heldtrue.planning.file_schema import chuck_schema
from heldtrue.planning.half_section import stretches, volume
from heldtrue.planning.setup import Setup

EXAMPLES = Path(__file__).parents[2] / "examples"
FILES = Path(__file__).parent / "setup_files"  # frozen, so that the examples can be tuned freely
SETUPS = sorted(EXAMPLES.glob("*.toml"))
CHUCKS = sorted((EXAMPLES / "chucks").glob("*.toml"))


def raw(name="wear-ring"):
    return tomllib.loads((FILES / f"{name}.toml").read_text(encoding="utf-8"))


def read(table):
    return Setup.from_dict(table, base_dir=FILES)


@pytest.fixture(scope="module")
def ring():
    return Setup.from_toml(FILES / "wear-ring.toml")


@pytest.fixture(scope="module")
def sleeve():
    return Setup.from_toml(FILES / "pump-sleeve-inch.toml")


def test_a_file_becomes_plain_numbers_in_core_units(ring):
    assert ring.title == "Wear ring, second side"
    assert ring.part.profile[2].diameter == 166.0
    assert ring.part.profile[2].z == 24.0
    assert ring.part.mass == 1.8
    assert ring.grip.diameter_tolerance == (0.0, 0.04)
    assert ring.grip.z == (2.0, 14.0)
    assert ring.chuck.max_grip_force == 111_000.0
    assert ring.chuck.max_speed_rpm == 4200.0
    assert ring.chuck.actuator.max_pressure == 3.0
    assert ring.chuck.actuator.threshold_pressure == 0.08
    assert ring.surfaces[1].diameters == (140.0, 158.0)
    assert ring.surfaces[1].diameter is None
    assert ring.surfaces[1].z == (32.0, 32.0)
    assert ring.cuts[2].surface_speed == 200.0
    assert ring.cuts[2].speed_rpm is None
    assert ring.cuts[2].finishing is True
    assert ring.jaws.width is None
    assert ring.limits is None


def test_an_inch_file_with_a_metric_chuck_file(sleeve):
    assert sleeve.grip.diameter == pytest.approx(82.55, abs=1e-9)
    assert sleeve.cuts[0].feed == 0.254
    assert sleeve.cuts[0].surface_speed == pytest.approx(152.4, abs=1e-9)
    assert sleeve.cuts[2].depth == pytest.approx(0.3048, abs=1e-12)
    assert sleeve.jaws.mass == pytest.approx(1.99580643, rel=1e-8)
    assert sleeve.jaws.width == pytest.approx(57.15, abs=1e-9)
    assert sleeve.chuck.actuator.pull_area == 11_400.0
    assert sleeve.chuck.actuator.max_pressure == 3.0
    assert sleeve.run.pressure == pytest.approx(1.37895146, rel=1e-8)


def test_angles_are_in_radians():
    shaft = Setup.from_toml(FILES / "winch-shaft.toml")
    assert shaft.cuts[0].lead_angle == pytest.approx(radians(95), rel=1e-12)
    assert shaft.machine.power == 15_000.0


def test_corners_carry_their_roundings():
    flange = Setup.from_toml(FILES / "gland-flange.toml")
    assert flange.part.profile[2].radius == 2.0
    assert flange.part.profile[4].chamfer == 1.0
    assert flange.part.profile[0].radius is None


@pytest.mark.parametrize(
    ("path", "source"),
    [
        ("part.mass", "measured"),
        ("part.profile", "stated"),
        ("part.profile.0.diameter", "stated"),
        ("part.oily", "assumed"),
        ("grip.diameter", "stated"),
        ("grip.diameter_tolerance", "drawing"),
        ("grip.diameter_tolerance.1", "drawing"),
        ("grip.seat", "assumed"),
        ("surfaces.0.roundness", "drawing"),
        ("surface.0.roundness", "drawing"),
        ("surfaces.0.cylindricity", "assumed"),
        ("chuck.max_grip_force", "plate"),
        ("chuck.max_speed", "plate"),
        ("chuck.max_speed_rpm", "plate"),
        ("chuck.grease", "stated"),
        ("chuck.master_jaw_mass", "measured"),
        ("chuck.grip_readings", "assumed"),
        ("chuck.actuator.pull_area", "plate"),
        ("chuck.actuator.threshold_pressure", "measured"),
        ("jaws.width", "assumed"),
        ("limits.safety_factor", "assumed"),
        ("run.pressure", "assumed"),
        ("cuts.1.feed", "stated"),
    ],
)
def test_every_value_knows_where_it_came_from(ring, path, source):
    assert ring.source(path) == source


@pytest.mark.parametrize("path", ["part.weight", "nonsense", "cuts.feed", "cuts.9.feed", "grip.z.2", ""])
def test_asking_for_the_source_of_nothing_is_an_error(ring, path):
    with pytest.raises(InputError):
        ring.source(path)


def test_a_measured_list_of_readings_keeps_its_source():
    table = raw()
    table["chuck"] = {"use": "chucks/250-six-jaw.toml"}
    six = read(table)
    assert six.source("chuck.grip_readings") == "measured"
    assert six.source("chuck.grip_readings.1.force") == "measured"
    assert six.chuck.grip_readings[1].force == 51_000.0
    assert six.chuck.grip_readings[1].pressure == 1.6


def test_keys_in_the_setup_win_over_the_chuck_file():
    table = raw()
    table["chuck"] = {
        "use": "chucks/250-wedge.toml",
        "max_speed": 3900,
        "actuator": {"max_pressure": "26 bar"},
    }
    setup = read(table)
    assert setup.chuck.max_speed_rpm == 3900.0
    assert setup.source("chuck.max_speed") == "stated"
    assert setup.chuck.actuator.max_pressure == 2.6
    assert setup.source("chuck.actuator.max_pressure") == "stated"
    assert setup.chuck.actuator.push_area == 15_700.0
    assert setup.source("chuck.actuator.push_area") == "plate"


def test_an_inline_chuck_reads_the_same_as_its_file(ring):
    table = raw()
    file = tomllib.loads((FILES / "chucks/250-wedge.toml").read_text(encoding="utf-8"))
    del file["units"]
    table["chuck"] = {**file, "grease": {"value": "good", "from": "stated"}}
    inline = Setup.from_dict(table)
    assert inline.chuck == ring.chuck
    assert inline.source("chuck.jaw_travel") == "plate"


@pytest.mark.parametrize("path", SETUPS, ids=lambda path: path.stem)
def test_every_example_survives_writing_and_reading(path):
    setup = Setup.from_toml(path)
    written = setup.to_dict()
    assert Setup.from_dict(written) == setup
    assert Setup.from_dict(written).to_dict() == written
    assert len(setup.cuts) >= 3
    assert any(cut.finishing for cut in setup.cuts)


def test_writing_keeps_units_and_sources_people_gave(sleeve):
    written = sleeve.to_dict()
    assert written["units"] == "inch"
    assert written["run"]["pressure"] == "200 psi"
    assert written["part"]["mass"] == {"value": "4.1 lb", "from": "measured"}
    assert written["cut"][0]["feed"] == 0.01
    assert written["part"]["profile"][0] == [2.25, 0]
    assert written["surface"][0]["z"] == [1.25, 3]
    assert "limits" not in written


def test_a_different_source_makes_a_different_setup(ring):
    table = raw()
    table["part"]["mass"] = "1.8 kg"
    assert read(table) != ring


def test_a_changed_copy(ring):
    changed = ring.with_(pressure=2.0, speed_rpm=1800.0)
    assert (changed.run.pressure, changed.run.speed_rpm) == (2.0, 1800.0)
    assert changed.source("run.pressure") == "stated"
    assert ring.run is None
    assert changed.part == ring.part
    assert changed.source("chuck.max_grip_force") == "plate"


def test_changes_by_path_with_units_and_removals(ring):
    changed = ring.with_(
        {"cuts.1.feed": "0.010 in", "part.mass": "4 lb", "grip.z": [3, 13], "limits.marking_allowed": True},
        jaws__material="C15",
        chuck__grease=None,
    )
    assert changed.cuts[1].feed == 0.254
    assert changed.source("part.mass") == "stated"
    assert changed.grip.z == (3.0, 13.0)
    assert changed.limits.marking_allowed is True
    assert changed.jaws.material == "C15"
    assert changed.chuck.grease is None
    assert changed.source("chuck.grease") == "assumed"
    assert read(changed.to_dict()) == changed
    assert ring.with_() == ring


def test_ranges_are_read_in_core_units_and_what_nobody_says_stays_unsaid(ring):
    assert (ring.part.roundness, ring.part.holes, ring.chuck.serviced, ring.jaws.friction_range) == (None,) * 4
    assert ring.chuck.actuator.gauge_error is None
    assert ring.with_({"cuts.1.interrupted": None}).cuts[1].interrupted is None
    said = ring.with_({
        "part.roundness": "0.001 in", "part.off_centre_mass": "200 g", "part.off_centre_radius": "4 cm",
        "part.holes": True, "chuck.serviced": False, "chuck.actuator.gauge_error": "1 bar",
        "jaws.friction_range": [0.1, 0.2], "cuts.1.interrupted": False,
    })  # fmt: skip
    assert said.part.roundness == pytest.approx(0.0254)
    assert (said.part.off_centre_mass, said.part.off_centre_radius) == pytest.approx((0.2, 40.0))
    assert (said.part.holes, said.chuck.serviced, said.cuts[1].interrupted) == (True, False, False)
    assert said.chuck.actuator.gauge_error == pytest.approx(0.1)
    assert said.jaws.friction_range == (0.1, 0.2)
    assert said.source("part.roundness") == "stated"
    assert said.source("chuck.serviced") == "stated"
    assert read(said.to_dict()) == said


def test_one_changed_corner_of_a_drawn_profile_is_stated_and_the_rest_stays_drawn():
    table = raw("winch-shaft")
    table["part"]["profile"] = {"value": table["part"]["profile"], "from": "drawing"}
    changed = read(table).with_({"part.profile.7.z": 160.0, "part.profile.6.chamfer": "2 mm"})
    assert changed.source("part.profile.6.chamfer") == "stated"
    assert changed.source("part.profile.6.diameter") == "drawing"
    assert changed.part.profile[6].chamfer == 2.0
    assert read(changed.to_dict()) == changed


def test_a_low_pressure_set_by_a_program_is_not_taken_for_a_slip(ring):
    assert ring.with_(pressure=0.1).run.pressure == 0.1


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"jaws.widht": 3.0}, 'did you mean "width"'),
        ({"cuts.7.feed": 0.1}, "there are only 3"),
        ({"cuts.x.feed": 0.1}, "number of an entry"),
        ({"run.pressure": "10 kN"}, "a force, not a pressure"),
        ({"run.pressure": -1.0}, "outside"),
        ({"grip.diameter": 139.0}, "no inside surface of Ø139 mm"),
        ({"grip.diameter": None}, "field required"),
        ({"jaws.style": "round"}, "jaws: style"),
        ({"cuts.0.feed": float("nan")}, "finite"),
    ],
)
def test_a_change_that_cannot_be_is_refused(ring, changes, message):
    with pytest.raises(InputError) as caught:
        ring.with_(changes)
    assert message in str(caught.value)


def test_a_setup_cannot_be_altered_in_place(ring):
    with pytest.raises(ValidationError):
        ring.part.mass = 2.0
    assert isinstance(ring.cuts, tuple)
    assert isinstance(hash(ring), int)


def test_a_setup_can_be_copied_and_sent(ring):
    assert pickle.loads(pickle.dumps(ring)) == ring
    assert copy.deepcopy(ring).source("part.mass") == "measured"


def test_the_schema_is_valid_and_accepts_every_example():
    schema = Setup.json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for path in SETUPS:
        assert list(validator.iter_errors(tomllib.loads(path.read_text(encoding="utf-8")))) == []
        assert list(validator.iter_errors(Setup.from_toml(path).to_dict())) == []
    chuck = jsonschema.Draft202012Validator(chuck_schema())
    jsonschema.Draft202012Validator.check_schema(chuck_schema())
    for path in CHUCKS:
        assert list(chuck.iter_errors(tomllib.loads(path.read_text(encoding="utf-8")))) == []
    assert (len(SETUPS), len(CHUCKS)) >= (6, 3)


@pytest.mark.parametrize(
    "break_it",
    [
        lambda t: t.pop("grip"),
        lambda t: t.pop("units"),
        lambda t: t.update(units="imperial"),
        lambda t: t["grip"].update(diametre=3),
        lambda t: t["grip"].update(z=[1, 2, 3]),
        lambda t: t["grip"].update(diameter={"value": 140, "from": "guess"}),
        lambda t: t["grip"].update(diameter="wide"),
        lambda t: t["cut"][0].update(kind="turning"),
        lambda t: t["part"].update(profile=[[140], [166, 0]]),
        lambda t: t["chuck"].pop("use"),
        lambda t: t["jaws"].update(friction_range=[0.1, 0.2, 0.3]),
        lambda t: t["part"].update(holes="yes"),
        lambda t: t["chuck"].update(serviced="lately"),
    ],
)
def test_the_schema_and_the_reader_refuse_the_same_faults(break_it):
    table = raw()
    break_it(table)
    assert list(jsonschema.Draft202012Validator(Setup.json_schema()).iter_errors(table))
    with pytest.raises(InputError):
        read(table)


@pytest.mark.parametrize(
    "change_it",
    [
        lambda t: t["grip"].update(diameter={"value": "Ø140,0", "from": "measured"}),
        lambda t: t["grip"].update({"z": {"value": [2, "14 mm"], "from": "drawing"}}),
        lambda t: t["part"].update(number=158, oily={"value": True, "from": "stated"}),
        lambda t: t["part"].update(profile={"value": t["part"]["profile"], "from": "drawing"}),
        lambda t: t["part"]["profile"].__setitem__(0, {"diameter": 140, "z": 0, "chamfer": "0.5 mm"}),
        lambda t: t["chuck"].update(actuator={"max_pressure": "26 bar"}),
        lambda t: t["surface"][1].update(z={"value": 32, "from": "drawing"}),
        lambda t: t["surface"][1].update(diameter={"value": [140, 158], "from": "drawing"}),
        lambda t: t["surface"][1].update(side={"value": "face", "from": "drawing"}),
        lambda t: t["machine"].update({"from": "plate"}),
        lambda t: t["jaws"].update(friction_range={"value": [0.1, 0.2], "from": "measured"}),
        lambda t: t["part"].update(roundness={"value": "0.01 mm", "from": "measured"}, holes=True, off_centre=0.1),
        lambda t: t["chuck"].update(serviced={"value": True, "from": "stated"}, actuator={"gauge_error": "0.1 bar"}),
    ],
)
def test_the_schema_and_the_reader_accept_the_same_ways_of_writing(change_it):
    table = raw()
    change_it(table)
    assert list(jsonschema.Draft202012Validator(Setup.json_schema()).iter_errors(table)) == []
    setup = read(table)
    assert Setup.from_dict(setup.to_dict()) == setup


def test_the_import_is_quick_because_it_loads_no_heavy_library():
    code = (
        "import sys, heldtrue.planning.setup;"
        "loaded = {'numpy', 'scipy', 'shapely', 'pint', 'ngsolve'} & set(sys.modules);"
        "assert not loaded, loaded"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_the_surfaces_of_a_half_section(ring):
    found = {(s.looks, s.diameters, s.z) for s in stretches(ring.part.profile)}
    assert found == {
        ("chuck", (140.0, 166.0), (0.0, 0.0)),
        ("outside", (166.0, 166.0), (0.0, 24.0)),
        ("tailstock", (158.0, 166.0), (24.0, 24.0)),
        ("outside", (158.0, 158.0), (24.0, 32.0)),
        ("tailstock", (140.0, 158.0), (32.0, 32.0)),
        ("inside", (140.0, 140.0), (0.0, 32.0)),
    }
    assert {(s.looks, s.diameters, s.z) for s in stretches(ring.part.profile[::-1])} == found


def test_roundings_shorten_the_surfaces_beside_them():
    flange = Setup.from_toml(FILES / "gland-flange.toml")
    found = {(s.looks, s.diameters): s.z for s in stretches(flange.part.profile)}
    assert found["outside", (90.0, 90.0)] == pytest.approx((0.0, 28.0), abs=1e-9)
    assert found["outside", (150.0, 150.0)] == pytest.approx((30.0, 45.0), abs=1e-9)
    assert ("chuck", (94.0, 150.0)) in {(k[0], tuple(round(d, 9) for d in k[1])) for k in found}


def test_volume_of_a_stepped_ring(ring):
    by_hand = 3.141592653589793 / 4 * ((166**2 - 140**2) * 24 + (158**2 - 140**2) * 8)
    assert volume(ring.part.profile) == pytest.approx(by_hand, rel=1e-12)


def test_a_change_may_have_the_shape_of_the_file():
    ring = example("wear-ring")
    corners = [[140, 0], [166, 0], [166, 24], [158, 24], [158, 32], ["140 mm", 32]]
    assert ring.with_({"part.profile": corners}) == ring.with_({"part.profile": ring.part.profile})
    rounded = [[140, 0], [166, 0, {"radius": 1}], *corners[2:]]
    less = ring.with_({"part.profile": rounded})
    assert less.part.profile[1].radius == 1
    same = ring.with_({"cuts.0": ring.to_dict()["cut"][0]})
    assert same.cuts[0].name == ring.cuts[0].name
    with pytest.raises(InputError, match="'colour' is not known there"):
        ring.with_({"part.profile": [[140, 0], {"diameter": 1, "z": 2, "colour": "red"}]})

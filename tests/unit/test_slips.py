"""Slips of typing and contradictions: the message names the place, what was found and what would be right."""

import copy
import tomllib
from pathlib import Path

import pytest

from heldtrue.errors import InputError
from heldtrue.planning.setup import Setup
from heldtrue.planning.toml_file import LARGEST_FILE, parse_toml, read_toml

FILES = Path(__file__).parent / "setup_files"  # frozen, so that the examples can be tuned freely
TABLES = {path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(FILES.glob("*.toml"))}
REMOVE = "<remove>"


def problems(example, changes):
    """The problems of an example with some values changed; a path has dots."""
    table = copy.deepcopy(TABLES[example])
    for path, value in changes.items():
        *outer, last = path.split(".")
        place = table
        for step in outer:
            place = place[int(step)] if isinstance(place, list) else place.setdefault(step, {})
        if value == REMOVE:
            del place[last]
        else:
            place[int(last) if isinstance(place, list) else last] = value
    try:
        Setup.from_dict(table, base_dir=FILES)
    except InputError as error:
        return error.problems
    return ()


RING, SLEEVE, FLOAT = "wear-ring", "pump-sleeve-inch", "float-ring"
PROFILE = TABLES[RING]["part"]["profile"]

SLIPS = [
    # units
    (
        RING,
        {"cut.2.feed": 25},
        "cut 3 'finish land': feed: 25 mm per turn is outside 0.01 to 2; did you mean 0.25?",
    ),
    (RING, {"cut.2.feed": 0.004}, 'did you mean "0.004 in/rev"?'),
    (RING, {"grip.diameter": 5.5118}, "was it typed in inch? did you mean Ø140 mm?"),
    (SLEEVE, {"grip.diameter": 82.55}, "was it typed in mm? did you mean Ø3.25 in?"),
    (
        RING,
        {"part.profile": [[d / 25.4, z / 25.4] for d, z in PROFILE], "part.blank": REMOVE},
        "was the profile typed in inch?",
    ),
    (
        SLEEVE,
        {"part.profile": [[57.15, 0], [82.55, 0], [82.55, 31.75], [57.15, 31.75]], "part.blank": REMOVE},
        "was the profile typed in mm?",
    ),
    (
        RING,
        {"run.pressure": 250},
        'run: pressure: 250 bar is outside 0.1 to 200 bar; did you mean "250 psi"?',
    ),
    (RING, {"run.pressure": 100}, 'did you mean "100 psi"? If not, write "100 bar"'),
    (RING, {"run.pressure": 1.8}, 'did you mean "1.8 MPa"?'),
    (
        RING,
        {"jaws.bored_pressure": 200},
        "jaws: bored_pressure: 200 bar is outside what chuck and cylinder take",
    ),
    (SLEEVE, {"run.pressure": 14}, 'did you mean "14 bar"?'),
    (
        RING,
        {"chuck.max_draw_force": 43},
        'chuck: max_draw_force: 43 N is outside 500 to 2000000 N; did you mean "43 kN"',
    ),
    (
        RING,
        {"chuck.actuator": {"push_area": 157}},
        'push_area: 157 mm2 is outside 300 to 300000 mm2; did you mean "157 cm2"',
    ),
    (RING, {"surface.0.roundness": 20}, 'roundness: 20 mm is outside 0.0001 to 2 mm; did you mean "20 um"?'),
    (RING, {"run.speed": "2.500 rpm"}, "did you mean 2500?"),
    (RING, {"jaws.friction": 12}, 'did you mean "12 %"?'),
    (RING, {"part.mass": 4}, "the blank as drawn in CuSn12 would weigh 1.79 kg"),
    (RING, {"part.mass": 0.4}, "the finished part as drawn in CuSn12 would weigh 1.60 kg"),
    (RING, {"grip.diameter": "1,400 mm"}, 'can be read in two ways; write "1400 mm" or "1.4 mm"'),
    (RING, {"grip.z": [2, 5, 14]}, 'expected two values; found 3 (a decimal comma needs quotes: "2,5")'),
    # radius and diameter
    (RING, {"grip.diameter": 70}, "is that the radius? did you mean Ø140 mm?"),
    (RING, {"surface.0.diameter": 79}, "is that the radius? did you mean Ø158 mm?"),
    (RING, {"surface.0.diameter": 316}, "is that twice the diameter? did you mean Ø158 mm?"),
    # the profile
    (
        RING,
        {"part.profile": [[140, 0], [166, 24], [166, 0], [140, 24]], "part.blank": REMOVE},
        "part: profile: the outline crosses or touches itself at Ø153, z 12 mm",
    ),
    (RING, {"part.profile.0": [-140, 0]}, "corner 1: diameter: -140 mm is outside 0 to 3000 mm"),
    (RING, {"part.profile": [[140, 0], [166, 0]]}, "2 different corners make no area"),
    (RING, {"part.profile": []}, "0 different corners make no area"),
    (RING, {"part.profile": [[140, 0], [166, 0], [150, 0]]}, "the corners enclose no area"),
    (RING, {"part.profile": [*PROFILE, PROFILE[0]]}, "the last corner repeats the first"),
    (RING, {"part.profile": [PROFILE[0], *PROFILE]}, "corners 1 and 2 are the same"),
    (RING, {"part.profile.1": [166, 0, {"radius": 20}]}, "corners 1 and 2 are 13 mm apart"),
    (RING, {"part.profile.1": [166, 0, {"radius": 2, "chamfer": 2}]}, "corner 2 has a radius and a chamfer"),
    (RING, {"part.profile.1": [166]}, "corner 2: expected [diameter, z]"),
    (RING, {"part.profile.1": [166, 0, {"radus": 2}]}, 'did you mean "radius"?'),
    (
        RING,
        {"part.blank": [[140, 0], [160, 0], [160, 33], [140, 33]]},
        "reaches outside it (Ø160 to Ø166, z 0 to 24 mm)",
    ),
    # grip and surfaces on the part
    (
        RING,
        {"grip.z": [2, 40]},
        "grip: z: 2 mm to 40 mm reaches beyond the surface, which is Ø140 mm from z 0 mm to 32 mm",
    ),
    (RING, {"grip.z": [14, 2]}, "grip: z: runs from 14 mm to 2 mm; give the lower value first"),
    (RING, {"grip.z": [2, 2]}, "which is no length"),
    (
        RING,
        {"grip.side": "outside"},
        "grip: side: Ø140 mm is an inside surface of the part, not an outside one",
    ),
    (RING, {"grip.diameter_tolerance": [0.04, 0]}, "give the lower value first"),
    (
        RING,
        {"part.profile": [[d, z + 5] for d, z in PROFILE], "part.blank": REMOVE},
        "no face towards the chuck at z = 0 to rest on (such faces are at z = 5 mm)",
    ),
    (RING, {"surface.0.z": [20, 32]}, "surface 1 'seal land': z: 20 mm to 32 mm reaches beyond the surface"),
    (RING, {"surface.1.z": 30}, "the part has no face at 30 mm; its faces are at z = 0 mm, 24 mm, 32 mm"),
    (RING, {"surface.1.diameter": [130, 158]}, "130 mm to 158 mm reaches beyond the face at z = 32 mm"),
    (RING, {"surface.1.diameter": 158}, "a face needs its inner and outer diameter"),
    (RING, {"surface.0.flatness": 0.02}, 'flatness: a surface with side = "outside" has none'),
    (RING, {"surface.1.name": "seal land"}, "2 surfaces are named 'seal land'"),
    # cuts
    (
        RING,
        {"cut.1.surface": "seal lnad"},
        "there is no surface named 'seal lnad'; did you mean \"seal land\"?",
    ),
    (
        RING,
        {"cut.1.speed": REMOVE},
        "cut 2 'rough land': give its speed (cutting speed) or its spindle_speed",
    ),
    (RING, {"cut.1.spindle_speed": 500}, "speed and spindle_speed contradict each other"),
    (RING, {"cut.1.feed": REMOVE}, "cut 2 'rough land': feed is missing; a turn cut needs it"),
    (RING, {"cut.1.surface": REMOVE}, "give the surface it makes, or its diameter"),
    (RING, {"cut.1.kind": "turning"}, 'did you mean "turn"?'),
    (RING, {"cut.1.kind": "bore"}, "bore makes an inside surface; 'seal land' is an outside surface"),
    (RING, {"cut.1.kind": "tap"}, "diameter is missing; a tap cut needs it"),
    (RING, {"cut.1.depth": 24}, "24 mm is more than what the blank leaves to cut there, 5 mm"),
    (RING, {"cut.1.depth": 90, "part.blank": REMOVE}, "90 mm is more than the radius of the part, 83 mm"),
    (RING, {"cut.1.name": "finish land"}, "2 cuts are named 'finish land'"),
    (RING, {"cut.1.z": [60, 70]}, "60 mm to 70 mm is off the part, which runs from z 0 mm to 33 mm"),
    (RING, {"cut.1.diameter": 400}, "Ø400 mm is off the part, whose largest diameter is 166 mm"),
    (RING, {"cut": []}, "there is no [[cut]] table"),
    (
        RING,
        {
            "cut.1": {
                "name": "x",
                "kind": "bore",
                "diameter": 140,
                "z": [0, 32],
                "depth": 1,
                "feed": 0.1,
                "speed": 99,
            }
        },
        "cut 2 'x': it cuts where the jaws hold",
    ),
    # hardware
    (FLOAT, {"jaws.count": 4}, "4 jaws do not go evenly on a chuck with 3 master jaws"),
    (FLOAT, {"jaws.width": 450}, "3 jaws 450 mm wide do not fit side by side on Ø240 mm"),
    (RING, {"jaws.gap": 90}, "3 gaps of 90 mm leave too little of Ø140 mm to grip"),
    (RING, {"chuck.jaws": 13}, "chuck: jaws: 13 is outside 2 to 12"),
    (RING, {"chuck.max_grip_force": "14 kN"}, "max_grip_force is 0.326 times max_draw_force"),
    (
        RING,
        {"chuck.actuator": {"least_pressure": 31}},
        "least_pressure 31 bar is not below max_pressure 30 bar",
    ),
    (
        RING,
        {"machine.max_swing": 160},
        "Ø166 mm does not turn clear in this machine, whose max_swing is 160 mm",
    ),
    (RING, {"chuck.swing": 150}, "Ø166 mm does not turn clear in this chuck, whose swing is 150 mm"),
    (RING, {"limits.safety_factor": 3}, "give the reason for it as safety_reason"),
    (RING, {"limits.safety_reason": "new chuck"}, "there is no safety_factor to go with it"),
    # words and keys
    (
        RING,
        {"part.material": "CuSn21"},
        "part: material: work material 'CuSn21' is not known; closest names: CuSn12",
    ),
    (RING, {"jaws.material": "cheese"}, "jaws: material: jaw material 'cheese' is not known"),
    (RING, {"grip.diametre": 3}, 'grip: "diametre" is not known here; did you mean "diameter"?'),
    (RING, {"chuck.pressure": 3}, "it belongs to [run]"),
    (RING, {"part.units": "metric"}, "it belongs above the first [table] of the file"),
    (RING, {"gripp": {}}, 'did you mean "grip"?'),
    (RING, {"grip": REMOVE}, "there is no [grip] table"),
    (RING, {"grip.diameter": REMOVE}, "grip: diameter is missing; it is the nominal gripped diameter"),
    (RING, {"units": REMOVE}, "units is missing"),
    (RING, {"units": "imperial"}, '"imperial" is neither'),
    (RING, {"part.mass": {"value": 1.8, "from": "guess"}}, '"guess" is not one of measured, plate'),
    (
        RING,
        {"part.mass": {"value": 1.8, "form": "plate"}},
        'expected { value = ..., from = "..." } and nothing else',
    ),
    (RING, {"jaws": []}, "jaws: expected a table of keys; found a list of 0"),
    (RING, {"part": 5}, "part: expected a table of keys; found 5"),
    (RING, {"cut": {"name": "x"}}, "cut: expected tables headed [[cut]]; found a table"),
    (RING, {"part.name": "a\u202eb"}, "a character that cannot be printed"),
    (RING, {"title": "x" * 300}, "longer than 200 characters"),
    (RING, {"part.number": " "}, "part: number: expected one line of text; it is empty"),
    (RING, {"part.oily": "yes"}, 'expected true or false; found "yes"'),
    (RING, {"part.quantity": 1.5}, "expected a whole number; found 1.5"),
    (RING, {"cut.1.depth": float("nan")}, "found nan; expected a finite number"),
    (RING, {"cut.1.depth": float("inf")}, "found inf; expected a finite number"),
    (RING, {"grip.diameter": 10**400}, "too large to mean anything"),
    # stated ranges
    (RING, {"part.off_centre_mass": "0.2 kg"}, "part: off_centre_radius is missing; off_centre_mass says nothing"),
    (RING, {"part.off_centre_radius": 40}, "part: off_centre_mass is missing; off_centre_radius says nothing"),
    (RING, {"jaws.friction_range": [0.2, 0.1]}, "jaws: friction_range: 0.2 to 0.1 does not run from low to high"),
    (RING, {"jaws.friction_range": [0.1, 0.1]}, "jaws: friction_range: 0.1 to 0.1 does not run from low to high"),
    (RING, {"jaws.friction_range": [0.1, 0.2], "jaws.friction": 0.25}, "0.25 lies outside friction_range, 0.1 to 0.2"),
    (RING, {"jaws.friction_range": [0.1]}, "jaws: friction_range"),
    (RING, {"jaws.friction_range": [0.01, 0.2]}, "jaws: friction_range"),
    (RING, {"part.roundness": 6.0}, "part: roundness"),
    (RING, {"part.holes": "some"}, "part: holes"),
    (RING, {"chuck.serviced": "last year"}, "chuck: serviced"),
    (RING, {"chuck.actuator": {"gauge_error": "25 bar"}}, "gauge_error"),
    # the chuck file
    (RING, {"chuck.use": "chucks/250-wege.toml"}, 'there is no such file; did you mean "250-wedge.toml"?'),
    (RING, {"chuck.use": "chucks"}, "is a folder"),
    (RING, {"chuck.use": "/etc/hostname"}, "write the path relative to the setup file"),
    (RING, {"chuck.use": 5}, "expected the path of a file"),
    (RING, {"chuck.use": "wear-ring.toml"}, 'chuck (wear-ring.toml): "part" is not known here'),
]


@pytest.mark.parametrize(("example", "changes", "message"), SLIPS, ids=[" ".join(c) for _, c, _ in SLIPS])
def test_a_slip_is_named_with_its_place_and_its_remedy(example, changes, message):
    found = problems(example, changes)
    assert any(message in problem for problem in found), found


def test_the_files_themselves_have_no_problems():
    assert {name: problems(name, {}) for name in TABLES} == dict.fromkeys(TABLES, ())


@pytest.mark.parametrize(
    ("example", "changes"),
    [
        (RING, {"run.pressure": "100 psi"}),
        (RING, {"run.pressure": "1.8 bar"}),
        (SLEEVE, {"run.pressure": "14 psi"}),
        (RING, {"cut.1.depth": 4.0}),
        (FLOAT, {"jaws.width": 400}),
        (RING, {"grip.seat": False, "part.profile": [[d, z + 5] for d, z in PROFILE], "part.blank": REMOVE,
                "grip.z": [7, 19], "surface.0.z": [29, 37], "surface.1.z": 37}),
        (RING, {"part.profile": PROFILE[::-1]}),
        (RING, {"part.mass": REMOVE}),
        (RING, {"part.revision": "", "title": " ", "limits.safety_reason": ""}),
        (RING, {"limits": {"safety_factor": 2.5, "safety_reason": "chuck measured last week"}}),
        (RING, {"part.profile": [[140, 0], [140, 10], *PROFILE[:0:-1]]}),
        (RING, {"part.roundness": 0.01, "part.off_centre": 0.05, "part.holes": True, "chuck.serviced": True}),
        (RING, {"part.off_centre_mass": "0.2 kg", "part.off_centre_radius": 40}),
        (RING, {"jaws.friction_range": [0.1, 0.2], "jaws.friction": 0.1}),
        (RING, {"chuck.actuator": {"gauge_error": "0.1 bar"}}),
    ],
)  # fmt: skip
def test_what_is_meant_and_possible_is_accepted(example, changes):
    assert problems(example, changes) == ()


def test_all_problems_come_together_and_each_names_its_place():
    found = problems(
        RING,
        {
            "cut.2.feed": 25,
            "grip.diameter": 70,
            "part.material": "cheese",
            "jaws.style": "round",
            "run.pressure": 250,
        },
    )
    for place in (
        "cut 3 'finish land': feed",
        "grip: diameter",
        "part: material",
        "jaws: style",
        "run: pressure",
    ):
        assert sum(problem.startswith(place) for problem in found) == 1, (place, found)
    assert len(found) == 5


def test_one_unreadable_surface_does_not_make_the_cuts_on_it_look_wrong():
    found = problems(RING, {"surface.0.diameter": "wide"})
    assert len(found) == 1
    assert found[0].startswith("surface 1 'seal land': diameter: found \"wide\"; expected length")


def test_each_problem_is_one_line():
    for example, changes, _ in SLIPS:
        assert all("\n" not in problem and problem for problem in problems(example, changes))


def test_many_unknown_keys_do_not_flood_the_reader():
    found = problems(RING, {"part": {**TABLES[RING]["part"], **{f"k{n}": n for n in range(5000)}}})
    assert "part: 5000 keys are not known here" in found
    assert len(found) == 21


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "the file is empty"),
        (b"# nothing\n", "the file is empty"),
        (b"a = 1\nspeed = 1,5\n", 'line 2, column 10, in "speed = 1,5"'),
        (b"speed = 1,5\n", 'a decimal comma needs quotes: "1,5"'),
        (b"p = 18 bar\n", 'a number with its unit needs quotes: "18 bar"'),
        (b"material = steel\n", "a text needs quotes"),
        (b"a = [1, 2\nb = 3", "line 2"),
        (b"a = 1\na = 2", "line 2, at the end of the file: cannot overwrite a value"),
        (b"a = 1\nb = '\xe9'", "line 2: the text is not UTF-8"),
        (b"\xff\xfea\x00", "UTF-16"),
        (b"x = " + b"[" * 20_000, "nested too deeply"),
        (b"x = " + b"9" * 6_000, "too many digits"),
    ],
)
def test_a_file_that_is_no_toml_is_refused_with_its_line(content, message):
    with pytest.raises(InputError) as caught:
        parse_toml(content)
    assert message in str(caught.value)
    assert len(caught.value.problems) == 1


def test_a_byte_order_mark_and_windows_lines_are_read():
    assert parse_toml(b"\xef\xbb\xbfa = 1\r\nb = 2\r\n") == {"a": 1, "b": 2}


def test_files_that_cannot_be_read(tmp_path):
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * (LARGEST_FILE + 1))
    (tmp_path / "setup.toml").write_text("a = 1", encoding="utf-8")
    for path, message in (
        (large, "larger than 1 MB"),
        (tmp_path, "is a folder"),
        (tmp_path / "setpu.toml", 'there is no such file; did you mean "setup.toml"?'),
        (tmp_path / "nowhere" / "setup.toml", "there is no such file"),
        ("/dev/zero", "is not a file"),
        ("x" * 5000, "cannot be read"),
        ("a\0b", ""),
    ):
        with pytest.raises(InputError) as caught:
            read_toml(path)
        assert message in str(caught.value)
    large.write_bytes(b"a = 1\n" + b"#" * (LARGEST_FILE - 6))
    assert read_toml(large) == {"a": 1}


def test_a_chuck_file_needs_a_base_folder():
    with pytest.raises(InputError, match="this setup does not come from a file"):
        Setup.from_dict(TABLES[RING])


def test_a_setup_must_be_a_table():
    with pytest.raises(InputError, match="a setup is a table of keys; found a list of 2"):
        Setup.from_dict([1, 2])

"""Hexagons, sockets and eccentrics on turned parts: listed, kept clear of, never gripped."""

from math import cos, pi, sqrt

import pytest
import step_solids as solids
import wall_solids
from step_solids import step_of
from web.in_process import EXAMPLES

from heldtrue.errors import InputError
from heldtrue.part_file.step import read_step
from heldtrue.planning import not_round
from heldtrue.planning.caveats import THINNER, caveats_of
from heldtrue.planning.inputs import prepare
from heldtrue.planning.ranges import OFF_CENTRE_MM
from heldtrue.planning.setup import Setup
from heldtrue.planning.way_space import grips, places
from heldtrue.web.fields import put
from heldtrue.web.sources import open_example

CORNERS = 36 / cos(pi / 6)


def read(body, **more):
    return read_step("part.step", step_of(body), measured=False, **more)


@pytest.mark.parametrize("tilt", [False, True])
def test_the_section_of_a_bolt_goes_on_to_the_circle_of_its_corners(tilt):
    body = wall_solids.bolt()
    part = read(solids.tilted(body) if tilt else body)
    assert part.outline.volume == pytest.approx(pi * 100 * 60 + pi / 4 * CORNERS**2 * 12, rel=1e-9)
    (one,) = part.not_turned
    assert (one.kind, one.size) == ("hexagon", "36 mm across flats, Ø41.5692 over its corners")
    (stretch,) = part.not_round
    assert stretch.diameters == pytest.approx((36, CORNERS))
    assert stretch.z[1] - stretch.z[0] == pytest.approx(12)
    assert not any("41.5" in surface.name for surface in part.surfaces)  # so that nobody can choose it


def test_a_chamfered_head_keeps_its_chamfer():
    part = read(wall_solids.chamfered_bolt())
    depth = (CORNERS / 2 - 17) * 3 / 13  # the cone rises 3 over 13
    assert (CORNERS / 2, 72 - depth) in [pytest.approx(piece.end) for piece in part.outline.pieces]
    assert part.outline.volume < read(wall_solids.bolt()).outline.volume


@pytest.mark.parametrize(("make", "kind", "diameters"), [
    (wall_solids.nut, "hexagon", (41, 41 / cos(pi / 6))),
    (wall_solids.square_hole, "square socket", (20, 20 * sqrt(2))),
    (wall_solids.socket_screw, "hexagon socket", (14, 14 / cos(pi / 6))),
])  # fmt: skip
def test_nuts_squares_and_sockets_are_listed_by_kind_and_size(make, kind, diameters):
    part = read(make())
    assert [one.kind for one in part.not_turned] == [kind]
    assert part.not_round[0].diameters == pytest.approx(diameters)
    inner = min(r for r, _ in part.outline.polygon() if r > 0)
    if part.not_round[0].side == "inside":
        assert inner == pytest.approx(diameters[0] / 2)  # more material than there is, never less: it is in the way


@pytest.mark.parametrize(("make", "envelope"), [(wall_solids.eccentric_shaft, 31), (wall_solids.eccentric_bush, 15)])
def test_an_eccentric_says_how_far_it_takes_the_centre_of_mass_off(make, envelope):
    body = make()
    part = read_step("part.step", step_of(body))
    assert part.off_centre == pytest.approx(abs(body.center.x), rel=1e-9)  # by the kernel
    assert any(piece.start[0] == pytest.approx(envelope) for piece in part.outline.pieces)
    assert any("CAUTION" in note for note in part.notes)


def test_a_flange_with_holes_is_not_asked_for_the_axes_of_its_holes():
    body = solids.tube(60, 20, 12)
    for x, y in ((40, 0), (-40, 0), (0, 40), (0, -40)):
        body = body - solids.pin(5, 20, -1, x, y)
    part = read(body)
    assert [one.kind for one in part.not_turned] == ["axial hole"] * 4
    assert part.not_round == ()


FREE_END = {"bolt.step": "face z 72", "nut.step": "face z 30", "eccentric_shaft.step": "face z 80"}


def table(name, **grip):
    made = open_example(EXAMPLES, "winch-shaft")
    made["part"] = {"number": "1", "material": "C45", "profile": name}
    made["grip"] = {"side": "outside", "seat": True, **grip}
    made["jaws"] = {"style": "pie", "material": "C45"}
    made["surface"] = []
    made["cut"] = [{"name": "end", "kind": "face", "surface": FREE_END[name], "depth": 0.5, "feed": 0.2, "speed": 100}]
    return {key: value for key, value in made.items() if key != "boring"}


@pytest.fixture
def folder(tmp_path):
    for name in ("bolt", "nut", "eccentric_shaft"):
        (tmp_path / f"{name}.step").write_bytes(step_of(getattr(wall_solids, name)()))
    return tmp_path


def test_gripping_on_a_hexagon_is_refused_wherever_the_setup_comes_from(folder):
    """The must-fail: in the section it is a cylinder like any other."""
    from_file = table("bolt.step", diameter=CORNERS, z=[61, 71])
    with pytest.raises(InputError, match=r"not round: hexagon, 36 mm across flats.* corners alone"):
        Setup.from_dict(from_file, folder)
    good = Setup.from_dict(table("bolt.step", diameter=20, z=[20, 50]), folder)
    written = good.to_dict()
    assert Setup.from_dict(written) == good
    for kept in (written, good.to_dict(as_corners=True), good.to_dict(as_corners=True, keep_files=True)):
        edited = put(kept, "part.profile.0.1", 0.0)  # corners typed by hand forget the drawing, not the hexagon
        edited["grip"] |= {"diameter": CORNERS, "z": [61, 71]}
        with pytest.raises(InputError, match="not round"):
            Setup.from_dict(edited)
    with pytest.raises(InputError, match="not round"):  # a grip that only reaches on to it
        Setup.from_dict(table("bolt.step", diameter=20, z=[50, 61]), folder)


def test_the_plan_keeps_clear_of_its_corners_cuts_knock_and_no_way_grips_it(folder):
    setup = Setup.from_dict(table("bolt.step", diameter=20, z=[20, 50]), folder)
    assert max(corner.diameter for corner in setup.part.profile) == pytest.approx(CORNERS)
    assert setup.part.holes is True
    found, none = places(prepare(setup))
    assert {round(one.diameter) for one in found} == {20}
    assert "no cylinder" in {one.reason for one in none}
    assert [round(diameter) for _, diameter, _ in grips(setup)] == [20]


def test_a_thin_wall_behind_a_hexagon_is_never_proven(folder):
    thin = Setup.from_dict(table("nut.step", diameter=60, z=[1, 7]), folder)
    assert THINNER in caveats_of(thin)  # 5.5 mm of wall stand as 8.7
    assert THINNER not in caveats_of(Setup.from_dict(table("bolt.step", diameter=20, z=[20, 50]), folder))


def test_an_eccentric_swings_in_the_plan(folder):
    setup = Setup.from_dict(table("eccentric_shaft.step", diameter=30, z=[5, 25]), folder)
    assert setup.part.off_centre == pytest.approx(2.884615 + OFF_CENTRE_MM["raw"], abs=1e-5)
    assert setup.source("part.off_centre") == "drawing"
    assert OFF_CENTRE_MM["raw"] == not_round.REST_OFF_MM

"""The elastic jaw: handbook limits, reciprocity, energy, and every style and side that can be made."""

from dataclasses import replace
from functools import cache
from math import asin, cos, inf, nan, pi, radians, sin, tan

import numpy as np
import pytest

from heldtrue.errors import GeometryError, SolverError
from heldtrue.mechanics.contact import JawFace
from heldtrue.mechanics.jaw_body import JawBody
from heldtrue.mechanics.jaw_shape import Bolt, BoringRing, JawBase, JawShape, solid_size
from heldtrue.mechanics.stations import Stations

BASE = JawBase(5e3, 2.5e3, 1e10)
STIFF = JawBase(1e7, 1e7, inf)
ALUMINIUM = (68_900.0, 0.33)


def standard(**changed):
    base = {
        "style": "standard", "side": "outside", "bore_radius": 50.0, "half_angle": asin(20 / 50), "width": 40.0,
        "length": 60.0, "height": 50.0, "seat_height": 30.0, "relief": 0.5,
    }  # fmt: skip
    return JawShape(**{**base, **changed})


@cache
def plain():
    """The standard jaw, meshed and solved once for all that only look at it."""
    return JawBody(standard(), *ALUMINIUM, BASE).under(face_of(standard()))


def face_of(shape, z=(2.0, 18.0), bands=4, sectors=6, open_=()):
    edges = tuple(float(v) for v in np.linspace(*z, bands + 1))
    return JawFace(Stations(shape.side, shape.bore_radius, edges, open_), shape.half_angle, sectors, 3)


SHAPES = {
    "standard outside": standard(),
    "standard inside": standard(side="inside", bore_radius=70.0, half_angle=asin(20 / 70)),
    "wide outside": standard(style="wide", half_angle=asin(40 / 50)),
    "wide inside": standard(style="wide", side="inside", bore_radius=70.0, half_angle=asin(40 / 70)),
    "pie outside": standard(style="pie", half_angle=radians(58)),
    "pie inside": standard(style="pie", side="inside", bore_radius=70.0, half_angle=radians(58.8)),
    "no relief": standard(relief=0.0),
    "bolted": standard(bolts=(Bolt(70.0, 13.0, 20.0, 12.0), Bolt(95.0, 13.0, 20.0, 12.0))),
    "small part": standard(bore_radius=8.0, half_angle=radians(50), ledge=3.0),
    "pointed outside": standard(half_angle=radians(55), width=90.0, point=pi / 3),
    "six pie": standard(style="pie", half_angle=radians(28)),
}


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES.keys())
def test_every_jaw_is_reciprocal_and_gives_way_under_any_pressure(shape):
    face = face_of(shape, bands=3)
    work = face.areas.ravel()[:, None] * JawBody(shape, *ALUMINIUM, BASE).compliance(face)
    assert work == pytest.approx(work.T, rel=1e-8, abs=1e-11 * np.abs(work).max())
    assert np.linalg.eigvalsh((work + work.T) / 2).min() > 0


def tall_jaw(height, length, width, base=STIFF):
    """A slender jaw loaded at its tip: deflection along x for 1 N spread over the last band."""
    radius = 400.0  # so large that bore and front are nearly flat
    shape = standard(
        bore_radius=radius, half_angle=asin(width / 2 / radius), width=width, length=length, height=height,
        seat_height=1.0, ledge=0.0, relief=0.0,
    )  # fmt: skip
    face = face_of(shape, z=(height - 11.0, height - 1.0), bands=1, sectors=2)
    compliance = JawBody(shape, 210_000.0, 0.3, base, order=3).compliance(face)
    pressure = np.full(face.areas.size, 1 / (face.areas * face.along).sum())
    return float((compliance @ pressure).mean())


def test_slender_jaw_bends_as_a_timoshenko_cantilever():
    """F L^3/(3 E I) + F L/(k G A), k = 10 (1 + nu)/(12 + 11 nu) (G. R. Cowper, J. Appl. Mech. 33, 1966, from memory).

    The load stands 5 mm below the tip.  3 %: the root is held over its whole face and the load spreads over a band.
    """
    height, length, width = 160.0, 20.0, 20.0
    arm = height - 5.0
    inertia, area, shear = width * length**3 / 12, width * length, 210_000.0 / 2.6
    cowper = 10 * 1.3 / (12 + 11 * 0.3)
    expected = arm**3 / (3 * 210_000.0 * inertia) + arm / (cowper * shear * area)
    assert tall_jaw(height, length, width) == pytest.approx(expected, rel=0.03)


def test_short_jaw_shears_as_much_as_it_bends():
    """A bending-only jaw would be wrong: on a stubby one shear is a third of the whole and more."""
    stubby = tall_jaw(60.0, 40.0, 30.0)
    bending = 55.0**3 / (3 * 210_000.0 * 30 * 40**3 / 12)
    assert stubby > 1.3 * bending


def test_master_jaw_that_leans_adds_height_squared_over_its_stiffness():
    shape = standard()
    face = face_of(shape)
    firm = JawBody(shape, *ALUMINIUM, replace(BASE, tilt=inf)).compliance(face)
    leaning = JawBody(shape, *ALUMINIUM, replace(BASE, tilt=1e9)).compliance(face)
    height = shape.seat_height + face.stations.middles
    lean = np.outer(height, face.along).ravel()
    assert leaning - firm == pytest.approx(np.outer(lean, lean * face.areas.ravel()) / 1e9, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("tilt", [5e8, 4e9, inf])
def test_another_tilt_is_the_jaw_on_that_master_without_solving_again(tilt):
    shape, ring = standard(), BoringRing((15.0, 25.0))
    face = face_of(shape)
    afresh = JawBody(shape, *ALUMINIUM, replace(BASE, tilt=tilt)).under(face).response(ring)
    jaw = plain().response(ring)
    assert jaw.compliance_with(tilt) == pytest.approx(afresh.compliance, rel=1e-9)
    assert jaw.under_ring(tilt) == pytest.approx(afresh.under_ring(), rel=1e-9)
    assert jaw.compliance == pytest.approx(jaw.compliance_with(BASE.tilt), rel=1e-12)
    assert jaw.under_ring() == pytest.approx(jaw.under_ring(BASE.tilt), rel=1e-12)


def test_answer_under_the_ring_is_the_callers_own():
    jaw = plain().response(BoringRing((15.0, 25.0)))
    first = jaw.under_ring()
    kept = first.copy()
    first[:] = 0.0
    assert jaw.under_ring() == pytest.approx(kept, rel=1e-12)
    assert plain().response(BoringRing((10.0, 20.0))).under_ring().mean() < 0.95 * kept.mean()


@pytest.mark.parametrize("tilt", [0.0, -1e9, nan])
def test_a_master_jaw_without_stiffness_is_refused(tilt):
    jaw = plain().response(BoringRing((15.0, 25.0)))
    with pytest.raises(GeometryError, match="tilt stiffness"):
        jaw.compliance_with(tilt)
    with pytest.raises(GeometryError, match="tilt stiffness"):
        jaw.under_ring(tilt)


def test_stiffer_material_and_base_give_way_less():
    shape = standard()
    face = face_of(shape)
    soft = np.trace(plain().response().compliance)
    assert np.trace(JawBody(shape, 210_000.0, 0.3, BASE).compliance(face)) < 0.7 * soft
    assert np.trace(JawBody(shape, *ALUMINIUM, JawBase(5e4, 2.5e4, 1e11)).compliance(face)) < soft


def test_finer_elements_change_the_answer_little():
    shape = standard()
    face = face_of(shape)
    even = np.ones(face.areas.size)
    coarse = plain().response().compliance @ even
    fine = JawBody(shape, *ALUMINIUM, BASE, order=3, fineness=1.5).compliance(face) @ even
    assert coarse == pytest.approx(fine, rel=0.02)


def test_ring_pushes_like_the_part_where_it_stands_like_the_part():
    """A ring on the gripped band itself bends the jaw as an even pressure there does, to the spread of a bump."""
    loaded = plain().response(BoringRing((32.0, 48.0)))
    face = loaded.face
    by_ring = loaded.under_ring()
    even = np.full(face.areas.size, 1 / (face.areas * face.along).sum())
    by_part = (loaded.compliance @ even).reshape(face.areas.shape)
    assert by_ring.mean() == pytest.approx(by_part.mean(), rel=0.15)


def test_deep_ring_bends_the_jaw_less_than_the_part_does():
    shape = standard(height=100.0, seat_height=60.0)
    face = face_of(shape, z=(2.0, 38.0))
    loaded = JawBody(shape, *ALUMINIUM, BASE).under(face)
    deep, near = (loaded.response(BoringRing(z)).under_ring().mean() for z in ((10.0, 20.0), (48.0, 58.0)))
    assert 0 < deep < near


@pytest.mark.parametrize("side", ["outside", "inside"])
def test_ring_pushes_the_way_the_part_will(side):
    shape = SHAPES[f"standard {side}"]
    assert (
        JawBody(shape, *ALUMINIUM, BASE).under(face_of(shape)).response(BoringRing((15.0, 25.0))).under_ring().min() > 0
    )


def test_a_groove_in_the_part_leaves_its_band_out():
    shape = standard()
    grooved = face_of(shape, open_=(1,))
    full = plain().response().compliance.reshape(4, 6, 4, 6)
    less = JawBody(shape, *ALUMINIUM, BASE).compliance(grooved).reshape(3, 6, 3, 6)
    kept = [0, 2, 3]
    assert less == pytest.approx(full[np.ix_(kept, range(6), kept, range(6))], rel=0.02, abs=0.02 * full.max())


def test_tip_of_a_jaw_strains_less_than_its_root():
    shape = standard(height=100.0, seat_height=60.0)
    face = face_of(shape, z=(20.0, 38.0))
    stress, (_, _, z) = JawBody(shape, *ALUMINIUM, BASE).under(face).response().largest_mises(np.ones(face.areas.shape))
    assert stress > 0
    assert z < 65.0


def segment(inner, outer, half):
    """Area of a ring segment and where its centre of mass stands. [mm2, mm]"""
    area = half * (outer**2 - inner**2)
    return area, 2 * sin(half) * (outer**3 - inner**3) / (3 * area)


def test_size_of_a_block_less_its_bore_is_that_of_block_and_circle_segment():
    """Width 40, bored R 50 over the upper 20 of 50 mm; the circle's piece from x = 45 by numbers."""
    y = (np.arange(20_000) + 0.5) / 1000
    cut = np.maximum(np.sqrt(50.0**2 - y**2) - 45.0, 0.0)
    bored, moment = 2 * cut.sum() / 1000, 2 * (cut * (45.0 + cut / 2)).sum() / 1000
    volume = 65 * 40 * 50 - bored * 20
    size = solid_size(standard(relief=0.0, half_angle=radians(20), ledge=5.0))
    assert size.volume == pytest.approx(volume, rel=1e-6)
    assert size.centroid_radius == pytest.approx((65 * 40 * 50 * 77.5 - moment * 20) / volume, rel=1e-6)


@pytest.mark.parametrize("side", ["outside", "inside"])
def test_size_of_a_pie_jaw_is_that_of_two_ring_segments(side):
    half = radians(58)
    shape = standard(style="pie", side=side, bore_radius=70.0, half_angle=half, relief=0.0)
    ends = ((70.0, 130.0), (65.0, 130.0)) if side == "outside" else ((10.0, 70.0), (10.0, 75.0))
    (gripping, high), (seat, low) = (segment(*pair, half) for pair in ends)
    volume = gripping * 20 + seat * 30
    size = solid_size(shape)
    assert size.volume == pytest.approx(volume, rel=1e-6)
    assert size.centroid_radius == pytest.approx((gripping * 20 * high + seat * 30 * low) / volume, rel=1e-6)


def test_bolt_holes_are_taken_out_of_the_size():
    bolt = Bolt(80.0, 13.0, 20.0, 12.0)
    whole, bolted = solid_size(standard()), solid_size(standard(bolts=(bolt,)))
    hole = pi / 4 * (13.0**2 * 38 + 20.0**2 * 12)
    assert whole.volume - bolted.volume == pytest.approx(hole, rel=1e-6)
    moment = whole.volume * whole.centroid_radius - bolted.volume * bolted.centroid_radius
    assert moment == pytest.approx(hole * 80.0, rel=1e-6)


def test_a_jaw_bored_away_or_cut_in_two_is_refused():
    with pytest.raises(GeometryError, match="in 2 pieces"):
        solid_size(standard(bolts=(Bolt(80.0, 50.0, 50.0, 10.0),)))


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"style": "round"}, "jaw style"),
        ({"side": "top"}, "side is"),
        ({"seat_height": 60.0}, "seat stands 60 mm"),
        ({"half_angle": pi}, "half angle"),
        ({"width": 0.0}, "above 0"),
    ],
)
def test_jaws_that_cannot_be_are_refused_in_words(changed, words):
    with pytest.raises(GeometryError, match=words):
        standard(**changed)


def test_grip_off_the_jaw_and_ring_off_the_jaw_are_refused():
    shape = standard()
    with pytest.raises(GeometryError, match="the part asks for 32 to 55 mm"):
        JawBody(shape, *ALUMINIUM, BASE).under(face_of(shape, z=(2.0, 25.0)))
    with pytest.raises(GeometryError, match="ring stands from 45 to 60"):
        plain().response(BoringRing((45.0, 60.0)))


def test_a_jaw_too_small_to_mesh_is_an_error_not_a_number():
    shape = standard(bore_radius=0.02, half_angle=radians(50), ledge=0.0)
    with pytest.raises((SolverError, GeometryError)):
        JawBody(shape, *ALUMINIUM, BASE).compliance(face_of(shape))


@pytest.mark.parametrize(
    "changed", [{"width": 90.0}, {"width": 90.0, "style": "wide", "ledge": 30.0}, {"ledge": 30.0, "width": 120.0}]
)
def test_a_pointed_jaw_weighs_what_its_outline_has(changed):
    """Against plane integration of the outline, half of it, with the bore above the seat taken out."""
    block = standard(half_angle=radians(55), relief=0.0, **changed)
    shape = replace(block, point=pi / 3)
    low, high = shape.radial_span
    half_nose = shape.bore_radius * sin(shape.half_angle)
    xs, ys = (np.linspace(a, b, 2401) for a, b in ((low, high), (0.0, max(shape.width / 2, half_nose))))
    x, y = np.meshgrid((xs[1:] + xs[:-1]) / 2, (ys[1:] + ys[:-1]) / 2)
    deep = shape.bore_radius * cos(shape.half_angle) + max(
        shape.nose, shape.bore_radius * (1 - cos(shape.half_angle)) + 10
    )
    reach = max(shape.width / 2, half_nose) if shape.style == "standard" else (
        np.where(x < deep, half_nose, min(shape.width / 2, half_nose)))  # fmt: skip
    there = (y < reach) & (y < half_nose + (x - shape.bore_radius * cos(shape.half_angle)) * tan(pi / 3))
    wall = there & (np.hypot(x, y) > shape.bore_radius)
    cell = (xs[1] - xs[0]) * (ys[1] - ys[0])
    volume = 2 * cell * (there.sum() * shape.seat_height + wall.sum() * (shape.height - shape.seat_height))
    assert solid_size(shape).volume == pytest.approx(volume, rel=1e-3)
    assert solid_size(shape).volume < solid_size(block).volume
    assert solid_size(shape).centroid_radius > solid_size(block).centroid_radius


@pytest.mark.parametrize("changed", [{"style": "pie"}, {"side": "inside"}, {"point": 2.0}])
def test_only_a_block_for_an_outside_grip_is_pointed(changed):
    with pytest.raises(GeometryError, match="pointed jaw"):
        standard(**{"point": pi / 3, **changed})

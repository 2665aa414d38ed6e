from math import cos, pi, radians

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heldtrue.errors import GeometryError
from heldtrue.mechanics import contact as contact_module
from heldtrue.mechanics.contact import RESIDUAL_LIMIT, Contact, JawFace, bore_gap, part_compliance, press
from heldtrue.mechanics.stations import Stations, graded_edges
from heldtrue.mechanics.turned_body import TurnedBody

RING = [(70, 0), (83, 0), (83, 24), (79, 24), (79, 32), (70, 32)]
STATIONS = Stations("inside", 70.0, tuple(np.linspace(2, 14, 5)))


@pytest.fixture(scope="module")
def response():
    return TurnedBody(RING, 110_000.0, 0.33).respond(STATIONS, 3, [(79.0, 28.0)])


WRAP = radians(57)


def face(half_angle=WRAP, sectors=12):
    return JawFace(STATIONS, half_angle, sectors, 3)


def test_no_pull_no_overlap_and_the_force_is_there(response):
    f = face()
    c = press(f, part_compliance(response, f), 10_000.0, bore_gap(f, 70.0, 69.9))
    assert (c.pressure >= 0).all()
    assert c.gap.min() >= -1e-9
    assert np.abs(c.pressure * c.gap).max() <= 1e-9 * c.peak_pressure
    assert (c.pressure * f.areas) @ f.along == pytest.approx(np.full(4, 1) * ((c.pressure * f.areas) @ f.along))
    assert float(((c.pressure * f.areas) @ f.along).sum()) == pytest.approx(10_000.0, rel=1e-9)
    assert c.residual < RESIDUAL_LIMIT


def test_jaw_bored_small_for_an_inside_grip_bears_in_the_middle_and_large_on_the_edges(response):
    """For an inside grip the jaws are turned: a smaller circle touches in its middle, a larger one on its edges."""
    f = face()
    compliance = part_compliance(response, f)
    middle = press(f, compliance, 500.0, bore_gap(f, 70.0, 69.5)).pressure.sum(axis=0)
    edges = press(f, compliance, 500.0, bore_gap(f, 70.0, 70.5)).pressure.sum(axis=0)
    assert middle.argmax() < 4
    assert middle[-1] == 0.0
    assert edges.argmax() == 11
    assert edges[0] == 0.0


def test_outside_grip_mirrors_it():
    ring = Stations("outside", 55.0, (0.0, 10.0, 20.0))
    f = JawFace(ring, radians(30), 8, 3)
    r = TurnedBody([(20, 0), (55, 0), (55, 20), (20, 20)], 210_000.0, 0.3).respond(ring, 3, [(20, 5)])
    compliance = part_compliance(r, f)
    large = press(f, compliance, 500.0, bore_gap(f, 55.0, 55.5)).pressure.sum(axis=0)
    small = press(f, compliance, 500.0, bore_gap(f, 55.0, 54.5)).pressure.sum(axis=0)
    assert large.argmax() == 0
    assert small.argmax() == 7


def test_gap_at_the_jaw_edge_is_that_of_two_circles():
    """(dD/2)(1 - cos a): 3 um at 20 degrees for 0.1 mm on diameter (geometry)."""
    f = JawFace(Stations("outside", 50.0, (0.0, 1.0)), radians(58), 58, 3)
    gap = bore_gap(f, 50.0, 50.05)
    for i in (20, 45, 57):
        assert gap[0, i] == pytest.approx(0.05 * (1 - cos(f.angles[i])), rel=2e-3)


def test_rigid_part_under_full_wrap_shares_the_load_by_the_cosine():
    """A uniform elastic layer under a rigid jaw moving along its middle: pressure goes with cos t."""
    f = face()
    layer = np.diag(np.full(f.areas.size, 1e-3))
    c = press(f, layer, 1000.0)
    assert c.pressure == pytest.approx(np.tile(f.along, (4, 1)) * c.pressure[0, 0] / f.along[0], rel=1e-9)


def test_compliance_is_symmetric_and_positive(response):
    f = face()
    work = f.areas.ravel()[:, None] * part_compliance(response, f)
    assert work == pytest.approx(work.T, rel=1e-9, abs=1e-12 * np.abs(work).max())
    assert np.linalg.eigvalsh((work + work.T) / 2).min() > 0


def test_pressure_harmonics_rebuild_the_pressure(response):
    f = face(half_angle=radians(20), sectors=4)
    orders = tuple(range(0, 3 * 400, 3))
    waves = f.pressure_harmonics(orders)
    t = np.array([f.angles[0], f.angles[2], radians(40.0), 2 * pi / 3 + f.angles[0]])
    rebuilt = np.cos(np.multiply.outer(t, orders)) @ waves
    assert rebuilt[0] == pytest.approx([1, 0, 0, 0], abs=0.02)
    assert rebuilt[1] == pytest.approx([0, 0, 1, 0], abs=0.02)
    assert rebuilt[2] == pytest.approx([0, 0, 0, 0], abs=0.02)
    assert rebuilt[3] == pytest.approx(rebuilt[0], abs=1e-9)


def test_more_cells_and_harmonics_change_the_part_little(response):
    """The shape of the part, which the plan reports, has settled even where the edge pressures have not."""
    body = TurnedBody(RING, 110_000.0, 0.33)

    def lobing(sectors, harmonics):
        r = body.respond(STATIONS, 3, [(79.0, 28.0)], harmonics=harmonics)
        f = face(radians(16), sectors)
        c = press(f, part_compliance(r, f), 10_000.0)
        return np.ptp(r.displacement(c.harmonics(r.orders), [0.0, pi / 3])[0, :, 0])

    assert lobing(8, 31) == pytest.approx(lobing(24, 80), rel=0.02)


@settings(max_examples=40, deadline=None)
@given(st.floats(-0.3, 0.3), st.floats(50.0, 50_000.0), st.sampled_from([radians(8), radians(30), radians(58)]))
def test_any_fit_and_force_settles_exactly(response, misfit, force, half_angle):
    f = face(half_angle, 10)
    c = press(f, part_compliance(response, f), force, bore_gap(f, 70.0, 70.0 + misfit))
    assert c.residual < 1e-9
    assert c.gap.min() > -1e-9


@settings(max_examples=20, deadline=None)
@given(st.floats(0.01, 100.0))
def test_pressure_grows_with_force_where_jaw_and_part_fit(response, factor):
    f = face()
    compliance = part_compliance(response, f)
    one, many = press(f, compliance, 1000.0), press(f, compliance, 1000.0 * factor)
    assert many.pressure == pytest.approx(one.pressure * factor, rel=1e-7, abs=1e-9 * factor)


def test_interior_point_agrees_with_the_active_set(response, monkeypatch):
    f = face()
    compliance, gap = part_compliance(response, f), bore_gap(f, 70.0, 70.1)
    first = press(f, compliance, 4000.0, gap)
    real = contact_module._active_set
    calls = []

    def refuses_first(*arguments):
        calls.append(1)
        return None if len(calls) == 1 else real(*arguments)

    monkeypatch.setattr(contact_module, "_active_set", refuses_first)
    second = press(f, compliance, 4000.0, gap)
    assert len(calls) == 2
    assert second.pressure == pytest.approx(first.pressure, rel=1e-9, abs=1e-9)


def test_wrong_forces_and_jaws_are_refused():
    f = face()
    with pytest.raises(ValueError, match="must be positive, got 0"):
        press(f, np.eye(f.areas.size), 0.0)
    with pytest.raises(GeometryError, match="overlap"):
        JawFace(STATIONS, radians(61), 4, 3)
    with pytest.raises(GeometryError, match="cannot grip"):
        bore_gap(f, 70.0, 10.0)


@pytest.mark.parametrize("misfit", [0.0, 0.03, -0.03])
def test_work_of_the_jaw_is_the_strain_energy_and_the_closing_of_the_gaps(response, misfit):
    """Energy balance: p . gap = 0 cell by cell, so force times advance = p'A C p + p'A g0."""
    f = face()
    compliance, gap = part_compliance(response, f), bore_gap(f, 70.0, 70.0 + misfit)
    c = press(f, compliance, 8000.0, gap)
    weighted = (f.areas * c.pressure).ravel()
    stored = weighted @ compliance @ c.pressure.ravel() + weighted @ gap.ravel()
    assert c.force * c.advance == pytest.approx(stored, rel=1e-9)


# Patches, and cells finer to the ends


def pressed(face, pressure):
    return Contact(face, np.asarray(pressure, float), np.zeros_like(pressure), 0.0, 1.0, 0.0)


def cylinder(*edges, open_=(), radius=50.0):
    return Stations("outside", radius, edges, open_)


def test_patch_in_the_corner_of_a_face_by_hand():
    """Cells 1 and 7 mm long, 1 and 3 mm round: a 4 x 4 patch holds 1 x 1 at 160, 3 x 1 at 32, 1 x 3 at 16, rest 0."""
    face = JawFace(cylinder(0.0, 1.0, 8.0, radius=3.0), 4.0 / 3, 2, 2)
    assert 3.0 * np.diff(face.bounds) == pytest.approx([3.0, 1.0])
    c = pressed(face, [[16.0, 160.0], [0.0, 32.0]])
    assert c.edge_pressure == pytest.approx((160 + 3 * 32 + 3 * 16) / 16, rel=1e-12)


def test_patch_over_the_middle_of_the_jaw_sees_both_halves():
    face = JawFace(cylinder(0.0, 8.0, radius=3.0), 4.0 / 3, 2, 2)
    assert pressed(face, [[10.0, 0.0]]).edge_pressure == pytest.approx(10.0, rel=1e-12)
    assert pressed(face, [[0.0, 10.0]]).edge_pressure == pytest.approx(10.0 / 4, rel=1e-12)


def test_patch_is_no_larger_than_the_face_and_leaves_grooves_out():
    small = JawFace(cylinder(0.0, 1.0, 2.0), 0.01, 2, 3)
    assert pressed(small, [[7.0, 7.0], [1.0, 1.0]]).edge_pressure == pytest.approx(4.0, rel=1e-12)
    grooved = JawFace(cylinder(0.0, 2.0, 5.0, 6.0, 12.0, open_=(1,)), 0.5, 1, 3)
    assert pressed(grooved, [[8.0], [16.0], [4.0]]).edge_pressure == pytest.approx(8.0, rel=1e-12)
    assert pressed(grooved, [[6.0], [16.0], [4.0]]).edge_pressure == pytest.approx((16 + 3 * 4) / 4, rel=1e-12)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6))
def test_no_patch_anywhere_carries_more(seed):
    rng = np.random.default_rng(seed)
    face = JawFace(cylinder(*np.cumsum(rng.uniform(0.5, 4.0, 5))), rng.uniform(0.03, 0.3), 4, 3)
    c = pressed(face, rng.uniform(0, 100, (4, 4)) ** 2)
    along, round_ = np.array(face.stations.edges), 50.0 * face.bounds
    round_ = np.concatenate([-round_[:0:-1], round_])
    cells = np.hstack([c.pressure[:, ::-1], c.pressure])

    def shares(edges, low, size):
        return np.clip(np.minimum(edges[1:], low + size) - np.maximum(edges[:-1], low), 0, None) / size

    sizes = [min(4.0, float(np.ptp(edges))) for edges in (along, round_)]
    tried = [
        [shares(e, low, size) for low in np.linspace(e[0], e[-1] - size, 60)]
        for e, size in zip((along, round_), sizes, strict=True)
    ]
    most = max(float(a @ cells @ b) for a in tried[0] for b in tried[1])
    assert most <= c.edge_pressure * (1 + 1e-9)
    assert most >= c.edge_pressure * 0.9


def test_bands_are_finer_to_the_ends():
    assert graded_edges(0, 16, 4) == pytest.approx((0, 2, 8, 14, 16))
    assert graded_edges(10, 19, 3) == pytest.approx((10, 12, 17, 19))
    assert graded_edges(2.54, 27.94, 1) == (2.54, 27.94)
    for low, high, bands in ((3.0, 3.0, 4), (3.0, 2.0, 4), (2.0, 3.0, 0)):
        with pytest.raises(GeometryError, match="no bands"):
            graded_edges(low, high, bands)


FLANGED = [(45, 0), (50, 0), (50, 20), (70, 20), (70, 26), (45, 26)]


def flanged_ring(edges, sectors):
    """Run-out of the flange's rim, patch and peak pressure, jaws rigid and 0.02 mm too large or small on radius."""
    stations = Stations("inside", 45.0, tuple(edges))
    body = TurnedBody(FLANGED, 110_000.0, 0.33)
    r = body.respond(stations, 3, [(70.0, 20.0), (70.0, 26.0)], stressed=False)
    f = face_on(stations, sectors)
    found = []
    for misfit in (0.02, -0.02):
        c = press(f, part_compliance(r, f), 5000.0, bore_gap(f, 45.0, 45.0 + misfit))
        u = r.displacement(c.harmonics(r.orders), np.linspace(0, pi / 3, 31))[:, :, 0]
        found.append((float(np.ptp(u, axis=1).max()), c.edge_pressure, c.peak_pressure))
    return np.array(found)


def face_on(stations, sectors):
    return JawFace(stations, 1.0, sectors, 3)


def test_form_and_patch_settle_on_graded_cells_and_the_peak_does_not():
    """Six bands and eight sectors: form within 1.5 %, patch within 3 % of cells three times as fine."""
    fine, used = flanged_ring(graded_edges(1, 19, 18), 24), flanged_ring(graded_edges(1, 19, 6), 8)
    even = flanged_ring(np.linspace(1, 19, 7), 8)
    assert used[:, 0] == pytest.approx(fine[:, 0], rel=0.015)
    assert used[:, 1] == pytest.approx(fine[:, 1], rel=0.03)
    assert (fine[:, 2] > 1.5 * used[:, 2]).all()
    assert even[0, 0] < 0.96 * fine[0, 0]

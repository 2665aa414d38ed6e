from math import pi, radians

import numpy as np
import pytest
from conftest import example

from heldtrue.mechanics.contact import JawFace, bore_gap, part_compliance, press
from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.sticking import press_sticking, sticking_compliance
from heldtrue.mechanics.turned_body import TurnedBody
from heldtrue.planning.fitting import friction_bracket
from heldtrue.planning.study import Study

RING = [(50, 0), (58, 0), (58, 20), (50, 20)]


def ring_in_jaws(half_angle, side="outside", sectors=8):
    radius = 58.0 if side == "outside" else 50.0
    stations = Stations(side, radius, (0.0, 5.0, 12.0, 20.0))
    response = TurnedBody(RING, 210_000.0, 0.3).respond(stations, 3, [(50.0, 10.0), (58.0, 10.0)], sheared=True)
    return response, JawFace(stations, half_angle, sectors, 3)


def stuck(half_angle, misfit=0.0, side="outside", force=5000.0):
    response, face = ring_in_jaws(half_angle, side)
    nothing = np.zeros((face.areas.size,) * 2)
    gap = bore_gap(face, face.stations.radius, face.stations.radius + misfit)
    return response, face, press_sticking(face, sticking_compliance(response, face), nothing, force, gap)


def pressures_only(response):
    m = len(response.stations.bands)
    from dataclasses import replace

    return replace(
        response, compliance=response.compliance[:, :m, :m], probes=response.probes[:, :m],
        stress=response.stress[:, :m], sheared=False,
    )  # fmt: skip


@pytest.mark.parametrize("side", ["outside", "inside"])
def test_pressure_and_traction_are_reciprocal(side):
    response, face = ring_in_jaws(radians(40), side)
    work = np.tile(face.areas.ravel(), 2)[:, None] * sticking_compliance(response, face)
    assert work == pytest.approx(work.T, rel=1e-8, abs=1e-11 * np.abs(work).max())
    assert np.linalg.eigvalsh((work + work.T) / 2).min() > 0


def test_pressure_part_is_the_frictionless_compliance():
    response, face = ring_in_jaws(radians(40))
    cells = face.areas.size
    frictionless = part_compliance(pressures_only(response), face)
    assert sticking_compliance(response, face)[:cells, :cells] == pytest.approx(frictionless, rel=1e-9, abs=1e-15)


@pytest.mark.parametrize("side", ["outside", "inside"])
@pytest.mark.parametrize("misfit", [0.0, 0.05, -0.05])
def test_nothing_pulls_nothing_overlaps_and_the_force_is_there(side, misfit):
    _, face, c = stuck(radians(40), misfit, side)
    push = 1.0 if side == "outside" else -1.0
    assert (c.pressure >= 0).all()
    assert c.gap.min() > -1e-9
    carried = c.pressure * face.along + push * c.shear * face.across
    assert float((carried * face.areas).sum()) == pytest.approx(5000.0, rel=1e-8)


def test_points_in_touch_follow_the_jaw_round_the_part():
    response, face, c = stuck(radians(40))
    cells = face.areas.size
    moved = sticking_compliance(response, face) @ np.concatenate([c.pressure.ravel(), c.shear.ravel()])
    carried = c.advance * np.tile(face.across, 3)
    touching = c.shear.ravel() != 0
    assert touching.any()
    assert moved[cells:][touching] == pytest.approx(carried[touching], abs=1e-9)


def test_a_wrapped_ring_bends_less_when_it_sticks():
    response, face, c = stuck(radians(50))
    free = press(face, part_compliance(pressures_only(response), face), 5000.0)
    angles = np.linspace(0, pi / 3, 31)
    sticking = np.ptp(response.displacement(c.harmonics(response.orders), angles)[0, :, 0])
    sliding = np.ptp(pressures_only(response).displacement(free.harmonics(response.orders), angles)[0, :, 0])
    assert sticking < 0.95 * sliding


def test_narrow_jaws_hardly_care():
    """Friction needs an arc to hold on to."""
    response, face, c = stuck(radians(4))
    free = press(face, part_compliance(pressures_only(response), face), 5000.0)
    angles = np.linspace(0, pi / 3, 31)
    sticking = np.ptp(response.displacement(c.harmonics(response.orders), angles)[0, :, 0])
    sliding = np.ptp(pressures_only(response).displacement(free.harmonics(response.orders), angles)[0, :, 0])
    assert sticking == pytest.approx(sliding, rel=0.15)


def test_response_without_tractions_is_refused():
    response, face = ring_in_jaws(radians(40))
    with pytest.raises(ValueError, match="tractions"):
        sticking_compliance(pressures_only(response), face)


def test_bracket_of_an_example_has_both_ends_and_the_checks_use_the_sliding_one():
    study = Study.of(example("wear-ring"))
    bracket = friction_bracket(study, 0.45)
    assert [b.surface for b in bracket] == ["seal land", "end face"]
    for one in bracket:
        assert one.sticking is not None
        assert one.sticking < one.sliding

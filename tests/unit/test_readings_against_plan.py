"""Readings beside the plan of their setup: which lobes the pressure explains, what would halve them, the tolerance."""

import numpy as np
import pytest

from heldtrue.errors import InputError
from heldtrue.inspection import rank_causes, read_indicator
from heldtrue.inspection.readings import trace
from heldtrue.planning.plan import plan
from heldtrue.shop.against_plan import against_plan, grip_middle, surface_of

ANGLE = 2 * np.pi * np.arange(36) / 36


def lobed(amplitude, state, order=3):
    value = amplitude * np.cos(order * ANGLE) + np.random.default_rng(2).normal(0, 1e-4, 36)
    return read_indicator(trace(ANGLE, np.round(value, 5), None, "outside", state))


def beside(setup, *results, tolerance=None):
    land = surface_of(setup, "seal land")
    return against_plan(setup, land, results, rank_causes(results), tolerance)


@pytest.fixture(scope="module")
def planned(wear_ring):
    return plan(wear_ring)


def test_a_free_part_is_compared_with_what_is_left_after_release(wear_ring, planned):
    made = beside(wear_ring, lobed(0.0048, "free"))
    (state, three), *_ = made.comparisons
    released = next(s for s in planned.surfaces if s.name == "seal land").lobes[0]
    assert (state, three.order, three.verdict) == ("free", 3, "explained")
    assert three.predicted == pytest.approx(released.amplitude)
    assert made.pressure_from == "advised"
    assert made.pressure == pytest.approx(planned.pressure.steps[-1].recommended)


def test_a_clamped_part_is_compared_with_what_clamping_does(wear_ring, planned):
    shape = next(s for s in planned.shapes if s.surface == "seal land")
    swing = float(np.ptp(shape.clamped))
    for state in ("clamped", "not said"):
        made = beside(wear_ring, lobed(0.0048, state))
        assert {one for one, _ in made.comparisons} == {"clamped"}
        # The first lobes carry nearly all of the swing that the plan shows.
        assert 2 * made.comparisons[0][1].predicted == pytest.approx(swing, rel=0.15)
        assert any("was round before" in words for words in made.words)
        assert any("nobody said" in words for words in made.words) is (state == "not said")
    both = beside(wear_ring, lobed(0.0048, "clamped"), lobed(0.0048, "free"))
    assert next(one for one, _ in both.comparisons) == "free"
    assert {one for one, _ in both.comparisons} == {"free", "clamped"}


@pytest.mark.parametrize(("amplitude", "verdict"), [
    (0.0120, "more than the pressure explains"), (0.0015, "less than the pressure explains"), (0.0050, "explained"),
])  # fmt: skip
def test_lobes_beyond_the_plan_s_range_are_named(wear_ring, amplitude, verdict):
    assert beside(wear_ring, lobed(amplitude, "free")).comparisons[0][1].verdict == verdict


def test_half_the_lobe_is_told_only_where_that_pressure_holds(wear_ring, planned):
    low = beside(wear_ring, lobed(0.0048, "free")).comparisons[0][1]
    assert low.halved_at is None
    high = wear_ring.with_({"run.pressure": 1.2})
    expected = beside(high, lobed(0.0048, "free")).comparisons[0][1].predicted
    assert expected > 1.5 * low.predicted
    made = beside(high, lobed(round(expected, 4), "free"))
    one = made.comparisons[0][1]
    assert made.pressure_from == "stated"
    assert one.verdict == "explained"
    assert planned.pressure.steps[-1].floor < one.halved_at < 1.2
    at_half = beside(wear_ring.with_({"run.pressure": one.halved_at}), lobed(0.0048, "free"))
    assert at_half.comparisons[0][1].predicted == pytest.approx(expected / 2, rel=5e-3)


def test_the_tolerance_of_the_drawing_is_shared_out_or_the_one_given(wear_ring):
    assert beside(wear_ring, lobed(0.0048, "free")).budget.tolerance == 0.03
    assert beside(wear_ring, lobed(0.0048, "free"), tolerance=0.01).budget.tolerance == 0.01


def test_the_surface_is_the_one_named_or_the_only_one_it_can_be(wear_ring, winch_shaft):
    assert surface_of(winch_shaft, None).name == "drum seat"  # the only one with a run-out tolerance
    assert surface_of(winch_shaft, "Thread End").name == "thread end"
    assert surface_of(wear_ring, None, "face").name == "end face"
    for setup, name, side, words in (
        (winch_shaft, "rim", None, "the setup has: drum seat"),
        (winch_shaft, "drum seat", "inside", "looks outside"),
        (winch_shaft, None, "face", "say which surface"),
    ):
        with pytest.raises(InputError, match=words):
            surface_of(setup, name, side)
    assert grip_middle(winch_shaft) == 23.0

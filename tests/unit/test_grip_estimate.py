"""The estimate of a chuck's grip: what plates, grease, age and readings say together, and what one reading cannot."""

from itertools import product
from math import exp

import numpy as np
import pytest
from conftest import longer

from heldtrue.tooling.grip_estimate import FRESH_DAYS, GAUGE_ERROR, GREASE, Plate, Reading, estimate_grip

SLOPE = 36e3
PLATE = Plate(SLOPE, (0.99, 1.01), "good")
UNKNOWN = PLATE._replace(grease=None)


def reading(share, pressure, days=0.0, threshold=0.05, factor=1.0):
    return Reading(pressure, factor * share * SLOPE * (pressure - threshold), days)


def least(found, pressure):
    """The least grip an estimate leaves at a pressure, threshold at its bad end."""
    share, (low, likely, high) = found.share[0], found.threshold
    if found.pivot is None:
        return share * PLATE.area[0] * found.slope * (pressure - high)
    return min(share * found.slope * (found.pivot - likely) / (found.pivot - t) * (pressure - t) for t in (low, high))


def most(found, pressure):
    share, (low, likely, high) = found.share[2], found.threshold
    if found.pivot is None:
        return share * PLATE.area[1] * found.slope * (pressure - low)
    return max(share * found.slope * (found.pivot - likely) / (found.pivot - t) * (pressure - t) for t in (low, high))


def test_three_pressures_may_show_that_more_is_lost_than_is_usual():
    rows = tuple(reading(0.9, pressure, threshold=0.3) for pressure in (0.6, 1.2, 2.4))
    found, two = estimate_grip(rows, PLATE), estimate_grip(rows[1:], PLATE)
    assert found.threshold[0] < 0.3 < found.threshold[2]
    assert two.threshold[2] <= PLATE.threshold[1], "two readings cannot tell it from a weaker chuck"
    for pressure in (0.5, 0.6, 0.8):
        assert least(found, pressure) <= 0.9 * SLOPE * (pressure - 0.3)


# One reading


@pytest.mark.parametrize("share", [0.65, 0.8, 0.95, 1.2, 1.43, 3.0])
@pytest.mark.parametrize("plate", [PLATE, UNKNOWN])
def test_one_reading_never_promises_more_than_the_plate_and_grease_alone(share, plate):
    for pressure in (1.0, 2.0, 3.0):
        found = estimate_grip((reading(share, pressure),), plate)
        alone = estimate_grip((), plate)
        assert least(found, 2.0) <= least(alone, 2.0) * (1 + 1e-9)
        assert found.asks
        assert not found.measured


def test_one_low_reading_counts_at_once():
    found = estimate_grip((reading(0.4, 2.0),), PLATE)
    assert found.share[0] < 0.4
    assert found.share[2] == pytest.approx(1.0), "what spoils the part is still taken at the plate"


def test_a_reading_over_the_plate_says_nothing_and_is_named():
    found = estimate_grip((reading(1.43, 2.0),), PLATE)
    assert found.share == estimate_grip((), PLATE).share
    assert found.doubtful == (0,)


# Two and more


def test_two_that_agree_narrow_it():
    found = estimate_grip((reading(0.9, 2.0), reading(0.9, 3.0)), UNKNOWN)
    assert found.measured
    assert 0.8 < found.share[0] < 0.9 < found.share[2] < 1.0


def test_two_that_differ_are_taken_at_the_lower_and_asked_about():
    found = estimate_grip((reading(0.7, 2.0), reading(0.7, 3.0, factor=1.4)), PLATE)
    assert found.share[0] < 0.7
    assert found.asks
    assert not found.measured


def test_one_wrong_among_four_is_named_and_moves_nothing():
    good = tuple(reading(0.8, p) for p in (1.0, 2.0, 3.0))
    found = estimate_grip((*good, reading(0.8, 2.5, factor=1.5)), PLATE)
    assert found.doubtful == (3,)
    assert found.share[1] == pytest.approx(estimate_grip(good, PLATE).share[1], rel=0.02)


@pytest.mark.parametrize("days", [0.0, 30.0, 400.0])
@pytest.mark.parametrize("low", [0.3, 0.5, 0.7, 0.8, 0.9])
def test_many_older_readings_do_not_outvote_the_one_that_shows_less(low, days):
    """Six good ones of years ago said nothing about a chuck that was worn since; it was counted on at 16 % more."""
    others = [reading(0.95, p, days) for p in (1.4, 2.0, 2.4, 1.41, 2.01, 2.41)]
    seen = reading(0.95 * low, 2.2)
    for plate in (PLATE, UNKNOWN):
        found = estimate_grip((*others, seen), plate)
        assert least(found, seen.pressure) <= seen.force * (1 + GAUGE_ERROR)


def test_more_readings_of_scattered_pairs_are_no_worse_than_the_first_two():
    """Near pressures: a slope between neighbours says nothing, and must not be what widens the range."""
    psi = 0.00689476
    rows = [(200, 29e3), (400, 60e3), (290, 45e3), (300, 46e3)]
    two, four = (estimate_grip(tuple(Reading(p * psi, f, 0.0) for p, f in rows[:n]), PLATE) for n in (2, 4))
    widths = [(e.share[2] - e.share[0]) / e.share[1] for e in (two, four)]
    assert widths[1] <= widths[0]


def test_a_pressure_read_twice_by_two_scales_is_one_pressure():
    rows = [Reading(1.0, 24e3, 0), Reading(2.0, 52e3, 0), Reading(1.9995, 51.5e3, 0), Reading(3.0, 80e3, 0)]
    found = estimate_grip(tuple(rows), Plate(28e3, (0.95, 1.1), "good"))
    assert found.doubtful == ()
    assert found.grip(2.0) == pytest.approx(52e3, rel=0.03)


@pytest.mark.parametrize("again", [1.0, 1.001])
def test_one_reading_written_down_twice_is_one(again):
    """In the log and in the setup file: a wrong one must not agree with itself."""
    wrong = reading(0.65, 2.0, factor=1.4)
    twice = (wrong, Reading(wrong.pressure, again * wrong.force, 0.0))
    assert estimate_grip(twice, UNKNOWN) == estimate_grip((wrong,), UNKNOWN)


# Age and grease


def test_worn_grease_takes_from_a_reading_what_it_takes_from_any_chuck():
    rows = tuple(reading(0.95, p, days=20.0) for p in (2.0, 3.0))
    good, poor = (estimate_grip(rows, PLATE._replace(grease=g)) for g in ("good", "poor"))
    assert good.measured
    assert not poor.measured
    assert poor.share[0] == pytest.approx(good.share[0] * GREASE["poor"][0] / GREASE["good"][0], rel=1e-6)


@pytest.mark.parametrize("days", [FRESH_DAYS + 1, None])
def test_an_old_reading_says_how_bad_the_chuck_is_not_how_good(days):
    good = estimate_grip((reading(1.0, 2.0, days), reading(1.0, 3.0, days)), PLATE)
    assert good.share[0] <= GREASE["good"][0]
    assert not good.measured
    weak = estimate_grip((reading(0.5, 2.0, days), reading(0.5, 3.0, days)), PLATE)
    assert weak.share[0] < 0.5


def test_age_never_promises_more():
    for share in np.linspace(0.3, 1.0, 15):
        ends = [estimate_grip((reading(share, 2.0, d), reading(share, 3.0, d)), UNKNOWN).share[0] for d in (0, 9, 99)]
        assert ends[0] >= ends[1] * (1 - 1e-9)
        assert ends[1] >= ends[2] * (1 - 1e-9)


# In simulation; the draws are written apart from the estimate


def drawn(rng, count, wrong=1.0):
    """A chuck, its true share and threshold, and what a gauge reads of it; one reading ``wrong`` times too high."""
    share, threshold = rng.uniform(0.6, 1.0), rng.uniform(0.0, 0.1)
    gauge = exp(rng.normal(0.0, 0.025))
    pressures = rng.choice([0.8, 1.2, 1.6, 2.0, 2.4, 2.8], count, replace=False)
    forces = [share * SLOPE * (p - threshold) * gauge * exp(rng.normal(0.0, 0.025)) for p in pressures]
    forces[0] *= wrong
    rows = tuple(Reading(float(p), float(f), 0.0) for p, f in zip(pressures, forces, strict=True))
    return share, threshold, rows


WRONG = [(1, 1.1), (2, 1.4), (3, 1.2)]


@pytest.mark.parametrize(
    ("count", "wrong"), [*WRONG, *longer(*(one for one in product((1, 2, 3, 5), (1.1, 1.2, 1.4)) if one not in WRONG))]
)
def test_no_chuck_with_one_reading_too_high_is_promised_more_than_it_gives(count, wrong):
    """What is promised above the truth is never more than the error of the gauge itself, taken at its own 99 %."""
    rng = np.random.default_rng(round(100 * wrong) + count)
    over = []
    for _ in range(60):
        share, threshold, rows = drawn(rng, count, wrong)
        found = estimate_grip(rows, UNKNOWN)
        over.append(max(least(found, p) / (share * SLOPE * (p - threshold)) for p in (0.8, 1.6, 2.8)))
    assert max(over) < 1.06
    assert np.mean(np.array(over) > 1.0) <= 0.06


@pytest.mark.parametrize("count", [2, *longer(3, 5)])
def test_the_ends_cover_what_they_promise(count):
    rng = np.random.default_rng(count)
    inside = []
    for _ in range(150):
        share, threshold, rows = drawn(rng, count)
        found = estimate_grip(rows, UNKNOWN)
        truth = share * SLOPE * (1.6 - threshold)
        inside.append(least(found, 1.6) <= truth <= most(found, 1.6))
    assert np.mean(inside) >= 0.93


# A gauge with an error of its own


def test_a_coarser_gauge_never_promises_more():
    lows = []
    for error in (0.01, None, 0.08, 0.15, 0.3):
        rows = tuple(reading(0.85, p)._replace(error=error) for p in (1.0, 2.0, 3.0))
        lows.append(least(estimate_grip(rows, PLATE), 2.0))
    assert lows == sorted(lows, reverse=True)
    assert lows[0] > 1.05 * lows[-1]


def test_an_error_that_is_that_of_a_usual_gauge_changes_nothing():
    rows = tuple(reading(0.85, p) for p in (1.0, 2.0, 3.0))
    stated = tuple(one._replace(error=GAUGE_ERROR) for one in rows)
    assert estimate_grip(stated, PLATE) == estimate_grip(rows, PLATE)


@pytest.mark.parametrize(("error", "tried"), [(0.04, 100), *longer((0.04, 300), (0.02, 300), (0.12, 300))])
def test_the_ends_hold_with_the_error_that_is_stated(error, tried):
    rng, safe = np.random.default_rng(8), 0
    for _ in range(tried):
        share, threshold = rng.uniform(0.6, 1.0), rng.uniform(0.0, 0.1)
        off = exp(rng.normal(0, error / 2))
        rows = tuple(
            Reading(p, share * SLOPE * (p - threshold) * off * exp(rng.normal(0, 0.025)), 0.0, error)
            for p in (1.0, 1.8, 2.6)
        )
        safe += least(estimate_grip(rows, PLATE), 2.0) <= share * SLOPE * (2.0 - threshold)
    assert safe >= 0.97 * tried

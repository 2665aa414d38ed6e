"""What readings teach about stiffness and grip, and what a contradiction does."""

from math import exp, log, sqrt

import numpy as np
import pytest
from scipy import integrate

from heldtrue.errors import InputError
from heldtrue.inspection.learning import Accepted, Prior, learn, stiffness_reading

PRIOR = Prior(2500.0, 3.0)


def test_without_readings_the_prior_stands():
    found = learn("jaw base", PRIOR)
    assert (found.low, found.median, found.high) == pytest.approx((2500 / 3, 2500, 7500))
    assert (found.count, found.source) == (0, "assumed")


def test_the_estimate_is_that_of_integrating_prior_times_likelihood():
    readings = [Accepted(3000.0, 0.2), Accepted(3600.0, 0.1), Accepted(3300.0, 0.3)]

    def weight(u):
        total = -0.5 * ((u - log(2500.0)) / (log(3.0) / 1.959964)) ** 2
        for r in readings:
            total -= 0.5 * ((u - log(r.value)) / sqrt(log(1 + r.relative**2))) ** 2
        return exp(total)

    area = integrate.quad(weight, 6, 10)[0]
    mean = integrate.quad(lambda u: exp(u) * weight(u), 6, 10)[0] / area
    found = learn("jaw base", PRIOR, readings)
    assert found.mean == pytest.approx(mean, rel=1e-5)
    assert integrate.quad(weight, log(found.low), log(found.high))[0] / area == pytest.approx(0.95, abs=1e-5)
    assert found.source == "measured (3 readings)"


def test_intervals_cover():
    rng, hit, flagged = np.random.default_rng(1), 0, 0
    width = log(3.0) / 1.959964
    for _ in range(2000):
        true = 2500 * exp(rng.normal(0, width))
        readings = [Accepted(true * exp(rng.normal(0, sqrt(log(1 + 0.15**2)))), 0.15) for _ in range(4)]
        found = learn("jaw base", PRIOR, readings)
        hit += found.low <= true <= found.high
        flagged += bool(found.flagged)
    assert 0.93 <= hit / 2000 <= 0.97
    assert flagged / 2000 < 0.03


@pytest.mark.parametrize("place", range(4))
def test_a_reading_that_contradicts_is_kept_and_flagged_wherever_it_comes(place):
    good = [Accepted(3000.0, 0.1), Accepted(3100.0, 0.1), Accepted(2950.0, 0.1)]
    readings = [*good[:place], Accepted(900.0, 0.1, "feeler, jaw 2"), *good[place:]]
    found = learn("jaw base", PRIOR, readings)
    assert [f.index for f in found.flagged] == [place]
    assert found.median == pytest.approx(learn("jaw base", PRIOR, good).median)
    assert found.low <= 900.0
    assert (found.count, found.source) == (3, "measured (3 readings)")
    assert "feeler, jaw 2" in found.flagged[0].words
    assert "1" in found.words


def test_readings_that_all_disagree_say_so():
    found = learn("jaw base", PRIOR, [Accepted(300.0, 0.02), Accepted(3000.0, 0.02), Accepted(30000.0, 0.02)])
    assert "do not agree" in found.words
    assert (found.low, found.high) == (pytest.approx(300.0, rel=0.1), pytest.approx(30000.0, rel=0.1))


def test_stiffness_from_an_opening():
    found = stiffness_reading(0.06, 0.005, elastic=0.02, base=0.05, stiffness=2500.0)
    assert found.value == pytest.approx(2500 * 0.05 / 0.04)
    assert found.relative == pytest.approx(0.005 / 0.04)
    with pytest.raises(InputError, match="nothing is left"):
        stiffness_reading(0.02, 0.005, elastic=0.02, base=0.05, stiffness=2500.0)


@pytest.mark.parametrize(("prior", "readings", "words"), [
    (Prior(0.0, 2.0), [], "median above 0"), (Prior(1.0, 1.0), [], "factor above 1"),
    (PRIOR, [Accepted(-1.0, 0.1)], "reading 1: found -1"), (PRIOR, [Accepted(1.0, 0.0)], "relative uncertainty 0"),
])  # fmt: skip
def test_what_cannot_be_is_refused(prior, readings, words):
    with pytest.raises(InputError, match=words):
        learn("jaw base", prior, readings)

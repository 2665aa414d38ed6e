"""Individuals and moving range chart, run rules, capability.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals chart) and 6.1.6 (capability); the four
rules of the Western Electric handbook.  The factors are those for ranges of two values.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import special

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import UPPER, Array, Estimate, student

Places: TypeAlias = NDArray[np.int64]

D2 = 1.128
"""Mean range of two values over their standard deviation (NIST/SEMATECH 6.3.2.2)."""
D4 = 3.267
"""Upper limit of a range of two over its mean (NIST/SEMATECH 6.3.2.1)."""
RULES = (
    "one value beyond 3 sigma",
    "2 of 3 beyond 2 sigma on one side",
    "4 of 5 beyond 1 sigma on one side",
    "8 in a row on one side",
)
"""The Western Electric rules."""


BY_CHANCE = ((10.0, 0.07), (20.0, 0.18), (30.0, 0.29), (50.0, 0.51), (100.0, 0.82), (200.0, 0.96), (400.0, 1.0))
"""(Values, share of sound series in which one of the rules or the range limit is met all the same): 1,500 drawn each,
``tests/unit/test_drift.py`` draws others."""


def by_chance(count: int) -> float:
    """Share of sound series of so many values that are called out of control."""
    counts, shares = np.array(BY_CHANCE).T
    return float(np.interp(count, counts, shares))


@dataclass(frozen=True)
class Signal:
    """One run rule, and the ``places`` (from 0, in the series) at which it is met: the last value of each pattern."""

    rule: str
    places: Places


@dataclass(frozen=True)
class Chart:
    """Centre line and limits of individuals and moving ranges; ``sigma``: from the mean range; ``signals`` that are
    met.
    """

    centre: float
    sigma: float
    upper: float
    lower: float
    mean_range: float
    range_upper: float
    range_places: Places
    signals: tuple[Signal, ...]

    @property
    def in_control(self) -> bool:
        """No rule is met and no range is over its limit."""
        return not self.signals and self.range_places.size == 0


@dataclass(frozen=True)
class Capability:
    """``cp``: None with one limit only; ``cpk``; both with their 95 % intervals; ``sigma``: of all values."""

    cp: Estimate | None
    cpk: Estimate
    sigma: float


def individuals(values: Array, first: int = 0) -> Chart:
    """The chart of values in order; ``first``: place of the first one in the whole series.

    Limits: mean +/- 3 mean range / 1.128; range limit 3.267 mean range.
    Raises: ``InputError`` for fewer than two values.
    """
    if values.size < 2:
        raise InputError(f"a chart needs at least 2 values in a row, not {values.size}")
    ranges = np.abs(np.diff(values))
    centre, mean_range = float(values.mean()), float(ranges.mean())
    sigma = mean_range / D2
    over = np.flatnonzero(ranges > D4 * mean_range) + 1 + first
    return Chart(
        centre, sigma, centre + 3 * sigma, centre - 3 * sigma, mean_range, D4 * mean_range, over,
        run_rules(values, centre, sigma, first),
    )  # fmt: skip


DUST = 1e-12
"""A scatter below this share of a value is rounding, no scatter."""


def run_rules(values: Array, centre: float, sigma: float, first: int = 0) -> tuple[Signal, ...]:
    """The Western Electric rules on values about ``centre`` with ``sigma``; those that are met.

    None where all values are one, but for the dust of binary numbers: there is no scatter to compare with.
    """
    if sigma <= DUST * max(abs(centre), float(np.abs(values).max(initial=0.0))):
        return ()
    off = values - centre
    met = [
        np.abs(off) > 3 * sigma,
        np.zeros(values.size, bool),
        np.zeros(values.size, bool),
        np.zeros(values.size, bool),
    ]
    for side in (1.0, -1.0):
        out = side * off
        # The value that completes the pattern must itself be part of it, else one pattern would be counted twice.
        met[1] |= _at_least(out > 2 * sigma, 2, 3)
        met[2] |= _at_least(out > sigma, 4, 5)
        met[3] |= _at_least(out > 0.0, 8, 8)
    return tuple(
        Signal(rule, np.flatnonzero(places) + first) for rule, places in zip(RULES, met, strict=True) if places.any()
    )


def _at_least(true: NDArray[np.bool_], least: int, of: int) -> NDArray[np.bool_]:
    """Where a value is true and so are ``least`` of the last ``of``, itself counted."""
    count = true.astype(np.int8)
    for back in range(1, of):
        count[back:] += true[:-back]
    return true & (count >= least)


def capability(values: Array, lower: float | None, upper: float | None) -> Capability:
    """Cp = (U - L) / 6 s and Cpk = min(U - mean, mean - L) / 3 s, s of all values.

    Intervals: Cp by chi-square, exact for normal values; Cpk +/- z sqrt(1 / 9 n + Cpk^2 / 2 (n - 1)).
    Source: NIST/SEMATECH e-Handbook 6.1.6; the interval of Cpk after Bissell (1990), as in Montgomery, Introduction to
    Statistical Quality Control (from memory).
    Raises: ``InputError`` with no limit, fewer than two values, or values all alike.
    """
    if lower is None and upper is None:
        raise InputError("capability needs at least one limit")
    if values.size < 2:
        raise InputError(f"capability needs at least 2 values, not {values.size}")
    return capability_of(float(values.mean()), float(values.std(ddof=1)), values.size, lower, upper)


def capability_of(mean: float, sigma: float, count: int, lower: float | None, upper: float | None) -> Capability:
    """The same from ``mean`` and standard deviation ``sigma`` of ``count`` values."""
    if not sigma > 0.0:
        raise InputError("capability needs values that differ; these are all alike: read them finer")
    free = count - 1
    cp = None
    if lower is not None and upper is not None:
        ratio = (upper - lower) / (6 * sigma)
        low, high = (ratio * sqrt(float(special.chdtri(free, share)) / free) for share in (UPPER, 1 - UPPER))
        cp = Estimate(ratio, ratio / sqrt(2 * free), low, high)
    cpk = min(inf if upper is None else upper - mean, inf if lower is None else mean - lower) / (3 * sigma)
    sd = sqrt(1 / (9 * count) + cpk**2 / (2 * free))
    half = student(inf) * sd
    return Capability(cp, Estimate(cpk, sd, cpk - half, cpk + half), sigma)

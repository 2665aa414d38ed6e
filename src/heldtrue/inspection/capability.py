"""Capability of the parts as they came, by ISO 22514's names: Pp and Ppk, since the deviation of all parts is used.

Run-out and other form errors end at zero and lean to one side: a normal curve promises too much of them.  They are
what is left of two deviations at right angles, each normal about an offset: a Rice distribution, Rayleigh's where there
is no offset.  Then Ppk = (U - x50%) / (x99.865% - x50%), the quantile way of ISO 22514-2 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np
from scipy import special

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import UPPER, Array, Estimate, student

AT_ZERO = 4.0
"""Sizes with an upper limit alone, none below zero, and a mean within this many deviations of it end at zero; our own
judgement, no source."""
OFFSETS = np.linspace(0.0, 6.0, 61)
"""Offsets over the deviation that are weighed; beyond, the curve is normal."""
SIGMAS = np.geomspace(0.4, 2.5, 81)
"""Deviations that are weighed, over that of the root mean square."""
PRIOR = 0.5
"""Odds of an offset fall by this power of e for each deviation of it: flat odds promised too much where there is none
(``tests/unit/test_drift.py``); our own judgement, no source."""
CURVE, MOST_LOOKED_AT = 400, 2000
FAR_OUT = 0.99865
"""Share of a normal curve below three deviations."""


@dataclass(frozen=True)
class Capability:
    """``pp``: None with one limit only; ``ppk``; both with their 95 % intervals; ``sigma``: of all values.

    ``one_sided``: reckoned as a size that ends at zero.
    """

    pp: Estimate | None
    ppk: Estimate
    sigma: float
    one_sided: bool = False


def capability(values: Array, lower: float | None, upper: float | None) -> Capability:
    """Pp = (U - L) / 6 s and Ppk = min(U - mean, mean - L) / 3 s, s of all values; or the one-sided form of it.

    Intervals: Pp by chi-square, exact for normal values; Ppk +/- z sqrt(1 / 9 n + Ppk^2 / 2 (n - 1)); one-sided by
    Bayes on a grid of offset and deviation.
    Source: NIST/SEMATECH e-Handbook 6.1.6; the interval of Ppk after Bissell (1990), as in Montgomery, Introduction to
    Statistical Quality Control (from memory).
    Raises: ``InputError`` with no limit, fewer than two values, or values all alike.
    """
    if lower is None and upper is None:
        raise InputError("capability needs at least one limit")
    if values.size < 2:
        raise InputError(f"capability needs at least 2 values, not {values.size}")
    mean, sigma = float(values.mean()), float(values.std(ddof=1))
    ends_at_zero = lower is None or lower == 0.0
    if upper is not None and ends_at_zero and sigma > 0.0 and values.min() >= 0.0 and mean <= AT_ZERO * sigma:
        return Capability(None, _one_sided(values, upper), sigma, one_sided=True)
    return capability_of(mean, sigma, values.size, lower, upper)


def capability_of(mean: float, sigma: float, count: int, lower: float | None, upper: float | None) -> Capability:
    """The two-sided form from ``mean`` and standard deviation ``sigma`` of ``count`` values."""
    if not sigma > 0.0:
        raise InputError("capability needs values that differ; these are all alike: read them finer")
    free = count - 1
    pp = None
    if lower is not None and upper is not None:
        ratio = (upper - lower) / (6 * sigma)
        low, high = (ratio * sqrt(float(special.chdtri(free, share)) / free) for share in (UPPER, 1 - UPPER))
        pp = Estimate(ratio, ratio / sqrt(2 * free), low, high)
    ppk = min(inf if upper is None else upper - mean, inf if lower is None else mean - lower) / (3 * sigma)
    sd = sqrt(1 / (9 * count) + ppk**2 / (2 * free))
    half = student(inf) * sd
    return Capability(pp, Estimate(ppk, sd, ppk - half, ppk + half), sigma)


def _one_sided(values: Array, upper: float) -> Estimate:
    """Ppk of a size that ends at zero, weighed over offset and deviation."""
    offset, sigma = np.meshgrid(OFFSETS, SIGMAS, indexing="ij")
    mean_square = float(np.mean(values**2))
    sigma = sigma * np.sqrt(mean_square / (2.0 + offset**2))
    # ln of the Rice density summed over the values, but for what is the same everywhere.  The sum of ln I0 is a smooth
    # curve of offset / sigma alone; of very many values every few are enough for it.
    slopes = offset / sigma
    at = np.linspace(0.0, float(slopes.max()), CURVE)
    some = np.sort(values)[:: max(1, values.size // MOST_LOOKED_AT)]
    bessel = values.size * np.mean(np.log(special.i0e(some[:, None] * at)) + some[:, None] * at, axis=0)
    logs = np.interp(slopes, at, bessel) - values.size * (
        2 * np.log(sigma) + 0.5 * (mean_square / sigma**2 + offset**2)
    )
    logs -= PRIOR * offset
    weights = np.exp(logs - logs.max()).ravel()
    weights /= weights.sum()
    middle, far = (np.sqrt(special.chndtrix(share, 2.0, OFFSETS**2)) for share in (0.5, FAR_OUT))
    ppk = ((upper - middle[:, None] * sigma) / ((far - middle)[:, None] * sigma)).ravel()
    order = np.argsort(ppk)
    low, value, high = np.interp([1 - UPPER, 0.5, UPPER], np.cumsum(weights[order]), ppk[order])
    return Estimate(float(value), float(np.sqrt(weights @ (ppk - weights @ ppk) ** 2)), float(low), float(high))

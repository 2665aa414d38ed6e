"""A figure with its interval, and the straight line: the statistics that the other modules share.

Intervals are 95 % throughout, two-sided.  Units are those of the values that go in.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite, pi, sqrt
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from heldtrue.errors import InputError

Array: TypeAlias = NDArray[np.float64]

COVERS = 0.95
"""Share of true values that an interval takes in."""
UPPER = 0.5 + COVERS / 2


@dataclass(frozen=True)
class Estimate:
    """``value``, its standard ``uncertainty``, and the 95 % interval ``low`` to ``high``."""

    value: float
    uncertainty: float
    low: float
    high: float

    def scaled(self, factor: float) -> Estimate:
        """The same times ``factor``, of either sign."""
        low, high = sorted((self.low * factor, self.high * factor))
        return Estimate(self.value * factor, self.uncertainty * abs(factor), low, high)


def student(freedom: float) -> float:
    """Half-width of the 95 % interval in standard uncertainties: Student's t with ``freedom``, normal if infinite."""
    return float(special.ndtri(UPPER) if freedom == inf else special.stdtrit(freedom, UPPER))


def about(value: float, uncertainty: float, freedom: float = inf) -> Estimate:
    """The value with its interval by Student's t."""
    half = student(freedom) * uncertainty
    return Estimate(float(value), float(uncertainty), float(value - half), float(value + half))


def amplitude(value: float, uncertainty: float, freedom: float) -> Estimate:
    """An amplitude hypot(a, b) >= 0 whose a and b each have this uncertainty.

    Near zero an amplitude is read too large: (a^2 + b^2) / 2 s^2 is a noncentral F with 2 and ``freedom`` degrees and
    noncentrality (amplitude / s)^2, which is inverted for the two ends.  Far from zero that is Student's t.
    Source: noncentral F, any textbook; the inversion is derived here.
    """
    if uncertainty <= 0.0 or value > 6.0 * uncertainty:
        found = about(value, uncertainty, freedom)
        return Estimate(found.value, found.uncertainty, max(found.low, 0.0), found.high)
    seen, degrees = 0.5 * (value / uncertainty) ** 2, min(freedom, 1e6)
    ends = [_noncentrality(seen, degrees, share) for share in (UPPER, 1.0 - UPPER)]
    low, high = (sqrt(end) * uncertainty for end in ends)
    return Estimate(float(value), float(uncertainty), low, high)


def _noncentrality(seen: float, freedom: float, share: float) -> float:
    """Noncentrality at which an F of 2 and ``freedom`` degrees lies below ``seen`` with probability ``share``."""
    if special.fdtr(2.0, freedom, seen) <= share:
        return 0.0
    low, high = 0.0, 1.0
    while special.ncfdtr(2.0, freedom, high, seen) > share:
        low, high = high, 2.0 * high
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if special.ncfdtr(2.0, freedom, middle, seen) > share else (low, middle)
    return 0.5 * (low + high)


def direction(angle: float, across: float, size: float, freedom: float) -> Estimate:
    """The direction [rad] of a vector of ``size`` whose uncertainty square to it is ``across``.

    The true direction is where the component square to it could be zero: half-width asin(t across / size); a vector
    no longer than that points anywhere, half-width pi.
    """
    reach = student(freedom) * across / size if size > 0.0 else inf
    half = float(np.arcsin(reach)) if reach < 1.0 else pi
    sd = across / size if size > 0.0 and reach < 1.0 else pi / sqrt(3.0)
    return Estimate(float(angle), float(sd), float(angle - half), float(angle + half))


@dataclass(frozen=True)
class Line:
    """y = intercept + slope x by least squares; ``scatter``: residual standard deviation with ``freedom`` degrees."""

    intercept: Estimate
    slope: Estimate
    scatter: float
    freedom: int
    mean_x: float
    spread_x: float
    count: int

    def at(self, x: float) -> Estimate:
        """The line itself at ``x``, not a single value."""
        sd = self.scatter * sqrt(1.0 / self.count + (x - self.mean_x) ** 2 / self.spread_x)
        return about(self.intercept.value + self.slope.value * x, sd, self.freedom)

    def reaches(self, level: float) -> Estimate | None:
        """Where the line meets ``level``; None where the slope's interval holds zero, so that it may never.

        Fieller's interval: all x at which the line's own interval holds ``level``.
        """
        if self.slope.low <= 0.0 <= self.slope.high:
            return None
        t2 = student(self.freedom) ** 2
        slope, s2 = self.slope.value, self.scatter**2
        rise = level - (self.intercept.value + slope * self.mean_x)
        a = slope**2 - t2 * s2 / self.spread_x
        b, c = -2.0 * slope * rise, rise**2 - t2 * s2 / self.count
        root = sqrt(max(b * b - 4.0 * a * c, 0.0))
        low, high = (self.mean_x + (-b + sign * root) / (2.0 * a) for sign in (-1.0, 1.0))
        value = self.mean_x + rise / slope
        return Estimate(value, self.at(value).uncertainty / abs(slope), low, high)


def line(x: ArrayLike, y: ArrayLike) -> Line:
    """The least-squares line through (x, y), with intervals of both coefficients.

    Raises: ``InputError`` for fewer than three points or x all alike.
    """
    across, up = np.asarray(x, float), np.asarray(y, float)
    if across.size < 3 or across.shape != up.shape:
        raise InputError(f"a trend needs at least 3 points, not {across.size}")
    mean_x, mean_y = float(across.mean()), float(up.mean())
    from_mean = across - mean_x
    spread = float(from_mean @ from_mean)
    if spread <= 0.0:
        raise InputError("a trend needs points at different places")
    slope = float(from_mean @ (up - mean_y)) / spread
    left = up - mean_y - slope * from_mean
    freedom = across.size - 2
    scatter = sqrt(float(left @ left) / freedom)
    at_zero = scatter * sqrt(1.0 / across.size + mean_x**2 / spread)
    return Line(
        about(mean_y - slope * mean_x, at_zero, freedom), about(slope, scatter / sqrt(spread), freedom),
        scatter, freedom, mean_x, spread, across.size,
    )  # fmt: skip


def is_number(value: float | None) -> bool:
    """A finite number, and there."""
    return value is not None and isfinite(value)

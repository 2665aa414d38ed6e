"""Chart of single parts about their trend, with one rule whose false alarms are stated; and the published charts.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals chart); deleted residuals of a
regression: any textbook.  No run rules: together they call most sound series of 100 out of control.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import special

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import Array

Places: TypeAlias = NDArray[np.int64]

D2 = 1.128
"""Mean range of two values over their standard deviation (NIST/SEMATECH 6.3.2.2)."""
D4 = 3.267
"""Upper limit of a range of two over its mean (NIST/SEMATECH 6.3.2.1)."""
OUTSIDE = "outside the limits about the trend"
ALARM = 0.02
"""Share of sound series, of any length, in which a part is outside by chance: our own choice."""
STRAIGHT_FROM, CURVED_FROM = 5, 12
"""Parts from which the trend is a straight line, and a curved one; before that it is the mean."""
DUST = 1e-12
"""A scatter below this share of a value is rounding, no scatter."""


@dataclass(frozen=True)
class Signal:
    """One rule, and the ``places`` (from 0, in the series) at which it is met: the last value of each pattern."""

    rule: str
    places: Places


@dataclass(frozen=True, eq=False)
class Chart:
    """Parts about their trend, and the published chart about their mean.

    ``level`` of the trend at each part, with limits ``below`` and ``above`` it; ``signals`` that are met;
    ``centre``, ``sigma`` (from the mean range), ``upper``, ``lower``, ``mean_range``, ``range_upper`` of the
    individuals chart; ``range_places``: moving ranges over their limit, which are shown and decide nothing.
    """

    level: Array
    below: Array
    above: Array
    signals: tuple[Signal, ...]
    centre: float
    sigma: float
    upper: float
    lower: float
    mean_range: float
    range_upper: float
    range_places: Places

    @property
    def in_control(self) -> bool:
        """No part is outside the limits about the trend."""
        return not self.signals


def individuals(values: Array, first: int = 0) -> Chart:
    """The chart of values in order; ``first``: place of the first one in the whole series.

    Limits about the trend: a part is outside where its residual against the trend of all others is beyond Student's t
    at ``ALARM`` / 2 n, so that of independent normal values one series in 1 / ``ALARM`` has one at the most.
    About the mean: mean +/- 3 mean range / 1.128; range limit 3.267 mean range.
    Raises: ``InputError`` for fewer than two values.
    """
    if values.size < 2:
        raise InputError(f"a chart needs at least 2 values in a row, not {values.size}")
    ranges = np.abs(np.diff(values))
    centre, mean_range = float(values.mean()), float(ranges.mean())
    sigma = mean_range / D2
    over = np.flatnonzero(ranges > D4 * mean_range) + 1 + first
    level, reach = _about_trend(values)
    out = np.flatnonzero(np.abs(values - level) > reach)
    return Chart(
        level, level - reach, level + reach, (Signal(OUTSIDE, out + first),) if out.size else (),
        centre, sigma, centre + 3 * sigma, centre - 3 * sigma, mean_range, D4 * mean_range, over,
    )  # fmt: skip


def _about_trend(values: Array) -> tuple[Array, Array]:
    """The trend at each part, and how far from it a part may be."""
    count = values.size
    powers = 1 if count < STRAIGHT_FROM else 2 if count < CURVED_FROM else 3
    # Orthonormal columns: the trend is a projection, its diagonal says how far a part pulls its own trend.
    basis, _ = np.linalg.qr(np.vander(np.linspace(-1.0, 1.0, count), powers, increasing=True))
    level = basis @ (basis.T @ values)
    left, free = values - level, count - powers - 1
    scatter = sqrt(float(left @ left) / max(count - powers, 1))
    if free < 1 or scatter <= DUST * float(np.abs(values).max()):
        return level, np.full(count, np.inf)
    t = float(special.stdtrit(free, 1 - ALARM / (2 * count)))
    # A deleted residual of t is this many deviations of all residuals.
    within = t * sqrt((free + 1) / (free + t * t))
    own = np.maximum(1.0 - (basis**2).sum(axis=1), 0.0)
    return level, within * scatter * np.sqrt(own)

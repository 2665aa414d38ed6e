"""How much of its plate's grip a chuck gives today: one estimate from plates, grease and readings of a grip gauge.

The grip is share x plate slope x (pressure - threshold).  What is known of share and threshold before any reading comes
from plates and grease; the plate is never exceeded.  Each reading has scatter of its own and the error of the gauge,
which is common to all; with a small chance it is plainly wrong.  The posterior is summed on a grid.

Its ends are not trusted to one reading: the low end is the least, and the high end the greatest, that is left when any
one reading is taken away.  So a single reading can only make a plan more careful, and two that agree narrow it.  What
was read once holds less today: by its age, and by the grease.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import log, pi, sqrt
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Range = tuple[float, float]

GREASE: dict[str | None, Range] = {"good": (0.85, 1.0), "poor": (0.6, 0.85), None: (0.6, 1.0)}
"""Share of the plate's grip that reaches the jaws; a dry chuck can lose 40 % in a shift: common practice, no source."""
THRESHOLD_MPA = (0.0, 0.1)
"""Pressure lost before the jaws grip, where the plate is silent: common practice, no source."""
THRESHOLD_SHARE = 0.6
"""Three pressures or more may show a higher threshold, up to this share of the lowest."""
GAUGE_ERROR = 0.05
"""Error of a grip gauge, 95 %: common practice, no source."""
SCATTER = 0.025
"""Scatter of one reading against another of the same gauge, standard deviation: common practice, no source."""
WRONG, WRONG_SPAN = 0.05, 2.0
"""Chance that a reading is wrong (pressure, scale or unit of another), by up to this factor: own rule."""
WORN = 0.02
"""Chance, before any reading, of a chuck that gives less than poor grease explains: own rule."""
AGREE = 0.8
"""Readings agree where, any one of them taken away, the low end of the others stays over this share of the likely."""
AS_TYPED = 2e-3
"""Two readings this near in pressure and force are one written down twice: as fine as such figures are typed."""
LEAST_SHARE = 0.03
LEAST_FACTOR = 0.05
"""No gauge shows less than this of what is there."""
ABOVE_ALL = (1 + GAUGE_ERROR) * (1 + 2 * SCATTER)
"""A reading this far over the plate is none."""
ENDS = (0.025, 0.975)
TODAY_DAYS, FRESH_DAYS = 1.0, 90.0
"""A reading says how the chuck is for a day; in a chuck kept greased it stands for a quarter: common practice, no
source."""
SAME_PRESSURE = 0.02
"""Share of the highest pressure read within which two readings are of one pressure: as fine as a gauge is read.
Common practice, no source."""
SHARES, THRESHOLDS, BIASES = 240, 24, 9


class Reading(NamedTuple):
    """One reading of a grip gauge at rest: pressure [MPa], grip of all jaws [N], its age in days; None: not known.

    ``error`` of the gauge, 95 %, relative; None: that of a usual one.
    """

    pressure: float
    force: float
    days: float | None = None
    error: float | None = None


class Plate(NamedTuple):
    """What is known before any reading.

    ``slope``: grip per pressure that the plates promise with the likely piston area [N/MPa]; ``area``: least and
    greatest piston area over the likely one; ``grease`` today; ``threshold``: least and greatest pressure lost [MPa];
    ``threshold_stated``: did somebody read it?
    """

    slope: float
    area: Range = (1.0, 1.0)
    grease: str | None = None
    threshold: Range = THRESHOLD_MPA
    threshold_stated: bool = False

    @property
    def most(self) -> float:
        """The plate with all its grip, over ``slope``."""
        return GREASE["good"][1] * self.area[1]


@dataclass(frozen=True)
class GripEstimate:
    """Grip per pressure today.

    ``share``: low, likely, high of the grip over ``slope`` x (``pivot`` - likely threshold), at the pressure ``pivot``
    through which every line goes [MPa]; None where the readings say no line, and the share is that of what the plates
    promise with the piston area as it is.
    ``threshold``: low, likely, high [MPa].  ``read``: the same as ``share`` on the day of the readings.  ``measured``:
    readings that agree and still stand narrow it; ``doubtful``: places of readings that do not fit the others or the
    plate; ``asks``: another reading is wanted; ``age`` of the newest reading: "today", "fresh", "old", or "" for none.
    """

    slope: float
    share: tuple[float, float, float]
    threshold: tuple[float, float, float]
    pivot: float | None = None
    read: tuple[float, float, float] | None = None
    measured: bool = False
    doubtful: tuple[int, ...] = ()
    asks: bool = False
    age: str = ""

    def grip(self, pressure: float) -> float:
        """Likely grip as it was read at a pressure. [MPa to N]"""
        share, threshold = (self.read or self.share)[1], self.threshold[1]
        return max(share * self.slope * (pressure - threshold), 0.0)


def grip_slope(found: GripEstimate, share: Any, threshold: Any, plate_slope: Any) -> Any:
    """Grip per pressure above a ``threshold`` [MPa] with a ``share`` of the estimate's range. [N/MPa]

    Of numbers or of arrays alike.

    ``plate_slope``: what the plates promise with the piston area as it is taken.  Readings say the line without it,
    which then plays no part: whatever the threshold, it goes through the middle of the readings.
    """
    if found.pivot is None:
        return share * plate_slope
    return share * found.slope * (found.pivot - found.threshold[1]) / (found.pivot - threshold)


def age_of(days: Sequence[float | None]) -> str:
    """How far readings stand today: by the oldest of them."""
    if not days:
        return ""
    known = [one for one in days if one is not None]
    oldest = max(known) if len(known) == len(days) else FRESH_DAYS + 1
    return "today" if oldest <= TODAY_DAYS else "fresh" if oldest <= FRESH_DAYS else "old"


@lru_cache(maxsize=256)
def estimate_grip(readings: tuple[Reading, ...], plate: Plate) -> GripEstimate:
    """What plates, grease and readings say together."""
    low, high = GREASE[plate.grease]
    alone = GripEstimate(plate.slope, (low, (low + high) / 2, high),
                         (plate.threshold[0], sum(plate.threshold) / 2, plate.threshold[1]))  # fmt: skip
    if not readings:
        return alone
    age = age_of([one.days for one in readings])
    # What no chuck of this plate can give was not read: it says nothing, not even that the chuck is weak.
    most = ABOVE_ALL * plate.most * plate.slope
    beyond = tuple(i for i, one in enumerate(readings) if one.force > most * one.pressure)
    if len(beyond) == len(readings):
        return replace(alone, doubtful=beyond, asks=True, age=age)
    # One reading written down twice is one: a wrong one must not agree with itself.
    first = [i for i, one in enumerate(readings) if not any(_is_same(one, other) for other in readings[:i])]
    kept = [i for i in first if i not in beyond]
    if len(kept) < len(readings):
        found = estimate_grip(tuple(readings[i] for i in kept), plate)
        doubtful = tuple(sorted([*beyond, *(kept[i] for i in found.doubtful)]))
        return replace(found, doubtful=doubtful, asks=found.asks or bool(beyond))
    grid = _Grid(readings, plate)
    doubtful = tuple(int(i) for i in np.flatnonzero(grid.wrong() > 0.5))
    left = [grid.quantiles(i) for i in range(len(readings))] if len(readings) > 1 else []
    whole = grid.quantiles(None)
    # With no one reading trusted, the others must still say nearly the same.
    agree = len(left) > 0 and len(doubtful) < len(readings) - 1 and min(q[0] for q in left) > AGREE * whole[1]
    read = min(_today(q[0], age, plate) for q in [*left, whole])
    # However many say otherwise: what one reading shows is missing may be missing today.
    doubted = [readings[i] for i in doubtful if _share_of(readings[i], plate) < min(read, whole[0])]
    read = min([read, *(estimate_grip((one,), plate).share[0] for one in doubted)])
    if not agree or age == "old":
        # What one reading alone says, or several that differ or stand no longer, can only take away from what plates
        # and grease promise, whatever the threshold.
        unit = (grid.pivot - grid.thresholds()[1]) / (grid.pivot - plate.threshold[0])
        least = min(low, read * unit / plate.area[0])
        return replace(alone, share=(least, least, max(high, least)), read=whole, doubtful=doubtful, asks=not agree,
                       age=age)  # fmt: skip
    most = max(read, min(max(q[2] for q in [*left, whole]), plate.most))
    measured = age == "today" or plate.grease == "good"
    likely = min(max(whole[1] if measured else read, read), most)
    return GripEstimate(
        plate.slope, (read, likely, most), grid.thresholds(), grid.pivot, whole, measured, doubtful,
        asks=bool(doubtful), age=age,
    )  # fmt: skip


def _is_same(one: Reading, other: Reading) -> bool:
    """Is it the same reading, written down again, maybe in other units?"""
    return abs(one.pressure / other.pressure - 1) < AS_TYPED and abs(one.force / other.force - 1) < AS_TYPED


def _share_of(reading: Reading, plate: Plate) -> float:
    """Share that a reading shows, with the middle of what the plate says of the threshold."""
    return reading.force / (plate.slope * max(reading.pressure - sum(plate.threshold) / 2, 1e-9))


def _today(share: float, age: str, plate: Plate) -> float:
    """The least that a share once read may be today: worn grease takes what it takes of any chuck."""
    usual, low = GREASE["good"][0], GREASE[plate.grease][0]
    if age == "today":
        return share
    if age == "fresh":
        return share * low / usual
    return low * plate.area[0] * min(1.0, share / (usual * plate.area[0]))


class _Grid:
    """The posterior over share (down) and threshold (across), the gauge's error summed out."""

    def __init__(self, readings: Sequence[Reading], plate: Plate) -> None:
        pressure, force = (np.array([one[i] for one in readings]) for i in (0, 1))
        self.pivot = float(np.exp(np.log(pressure).mean()))
        most = plate.most
        share = np.exp(np.linspace(log(LEAST_SHARE), log(most), SHARES))
        low, high = plate.threshold
        if not plate.threshold_stated and _pressures(pressure) >= 3:
            high = max(high, THRESHOLD_SHARE * float(pressure.min()))
        # A reading above nothing needs a threshold below it.
        high = max(min(high, 0.9 * float(pressure.min())), 0.0)
        threshold = np.linspace(min(low, high), high, THRESHOLDS)
        poor = GREASE["poor"][0] * plate.area[0]
        prior = np.where(share >= poor, (1 - WORN) / (most - poor), WORN / (poor - LEAST_SHARE)) * share
        bias, weight = np.polynomial.hermite_e.hermegauss(BIASES)
        errors = np.array([GAUGE_ERROR if one.error is None else one.error for one in readings])
        expected = np.log(share[:, None] * plate.slope * np.maximum(self.pivot - threshold, 1e-9))
        along = np.log(np.maximum(pressure[:, None] - threshold, 1e-9) / np.maximum(self.pivot - threshold, 1e-9))
        # What is wrong with a gauge is wrong with all it reads; of two gauges too, as nobody knows better.
        wrong_by = np.log(np.maximum(1 + errors[:, None] / 2 * bias, LEAST_FACTOR))
        off = np.log(force)[:, None, None, None] - expected[:, :, None] - along[:, None, :, None]
        off = off - wrong_by[:, None, None, :]
        right = (1 - WRONG) * np.exp(-0.5 * (off / SCATTER) ** 2) / (SCATTER * sqrt(2 * pi))
        wrong = WRONG / (2 * log(WRONG_SPAN))
        self._right, self._wrong = right, wrong
        self._each = np.log(right + wrong)
        self._prior = np.log(prior)[:, None, None] + np.log(weight)
        grip = share[:, None] * (self.pivot - threshold)
        self._threshold, self._order, self._grip = threshold, np.argsort(grip, axis=None), grip.ravel()

    def _weights(self, without: int | None) -> Array:
        """Normed posterior over share, threshold and the gauge's error, without one reading or with all."""
        total = self._each.sum(axis=0) - (self._each[without] if without is not None else 0.0) + self._prior
        weights = np.exp(total - total.max())
        return np.asarray(weights / weights.sum())

    def quantiles(self, without: int | None) -> tuple[float, float, float]:
        """Low, likely and high share at the pivot, with the likely threshold."""
        weights = self._weights(without).sum(axis=2).ravel()[self._order]
        summed = np.cumsum(weights)
        there = self._grip[self._order]
        unit = self.pivot - self.thresholds()[1]
        low, likely, high = (float(np.interp(q, summed, there)) / unit for q in (ENDS[0], 0.5, ENDS[1]))
        return low, likely, high

    def thresholds(self) -> tuple[float, float, float]:
        """Low, likely and high threshold. [MPa]"""
        summed = np.cumsum(self._weights(None).sum(axis=(0, 2)))
        low, likely, high = (float(np.interp(q, summed, self._threshold)) for q in (ENDS[0], 0.5, ENDS[1]))
        return low, likely, high

    def wrong(self) -> Array:
        """Chance of each reading to be wrong."""
        weights = self._weights(None)
        return np.array([float((weights * self._wrong / (one + self._wrong)).sum()) for one in self._right])


def _pressures(pressure: Array) -> int:
    """Number of pressures that are not nearly the same."""
    return 1 + int((np.diff(np.sort(pressure)) > SAME_PRESSURE * pressure.max()).sum())

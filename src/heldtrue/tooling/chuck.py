"""A power chuck on its cylinder: what its plates and the shop's own gauge readings say about the grip.

Units: mm, N, MPa.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from heldtrue.errors import InputError

GAUGE_ERROR = 0.05
"""Least uncertainty of a grip gauge reading: common practice, no source."""


def grip_per_pressure(max_grip: float, max_draw: float, piston_area: float) -> float:
    """Total static grip per pressure that the plates promise: (max grip / max draw) x piston area. [N/MPa]

    Forces [N]; piston area of the direction that grips [mm2].  The plate ratio stands for the wedge and its friction
    when clean and greased.  Source: common practice, no source.
    """
    return max_grip / max_draw * piston_area


WIDEST_SPREAD = 0.5
"""Readings that leave the slope this uncertain say nothing."""
FAR_OFF = 4.0
"""A reading this many robust standard deviations off the line is named."""
SAME_PRESSURE = 0.02
"""Share of the highest pressure read within which two readings are of one pressure: as fine as a gauge is read.
Common practice, no source."""
MAD_TO_SIGMA = 1.4826
"""Median absolute deviation to standard deviation of normal scatter."""


@dataclass(frozen=True)
class GripLine:
    """Grip over pressure as read.

    ``share`` (low, high) of the plate's slope; ``threshold`` pressure [MPa], ``fitted`` where the readings themselves
    say it; ``slope`` [N/MPa]; ``pressure``: middle of the pressures read [MPa]; ``far_off``: places in the list of the
    readings that do not fit the others.
    """

    share: tuple[float, float]
    threshold: float
    slope: float
    pressure: float
    fitted: bool = False
    far_off: tuple[int, ...] = ()


def read_grip_line(readings: Sequence[tuple[float, float]], plate_slope: float) -> GripLine:
    """The line through grip-gauge readings (pressure [MPa], total static grip [N]).

    Readings at pressures nearly the same are of one pressure: the gauge is read no finer, and a line between two of
    them says nothing.  Three or more different pressures give slope and threshold by the median of all slopes between
    two readings (Theil and Sen), so that one reading in many that is far off moves nothing; fewer give the slope
    through zero.  The range is the largest of twice the robust scatter, the 95 % interval of the slope, and the
    gauge's own error.
    Raises: ``InputError`` where the grip does not rise with pressure, or the readings scatter too much to say.
    """
    pressure, grip = _by_pressure(np.asarray(readings, float))
    if len(np.unique(pressure)) < 3:
        slope, threshold = float(np.median(grip / pressure)), 0.0
        scatter = float((grip / pressure).std() / slope)
        share = _share(slope, max(2 * scatter, GAUGE_ERROR), plate_slope)
        return GripLine(share, threshold, slope, float(np.median(pressure)))
    from scipy import stats  # half a second, which only a chuck with readings should cost

    slope, offset, low, high = (float(v) for v in stats.theilslopes(grip, pressure, 0.95))
    if slope <= 0:
        raise InputError("chuck: grip_readings do not rise with pressure; check the gauge and the order of the pairs")
    off = grip - slope * pressure - offset
    scale = MAD_TO_SIGMA * float(np.median(np.abs(off)))
    limit = np.maximum(FAR_OFF * scale, GAUGE_ERROR * grip)
    far_off = tuple(int(i) for i in np.flatnonzero(np.abs(off) > limit)) if len(grip) > 3 else ()
    spread = max(2 * scale / float(np.median(grip)), (high - low) / 2 / slope, GAUGE_ERROR)
    share, threshold = _share(slope, spread, plate_slope), max(-offset / slope, 0.0)
    return GripLine(share, threshold, slope, float(np.median(pressure)), fitted=True, far_off=far_off)


def _by_pressure(readings: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pressures and grips; those nearly at one pressure are brought to their mean, each grip along its own ray."""
    pressure, grip = readings.T
    order = np.argsort(pressure, kind="stable")
    steps = np.diff(pressure[order]) > SAME_PRESSURE * pressure.max()
    group = np.empty(len(pressure), int)
    group[order] = np.concatenate([[0], np.cumsum(steps)])
    shared = (np.bincount(group, pressure) / np.bincount(group))[group]
    return shared, grip * shared / pressure


def _share(slope: float, spread: float, plate_slope: float) -> tuple[float, float]:
    if spread > WIDEST_SPREAD:
        raise InputError(f"chuck: grip_readings scatter by {spread:.0%} and say nothing; take more, at three pressures")
    share = slope / plate_slope
    return share * (1 - spread), share * (1 + spread)


def height_share(grip_height: float, reference_height: float) -> float:
    """Share of the plate's draw force allowed for jaws gripping higher than the plate's reference height [mm].

    The allowed force falls as the moment arm grows: reference / height, never above 1.  Source: common practice, no
    source.
    """
    return min(1.0, reference_height / grip_height)

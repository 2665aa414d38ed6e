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


@dataclass(frozen=True)
class GripLine:
    """Grip over pressure as read: ``share`` (low, high) of the plate's slope, and the ``threshold`` pressure [MPa]."""

    share: tuple[float, float]
    threshold: float


def read_grip_line(readings: Sequence[tuple[float, float]], plate_slope: float) -> GripLine:
    """The line through grip-gauge readings (pressure [MPa], total static grip [N]).

    Three or more different pressures give slope and threshold by least squares; fewer give the slope through zero.
    The range is twice the scatter, and never under the gauge's own error.
    Raises: ``InputError`` where the grip does not rise with pressure.
    """
    pressure, grip = np.asarray(readings, float).T
    if len(np.unique(pressure)) < 3:
        slope, threshold = float((grip / pressure).mean()), 0.0
        scatter = float((grip / pressure).std() / slope)
    else:
        slope, offset = (float(v) for v in np.polyfit(pressure, grip, 1))
        if slope <= 0:
            raise InputError(
                "chuck: grip_readings do not rise with pressure; check the gauge and the order of the pairs"
            )
        threshold = max(-offset / slope, 0.0)
        scatter = float(np.std(grip - slope * pressure - offset) / grip.mean())
    spread = max(2 * scatter, GAUGE_ERROR)
    share = slope / plate_slope
    return GripLine((share * (1 - spread), share * (1 + spread)), threshold)


def height_share(grip_height: float, reference_height: float) -> float:
    """Share of the plate's draw force allowed for jaws gripping higher than the plate's reference height [mm].

    The allowed force falls as the moment arm grows: reference / height, never above 1.  Source: common practice, no
    source.
    """
    return min(1.0, reference_height / grip_height)

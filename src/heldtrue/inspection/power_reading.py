"""Specific cutting force from the power of the spindle while it cuts.

    F = efficiency (P - P idle) / v,    kc1.1 = F / (force at 1 MPa of kc1.1),

with the power of the spindle in the cut and turning free at the same speed, and v the speed of the surface that is cut.
The drive and the edge are the same in every reading, so that more readings do not take their share away.  W, mm, MPa,
N, rev/min.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, log, pi, sqrt

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import student
from heldtrue.inspection.learning import Accepted

DRIVE = (0.75, 0.95)
"""Power at the edge over what the load adds at the spindle's meter: common practice, no source."""
METER = 0.05
"""Standard error of each power read off a load meter, relative: our own judgement, no source."""
LIGHT = 0.3
"""A cut that adds less than its meter's error over this share tells too little."""
MOST_OFF = 3.0
"""A force this many times that of the table, or a part of it, is a slip in a unit or of the wrong cut."""


@dataclass(frozen=True)
class PowerRead:
    """``power`` in the cut and ``idle`` at the same speed [W], ``speed`` of the spindle [rev/min], ``diameter`` that
    was turned [mm]."""

    power: float
    idle: float
    speed: float
    diameter: float


def force_at_edge(read: PowerRead) -> tuple[float, float]:
    """Likely tangential force [N], and its relative standard uncertainty, drive and meter in it.

    Raises: ``InputError`` for readings that cannot be, or tell too little.
    """
    problems = [f"{name}: found {value:g} {unit}; expected more than 0" for name, value, unit in (
        ("power in the cut", read.power, "W"), ("spindle speed", read.speed, "rev/min"),
        ("diameter", read.diameter, "mm")) if not value > 0.0]  # fmt: skip
    if read.idle < 0.0:
        problems.append(f"idle power: found {read.idle:g} W; expected 0 or more")
    if problems:
        raise InputError(*problems)
    net = read.power - read.idle
    error = METER * hypot(read.power, read.idle)
    if net <= 0.0 or error > LIGHT * net:
        raise InputError(
            f"the cut adds {net:.0f} W to the {read.idle:.0f} W of the idling spindle, which its meter cannot tell "
            "from nothing: take a heavier cut, and the idle power at the same speed"
        )
    speed = pi * read.diameter * read.speed / 60_000  # m/s
    low, high = DRIVE
    return sqrt(low * high) * net / speed, hypot(error / net, _spread(low, high))


def specific_force(read: PowerRead, at_one: float, edge: tuple[float, float], table: float, what: str = "") -> Accepted:
    """Specific cutting force kc1.1 [MPa]; ``at_one``: tangential force with a sharp edge at a kc1.1 of 1 MPa [N],
    ``edge``: force on the edge as it was over that of a sharp one, least and most; ``table``: kc1.1 of the table [MPa].

    Raises: ``InputError`` as ``force_at_edge``, and for a value that is far from the table's.
    """
    force, relative = force_at_edge(read)
    value = force / (at_one * sqrt(edge[0] * edge[1]))
    if not table / MOST_OFF <= value <= table * MOST_OFF:
        raise InputError(
            f"these readings say a specific cutting force of {value:.0f} MPa, where the table has {table:.0f}: check "
            "the unit of the power, the spindle speed, the diameter, and that depth and feed were those of the setup"
        )
    return Accepted(value, hypot(relative, _spread(*edge)), what)


def _spread(low: float, high: float) -> float:
    """Relative standard uncertainty of a factor that lies between these in 95 % of cases."""
    return log(high / low) / (2 * student(float("inf")))

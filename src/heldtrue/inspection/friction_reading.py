"""Friction of jaws on a part from what it took to make it slip: a torque wrench on it, or a pull along the axis.

    mu = 2 T / (G d)   or   mu = P / G,

with G the grip of all jaws at the low pressure it was tried at and d the gripped diameter: all jaws slip together, and
the drag of the chuck's own bearings is none while the spindle is locked.  Three slips or more give a mean and the
scatter from clamping to clamping; what the grip and the wrench are off by is common to all.  N, N mm, mm.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, log, sqrt
from typing import Literal

from scipy.stats import t as student

from heldtrue.errors import InputError

Way = Literal["torque", "pull"]

WRENCH_ERROR, SCALE_ERROR = 0.04, 0.02
"""Error of a torque wrench, ISO 6789 class of indicating tools (from memory), and of a hanging scale (common practice,
no source); 95 %, relative."""
SCATTER, SCATTER_WORTH = 0.06, 4
"""Scatter of friction from clamping to clamping, standard deviation, and how many slips that is worth before any was
seen: common practice, no source."""
FEWEST = 3
LEAST = 0.02
"""No jaw on metal holds less, however wet: common practice, no source."""
MOST_APART = 1.6
"""Slips farther apart than this factor were not the same thing."""
POSSIBLE = (0.03, 0.9)
"""Friction of jaws on metal: outside these a unit or the grip is another. Common practice, no source."""


@dataclass(frozen=True)
class Slips:
    """What it took, each time until it slipped.

    ``way``: "torque" [N mm] or "pull" [N]; ``values``; ``diameter`` gripped [mm]; ``grip``: low, likely, high of all
    jaws at the pressure it was tried at [N]; ``error`` of the wrench or scale, 95 %, relative.
    """

    way: Way
    values: tuple[float, ...]
    diameter: float
    grip: tuple[float, float, float]
    error: float | None = None


@dataclass(frozen=True)
class FrictionFound:
    """Friction of one clamping to come, at 95 %: low, likely, high; ``scatter`` from slip to slip, relative."""

    low: float
    likely: float
    high: float
    scatter: float
    slips: int


def read_friction(slips: Slips) -> FrictionFound:
    """Friction behind the slips.  Raises: ``InputError`` for too few, too far apart, or what cannot be."""
    _check(slips)
    arm = slips.diameter / 2 if slips.way == "torque" else 1.0
    low, likely, high = slips.grip
    each = [value / arm / likely for value in slips.values]
    mean = exp(sum(log(one) for one in each) / len(each))
    if not POSSIBLE[0] <= mean <= POSSIBLE[1]:
        raise InputError(
            f"the friction would be {mean:.2g}; jaws on metal have {POSSIBLE[0]:g} to {POSSIBLE[1]:g}: look at the "
            f"unit of the {slips.way}, the diameter and the pressure it was tried at"
        )
    count = len(each)
    own = sum((log(one) - log(mean)) ** 2 for one in each)
    freedom = SCATTER_WORTH + count - 1
    scatter = sqrt((SCATTER_WORTH * SCATTER**2 + own) / freedom)
    reach = float(student.ppf(0.975, freedom)) * scatter * sqrt(1 + 1 / count)
    device = slips.error if slips.error is not None else WRENCH_ERROR if slips.way == "torque" else SCALE_ERROR
    down = sqrt(reach**2 + device**2 + log(high / likely) ** 2)
    up = sqrt(reach**2 + device**2 + log(likely / low) ** 2)
    return FrictionFound(max(mean * exp(-down), LEAST), mean, min(mean * exp(up), 1.0), scatter, count)


def _check(slips: Slips) -> None:
    if len(slips.values) < FEWEST:
        raise InputError(f"{len(slips.values)} slips: take {FEWEST} to 5, clamped anew each time")
    if any(not value > 0 for value in slips.values):
        raise InputError(f"every {slips.way} is above 0")
    if not slips.diameter > 0:
        raise InputError("the gripped diameter is above 0")
    low, likely, high = slips.grip
    if not 0 < low <= likely <= high:
        raise InputError(
            "the grip it was tried at is not known: read the chuck's grip first, or use more pressure than it loses "
            "before it grips"
        )
    if slips.error is not None and not 0 < slips.error < 0.5:
        raise InputError("the error of a wrench or scale is between 0 and 50 %")
    if max(slips.values) > MOST_APART * min(slips.values):
        raise InputError(
            f"the slips lie a factor {max(slips.values) / min(slips.values):.2f} apart: one of them did not slip, or "
            "the part was not clamped anew or not seated; leave out what did not slip, and try again"
        )


def slip_values(typed: Sequence[str], read: Callable[[str], float]) -> tuple[float, ...]:
    """Each typed value by ``read``; one marked as held, not slipped, is refused.  Raises: ``InputError``."""
    for one in typed:
        if one.strip().lower().endswith("held") or one.strip().startswith(">"):
            raise InputError(
                f'"{one}" made nothing slip: it says only that the friction is higher. Use less pressure, or turn on'
            )
    return tuple(read(one) for one in typed)

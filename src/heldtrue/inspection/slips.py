"""Slips in typed readings: the wrong unit, and the one reading that does not belong.  Asked back, never put right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log

import numpy as np

MOST_MM = 1.0
"""Run-out above this is asked back: a lever indicator hardly goes further. Common practice, no source."""
LEAST_MM = 1e-4
"""Run-out below this is asked back: finer than the finest division of a dial."""
USUAL_MM = 0.02
"""Run-out that a setter usually looks for; the unit that comes nearest is offered first. Our own judgement."""
MOST_TOLERANCES = 25.0
"""Where the tolerance is known, run-out above this many times it is asked back. Our own judgement."""


@dataclass(frozen=True)
class Question:
    """What is asked back: ``size``, the run-out as typed [mm]; ``instead``: units in which it would be a usual one, the
    likeliest first; ``row``: the reading furthest from the rest, from 0."""

    size: float
    instead: tuple[str, ...]
    row: int


def unit_slip(
    readings: Sequence[float], unit: str, units: Mapping[str, float], tolerance: float | None = None
) -> Question | None:
    """Could these ``readings`` [mm] have been typed in another unit?  None where they look as usual.

    ``unit`` they were taken to be in; ``units``: mm in one of each; ``tolerance`` of the run-out [mm].
    """
    values = np.asarray(readings, float)
    if values.size < 2:
        return None
    size, row = float(np.ptp(values)), int(np.argmax(np.abs(values - np.median(values))))
    most = MOST_MM if tolerance is None else min(MOST_MM, MOST_TOLERANCES * tolerance)
    if size == 0.0 or LEAST_MM <= size <= most:
        return None
    usual = USUAL_MM if tolerance is None else tolerance
    would = {name: size / units[unit] * factor for name, factor in units.items() if name != unit}
    able = [name for name, value in would.items() if 5 * LEAST_MM <= value <= most]
    return Question(size, tuple(sorted(able, key=lambda name: abs(log(would[name] / usual)))), row)

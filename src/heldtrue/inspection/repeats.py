"""How well a dial repeats: places read again in one clamping, by one reader or by several.  mm, rad.

Every place has a value of its own and every reader a zero; what is left over is the gauge's.  Repeatability is the
scatter of one reader at one place; repeatability and reproducibility (R&R) is that of a reading by any of them, in
which readers that feel their way to different values at some places count too.
Source: analysis of variance of a gauge study, any textbook; least squares over places and readers, derived here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees, pi, sqrt

import numpy as np

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import Array
from heldtrue.inspection.indicator import resolution_of
from heldtrue.inspection.model import Rows
from heldtrue.inspection.readings import Trace
from heldtrue.quantities import describe, to_core

FEWEST = 10
"""Readings more than places and readers: from so many on a scatter is known within a factor of 1.6, 95 %."""
MOST_PLACES, MOST_AGAIN = 200, 12
"""More of either is a probe on a spindle that turned on, not somebody who read again."""
GROSS = 5.0
"""A reading so many standard deviations off its repeats is a slip, which would make the dial look worse than it is."""


@dataclass(frozen=True)
class Repeats:
    """What places read again say.

    ``one``: scatter of one reader, a standard deviation [mm], None where nobody read a place twice; ``whole``: of a
    reading by any of them, R&R [mm], with ``freedom`` degrees; ``places`` and ``readers``: how many.
    """

    one: float | None
    whole: float
    freedom: int
    places: int
    readers: int

    @property
    def between(self) -> float | None:
        """What unlike readers add [mm]; None with one reader."""
        if self.readers < 2 or self.one is None:
            return None
        return sqrt(max(self.whole**2 - self.one**2, 0.0))


def is_read_again(traces: Sequence[Trace]) -> bool:
    """Was any place of these traces read again, as somebody does who reads by hand?"""
    return any(1 < max(counts) <= MOST_AGAIN and len(counts) <= MOST_PLACES
               for counts in (Counter(_places(one)).values() for one in traces))  # fmt: skip


def read_repeats(traces: Sequence[Trace], division: float) -> Repeats:
    """Scatter of places read again; each trace its own clamping and zero, ``division`` of the dial [mm].

    Raises: ``InputError`` for too few repeats, one far off the others, or a scatter that the dial is too coarse for.
    """
    place, who, value = list[str](), list[tuple[int, str]](), list[float]()
    for number, one in enumerate(traces):
        places = _places(one)
        count = Counter(places)
        for row, (z, angle) in enumerate(places):
            if 1 < count[z, angle] <= MOST_AGAIN:
                place.append(f"trace {number + 1}, {degrees(angle):.0f}°, z {z:g} mm")
                who.append((number, one.reader[row] if one.reader else ""))
                value.append(float(one.reading[row]))
    return _study(place, who, np.array(value), division)


def typed_repeats(text: str, unit: str, division: float | None = None) -> tuple[Repeats, float]:
    """Places read again by one reader, typed: readings of a place, then a semicolon and those of the next; and the
    division of the dial, from the digits if left out [mm].

    Raises: ``InputError`` for what is no number, and as ``read_repeats``.
    """
    place, value = list[str](), list[float]()
    for number, group in enumerate(text.split(";"), 1):
        for word in group.split():
            try:
                value.append(float(word.replace(",", ".").replace("−", "-")) * to_core(1.0, "length", unit))
            except ValueError:
                raise InputError(f"place {number}: found {describe(word)}; expected a reading as a number") from None
            place.append(f"place {number}")
    values = np.array(value)
    step = division if division is not None else resolution_of(values)[0]
    return _study(place, [(0, "")] * len(value), values, step), step


def _study(place: Sequence[str], who: Sequence[tuple[int, str]], value: Array, division: float) -> Repeats:
    """Scatter of readings [mm] beside a value of every place and a zero of every reader of each trace."""
    at, by = _numbers(place), _numbers([f"{number} {name}" for number, name in who])
    places, zeros = len(set(place)), len(set(who))
    freedom = len(value) - places - zeros + len({number for number, _ in who})
    if freedom < FEWEST or places > MOST_PLACES:
        raise InputError(f"found {len(value)} readings at {places} places read again; the scatter of a dial takes "
                         f"{FEWEST} readings more than places: read 12 places twice")  # fmt: skip
    left = _left(value, at, by)
    spread = sqrt(float(left @ left) / freedom)
    quiet = 1.4826 * float(np.median(np.abs(left))) * sqrt(len(left) / freedom)
    worst = int(np.abs(left).argmax())
    if abs(left[worst]) > GROSS * max(quiet, division / sqrt(12)):
        apart = float(np.ptp(value[at == at[worst]]))
        raise InputError(f"{place[worst]}: readings of this place differ by {apart:.4f} mm, more than elsewhere by "
                         "far; read it again, or leave it out")  # fmt: skip
    if spread <= division / sqrt(12):
        raise InputError(f"the repeats hardly leave the division of {division:g} mm: the dial is too coarse to show "
                         "what it repeats to, or one round was copied; nothing is learned of it")  # fmt: skip
    cell = np.unique(at * zeros + by, return_inverse=True)[1]
    within = len(value) - int(cell.max()) - 1
    off = value - (np.bincount(cell, value) / np.bincount(cell))[cell]
    one_reader = sqrt(float(off @ off) / within) if within else None
    return Repeats(one_reader, spread, freedom, places, len({name for _, name in who}))


def _places(one: Trace) -> list[tuple[float, float]]:
    turn = np.round(np.mod(one.angle, 2 * pi), 4) % round(2 * pi, 4)
    return list(zip(np.round(one.z, 6).tolist(), turn.tolist(), strict=True))


def _numbers(names: Sequence[str]) -> Rows:
    """Each name by a number, the first of all names 0."""
    known = {name: number for number, name in enumerate(dict.fromkeys(names))}
    return np.array([known[name] for name in names], np.int64)


def _left(value: Array, at: Rows, by: Rows) -> Array:
    """What is left beside a value of every place and a zero of every reader."""
    columns = np.hstack([at[:, None] == np.arange(at.max() + 1), by[:, None] == np.arange(by.max() + 1)]).astype(float)
    found: Array = value - columns @ np.linalg.lstsq(columns, value, rcond=None)[0]
    return found

"""What each cause does to a reading: the columns of one linear model of every trace of a part.

An element is one wave of one cause, amplitude X cos + Y sin of ``order`` times an angle: that of the jaws, or that of
the part, which turns with it.  Lengths mm, angles rad from jaw 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import pi
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from heldtrue.inspection.indicator import IndicatorResult

Array: TypeAlias = NDArray[np.float64]
Rows: TypeAlias = NDArray[np.int64]
CauseName: TypeAlias = Literal["jaws", "part", "clamp", "seat or chip", "spindle or measuring", "cut"]
CAUSES: tuple[CauseName, ...] = ("jaws", "part", "clamp", "seat or chip", "spindle or measuring", "cut")
Kind: TypeAlias = Literal["offset", "tilt", "lobes", "lobes, cut round"]

ARM_MM = 60.0
"""What is off by a tilt is told this far from the grip."""
FEW_PLACES, ORDERS_FEW, ORDERS_MANY = 12, 11, 15
"""Up to so many places round every order that passes for one of the lower half is a cause of its own; above, 15."""
MOST_PLACES = 72
"""Readings of a plane that the causes are read from; of a longer trace the means of as many sectors."""
IN_STEP = 0.25
"""Lobes of a clamp stand at the jaws, high or low: sine over cosine part, one standard deviation.  Our judgement."""


@dataclass(frozen=True)
class Element:
    """One wave of one cause; ``share``: how likely it is among those of its cause, before any reading."""

    cause: CauseName
    kind: Kind
    order: int
    turns: bool
    share: float = 1.0

    @property
    def name(self) -> str:
        """What it looks like."""
        return self.kind if self.order == 1 else f"{self.order} lobes"


@dataclass(frozen=True)
class Seen:
    """Every reading that is believed, row by row: ``value`` is the deviation [mm], ``height`` the distance from the
    grip over ``ARM_MM``; ``of``: number of its trace, ``plane``: number of its plane among those of all traces,
    ``zero``: of its zero; ``grip``: 1 clamped at the first pressure, less at a lower one, 0 free or a test bar;
    ``on_part``: 0 on a test bar; ``held``: on the spindle; ``turned`` [rad]; ``step``: division of the dial [mm]."""

    angle: Array
    value: Array
    height: Array
    of: Rows
    plane: Rows
    zero: Rows
    grip: Array
    on_part: Array
    held: Array
    turned: Array
    step: Array

    def reversed_trace(self, number: int) -> Seen:
        """As it would be had this trace been read the other way round."""
        return replace(self, angle=np.where(self.of == number, -self.angle, self.angle))

    def unturned_trace(self, number: int) -> Seen:
        """As it would be had the part not been turned for this trace."""
        return replace(self, turned=np.where(self.of == number, 0.0, self.turned))


def seen(results: Sequence[IndicatorResult], grip_z: float) -> Seen:
    """The rows of every trace, outliers left out.  With one plane that nobody placed, it lies ``ARM_MM`` from the
    grip."""
    planes = sorted({place for r in results for place in r.trace.planes})
    unplaced = len(planes) == 1 and abs(planes[0] - grip_z) < 1e-9
    first = next((r.trace.pressure for r in results if r.trace.state in ("clamped", "not said")), None)
    parts: list[list[Array]] = []
    for number, one in enumerate(results):
        trace = one.trace
        kept = np.ones(len(trace.angle), bool)
        kept[[o.row for o in one.outliers]] = False
        on_grip = trace.state in ("clamped", "not said")
        share = trace.pressure / first if trace.pressure and first else 1.0
        for place in trace.planes:
            rows = kept & (trace.z == place)
            if not rows.any():
                continue
            angle, value = _sectors(trace.angle[rows], trace.deviation[rows])
            full = np.ones_like(angle)
            height = 1.0 if unplaced or trace.side == "face" else (place - grip_z) / ARM_MM
            parts.append([
                angle, value, full * height, full * number,
                full * planes.index(place), full * len(parts), full * (share if on_grip else 0.0),
                full * (trace.state != "spindle"), full * (trace.state != "free"), full * trace.turned,
                full * one.resolution,
            ])  # fmt: skip
    angle, value, height_, *numbers, grip, on_part, held, turned, step = (
        np.concatenate(c) for c in zip(*parts, strict=True)
    )
    of, plane, zero = (one.astype(np.int64) for one in numbers)
    return Seen(angle, value, height_, of, plane, zero, grip, on_part, held, turned, step)


def _sectors(angle: Array, value: Array) -> tuple[Array, Array]:
    """Angles and means of ``MOST_PLACES`` sectors of a long trace; a short one as it is."""
    if len(angle) <= MOST_PLACES:
        return angle, value
    round_ = np.mod(angle, 2 * pi)
    sector = np.minimum((round_ * (MOST_PLACES / (2 * pi))).astype(np.int64), MOST_PLACES - 1)
    count = np.bincount(sector, minlength=MOST_PLACES)
    there = count > 0
    sums = (np.bincount(sector, one, minlength=MOST_PLACES)[there] for one in (round_, value))
    at, mean = (one / count[there] for one in sums)
    return at, mean


def elements(jaws: int, places: int, face: bool) -> tuple[Element, ...]:
    """Every wave that can be there; a lobe is the rarer the more waves it has, by 1 / order squared: our judgement."""
    top = ORDERS_FEW if places <= FEW_PLACES else ORDERS_MANY
    lobes, of_jaws = range(2, top + 1), range(jaws, top + 1, jaws)
    found: list[Element] = [Element("seat or chip", "tilt", 1, False)]
    if face:
        found.append(Element("part", "tilt", 1, True))
    else:
        found += [Element("jaws", "offset", 1, False), Element("part", "offset", 1, True),
                  Element("part", "tilt", 1, True, 0.3)]  # fmt: skip
    # A part brought along was held in jaws before: lobes of their number are the likelier.
    found += [Element("part", "lobes", n, True, (2.0 if n % jaws else 6.0) / n**2) for n in lobes]
    found += [Element("spindle or measuring", "lobes", n, False, 1.0 / n**2) for n in lobes]
    for n in of_jaws:
        found.append(Element("clamp", "lobes", n, False, 1.0 / n**2))
        found.append(Element("clamp", "lobes, cut round", n, False, 1.0 / n**2))
        found.append(Element("cut", "lobes", n, True, 1.0 / n**2))
    whole = {cause: sum(e.share for e in found if e.cause == cause) for cause in CAUSES}
    return tuple(replace(e, share=e.share / whole[e.cause]) for e in found)


def columns(rows: Seen, found: Sequence[Element]) -> Array:
    """Two columns an element: what 1 mm of its cosine and of its sine part adds to every reading."""
    return _columns(rows, found, rows.angle)


def visible(rows: Seen, found: Sequence[Element]) -> tuple[Element, ...]:
    """Those that these readings could show at all: jaws do nothing to a part that was read free."""
    size = np.linalg.norm(columns(rows, found), axis=0).reshape(-1, 2).max(axis=1)
    return tuple(one for one, s in zip(found, size.tolist(), strict=True) if s > 1e-6)


def slopes(rows: Seen, found: Sequence[Element]) -> tuple[Array, Array]:
    """The same derived by the angle of the reading, and by the turn of the part. [1/rad]"""
    step = 1e-4
    ahead = _columns(rows, found, rows.angle + step)
    turned = columns(replace(rows, turned=rows.turned + step), found)
    here = columns(rows, found)
    return (ahead - here) / step, (turned - here) / step


def _columns(rows: Seen, found: Sequence[Element], angle: Array) -> Array:
    """As ``columns``, read at ``angle``."""
    order = np.array([one.order for one in found])
    turns = np.array([one.turns for one in found], float)
    own = order * (angle[:, None] - rows.turned[:, None] * turns)
    size = np.stack([_size(rows, one) for one in found], axis=1)
    made = np.empty((len(angle), 2 * len(found)))
    made[:, ::2], made[:, 1::2] = size * np.cos(own), size * np.sin(own)
    for k, one in enumerate(found):
        if one.cause == "clamp":
            pair = made[:, 2 * k : 2 * k + 2]
            if one.kind == "lobes, cut round":  # cut round while clamped: what the clamp did is missing ever after
                turning = one.order * (angle - rows.turned)
                pair -= rows.on_part[:, None] * np.column_stack([np.cos(turning), np.sin(turning)])
            pair[:, 1] *= IN_STEP
    return made


def _size(rows: Seen, one: Element) -> Array:
    """How far a wave of 1 mm reaches every reading, before its angle."""
    if one.cause == "clamp":
        return rows.grip
    if one.cause == "spindle or measuring":
        return rows.held
    there = rows.on_part if one.cause in ("part", "cut") else rows.held * rows.on_part
    return rows.height * there if one.kind == "tilt" else there

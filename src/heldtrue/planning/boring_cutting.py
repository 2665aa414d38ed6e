"""Depth, feeds and speed with which the jaws are cut: as asked, else values that hold; and the largest that would."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from math import floor
from typing import Any, Literal

from heldtrue.planning.boring_checks import FAILS, ForceCheck, Stand, all_hold, judge_forces
from heldtrue.planning.boring_forces import PassForce
from heldtrue.planning.entries import Boring
from heldtrue.program.job import Cutting

Knob = Literal["pass_depth", "rough_feed", "finish_feed", "surface_speed"]
KNOBS: tuple[Knob, ...] = ("pass_depth", "rough_feed", "finish_feed", "surface_speed")

SPEEDS = {True: 250.0, False: 120.0}
"""Cutting speed in light metal and in steel, m/min: common practice, no source."""
PASSES = {True: 2.0, False: 1.5}
"""Depth of a roughing pass per side, in light metal and in steel: common practice, no source."""
FINISH_ALLOWANCE_MM, ROUGH_FEED, FINISH_FEED = 0.2, 0.15, 0.08
"""Left for the finish per side, feeds per turn: common practice, no source."""
LEAST: dict[Knob, float] = {"pass_depth": 0.25, "rough_feed": 0.05, "finish_feed": 0.04, "surface_speed": 40.0}
"""A value that nobody asked for is lowered no further: less rubs instead of cutting; common practice, no source."""
STEP: dict[Knob, float] = {"pass_depth": 0.05, "rough_feed": 0.005, "finish_feed": 0.005, "surface_speed": 1.0}
"""What values are rounded down to."""
HALVINGS = 40


@dataclass(frozen=True)
class Turned:
    """A value by name: ``before``: as asked or usual, ``after``: the largest that holds, None where none does."""

    knob: Knob
    before: float
    after: float | None


@dataclass(frozen=True)
class BoringForces:
    """The cut as it is planned, its forces, and every check of them.

    ``lowered``: usual values that were lowered until the cut holds; ``would_hold``: where it does not hold, each value
    alone that would, the others as they are; ``together``: where none alone does, all of them that would.
    """

    cutting: Cutting
    passes: tuple[PassForce, ...]
    checks: tuple[ForceCheck, ...]
    lowered: tuple[Turned, ...] = ()
    would_hold: tuple[Turned, ...] = ()
    together: tuple[Turned, ...] = ()

    @property
    def hold(self) -> bool:
        """Does nothing fail?"""
        return all_hold(self.checks)

    @property
    def failing(self) -> tuple[ForceCheck, ...]:
        """What does not stand the cut."""
        return tuple(check for check in self.checks if check.state == FAILS)


def asked_cutting(boring: Boring | None, *, light: bool, limit: float) -> Cutting:
    """Depth, feeds and speed as the setup states them, else the usual ones; ``limit`` of the spindle [rev/min]."""

    def given(key: str, otherwise: float) -> float:
        value = getattr(boring, key) if boring else None
        return otherwise if value is None else float(value)

    return Cutting(
        pass_depth=given("pass_depth", PASSES[light]), finish_allowance=given("finish_allowance", FINISH_ALLOWANCE_MM),
        rough_feed=given("rough_feed", ROUGH_FEED), finish_feed=given("finish_feed", FINISH_FEED),
        surface_speed=given("surface_speed", SPEEDS[light]), spindle_limit=limit,
        semi_allowance=left_to_finish(boring), spring_passes=(boring.spring_passes or 0) if boring else 0,
        deburr=bool(boring and boring.deburr),
    )  # fmt: skip


def left_to_finish(boring: Boring | None) -> float:
    """What the pass before the stop to measure leaves, per side. [mm]"""
    if boring is not None and boring.semi_allowance is not None:
        return boring.semi_allowance
    given = boring.finish_allowance if boring is not None else None
    return (FINISH_ALLOWANCE_MM if given is None else given) / 2


def choose_cutting(stand: Stand, asked: Cutting, stated: frozenset[str], usual: Cutting) -> BoringForces:
    """The cut as asked, with values that nobody stated lowered where that makes it hold; ``usual``: none stated."""
    cutting = _lowered(stand, asked, frozenset(KNOBS) - stated)
    passes, checks = judge_forces(stand, cutting)
    if all_hold(checks):
        return BoringForces(cutting, passes, checks, _turned(asked, cutting))
    passes, checks = judge_forces(stand, asked)
    alone = tuple(
        Turned(knob, getattr(asked, knob), _largest(knob, STEP[knob], asked, partial(_fails_no_more, stand)))
        for knob in KNOBS
    )
    together: tuple[Turned, ...] = ()
    if all(way.after is None for way in alone):
        start = _with(asked, {knob: min(getattr(asked, knob), getattr(usual, knob)) for knob in KNOBS})
        lower = _lowered(stand, start, frozenset(KNOBS))
        together = _turned(asked, lower) if not _failing(stand, lower) else ()
    return BoringForces(asked, passes, checks, (), alone, together)


def _lowered(stand: Stand, cutting: Cutting, free: frozenset[str]) -> Cutting:
    """The cut with free values lowered, one after the other, no further than it takes; nothing that does not help."""
    for knob in KNOBS:
        failing, least = _failing(stand, cutting), _least(knob, cutting)
        if not failing or knob not in free or least >= getattr(cutting, knob):
            continue
        left = _failing(stand, _with(cutting, {knob: least}))
        if left < failing:
            value = _largest(knob, least, cutting, partial(_fails_no_more, stand, than=left))
            cutting = _with(cutting, {knob: least if value is None else value})
    return cutting


def _with(cutting: Cutting, values: Mapping[Knob, float]) -> Cutting:
    changed: dict[str, Any] = {str(knob): value for knob, value in values.items()}
    return replace(cutting, **changed)


def _turned(before: Cutting, after: Cutting) -> tuple[Turned, ...]:
    return tuple(Turned(knob, getattr(before, knob), getattr(after, knob)) for knob in KNOBS
                 if getattr(after, knob) < getattr(before, knob))  # fmt: skip


def _failing(stand: Stand, cutting: Cutting) -> frozenset[tuple[str, str]]:
    return frozenset((check.name, check.part) for check in judge_forces(stand, cutting)[1] if check.state == FAILS)


def _fails_no_more(stand: Stand, cutting: Cutting, than: frozenset[tuple[str, str]] = frozenset()) -> bool:
    return _failing(stand, cutting) <= than


def _least(knob: Knob, asked: Cutting) -> float:
    """A pass must be twice what is left for the finish."""
    return max(LEAST[knob], 2 * asked.finish_allowance) if knob == "pass_depth" else LEAST[knob]


def _largest(knob: Knob, least: float, cutting: Cutting, holds: Callable[[Cutting], bool]) -> float | None:
    """The largest value from ``least`` to the present one with which it holds, rounded down; None where none does.

    Every force grows with depth, feed and speed, so what holds ends once.
    """
    low, high = least, getattr(cutting, knob)
    if low > high or not holds(_with(cutting, {knob: low})):
        return None
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(_with(cutting, {knob: middle})) else (low, middle)
    rounded = round(floor(low / STEP[knob] + 1e-9) * STEP[knob], 6)
    return rounded if rounded >= least and holds(_with(cutting, {knob: rounded})) else low

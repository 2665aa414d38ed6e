"""The odds of every check of a plan: how likely it goes wrong for one part, and for any part of the batch.

Odds stand beside the verdict and never change it: the worst case decides, as before.  What "goes wrong" means, by
group of checks: the part lets go (no safety factor); less than a third of the grip is left; a plate is passed; form
takes more than its share of the tolerance at the worst; part or jaw yields or is marked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heldtrue.planning.corners import FORMS, STRENGTHS, Corners
from heldtrue.planning.judge import ROUNDING, YIELD_BEGINS, Setting, asked_tolerances, tolerance_limits
from heldtrue.planning.odds import holding, limits
from heldtrue.planning.odds.draws import Draws
from heldtrue.planning.odds.holding import HoldState
from heldtrue.planning.odds.pressing import MeasureState, PressState
from heldtrue.planning.odds.reliability import DRAWS, NEVER, Chance, chance, normals
from heldtrue.planning.odds.spread import Spread
from heldtrue.planning.odds.spreads import spreads_of
from heldtrue.planning.result import CUT, FORM, HOLD, LEFT, MARK, WORST_VALUE, YIELD, Check, Odds
from heldtrue.planning.study import PRESSING, Study

Array = NDArray[np.float64]
Values = Mapping[str, Array]
Margin = Callable[[Values], Array]

NOTHING = 1e-6
"""A smaller probability is none: no model of this kind is that sure."""
HARDLY = 1e-9
"""Of a part: even of a batch of thousands nothing is left of it."""
STRENGTH_PLACES = {"marking": 0, "yield: part": 1, "yield: jaw": 2}
STRENGTH_INPUTS = {"marking": "yield", "yield: part": "part yield", "yield: jaw": "jaw yield"}
TRIED = 48
"""Points at which every case, angle and motion of a load is compared."""
ROUNDS = 3
"""So often the exact program is asked where a load lets go first."""


def with_odds(study: Study, setting: Setting, checks: Sequence[Check]) -> tuple[Check, ...]:
    """The checks of a plan, each with its odds."""
    states = LimitStates(study, setting)
    return tuple(replace(check, odds=states.odds(check)) for check in checks)


class LimitStates:
    """The margins of every check of one setting for inputs drawn from their spreads."""

    def __init__(self, study: Study, setting: Setting) -> None:
        self.study, self.setting = study, setting
        self.parts = max(study.job.setup.part.quantity or 1, 1)

    @cached_property
    def spreads(self) -> dict[str, Spread]:
        """The spread of every input."""
        return spreads_of(self.study.job)

    def draws(self, names: Sequence[str]) -> Draws:
        """Some inputs to draw."""
        return Draws(self.study.job.known, self.spreads, names)

    @cached_property
    def hold_draws(self) -> Draws:
        """What holding depends on."""
        return self.draws(holding.INPUTS)

    @cached_property
    def press_draws(self) -> Draws:
        """What form, marking and yield depend on."""
        return self.draws(PRESSING)

    def odds(self, check: Check) -> Odds:
        """The odds of one check."""
        part, batch = self._chances(check)
        stated = self.study.job.setup.part.quantity
        return Odds(_seen(part), None if stated is None else _seen(part if batch is None else batch), stated,
                    max(part.error, NOTHING))  # fmt: skip

    def margin(self, check: Check) -> tuple[Draws, Margin] | None:
        """What is drawn for a check, and its margin; None where the load does not try the grip at all."""
        if check.group == HOLD:
            one = self._hold(check)
            return (self.hold_draws, one.margin) if one.is_tried else None
        if check.group in (FORM, MARK, YIELD):
            return self.press_draws, self._measured(check).margin
        return self._simple(check)

    def _chances(self, check: Check) -> tuple[Chance, Chance | None]:
        if check.group in (FORM, MARK, YIELD):
            if self._cannot(check):
                return NEVER, None
            return self._measured(check).chances(self.press_draws, self.parts)
        if check.group == HOLD:
            return self._held_chances(self._hold(check))
        draws, margin = self._simple(check)
        return self._of_batch(draws, margin, chance(draws.over(margin), draws.dimension))

    def _held_chances(self, state: HoldState) -> tuple[Chance, Chance | None]:
        """The chances that a load lets go, with the exact program asked where it does first."""
        if not state.is_tried:
            return NEVER, None
        draws = self.hold_draws
        for _ in range(ROUNDS):
            part = chance(draws.over(state.margin), draws.dimension)
            if part.value < NOTHING:
                break
            edge = normals(DRAWS, draws.dimension) if part.nearest is None else part.nearest[None, :]
            if not state.sharpen(draws.values(edge)):
                break
        return self._of_batch(draws, state.margin, part)

    def _of_batch(self, draws: Draws, margin: Margin, part: Chance) -> tuple[Chance, Chance | None]:
        if self.parts <= 1 or not any(self.spreads[name].scope == "part" for name in draws.names):
            return part, None
        if part.value + part.error < HARDLY:
            return part, None
        return part, chance(draws.over(margin, self.parts), draws.dimension)

    def _hold(self, check: Check) -> HoldState:
        held = next(one for one in self.study.holds.at(self.setting.speed_rpm) if one.name == check.subject)
        points = np.vstack([np.zeros((1, self.hold_draws.dimension)), normals(TRIED, self.hold_draws.dimension)[:-1]])
        return HoldState(self.study.holds, held, self.setting.pressure(held.name), self.setting.speed_rpm,
                         self.hold_draws.values(points))  # fmt: skip

    def _simple(self, check: Check) -> tuple[Draws, Margin]:
        if check.group == LEFT:
            return self.draws(limits.GRIP), limits.grip_left(self.study, self.setting)
        if check.group == CUT:
            surface = next(one for one in self.study.job.setup.surfaces if one.name == check.subject)
            return self.draws(limits.CUT), limits.under_cut(self.study, surface)
        return self.draws(limits.PRESSURE), limits.plate_margins(self.study, self.setting)[check.name]

    # Form, marking and yield

    def _cannot(self, check: Check) -> bool:
        """Does the worst case already stay within the limit, and no input leave the ranges it is taken over?"""
        if check.group == MARK and check.margin >= 1.0:
            return True
        worst = next((rule.margin for rule in check.rules if rule.name == WORST_VALUE), check.margin)
        return worst >= -ROUNDING and self.press_draws.is_bounded

    def _measured(self, check: Check) -> MeasureState:
        study = self.study
        if check.group == FORM:
            place, limit = next(
                (place, tolerance_limits(study.job, tolerance, asked)[1])
                for place, surface, tolerance, asked in asked_tolerances(study)
                if f"{tolerance}: {surface.name}" == check.name
            )
            return MeasureState(self._form_states, lambda v: np.full(len(v["friction"]), limit), place)
        times = YIELD_BEGINS if check.group == MARK else 1.0
        strength = STRENGTH_INPUTS[check.name]
        return MeasureState(self._strength_states, lambda v: times * v[strength], STRENGTH_PLACES[check.name])

    @cached_property
    def _form_states(self) -> list[PressState]:
        speed = self.study.finishing_speed(self.setting.speed_rpm)
        return [self._pressed(self.study.finished_corners, FORMS, self.setting.finishing, speed)]

    @cached_property
    def _strength_states(self) -> list[PressState]:
        study = self.study
        bodies = [study.finished_corners] + ([] if study.blank is study.finished else [study.blank_corners])
        return [self._pressed(one, STRENGTHS, self.setting.highest, self.setting.speed_rpm) for one in bodies]

    def _pressed(self, corners: Corners, kind: str, pressure: float, speed: float) -> PressState:
        return PressState(self.study, corners, kind, pressure, speed, self.press_draws)


def _seen(found: Chance) -> float:
    """A probability with no more digits than its error allows."""
    if found.value < NOTHING:
        return 0.0
    digits = 2 if found.error < 0.1 * found.value else 1
    return float(f"{min(found.value, 1.0):.{digits}g}")

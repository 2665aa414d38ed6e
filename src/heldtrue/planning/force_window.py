"""From what each cut needs and what each limit allows to a window of force, its checks and the state of a way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from heldtrue.planning.holds import is_spin_up
from heldtrue.planning.known import Known
from heldtrue.planning.other_way import ForceStep
from heldtrue.planning.result import (
    FAILS,
    FORM,
    HOLD,
    NOT_PROVEN,
    PASSES,
    PUBLISHED,
    WORST_CASE,
    Check,
    Rule,
    State,
)
from heldtrue.planning.setup import Setup

ROUNDING = 1e-9


@dataclass(frozen=True)
class Need:
    """Force that one load asks for by both rules, and at the best of every unknown [N]; ``by``: what gives way."""

    load: str
    published: float
    worst: float
    best: float
    by: str

    @property
    def most(self) -> float:
        """By the rule that asks for more. [N]"""
        return max(self.published, self.worst)


@dataclass(frozen=True)
class Line:
    """A measure that grows with the force: ``slope`` per newton, ``start`` at none, against ``limit``."""

    rule: str
    slope: float
    start: float
    limit: float

    def at(self, force: float) -> float:
        """The measure under a force. [N]"""
        return self.start + self.slope * force

    def margin(self, force: float) -> float:
        """Share of the limit that is free under a force. [N]"""
        return 1 - self.at(force) / self.limit

    @property
    def ceiling(self) -> float:
        """Most force. [N]  A start over the limit ends no window: no force changes it, and the check says so."""
        room = self.limit - self.start if self.start < self.limit else self.limit
        return room / self.slope if self.slope > 0 else inf


@dataclass(frozen=True)
class Ceiling:
    """One limit on the force: every line must stay under its limit; ``best``: with every unknown at its best."""

    name: str
    question: str
    group: str
    subject: str
    kind: str
    lines: tuple[Line, ...]
    best: Line
    decider: Known
    detail: str = ""

    @property
    def most(self) -> float:
        """Most force. [N]"""
        return min(line.ceiling for line in self.lines)


def steps_of(setup: Setup, needs: Sequence[Need], ceilings: Sequence[Ceiling]) -> tuple[ForceStep, ...]:
    """One force for all cuts, or, where it has no window, one for roughing and one for finishing."""
    finishing = tuple(cut.name for cut in setup.cuts if cut.finishing)
    every = tuple(cut.name for cut in setup.cuts)
    whole = _step("all cuts", every, needs, ceilings)
    rough = tuple(name for name in every if name not in finishing)
    if whole.is_open or not finishing or not rough:
        return (whole,)
    return (_step("rough", rough, needs, [one for one in ceilings if one.group != FORM]),
            _step("finish", finishing, needs, ceilings))  # fmt: skip


def _step(name: str, cuts: tuple[str, ...], needs: Sequence[Need], ceilings: Sequence[Ceiling]) -> ForceStep:
    asked = [one for one in needs if one.load in cuts or is_spin_up(one.load)]
    floor, ceiling = max(asked, key=lambda one: one.most), min(ceilings, key=lambda one: one.most)
    return ForceStep(name, cuts, floor.most, f"hold: {floor.load}", ceiling.most, ceiling.name,
                     max(one.best for one in asked), min(one.best.ceiling for one in ceilings))  # fmt: skip


def force_used(step: ForceStep) -> float:
    """Half way in the window but not more than half the floor above the floor; the floor where there is none. [N]"""
    return min((step.floor + step.ceiling) / 2, 1.5 * step.floor) if step.is_open else step.floor


def checks_at(
    steps: Sequence[ForceStep], needs: Sequence[Need], ceilings: Sequence[Ceiling], friction: Known
) -> tuple[Check, ...]:
    """Every check: of a load at the force of its step, of form at that of the last, of the rest at the greatest."""
    found = []
    for need in needs:
        of_load = [step for step in steps if need.load in step.cuts]
        found.append(_hold(need, of_load[0] if of_load else min(steps, key=force_used), friction))
    for ceiling in ceilings:
        found.append(_limit(ceiling, steps[-1] if ceiling.group == FORM else max(steps, key=force_used)))
    return tuple(found)


def _at_best(step: ForceStep) -> float:
    """Force at which a check is taken with every unknown at its best: where nothing is open, the least that may do."""
    return force_used(step) if step.is_open else step.best_floor


def _hold(need: Need, step: ForceStep, friction: Known) -> Check:
    force = force_used(step)
    rules = (Rule(PUBLISHED, force, need.published, _over(force, need.published)),
             Rule(WORST_CASE, force, need.worst, _over(force, need.worst)))  # fmt: skip
    tight, best = min(rules, key=lambda rule: rule.margin), _over(force, need.best)
    question = "Is it held while it spins up?" if is_spin_up(need.load) else f"Does it stay in during '{need.load}'?"
    return Check(f"hold: {need.load}", question, state_of(tight.margin, best), tight.value, tight.limit, "force",
                 tight.margin, best, friction.label, friction.source, friction.measure, need.by, HOLD, need.load, True,
                 rules)  # fmt: skip


def _over(has: float, needs: float) -> float:
    return has / needs - 1 if needs > 0 else inf


def _limit(ceiling: Ceiling, step: ForceStep) -> Check:
    force = force_used(step)
    rules = tuple(Rule(one.rule, one.at(force), one.limit, one.margin(force)) for one in ceiling.lines)
    tight, best = min(rules, key=lambda rule: rule.margin), ceiling.best.margin(_at_best(step))
    decider = ceiling.decider
    return Check(ceiling.name, ceiling.question, state_of(tight.margin, best), tight.value, tight.limit, ceiling.kind,
                 tight.margin, best, decider.label, decider.source, decider.measure, ceiling.detail, ceiling.group,
                 ceiling.subject, False, rules)  # fmt: skip


def state_of(margin: float, best: float) -> State:
    """Passes at the worst of every unknown, fails even at the best, or rests on an unknown."""
    if margin >= -ROUNDING:
        return PASSES
    return NOT_PROVEN if best >= -ROUNDING else FAILS


def state_of_way(steps: Sequence[ForceStep]) -> State:
    """A way with a tool nobody has read the plate of: never passes; fails where even the best of it breaks."""
    return NOT_PROVEN if all(step.may_be_open for step in steps) else FAILS

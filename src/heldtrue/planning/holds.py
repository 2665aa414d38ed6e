"""How every load is held, by two rules that must both hold; forces are total grips of all jaws.

*Published rule*: with table friction, table cutting force and the chuck as it is known, the grip at rest is at least
S (F + Fc) and 1.5 (1.5 F + Fc); F is the grip that the load needs, Fc what speed takes.

*Worst case*: with every input at the bad end of its range at once, nothing slips with 1.25 S/2 and nothing tips or
lifts with 1.5 S/2.  Torque and thrust are made 1.25 times, side forces and tilting moments 1.5 times as large, and that
load must be held S/2 times: so a motion between slipping and tipping is asked for a factor in between, without a jump.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import inf, pi
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from heldtrue.mechanics.holding import Grip, Holding, Wrench, limit_at, most_needed, unit_needs
from heldtrue.mechanics.spin import (
    IN_SERVICE,
    NEW,
    SAFETY,
    SAFETY_OVERHUNG,
    centrifugal_allowed,
    centrifugal_force,
    required_grip_at_rest,
)
from heldtrue.planning.inputs import Job
from heldtrue.planning.known import ASSUMED
from heldtrue.planning.loads import SPIN_UP, Load, loads, loads_of

Array = NDArray[np.float64]
Values = Mapping[str, float]

SLIP_FACTOR, TIP_FACTOR = 1.25, 1.5
"""What the worst case keeps against slipping, and against tipping and lifting, at a safety factor of 2: own rule,
measured on random setups (docs/theory.md)."""
LEAST_SHARE_OF_SAFETY = 0.8
"""A lower safety factor stated by the user lowers the worst case no further than to 1.0 against slipping."""
ANGLES = 8
"""Angles of the tool against the jaws at which every load is held."""
NEARLY = 0.5
"""A case whose estimate stays under this share of the worst is not solved: the worst estimate seen was a quarter off
(docs/falsifier.md), and the tests solve every case beside it."""
AT_ONCE = 6
"""Cases solved before the estimates of the others are looked at again."""
MANY_NEAR = 16
"""With more cases near than these, bounds from above are worth the nine cone programs that they rest on."""
LEAST_SOLVED = 3
"""Cases solved by each rule for a lower end of what loads need: on the examples it came to the worst within 1e-3."""
TIE = 1e-6
SEAT_LAND_MM = 3.0
"""Width of the face land each jaw seats the part on, where nothing is stated: common practice, no source."""
DECIDING = ("friction", "grip share", "threshold", "gauge error", "piston area", "seat", "wear", "interruption",
            "cutting data", "jaw moment", "off centre", "spin-up", "part mass")  # fmt: skip
OF_GRIP_ALONE = ("friction", "grip share", "threshold", "gauge error", "piston area", "jaw moment")
"""Inputs that no load is made of: loads are worked out without them, and asking for one is an error."""


@dataclass(frozen=True)
class Safety:
    """The factor S asked of every hold; ``why``: stated reason, or the state of chuck and support."""

    factor: float
    stated: str = ""
    overhung: bool = False
    serviced: bool = True

    @property
    def of_worst_case(self) -> float:
        """S/2: what the worst case is held with on top of its own factors."""
        return max(self.factor / 2, LEAST_SHARE_OF_SAFETY)


def safety_of(job: Job, *, seat: bool) -> Safety:
    """The safety factor for a part with or without a seat."""
    limits, chuck = job.setup.limits, job.setup.chuck
    overhung = job.is_overhung(seat=seat)
    # A grip that was read, and still stands, is what it is; else the state of the chuck counts.
    serviced = chuck.serviced is True or (
        chuck.serviced is None and (chuck.grease == "good" or job.grip_estimate.measured)
    )
    if limits is not None and limits.safety_factor is not None:
        return Safety(limits.safety_factor, limits.safety_reason or "", overhung, serviced)
    table = SAFETY_OVERHUNG if overhung else SAFETY
    return Safety(table[NEW if serviced else IN_SERVICE].value, "", overhung, serviced)


@dataclass(frozen=True)
class Case:
    """One load in one state with its holding limit: the worst of its name by one rule.

    ``needs``: total grip at rest that the rule asks for [N]; ``limit``: of the load as it is, or, in the worst case, of
    the load made larger (of ``Holds.least``: of any load); ``spindle``: the spindle limit it was found at [rev/min].
    """

    load: Load
    limit: Holding
    needs: float
    spindle: float


@dataclass(frozen=True)
class HeldLoad:
    """One cut, or the spin-up, by both rules at one spindle limit."""

    name: str
    published: Case
    worst: Case

    @property
    def speed_rpm(self) -> float:
        """Highest speed of the cases that decide. [rev/min]"""
        return max(self.published.load.speed_rpm, self.worst.load.speed_rpm)


class Holds:
    """The holding limits of one job, at any spindle limit, with a pool of the motions found so far."""

    def __init__(self, job: Job) -> None:
        self.job = job
        known = job.known
        self.worst = known.worst()
        self.published = {
            **known.likely(), **{name: known[name].worst for name in ("grip share", "seat")
                                 if known[name].source == ASSUMED},
        }  # fmt: skip
        self.hoped, self.best = known.hoped(), known.best()
        self._pool: dict[Grip, list[tuple[float, ...]]] = {}
        self._limits: dict[tuple[Grip, Wrench, float], Holding] = {}
        self.solved: dict[tuple[Grip, str], dict[tuple[float, ...], float]] = {}
        """What was solved of each load: the grip needed [N] by the load about mid grip, lengths in radii."""
        self._at: dict[float, tuple[HeldLoad, ...]] = {}
        self._loads: dict[Hashable, Load] = {}
        self._needs_elsewhere: dict[Hashable, float] = {}
        self.follows: Mapping[str, HeldLoad] | None = None
        """The loads of a study like this one: only their worst cases and angles are held again."""

    def at(self, limit: float) -> tuple[HeldLoad, ...]:
        """Every load at its worst by both rules, with this spindle limit. [rev/min]"""
        if limit not in self._at:
            self._at[limit] = self._every(limit, nearly=NEARLY)
        return self._at[limit]

    def _every(self, limit: float, *, nearly: float) -> tuple[HeldLoad, ...]:
        by_rule = [self._worst_cases(rule, limit, nearly) for rule in self.rules]
        return tuple(HeldLoad(name, by_rule[0][name], case) for name, case in by_rule[1].items())

    def near(self, limit: float) -> tuple[HeldLoad, ...]:
        """The same for looking for a speed: only the cases that the motions found so far make the worst are solved."""
        return self._at[limit] if limit in self._at else self._every(limit, nearly=1.0)

    def least(self, limit: float) -> tuple[HeldLoad, ...]:
        """Every load with no more grip than it needs, from ``LEAST_SOLVED`` solved cases by each rule: a lower end."""
        by_rule = [self._least_cases(rule, limit) for rule in self.rules]
        return tuple(HeldLoad(name, by_rule[0][name], case) for name, case in by_rule[1].items())

    def only(self, name: str, limit: float) -> tuple[HeldLoad, ...]:
        """One load alone, by name, with a spindle limit. [rev/min]"""
        by_rule = [self._search(rule, loads_of(self.job, name, rule.values, limit), limit, NEARLY)
                   for rule in self.rules]  # fmt: skip
        return (HeldLoad(name, *by_rule),)

    def follow_by_motions(self, held: Sequence[HeldLoad], limit: float) -> None:
        """Take the worst cases of a job like this one with its motions as this job's: nothing is solved.

        A motion gives a lower end of what a load needs: right for looking round, not for a plan to run.
        """
        self._at[limit] = tuple(
            HeldLoad(one.name, self._by_motion(self._published, one.published), self._by_motion(self._worst, one.worst))
            for one in held
        )

    def _by_motion(self, rule: Rule, case: Case) -> Case:
        load = loads_of(self.job, case.load.name, rule.values, case.spindle, case.load.number)[0]
        if not case.limit.motion:
            return replace(case, load=load)
        vector = rule.enlarged(load).turned(case.limit.angle).about(rule.grip.middle, rule.grip.radius)
        power = float(vector @ np.asarray(case.limit.motion))
        resisted = float(rule.grip.resistance(case.limit.motion, np.array(rule.values["friction"])))
        factor = max(resisted, 0.0) / power if power > 0 else inf
        limit = replace(case.limit, factor=factor)
        return replace(case, load=load, limit=limit, needs=self._needs(rule, load, factor))

    # What a rule asks for

    @property
    def rules(self) -> tuple[Rule, Rule]:
        """The published rule and the worst case."""
        return self._published, self._worst

    @cached_property
    def _published(self) -> Rule:
        return Rule(self, self.published, slip=1.0, tip=1.0)

    @cached_property
    def _worst(self) -> Rule:
        return Rule(self, self.worst, slip=SLIP_FACTOR, tip=TIP_FACTOR)

    def needs_at(self, case: Case, speed_rpm: Array, *, published: bool) -> Array:
        """Grip at rest that a case asks for at slower speeds, its load staying as it is, shape of ``speed_rpm``. [N]"""
        rule = self._published if published else self._worst
        pull = self.lost(rule.values, 1.0)
        if case.limit.factor <= 0:
            return np.full(np.shape(speed_rpm), inf)
        return rule.needs_of(np.full(np.shape(speed_rpm), 1 / case.limit.factor), pull * np.asarray(speed_rpm) ** 2)

    def spare_of(self, case: Case, grip: float, *, published: bool) -> float:
        """What speed may take of a grip at rest with the rule still kept for a case: ``needs_at`` turned round. [N]"""
        factor = case.limit.factor
        return (self._published if published else self._worst).spare_of(1 / factor if factor > 0 else inf, grip)

    def lost(self, values: Values, speed_rpm: float) -> float:
        """What speed takes off the grip: the jaws' pull outside, nothing inside. [N]"""
        return centrifugal_force(values["jaw moment"], speed_rpm) if self.job.grip_is_outside else 0.0

    def _needs(self, rule: Rule, load: Load, factor: float) -> float:
        if factor <= 0:
            return inf
        return float(rule.needs_of(1 / factor, self.lost(rule.values, load.speed_rpm)))

    # The worst case of each load

    def spread(self, rule: Rule, cases: Sequence[Load]) -> Spread:
        """Cases at every angle of the tool."""
        turns = 2 * pi / rule.grip.jaws * np.arange(ANGLES) / ANGLES
        vectors = turned_loads([rule.enlarged(load) for load in cases], turns, rule.grip)
        return Spread(vectors, np.repeat([self.lost(rule.values, load.speed_rpm) for load in cases], ANGLES), turns)

    def motions(self, rule: Rule) -> Sequence[tuple[float, ...]]:
        """The motions found so far in which the grip of a rule gives way."""
        return self._pool.get(rule.grip, [])

    def _worst_cases(self, rule: Rule, limit: float, nearly: float) -> dict[str, Case]:
        found: dict[str, Case] = {}
        by_name: dict[str, list[Load]] = {}
        for load in loads(self.job, rule.values, limit):
            by_name.setdefault(load.name, []).append(load)
        for name, cases in by_name.items():
            before = None if self.follows is None else self.follows.get(name)
            if before is not None:
                found[name] = self._again(rule, cases, before, limit, nearly)
            else:
                found[name] = self._search(rule, cases, limit, nearly)
        return found

    def _again(self, rule: Rule, cases: Sequence[Load], before: HeldLoad, spindle: float, nearly: float) -> Case:
        """The case and angle that were the worst of a study like this one, held again."""
        known = before.worst if rule.slip > 1 else before.published
        if known.load.number >= len(cases):
            return self._search(rule, cases, spindle, nearly)
        return self._solve(rule, cases[known.load.number], known.limit.angle, spindle)

    def _solve(self, rule: Rule, load: Load, angle: float, spindle: float) -> Case:
        key = (rule.grip, rule.enlarged(load), angle)
        if key not in self._limits:
            self._limits[key] = limit_at(*key)
            if self._limits[key].motion:
                self._pool.setdefault(rule.grip, []).append(self._limits[key].motion)
        held = self._limits[key]
        return Case(load, held, self._needs(rule, load, held.factor), spindle)

    def _search(self, rule: Rule, cases: Sequence[Load], spindle: float, nearly: float) -> Case:
        """The worst over cases and angles: solve where the estimate is worst, until none left comes near.

        Where many come near, those that are proven to need no more than the worst so far (``most_needed``) are not
        solved.
        """
        vectors, lost, turns = self.spread(rule, cases)
        known = self.solved.setdefault((rule.grip, cases[0].name), {})
        pool = self._pool.setdefault(rule.grip, [])
        # Power on a motion is grip that is needed at least; the motions known so far give a lower end.
        least = np.maximum((vectors @ np.array(pool).T).max(axis=1), 0.0) if pool else np.zeros(len(vectors))
        open_ = np.ones(len(vectors), bool)
        worst: Case | None = None
        solved: dict[int, float] = {}
        while open_.any():
            needs = np.where(open_, rule.needs_of(least, lost), -1.0)
            near = np.flatnonzero(needs >= nearly * worst.needs) if worst is not None else np.array([needs.argmax()])
            if not len(near):
                break
            # One by one where the next may be the last, else some at once: all of them are solved in the end.
            near = near[np.argsort(-needs[near], kind="stable")]
            for first in near[: AT_ONCE if nearly < 1 else 1].tolist():
                case = self._solve(rule, cases[first // ANGLES], float(turns[first % ANGLES]), spindle)
                open_[first] = False
                if case.limit.motion:
                    least = np.maximum(least, vectors @ np.array(case.limit.motion))
                if case.limit.factor > 0:
                    solved[first] = known[tuple(vectors[first].tolist())] = 1 / case.limit.factor
                # Equally bad cases: the first stands, whatever the solver's last digits.
                if worst is None or case.needs > worst.needs * (1 + TIE):
                    worst = case
            assert worst is not None
            if len(near) > MANY_NEAR and solved:
                by = vectors[list(solved)], np.array(list(solved.values()))
                most = most_needed(vectors, *by, unit_needs(rule.grip))
                open_ &= rule.needs_of(most, lost) * (1 + TIE) > worst.needs
                solved = {}
        assert worst is not None
        return worst

    def _least_cases(self, rule: Rule, spindle: float) -> dict[str, Case]:
        """The worst case of each load as far as a few motions say: power on one is grip that is needed at least."""
        every = loads(self.job, rule.values, spindle)
        vectors, lost, turns = self.spread(rule, every)
        solved: dict[int, Case] = {}
        least = np.zeros(len(vectors))
        at = int(np.abs(vectors[:, 5]).argmax())  # most torque first, then whatever looks worst
        for _ in range(LEAST_SOLVED):
            solved[at] = self._solve(rule, every[at // ANGLES], float(turns[at % ANGLES]), spindle)
            if solved[at].limit.motion:
                least = np.maximum(least, vectors @ np.array(solved[at].limit.motion))
            needs = rule.needs_of(least, lost)
            needs[list(solved)] = [case.needs for case in solved.values()]
            at = int(needs.argmax())
            if at in solved:
                break
        worst: dict[str, Case] = {}
        for number, load in enumerate(every):
            here = int(number * ANGLES + needs[number * ANGLES : (number + 1) * ANGLES].argmax())
            if load.name not in worst or needs[here] > worst[load.name].needs:
                limit = solved[here].limit if here in solved else next(iter(solved.values())).limit
                worst[load.name] = Case(load, limit, float(needs[here]), spindle)
        return worst

    # Other values of the inputs

    def published_at(self, case: Case, values: Values, *, exact: bool) -> float:
        """Grip at rest that the published rule asks for with the inputs at ``values``. [N]"""
        return self._elsewhere(case, values, 1.0, 1.0, exact=exact)

    def worst_at(self, case: Case, values: Values, *, exact: bool) -> float:
        """Grip at rest that the worst-case rule asks for with the inputs at ``values``. [N]"""
        return self._elsewhere(case, values, SLIP_FACTOR, TIP_FACTOR, exact=exact)

    def _elsewhere(self, case: Case, values: Values, slip: float, tip: float, *, exact: bool) -> float:
        """Same case and tool angle; never more than the worst case and angle would ask for."""
        key = (case.load.name, case.load.number, case.spindle, case.limit.angle, slip, exact, *values.values())
        if key not in self._needs_elsewhere:
            self._needs_elsewhere[key] = self._needs_at(Rule(self, values, slip=slip, tip=tip), case, exact=exact)
        return self._needs_elsewhere[key]

    def _load_at(self, case: Case, values: Values) -> Load:
        """The load of a case with the inputs at ``values``, kept: most inputs move the grip alone."""
        there = {name: value for name, value in values.items() if name not in OF_GRIP_ALONE}
        key = (case.load.name, case.load.number, case.spindle, *there.values())
        if key not in self._loads:
            self._loads[key] = loads_of(self.job, case.load.name, there, case.spindle, case.load.number)[0]
        return self._loads[key]

    def _needs_at(self, rule: Rule, case: Case, *, exact: bool) -> float:
        load = self._load_at(case, rule.values)
        if exact or not case.limit.motion:
            return self._needs(rule, load, limit_at(rule.grip, rule.enlarged(load), case.limit.angle).factor)
        vector = rule.enlarged(load).turned(case.limit.angle).about(rule.grip.middle, rule.grip.radius)
        power = float(vector @ np.asarray(case.limit.motion))
        here = self._worst if rule.slip > 1 else self._published
        share = rule.values["friction"] / here.values["friction"]
        return self._needs(rule, load, share / power if power > 0 else inf)

    @lru_cache(maxsize=16)  # noqa: B019  holds live as long as their study
    def grip(self, friction: float, seat: bool) -> Grip:
        """Where the part is held, for the holding limit."""
        setup, section = self.job.setup, self.job.section
        stop = None
        if seat:
            inner, outer = setup.grip.seat_diameters or _seat_diameters(self.job)
            stop = (section.lowest, inner / 2, outer / 2)
        return Grip(setup.grip.side, self.job.grip_radius, setup.grip.z, self.job.half_angle, self.job.jaws, friction,
                    stop, section.highest if setup.grip.centre else None)  # fmt: skip


class Spread(NamedTuple):
    """Cases at every angle of the tool, the angles of a case one after the other.

    ``vectors``: loads about mid grip with lengths in radii (cases x angles, 6); ``lost``: what speed takes off the grip
    of each [N]; ``turns``: the angles (angles,) [rad].
    """

    vectors: Array
    lost: Array
    turns: Array


class Rule:
    """One rule with the inputs it is asked at."""

    def __init__(self, holds: Holds, values: Values, *, slip: float, tip: float) -> None:
        self.values, self.slip, self.tip = values, slip, tip
        seat = values["seat"] > 0
        self.grip = holds.grip(values["friction"], seat)
        self.safety = safety_of(holds.job, seat=seat)

    def needs_of(self, cut_grip: Array | float, lost: Array | float) -> Array:
        """Grip at rest that the rule asks for, of loads that need ``cut_grip`` with no safety and lose ``lost``. [N]"""
        if self.slip > 1.0:
            return np.asarray(self.safety.of_worst_case * cut_grip + lost)
        return np.asarray(required_grip_at_rest(np.asarray(cut_grip), np.asarray(lost), self.safety.factor))

    def spare_of(self, cut_grip: float, grip: float) -> float:
        """What may be lost of a grip at rest with the rule still kept: ``needs_of`` turned round. [N]"""
        if self.slip > 1.0:
            return grip - self.safety.of_worst_case * cut_grip
        return centrifugal_allowed(grip, cut_grip, self.safety.factor)

    def enlarged(self, load: Load) -> Wrench:
        """The load as this rule takes it."""
        return load.wrench if self.slip == self.tip == 1.0 else load.wrench.weighted(self.slip, self.tip)


def turned_loads(loads: Sequence[Wrench], turns: Array, grip: Grip) -> Array:
    """Every load at every angle of the tool, about mid grip with lengths in radii, shape (loads x angles, 6)."""
    about = np.array([load.about(grip.middle, grip.radius) for load in loads]).reshape(-1, 2, 3)
    cos, sin = np.cos(turns), np.sin(turns)
    x, y, z = (about[:, None, :, i] for i in range(3))
    turned = np.stack([x * cos[:, None] - y * sin[:, None], x * sin[:, None] + y * cos[:, None],
                       np.broadcast_to(z, (len(about), len(turns), 2))], axis=-1)  # fmt: skip
    return turned.reshape(-1, 6)


def is_spin_up(name: str) -> bool:
    """Is this the part brought to speed with nothing cutting?"""
    return name == SPIN_UP


def _seat_diameters(job: Job) -> tuple[float, float]:
    """Inner and outer diameter of the part's lowest face over the land next to the gripped surface. [mm]"""
    low = job.section.lowest
    radii = [r for r, z in job.section.corners if abs(z - low) < 1e-6]
    inner, outer = min(radii), max(radii)
    for one in job.setup.part.not_round or ():
        if one.side == "outside" and one.z[0] - 1e-6 < low < one.z[1]:
            outer = min(outer, one.diameters[0] / 2)  # a hexagon stands on its flats, not on the circle of its corners
            inner = min(inner, outer)
    if job.grip_is_outside:
        outer = min(outer, job.grip_radius)
        inner = max(inner, outer - SEAT_LAND_MM)
    else:
        inner = max(inner, job.grip_radius)
        outer = min(outer, inner + SEAT_LAND_MM)
    return 2 * min(inner, outer), 2 * max(inner, outer)

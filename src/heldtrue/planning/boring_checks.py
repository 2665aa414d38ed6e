"""What has to stand the forces while jaws are bored, and whether it does: every check once, as data.

The push on the ring has the two rules of a plan (``planning.holds``): the published one with table values, the worst
case with every input at its bad end.  Every other check is taken at the worst forces.  N, mm, rev/min, N mm, W.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import inf
from typing import Literal

from heldtrue.mechanics.boring_bar import BAR_YOUNG, BEAM, MOST_SLENDERNESS, BarMaterial, bar_deflection
from heldtrue.mechanics.cutting import cutting_force_range
from heldtrue.mechanics.materials import Datum
from heldtrue.mechanics.spin import centrifugal_force, required_grip_at_rest
from heldtrue.planning.boring_forces import Edge, Metal, Part, PassForce, passes
from heldtrue.planning.holds import SLIP_FACTOR, TIP_FACTOR, Safety
from heldtrue.program.job import FINISH_SLACK_MM, Cutting

State = Literal["holds", "fails", "to correct", "not checked"]
HOLDS: State = "holds"
FAILS: State = "fails"
TO_CORRECT: State = "to correct"
NOT_CHECKED: State = "not checked"
RING, SLIDE, TIP, EDGE, FEED, TORQUE, POWER, SLENDER, GIVE, SIZE = (
    "ring", "slide", "tip", "edge", "feed", "torque", "power", "slender", "give", "size",
)  # fmt: skip

_CP = "common practice, no source"
EFFICIENCY = Datum(0.8, f"{_CP}: of the spindle drive, low end of 0.8 to 0.9", 0.8, 0.9)
EDGE_SHARE = Datum(2 / 3, f"{_CP}: share of an edge's length that may cut")
FEED_SHARE = Datum(0.8, f"{_CP}: feed over nose radius")
JOINT_FRICTION = Datum(0.12, "from memory: VDI 2230, steel on steel, low end oiled", 0.10, 0.20)
STIFFER = Datum(3.0, "own rule: the drive of a jaw may be so many times as stiff as read; a stiffer one is worse")
MOST_MARGIN = 1e6
"""A margin is no larger: nothing is needed."""
LEAN = "the jaw leans as its base lets it (docs/boring.md)"


@dataclass(frozen=True)
class ForceCheck:
    """One thing that must stand the cut.

    ``value`` against ``limit``, in core units of ``kind`` (a kind of ``heldtrue.quantities``); ``part``: the pass it is
    about; ``state``: "to correct" is no refusal, but something to measure and put right at the machine; ``source``: who
    says so; ``measure``: what to state where it could not be checked, then ``limit`` is None.
    """

    name: str
    part: Part
    value: float
    limit: float | None
    kind: str
    state: State
    source: str
    measure: str = ""

    @property
    def margin(self) -> float:
        """What is there over what is needed; 0 where it could not be checked."""
        if self.limit is None:
            return 0.0
        return min(self.limit / self.value, MOST_MARGIN) if self.value > 0 else MOST_MARGIN


@dataclass(frozen=True)
class RingRule:
    """One rule for the push of one jaw on the ring.

    ``push``: at rest, at the boring pressure [N]; ``moment``: mass times radius of one jaw, whose pull an outside grip
    loses, 0 for an inside grip [kg mm].
    """

    push: float
    moment: float
    safety: Safety
    worst: bool

    def needs(self, off: float, speed: float) -> float:
        """Push at rest that the rule asks for against a force that pushes the jaw off the ring. [N]"""
        lost = centrifugal_force(self.moment, speed)
        if self.worst:
            return self.safety.of_worst_case * TIP_FACTOR * off + lost
        return required_grip_at_rest(off, lost, self.safety.factor)


@dataclass(frozen=True)
class Bar:
    """What carries the edge: thickness and overhang [mm], what it is made of.

    ``is_stated``: is the material said?  ``is_known``: is there a tool at all, or was a usual one taken?
    """

    diameter: float
    overhang: float
    material: BarMaterial = "steel"
    is_stated: bool = False
    is_known: bool = True

    def give(self, force: float) -> float:
        """How far it gives way across under a force [N], at its weakest. [mm]"""
        return bar_deflection(force, self.diameter, self.overhang, BAR_YOUNG[self.material].least)

    @property
    def slenderness(self) -> float:
        """Overhang in diameters."""
        return self.overhang / self.diameter


@dataclass(frozen=True)
class Joint:
    """Top jaw on master jaw: ``clamp`` of all its bolts at the least [N], half the width it bears on [mm].

    Teeth and tongues hold the jaw along the slot; round the chuck it is held by what the bolts press.
    """

    clamp: float
    half_width: float


@dataclass(frozen=True)
class Stand:
    """What holds a jaw while it is cut, and what drives and cuts.

    ``ring_height``: middle of the ring above the master jaw [mm]; ``radial`` [N/mm] and ``tilt`` [N mm/rad]: greatest
    stiffness of the drive of one jaw, least of what it leans on; ``power`` [W] and ``torque`` [N mm] of the spindle,
    None where nothing is stated; ``edge_is_stated``: its length; ``safety``: of the chuck as it is; ``tolerance``:
    width of that of the bore [mm].
    """

    metal: Metal
    edge: Edge
    edge_is_stated: bool
    bar: Bar
    joint: Joint
    safety: Safety
    tolerance: float
    ring_height: float
    radial: float
    tilt: float
    rules: tuple[RingRule, ...]
    power: float | None
    torque: float | None


def judge_forces(stand: Stand, cutting: Cutting) -> tuple[tuple[PassForce, ...], tuple[ForceCheck, ...]]:
    """Every kind of pass at its worst, and every check on each of them."""
    # What the bar gives way along the line is left to the finish; more than that is refused.
    along = next(one for one in passes(stand.metal, stand.edge, cutting, worst=True) if one.part == "contour")
    give = min(stand.bar.give(along.passive), _give_limit(cutting))
    worst = passes(stand.metal, stand.edge, cutting, worst=True, give=give)
    table = passes(stand.metal, stand.edge, cutting, worst=False, give=give)
    found = [_on_ring(stand, *both) for both in zip(worst, table, strict=True)]
    for one in worst:
        found += [_edge(stand, one), _feed(stand, one), _drive(stand, one, TORQUE), _drive(stand, one, POWER)]
        found += [_give(stand, cutting, one), _slide(stand, one), _tip(stand, one)]
    rough = next(one for one in worst if one.part == "rough")
    return worst, (*found, _slender(stand, rough), _size(stand, worst[-1]))


def judge_plunge(stand: Stand, one: PassForce) -> tuple[ForceCheck, ...]:
    """What a plunge of the groove for the ring asks of spindle and joint."""
    return (_drive(stand, one, TORQUE), _drive(stand, one, POWER), _slide(stand, one), _tip(stand, one))


def deciding(checks: Iterable[ForceCheck]) -> tuple[ForceCheck, ...]:
    """Of each check the pass that leaves least."""
    least: dict[str, ForceCheck] = {}
    for check in checks:
        before = least.get(check.name)
        if before is None or (check.margin, -check.value) < (before.margin, -before.value):
            least[check.name] = check
    return tuple(least.values())


def all_hold(checks: Iterable[ForceCheck]) -> bool:
    """Does none of them fail? One that could not be made does not."""
    return all(check.state != FAILS for check in checks)


def lever(stand: Stand, height: float) -> float:
    """How many times as much a push off the ring at a height takes off the ring.

    A rigid jaw on a radial spring k (its drive) at its foot and a tilting spring t (its base), held by a rigid ring at
    height r: a push F at height h takes F (1 + k r (h - r) / (t + k r**2)) off the ring.  With a drive that gives way
    freely that is F, with a base that tilts freely F h / r.  Below the ring no less than F is counted.
    """
    r, k = stand.ring_height, stand.radial
    return 1.0 + k * r * max(height - r, 0.0) / (stand.tilt + k * r**2)


def _on_ring(stand: Stand, worst: PassForce, table: PassForce) -> ForceCheck:
    """The push of the jaw on its ring against what pushes it off, by the rule that leaves least."""
    found = []
    for rule in stand.rules:
        one = worst if rule.worst else table
        off = max(push * lever(stand, height) for push, height in one.pushes)
        found.append((rule.needs(off, one.speed), rule.push))
    needs, push = max(found, key=lambda pair: pair[0] / pair[1] if pair[1] > 0 else inf)
    kc = cutting_force_range(stand.metal.material)
    return _check(RING, worst, needs, push, "force", f"two rules of holding, as in a plan; {kc.source}; {LEAN}")


def _slide(stand: Stand, one: PassForce) -> ForceCheck:
    """The cutting force round the chuck against the friction under the bolts; as a slip of the worst case."""
    needs = stand.safety.of_worst_case * SLIP_FACTOR * one.cutting
    holds = JOINT_FRICTION.least * max(stand.joint.clamp - one.lift, 0.0)
    return _check(SLIDE, one, needs, holds, "force", f"friction {JOINT_FRICTION.least:g} ({JOINT_FRICTION.source})")


def _tip(stand: Stand, one: PassForce) -> ForceCheck:
    """The cutting force at the jaw front against the bolts, about the edge of what the top jaw stands on."""
    needs = stand.safety.of_worst_case * TIP_FACTOR * one.cutting * stand.metal.front
    holds = max(stand.joint.clamp - one.lift, 0.0) * stand.joint.half_width
    return _check(TIP, one, needs, holds, "torque", "statics: the joint may not open; least preload of the bolts")


def _edge(stand: Stand, one: PassForce) -> ForceCheck:
    source = EDGE_SHARE.source if stand.edge_is_stated else f"{EDGE_SHARE.source}; its length is assumed"
    return _check(EDGE, one, one.edge, EDGE_SHARE.value * stand.edge.length, "length", source)


def _feed(stand: Stand, one: PassForce) -> ForceCheck:
    return _check(FEED, one, one.feed, FEED_SHARE.value * stand.edge.nose_radius, "feed", FEED_SHARE.source)


def _drive(stand: Stand, one: PassForce, name: str) -> ForceCheck:
    if name == TORQUE:
        return _check(TORQUE, one, one.torque, stand.torque, "torque", "plate of the machine", "machine.torque")
    source = f"plate of the machine, efficiency {EFFICIENCY.least:g} ({EFFICIENCY.source})"
    return _check(POWER, one, one.power / EFFICIENCY.least, stand.power, "power", source, "machine.power")


def _slender(stand: Stand, one: PassForce) -> ForceCheck:
    limit = MOST_SLENDERNESS[stand.bar.material]
    return _of_bar(stand, SLENDER, one, stand.bar.slenderness, limit.value, "ratio", limit.source)


def _give_limit(cutting: Cutting) -> float:
    """How far the bar may give way: what is left for the finish, or without one half a pass. [mm]"""
    if cutting.finish_allowance < FINISH_SLACK_MM / 2:
        return cutting.pass_depth / 2
    return cutting.finish_allowance


def _give(stand: Stand, cutting: Cutting, one: PassForce) -> ForceCheck:
    gives = stand.bar.give(max(push for push, _ in one.pushes))
    source = f"{BEAM}; no more than the finish takes: own rule"
    return _of_bar(stand, GIVE, one, gives, _give_limit(cutting), "length", source)


def _size(stand: Stand, one: PassForce) -> ForceCheck:
    """What the bar gives way on the finished wall, on diameter: it can be measured and put right."""
    gives, source = 2 * stand.bar.give(one.passive), f"{BEAM}; tolerance of the bore"
    found = _of_bar(stand, SIZE, one, gives, stand.tolerance, "length", source)
    return replace(found, state=TO_CORRECT) if found.state == FAILS else found


def _of_bar(stand: Stand, name: str, one: PassForce, value: float, limit: float, kind: str, source: str) -> ForceCheck:
    """A check of the bar; a usual bar that nobody stated proves nothing."""
    return _check(name, one, value, limit if stand.bar.is_known else None, kind, source, "boring.tool")


def _check(
    name: str, one: PassForce, value: float, limit: float | None, kind: str, source: str, measure: str = ""
) -> ForceCheck:
    if limit is None:
        return ForceCheck(name, one.part, value, None, kind, NOT_CHECKED, source, measure)
    state: State = HOLDS if value <= limit * (1 + 1e-9) else FAILS
    return ForceCheck(name, one.part, value, limit, kind, state, source)

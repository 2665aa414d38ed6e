"""The forces while jaws are bored, at their worst: what each kind of pass cuts, and how hard it pushes on one jaw.

A jaw is an interrupted cut with an edge that may be worn and a metal at the high end of its table, as in a plan
(``mechanics.cutting``).  Roughing and the pass along the line feed towards the chuck or across, onto the ring: of them
the passive force alone pushes the jaw off its ring.  The corner relief and the finish turn through every direction: of
them all of the push in the section counts.  N, mm, rev/min, N mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, pi, radians, sin
from typing import Literal

from heldtrue.mechanics import operations
from heldtrue.mechanics.cutting import (
    INTERRUPTED,
    WEAR_UNKNOWN,
    CutConditions,
    cutting_force_range,
    surface_speed,
)
from heldtrue.mechanics.materials import WorkMaterial
from heldtrue.program.job import FINISH_SHARE, FINISH_SLACK_MM, Cutting
from heldtrue.tooling.bore import BoreDesign

Part = Literal["face", "rough", "contour", "relief", "finish", "groove"]

RUN_IN_DEG = 45.0
"""A relief is run into by so much from the wall at the most: there the edge meets it that much flatter."""
LEAST_LEAD_DEG = 5.0
SHALLOWER = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4)
BEYOND_METAL_MM = 2.0
"""The tool goes past the end of the metal by no more than this and two noses: there it turns fastest."""
UNREAD_RUNOUT_MM = 0.05
"""Run-out of a used bore nobody read: what a set put back repeats to at its worst (common practice, no source)."""


@dataclass(frozen=True)
class Metal:
    """What is cut, and where: ``kind`` bore or turn; ``diameters``: least and greatest that the edge works at.

    ``proud``: how much more than the middle of a jaw stands out towards the tool, for the first pass; ``relief``:
    radial depth of the corner relief; heights above the master jaw: ``relief_height`` of its upper end, ``front`` of
    the jaws; ``face``: what is turned off that front first. [mm]
    """

    material: WorkMaterial
    kind: Literal["bore", "turn"]
    diameters: tuple[float, float]
    proud: float
    relief: float
    relief_height: float
    front: float
    face: float = 0.0


@dataclass(frozen=True)
class Edge:
    """The cutting edge: lead angle from the feed towards the chuck [deg], nose radius and length of the edge [mm]."""

    lead: float
    nose_radius: float
    length: float


@dataclass(frozen=True)
class PassForce:
    """One kind of pass at its worst.

    ``depth`` [mm] and ``feed`` [mm/rev]; ``edge``: length of edge that cuts [mm]; ``cutting``, ``feeding`` and
    ``passive`` force [N] with the edge as it meets the wall; ``pushes``: what may push the jaw off its ring, each with
    the height above the master jaw at which it acts [N, mm]; ``lift``: what may pull the jaw off the chuck [N];
    ``speed``: highest while it cuts [rev/min]; ``torque`` about the spindle [N mm]; ``power`` at the edge [W].
    """

    part: Part
    depth: float
    feed: float
    edge: float
    cutting: float
    feeding: float
    passive: float
    pushes: tuple[tuple[float, float], ...]
    lift: float
    speed: float
    torque: float
    power: float


def metal_of(material: WorkMaterial, made: BoreDesign, nose_radius: float, *, runout: float | None = None) -> Metal:
    """What the program of a design cuts.

    Its metal is all that turning jaws sweep, corners of flat ends and an old bore off the axis too.  ``runout``: of a
    used bore [mm], 0 for new jaws, None where nobody read it.
    """
    outside = made.side == "outside"
    proud = (UNREAD_RUNOUT_MM if runout is None else runout) / 2
    before, after = [x for x, _ in made.metal], [x for x, _ in made.profile]
    least = min([*before, *after] if outside else after) - BEYOND_METAL_MM - 2 * nose_radius
    greatest = max(after) if outside else max([*before, *after]) + proud
    return Metal(
        material, "bore" if outside else "turn", (2 * max(least, 1.0), 2 * greatest), proud, made.relief[1],
        made.height - made.depth + made.relief[0] + made.relief[1], made.height,
        made.face_off if made.faced_by_program else 0.0,
    )  # fmt: skip


def finish_depth(cutting: Cutting) -> float:
    """The deepest that a proved program may cut while it makes the finished line. [mm]"""
    if cutting.finish_allowance < FINISH_SLACK_MM / 2:
        return cutting.pass_depth
    return min(FINISH_SHARE * cutting.finish_allowance + FINISH_SLACK_MM, cutting.pass_depth)


def passes(metal: Metal, edge: Edge, cutting: Cutting, *, worst: bool, give: float = 0.0) -> tuple[PassForce, ...]:
    """Every kind of pass at its deepest.

    ``worst``: worn edge and the metal at the high end of its table, else table values; ``give``: how much the bar gives
    way in the pass along the line, which is left to the finish [mm].
    """
    finish = finish_depth(cutting)
    relief = min(cutting.pass_depth, metal.relief + finish)
    kinds: tuple[tuple[Part, float, float], ...] = (
        ("rough", cutting.pass_depth + metal.proud, cutting.rough_feed),
        ("contour", cutting.pass_depth + metal.proud, cutting.rough_feed),
        ("relief", relief, cutting.finish_feed),
        ("finish", finish + give, cutting.finish_feed),
    )
    if metal.face > 0:  # no deeper than the nose, as the path has it
        kinds = (("face", min(cutting.pass_depth, edge.nose_radius, metal.face), cutting.finish_feed), *kinds)
    return tuple(_pass(metal, edge, cutting, part, depth, feed, worst=worst) for part, depth, feed in kinds)


def plunge(metal: Metal, width: float, feed: float, diameter: float, cutting: Cutting) -> PassForce:
    """A blade that plunges into the jaw fronts, at its worst: it pushes the jaws on to the chuck and off nothing.

    ``width`` of the blade, ``diameter`` of the groove's outer wall [mm]; ``feed`` [mm/rev].
    """
    kc11 = cutting_force_range(metal.material)
    conditions = CutConditions(wear=WEAR_UNKNOWN.most, interrupted=INTERRUPTED.most)
    load = operations.groove(kc11.most, metal.material.mc.value, diameter=diameter, width=width, feed=feed, z=0.0,
                             side="face", conditions=conditions)  # fmt: skip
    cut = max(case.tangential for case in load.cases)
    into = max(abs(case.axial) for case in load.cases)
    speed = speed_at(cutting, diameter)
    return PassForce("groove", width, feed, width, cut, into, 0.0, (), 0.0, speed, cut * diameter / 2,
                     cut * surface_speed(diameter, speed) / 60.0)  # fmt: skip


def speed_at(cutting: Cutting, diameter: float) -> float:
    """Spindle speed while a diameter [mm] is cut. [rev/min]"""
    if cutting.fixed_speed is not None:
        return cutting.fixed_speed
    return min(1000 * cutting.surface_speed / (pi * diameter), cutting.spindle_limit)


def _pass(
    metal: Metal, edge: Edge, cutting: Cutting, part: Part, depth: float, feed: float, *, worst: bool
) -> PassForce:
    fc, ff, fp = forces(metal, edge, depth, feed, edge.lead, worst=worst)
    pushes, lift, most = [(fp, metal.front)], 0.0, fc
    if part in ("face", "relief", "finish"):
        flat = forces(metal, edge, depth, feed, max(edge.lead - RUN_IN_DEG, LEAST_LEAD_DEG), worst=worst)
        any_way = max(hypot(ff, fp), hypot(*flat[1:]))
        height = metal.relief_height if part != "face" else metal.front + metal.face
        pushes = [*(pushes if part == "finish" else ()), (any_way, height)]
        lift, most = any_way, max(fc, flat[0])
    least, greatest = metal.diameters
    at_greatest = speed_at(cutting, greatest)
    return PassForce(
        part, depth, feed, depth / sin(radians(edge.lead)), most, ff, fp, tuple(pushes), lift,
        speed_at(cutting, least), most * greatest / 2, most * surface_speed(greatest, at_greatest) / 60.0,
    )  # fmt: skip


def forces(
    metal: Metal, edge: Edge, depth: float, feed: float, lead: float, *, worst: bool
) -> tuple[float, float, float]:
    """Cutting, feed and passive force of an edge at a lead angle, each at its most up to that depth. [N]

    With an edge that leans back from the wall a cut only as deep as the nose pushes harder across than a deeper one.
    """
    shares = SHALLOWER if lead > 90 else (1.0,)
    found = [_forces(metal, edge, share * depth, feed, lead, worst=worst) for share in shares]
    return max(one[0] for one in found), max(one[1] for one in found), max(one[2] for one in found)


def _forces(
    metal: Metal, edge: Edge, depth: float, feed: float, lead: float, *, worst: bool
) -> tuple[float, float, float]:
    kc11 = cutting_force_range(metal.material)
    conditions = CutConditions(wear=WEAR_UNKNOWN.most if worst else 1.0, interrupted=INTERRUPTED.most)
    make = operations.bore if metal.kind == "bore" else operations.turn
    load = make(
        kc11.most if worst else kc11.value, metal.material.mc.value, diameter=metal.diameters[1], depth=depth,
        feed=feed, z=(0.0, 0.0), lead_angle_deg=lead, nose_radius=edge.nose_radius, conditions=conditions,
    )  # fmt: skip
    return (
        max(case.tangential for case in load.cases),
        max(abs(case.axial) for case in load.cases),
        max(abs(case.radial) for case in load.cases),
    )

"""Ways to hold a turned part that are not chuck jaws alone: even grip, clamps on a face, a tailstock centre.

For what jaws press out of round or cannot hold.  Nobody has read the plate of such a tool, so none of them passes: each
says what it would have to be able to do, and what must be known first.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from heldtrue.errors import HeldtrueError
from heldtrue.mechanics.even_grip import wall_behind
from heldtrue.planning.even_ways import even_ways
from heldtrue.planning.face_ways import face_ways
from heldtrue.planning.inputs import Job, prepare
from heldtrue.planning.other_way import (
    BULL_CENTRE,
    CENTRE,
    NOT_COMPUTED,
    PADS,
    STEADY,
    TAILSTOCK,
    Fact,
    ForceStep,
    OtherWay,
)
from heldtrue.planning.plan import plan
from heldtrue.planning.result import NOT_PROVEN, Plan
from heldtrue.planning.setup import Setup
from heldtrue.planning.tool_room import FAR_MM, tool_rooms

LONG, THIN = 3.0, 1 / 15
"""Length past the grip over grip diameter from which a steady rest, and wall over diameter below which soft pads, are
named: common practice, no source."""
ON_AXIS_MM = 1e-6
NEAR_MM, BESIDE_MM = 5.0, 1.0
"""A tool that comes so near to the end of the part and to its axis, or its hole, meets a centre there: common practice,
no source."""


def other_ways(setup: Setup) -> tuple[OtherWay, ...]:
    """Every such way for the operation of a setup.

    Raises: ``InputError`` for a setup that cannot be planned.
    """
    job = prepare(setup)
    return (*even_ways(job), *face_ways(job), *_centre(job), *_named(job))


def _centre(job: Job) -> Iterator[OtherWay]:
    """The stated jaws with a tailstock centre, where no tool needs the end of the part."""
    setup = job.setup
    if setup.grip.centre or _end_is_cut(job):
        return
    inner = max(_end_radius(job.section.corners), _end_radius(job.blank.corners))
    if inner > ON_AXIS_MM:
        # A plain centre finds nothing in a bore: what plugs it, and how true that runs, nobody said.
        yield OtherWay(CENTRE, "", None, NOT_PROVEN, needs=(Fact(BULL_CENTRE, "", 2 * inner, "length"),),
                       notes=(Fact(NOT_COMPUTED),))  # fmt: skip
        return
    try:
        found = plan(setup.with_({"grip.centre": True}), helped=False)
    except HeldtrueError:
        return
    yield OtherWay(CENTRE, "", None, found.verdict, found.checks, _pressures(found), found.pressure.used,
                   (Fact(TAILSTOCK),), measure="pressure")  # fmt: skip


def _pressures(found: Plan) -> tuple[ForceStep, ...]:
    """The steps of a plan; what its unknowns at their best would open is the plan's own matter."""
    return tuple(
        ForceStep(step.name, step.cuts, step.floor, step.floor_by, step.ceiling, step.ceiling_by, step.floor,
                  step.ceiling) for step in found.pressure.steps
    )  # fmt: skip


def _end_radius(corners: tuple[tuple[float, float], ...]) -> float:
    """Smallest radius of the face farthest from the chuck. [mm]"""
    end = max(z for _, z in corners)
    return min(r for r, z in corners if abs(z - end) < ON_AXIS_MM)


def _end_is_cut(job: Job) -> bool:
    """Does a tool come to where the centre would be, in the end of blank or finished part?"""
    end = min(job.section.highest, job.blank.highest) - NEAR_MM
    inner = max(_end_radius(job.section.corners), _end_radius(job.blank.corners))
    centre = shapely.box(0.0, end, inner + BESIDE_MM, FAR_MM)
    return any((one.room & centre).area > ON_AXIS_MM for one in tool_rooms(job))


def _named(job: Job) -> Iterator[OtherWay]:
    """What may help too and is not computed."""
    grip = job.setup.grip
    past = max(job.section.highest, job.blank.highest) - grip.z[1]
    if past > LONG * grip.diameter:
        yield OtherWay(STEADY, "", None, NOT_PROVEN, notes=(Fact(NOT_COMPUTED, STEADY, past, "length"),))
    wall = wall_behind(job.section.corners, grip.side, grip.diameter / 2, grip.z)
    if wall < THIN * grip.diameter:
        yield OtherWay(PADS, "", None, NOT_PROVEN, notes=(Fact(NOT_COMPUTED, PADS, wall, "length"),))

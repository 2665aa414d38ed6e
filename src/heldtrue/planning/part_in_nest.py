"""Whether the part, finished and as it comes, goes into the bored jaws: nothing but grip and seat may touch. [mm]"""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from heldtrue.planning.inputs import Job
from heldtrue.planning.profiles import outline
from heldtrue.sentences import sentence
from heldtrue.tooling.blank import Say
from heldtrue.tooling.bore import BoreDesign
from heldtrue.tooling.nest import LEAST_HIGH_MM, Nest, Step
from heldtrue.tooling.old_steps import opened

TOUCH_MM = 0.1
"""What part and jaws may stand in each other on paper, besides the spread of the gripped diameter: breaks of edges."""
CLEAR_MM = 0.2
"""Least room about the part in a step that does not grip: common practice, no source."""
GRIPS_WITHIN_MM = 0.1
"""A step that grips is bored to the part's diameter within this, per side."""
EDGE_MM = 1e-3
"""Faces that lie on each other are not beside a step."""
FAR_MM = 1e4


def clashes(job: Job, made: BoreDesign, nose_radius: float, say: Say) -> tuple[str, ...]:
    """Where the part runs into the jaws, or a step has no room or nothing to grip, in words; empty where it fits."""
    air = opened(made.profile, 1.0 if job.grip_is_outside else -1.0)
    jaws = shapely.Polygon(made.metal).difference(air.buffer(-nose_radius).buffer(nose_radius))
    smallest, largest = job.size_range
    free = TOUCH_MM + (largest - smallest) / 4
    found: list[str] = []
    for name, corners in (("part", job.setup.part.profile), ("blank", job.setup.part.blank)):
        if not corners:
            continue
        body = shapely.Polygon([(r, z - made.depth) for r, z in outline(corners)]).buffer(0)
        met = body.buffer(-free, join_style="mitre").intersection(jaws)
        if met.area > 1e-6:
            spot = met.representative_point()
            above = spot.y + made.depth
            where = sentence(
                "at Ø{}, {} {} the seat", say(2 * spot.x), say(abs(above)), "above" if above > 0 else "behind"
            )
            found.append(
                sentence(
                    "the {} runs into the jaws {}: bore a step there (boring.steps), or grip it elsewhere", name, where
                )
            )
        for step, low, high in Nest.of(made.steps).spans(made.depth):
            found += _of_step(name, body, made, step, (low - made.depth, high - made.depth), say)
    return tuple(found)


def _of_step(
    name: str, body: BaseGeometry, made: BoreDesign, step: Step, span: tuple[float, float], say: Say
) -> list[str]:  # fmt: skip
    """A step that does not grip has room about the part; one that does has a surface of it to grip."""
    low, high = span
    beside = body.intersection(shapely.box(0.0, low + EDGE_MM, FAR_MM, high - EDGE_MM))
    called = sentence("the step of Ø{}", say(2 * step.radius))
    if not step.grips:
        if beside.is_empty:
            return []
        room = step.radius - beside.bounds[2] if made.side == "outside" else beside.bounds[0] - step.radius
        if room < CLEAR_MM:
            words = sentence("leaves the {} {} of room, {} per side is least", name, say(max(room, 0.0)), say(CLEAR_MM))
            return [sentence("{} {}: give it more, or say that it grips", called, words)]
    elif name == "part":
        wall = shapely.LineString([(step.radius, high), (step.radius, low)])
        along = body.boundary.intersection(wall.buffer(GRIPS_WITHIN_MM, cap_style="flat"))
        if along.is_empty or along.bounds[3] - along.bounds[1] < LEAST_HIGH_MM:
            return [called + " grips nothing: the part has no surface of that diameter there"]
    return []

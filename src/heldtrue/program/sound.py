"""Whether a boring job makes sense before anything is worked out from it: numbers that are numbers, outlines with area.

What is wrong comes out as plain sentences; ``refuse_unsound`` raises them. [mm]
"""

from __future__ import annotations

from dataclasses import fields
from math import isfinite

import shapely

from heldtrue.errors import GeometryError
from heldtrue.program.job import BoringJob, Point

MOST_FACING_MM = 50.0
"""More off the fronts of a jaw is another jaw."""
FARTHEST_MM = 5000.0
"""No lathe this is for reaches farther; the program's reach beyond the metal is counted in the same order."""


def refuse_unsound(job: BoringJob) -> None:
    """Raise GeometryError with every number and outline that cannot be."""
    found = [*_numbers(job), *_outlines(job)]
    if found:
        raise GeometryError("; ".join(found))


def _numbers(job: BoringJob) -> list[str]:
    found = []
    for what, data in (("tool", job.tool), ("cutting", job.cutting), ("limits", job.limits)):
        for one in fields(data):
            value = getattr(data, one.name)
            if isinstance(value, float) and not isfinite(value):
                found.append(f"{what}, {one.name.replace('_', ' ')}: {value} is no number to cut with")
    if not 0 <= job.face_off <= MOST_FACING_MM:
        found.append(f"to take off the jaw fronts: {job.face_off} mm; 0 to {MOST_FACING_MM:g} mm")
    if not isfinite(job.clearance) or abs(job.clearance) > FARTHEST_MM:
        found.append(f"clearance {job.clearance} mm: 0 to {FARTHEST_MM:g} mm")
    return found


def _outlines(job: BoringJob) -> list[str]:
    found = []
    areas = [("the metal", job.metal), (f"tool {job.tool.number}", job.tool.shank)]
    areas += [(k.name, k.outline) for k in job.keep_out]
    for what, outline in (("the finished line", job.finished), *areas):
        if any(not isfinite(v) or abs(v) > FARTHEST_MM for point in outline for v in point):
            found.append(f"the outline of {what} has a point beyond {FARTHEST_MM:g} mm")
    if found:
        return found
    return [f"the outline of {what} crosses itself or has no area" for what, outline in areas if not _has_area(outline)]


def _has_area(outline: tuple[Point, ...]) -> bool:
    if len(set(outline)) < 3:
        return False
    area = shapely.Polygon(outline)
    return bool(area.is_valid and area.area > 1e-9)

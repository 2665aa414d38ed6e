"""The nose of a tool, its main cutting edge, and the tip that a program moves. [mm, deg]

The programmed tip lies off the nose centre by the nose radius along x, along z, or both, as the tip position says.
"""

from __future__ import annotations

from math import cos, radians, sin

from heldtrue.errors import GeometryError
from heldtrue.program.job import BoringJob, BoringTool, Point

TIP_DIRECTIONS: dict[int, tuple[int, int]] = {
    1: (1, 1),
    2: (-1, 1),
    3: (-1, -1),
    4: (1, -1),
    5: (0, 1),
    6: (1, 0),
    7: (0, -1),
    8: (-1, 0),
    9: (0, 0),
}
"""Where the tip lies from the nose centre (x, z), by tip position."""


def tip_offset(tool: BoringTool) -> Point:
    """From the nose centre to the programmed tip. [mm]"""
    if tool.quadrant not in TIP_DIRECTIONS:
        raise GeometryError(f"tip position {tool.quadrant} of tool {tool.number} is not one of 1 to 9")
    x, z = TIP_DIRECTIONS[tool.quadrant]
    return x * tool.nose_radius, z * tool.nose_radius


def main_edge(tool: BoringTool, side: int) -> tuple[Point, Point]:
    """The main cutting edge from the nose outwards, relative to the nose centre, for a cut towards ``side`` of x."""
    angle = radians(tool.lead_angle)
    start = (side * tool.nose_radius * cos(angle), -tool.nose_radius * sin(angle))
    return start, (start[0] - side * tool.edge_length * sin(angle), start[1] - tool.edge_length * cos(angle))


def problems_of(job: BoringJob, side: int) -> list[str]:
    """What is wrong with the tool and the cutting values for this cut, one plain sentence each."""
    tool, cutting = job.tool, job.cutting
    found = []
    if not 0 < tool.nose_radius < 20:
        found.append(f"nose radius {tool.nose_radius:g} mm of tool {tool.number}: 0 to 20 mm")
    if tool.quadrant not in TIP_DIRECTIONS:
        found.append(f"tip position {tool.quadrant} of tool {tool.number} is not one of 1 to 9")
    elif TIP_DIRECTIONS[tool.quadrant] == (-side, 1):
        right = next(n for n, d in TIP_DIRECTIONS.items() if d == (side, -1))
        found.append(
            f"tip position {tool.quadrant} lies on the side of the nose that does not cut here; "
            f"{'a bore' if side > 0 else 'an outer surface'} cut towards the chuck has position {right} "
            f"({'+' if side > 0 else '-'}x -z from the nose centre)"
        )
    if not 45 <= tool.lead_angle <= 135:
        found.append(f"lead angle {tool.lead_angle:g} deg of tool {tool.number}: 45 to 135 deg from the feed direction")
    if cutting.pass_depth > tool.edge_length * sin(radians(tool.lead_angle)):
        found.append(
            f"passes {cutting.pass_depth:g} mm deep on an edge that cuts {tool.edge_length:g} mm; take shallower ones"
        )
    for name, value, least, unit in (
        ("pass depth", cutting.pass_depth, 0.01, "mm"),
        ("roughing feed", cutting.rough_feed, 0.001, "mm per turn"),
        ("finishing feed", cutting.finish_feed, 0.001, "mm per turn"),
        ("spindle limit", min(cutting.spindle_limit, job.limits.max_speed), 1.0, "rev/min"),
        ("surface speed", cutting.surface_speed, 1.0, "m/min"),
        ("fixed speed", 1.0 if cutting.fixed_speed is None else cutting.fixed_speed, 1.0, "rev/min"),
        ("clearance", job.clearance, 0.01, "mm"),
    ):
        if value < least:
            found.append(f"{name} {value:g} {unit} must be {least:g} or more")
    allowed = min(cutting.spindle_limit, job.limits.max_speed)
    if cutting.fixed_speed is not None and cutting.fixed_speed > allowed:
        found.append(f"fixed speed {cutting.fixed_speed:g} rev/min is above the {allowed:g} rev/min allowed")
    if cutting.finish_allowance < 0:
        found.append(f"finishing allowance {cutting.finish_allowance:g} mm must not be below 0")
    if not 0 <= cutting.semi_allowance <= cutting.finish_allowance:
        found.append(
            f"{cutting.semi_allowance:g} mm left by the pass before the finish: 0 to the finishing allowance of "
            f"{cutting.finish_allowance:g} mm"
        )
    if not 0 <= cutting.spring_passes <= 5:
        found.append(f"{cutting.spring_passes} spring passes: 0 to 5")
    if cutting.finish_allowance > 0.5 * cutting.pass_depth:
        found.append(
            f"finishing allowance {cutting.finish_allowance:g} mm is more than half a pass of "
            f"{cutting.pass_depth:g} mm; leave less or cut deeper"
        )
    return found

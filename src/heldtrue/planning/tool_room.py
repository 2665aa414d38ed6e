"""The room that the tools of an operation take, as half sections: where nothing that holds the part may stand."""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from heldtrue.mechanics.section import Section
from heldtrue.planning.inputs import Job
from heldtrue.planning.profiles import section_of
from heldtrue.planning.setup import Cut, Surface
from heldtrue.planning.stages import Stage, surface_of

FAR_MM = 1e4
CLEAR_MM = 2.0
"""Between a tool and what holds the part, along the axis and beyond the edge of a face: common practice, no source."""
LEAST_LENGTH_MM = 3.0
"""A shorter cylinder is not worth gripping: common practice, no source."""


def tool_rooms(job: Job) -> tuple[tuple[str, shapely.Polygon], ...]:
    """Room (r, z) of every cut, and of every surface that this operation makes: side it works on, and the polygon.

    A turning tool comes from outside and needs everything beyond its diameter; a boring bar needs the hole up to the
    free end; a facing tool everything over the face, and runs on past its inner edge.
    """
    found = [_of_cut(stage, surface_of(job.setup, stage.cut)) for stage in job.stages]
    found += [_of_surface(surface) for surface in job.setup.surfaces]
    return tuple(found)


def drawn_sections(job: Job) -> tuple[Section, Section]:
    """Finished part and blank with every chamfer and rounding: what they take is nothing to press on."""
    part = job.setup.part
    drawn = section_of(part.profile, smallest=0.0)
    return drawn, section_of(part.blank, smallest=0.0) if part.blank else drawn


def side_of(cut: Cut, surface: Surface | None) -> str:
    """The side a cut works on: outside, inside or face."""
    if cut.kind in ("bore", "drill", "tap"):
        return "inside"
    if cut.kind == "face":
        return "face"
    return surface.side if surface is not None else "outside"


def _of_cut(stage: Stage, surface: Surface | None) -> tuple[str, shapely.Polygon]:
    low, high = stage.z
    side = side_of(stage.cut, surface)
    if side == "face" and surface is not None and surface.side == "face":
        low = min(low, surface.z[0])
    least = 0.0 if stage.cut.kind == "part_off" else stage.smallest / 2
    most = max(stage.smallest, stage.largest) / 2
    return side, _room(side, least, most, low, high)


def _of_surface(surface: Surface) -> tuple[str, shapely.Polygon]:
    inner, outer = surface.diameters or (surface.diameter or 0.0, surface.diameter or 0.0)
    return surface.side, _room(surface.side, inner / 2, outer / 2, *surface.z)


def _room(side: str, least: float, most: float, low: float, high: float) -> shapely.Polygon:
    if side == "outside":
        return shapely.box(least, low - CLEAR_MM, FAR_MM, high + CLEAR_MM)
    if side == "inside":
        return shapely.box(0.0, low - CLEAR_MM, most, FAR_MM)
    return shapely.box(max(least - CLEAR_MM, 0.0), low - CLEAR_MM, FAR_MM, FAR_MM)


def free_cylinders(job: Job) -> Iterator[tuple[str, float, tuple[float, float]]]:
    """Cylinders of blank and finished part that a tool from the chuck's side can hold: side, radius, z from, to. [mm]

    Nothing of the part stands in its way, and it ends clear of every tool.  The longest stretch of each.
    """
    rooms = [room for _, room in tool_rooms(job)]
    drawn, blank = drawn_sections(job)
    for side in ("inside", "outside"):
        for radius in sorted({r for r, _ in job.section.corners if r > 0}):
            stretches = [
                cleared
                for low, high in _common(drawn.spans(side, radius), blank.spans(side, radius))
                if _is_reached(side, radius, low, (job.section, job.blank))
                and (cleared := _cleared(side, radius, (low, high), rooms)) is not None
            ]
            if stretches:
                yield side, radius, max(stretches, key=lambda z: z[1] - z[0])


def _common(
    first: tuple[tuple[float, float], ...], second: tuple[tuple[float, float], ...]
) -> Iterator[tuple[float, float]]:
    for a, b in first:
        for c, d in second:
            if min(b, d) - max(a, c) >= LEAST_LENGTH_MM:
                yield max(a, c), min(b, d)


def _is_reached(side: str, radius: float, low: float, sections: tuple[Section, Section]) -> bool:
    """Is there no metal between the chuck and the cylinder, where the tool has to pass?"""
    way = _holder(side, radius, low)
    return all((shapely.Polygon(section.corners) & way).area < 1e-6 for section in sections)


def _holder(side: str, radius: float, high: float) -> shapely.Polygon:
    """Room of a mandrel or collet of that radius, from the chuck up to ``high``."""
    if side == "inside":
        return shapely.box(0.0, -FAR_MM, radius, high)
    return shapely.box(radius, -FAR_MM, FAR_MM, high)


def _cleared(
    side: str, radius: float, z: tuple[float, float], rooms: list[shapely.Polygon]
) -> tuple[float, float] | None:
    """The stretch of a cylinder up to where a tool comes; None where too little is left."""
    low, high = z
    for room in rooms:
        met = room & _holder(side, radius, high)
        if met.area > 1e-6:
            high = min(high, float(met.bounds[1]))
    return (low, high) if high - low >= LEAST_LENGTH_MM else None

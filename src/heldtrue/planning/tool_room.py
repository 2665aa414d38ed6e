"""The room that the tools of an operation take, as half sections: where nothing that holds the part may stand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely

from heldtrue.mechanics.section import Section
from heldtrue.planning.inputs import Job
from heldtrue.planning.not_round import not_round_at
from heldtrue.planning.profiles import section_of
from heldtrue.planning.setup import Cut, Surface
from heldtrue.planning.stages import Stage, surface_of

FAR_MM = 1e4
CLEAR_MM = 2.0
"""Between a tool and what holds the part, along the axis and beyond the edge of a face: common practice, no source."""
LEAST_LENGTH_MM = 3.0
"""A shorter cylinder is not worth gripping: common practice, no source."""


@dataclass(frozen=True)
class ToolRoom:
    """The room (r, z) of one cut, or of a surface that this operation makes: its name, and the side it works on."""

    name: str
    side: str
    room: shapely.Polygon


def tool_rooms(job: Job) -> tuple[ToolRoom, ...]:
    """Room of every cut, and of every surface that this operation makes.

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


def _of_cut(stage: Stage, surface: Surface | None) -> ToolRoom:
    low, high = stage.z
    side = side_of(stage.cut, surface)
    if side == "face" and surface is not None and surface.side == "face":
        low = min(low, surface.z[0])
    least = 0.0 if stage.cut.kind == "part_off" else stage.smallest / 2
    most = max(stage.smallest, stage.largest) / 2
    return ToolRoom(stage.cut.name, side, _room(side, least, most, low, high))


def _of_surface(surface: Surface) -> ToolRoom:
    inner, outer = surface.diameters or (surface.diameter or 0.0, surface.diameter or 0.0)
    return ToolRoom(surface.name, surface.side, _room(surface.side, inner / 2, outer / 2, *surface.z))


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
    rooms = tool_rooms(job)
    drawn, blank = drawn_sections(job)
    for side in ("inside", "outside"):
        for radius in sorted({r for r, _ in job.section.corners if r > 0}):
            stretches = [
                (low, end)
                for low, high in common(drawn.spans(side, radius), blank.spans(side, radius))
                if not_round_at(job.setup.part, side, (low, high)) is None
                and in_the_way(side, radius, low, (job.section, job.blank)) is None
                and (end := clear_up_to(side, radius, high, rooms)[0]) - low >= LEAST_LENGTH_MM
            ]
            if stretches:
                yield side, radius, max(stretches, key=lambda z: z[1] - z[0])


def common(
    first: tuple[tuple[float, float], ...], second: tuple[tuple[float, float], ...]
) -> Iterator[tuple[float, float]]:
    """Stretches that are in both, of a length worth gripping. [mm]"""
    for a, b in first:
        for c, d in second:
            if min(b, d) - max(a, c) >= LEAST_LENGTH_MM:
                yield max(a, c), min(b, d)


def in_the_way(side: str, radius: float, low: float, sections: tuple[Section, Section]) -> float | None:
    """Diameter of the metal between the chuck and a cylinder that starts at ``low``, where what grips it has to pass;
    None where there is none. [mm]"""
    way = _holder(side, radius, low)
    met = [found for section in sections if (found := shapely.Polygon(section.corners) & way).area > 1e-6]
    if not met:
        return None
    ends = [float(one.bounds[2 if side == "outside" else 0]) for one in met]
    return 2 * (max(ends) if side == "outside" else min(ends))


def clear_up_to(side: str, radius: float, high: float, rooms: Sequence[ToolRoom]) -> tuple[float, str]:
    """How far up to ``high`` a cylinder can be held clear of every tool [mm], and the name of the tool that ends it."""
    name = ""
    for one in rooms:
        met = one.room & _holder(side, radius, high)
        if met.area > 1e-6 and float(met.bounds[1]) < high:
            high, name = float(met.bounds[1]), one.name
    return high, name


def _holder(side: str, radius: float, high: float) -> shapely.Polygon:
    """Room of a mandrel, a collet or jaws on that radius, from the chuck up to ``high``."""
    if side == "inside":
        return shapely.box(0.0, -FAR_MM, radius, high)
    return shapely.box(radius, -FAR_MM, FAR_MM, high)

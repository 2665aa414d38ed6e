"""The part as it stands before each cut: from the blank, less what the cuts before it took away.

A roughing cut stands for all its passes: the first cut of a surface begins at the stock that is still there, however
deep one pass is.  What no cut takes away stays.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import shapely

from heldtrue.errors import InputError
from heldtrue.mechanics.section import Section
from heldtrue.planning.setup import Cut, Setup, Surface

FAR_MM = 1e4
THROUGH_MM = 0.5
"""A drill that leaves less than this in front of it comes out of the part."""
SLIVER_MM2 = 1e-3
"""Less than this area of the half section is no metal to cut."""


@dataclass(frozen=True)
class Stage:
    """One cut with the stock it meets.

    ``smallest``, ``largest``: diameters between which its edge works, the stock's own included; ``z``: from and to of
    its travel, the stock's own end included [mm]; ``through``: does a drill come out of the part?
    """

    cut: Cut
    smallest: float
    largest: float
    z: tuple[float, float]
    through: bool = True


def stages_of(setup: Setup, blank: Section, finished: Section) -> tuple[Stage, ...]:
    """Every cut in order, with the stock it meets.

    Raises: ``InputError`` for a cut whose place is not known.
    """
    stock = shapely.Polygon(blank.corners)
    found = []
    for number, cut in enumerate(setup.cuts):
        surface = surface_of(setup, cut)
        z = travel(cut, surface, finished)
        inner, outer = diameters(cut, surface)
        room = _swept(setup, number, surface, z, inner, outer)
        taken = shapely.Polygon() if room is None else _metal(stock & room)
        through = cut.kind != "drill" or not stock.intersects(shapely.Point(0.0, z[0] - THROUGH_MM))
        if not taken.is_empty:
            stock = stock - taken
            least, _, most, high = taken.bounds
            largest = max(outer, 2 * most) if cut.kind != "bore" else outer
            if cut.kind == "bore":
                # The first pass of a bore runs in the hole before it, at the speed which that asks for.
                inner = min(inner, max(2 * least, 2 * (cut.depth or 0.0)))
            if cut.kind == "face":
                z = (z[0], max(z[1], high))
        else:
            largest = outer
        if cut.kind == "turn":
            largest = max(largest, outer + 2 * (cut.depth or 0.0))
        if cut.kind in ("groove", "part_off", "thread") and (surface is None or surface.side == "outside"):
            largest = max(largest, _reach_at(stock, z)[1])
        elif cut.kind in ("groove", "thread"):
            # In a bore the edge starts at the bore, at the speed which that asks for.
            inner = min(inner, _reach_at(stock, z)[0] or inner)
        found.append(Stage(cut, inner, largest, z, through))
    return tuple(found)


def surface_of(setup: Setup, cut: Cut) -> Surface | None:
    """The surface that a cut makes, where it names one."""
    return next((s for s in setup.surfaces if s.name == cut.surface), None)


def diameters(cut: Cut, surface: Surface | None) -> tuple[float, float]:
    """Smallest and largest diameter that the finished cut stands at. [mm]"""
    if cut.diameter is not None:
        inner = 0.0 if cut.kind in ("face", "part_off") else cut.diameter
        return inner, cut.diameter
    if surface is not None and surface.diameters is not None:
        return surface.diameters
    if surface is not None and surface.diameter is not None:
        return surface.diameter, surface.diameter
    raise InputError(f"cut '{cut.name}': give its diameter, or the surface it makes")


def travel(cut: Cut, surface: Surface | None, finished: Section) -> tuple[float, float]:
    """From and to along the axis. [mm]"""
    if cut.z is not None:
        return min(cut.z), max(cut.z)
    if surface is not None:
        return min(surface.z), max(surface.z)
    if cut.kind in ("drill", "tap"):
        return finished.lowest, finished.highest
    raise InputError(f"cut '{cut.name}': give its z, or the surface it makes")


def _swept(
    setup: Setup, number: int, surface: Surface | None, z: tuple[float, float], inner: float, outer: float
) -> shapely.Polygon | None:
    """What a cut may take away, down to its own finished surface and what later cuts of it still need."""
    cut = setup.cuts[number]
    left = sum(later.depth or 0.0 for later in _later(setup, number))
    if cut.kind == "turn":
        return shapely.box(outer / 2 + left, z[0], FAR_MM, z[1])
    if cut.kind == "bore":
        return shapely.box(0.0, z[0], max(inner / 2 - left, 0.0), z[1])
    if cut.kind == "drill":
        return shapely.box(0.0, z[0], outer / 2, z[1])
    if cut.kind == "face":
        end = surface.z[0] if surface is not None else z[1]
        return shapely.box(0.0, end + left, FAR_MM, FAR_MM)
    return None


def _later(setup: Setup, number: int) -> Iterator[Cut]:
    """Cuts after this one that go over the same surface."""
    cut = setup.cuts[number]
    for later in setup.cuts[number + 1 :]:
        same = later.surface == cut.surface if cut.surface else (later.diameter, later.z) == (cut.diameter, cut.z)
        if same and later.kind == cut.kind:
            yield later


def _metal(shape: shapely.Geometry) -> shapely.Geometry:
    """A shape without the lines and slivers that touching edges leave behind."""
    return shapely.union_all([part for part in shapely.get_parts(shape) if part.area > SLIVER_MM2])


def _reach_at(stock: shapely.Polygon, z: tuple[float, float]) -> tuple[float, float]:
    """Smallest and largest diameter of what is left between two positions; 0 where nothing is. [mm]"""
    there = _metal(stock & shapely.box(0.0, z[0], FAR_MM, z[1]))
    return (0.0, 0.0) if there.is_empty else (2 * float(there.bounds[0]), 2 * float(there.bounds[2]))

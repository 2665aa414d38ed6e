"""A top jaw as it is cut, as a solid: its blank in plan, less what is turned out of it, less bolt holes.

Spindle axis along z; x outwards along the middle of jaw 1, y to its left as seen from the tailstock; z = 0 on the front
face of the jaws, negative towards the chuck: the zero of the boring program.  [mm, rad]
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from math import atan2, cos, hypot, sin, sqrt

import netgen.occ as occ
import shapely

from heldtrue.errors import GeometryError
from heldtrue.mechanics.jaw_outline import ON_EDGE, Outline, Point
from heldtrue.mechanics.jaw_shape import Bolt

DISC_CHORDS = 90
"""A quarter of a circle is drawn with so many chords where sections are added up."""
SECTIONS_DIFFER = 3e-4
"""So far may the kernel's volume and that of the sections differ, of it: a turning or a bolt hole left out is more."""
BEYOND_MM = 5.0
"""Tools of the kernel reach so far past the jaw: no two faces of a cut lie in one place."""


@dataclass(frozen=True)
class Turned:
    """What one turning takes away: a closed line (radius, z) turned about an axis along z through x = ``off``."""

    line: tuple[Point, ...]
    off: float = 0.0


@dataclass(frozen=True)
class CutJaw:
    """One jaw of a set where it stands when it is cut.

    ``jaws``: how many alike stand round the axis; ``outline``: in plan, before any cut; ``height``; ``turned``: an
    earlier cut, then this one; ``bolts``: head depths from the front.
    """

    jaws: int
    outline: Outline
    height: float
    turned: tuple[Turned, ...]
    bolts: tuple[Bolt, ...] = ()


def cut_solid(jaw: CutJaw) -> occ.TopoDS_Shape:
    """Jaw 1 as a solid, cylinders and cones true.

    Raises: ``GeometryError`` where nothing of it is left, it falls apart, or the kernel has left a cut out.
    """
    made = _plan_face(jaw.outline).Extrude(jaw.height * occ.Z).Move(occ.Vec(0, 0, -jaw.height))
    for one in jaw.turned:
        made = made - _turned(one)
    for bolt in jaw.bolts:
        low = -jaw.height - BEYOND_MM
        made = made - occ.Cylinder(occ.Pnt(bolt.x, 0, low), occ.Z, r=bolt.hole / 2, h=BEYOND_MM - low)
        if bolt.head_depth > 0:
            head = occ.Cylinder(
                occ.Pnt(bolt.x, 0, -bolt.head_depth), occ.Z, r=bolt.head / 2, h=bolt.head_depth + BEYOND_MM
            )
            made = made - head
    solids = list(made.solids)
    if len(solids) != 1:
        raise GeometryError(f"cut and bolt holes leave the jaw in {len(solids)} pieces")
    by_sections = volume_by_sections(jaw)
    if abs(solids[0].mass - by_sections) > SECTIONS_DIFFER * by_sections:
        raise GeometryError(f"the kernel made a jaw of {solids[0].mass:.0f} mm3, its sections add up to "
                            f"{by_sections:.0f} mm3")  # fmt: skip
    return solids[0]


def volume_by_sections(jaw: CutJaw) -> float:
    """Volume of a cut jaw from plane sections across the axis, without the kernel: a second opinion. [mm3]

    Circles are drawn with chords, so it is off by up to a ten-thousandth.
    """
    heights = {0.0, -jaw.height, *(-bolt.head_depth for bolt in jaw.bolts)}
    heights |= {z for one in jaw.turned for _, z in one.line}
    levels = sorted(z for z in heights if -jaw.height <= z <= 0.0)
    # Gauss's rule with three points: exact for areas that change with the square of the height, as of cones.
    rule = ((-sqrt(0.6), 5 / 9), (0.0, 8 / 9), (sqrt(0.6), 5 / 9))
    return sum(
        (high - low) / 2 * share * _section(jaw, (low + high) / 2 + at * (high - low) / 2)
        for low, high in itertools.pairwise(levels)
        for at, share in rule
    )


def _section(jaw: CutJaw, z: float) -> float:
    """Area of the jaw at a height. [mm2]"""
    left: shapely.Geometry = shapely.Polygon(jaw.outline.corners)
    for one in jaw.turned:
        level = shapely.LineString([(-1.0, z), (4 * jaw.outline.greatest_radius, z)])
        for part in shapely.get_parts(shapely.Polygon(one.line).intersection(level)):
            if part.is_empty:
                continue
            inner, _, outer, _ = part.bounds
            left = left.difference(_disc(one.off, outer).difference(_disc(one.off, inner)))
    for bolt in jaw.bolts:
        left = left.difference(_disc(bolt.x, (bolt.head if z > -bolt.head_depth else bolt.hole) / 2))
    return float(left.area)


def _disc(x: float, radius: float) -> shapely.Geometry:
    return shapely.Point(x, 0.0).buffer(max(radius, 0.0), quad_segs=DISC_CHORDS)


def whole_set(jaw: CutJaw, solid: occ.TopoDS_Shape) -> occ.TopoDS_Shape:
    """Every jaw of the set in its place, named "jaw 1" and on, counter-clockwise as seen from the tailstock."""
    placed = []
    for number in range(jaw.jaws):
        # A whole turn over the jaws in degrees, and no turning at all of the first: its numbers stay as they are.
        one = solid.Rotate(occ.Axis(occ.Pnt(0, 0, 0), occ.Z), 360.0 * number / jaw.jaws) if number else solid
        one.name = f"jaw {number + 1}"
        placed.append(one)
    return occ.Compound(placed)


def _turned(one: Turned) -> occ.TopoDS_Shape:
    """A body of revolution, its seam on the far side of the axis where no jaw is."""
    points = [occ.Pnt(one.off - r, 0, z) for r, z in one.line]
    edges = [occ.Segment(a, b) for a, b in itertools.pairwise((*points, points[0]))]
    return occ.Face(occ.Wire(edges)).Revolve(occ.Axis(occ.Pnt(one.off, 0, 0), occ.Z), 360)


def _plan_face(outline: Outline) -> occ.Face:
    """The outline as a face at z = 0, the ends of a full-circle segment as true arcs."""
    edges = []
    for run in _runs(outline):
        (x0, y0), (x1, y1) = run[0], run[-1]
        start, end = occ.Pnt(x0, y0, 0), occ.Pnt(x1, y1, 0)
        if len(run) == 2:
            edges.append(occ.Segment(start, end))
            continue
        radius, first, last = hypot(x0, y0), atan2(y0, x0), atan2(y1, x1)
        middle = (first + last) / 2
        edges.append(occ.ArcOfCircle(start, occ.Pnt(radius * cos(middle), radius * sin(middle), 0), end))
    return occ.Face(occ.Wire(edges))


def _runs(outline: Outline) -> list[list[Point]]:
    """The outline edge by edge: straight ones with two points, arcs about the axis with all of theirs."""
    corners = [*outline.corners, outline.corners[0]]
    runs: list[list[Point]] = []
    for a, b in itertools.pairwise(corners):
        if hypot(b[0] - a[0], b[1] - a[1]) < ON_EDGE:
            continue
        on_arc = outline.is_round and abs(hypot(*a) - hypot(*b)) < ON_EDGE and hypot(*a) > ON_EDGE
        if on_arc and runs and len(runs[-1]) > 1 and runs[-1][-1] == a and _is_arc(runs[-1], hypot(*b)):
            runs[-1].append(b)
        else:
            runs.append([a, b])
    return runs


def _is_arc(run: list[Point], radius: float) -> bool:
    return all(abs(hypot(*point) - radius) < ON_EDGE for point in run)

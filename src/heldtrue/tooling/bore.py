"""The bore to cut: its dimensions, and the same as lines for drawing and program.

Lines are in program coordinates: x a radius, z = 0 on the front face of the jaws, negative towards the chuck. [mm]
"Bore" is the gripping surface, also where the jaws are turned outside for an inside grip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf, pi, radians, sin, tan

import shapely

from heldtrue.errors import GeometryError
from heldtrue.sentences import sentence
from heldtrue.tooling.blank import Blank, Bored, Master, OldBore, Say, in_mm, old_bore
from heldtrue.tooling.nest import Nest, Step, behind_the_seat, down_to_the_grip, refuse_unfit
from heldtrue.tooling.old_steps import Taken, left, taken, without
from heldtrue.tooling.placing import Way
from heldtrue.tooling.ring import RingChoice

Point = tuple[float, float]

FREE_SURFACE_MM = 2.0
"""The jaws end at least this much before the end of the gripped surface: common practice, no source (2 to 3)."""
SEAT_LAND_MM = 3.0
"""Width of the face the part sits on: common practice, no source (2 to 3)."""
SEAT_RELIEF_MM = 0.5
"""How far the rest of the seat is set back: common practice, no source."""
FLATTEST_DEG = 8.0
"""A flatter run into the relief is no relief."""
RELIEF_WIDTH_MM, RELIEF_DEPTH_MM = 1.0, 0.5
"""Corner relief, axial and radial: common practice, no source (0.5 to 1.0 and 0.3 to 0.5)."""
EDGE_ROOM_MM = 0.2
"""Corner relief past the chamfer or rounding of the part's edge: common practice, no source."""
MOUTH_CHAMFER_MM = 0.4
"""Chamfer at the mouth: common practice, no source (0.3 to 0.5)."""
TOLERANCE_MM = 0.02
"""Tolerance of the bore, towards the side that bears in the jaw's middle: common practice, no source."""
DEPTH_TOLERANCE_MM = 0.05
"""Tolerance of the depth, both ways: the part stands that much further in or out; common practice, no source."""
FINISH_UM = 1.6
"""Ra of bore and seat: common practice, no source (0.8 to 1.6)."""
LEAST_GRIP_MM = 1.0
"""A shorter wall between corner relief and mouth grips nothing."""
ONE_DIAMETER = Nest()
CHUCK_BEHIND_MM = 40.0
"""How deep the chuck is drawn behind its face."""


@dataclass(frozen=True)
class Asked:
    """What part and shop ask of the bore.

    ``radius`` at the seat; ``taper``: change of the jaw's radius over the gripped length, per side, positive towards
    the part at the tip; ``grip``: gripped length above the seat, from and to; ``depth`` of the seat from the front, as
    planned; ``surface_end``: where the gripped surface ends, above the seat; ``edge``: chamfer or rounding of the part
    where bore and seat meet; ``seat``: inner and outer radius of the seat face, None where the part does not sit on
    the jaws; ``run_in``: into the corner relief, from the wall, as the tool clears it [deg]; ``face``: to take off the
    fronts in any case; ``nest``: more diameters; the rest as in the setup file, with the defaults of this module.
    """

    side: str
    radius: float
    taper: float
    grip: tuple[float, float]
    depth: float
    surface_end: float
    edge: float
    seat: tuple[float, float] | None
    nose_radius: float
    run_in: float = 45.0
    seat_land: float = SEAT_LAND_MM
    seat_relief: float = SEAT_RELIEF_MM
    relief_width: float | None = None
    relief_depth: float | None = None
    mouth_chamfer: float = MOUTH_CHAMFER_MM
    tolerance: tuple[float, float] | None = None
    seat_skim: float = 0.25
    face: float = 0.0
    nest: Nest = ONE_DIAMETER

    @property
    def outward(self) -> float:
        """Direction in which the metal of the jaw lies: +1 for an outside grip, -1 for an inside grip."""
        return 1.0 if self.side == "outside" else -1.0


@dataclass(frozen=True)
class Sizes:
    """What follows from part and shop alone, before the jaws are placed.

    ``depth`` of the seat; ``face_off``: to take off the jaw fronts first; ``relief``: width and depth of the corner
    relief; ``ledge``: how far the seat reaches past the bore; ``land``: radii of the seat face, inner and outer, None
    without a seat; ``floor``: depth of the lowest face that is cut.
    """

    depth: float
    face_off: float
    relief: tuple[float, float]
    ledge: float
    land: tuple[float, float] | None
    floor: float
    notes: tuple[str, ...]


@dataclass(frozen=True)
class KeepOutShape:
    """Something the tool must not touch: a closed polygon by name."""

    name: str
    outline: tuple[Point, ...]


@dataclass(frozen=True)
class BoreDesign:
    """The bore as it is to be cut.

    ``diameter`` at the seat and ``mouth_diameter`` at the front differ by the taper; ``tolerance``: of both;
    ``taper`` per side over the gripped length; ``depth``: front to seat; ``face_off``: to take off the jaw fronts
    first, ``faced_by_program``: with the bore, else on a piece of stock, where a ring stands in the jaw faces;
    ``land``: diameters of the seat face; ``seat_relief``: how far the rest is set back, 0 where it is not;
    ``relief``: width and depth of the corner relief, ``run_in``: into it, from the wall [deg]; ``mouth_chamfer``;
    ``grip_height``: chuck face to the middle of the grip; ``height`` of the jaws after facing;
    ``gap_open`` and ``gap_closed``: between pie segments at both ends of the stroke, None for other jaws;
    ``steps``: more diameters, mouth first; ``wall``: number of the point of ``profile`` where the gripping wall starts;
    ``profile``: open, from mouth to where the tool leaves the metal; ``metal``: closed, before the cut; ``leaves``:
    radius and height above the seat of every step that then stands in the jaws, those of earlier cuts included, None
    where nobody knows of those.
    """

    side: str
    diameter: float
    mouth_diameter: float
    tolerance: tuple[float, float]
    taper: float
    depth: float
    face_off: float
    faced_by_program: bool
    land: tuple[float, float] | None
    seat_relief: float
    relief: tuple[float, float]
    run_in: float
    mouth_chamfer: float
    grip_height: float
    height: float
    gap_open: float | None
    gap_closed: float | None
    steps: tuple[Step, ...]
    wall: int
    profile: tuple[Point, ...]
    metal: tuple[Point, ...]
    keep_outs: tuple[KeepOutShape, ...]
    notes: tuple[str, ...]
    leaves: tuple[Point, ...] | None = ()

    @property
    def from_grip(self) -> tuple[Point, ...]:
        """The profile from the last edge before the gripping wall on: that edge, wall, relief, seat."""
        return self.profile[self.wall - 1 :]


def sizes(asked: Asked, blank: Blank, say: Say = in_mm) -> Sizes:
    """Depth, relief and seat of the bore. Raises: ``GeometryError`` where no length is left to grip."""
    notes = []
    if asked.run_in < FLATTEST_DEG:
        raise GeometryError(
            "the tool cannot turn the corner relief: its insert lies along the wall; take one of 55 degrees or less"
        )
    width, deep = _relief(asked)
    if width < _least_width(asked, deep) - 0.01:
        notes.append(
            sentence(
                "a corner relief {} wide leaves the nose no room; {} does", say(width), say(_least_width(asked, deep))
            )
        )
    # Jaws with a step reach past the gripped surface: that is what the step is for.
    deepest = inf if asked.nest.before else asked.surface_end - FREE_SURFACE_MM
    depth, face_off = asked.depth, asked.face
    if depth > deepest + 1e-9:
        notes.append(
            sentence(
                "bored {} deep, not {}: the gripped surface ends {} from the seat, and the jaws end {} before it",
                say(deepest),
                say(depth),
                say(asked.surface_end),
                say(FREE_SURFACE_MM),
            )
        )
        depth = deepest
    # What is taken off the old seat cleans it wherever it lies within the error it was measured with.
    cleaned = 0.0 if blank.bored is None else blank.bored.depth + max(asked.seat_skim, blank.bored.depth_error)
    if blank.bored is not None and depth + face_off < cleaned - 1e-9:
        if cleaned - face_off > deepest:
            face_off = cleaned - deepest
            notes.append(
                sentence(
                    "the old seat lies {} deep: face {} off the jaw fronts first", say(blank.bored.depth), say(face_off)
                )
            )
        depth = cleaned - face_off
    if depth - width - asked.mouth_chamfer < LEAST_GRIP_MM:
        raise GeometryError(
            sentence("a bore {} deep has nothing left to grip with past relief and chamfer", say(depth))
        )
    if width > asked.grip[0] + 1e-9:
        notes.append(sentence("the corner relief takes {} of the gripped length", say(width - asked.grip[0])))
    land = land_of(asked)
    ledge = (asked.seat_land if land is None else _ledge(asked, land)) + asked.seat_relief
    floor = depth + max(asked.seat_relief, asked.nest.deepest)
    refuse_unfit(asked.nest, asked.radius, asked.outward, min(asked.grip[1], depth), depth, asked.mouth_chamfer,
                 asked.seat_relief, land, say)  # fmt: skip
    return Sizes(depth, face_off, (width, deep), ledge, land, floor, tuple(notes))


def faced(blank: Blank, face_off: float) -> Blank:
    """The blank with so much taken off its front. [mm]"""
    bored = None if blank.bored is None else replace(blank.bored, depth=blank.bored.depth - face_off)
    pocket = (blank.pocket[0], blank.pocket[1] - face_off)
    return replace(blank, height=blank.height - face_off, pocket=pocket, bored=bored)


def _relief(asked: Asked) -> tuple[float, float]:
    """Width and depth of the corner relief: past the part's edge, and deep enough for the nose to leave no fillet."""
    deep = asked.relief_depth or relief_depth(asked.edge, asked.nose_radius)
    width = asked.relief_width
    if width is None:
        width = max(RELIEF_WIDTH_MM, asked.edge + EDGE_ROOM_MM, _least_width(asked, deep))
    return round(width + 0.004, 2), round(deep, 2)


def relief_depth(edge: float, nose_radius: float) -> float:
    """Depth of the corner relief: under a sharp edge no fillet of the nose may be left. [mm]"""
    return max(RELIEF_DEPTH_MM, nose_radius + 0.1) if edge < nose_radius + 0.1 else RELIEF_DEPTH_MM


def _least_width(asked: Asked, deep: float) -> float:
    """Width in which the nose finds room: down the run, along the relief, into the corner. [mm]"""
    angle = radians(asked.run_in)
    return deep / tan(angle) + asked.nose_radius * (1 + tan(angle / 2)) + 0.05


def land_of(asked: Asked) -> tuple[float, float] | None:
    """Radii of the seat face: what the part offers next to the bore, as wide as asked for."""
    if asked.seat is None:
        return None
    out = asked.outward
    near, far = (asked.seat[1], asked.seat[0]) if out > 0 else (asked.seat[0], asked.seat[1])
    near = asked.radius - out * max(out * (asked.radius - near), asked.edge)
    far = near - out * min(asked.seat_land, max(out * (near - far), 0.5))
    return (min(near, far), max(near, far))


def _ledge(asked: Asked, land: tuple[float, float]) -> float:
    return asked.radius - land[0] if asked.side == "outside" else land[1] - asked.radius


def design(
    asked: Asked, size: Sizes, blank: Blank, master: Master, way: Way, ring: RingChoice | None, head_diameter: float,
    say: Say = in_mm,
) -> BoreDesign:  # fmt: skip
    """The bore for one place of the jaws, with the lines of cut, metal and what must not be touched.

    ``blank``: as ``faced`` leaves it.
    Raises: ``GeometryError`` where the last cut left too little metal for this one.
    """
    out, height = asked.outward, blank.height
    size = _with_old_relief(size, asked, blank, master, way, say)
    notes = list(size.notes)
    end = way.outline.least_radius if out > 0 else way.outline.greatest_radius
    profile, wall, set_back = _profile(asked, size, end, notes)
    metal = _metal(asked, blank, master, way, height)
    bands = taken(master, blank, way.tooth, way.stroke, out)
    _refuse_missing(asked, size, profile, wall, metal, bands, say)
    mouth = radius_at(asked, size.depth)
    low, high = asked.grip[0], min(asked.grip[1], size.depth)
    keep = [chuck_face(master, height), *bolt_heads(blank, way, head_diameter)]
    if ring is not None:
        keep.append(ring_outline(ring, height))
    per_step = 2 * sin(pi / master.jaws)
    gaps = (
        (None, None)
        if blank.style != "pie"
        else (blank.gap + way.opening * per_step, blank.gap - way.closing * per_step)
    )
    land = None if size.land is None else (2 * size.land[0], 2 * size.land[1])
    tolerance = asked.tolerance or ((0.0, TOLERANCE_MM) if out > 0 else (-TOLERANCE_MM, 0.0))
    return BoreDesign(
        side=asked.side, diameter=2 * asked.radius, mouth_diameter=2 * mouth, tolerance=tolerance, taper=asked.taper,
        depth=size.depth, face_off=size.face_off,
        faced_by_program=size.face_off > 0 and (ring is None or ring.groove is None), land=land,
        seat_relief=set_back, relief=size.relief, run_in=asked.run_in, mouth_chamfer=asked.mouth_chamfer,
        grip_height=master.top_height + height - size.depth + (low + high) / 2, height=height,
        gap_open=gaps[0], gap_closed=gaps[1], steps=asked.nest.steps, wall=wall, profile=profile,
        metal=metal, keep_outs=tuple(keep), notes=tuple(notes),
        leaves=_leaves(asked, blank, bands, profile, metal, size.depth),
    )  # fmt: skip


def _leaves(
    asked: Asked, blank: Blank, bands: Sequence[Taken], profile: tuple[Point, ...], metal: tuple[Point, ...],
    depth: float,
) -> tuple[Point, ...] | None:  # fmt: skip
    """The steps that stand in the jaws after the cut: its own, and what it leaves of those before it."""
    if blank.bored is not None and blank.bored.steps is None:
        return None
    return (*((one.radius, one.z) for one in asked.nest.steps), *left(bands, profile, metal, asked.outward, depth))


def unfaced(made: BoreDesign) -> tuple[Point, ...]:
    """The metal as the program finds it: with what it faces off the fronts itself still on them."""
    if not made.faced_by_program:
        return made.metal
    return tuple((x, made.face_off if z == 0.0 else z) for x, z in made.metal)


def _refuse_missing(
    asked: Asked, size: Sizes, profile: tuple[Point, ...], wall: int, metal: tuple[Point, ...], bands: Sequence[Taken],
    say: Say,
) -> None:  # fmt: skip
    """All that bears lies in metal.  Raises: ``GeometryError`` where the last cut went past it.

    ``bands``: by the steps of that cut; the program counts them as metal, which is the worst for the tool.
    """
    body = without(shapely.Polygon(metal).buffer(1e-6), bands, asked.outward)
    parts = [("wall", profile[wall : wall + 2])]
    if size.land is not None:
        parts.append(("seat face", profile[wall + 3 : wall + 5]))
    for step, low, high in asked.nest.spans(size.depth - asked.mouth_chamfer):
        if step.grips:
            wall_of_it = ((step.radius, high - size.depth), (step.radius, low - size.depth))
            parts.append((sentence("wall of Ø{}", say(2 * step.radius)), wall_of_it))
    for name, line in parts:
        missing = shapely.LineString(line).difference(body).length
        if missing > 1e-3:
            raise GeometryError(
                sentence(
                    "the last cut left no metal for {} of the {}: cut deeper, or take another set", say(missing), name
                )
            )


def radius_at(asked: Asked, above_seat: float) -> float:
    """Radius of the bore at a height above the seat, the taper run on past the grip. [mm]"""
    low, high = asked.grip
    return asked.radius - asked.outward * asked.taper * (above_seat - low) / (high - low)


def _profile(asked: Asked, size: Sizes, end: float, notes: list[str]) -> tuple[tuple[Point, ...], int, float]:
    """From the mouth along the bore into the relief, across the seat and out of the metal.

    Also the number of the point where the gripping wall starts, and how far the seat is set back beside its land.
    """
    out, depth = asked.outward, size.depth
    width, deep = size.relief
    corner, start = asked.radius + out * deep, radius_at(asked, width)
    points = down_to_the_grip(asked.nest, out, depth, asked.mouth_chamfer, lambda height: radius_at(asked, height))
    wall = len(points) - 1
    points += [
        (start, -(depth - width)),
        (corner, -(depth - width) - out * (corner - start) / tan(radians(asked.run_in))),
        (corner, -depth),
    ]
    if size.land is None:
        points[-1] = (corner, -size.floor)
        return (*points, (end, -size.floor)), wall, asked.seat_relief
    inner = size.land[0] if out > 0 else size.land[1]
    if asked.nest.behind:
        below = behind_the_seat(asked.nest, out, depth, inner, asked.seat_relief, end)
        return (*points, *below), wall, asked.seat_relief if below[0][0] == inner else 0.0
    if out * (inner - end) > 2 * asked.seat_relief:
        floor = -size.floor
        return (
            (*points, (inner, -depth), (inner - out * asked.seat_relief, floor), (end, floor)),
            wall,
            asked.seat_relief,
        )
    if out * (inner - end) < -1e-9:
        notes.append("the blank is shorter than the seat face: the part sits on less than planned")
    return (*points, (end, -depth)), wall, 0.0


def _metal(asked: Asked, blank: Blank, master: Master, way: Way, height: float) -> tuple[Point, ...]:
    """Half section of all that the turning jaws sweep before the cut, an old bore taken out of it.

    Everything that any part of a jaw reaches counts: the innermost and the outermost point over its width, and of an
    old bore off the axis what a tool meets first.
    """
    inner, outer = way.outline.least_radius, way.outline.greatest_radius
    if blank.bored is None:
        return ((inner, -height), (outer, -height), (outer, 0.0), (inner, 0.0))
    out = asked.outward
    old = old_bore(master, blank, blank.bored, way.tooth, way.stroke)
    bottom, front = (inner, outer) if out > 0 else (outer, inner)
    return ((bottom, -height), (front, -height), (front, 0.0), *old_line(blank.bored, old, bottom, out))


def old_line(bored: Bored, old: OldBore, end: float, out: float) -> list[Point]:
    """The old bore, corner relief and seat from the front of the jaws to their ``end``, as far as they are recorded.

    What nobody recorded is metal, and so is what the run into an old relief may have left: the worst for the tool.
    """

    def wall(off: float) -> float:
        return replace(old, radius=old.radius + out * off).near(out)

    seat, points = bored.depth_error - bored.depth, [(wall(0.0), 0.0)]
    if bored.relief is not None:
        width, deep = bored.relief
        points += [(wall(0.0), min(seat + width, 0.0)), (wall(deep), seat)]
    else:
        points.append((wall(0.0), seat))
    if bored.seat is not None:
        land, back = bored.seat
        inner = wall(-land)
        if out * (inner - end) > 2 * back > 0:
            points += [(inner, seat), (inner - out * back, seat - back)]
            seat -= back
    return [*points, (end, seat)]


def _with_old_relief(size: Sizes, asked: Asked, blank: Blank, master: Master, way: Way, say: Say) -> Sizes:
    """A corner relief that takes in what the last one leaves in the wall.  Raises: ``GeometryError`` without room."""
    if blank.bored is None:
        return size
    out, bored = asked.outward, blank.bored
    width, deep = bored.relief or size.relief
    old = old_bore(master, blank, bored, way.tooth, way.stroke)
    ground = replace(old, radius=old.radius + out * deep).far(out)
    needed = round(size.depth - bored.depth + width + 0.004, 2)
    if out * (ground - asked.radius) < 1e-3 or needed <= size.relief[0]:
        return size
    if size.depth - needed - asked.mouth_chamfer < LEAST_GRIP_MM:
        raise GeometryError(
            sentence(
                "the corner relief of the last cut reaches {} above the new seat: {} deep has nothing left "
                "to grip with; bore deeper, or take another set",
                say(needed),
                say(size.depth),
            )
        )
    notes = [
        sentence("the corner relief is {} wide: what the last cut left of its own lies above the new one", say(needed))
    ]
    if needed > asked.grip[0] + 1e-9:
        notes.append(sentence("it takes {} of the gripped length", say(needed - asked.grip[0])))
    return replace(size, relief=(needed, size.relief[1]), notes=(*size.notes, *notes))


def chuck_face(master: Master, height: float) -> KeepOutShape:
    """The face of the chuck, from its through hole to its rim."""
    top = -(height + master.top_height)
    rim = master.body_radius or max(master.zeros) + 50.0
    inner = min(master.through_radius, rim - 1.0)
    return KeepOutShape(
        "chuck face", ((inner, top - CHUCK_BEHIND_MM), (rim, top - CHUCK_BEHIND_MM), (rim, top), (inner, top))
    )


def bolt_heads(blank: Blank, way: Way, head_diameter: float) -> list[KeepOutShape]:
    """The head of every bolt in its pocket."""
    found = []
    bottom = -blank.pocket[1]
    for number, hole in enumerate(blank.holes, 1):
        at, half = way.zero + hole, head_diameter / 2
        corners = ((at - half, bottom), (at + half, bottom), (at + half, bottom + blank.head),
                   (at - half, bottom + blank.head))  # fmt: skip
        found.append(KeepOutShape(f"bolt {number}", corners))
    return found


def ring_outline(ring: RingChoice, height: float) -> KeepOutShape:
    """The ring as it stands; a spider as wide as it is set."""
    low, high = (h - height for h in ring.heights)
    outer = (ring.set_to if ring.ring.kind == "spider" else ring.ring.outside) / 2
    inner = 0.0 if ring.ring.kind != "ring" else ring.ring.inside / 2
    return KeepOutShape("ring", ((inner, low), (outer, low), (outer, high), (inner, high)))

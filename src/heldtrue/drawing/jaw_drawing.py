"""The drawing of a bored jaw: section with dimensions, the corner at a larger scale, the chuck seen from the tail.

Section: true x is z of the program (0 on the jaw fronts, chuck to the left), true y the radius.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi, sin
from typing import Any

from heldtrue.drawing.drafting import Dim, Sheet, View, dxf_of, scale_that_fits, scale_words, svg_of
from heldtrue.drawing.svg import LEAST, LETTER, STRONG, Point, shorten, text_width, wrap
from heldtrue.drawing.wording import deviation, dimension, length_unit
from heldtrue.errors import InputError
from heldtrue.planning.boring import BorePlan
from heldtrue.planning.boring_steps import FINISH_WORDS, step_words
from heldtrue.planning.result import IN_SHORT
from heldtrue.quantities import UnitSystem
from heldtrue.sentences import in_units
from heldtrue.tooling.blank import Blank, Master
from heldtrue.tooling.bolts import BoltSize
from heldtrue.tooling.bore import DEPTH_TOLERANCE_MM, BoreDesign
from heldtrue.tooling.placing import Way
from heldtrue.tooling.ring import SIZE_TOLERANCE_MM, RingChoice
from heldtrue.tooling.serration import SERRATIONS

WIDTH, HEIGHT = 262.0, 192.0
"""The sheet goes on A4 and on Letter, lying. [mm]"""
COLUMN = 7.0
"""Between neighbouring dimension lines. [mm of paper]"""
BOTTOM = 150.0
"""Where the section ends. [mm of paper]"""
NOTE_SIZES = ((LETTER, 3.7), (LEAST, 2.9))
"""Size of the notes and their pitch, the largest that has room. [mm of paper]"""
SLAB = 9.0
"""How much of the chuck is drawn. [mm of paper]"""


@dataclass(frozen=True)
class BoredJaw:
    """What is drawn.

    ``title``: of the setup; ``part`` it is for, with its revision; ``jaw_set``: its number; ``notes``: said below the
    section.
    """

    title: str
    part: str
    jaw_set: str
    design: BoreDesign
    way: Way
    ring: RingChoice
    blank: Blank
    master: Master
    bolt: BoltSize
    bolt_class: str
    notes: tuple[str, ...] = ()

    @property
    def outward(self) -> float:
        """+1 where the metal lies outside the bore, -1 where inside."""
        return 1.0 if self.design.side == "outside" else -1.0

    @property
    def ends(self) -> tuple[float, float]:
        """Inner and outer end of the blank, from the axis. [mm]"""
        return self.way.zero + self.blank.ends[0], self.way.zero + self.blank.ends[1]

    @property
    def floor(self) -> float:
        """Depth of the lowest face that is cut. [mm]"""
        return -self.design.profile[-1][1]


def bored_jaw(plan: BorePlan) -> BoredJaw:
    """What is drawn of a plan. Raises: ``InputError`` where it is not known how the jaws stand."""
    design, way, hardware = plan.design, plan.way, plan.hardware
    if design is None or way is None or plan.ring is None or hardware.blank is None or hardware.master is None:
        raise InputError("there is nothing to draw: it is not known how the jaws stand and on which ring")
    return BoredJaw(
        plan.setup.title, part_words(plan), plan.setup.jaws.number or "without a number", design, way, plan.ring,
        hardware.blank, hardware.master, hardware.bolt, hardware.bolt_class, plan.notes,
    )  # fmt: skip


def part_words(plan: BorePlan) -> str:
    """Number and revision of the part that the jaws are for."""
    part = plan.setup.part
    return " ".join(filter(None, [part.number, part.revision and f"rev {part.revision}"]))


def jaw_dxf(jaw: BoredJaw, system: UnitSystem = "metric") -> str:
    """The drawing as DXF, in mm or inch, the section in true size."""
    return dxf_of(jaw_sheet(jaw, system))


def jaw_svg(jaw: BoredJaw, system: UnitSystem = "metric") -> str:
    """The drawing as SVG."""
    return svg_of(jaw_sheet(jaw, system))


def jaw_sheet(jaw: BoredJaw, system: UnitSystem = "metric") -> Sheet:
    """The drawing as a sheet."""
    columns = _diameters(jaw, system)
    deep = jaw.design.height + jaw.master.top_height
    top = max(jaw.ends[1], jaw.ring.ring.outside / 2)
    outside = jaw.outward > 0
    room = (152.0 - 24.0 - SLAB - COLUMN * (len(columns) + 1.5), BOTTOM - 39.0)
    scale = scale_that_fits(deep, top, room)
    sheet = Sheet(
        WIDTH, HEIGHT, scale, f"Bored jaw, set {jaw.jaw_set}",
        f"{jaw.design.side} grip, bore {dimension(jaw.design.diameter, system)} {length_unit(system)} at the seat, "
        f"{dimension(jaw.design.depth, system)} {length_unit(system)} deep",
        system,
    )  # fmt: skip
    axis = BOTTOM - (30.0 if outside else 6.0)
    section = View(scale, (26.0 + SLAB + deep * scale, axis))
    _section(sheet, section, jaw)
    _section_dims(sheet, section, jaw, columns, top)
    _detail(sheet, jaw)
    _face(sheet, jaw)
    _notes(sheet, jaw)
    _title(sheet, jaw, scale)
    return sheet


def jaw_section(jaw: BoredJaw) -> list[Point]:
    """Outline of the bored jaw as (z, radius), bolt holes left out. [mm]"""
    design, ring, out = jaw.design, jaw.ring, jaw.outward
    inner, outer = jaw.ends
    near, far = (inner, outer) if out > 0 else (outer, inner)
    last = (near, design.profile[-1][1])  # the program's line runs on to the corners of the jaws
    points = [*design.profile[:-1], last, (near, -design.height), (far, -design.height), (far, 0.0)]
    if ring.groove is not None:
        low, high = (diameter / 2 for diameter in ring.groove.diameters)
        first, then = (high, low) if out > 0 else (low, high)
        points += [(first, 0.0), (first, -ring.groove.depth), (then, -ring.groove.depth), (then, 0.0)]
    return [(z, r) for r, z in points]


# Section


def _section(sheet: Sheet, view: View, jaw: BoredJaw) -> None:
    import shapely

    design = jaw.design
    body: Any = shapely.Polygon(jaw_section(jaw)).buffer(0)
    heads = [one for one in design.keep_outs if one.name.startswith("bolt ")]
    pocket, hole = jaw.blank.pocket[0] / 2, jaw.bolt.hole / 2
    for head in heads:
        radii, heights = [r for r, _ in head.outline], [z for _, z in head.outline]
        at, bottom = (min(radii) + max(radii)) / 2, min(heights)
        body = body.difference(shapely.box(bottom, at - pocket, 1.0, at + pocket))
        body = body.difference(shapely.box(-design.height - 1.0, at - hole, bottom, at + hole))
    for polygon in getattr(body, "geoms", [body]):
        loops = [_on_paper(view, polygon.exterior.coords), *(_on_paper(view, i.coords) for i in polygon.interiors)]
        sheet.hatch(loops, angle=45.0, spacing=2.6)
        for loop in loops:
            sheet.stroke(loop, "outline", closed=True)
    # The program's metal reaches to the corners of the jaws; the section shows their middle.
    before = shapely.Polygon(design.metal).intersection(shapely.box(jaw.ends[0], -design.height, jaw.ends[1], 0.0))
    sheet.stroke(_on_paper(view, [(z, r) for r, z in before.exterior.coords]), "phantom", closed=True)
    _bolts(sheet, view, jaw)
    _ring(sheet, view, jaw)
    _master(sheet, view, jaw)
    left, right = view.at((-design.height - jaw.master.top_height, 0.0)), view.at((0.0, 0.0))
    sheet.stroke([(left[0] - SLAB - 3.0, left[1]), (right[0] + 4.0, right[1])], "centre")


def _bolts(sheet: Sheet, view: View, jaw: BoredJaw) -> None:
    design, half = jaw.design, jaw.bolt.diameter / 2
    deep = -design.height - jaw.master.top_height
    for head in design.keep_outs:
        if not head.name.startswith("bolt "):
            continue
        sheet.stroke(_on_paper(view, [(z, r) for r, z in head.outline]), "edge", closed=True)
        radii = [r for r, _ in head.outline]
        at, bottom = (min(radii) + max(radii)) / 2, min(z for _, z in head.outline)
        ends = (deep - 2.0, max(z for _, z in head.outline) + 2.0)
        for side in (-half, half):
            sheet.stroke(_on_paper(view, [(bottom, at + side), (deep, at + side)]), "edge")
        sheet.stroke(_on_paper(view, [(ends[0], at), (ends[1], at)]), "centre")


def _ring(sheet: Sheet, view: View, jaw: BoredJaw) -> None:
    ring = next(one for one in jaw.design.keep_outs if one.name == "ring")
    loop = _on_paper(view, [(z, r) for r, z in ring.outline])
    sheet.hatch([loop], angle=-45.0, spacing=1.6)
    sheet.stroke(loop, "edge", closed=True)
    radii, heights = [r for r, _ in ring.outline], [z for _, z in ring.outline]
    middle = view.at(((min(heights) + max(heights)) / 2, (min(radii) + max(radii)) / 2))
    left = view.at((-jaw.design.height - jaw.master.top_height, 0.0))[0] - SLAB - 2.0
    kind = jaw.ring.ring.kind
    name = jaw.ring.ring.name
    words = (name if name.startswith(kind) else f"{kind} {name}") if jaw.ring.from_shop else f"{kind} to turn"
    sheet.leader([middle, (left, middle[1] - 3.0)], words, anchor="end")


def _master(sheet: Sheet, view: View, jaw: BoredJaw) -> None:
    """Master jaw, its teeth, and the face of the chuck."""
    design, master = jaw.design, jaw.master
    inner, outer = jaw.ends
    deep = -design.height - master.top_height
    kind = next((one for one in SERRATIONS.values() if one.pitch == master.pitch), None)
    if kind is not None:
        count = int((outer - inner) / kind.pitch)
        teeth: list[Point] = []
        for number in range(count + 1):
            at = inner + number * kind.pitch
            teeth += [(-design.height, at), (-design.height + 0.7 * kind.sharp_height, at + kind.pitch / 2)]
        sheet.stroke(_on_paper(view, teeth[:-1]), "thin")
    if master.top_height > 0:
        block = [(deep, inner), (deep, outer), (-design.height, outer), (-design.height, inner)]
        sheet.stroke(_on_paper(view, block), "edge", closed=True)
    face = next(one for one in design.keep_outs if one.name == "chuck face")
    low, high = min(r for r, _ in face.outline), max(r for r, _ in face.outline)
    a, b = view.at((deep, low)), view.at((deep, high))
    sheet.stroke([(a[0] - SLAB, a[1]), a, b, (b[0] - SLAB, b[1])], "edge")
    spot = (a[0], b[1] + 6.0)
    sheet.leader([spot, (spot[0] - SLAB - 2.0, spot[1] - 4.0)], "chuck face", anchor="end")


@dataclass(frozen=True)
class _Diameter:
    """A diameter to say: where its edge lies, and what stands behind the number."""

    at: Point
    after: str


def _diameters(jaw: BoredJaw, system: UnitSystem) -> list[_Diameter]:
    """Diameters of the section, smallest first, so that no line crosses another's."""
    design, ring = jaw.design, jaw.ring
    width = design.relief[0]
    straight = design.steps[0].radius if design.steps and design.steps[0].z >= 0 else None
    found = [_Diameter((-(design.depth - width), design.diameter / 2), _tolerance(design, system))]
    if straight is None and abs(design.mouth_diameter - design.diameter) > 5e-4:
        found.append(_Diameter((-design.mouth_chamfer, design.mouth_diameter / 2), " at front"))
    if design.land is not None:
        found += [
            _Diameter((-design.depth, diameter / 2), " land")
            for diameter in design.land
            if abs(diameter - design.diameter) > 0.01
        ]
    for step in design.steps:
        grips = " grips" if step.grips else ""
        found.append(_Diameter((step.z - design.depth + 0.5, step.radius), grips))
    found.append(_Diameter((ring.heights[1] - design.height, ring.set_to / 2),
                           f" ±{dimension(SIZE_TOLERANCE_MM, system)} {ring.ring.kind}"))  # fmt: skip
    if ring.groove is not None:
        found += [_Diameter((0.0, diameter / 2), " groove") for diameter in ring.groove.diameters]
    return sorted(found, key=lambda one: one.at[1])


def _tolerance(design: BoreDesign, system: UnitSystem) -> str:
    low, high = (deviation(value, system) for value in design.tolerance)
    return f" {high}/{low}"


def _section_dims(sheet: Sheet, view: View, jaw: BoredJaw, columns: Sequence[_Diameter], top: float) -> None:
    design = jaw.design
    front, axis = view.at((0.0, 0.0))
    for number, one in enumerate(columns, 1):
        z, radius = one.at
        sheet.dim(Dim(view.at((z, -radius)), view.at((z, radius)), front + 3.0 + COLUMN * number, "y", view.scale,
                      before="Ø", after=one.after, half=True))  # fmt: skip
    outside = jaw.outward > 0
    high = view.at((0.0, top))[1]
    start, step = (axis + 8.0, COLUMN) if outside else (high - 7.0, -COLUMN)
    corner = design.from_grip[2][0]
    far = jaw.ends[0] if outside else jaw.ends[1]
    deep = -design.height - jaw.master.top_height
    face = next(one for one in design.keep_outs if one.name == "chuck face")
    rim = (min if outside else max)(r for r, _ in face.outline)
    grip = deep + design.grip_height
    within = f" ±{dimension(DEPTH_TOLERANCE_MM, sheet.system)}"
    levels = [((one.z - design.depth, one.radius), (0.0, corner), "", "") for one in design.steps]
    for number, (a, b, before, after) in enumerate((
        *levels,
        ((-design.depth, corner), (0.0, corner), "", within),
        ((-design.height, far), (0.0, corner), "", ""),
        ((deep, rim), (grip, corner), "to mid-grip ", ""),
    )):  # fmt: skip
        sheet.dim(Dim(view.at(a), view.at(b), start + step * number, "x", view.scale, before=before, after=after))
    mouth = view.at((-design.mouth_chamfer / 2, (design.profile[0][0] + design.profile[1][0]) / 2))
    words = f"{dimension(design.mouth_chamfer, sheet.system)} x 45°"
    sheet.leader([mouth, (front + 5.0, high - 2.0)], words)
    _pocket_words(sheet, view, jaw, front)
    if jaw.ring.groove is not None:
        low, high = (diameter / 2 for diameter in jaw.ring.groove.diameters)
        floor = view.at((-jaw.ring.groove.depth, (low + high) / 2))
        words = f"groove {dimension(jaw.ring.groove.depth, sheet.system)} deep"
        sheet.leader([floor, (front + 7.0, view.at((0.0, top))[1] - 6.5)], words)
    if design.face_off > 0:
        old = view.at((design.face_off, (jaw.ends[0] + jaw.ends[1]) / 2))
        words = f"face {dimension(design.face_off, sheet.system)} off first"
        sheet.leader([old, (front + 7.0, high + 3.0)], words)
    where = view.at((-design.depth, corner))
    sheet.circle(where, 3.6, "thin")
    sheet.text((where[0] + 3.4, where[1] + (5.6 if outside else -3.2)), "A", size=STRONG, bold=True)


def _pocket_words(sheet: Sheet, view: View, jaw: BoredJaw, front: float) -> None:
    """Size of the bolt pockets, at the outermost."""
    heads = [one for one in jaw.design.keep_outs if one.name.startswith("bolt ")]
    if not heads:
        return
    last = max(heads, key=lambda one: max(r for r, _ in one.outline))
    radii = [r for r, _ in last.outline]
    at = view.at((-jaw.blank.pocket[1] + 0.3, max(radii) - 0.5))  # its ground is there however deep the seat is
    wide, deep = (dimension(value, sheet.system) for value in jaw.blank.pocket)
    words = f"pocket Ø{wide}, {deep} deep"
    if jaw.outward > 0:
        sheet.leader([at, (front + 9.0, at[1] + 2.0)], words)
    else:  # the diameters stand to the right of the jaw
        below = view.at((-jaw.design.height - jaw.master.top_height, jaw.ends[0]))
        sheet.leader([at, (below[0] - 2.0, below[1] + 4.0)], words)


# Detail of the corner


def _detail(sheet: Sheet, jaw: BoredJaw) -> None:
    import shapely

    design, out = jaw.design, jaw.outward
    width, deep = design.relief
    radius = max(2.6 * max(width, deep), 2.0)
    bore, corner = design.from_grip[2][0], design.from_grip[3][0]
    scale = scale_that_fits(2 * radius, 2 * radius, (50.0, 44.0))
    view = View(scale, (212.0, 34.0 if out > 0 else 42.0), (-design.depth + width / 2, bore))
    window: Any = shapely.Point(view.origin).buffer(radius, quad_segs=24)
    body = shapely.Polygon(jaw_section(jaw)).buffer(0).intersection(window)
    edge = window.exterior.buffer(1e-3)
    for polygon in getattr(body, "geoms", [body]):
        loop = _on_paper(view, polygon.exterior.coords)
        sheet.hatch([loop], angle=45.0, spacing=2.6)
        rest: Any = shapely.line_merge(polygon.exterior.difference(edge))
        for line in getattr(rest, "geoms", [rest]):
            sheet.stroke(_on_paper(view, line.coords), "outline")
    sheet.circle(view.at(view.origin), radius * scale, "thin")
    centre, reach = view.at(view.origin), radius * scale
    # Words stand in the air: towards the axis for an outside grip, away from it for an inside grip.
    air = centre[1] + out * (reach + 4.0)
    sheet.dim(Dim(view.at((-design.depth, corner)), view.at((-(design.depth - width), bore)), air, "x", scale))
    start = -(design.depth - width)
    sheet.dim(Dim(view.at((start, design.diameter / 2)), view.at((start, corner)), centre[0] + reach + 5.0, "y", scale))
    if design.seat_relief > 0 and len(design.from_grip) > 6 and abs(design.from_grip[5][0] - bore) < 0.85 * radius:
        a, b = design.from_grip[5], design.from_grip[6]
        sheet.dim(Dim(view.at((b[1], b[0])), view.at((a[1], a[0])), air + out * COLUMN, "x", scale))
    a, b = design.from_grip[2], design.from_grip[3]
    middle = view.at(((a[1] + b[1]) / 2, (a[0] + b[0]) / 2))
    sheet.leader([middle, (centre[0] + 0.3 * reach, centre[1] + out * 0.55 * reach)], f"{design.run_in:g}°")
    sheet.text((166.0, 9.0), f"A  {scale_words(scale)}", size=STRONG, bold=True)
    sheet.text((166.0, 13.0), "corner relief")


# Chuck face


def _face(sheet: Sheet, jaw: BoredJaw) -> None:
    import shapely

    master, way, design = jaw.master, jaw.way, jaw.design
    largest = max(way.turning, master.body_radius or 0.0, jaw.ring.ring.outside / 2)
    scale = scale_that_fits(2 * largest, 2 * largest, (88.0, 84.0))
    view = View(scale, (212.0, 119.0))
    centre = view.at((0.0, 0.0))
    if master.body_radius:
        sheet.circle(centre, master.body_radius * scale, "edge")
    if master.through_radius:
        sheet.circle(centre, master.through_radius * scale, "hidden")
    sheet.circle(centre, way.turning * scale, "phantom")
    sheet.circle(centre, jaw.ring.set_to / 2 * scale, "hidden")
    bored = shapely.Point(0.0, 0.0).buffer(design.diameter / 2, quad_segs=90).exterior
    top = _jaw_from_front(jaw)
    for number in range(master.jaws):
        angle = 2 * pi * number / master.jaws
        outline = [_turned(point, angle) for point in top]
        sheet.stroke(_on_paper(view, outline), "outline", closed=True)
        arcs: Any = shapely.line_merge(bored.intersection(shapely.Polygon(outline)))
        for arc in getattr(arcs, "geoms", [arcs]):
            if len(arc.coords) > 1:
                sheet.stroke(_on_paper(view, arc.coords), "edge")
        for hole in jaw.blank.holes:
            at = view.at(_turned((0.0, way.zero + hole), angle))
            sheet.circle(at, jaw.blank.pocket[0] / 2 * scale, "thin")
            sheet.circle(at, jaw.bolt.head / 2 * scale, "thin")
        label = _turned((0.0, largest + 3.6 / scale), angle)
        at = view.at(label)
        sheet.text((at[0], at[1] + 1.1), str(number + 1), size=STRONG, anchor="middle", bold=True)
        mark = [_turned((side, way.zero), angle) for side in (-jaw.blank.width / 2 - 2, jaw.blank.width / 2 + 2)]
        if jaw.blank.style == "pie":
            mark = [_turned((side, way.zero), angle) for side in (-14.0, 14.0)]
        sheet.stroke(_on_paper(view, mark), "centre")
    for along in ((1.0, 0.0), (0.0, 1.0)):
        reach = largest + 1.5 / scale
        sheet.stroke([view.at((-reach * along[0], -reach * along[1])), view.at((reach * along[0], reach * along[1]))],
                     "centre")  # fmt: skip
    left = centre[0] - largest * scale - 3.5
    sheet.dim(
        Dim(view.at((0.0, 0.0)), view.at((-jaw.blank.width / 4, way.zero)), left, "y", scale, before="zero mark ")
    )
    word = "tooth" if master.pitch is not None else "position"
    spot = view.at((0.0, way.zero))
    words = f"{word} {way.tooth} on every jaw"
    sheet.leader([spot, (centre[0] + 7.0, centre[1] - largest * scale - 4.5)], words)
    sheet.text((WIDTH - 5.0, 167.0), f"chuck face  {scale_words(scale)}", size=STRONG, bold=True, anchor="end")


def _jaw_from_front(jaw: BoredJaw) -> list[Point]:
    """Jaw 1 seen from the tailstock, its middle upwards."""
    return [(-y, x) for x, y in jaw.way.outline.corners]


def _turned(point: Point, angle: float) -> Point:
    """A point turned about the axis, counter-clockwise as seen from the tailstock."""
    x, y = point
    return x * cos(angle) - y * sin(angle), x * sin(angle) + y * cos(angle)


# Words


def _notes(sheet: Sheet, jaw: BoredJaw) -> None:
    """What the dimensions leave to be said, smaller where it is much; what has no room is on the sheet of steps."""
    left, top, wide = 8.0, BOTTOM + 5.0, 152.0
    for size, pitch in NOTE_SIZES:
        lines = [
            (left if number == 0 else left + 2.5, line)
            for words in _sayings(jaw, sheet.system)
            for number, line in enumerate(wrap(words, wide - 3.0, size, lines=3))
        ]
        room = int((HEIGHT - 5.0 - top) / pitch) + 1
        if len(lines) <= room:
            break
    else:
        lines = [*lines[: room - 1], (left, "more to know: see the steps")]
    for number, (x, line) in enumerate(lines):
        sheet.text((x, top + pitch * number), line, size=size)
    sheet.text((8.0, 9.0), IN_SHORT, size=STRONG, bold=True)


def _sayings(jaw: BoredJaw, system: UnitSystem) -> list[str]:
    """What the dimensions leave to be said."""
    design, way, ring, unit = jaw.design, jaw.way, jaw.ring, length_unit(system)

    def say(value: float) -> str:
        return f"{dimension(round(value, 3), system)} {unit}"

    taper = "no taper"
    if design.taper:
        taper = f"taper {deviation(design.taper, system)} {unit} per side over the grip, towards the part at the front"
    seat = "no seat" if design.land is None else (
        f"seat land Ø{say(design.land[0])} to Ø{say(design.land[1])}, the rest set back {say(design.seat_relief)}"
    )  # fmt: skip
    if design.steps:
        words = (step_words(one, design.depth, say, say(2 * one.radius)) for one in design.steps)
        seat += f"; {'; '.join(words)}"
    found = [
        f"{design.side} grip; {taper}; {seat}",
        f"corner relief {say(design.relief[0])} wide, {say(design.relief[1])} deep, run in at {design.run_in:g}°; "
        f"mouth chamfer {say(design.mouth_chamfer)}; all other edges broken by hand",
        f"bore and seat {FINISH_WORDS}; depth within {say(DEPTH_TOLERANCE_MM)} either way",
        in_units(ring.words, system),
        f"stroke left {say(way.opening)} to open, {say(way.closing)} to close; the open jaws turn in "
        f"Ø{say(2 * way.turning)}",
    ]
    web = "" if way.web is None else f"web to the bolt pocket {say(way.web)}; "
    cuts = f"{way.cuts_words} cuts left; "
    pockets = ""
    if jaw.blank.holes:
        radii = " and ".join(say(way.zero + hole) for hole in jaw.blank.holes)
        wide, deep = jaw.blank.pocket
        pockets = f", pockets Ø{say(wide)}, {say(deep)} deep, at radius {radii}"
    found.append(f"{web}{cuts}bolts {jaw.bolt.name} of class {jaw.bolt_class}{pockets}")
    if design.gap_open is not None and design.gap_closed is not None:
        found.append(f"gap between segments {say(design.gap_open)} open, {say(max(design.gap_closed, 0.0))} closed")
    return [*found, *jaw.notes]


def _title(sheet: Sheet, jaw: BoredJaw, scale: float) -> None:
    left, top, right, low = 166.0, 170.0, WIDTH - 3.0, HEIGHT - 3.0
    sheet.stroke([(3.0, 3.0), (right, 3.0), (right, low), (3.0, low)], "edge", closed=True)
    sheet.stroke([(left - 3.0, low), (left - 3.0, top), (right, top)], "edge")
    wide = right - left - 2.0
    unit = "inch" if sheet.system == "inch" else "mm"
    sheet.text((left, top + 5.0), shorten(f"Jaw set {jaw.jaw_set}", wide, STRONG), size=STRONG, bold=True)
    sheet.text((left, top + 9.5), shorten(f"{jaw.title}, {jaw.part}", wide, LETTER))
    words = f"section {scale_words(scale)}, dimensions in {unit}"
    sheet.text((left, top + 13.5), words)
    sheet.text((left, top + 17.3), "jaws on the ring; phantom lines: before the cut", size=LEAST)
    assert text_width(words) < wide


def _on_paper(view: View, points: Any) -> list[Point]:
    found = [view.at((float(point[0]), float(point[1]))) for point in points]
    return found[:-1] if len(found) > 2 and found[0] == found[-1] else found

"""The part in its jaws, cut along the spindle axis: chuck on the left, tailstock on the right."""

from __future__ import annotations

from itertools import pairwise

from heldtrue.drawing import dimensions
from heldtrue.drawing.scene import (
    CENTRE_MM,
    FRAME_GAP,
    FRAME_OFF,
    LEFT,
    SLAB,
    Scene,
    arrange,
    that_fit,
)
from heldtrue.drawing.svg import (
    ACCENT,
    CENTRE_LINE,
    GREY,
    HAIR,
    LEAST,
    MEDIUM,
    NARROW,
    PAPER,
    PHANTOM,
    WIDE,
    Picture,
    Point,
    hatch,
    level_crossings,
    text_width,
)
from heldtrue.drawing.wording import deviation, dimension, length_unit
from heldtrue.planning.caveats import SEAT_UNSAID, caveats_of
from heldtrue.planning.result import Plan
from heldtrue.planning.setup import Setup, Surface
from heldtrue.quantities import UnitSystem


def draw_section(plan: Plan, system: UnitSystem = "metric", *, width: float = 150.0, height: float = 100.0) -> str:
    """Section of the part held in its jaws, as SVG of ``width`` by ``height`` mm."""
    setup = plan.setup
    toleranced = [s for s in setup.surfaces if dimensions.asked_of(s)]
    shown = that_fit(toleranced, system, height)
    scene = arrange(setup, shown, system, width, height)
    what = f"{setup.part.number} {setup.part.name}".strip()
    picture = Picture(width, height, f"Section of {what} in its jaws", _describe(scene, system))
    _chuck(picture, scene)
    for side in scene.sides:
        _bodies(picture, scene, side)
    if setup.grip.centre:
        _centre(picture, scene)
    _axis(picture, scene)
    _grip_arrow(picture, scene)
    _seat(picture, scene, "seat not said" if SEAT_UNSAID in caveats_of(setup) else "seat")
    _dimensions(picture, scene, system)
    _tolerances(picture, scene, shown, system)
    words = f"dimensions in {'inch' if system == 'inch' else 'mm'}"
    if len(shown) < len(toleranced):
        words = f"{len(toleranced) - len(shown)} more toleranced surfaces without their frames; {words}"
    picture.text((width - 0.5, height - 0.8), words, size=LEAST, anchor="end", colour=GREY)
    return picture.svg()


def draw_sketch(setup: Setup, *, width: float = 84.0, height: float = 60.0) -> str:
    """The part in its jaws without a word on it, to tell one way to hold from another; SVG, in mm of paper."""
    scene = arrange(setup, [], setup.units, width, height)
    picture = Picture(width, height, f"Sketch: {setup.grip.side} grip", _describe(scene, setup.units))
    _chuck(picture, scene, named=False)
    for side in scene.sides:
        _bodies(picture, scene, side)
    _axis(picture, scene)
    _grip_arrow(picture, scene)
    return picture.svg()


def _describe(scene: Scene, system: UnitSystem) -> str:
    grip = scene.setup.grip
    unit = length_unit(system)
    return (
        f"{grip.side} grip on diameter {dimension(grip.diameter, system)} {unit}, gripped length "
        f"{dimension(max(grip.z) - min(grip.z), system)} {unit}, "
        f"overhang {dimension(scene.end - scene.jaw.tip, system)} {unit}"
    )


def _chuck(picture: Picture, scene: Scene, *, named: bool = True) -> None:
    """The chuck as a slab that goes on to the left, its face a wide line."""
    x = scene.x_face
    high = scene.y_axis - scene.top_radius * scene.scale
    low = 2 * scene.y_axis - high if scene.mirrored else scene.y_axis
    picture.area([[(x - SLAB, high), (x, high), (x, low), (x - SLAB, low)]], "#f1f1ef")
    picture.line((x, high), (x, low), width=WIDE)
    picture.line((x - SLAB, high), (x, high), width=NARROW)
    if scene.mirrored:
        picture.line((x - SLAB, low), (x, low), width=NARROW)
    dimensions.break_line(picture, (x - SLAB, high), (x - SLAB, low))
    if not named:
        return
    through = [r for r, z in scene.part + scene.blank if z < scene.jaw.chuck_face]
    if through:
        low = scene.at(max(through), 0)[1]
    crossing = (scene.at(scene.jaw.radius, 0)[1], scene.y_axis, scene.at(-scene.jaw.radius, 0)[1])
    marks = [high, *(y for y in crossing if high < y < low), low]
    start, end = max(pairwise(marks), key=lambda ends: ends[1] - ends[0])
    words = next((w for w in ("chuck face", "chuck") if text_width(w) < end - start - 1.0), "")
    picture.text((x - 2.2, (start + end) / 2), words, anchor="middle", turn=-90, italic=True)


def _bodies(picture: Picture, scene: Scene, side: int) -> None:
    """Part and jaw, hatched against each other, with the edges seen behind the cut."""
    jaw = scene.jaw.section(min(scene.setup.grip.z), scene.far)
    part_loop, jaw_loop = scene.loop(scene.part, side), scene.loop(jaw, side)
    _edges_behind(picture, scene, jaw, side)
    if scene.blank:
        picture.polyline(scene.loop(scene.blank, side), width=NARROW, dash=PHANTOM, colour=GREY, closed=True)
    picture.area([jaw_loop], PAPER)
    picture.segments(hatch([jaw_loop], spacing=2.9, angle=45.0), colour=GREY, width=HAIR)
    picture.area([part_loop], PAPER)
    picture.segments(hatch([part_loop], spacing=1.5, angle=-45.0), width=HAIR)
    broken = scene.jaw.outside and scene.far < scene.jaw.far_radius
    for a, b in zip(jaw, [*jaw[1:], jaw[0]], strict=True):
        if not (broken and a[0] == b[0] == scene.far):
            picture.line(scene.at(side * a[0], a[1]), scene.at(side * b[0], b[1]), width=MEDIUM, cap="round")
    if broken:
        ends = [scene.at(side * scene.far, z) for z in (scene.jaw.chuck_face, scene.jaw.tip)]
        dimensions.break_line(picture, ends[0], ends[1])
    for a, b in zip(scene.part, [*scene.part[1:], scene.part[0]], strict=True):
        if not a[0] == b[0] == 0.0:
            picture.line(scene.at(side * a[0], a[1]), scene.at(side * b[0], b[1]), width=WIDE, cap="round")
    grip = [scene.at(side * scene.jaw.radius, z) for z in scene.setup.grip.z]
    picture.line(grip[0], grip[1], width=1.1, colour=ACCENT)


def _edges_behind(picture: Picture, scene: Scene, jaw: list[Point], side: int) -> None:
    """Circular edges of a hollow part: in its bore, straight lines to the axis where nothing hides them."""
    for r, z in {(round(r, 6), round(z, 6)) for r, z in scene.part if r > 0}:
        for nudge in (-1e-4, 1e-4):
            crossings = level_crossings([scene.part], z + nudge)
            if crossings and min(crossings) < r - 1e-3:
                break
        else:
            hiding = level_crossings([jaw], z - 1e-3) + level_crossings([jaw], z + 1e-3)
            start, stop = r, 0.0
            if hiding and not scene.jaw.outside:
                start = min(hiding)
            if start > stop + 1e-6:
                picture.line(scene.at(side * start, z), scene.at(0, z), width=NARROW)


def _centre(picture: Picture, scene: Scene) -> None:
    x, y = scene.at(0, scene.far_end)
    tip, back = x - 1.6, x + 7.0
    half = (back - tip) * 0.577
    picture.polyline([(tip, y), (back, y - half), (back, y + half)], width=MEDIUM, closed=True, fill=PAPER)
    picture.text((back + 0.4, y - half - 1.0), "centre", anchor="end", italic=True)


def _axis(picture: Picture, scene: Scene) -> None:
    start = scene.x_face - SLAB - 4
    end = scene.at(0, scene.far_end)[0] + (10.5 if scene.setup.grip.centre else 5.0)
    picture.line((start, scene.y_axis), (end, scene.y_axis), width=0.2, dash=CENTRE_LINE)
    if not scene.mirrored:  # the symmetry sign of ISO 128: the other half is the same
        for x in (start + 1.2, start + 2.0, end - 2.0, end - 1.2):
            picture.line((x, scene.y_axis - 1.6), (x, scene.y_axis + 1.6), width=NARROW)


def _grip_arrow(picture: Picture, scene: Scene) -> None:
    """A block arrow on the jaw: the way it moves to grip."""
    jaw = scene.jaw
    shoulder = jaw.seat if jaw.seat is not None else min(scene.setup.grip.z)
    if jaw.outside:
        z = (jaw.chuck_face + jaw.tip) / 2
        start, end = scene.far, max(scene.far - 11 / scene.scale, jaw.radius + 1.5 / scene.scale)
        start -= 2.0 / scene.scale
    else:
        z = (
            (jaw.chuck_face + shoulder) / 2
            if (shoulder - jaw.chuck_face) * scene.scale > 7
            else (jaw.chuck_face + jaw.tip) / 2
        )
        end = jaw.radius - 1.8 / scene.scale
        start = max(end - 10 / scene.scale, jaw.far_radius + 1.0 / scene.scale)
    for side in scene.sides:
        x, tail = scene.at(side * start, z)
        tip = scene.at(side * end, z)[1]
        way = 1 if tip > tail else -1
        length = abs(tip - tail)
        if length < 3.0:
            continue
        neck = tip - way * min(3.4, 0.5 * length)
        shape = [
            (x - 1.2, tail),
            (x - 1.2, neck),
            (x - 2.9, neck),
            (x, tip),
            (x + 2.9, neck),
            (x + 1.2, neck),
            (x + 1.2, tail),
        ]
        picture.polyline(shape, width=MEDIUM, colour=ACCENT, closed=True, fill=PAPER)


def _seat(picture: Picture, scene: Scene, name: str) -> None:
    """The seat with its name, from the free space beside it."""
    jaw = scene.jaw
    if jaw.seat is None:
        return
    inner, outer = jaw.seat_radii
    target = scene.at((inner + outer) / 2, jaw.seat)
    wide = text_width(name)
    x = max(target[0] - 7.0 - wide / 2, scene.x_face + wide / 2 + 0.8)
    y = scene.at(inner, 0)[1] + 5.5 if jaw.outside else scene.at(outer, 0)[1] - 4.0
    if jaw.outside and y > scene.y_axis - 1.5:
        y = min(y, scene.y_axis - 1.5)
    picture.line(scene.at(inner, jaw.seat), scene.at(outer, jaw.seat), width=1.1, colour=ACCENT)
    dimensions.leader(picture, [(x + wide / 2 + 0.5, y - 0.9), target], dot=True)
    picture.text((x, y), name, anchor="middle", italic=True, plate=True)


def _dimensions(picture: Picture, scene: Scene, system: UnitSystem) -> None:
    jaw, grip = scene.jaw, scene.setup.grip
    low, tip = min(grip.z), max(grip.z)
    side = -1 if scene.mirrored else 1
    base = scene.y_axis + (scene.top_radius * scene.scale if scene.mirrored else 0.0)
    first, second = base + 7.0, base + 13.0
    gripped, middle = scene.at(side * jaw.radius, 0)[1], (low + tip) / 2
    has_overhang = scene.end - tip > 1e-6
    ends = [r for r, z in scene.part if scene.end - z < 1e-6]
    at_end = scene.at(side * (max(ends) if scene.mirrored else min(ends)), 0)[1]
    for z, start, stop in (
        (low, gripped, first),
        (tip, gripped, first),
        (middle, gripped, second),
        (jaw.chuck_face, base, second),
        *([(scene.end, at_end, first)] if has_overhang else []),
    ):
        x = scene.at(0, z)[0]
        picture.line((x, start + 0.8), (x, stop + 1.2), width=dimensions.FINE)
    x_low, x_tip, x_end = (scene.at(0, z)[0] for z in (low, tip, scene.end))
    dimensions.across(picture, x_low, x_tip, first, f"gripped {dimension(tip - low, system)}")
    if has_overhang:
        dimensions.across(
            picture, x_tip, x_end, first, f"overhang {dimension(scene.end - tip, system)}", outside="right"
        )
    height = f"grip height {dimension(middle - jaw.chuck_face, system)}"
    dimensions.across(picture, scene.x_face, scene.at(0, middle)[0], second, height, outside="right")

    x = scene.x_face - SLAB - 5.0
    top, bottom = scene.at(jaw.radius, 0)[1], scene.at(-jaw.radius, 0)[1] if scene.mirrored else scene.y_axis
    for level in (top, bottom) if scene.mirrored else (top,):
        picture.line((x - 1.2, level), (scene.at(0, low)[0] - 0.6, level), width=dimensions.FINE)
    lower, upper = grip.diameter_tolerance
    tolerance = (deviation(upper, system), deviation(lower, system)) if lower != upper else None
    dimensions.upright(
        picture, x, top, bottom, f"Ø{dimension(grip.diameter, system)}", tolerance, half=not scene.mirrored
    )


def _tolerances(picture: Picture, scene: Scene, surfaces: list[Surface], system: UnitSystem) -> None:
    """A long-dashed dotted line along every surface made here, and its tolerances in a frame."""
    for surface in scene.setup.surfaces:
        ends = _beside(scene, surface)
        picture.line(ends[0], ends[1], width=0.6, dash="3 0.8 0.6 0.8", colour=ACCENT)
    shown = sorted(surfaces, key=lambda s: _target(scene, s)[1])
    if scene.frames_above:
        _frames_above(picture, scene, shown, system)
    else:
        _frames_beside(picture, scene, shown, system)


def _frames_beside(picture: Picture, scene: Scene, surfaces: list[Surface], system: UnitSystem) -> None:
    x = scene.at(0, scene.far_end)[0] + FRAME_OFF + (CENTRE_MM if scene.setup.grip.centre else 0.0)
    heights = [dimensions.frame_size(s, system)[1] for s in surfaces]
    lowest, placed = 3.0, []
    for surface, tall in zip(surfaces, heights, strict=True):
        wanted = (
            _target(scene, surface)[1]
            + {"outside": -3.0, "inside": 3.0, "face": 0.0}[surface.side]
            - 3.6
            - dimensions.ROW / 2
        )
        placed.append(max(wanted, lowest))
        lowest = placed[-1] + tall + FRAME_GAP
    limit = scene.y_axis + (scene.top_radius * scene.scale if scene.mirrored else 0.0) + 2.0
    for i in reversed(range(len(placed))):  # push back up what would reach into the dimensions
        placed[i] = min(placed[i], limit - heights[i])
        limit = placed[i] - FRAME_GAP
    for surface, y in zip(surfaces, placed, strict=True):
        level = max(y, 0.5) + 3.6 + dimensions.ROW / 2
        dimensions.leader(picture, [(x, level), (x - 2.5, level), _target(scene, surface)])
        dimensions.frame(picture, (x, max(y, 0.5)), surface, system, picture.width - x - 0.5)


def _frames_above(picture: Picture, scene: Scene, surfaces: list[Surface], system: UnitSystem) -> None:
    right = picture.width - 1.0
    for surface in sorted(surfaces, key=lambda s: -_target(scene, s)[0]):
        wide = max(dimensions.frame_size(surface, system)[0], min(text_width(surface.name), 40.0))
        target = _target(scene, surface)
        x = min(right - wide, max(target[0] + 2.0, LEFT))
        level = 1.0 + 3.6 + dimensions.ROW / 2
        dimensions.leader(picture, [(x, level), (x - 2.5, level), target])
        dimensions.frame(picture, (x, 1.0), surface, system, right - x)
        right = x - 6.0


def _target(scene: Scene, surface: Surface) -> Point:
    """The point of a surface its leader goes to."""
    low, high = surface.z
    if surface.side == "face":
        inner, outer = surface.diameters or (0.0, 0.0)
        return scene.at((0.35 * inner + 0.65 * outer) / 2, low)
    return scene.at((surface.diameter or 0.0) / 2, low + 0.7 * (high - low))


def _beside(scene: Scene, surface: Surface) -> tuple[Point, Point]:
    """The ends of a line just off a surface, on the side without material."""
    off = 0.95
    if surface.side == "face":
        inner, outer = surface.diameters or (0.0, 0.0)
        (x, a), (_, b) = scene.at(inner / 2, surface.z[0]), scene.at(outer / 2, surface.z[0])
        crossings = level_crossings([[(r, z) for r, z in scene.part]], surface.z[0] + 1e-3)
        middle = (inner + outer) / 4
        inside = sum(c < middle for c in crossings) % 2 == 1
        x += -off if inside else off
        return (x, a), (x, b)
    (x0, y), (x1, _) = (scene.at((surface.diameter or 0.0) / 2, z) for z in surface.z)
    y += -off if surface.side == "outside" else off
    return (x0, y), (x1, y)

"""The chuck seen from the tailstock: the jaws round the part, jaw 1 at the top."""

from __future__ import annotations

from collections.abc import Iterable
from math import cos, pi, sin

from heldtrue.drawing.dimensions import leader
from heldtrue.drawing.jaw_shape import JawShape
from heldtrue.drawing.svg import (
    ACCENT,
    CENTRE_LINE,
    DASHED,
    GREY,
    LEAST,
    MEDIUM,
    NARROW,
    PAPER,
    STRONG,
    WIDE,
    Picture,
    Point,
    level_crossings,
    on_circle,
    text_width,
)
from heldtrue.drawing.wording import dimension, length_unit
from heldtrue.planning.profiles import outline
from heldtrue.planning.result import Plan
from heldtrue.quantities import UnitSystem

JAW_FILL = "#e7e8e6"
LABELS, CAPTION = 9.0, 11.0
"""Paper kept free round the chuck, and below it for the caption. [mm]"""


def draw_chuck_face(plan: Plan, system: UnitSystem = "metric", *, width: float = 100.0, height: float = 105.0) -> str:
    """View of chuck, jaws and part from the tailstock, as SVG of ``width`` by ``height`` mm."""
    setup = plan.setup
    jaw = JawShape.of(setup)
    part = outline(setup.part.profile)
    largest = max(r for r, _ in part)
    reach = max(largest, jaw.far_radius if jaw.outside else 0.0, jaw.radius)
    swing = (setup.chuck.swing or 0.0) / 2
    show_swing = reach < swing < 1.6 * reach
    scale = min(width / 2 - LABELS, (height - CAPTION) / 2 - LABELS) / (swing if show_swing else reach)
    centre = (width / 2, (height - CAPTION) / 2)
    words = caption(jaw, system)
    picture = Picture(width, height, f"Chuck face, {jaw.count} {jaw.style} jaws", words)

    if show_swing:
        picture.circle(centre, swing * scale, width=0.2, dash=CENTRE_LINE, colour=GREY)
    _part_and_jaws(picture, jaw, part, centre, scale)
    rim = (swing if show_swing else reach) * scale + 3.0
    picture.line((centre[0] - rim, centre[1]), (centre[0] + rim, centre[1]), width=0.2, dash=CENTRE_LINE)
    picture.line((centre[0], centre[1] - rim), (centre[0], centre[1] + rim), width=0.2, dash=CENTRE_LINE)
    for number in range(jaw.count):
        _number(picture, jaw, number, centre, scale, rim)
    _size(picture, jaw, centre, scale, system)
    picture.text((width / 2, height - 5.2), words, anchor="middle")
    picture.text(
        (width / 2, height - 1.4),
        "seen from the tailstock; jaws counted anticlockwise, stamped numbers rule",
        size=LEAST,
        anchor="middle",
        colour=GREY,
    )
    return picture.svg()


def caption(jaw: JawShape, system: UnitSystem) -> str:
    """What the view shows, in one line."""
    share = jaw.count * jaw.half_angle / pi
    way = "outside" if jaw.outside else "inside"
    unit = length_unit(system)
    grip = f"{way} grip on Ø{dimension(2 * jaw.radius, system)} {unit}"
    return f"{jaw.count} {jaw.style} jaws, {grip}, {share:.0%} of the turn"


def _part_and_jaws(picture: Picture, jaw: JawShape, part: list[Point], centre: Point, scale: float) -> None:
    outlines = [
        [_turned(point, 2 * pi * k / jaw.count, centre, scale) for point in jaw.face()] for k in range(jaw.count)
    ]
    for loop in outlines:
        picture.polyline(loop, width=MEDIUM, closed=True, fill=JAW_FILL)
    inner, outer = _in_front(jaw, part)
    rings = [[on_circle(centre, r * scale, 2 * pi * i / 180) for i in range(180)] for r in (inner, outer) if r > 0]
    picture.area(rings, PAPER)
    for loop in outlines:  # what the part hides of the jaws
        if not jaw.outside or outer > jaw.radius + 1e-6:
            _hidden(picture, loop, centre, inner * scale, outer * scale)
    drawn: list[float] = []
    for radius, thick in sorted(_visible_circles(part), key=lambda circle: not circle[1]):
        if all(abs(radius - other) * scale > 0.7 for other in drawn):
            picture.circle(centre, radius * scale, width=WIDE if thick else NARROW)
            drawn.append(radius)
    for k in range(jaw.count):  # where they press
        arc = [
            on_circle(centre, jaw.radius * scale, 2 * pi * k / jaw.count + jaw.half_angle * i / 20)
            for i in range(-20, 21)
        ]
        covered = inner < jaw.radius < outer and jaw.outside
        picture.polyline(arc, width=0.8 if covered else 1.1, dash=DASHED if covered else "", colour=ACCENT)


def _in_front(jaw: JawShape, part: list[Point]) -> Point:
    """Inner and outer radius of what of the part stands before the jaws: all of it beyond their tips."""
    beyond = [r for r, z in part if z >= jaw.tip - 1e-6]
    crossing = _radii_at(part, jaw.tip - 1e-3) + _radii_at(part, jaw.tip + 1e-3)
    radii = beyond + crossing or [r for r, _ in part]
    return (0.0 if min(radii) < 1e-6 else min(radii)), max(radii)


def _radii_at(part: list[Point], z: float) -> list[float]:
    return level_crossings([part], z)


def _hidden(picture: Picture, loop: list[Point], centre: Point, inner: float, outer: float) -> None:
    """The stretches of an outline behind a ring, dashed."""
    run: list[Point] = []
    for a, b in zip(loop, [*loop[1:], loop[0]], strict=True):
        pieces = max(1, int(max(abs(a[0] - b[0]), abs(a[1] - b[1])) / 0.4))
        for i in range(pieces + 1):
            point = (a[0] + (b[0] - a[0]) * i / pieces, a[1] + (b[1] - a[1]) * i / pieces)
            off = ((point[0] - centre[0]) ** 2 + (point[1] - centre[1]) ** 2) ** 0.5
            if inner - 1e-6 <= off <= outer + 1e-6:
                run.append(point)
            elif len(run) > 1:
                picture.polyline(run, width=NARROW, dash=DASHED, colour=GREY)
                run = []
            else:
                run = []
    if len(run) > 1:
        picture.polyline(run, width=NARROW, dash=DASHED, colour=GREY)


def _visible_circles(part: list[Point]) -> Iterable[tuple[float, bool]]:
    """Radii of the edges seen from +z, and whether they bound the part."""
    seen = set()
    largest, smallest = max(r for r, _ in part), min(r for r, _ in part)
    turned = [[(z, r) for r, z in part]]
    for r, z in part:
        if r < 1e-6 or round(r, 4) in seen:
            continue
        tops = [max(level_crossings(turned, r + nudge), default=-1e9) for nudge in (-1e-3, 1e-3)]
        if min(tops) <= z + 2e-3:
            seen.add(round(r, 4))
            yield r, r in (largest, smallest)


def _turned(point: Point, angle: float, centre: Point, scale: float) -> Point:
    """A point of jaw 1's outline (across, outwards) on the paper, turned anticlockwise."""
    x, y = point
    across, up = x * cos(angle) - y * sin(angle), x * sin(angle) + y * cos(angle)
    return centre[0] + across * scale, centre[1] - up * scale


def _number(picture: Picture, jaw: JawShape, number: int, centre: Point, scale: float, rim: float) -> None:
    """The jaw's number in a circle on its centre line, outside everything."""
    angle = 2 * pi * number / jaw.count
    x, y = on_circle(centre, rim + 2.6, angle)
    picture.circle((x, y), 2.5, width=MEDIUM if number else WIDE, fill=PAPER)
    picture.text((x, y + 1.05), str(number + 1), size=STRONG, anchor="middle", bold=True)
    if number and abs(sin(2 * angle)) > 1e-6:
        inner = jaw.radius if jaw.outside else jaw.far_radius
        picture.line(
            on_circle(centre, max(inner * scale - 3, 0), angle),
            on_circle(centre, rim, angle),
            width=0.2,
            dash=CENTRE_LINE,
        )


def _size(picture: Picture, jaw: JawShape, centre: Point, scale: float, system: UnitSystem) -> None:
    """Width of a jaw, or the gap between two pie jaws."""
    if jaw.style == "pie":
        angle = -pi / jaw.count
        middle = (jaw.radius + jaw.far_radius) / 2 if jaw.outside else 0.5 * jaw.radius
        words = f"gap {dimension(jaw.gap, system)}"
        target = on_circle(centre, middle * scale, angle)
    else:
        angle = 0.0
        words = f"{dimension(jaw.width, system)} wide"
        target = _turned((jaw.radius * sin(jaw.half_angle), jaw.radius * cos(jaw.half_angle)), angle, centre, scale)
        target = (target[0], target[1] - 3.0 if jaw.outside else target[1] + 3.0)
    y = 4.0
    x = picture.width - text_width(words) - 1.0
    leader(picture, [(x + text_width(words), y + 1.0), (x - 0.5, y + 1.0), target], dot=True)
    picture.text((x, y), words)

"""A shape in section, as a picture that names its dimensions as a setup file does."""

from __future__ import annotations

from collections.abc import Iterator

from heldtrue.drawing.drafting import Dim, Sheet, View, scale_that_fits, svg_of
from heldtrue.drawing.svg import text_width
from heldtrue.part_file.outline import Arc, Outline
from heldtrue.part_file.shapes import SHAPES, Given, outline_of_shape
from heldtrue.part_file.surfaces import surfaces_of
from heldtrue.quantities import UnitSystem

WIDTH, HEIGHT = 150.0, 96.0
ROOM = (56.0, 56.0)
"""Room of the section itself; the rest is for its dimensions. [mm of paper]"""
STEP = 7.5
"""Between neighbouring dimension lines. [mm of paper]"""
Mark = tuple[str, str, float, float, float]
"""``diameter``, name, diameter, z where it stands, 0; or ``length``, name, from, to, radius where it stands."""


def draw_shape(name: str, given: Given | None = None, system: UnitSystem = "metric") -> str:
    """The section of a shape as SVG; ``given``: its dimensions in mm, else usual ones. Numbers are not shown.

    Raises: ``InputError`` for dimensions that cannot be.
    """
    kind = SHAPES[name]
    given = kind.example if given is None else given
    outline = outline_of_shape(name, given)
    low, high = outline.z
    far = max(r for r, _ in outline.polygon(0.1))
    scale = scale_that_fits(high - low, 2 * far, ROOM)
    sheet = Sheet(WIDTH, HEIGHT, scale, f"{name}: its dimensions", kind.what, system)
    view = View(scale, ((WIDTH - (high - low) * scale) / 2, 40.0), (low, 0.0))
    _section(sheet, view, outline, scale)
    marks = list(_marks(name, given))
    _diameters(sheet, view, [mark for mark in marks if mark[0] == "diameter"], outline)
    _lengths(sheet, view, [mark for mark in marks if mark[0] == "length"], far)
    root = next(iter(outline.arcs), None)
    if root is not None:
        _radius(sheet, view, root)
    return svg_of(sheet)


def _section(sheet: Sheet, view: View, outline: Outline, scale: float) -> None:
    """Both halves, hatched, with the edges that are seen in a bore, and the axis."""
    points = outline.polygon(0.05 / scale)
    low, high = outline.z
    for sign in (1.0, -1.0):
        loop = [view.at((z, sign * r)) for r, z in points]
        sheet.hatch([loop], angle=-45.0, spacing=1.8)
        for (r0, z0), (r1, z1) in zip(points, points[1:] + points[:1], strict=True):
            if r0 > 0 or r1 > 0:
                sheet.stroke([view.at((z0, sign * r0)), view.at((z1, sign * r1))], "outline")
    for one in surfaces_of(outline):
        for z in one.z if one.side == "inside" else ():
            sheet.stroke([view.at((z, one.diameters[0] / 2)), view.at((z, -one.diameters[0] / 2))], "edge")
    past = 4.0 / scale
    sheet.stroke([view.at((low - past, 0.0)), view.at((high + past, 0.0))], "centre")
    rim = max(r for r, z in points if z == low)
    x, y = view.at((low, 0.85 * rim))
    top = view.at((low, max(r for r, _ in points)))[1]
    sheet.leader([(x, y), (x - 4.0, top - 5.0), (x - 5.0, top - 5.0)], "seat", anchor="end")


def _marks(name: str, given: Given) -> Iterator[Mark]:
    """Every dimension of the shape with its place."""
    length = given.get("length", sum(given.get("lengths", ())))
    if name == "stepped shaft":
        z = 0.0
        for number, (diameter, step) in enumerate(zip(given["diameters"], given["lengths"], strict=True), 1):
            yield "diameter", f"diameters, {number}", diameter, 0.0 if number == 1 else z + step, 0.0
            yield "length", f"lengths, {number}", z, z + step, diameter / 2
            z += step
        if "bore" in given:
            yield "diameter", "bore", given["bore"], length, 0.0
        return
    offset = given.get("offset", 0.0)
    places = {
        "outside": offset + given.get("thickness", length) if name in ("flange", "disc with hub") else length,
        "bore": length, "neck": length, "hub": length, "collar": given.get("collar_length", 0.0),
    }  # fmt: skip
    for key, z in places.items():
        if key in given:
            yield "diameter", key, given[key], z, 0.0
    spans = {
        "thickness": (offset, offset + given.get("thickness", 0.0), given["outside"]),
        "offset": (0.0, offset, given.get("hub", 0.0)),
        "collar_length": (0.0, given.get("collar_length", 0.0), given.get("collar", 0.0)),
        "bottom": (0.0, given.get("bottom", 0.0), given["outside"]),
    }
    for key, (start, end, diameter) in spans.items():
        if key in given:
            yield "length", key, start, end, diameter / 2
    yield "length", "length", 0.0, length, max(given.get("collar", 0.0), given["outside"]) / 2


def _diameters(sheet: Sheet, view: View, marks: list[Mark], outline: Outline) -> None:
    """Upright dimensions, the small ones nearest: those of the low half of the length on the left."""
    low, high = outline.z
    sides = {"left": view.at((low, 0.0))[0] - 9.0, "right": view.at((high, 0.0))[0] + 9.0}
    for _, name, diameter, z, _ in sorted(marks, key=lambda mark: mark[2]):
        side = "left" if z == low or (name == "collar") else "right"
        top, bottom = view.at((z, diameter / 2)), view.at((z, -diameter / 2))
        sheet.dim(Dim(top, bottom, sides[side], "y", view.scale, name=f"Ø {name}"))
        sides[side] += STEP if side == "right" else -STEP


def _lengths(sheet: Sheet, view: View, marks: list[Mark], far: float) -> None:
    """Level dimensions below, those that do not overlap on one line, the long ones farthest."""
    base = view.at((0.0, -far))[1] + 8.0
    rows: list[list[tuple[float, float]]] = []
    for _, name, start, end, radius in sorted(marks, key=lambda mark: mark[3] - mark[2]):
        a, b = view.at((start, -radius)), view.at((end, -radius))
        wide = text_width(name) + 6.0
        span = (min(a[0], b[0] - wide), max(b[0], a[0])) if b[0] - a[0] < wide else (a[0], b[0])
        row = next((n for n, used in enumerate(rows) if all(span[1] <= u or v <= span[0] for u, v in used)), len(rows))
        if row == len(rows):
            rows.append([])
        rows[row].append(span)
        sheet.dim(Dim(a, b, base + STEP * row, "x", view.scale, name=name))


def _radius(sheet: Sheet, view: View, arc: Arc) -> None:
    middle = arc.points(1e9)[1]
    x, y = view.at((middle[1], middle[0]))
    sheet.leader([(x, y), (x + 7.0, y - 9.0), (x + 9.0, y - 9.0)], "root")

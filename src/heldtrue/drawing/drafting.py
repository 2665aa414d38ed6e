"""One dimensioned sheet, written twice: as a DXF drawing with real dimensions, and as an SVG picture.

A sheet is laid out in millimetres of paper, x right and y down.  In the DXF file the main view stands in true size,
the other views at their ratio to it; their dimensions say true lengths all the same.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from io import StringIO
from math import cos, hypot, radians, sin
from typing import Any, Literal

from heldtrue.drawing.svg import (
    CENTRE_LINE,
    DASHED,
    GREY,
    HAIR,
    INK,
    LETTER,
    MEDIUM,
    NARROW,
    PHANTOM,
    WIDE,
    Loop,
    Picture,
    Point,
    hatch,
    text_width,
)
from heldtrue.drawing.wording import dimension
from heldtrue.quantities import UnitSystem

Pen = Literal["outline", "edge", "thin", "centre", "hidden", "phantom"]
PENS: dict[str, tuple[float, str, str]] = {
    "outline": (WIDE, "", INK),
    "edge": (MEDIUM, "", INK),
    "thin": (HAIR + 0.05, "", INK),
    "centre": (0.2, CENTRE_LINE, INK),
    "hidden": (NARROW, DASHED, INK),
    "phantom": (NARROW, PHANTOM, GREY),
}
"""Width [mm], dash and colour of each pen in the picture."""
LAYERS = {
    "outline": (50, "CONTINUOUS"),
    "edge": (35, "CONTINUOUS"),
    "thin": (18, "CONTINUOUS"),
    "centre": (18, "CENTER"),
    "hidden": (25, "DASHED"),
    "phantom": (25, "PHANTOM"),
    "hatch": (13, "CONTINUOUS"),
    "dimension": (18, "CONTINUOUS"),
    "text": (18, "CONTINUOUS"),
}
"""Line weight [1/100 mm] and line type of each layer of the DXF file."""
SCALES = (10.0, 5.0, 2.0, 1.0, 0.5, 0.4, 0.25, 0.2, 0.1, 0.05)
"""Paper over part; those of ISO 5455 (from memory) and 1:2.5 and 1:4 between."""
PAPERS = {"A4": (297.0, 210.0), "Letter": (279.4, 215.9)}
ARROW, GAP, PAST = 2.2, 0.8, 1.2
"""Length of an arrow; room between a corner and its extension line; how far that goes past the arrow. [mm of paper]"""
CAPITAL = 0.7
"""Height of a capital over the size of the letters."""


def scale_that_fits(width: float, height: float, room: tuple[float, float]) -> float:
    """The largest scale at which ``width`` by ``height`` mm go into ``room``."""
    most = min(room[0] / max(width, 1e-9), room[1] / max(height, 1e-9))
    return next((scale for scale in SCALES if scale <= most), SCALES[-1])


def scale_words(scale: float) -> str:
    """A scale as it is written on drawings."""
    return f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:g}"


@dataclass(frozen=True)
class View:
    """A view at ``scale``, whose ``origin`` [mm, true] stands at ``corner`` of the paper; true x right, y up."""

    scale: float
    corner: Point
    origin: Point = (0.0, 0.0)

    def at(self, point: Point) -> Point:
        """A true point on paper."""
        return (
            self.corner[0] + (point[0] - self.origin[0]) * self.scale,
            self.corner[1] - (point[1] - self.origin[1]) * self.scale,
        )


@dataclass(frozen=True)
class Dim:
    """A dimension from ``a`` to ``b`` on paper, along x or along y, with its line ``line`` mm from the paper's edge.

    ``half``: a diameter of which only the end at ``b`` is drawn; ``a`` lies on the other side of the axis.
    ``name``: words in place of the number, where a picture names its dimensions.
    """

    a: Point
    b: Point
    line: float
    along: Literal["x", "y"]
    scale: float
    before: str = ""
    after: str = ""
    half: bool = False
    name: str = ""

    @property
    def true_length(self) -> float:
        """What it measures. [mm]"""
        axis = 0 if self.along == "x" else 1
        return abs(self.b[axis] - self.a[axis]) / self.scale

    def words(self, system: UnitSystem) -> str:
        """As it stands on the picture."""
        return self.name or f"{self.before}{dimension(self.true_length, system)}{self.after}"


@dataclass(frozen=True)
class Stroke:
    """A line through points of the paper."""

    points: tuple[Point, ...]
    pen: Pen
    closed: bool


@dataclass(frozen=True)
class Hatched:
    """A hatched area with holes."""

    loops: tuple[tuple[Point, ...], ...]
    angle: float
    spacing: float


@dataclass(frozen=True)
class Round:
    """A circle."""

    centre: Point
    radius: float
    pen: Pen


@dataclass(frozen=True)
class Label:
    """Words on the paper."""

    at: Point
    words: str
    size: float
    anchor: str
    bold: bool


@dataclass(frozen=True)
class Leader:
    """A line from words to what they are about; the arrow stands at the first point."""

    points: tuple[Point, ...]


@dataclass
class Sheet:
    """A sheet of ``width`` by ``height`` mm; ``scale`` is that of the main view."""

    width: float
    height: float
    scale: float
    title: str
    description: str
    system: UnitSystem
    strokes: list[Stroke] = field(default_factory=list)
    hatched: list[Hatched] = field(default_factory=list)
    rounds: list[Round] = field(default_factory=list)
    dims: list[Dim] = field(default_factory=list)
    leaders: list[Leader] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    def stroke(self, points: Sequence[Point], pen: Pen, *, closed: bool = False) -> None:
        """A line through points of the paper."""
        self.strokes.append(Stroke(tuple(points), pen, closed))

    def hatch(self, loops: Sequence[Loop], *, angle: float, spacing: float) -> None:
        """A hatched area with holes."""
        self.hatched.append(Hatched(tuple(tuple(loop) for loop in loops), angle, spacing))

    def circle(self, centre: Point, radius: float, pen: Pen) -> None:
        """A circle on the paper."""
        self.rounds.append(Round(centre, radius, pen))

    def text(self, at: Point, words: str, *, size: float = LETTER, anchor: str = "start", bold: bool = False) -> None:
        """A line of words."""
        self.labels.append(Label(at, words, size, anchor, bold))

    def leader(self, points: Sequence[Point], words: str, *, anchor: str = "start") -> None:
        """Words at the last point, an arrow at the first."""
        self.leaders.append(Leader(tuple(points)))
        x, y = points[-1]
        self.text((x + (0.8 if anchor == "start" else -0.8), y + 0.9), words, anchor=anchor)

    def dim(self, one: Dim) -> None:
        """A dimension."""
        self.dims.append(one)


def svg_of(sheet: Sheet) -> str:
    """The sheet as a picture."""
    picture = Picture(sheet.width, sheet.height, sheet.title, sheet.description)
    for area in sheet.hatched:
        picture.segments(hatch(area.loops, spacing=area.spacing, angle=area.angle), colour=GREY, width=HAIR)
    for stroke in sheet.strokes:
        width, dash, colour = PENS[stroke.pen]
        picture.polyline(stroke.points, width=width, dash=dash, colour=colour, closed=stroke.closed)
    for circle in sheet.rounds:
        width, dash, colour = PENS[circle.pen]
        picture.circle(circle.centre, circle.radius, width=width, dash=dash, colour=colour)
    for dim in sheet.dims:
        _draw_dim(picture, dim, sheet.system)
    for dim in sheet.dims:  # no line crosses a number
        _say_dim(picture, dim, sheet.system)
    for leader in sheet.leaders:
        picture.polyline(leader.points, width=0.18)
        tip, then = leader.points[:2]
        picture.arrow_head(tip, (tip[0] - then[0], tip[1] - then[1]))
    for label in sheet.labels:
        picture.text(label.at, label.words, size=label.size, anchor=label.anchor, bold=label.bold, plate=True)
    return picture.svg()


def text_place(dim: Dim, system: UnitSystem) -> tuple[Point, bool]:
    """Middle of the words of a dimension on its line, and whether they stand outside its arrows.

    Words of a half diameter stand between axis and arrow, or past the axis where that is too short.
    """
    wide = text_width(dim.words(system), LETTER)
    axis = 0 if dim.along == "x" else 1
    low, high = sorted((dim.a[axis], dim.b[axis]))
    if dim.half:
        middle, end = (low + high) / 2, dim.b[axis]
        towards = 1.0 if end > middle else -1.0
        room = abs(end - middle) - ARROW
        at = (middle + end) / 2 if room > wide + 4.0 else end - towards * (ARROW + wide / 2 + 3.0)
        return ((at, dim.line) if dim.along == "x" else (dim.line, at)), False
    outside = high - low < wide + 2 * ARROW + 1.0
    at = low - wide / 2 - ARROW - 2.2 if outside else (low + high) / 2
    return ((at, dim.line) if dim.along == "x" else (dim.line, at)), outside


def _draw_dim(picture: Picture, dim: Dim, system: UnitSystem) -> None:
    turn: Callable[[float, float], Point] = (lambda u, v: (u, v)) if dim.along == "x" else (lambda u, v: (v, u))
    axis = 0 if dim.along == "x" else 1
    ends = [(one[axis], one[1 - axis]) for one in (dim.a, dim.b)]
    (at, outside) = text_place(dim, system)
    wide = text_width(dim.words(system), LETTER)
    middle = at[axis]
    for u, v in ends[1:] if dim.half else ends:
        way = 1.0 if dim.line > v else -1.0
        if abs(dim.line - v) > GAP:
            picture.line(turn(u, v + way * GAP), turn(u, dim.line + way * PAST), width=0.18)
    low, high = sorted(u for u, _ in ends)
    if dim.half:
        end, start = ends[1][0], (low + high) / 2
        way = 1.0 if end > start else -1.0
        reach = min(way * start - 2.0, way * (middle - way * (wide / 2 + 1.0)))
        picture.line(turn(way * reach, dim.line), turn(end, dim.line), width=0.18)
        picture.arrow_head(turn(end, dim.line), turn(way, 0.0))
    else:
        off = -1.0 if outside else 1.0
        spread = (ARROW + 2.0) if outside else 0.0
        first = min(low - spread, middle - wide / 2) if outside else low
        last = max(high + spread, middle + wide / 2) if outside else high
        picture.line(turn(first, dim.line), turn(last, dim.line), width=0.18)
        picture.arrow_head(turn(low, dim.line), turn(-off, 0.0))
        picture.arrow_head(turn(high, dim.line), turn(off, 0.0))


def _say_dim(picture: Picture, dim: Dim, system: UnitSystem) -> None:
    at, _ = text_place(dim, system)
    spot = (at[0], at[1] - 0.8) if dim.along == "x" else (at[0] - 0.8, at[1])
    picture.text(spot, dim.words(system), size=LETTER, anchor="middle", plate=True,
                 turn=0.0 if dim.along == "x" else -90.0)  # fmt: skip


def dxf_of(sheet: Sheet) -> str:
    """The sheet as a DXF drawing (R2010), in mm or inch: model space in true size, a layout for A4 and for Letter."""
    import ezdxf

    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True  # the same drawing gives the same text, whatever the clock
    try:
        stream = StringIO()
        _document(sheet).write(stream)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
    return stream.getvalue()


def _document(sheet: Sheet) -> Any:
    import ezdxf
    from ezdxf import units

    inch = sheet.system == "inch"
    document = ezdxf.new("R2010", setup=["linetypes"], units=units.IN if inch else units.MM)
    unit = 25.4 if inch else 1.0
    per_paper = 1 / sheet.scale / unit  # drawing units per mm of paper
    document.header["$MEASUREMENT"] = 0 if inch else 1
    document.header["$LTSCALE"] = 0.18 * per_paper
    document.header["$LUPREC"] = 4 if inch else 3
    document.styles.add("heldtrue", font="arial.ttf")
    for name, (weight, kind) in LAYERS.items():
        document.layers.add(name, lineweight=weight, linetype=kind, color=7)
    _dim_style(document, per_paper, inch)
    space = document.modelspace()

    def model(point: Point) -> Point:
        return point[0] * per_paper, (sheet.height - point[1]) * per_paper

    _dxf_lines(space, sheet, model, per_paper)
    for dim in sheet.dims:
        _dxf_dim(space, dim, sheet, model)
    _dxf_words(space, sheet, model, per_paper)
    _layouts(document, sheet, per_paper)
    return document


def _dim_style(document: Any, per_paper: float, inch: bool) -> None:
    style = document.dimstyles.duplicate_entry("Standard", "heldtrue")
    style.dxf.dimtxsty = "heldtrue"
    style.dxf.dimscale = per_paper
    style.dxf.dimtxt, style.dxf.dimasz = CAPITAL * LETTER, ARROW
    style.dxf.dimexo, style.dxf.dimexe, style.dxf.dimgap = GAP, PAST, 0.8
    style.dxf.dimtad = 1
    style.dxf.dimtih, style.dxf.dimtoh = 0, 0
    style.dxf.dimdec = 4 if inch else 3
    style.dxf.dimzin = 12 if inch else 8
    style.dxf.dimdsep = ord(".")
    style.dxf.dimblk = ""


def _dxf_lines(space: Any, sheet: Sheet, model: Callable[[Point], Point], per_paper: float) -> None:
    for stroke in sheet.strokes:
        space.add_lwpolyline([model(p) for p in stroke.points], close=stroke.closed, dxfattribs={"layer": stroke.pen})
    for circle in sheet.rounds:
        space.add_circle(model(circle.centre), circle.radius * per_paper, dxfattribs={"layer": circle.pen})
    for area in sheet.hatched:
        entity = space.add_hatch(color=7, dxfattribs={"layer": "hatch"})
        # Given line by line: a pattern by name has another pitch in inch drawings.  Our angle counts downwards.
        angle, pitch = -area.angle, area.spacing * per_paper
        offset = (-pitch * sin(radians(angle)), pitch * cos(radians(angle)))
        entity.set_pattern_fill("HELDTRUE", definition=[[angle, (0.0, 0.0), offset, []]])
        for number, loop in enumerate(area.loops):
            entity.paths.add_polyline_path([model(p) for p in loop], is_closed=True, flags=1 if number == 0 else 16)


def _dxf_dim(space: Any, dim: Dim, sheet: Sheet, model: Callable[[Point], Point]) -> None:
    base = (dim.b[0], dim.line) if dim.along == "x" else (dim.line, dim.b[1])
    override: dict[str, Any] = {"dimlfac": sheet.scale / dim.scale}
    if dim.half:
        override |= {"dimsd1": 1, "dimse1": 1, "dimsah": 1, "dimblk1": "NONE", "dimblk2": ""}
    one = space.add_linear_dim(
        base=model(base), p1=model(dim.a), p2=model(dim.b), angle=0 if dim.along == "x" else 90,
        text=dim.name or f"{dim.before}<>{dim.after}", dimstyle="heldtrue", override=override,
        dxfattribs={"layer": "dimension"},
    )  # fmt: skip
    place, outside = text_place(dim, sheet.system)
    if dim.half or outside:
        spot = (place[0], place[1] - LETTER * 0.8) if dim.along == "x" else (place[0] - LETTER * 0.8, place[1])
        one.set_location(model(spot))
    one.render()


def _dxf_words(space: Any, sheet: Sheet, model: Callable[[Point], Point], per_paper: float) -> None:
    from ezdxf.enums import TextEntityAlignment

    align = {"start": TextEntityAlignment.LEFT, "middle": TextEntityAlignment.CENTER, "end": TextEntityAlignment.RIGHT}
    for leader in sheet.leaders:
        space.add_lwpolyline([model(p) for p in leader.points], dxfattribs={"layer": "dimension"})
        space.add_solid([model(p) for p in _arrow(leader.points)], dxfattribs={"layer": "dimension"})
    for label in sheet.labels:
        # A closed face runs wider than the serif of the picture: a little narrower keeps the line's length.
        entity = space.add_text(
            label.words, height=label.size * CAPITAL * per_paper,
            dxfattribs={"layer": "text", "style": "heldtrue", "width": 0.9},
        )  # fmt: skip
        entity.set_placement(model(label.at), align=align[label.anchor])


def _arrow(points: tuple[Point, ...]) -> tuple[Point, Point, Point]:
    tip, then = points[:2]
    long = max(hypot(then[0] - tip[0], then[1] - tip[1]), 1e-9)
    ux, uy = (then[0] - tip[0]) / long, (then[1] - tip[1]) / long
    foot, half = (tip[0] + ARROW * ux, tip[1] + ARROW * uy), ARROW / 6
    return tip, (foot[0] - half * uy, foot[1] + half * ux), (foot[0] + half * uy, foot[1] - half * ux)


def _layouts(document: Any, sheet: Sheet, per_paper: float) -> None:
    """A page for each paper with the whole sheet in its middle."""
    for name, (wide, high) in PAPERS.items():
        page = document.layouts.new(name)
        page.page_setup(size=(wide, high), margins=(5, 5, 5, 5), units="mm")
        page.add_viewport(
            center=(wide / 2 - 5, high / 2 - 5), size=(sheet.width, sheet.height),
            view_center_point=(sheet.width / 2 * per_paper, sheet.height / 2 * per_paper),
            view_height=sheet.height * per_paper,
        )  # fmt: skip
    document.layouts.delete("Layout1")

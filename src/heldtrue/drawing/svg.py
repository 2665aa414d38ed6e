"""A small writer of SVG pictures in millimetres of paper, with the pens and letters of all drawings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import atan2, cos, hypot, pi, sin
from xml.sax.saxutils import escape, quoteattr

Point = tuple[float, float]
Loop = Sequence[Point]

INK, GREY, FAINT, PAPER = "#16181b", "#5a5f66", "#b4b8bd", "#ffffff"
ACCENT = "#1d4b73"
"""The one colour of lines that are answers; nearly as dark as ink, so that a grey print loses nothing."""
WIDE, MEDIUM, NARROW, HAIR = 0.5, 0.35, 0.25, 0.13
"""Line widths [mm], after the 1:2 groups of ISO 128."""
CENTRE_LINE = "7 1 0.6 1"
DASHED = "2.4 1"
PHANTOM = "6 0.9 0.6 0.9 0.6 0.9"
LEAST, LETTER, STRONG, HEAD, TITLE = 2.65, 2.8, 3.4, 4.2, 5.0
"""The five sizes of lettering as font sizes [mm]: nothing on paper is smaller than ``LEAST``, 7.5 points."""
FONTS = "'Libertinus Serif', 'Linux Libertine O', 'Times New Roman', 'Liberation Serif', 'Nimbus Roman', Times, serif"

_WIDTHS = (
    250, 288, 336, 465, 465, 637, 705, 190, 298, 298, 369, 550, 220, 338, 220, 323, 465, 465, 465,
    465, 465, 465, 465, 465, 465, 465, 236, 236, 550, 550, 550, 435, 895, 695, 588, 646, 701, 557,
    485, 685, 730, 297, 322, 637, 528, 839, 699, 702, 541, 702, 587, 485, 597, 661, 652, 951, 660,
    575, 604, 356, 287, 356, 518, 486, 392, 457, 493, 428, 506, 447, 310, 500, 538, 271, 272, 512,
    264, 790, 542, 504, 519, 503, 372, 390, 316, 531, 497, 747, 490, 515, 424, 277, 205, 277, 449,
)  # fmt: skip
"""Advance of the characters from space to tilde in thousandths of the font size."""
_ROOM = 1.08
"""Allowance for a reader's screen that has another serif face."""


def text_width(text: str, size: float = LETTER, *, bold: bool = False) -> float:
    """Room that ``text`` takes at font size ``size``. [mm]"""
    thousandths = sum(_WIDTHS[ord(c) - 32] if " " <= c <= "~" else _wide(c) for c in text)
    return thousandths / 1000 * size * _ROOM * (1.09 if bold else 1.0)


def _wide(character: str) -> int:
    return 702 if ord(character) < 0x2E80 else 1000


def wrap(text: str, width: float, size: float = LETTER, *, lines: int = 99) -> list[str]:
    """``text`` in lines no wider than ``width`` [mm]; what does not fit in ``lines`` ends in an ellipsis."""
    found: list[str] = []
    for word in text.split():
        if found and text_width(f"{found[-1]} {word}", size) <= width:
            found[-1] += f" {word}"
        else:
            found.append(word)
    if len(found) > lines:
        found = [*found[: lines - 1], f"{found[lines - 1]} …"]
    return [shorten(line, width, size) for line in found]


def shorten(text: str, width: float, size: float = LETTER) -> str:
    """``text``, cut with an ellipsis where it is wider than ``width`` [mm]."""
    if text_width(text, size) <= width:
        return text
    while text and text_width(text + "…", size) > width:
        text = text[:-1]
    return text.rstrip() + "…"


class Picture:
    """One picture of ``width`` by ``height`` mm, drawn from the top left corner, x right and y down."""

    def __init__(self, width: float, height: float, title: str, description: str = "") -> None:
        self.width = width
        self.height = height
        self._title = title
        self._description = description
        self._parts: list[str] = []

    def line(
        self,
        a: Point,
        b: Point,
        *,
        width: float = NARROW,
        dash: str = "",
        colour: str = INK,
        cap: str = "butt",
    ) -> None:
        """A straight line."""
        ends = f'x1="{_n(a[0])}" y1="{_n(a[1])}" x2="{_n(b[0])}" y2="{_n(b[1])}"'
        self._parts.append(f"<line {ends} {_pen(width, dash, colour, cap)}/>")

    def segments(
        self, pairs: Iterable[tuple[Point, Point]], *, width: float = HAIR, dash: str = "", colour: str = INK
    ) -> None:
        """Many straight lines with one pen, as hatching has."""
        data = "".join(f"M{_n(a[0])} {_n(a[1])}L{_n(b[0])} {_n(b[1])}" for a, b in pairs)
        if data:
            self._parts.append(f'<path d="{data}" fill="none" {_pen(width, dash, colour, "butt")}/>')

    def polyline(
        self,
        points: Loop,
        *,
        width: float = NARROW,
        dash: str = "",
        colour: str = INK,
        closed: bool = False,
        fill: str = "none",
    ) -> None:
        """A line through points, closed and filled if asked; ``width`` 0 draws no line."""
        data = "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in points) + ("Z" if closed else "")
        pen = _pen(width, dash, colour, "butt") if width else 'stroke="none"'
        self._parts.append(f'<path d="{data}" fill="{fill}" stroke-linejoin="round" {pen}/>')

    def area(self, loops: Sequence[Loop], fill: str) -> None:
        """A filled area with holes (even-odd), without an edge."""
        data = "".join("M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in loop) + "Z" for loop in loops)
        self._parts.append(f'<path d="{data}" fill="{fill}" fill-rule="evenodd"/>')

    def circle(
        self,
        centre: Point,
        radius: float,
        *,
        width: float = NARROW,
        dash: str = "",
        colour: str = INK,
        fill: str = "none",
    ) -> None:
        """A circle."""
        pen = _pen(width, dash, colour, "butt") if width else 'stroke="none"'
        at = f'cx="{_n(centre[0])}" cy="{_n(centre[1])}" r="{_n(radius)}"'
        self._parts.append(f'<circle {at} fill="{fill}" {pen}/>')

    def rect(
        self,
        corner: Point,
        width: float,
        height: float,
        *,
        line: float = NARROW,
        colour: str = INK,
        fill: str = "none",
    ) -> None:
        """An upright rectangle; ``line`` 0 draws no edge."""
        pen = _pen(line, "", colour, "butt") if line else 'stroke="none"'
        box = f'x="{_n(corner[0])}" y="{_n(corner[1])}" width="{_n(width)}" height="{_n(height)}"'
        self._parts.append(f'<rect {box} fill="{fill}" {pen}/>')

    def arrow_head(self, tip: Point, direction: Point, *, length: float = 2.2, colour: str = INK) -> None:
        """A closed filled arrow head of 15 degrees whose tip points along ``direction``."""
        angle = atan2(direction[1], direction[0])
        half = pi / 12 / 1.6
        corners = [tip] + [
            (tip[0] - length * cos(angle + side * half), tip[1] - length * sin(angle + side * half)) for side in (-1, 1)
        ]
        self.polyline(corners, width=0, fill=colour, closed=True)

    def text(
        self,
        at: Point,
        text: str,
        *,
        size: float = LETTER,
        anchor: str = "start",
        bold: bool = False,
        italic: bool = False,
        colour: str = INK,
        turn: float = 0.0,
        plate: bool = False,
    ) -> None:
        """One line of text on its base line; ``turn`` in degrees, clockwise; ``plate`` clears the paper."""
        if plate:
            self._plate(at, text, size, anchor, bold, turn)
        look = f'font-size="{_n(size)}" fill="{colour}"'
        look += f' text-anchor="{anchor}"' if anchor != "start" else ""
        look += ' font-weight="700"' if bold else ""
        look += ' font-style="italic"' if italic else ""
        look += f' transform="rotate({_n(turn)} {_n(at[0])} {_n(at[1])})"' if turn else ""
        self._parts.append(f'<text x="{_n(at[0])}" y="{_n(at[1])}" {look}>{escape(_printable(text))}</text>')

    def _plate(self, at: Point, text: str, size: float, anchor: str, bold: bool, turn: float) -> None:
        wide = text_width(text, size, bold=bold)
        left = {"start": 0.0, "middle": -wide / 2, "end": -wide}[anchor] - 0.5
        corners = [
            (left, -0.78 * size),
            (left + wide + 1.0, -0.78 * size),
            (left + wide + 1.0, 0.24 * size),
            (left, 0.24 * size),
        ]
        c, s = cos(turn * pi / 180), sin(turn * pi / 180)
        turned = [(at[0] + c * x - s * y, at[1] + s * x + c * y) for x, y in corners]
        self.polyline(turned, width=0, fill=PAPER, closed=True)

    def svg(self) -> str:
        """The finished picture as a document of its own."""
        size = f'width="{_n(self.width)}mm" height="{_n(self.height)}mm"'
        box = f'viewBox="0 0 {_n(self.width)} {_n(self.height)}"'
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box} '
            f'role="img" aria-label={quoteattr(_printable(self._title))} font-family={quoteattr(FONTS)}>\n'
            f"<title>{escape(_printable(self._title))}</title>\n"
            f"<desc>{escape(_printable(self._description))}</desc>\n" + "\n".join(self._parts) + "\n</svg>\n"
        )


def hatch(loops: Sequence[Loop], *, spacing: float, angle: float = 45.0) -> list[tuple[Point, Point]]:
    """Hatching of an area with holes (even-odd): parallel lines ``spacing`` mm apart at ``angle`` degrees."""
    c, s = cos(angle * pi / 180), sin(angle * pi / 180)
    turned = [[(c * x + s * y, -s * x + c * y) for x, y in loop] for loop in loops]
    heights = [v for loop in turned for _, v in loop]
    found: list[tuple[Point, Point]] = []
    if not heights:
        return found
    level = (int(min(heights) / spacing) - 1) * spacing + 0.37 * spacing
    while level < max(heights):
        crossings = sorted(level_crossings(turned, level))
        for start, end in zip(crossings[::2], crossings[1::2], strict=False):
            if end - start > 0.05:
                found.append(
                    (
                        (c * start - s * level, s * start + c * level),
                        (c * end - s * level, s * end + c * level),
                    )
                )
        level += spacing
    return found


def level_crossings(loops: Sequence[Loop], level: float) -> list[float]:
    """Where the edges of closed loops cross y = ``level``: their x, unsorted."""
    found = []
    for loop in loops:
        for (x0, y0), (x1, y1) in zip(loop, [*loop[1:], loop[0]], strict=True):
            if (y0 <= level) != (y1 <= level):
                found.append(x0 + (level - y0) / (y1 - y0) * (x1 - x0))
    return found


def arc(centre: Point, radius: float, start: float, end: float, *, step: float = 0.06) -> list[Point]:
    """Points on an arc; angles [rad] from the top, counter-clockwise as seen on paper."""
    count = max(2, int(abs(end - start) / step) + 2)
    return [on_circle(centre, radius, start + (end - start) * i / (count - 1)) for i in range(count)]


def on_circle(centre: Point, radius: float, angle: float) -> Point:
    """The point at ``angle`` [rad] from the top, counter-clockwise as seen on paper."""
    return centre[0] - radius * sin(angle), centre[1] - radius * cos(angle)


def distance(a: Point, b: Point) -> float:
    """From one point to another. [mm]"""
    return hypot(a[0] - b[0], a[1] - b[1])


def _pen(width: float, dash: str, colour: str, cap: str) -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    caps = f' stroke-linecap="{cap}"' if cap != "butt" else ""
    return f'stroke="{colour}" stroke-width="{_n(width)}"{dashes}{caps}'


def _n(number: float) -> str:
    text = f"{number:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _printable(text: str) -> str:
    """Without the control characters that XML does not allow."""
    return "".join(c if c.isprintable() else " " for c in text)

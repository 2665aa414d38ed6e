"""Drawings of turned parts for tests and benches, made with ezdxf."""

from __future__ import annotations

from dataclasses import dataclass
from io import StringIO
from math import atan2, cos, degrees, pi, radians, sin, tan
from typing import Any

import ezdxf

from heldtrue.part_file.outline import Arc, Outline, OutlineCorner, Piece, closed

MM, INCH, UNSAID = 4, 1, 0


def profile(*corners: tuple[float, ...]) -> Outline:
    """The outline of corners (diameter, z) or (diameter, z, radius)."""
    return closed([OutlineCorner(c[0] / 2, c[1], *c[2:]) for c in corners])


RING = profile((140, 0), (166, 0), (166, 24), (158, 24), (158, 32), (140, 32))
SHAFT = profile((0, 0), (60, 0), (60, 30), (40, 30, 3), (40, 90), (25, 90), (25, 120), (0, 120))
FLANGE = profile((50, 0), (140, 0), (140, 14), (80, 14, 4), (80, 40), (76, 42), (50, 42))
CUP = profile((0, 0), (90, 0), (90, 50), (70, 50), (70, 8, 5), (0, 8))
SLEEVE = profile((40, 0), (60, 0), (60, 70), (44, 70), (44, 50), (40, 48))


@dataclass
class Sheet:
    """Where and how a half section is drawn: turned by ``angle`` [deg], moved, in ``unit`` mm."""

    angle: float = 0.0
    at: tuple[float, float] = (0.0, 0.0)
    unit: float = 1.0
    code: int = MM
    halves: str = "both"
    hatched: bool = True
    centre: bool = True
    edges: bool = True
    hidden: bool = False
    as_polyline: bool = False
    extras: bool = True

    def draw(self, outline: Outline, more: Any = None) -> bytes:
        """The drawing as the bytes of a DXF file; ``more(space, point)`` adds to it."""
        document = ezdxf.new("R2010", setup=["linetypes"], units=self.code)
        document.layers.add("centre", linetype="CENTER")
        document.layers.add("hidden", linetype="HIDDEN")
        space = document.modelspace()
        signs = {"both": (1, -1), "upper": (1,), "lower": (-1,)}[self.halves]
        low, high = outline.z
        for sign in signs:
            self._half(space, outline, sign)
            if self.hatched:
                hatch = space.add_hatch(color=7)
                hatch.set_pattern_fill("ANSI31", scale=0.5)
                hatch.paths.add_polyline_path([self.point(sign * r, z) for r, z in outline.polygon(1e-4)])
        if self.edges:
            for r in sorted({round(p[0], 6) for p in outline.polygon(1.0)} - {0.0}):
                for z in {round(p[1], 6) for p in outline.polygon(1.0) if abs(p[0] - r) < 1e-6}:
                    self._edge(space, outline, z, signs)
        if self.centre:
            space.add_line(self.point(0, low - 5), self.point(0, high + 5), dxfattribs={"layer": "centre"})
        if self.extras:
            self._extras(space, outline)
        if more is not None:
            more(space, self.point)
        return self.text(document)

    def point(self, r: float, z: float) -> tuple[float, float]:
        """A point of the half section on the drawing."""
        a = radians(self.angle)
        x, y = z * cos(a) - r * sin(a) + self.at[0], z * sin(a) + r * cos(a) + self.at[1]
        return x / self.unit, y / self.unit

    @staticmethod
    def text(document: Any) -> bytes:
        """The bytes of a document."""
        stream = StringIO()
        document.write(stream)
        return stream.getvalue().encode()

    def _half(self, space: Any, outline: Outline, sign: int) -> None:
        pieces = [p for p in outline.pieces if not p.start[0] == p.end[0] == 0.0]
        if self.as_polyline:
            points = [(*self.point(sign * p.start[0], p.start[1]), self._bulge(p, sign)) for p in outline.pieces]
            space.add_lwpolyline(points, format="xyb", close=True)
            return
        for piece in pieces:
            a, b = self.point(sign * piece.start[0], piece.start[1]), self.point(sign * piece.end[0], piece.end[1])
            if not isinstance(piece, Arc):
                space.add_line(a, b)
                continue
            centre = self.point(sign * piece.centre[0], piece.centre[1])
            turns = piece.counterclockwise if sign < 0 else not piece.counterclockwise
            first, last = (a, b) if turns else (b, a)
            angles = [degrees(atan2(p[1] - centre[1], p[0] - centre[0])) for p in (first, last)]
            space.add_arc(centre, piece.radius / self.unit, *angles)

    def _bulge(self, piece: Piece, sign: int) -> float:
        if not isinstance(piece, Arc):
            return 0.0
        return -sign * tan(piece.turn[1] / 4)

    def _edge(self, space: Any, outline: Outline, z: float, signs: tuple[int, ...]) -> None:
        """Edges behind the cut, in a bore: from the least radius there to the axis. On a side view, across the part."""
        at = [p[0] for p in outline.polygon(1.0) if abs(p[1] - z) < 1e-6]
        for sign in signs:
            start = min(at) if self.hatched or min(at) > 0 else max(at)
            if start > 0:
                space.add_line(self.point(sign * start, z), self.point(0, z))

    def _extras(self, space: Any, outline: Outline) -> None:
        low, high = outline.z
        top = max(r for r, _ in outline.polygon(1.0))
        size = 3.0 / self.unit
        space.add_text("PART", height=size).set_placement(self.point(-top - 30, low))
        space.add_mtext("turned all over")
        if self.angle == 0:
            dim = space.add_linear_dim(
                base=self.point(top + 10, 0), p1=self.point(top, low), p2=self.point(top, high), dimstyle="EZDXF"
            )
            dim.render()


def volume_of(outline: Outline) -> float:
    """The volume, by Pappus from the polygon with fine chords: another way than the one under test. [mm3]"""
    points = outline.polygon(1e-5)
    total = 0.0
    for (r0, z0), (r1, z1) in zip(points, points[1:] + points[:1], strict=True):
        total += (r0 + r1) * (r0 * z1 - r1 * z0)
    return abs(total) * pi / 3

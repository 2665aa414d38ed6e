"""Faces and edges of a solid as plain data, whatever file they came from. [mm, rad]"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import tau

from heldtrue.part_file.curves import SAMPLES, Curve, Ellipse, Spline, Straight, as_circle
from heldtrue.part_file.vectors import Frame, Vec, apart


@dataclass(frozen=True)
class Edge:
    """One edge: from vertex to vertex along a curve; ``forward``: in the direction of the curve."""

    id: int
    start: Vec
    end: Vec
    curve: Curve | None
    forward: bool

    @cached_property
    def circle(self) -> Ellipse | None:
        """The circle it lies on, also where the file writes it as a spline."""
        if isinstance(self.curve, Ellipse):
            return self.curve if self.curve.is_circle else None
        if isinstance(self.curve, Spline) and self.curve.degree > 1:
            found = as_circle(self.points)
            return None if found is None else Ellipse(found[0], found[1], found[1])
        return None

    @cached_property
    def sweep(self) -> float:
        """Signed angle walked along its circle, seen along the circle's own axis; 2 pi for a closed one. [rad]"""
        circle = self.circle
        assert circle is not None
        if isinstance(self.curve, Ellipse):
            return _walked(circle, self.start, self.end, self.forward)
        closed = apart(self.start, self.end) < 1e-6
        counter = circle.parameter(self.points[1]) < tau / 2
        return (tau if counter else -tau) if closed else _walked(circle, self.start, self.end, counter)

    @cached_property
    def points(self) -> tuple[Vec, ...]:
        """Points along it, ends among them."""
        curve = self.curve
        if curve is None or isinstance(curve, Straight):
            return self.start, self.end
        begin, finish = curve.parameter(self.start), curve.parameter(self.end)
        if isinstance(curve, Ellipse):
            walked = _walked(curve, self.start, self.end, self.forward)
        else:
            whole = apart(self.start, self.end) < 1e-6 or (finish - begin) * (1 if self.forward else -1) <= 0
            if isinstance(curve, Spline) and whole:
                begin, finish = curve.domain if self.forward else curve.domain[::-1]
            walked = finish - begin
        return tuple(curve.at(begin + walked * k / SAMPLES) for k in range(SAMPLES + 1))


def _walked(curve: Ellipse, start: Vec, end: Vec, forward: bool) -> float:
    if apart(start, end) < 1e-6:
        return tau if forward else -tau
    gap = curve.parameter(end) - curve.parameter(start)
    return gap % tau if forward else -(-gap % tau)


@dataclass(frozen=True)
class Plane:
    """A plane; z of the frame is its normal."""

    frame: Frame


@dataclass(frozen=True)
class Cone:
    """A cone about z of the frame, of ``radius`` at its origin; a cylinder where ``angle`` is 0. [mm, rad]"""

    frame: Frame
    radius: float
    angle: float = 0.0


@dataclass(frozen=True)
class Torus:
    """A torus about z of the frame; a sphere where ``major`` is 0. [mm]"""

    frame: Frame
    major: float
    minor: float


@dataclass(frozen=True)
class Revolved:
    """A curve turned about an axis."""

    curve: Curve
    frame: Frame


@dataclass(frozen=True)
class SplineSurface:
    """A B-spline surface: rows of poles along u, each a row along v."""

    degrees: tuple[int, int]
    knots: tuple[tuple[float, ...], tuple[float, ...]]
    poles: tuple[tuple[tuple[float, float, float, float], ...], ...]


@dataclass(frozen=True)
class OtherSurface:
    """A surface that is not read; ``name`` as the file has it."""

    name: str


Surface = Plane | Cone | Torus | Revolved | SplineSurface | OtherSurface


@dataclass(frozen=True)
class Face:
    """One face: its surface, whether its outward normal is that of the surface, and its loops of (edge, forward)."""

    id: int
    name: str
    surface: Surface
    same_sense: bool
    loops: tuple[tuple[tuple[Edge, bool], ...], ...]
    points: tuple[Vec, ...] = ()

"""The half section of a turned part: a closed polygon in (r, z), checked, measured and cut into edges."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import hypot, pi

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import GeometryError

SAME_POINT_MM = 1e-6
"""Two corners closer than this are one corner; far below what a drawing can ask for."""


@dataclass(frozen=True)
class Edge:
    """One straight edge of the section, walked with the material on the left."""

    start: tuple[float, float]
    end: tuple[float, float]

    @property
    def length(self) -> float:
        """Length in the half section. [mm]"""
        return hypot(self.end[0] - self.start[0], self.end[1] - self.start[1])

    def is_cylinder(self, side: str, radius: float) -> bool:
        """Is this edge part of the cylinder of that radius [mm], with the material on the other side of ``side``?"""
        (r0, z0), (r1, z1) = self.start, self.end
        if max(abs(r0 - radius), abs(r1 - radius)) > SAME_POINT_MM:
            return False
        return z1 > z0 if side == "outside" else z1 < z0


@dataclass(frozen=True)
class Section:
    """A checked half section of a body of revolution about the z axis.

    ``corners``: (r, z) in mm, counter-clockwise in the (r, z) plane, no corner twice, no corner on a straight run.
    Make one with :meth:`of`, which takes the corners in either direction, closed or not.
    """

    corners: tuple[tuple[float, float], ...]

    @classmethod
    def of(cls, profile: Iterable[Sequence[float]]) -> Section:
        """Check a profile and bring it to standard form.

        Raises: ``GeometryError`` if it has fewer than three corners, a value that is not finite, a point at r < 0,
        crosses or touches itself, or has no area.
        """
        points = np.array([(float(p[0]), float(p[1])) for p in profile]).reshape(-1, 2)
        if not np.isfinite(points).all():
            raise GeometryError("the profile has a corner that is not a finite number")
        if (points[:, 0] < 0).any():
            worst = points[points[:, 0].argmin()]
            raise GeometryError(f"the profile crosses the axis: corner at r = {worst[0]:g}, z = {worst[1]:g} mm")
        points = _without_repeats(points)
        if len(points) < 3:
            raise GeometryError("the profile needs at least three different corners")
        # shapely is slow to import, and nothing but a new profile needs it.
        import shapely

        polygon = shapely.Polygon(points)
        if not polygon.is_valid:
            reason = shapely.is_valid_reason(polygon)
            raise GeometryError(f"the profile crosses or touches itself: {reason} (r, z in mm)")
        if polygon.area < SAME_POINT_MM:
            raise GeometryError("the profile encloses no area")
        if not shapely.is_ccw(polygon.exterior):
            points = points[::-1]
        return cls(tuple((float(r), float(z)) for r, z in points))

    @cached_property
    def edges(self) -> tuple[Edge, ...]:
        """The edges in order."""
        ends = self.corners[1:] + self.corners[:1]
        return tuple(Edge(a, b) for a, b in zip(self.corners, ends, strict=True))

    @property
    def lowest(self) -> float:
        """z of the face nearest the chuck. [mm]"""
        return min(z for _, z in self.corners)

    @property
    def highest(self) -> float:
        """z of the face farthest from the chuck. [mm]"""
        return max(z for _, z in self.corners)

    @property
    def largest_radius(self) -> float:
        """Largest radius of the part. [mm]"""
        return max(r for r, _ in self.corners)

    @property
    def is_solid(self) -> bool:
        """Does the section reach the axis?"""
        return any(edge.start[0] == edge.end[0] == 0.0 for edge in self.edges)

    def spans(self, side: str, radius: float) -> tuple[tuple[float, float], ...]:
        """The (z, z) ranges in which the part has a cylinder of that radius on that side, joined and in order. [mm]"""
        found = sorted(
            (min(e.start[1], e.end[1]), max(e.start[1], e.end[1])) for e in self.edges if e.is_cylinder(side, radius)
        )
        joined: list[tuple[float, float]] = []
        for low, high in found:
            if joined and low - joined[-1][1] <= SAME_POINT_MM:
                joined[-1] = (joined[-1][0], high)
            else:
                joined.append((low, high))
        return tuple(joined)

    def require_span(self, side: str, radius: float, z: tuple[float, float]) -> None:
        """Raise ``GeometryError`` unless the part has that cylinder all along ``z``; says what there is."""
        low, high = z
        if not high - low > SAME_POINT_MM:
            raise GeometryError(f"the range z = {low:g} to {high:g} mm has no length")
        spans = self.spans(side, radius)
        if any(a - SAME_POINT_MM <= low and high <= b + SAME_POINT_MM for a, b in spans):
            return
        there = ", ".join(f"z = {a:g} to {b:g}" for a, b in spans) or "nowhere"
        raise GeometryError(
            f"the part has no {side} cylinder Ø{2 * radius:g} all along z = {low:g} to {high:g} mm; it has one {there}"
        )

    def wall_at(self, edge: Edge) -> float:
        """Thickness of the wall behind the middle of an edge, straight through the material. [mm]"""
        (r0, z0), (r1, z1) = edge.start, edge.end
        inward = np.array([-(z1 - z0), r1 - r0]) / edge.length
        middle = np.array([(r0 + r1) / 2, (z0 + z1) / 2])
        starts = np.array([e.start for e in self.edges if e is not edge])
        along = np.array([e.end for e in self.edges if e is not edge]) - starts
        # middle + t inward = start + s along, for every other edge at once
        det = inward[0] * -along[:, 1] + along[:, 0] * inward[1]
        to_start = starts - middle
        with np.errstate(divide="ignore", invalid="ignore"):
            t = (to_start[:, 0] * -along[:, 1] + along[:, 0] * to_start[:, 1]) / det
            s = (inward[0] * to_start[:, 1] - inward[1] * to_start[:, 0]) / det
        hits = t[(np.abs(det) > 1e-12) & (s >= -1e-9) & (s <= 1 + 1e-9) & (t > SAME_POINT_MM)]
        return float(hits.min()) if len(hits) else edge.length

    def reentrant_corners(self) -> tuple[int, ...]:
        """Index of every corner where the material turns round an inner edge (stress is unbounded there)."""
        count = len(self.corners)
        turned = []
        for i in range(count):
            (r0, z0), (r1, z1), (r2, z2) = (self.corners[(i + k) % count] for k in (-1, 0, 1))
            if (r1 - r0) * (z2 - z1) - (z1 - z0) * (r2 - r1) < 0:
                turned.append(i)
        return tuple(turned)

    @cached_property
    def _moments(self) -> NDArray[np.float64]:
        """Integrals over the section of r, r z, r z**2 and r**3 dA; Gauss over triangles fanned from the origin."""
        points, weights = _triangle_rule()
        a = np.array(self.corners)
        b = np.roll(a, -1, axis=0)
        r = np.outer(a[:, 0], points[:, 0]) + np.outer(b[:, 0], points[:, 1])
        z = np.outer(a[:, 1], points[:, 0]) + np.outer(b[:, 1], points[:, 1])
        doubled = (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])[:, None] * weights
        return np.array([(doubled * f).sum() for f in (r, r * z, r * z**2, r**3)])

    @property
    def volume(self) -> float:
        """Volume of the body. [mm3]"""
        return float(2 * pi * self._moments[0])

    @property
    def centroid_z(self) -> float:
        """z of the centre of mass. [mm]"""
        return float(self._moments[1] / self._moments[0])

    def polar_inertia(self, density: float) -> float:
        """Moment of inertia about the spindle axis, density in kg/mm3. [kg mm2]"""
        return float(2 * pi * density * self._moments[3])


def _without_repeats(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Drop repeated corners (a closing one too) and corners in the middle of a straight run."""
    kept = [p for i, p in enumerate(points) if np.hypot(*(p - points[i - 1])) > SAME_POINT_MM]
    count = len(kept)
    if count < 3:
        return np.array(kept).reshape(-1, 2)
    corners = []
    for i in range(count):
        before, after = kept[i] - kept[i - 1], kept[(i + 1) % count] - kept[i]
        cross = before[0] * after[1] - before[1] * after[0]
        straight_on = before @ after > 0 and abs(cross) <= 1e-9 * np.hypot(*before) * np.hypot(*after)
        if not straight_on:
            corners.append(kept[i])
    return np.array(corners).reshape(-1, 2)


def _triangle_rule() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Barycentric points (k, 2) and weights (sum 1/2) exact for cubics: the collapsed Gauss product rule."""
    x, w = np.polynomial.legendre.leggauss(3)
    x, w = (x + 1) / 2, w / 2
    u, v = np.meshgrid(x, x, indexing="ij")
    weight = np.outer(w * x, w)
    return np.column_stack([(u * (1 - v)).ravel(), (u * v).ravel()]), weight.ravel()

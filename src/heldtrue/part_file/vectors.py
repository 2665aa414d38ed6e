"""Points, directions and frames in space, as plain tuples: they are few, and numpy would cost more than it saves."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import atan2, hypot

from heldtrue.errors import InputError

Vec = tuple[float, float, float]


def sub(a: Vec, b: Vec) -> Vec:
    """a - b."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def on(start: Vec, direction: Vec, far: float) -> Vec:
    """The point ``far`` along ``direction`` from ``start``."""
    return start[0] + far * direction[0], start[1] + far * direction[1], start[2] + far * direction[2]


def dot(a: Vec, b: Vec) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec, b: Vec) -> Vec:
    """Vector product."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def norm(a: Vec) -> float:
    """Length."""
    return hypot(*a)


def apart(a: Vec, b: Vec) -> float:
    """From one point to another."""
    return hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2])


def unit(a: Vec) -> Vec:
    """The direction of a vector. Raises: ``InputError`` where it has no length."""
    length = hypot(*a)
    if not 1e-12 < length < 1e12:
        raise InputError("a direction in the file has no length")
    return a[0] / length, a[1] / length, a[2] / length


@dataclass(frozen=True)
class Frame:
    """A place with three directions at right angles."""

    origin: Vec
    x: Vec
    y: Vec
    z: Vec

    @classmethod
    def of(cls, origin: Vec, z: Vec | None = None, x: Vec | None = None) -> Frame:
        """From its origin, its axis and about where its x lies; built as ISO 10303-42 does (from memory)."""
        return cls(origin, *_directions(z or (0.0, 0.0, 1.0), x or (1.0, 0.0, 0.0)))

    def local(self, point: Vec) -> Vec:
        """The coordinates of a point in this frame."""
        a, b, c = self.origin
        u, v, w = point[0] - a, point[1] - b, point[2] - c
        x, y, z = self.x, self.y, self.z
        return (
            u * x[0] + v * x[1] + w * x[2],
            u * y[0] + v * y[1] + w * y[2],
            u * z[0] + v * z[1] + w * z[2],
        )

    def world(self, local: Vec) -> Vec:
        """The point with these coordinates in this frame."""
        return on(on(on(self.origin, self.x, local[0]), self.y, local[1]), self.z, local[2])

    def turned(self, local: Vec) -> Vec:
        """The direction with these components in this frame."""
        return on(on(on((0.0, 0.0, 0.0), self.x, local[0]), self.y, local[1]), self.z, local[2])

    def rz(self, point: Vec) -> tuple[float, float]:
        """Distance from its z axis, and place along it."""
        x, y, z = self.local(point)
        return hypot(x, y), z

    def angle(self, point: Vec) -> float:
        """Angle about its z axis, from x. [rad]"""
        x, y, _ = self.local(point)
        return atan2(y, x)


@lru_cache(maxsize=256)  # a file turns thousands of things about the same few directions
def _directions(z: Vec, x: Vec) -> tuple[Vec, Vec, Vec]:
    """x, y and z of a frame from its axis and about where its x lies."""
    up = unit(z)
    across = on(x, up, -dot(x, up))
    if norm(across) < 1e-9 * max(norm(x), 1e-12):
        across = cross(up, (0.0, 1.0, 0.0) if abs(up[1]) < 0.9 else (0.0, 0.0, 1.0))
    right = unit(across)
    return right, cross(up, right), up

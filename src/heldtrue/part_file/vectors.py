"""Points, directions and frames in space, as plain tuples: they are few, and numpy would cost more than it saves."""

from __future__ import annotations

from dataclasses import dataclass
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
        up = unit(z or (0.0, 0.0, 1.0))
        wish = x or (1.0, 0.0, 0.0)
        across = on(wish, up, -dot(wish, up))
        if norm(across) < 1e-9 * max(norm(wish), 1e-12):
            across = cross(up, (0.0, 1.0, 0.0) if abs(up[1]) < 0.9 else (0.0, 0.0, 1.0))
        right = unit(across)
        return cls(origin, right, cross(up, right), up)

    def local(self, point: Vec) -> Vec:
        """The coordinates of a point in this frame."""
        off = sub(point, self.origin)
        return dot(off, self.x), dot(off, self.y), dot(off, self.z)

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

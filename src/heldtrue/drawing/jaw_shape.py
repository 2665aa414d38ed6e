"""How the jaws of a setup look: their size, where they stand, and one in section and in face view."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin, tan

from heldtrue.drawing.svg import Point
from heldtrue.planning.profiles import outline
from heldtrue.planning.setup import Setup
from heldtrue.tooling.jaws import PIE_GAP_MM, half_angle, usual_size

SEAT_LAND_MM = 3.0
"""Width of the seat each jaw offers where nothing is stated: common practice, no source."""
LEAST_UNDER_SEAT_MM = 8.0
"""A jaw is drawn with at least this much of itself between chuck face and seat."""
RELIEF_MM = 0.6
NOSE_SHARE = 0.45
"""Share of a wide jaw's length that is its nose; behind it the jaw is as wide as a standard one."""


@dataclass(frozen=True)
class JawShape:
    """The jaws as drawn, in mm and rad; z as in the setup."""

    count: int
    style: str
    outside: bool
    radius: float
    half_angle: float
    width: float
    body_width: float
    length: float
    gap: float
    chuck_face: float
    tip: float
    seat: float | None
    seat_radii: tuple[float, float]
    relief_radius: float

    @classmethod
    def of(cls, setup: Setup) -> JawShape:
        """The jaws of a setup, with the usual size of the chuck's class for what is not stated."""
        jaws, grip = setup.jaws, setup.grip
        usual = usual_size(setup.chuck.max_grip_force)
        count = jaws.count or setup.chuck.jaws
        width = jaws.width or usual.width * (2 if jaws.style == "wide" else 1)
        gap = PIE_GAP_MM if jaws.gap is None else jaws.gap
        radius, outside, low, tip = grip.diameter / 2, grip.side == "outside", min(grip.z), max(grip.z)
        points = outline(setup.part.profile)
        seat = min(z for _, z in points) if grip.seat else None
        stands = tip - (jaws.height or usual.height)
        if jaws.grip_height is not None:
            stands = (low + tip) / 2 - jaws.grip_height
        highest_face = min(low, seat if seat is not None else low) - LEAST_UNDER_SEAT_MM
        return cls(
            count,
            jaws.style,
            outside,
            radius,
            half_angle(jaws.style, radius, count, width, gap),
            width,
            min(width, usual.width),
            jaws.length or usual.length,
            gap,
            min(stands, highest_face),
            tip,
            seat,
            _seat_radii(setup, points, radius, outside),
            _relief_radius(points, radius, outside, low),
        )

    @property
    def far_radius(self) -> float:
        """Where a jaw ends: outwards for an outside grip, towards the axis for an inside grip. [mm]"""
        return self.radius + self.length if self.outside else max(self.radius - self.length, 0.0)

    def section(self, low: float, far: float) -> list[Point]:
        """Outline (r, z) of a jaw cut through its middle; ``low`` starts the grip, ``far`` ends it."""
        foot = self.relief_radius if self.seat is None else self.seat_radii[0 if self.outside else 1]
        corners = [(self.radius, self.tip), (far, self.tip), (far, self.chuck_face), (foot, self.chuck_face)]
        if self.seat is not None:
            corners += [(foot, self.seat), (self.relief_radius, self.seat)]
        if low - (self.seat if self.seat is not None else self.chuck_face) > 1e-6:
            corners += [(self.relief_radius, low), (self.radius, low)]
        return corners

    def face(self) -> list[Point]:
        """Outline (across, outwards) of jaw 1 seen from the tailstock, its middle pointing along +y."""
        far = self.far_radius
        grip = [(self.radius * sin(a), self.radius * cos(a)) for a in _steps(self.half_angle)]
        if self.style == "pie":
            back = self._pie_back(far)
        elif not self.outside:
            back = self._nose_back(far)
        elif self.style == "wide" and self.body_width < self.width:
            shoulder = self.radius + NOSE_SHARE * self.length
            back = [
                (self.width / 2, shoulder),
                (self.body_width / 2, shoulder + (self.width - self.body_width) / 4),
                (self.body_width / 2, far),
            ]
        else:
            back = [(min(self.width / 2, self._room(far)), far)]
        return [*grip, *back, *[(-x, y) for x, y in reversed(back)]]

    def _pie_back(self, far: float) -> list[Point]:
        if far <= self.gap:
            return [(0.0, self.gap / 2 / sin(pi / self.count))]
        reach = pi / self.count - self.gap / (2 * far)
        return [(far * sin(a), far * cos(a)) for a in reversed(_steps(reach)) if a >= -1e-12]

    def _nose_back(self, far: float) -> list[Point]:
        """A block inside the part, pointed where its neighbours leave no more room."""
        half = self.radius * sin(self.half_angle)
        meets = (half + self.gap / 2 / cos(pi / self.count)) / tan(pi / self.count)
        if far >= meets:
            return [(half, far)]
        inner = max(far, self.gap / 2 / sin(pi / self.count))
        return [(half, meets), (max(self._room(inner), 0.0), inner)]

    def _room(self, outwards: float) -> float:
        """Half the width free for one jaw at a distance from the axis. [mm]"""
        return outwards * tan(pi / self.count) - self.gap / 2 / cos(pi / self.count)


def _steps(half: float) -> list[float]:
    count = max(8, int(half / 0.05))
    return [-half + 2 * half * i / count for i in range(count + 1)]


def _seat_radii(setup: Setup, points: list[Point], radius: float, outside: bool) -> tuple[float, float]:
    if setup.grip.seat_diameters is not None:
        inner, outer = sorted(setup.grip.seat_diameters)
        return inner / 2, outer / 2
    low = min(z for _, z in points)
    radii = [r for r, z in points if z - low < 1e-6]
    if outside:
        outer = min(max(radii), radius)
        return max(min(radii), outer - SEAT_LAND_MM), outer
    inner = max(min(radii), radius)
    return inner, min(max(radii), inner + SEAT_LAND_MM)


def _relief_radius(points: list[Point], radius: float, outside: bool, low: float) -> float:
    """Clear of the gripped surface, and of whatever of the part lies between it and the seat. [mm]"""
    beside = [r for r, z in points if z < low - 1e-6]
    if outside:
        return max([radius + RELIEF_MM, *(r + RELIEF_MM for r in beside if r > radius)])
    return max(min([radius - RELIEF_MM, *(r - RELIEF_MM for r in beside if r < radius)]), 0.0)

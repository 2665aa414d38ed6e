"""Where jaws press on a part: bands of a gripped cylinder, and patches of even pressure."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import pi, sin

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import GeometryError
from heldtrue.mechanics.section import SAME_POINT_MM

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Patch:
    """Uniform pressure of ``jaws`` equal jaws on a cylinder of the part.

    ``side``: "outside" (pressing inward) or "inside" (pressing outward); ``radius`` of that cylinder [mm]; ``z``: from
    and to [mm]; ``half_angle`` of one jaw's contact [rad]; ``force``: push of one jaw along its own radial direction
    [N], so that pressure = force / (2 radius sin(half_angle) length).  Jaw 1 stands at angle 0.
    """

    side: str
    radius: float
    z: tuple[float, float]
    half_angle: float
    jaws: int
    force: float

    @property
    def pressure(self) -> float:
        """The uniform pressure. [MPa]"""
        return self.force / (2 * self.radius * sin(self.half_angle) * (self.z[1] - self.z[0]))

    def pressure_harmonic(self, k: int) -> float:
        """Coefficient of cos(k jaws t) in the pressure round the part. [MPa]"""
        if k == 0:
            return self.pressure * self.jaws * self.half_angle / pi
        return self.pressure * 2 / (k * pi) * sin(k * self.jaws * self.half_angle)


def graded_edges(low: float, high: float, bands: int) -> tuple[float, ...]:
    """Edges of bands from ``low`` to ``high`` [mm], finer to both ends, shape (bands + 1,).

    Under the end of a rigid jaw the pressure rises as one over the root of the distance, so even bands put the force
    of the end too far inside and bend a thin ring wrongly, by up to a tenth.  Bands that grow with the square of
    their number from the end carry about equal force there; six of them are enough (tests/unit/test_contact.py).
    Raises: ``GeometryError`` for no length or no bands.
    """
    if not (high > low and bands >= 1):
        raise GeometryError(f"no bands between z = {low:g} and {high:g} mm: {bands} asked for")
    along = np.linspace(-1.0, 1.0, bands + 1)
    along = np.sign(along) * (1 - (1 - np.abs(along)) ** 2)
    inner = (low + high) / 2 + (high - low) / 2 * along[1:-1]
    return (float(low), *(float(z) for z in inner), float(high))


@dataclass(frozen=True)
class Stations:
    """Bands of a gripped cylinder on which the pressure may differ.

    ``edges`` [mm] ascending, one more than intervals; ``open``: numbers of the intervals that are no surface (a groove)
    and carry no band.
    """

    side: str
    radius: float
    edges: tuple[float, ...]
    open: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if self.side not in ("outside", "inside"):
            raise GeometryError(f'side is "outside" or "inside", not "{self.side}"')
        if len(self.edges) < 2 or not (np.diff(self.edges) > SAME_POINT_MM).all():
            raise GeometryError(f"the gripped length has no length, or its bands do not ascend: z = {self.edges} mm")
        if not self.band_numbers:
            raise GeometryError("no band of the gripped length is a surface")

    @cached_property
    def band_numbers(self) -> dict[int, int]:
        """Number of the band on each interval that carries one."""
        there = [i for i in range(len(self.edges) - 1) if i not in self.open]
        return {interval: band for band, interval in enumerate(there)}

    @cached_property
    def bands(self) -> tuple[tuple[float, float], ...]:
        """From and to of each band. [mm]"""
        return tuple((self.edges[i], self.edges[i + 1]) for i in self.band_numbers)

    @cached_property
    def lands(self) -> tuple[tuple[slice, Array], ...]:
        """Bands that lie side by side with no groove between: which, and their edges [mm]."""
        found, start = [], 0
        for i in range(len(self.edges)):
            if i in self.open or i == len(self.edges) - 1:
                if i > start:
                    first = self.band_numbers[start]
                    found.append((slice(first, first + i - start), np.array(self.edges[start : i + 1])))
                start = i + 1
        return tuple(found)

    @cached_property
    def middles(self) -> Array:
        """Middle of each band, shape (bands,). [mm]"""
        return np.array([(low + high) / 2 for low, high in self.bands])

    @property
    def inward(self) -> float:
        """Direction of the jaw pressure along r: -1 pressing inward (outside grip), +1 outward."""
        return -1.0 if self.side == "outside" else 1.0

    @cached_property
    def areas(self) -> Array:
        """Area of each band per radian of turn, shape (bands,). [mm2/rad]"""
        return np.array([self.radius * (high - low) for low, high in self.bands])

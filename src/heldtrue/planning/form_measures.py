"""What the surfaces of a part measure after release, for many contacts at once: one product of matrices for all."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import numpy as np
from numpy.typing import NDArray

from heldtrue.mechanics.contact import Contact, JawFace, harmonics_each
from heldtrue.mechanics.turned_body import HarmonicResponse
from heldtrue.planning.setup import Surface

Array = NDArray[np.float64]

TOLERANCES = ("roundness", "cylindricity", "flatness", "runout")
ANGLES = 31
"""Angles from a jaw's middle to half way to the next at which a form is taken; the shape repeats and mirrors."""


def waves(orders: Sequence[int], jaws: int) -> Array:
    """cos(n t) over half a jaw pitch, shape (H, angles)."""
    angles = np.linspace(0.0, pi / jaws, ANGLES)
    return np.asarray(np.cos(np.multiply.outer(np.asarray(orders, float), angles)))


def zones(side: str, u: Array) -> Array:
    """The four ``TOLERANCES`` of movements u (..., sections, angles) of one surface, shape (..., 4) [mm].

    The shape repeats with the jaws and mirrors, so the zones of ISO 12181, 12180 and 12781 are centred on the axis
    (a convex problem keeps the symmetry of its data) and a peak-to-valley is the minimum zone.
    """
    high, low = u.max(axis=-1), u.min(axis=-1)
    runout = (high - low).max(axis=-1)
    everywhere = high.max(axis=-1) - low.min(axis=-1)
    none = np.zeros_like(runout)
    measured = [none, none, everywhere, runout] if side == "face" else [runout, everywhere, none, runout]
    return np.stack(measured, axis=-1)


class FormMeasures:
    """One part with the points (r, z) at which each of its surfaces is looked at, gripped on one face."""

    def __init__(
        self,
        response: HarmonicResponse,
        face: JawFace,
        surfaces: Sequence[Surface],
        points: Sequence[Sequence[tuple[float, float]]],
    ) -> None:
        self._face, self._orders = face, response.orders
        self._surfaces = tuple(surfaces)
        self._counts = [len(one) for one in points]
        # Each point moves the way its surface is measured: along the axis on a face, else along r.
        way = [2 if one.side == "face" else 0 for one, at in zip(surfaces, points, strict=True) for _ in at]
        moved = response.probes[:, :, np.arange(len(way)), way]
        turned = waves(response.orders, face.jaws)
        self._moved = (moved[..., None] * turned[:, None, None]).reshape(moved.shape[0] * moved.shape[1], -1)

    def of(self, contacts: Sequence[Contact]) -> Array:
        """The ``TOLERANCES`` of every surface, shape (contacts, surfaces, 4). [mm]"""
        pressures = np.array([one.pressure for one in contacts])
        shears = np.array([np.zeros_like(one.pressure) if one.shear is None else one.shear for one in contacts])
        pressed = harmonics_each(self._face, pressures, shears, self._orders)
        u = (pressed.reshape(len(contacts), -1) @ self._moved).reshape(len(contacts), -1, ANGLES)
        found, start = np.zeros((len(contacts), len(self._surfaces), len(TOLERANCES))), 0
        for number, (surface, count) in enumerate(zip(self._surfaces, self._counts, strict=True)):
            found[:, number] = zones(surface.side, u[:, start : start + count])
            start += count
        return found

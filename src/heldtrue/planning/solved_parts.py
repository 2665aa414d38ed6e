"""What unit pressures do to a part: its finite elements, solved once for a shape and kept by content."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from heldtrue.mechanics.contact import JawFace
from heldtrue.mechanics.friction_contact import sheared_compliance
from heldtrue.mechanics.harmonics import assembled
from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.tool_deflection import SmearedJaws, deflection_under_tool
from heldtrue.mechanics.turned_body import HarmonicResponse, TurnedBody
from heldtrue.planning.setup import Surface

Array = NDArray[np.float64]
Point = tuple[float, float]

HARMONICS = 24
"""Waves round the part that a chuck of some number of jaws excites: with them form is within 0.15 % of 61."""
QUICK_HARMONICS, QUICK_ORDER = 8, 3
"""The same for a look that asks for no stress: form is within 2 % in the lowest wave."""
SECTIONS = 5
"""Sections in which a surface is looked at, from end to end."""
KEPT = 64
"""Parts whose compliances are kept in memory."""


@dataclass(frozen=True)
class Body:
    """A part's half section [(r, z) mm] and its elastic constants [MPa, -]."""

    corners: tuple[Point, ...]
    young: float
    poisson: float


def probe_points(surface: Surface) -> tuple[Point, ...]:
    """The points (r, z) at which a surface is looked at, from end to end. [mm]"""
    if surface.side == "face":
        inner, outer = surface.diameters or (0.0, 0.0)
        return tuple((float(r), surface.z[0]) for r in np.linspace(inner / 2, outer / 2, SECTIONS))
    radius = (surface.diameter or 0.0) / 2
    return tuple((radius, float(z)) for z in np.linspace(*surface.z, SECTIONS))


@lru_cache(maxsize=KEPT)
def tool_compliance(
    body: Body, stations: Stations, jaws: SmearedJaws, surfaces: tuple[Surface, ...]
) -> tuple[tuple[float, ...], ...]:
    """Radial deflection of each surface, from end to end, under a radial push of 1 N where it is looked at. [mm/N]"""
    if not surfaces:
        return ()
    part = TurnedBody(body.corners, body.young, body.poisson)
    points = [point for surface in surfaces for point in probe_points(surface)]
    moved = deflection_under_tool(part, stations, jaws, points).reshape(len(surfaces), -1)
    return tuple(tuple(float(d) for d in row) for row in moved)


@lru_cache(maxsize=KEPT)
def responded(body: Body, stations: Stations, jaws: int, points: tuple[Point, ...], quick: bool) -> HarmonicResponse:
    """What a part answers at points (r, z) [mm] to unit pressures and tractions; ``quick``: few waves, no stress."""
    at = np.array(points).reshape(-1, 2)
    if quick:
        part = TurnedBody(body.corners, body.young, body.poisson, order=QUICK_ORDER)
        return part.respond(stations, jaws, at, harmonics=QUICK_HARMONICS, sheared=True, stressed=False)
    part = TurnedBody(body.corners, body.young, body.poisson)
    return part.respond(stations, jaws, at, harmonics=HARMONICS, sheared=True)


@lru_cache(maxsize=KEPT)
def sheared(body: Body, face: JawFace, points: tuple[Point, ...], quick: bool) -> Array:
    """C of the part over the cells' pressures, then their tractions, shape (2 c, 2 c). [mm/MPa]"""
    return sheared_compliance(responded(body, face.stations, face.jaws, points, quick), face)


def forget_parts() -> None:
    """Drop every kept answer of a part."""
    for kept in (assembled, responded, sheared, tool_compliance):
        kept.cache_clear()

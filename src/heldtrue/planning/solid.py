"""The whole part in its jaws as points and displacements: what a picture in three dimensions is made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import ceil, pi

import numpy as np
from numpy.typing import NDArray

from heldtrue.mechanics.contact import Contact
from heldtrue.mechanics.section import Edge
from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.turned_body import HarmonicResponse, TurnedBody
from heldtrue.planning.elastic import Elastic
from heldtrue.planning.setup import Surface
from heldtrue.planning.solved_parts import HARMONICS, Body
from heldtrue.planning.study import Study
from heldtrue.planning.window import advise_pressure, setting_of

Array = NDArray[np.float64]
Point = tuple[float, float]

PITCH_ANGLES = 16
"""Angles from the middle of a jaw to half way to the next; the rest mirrors and repeats."""
LEAST_PIECES, MOST_POINTS = 2, 150
"""Pieces of one edge at least, and about how many points go round the half section at most."""
SAME_PLACE_MM = 1e-4
KEPT = 6
"""Responses kept: another pressure or fit of the same part is then milliseconds."""


@dataclass(frozen=True)
class Strip:
    """One stretch of the half section's outline, turned round the axis.

    ``points``: (r, z) along it, shape (P, 2) [mm]; ``clamped``, ``released``: u_r, u_t, u_z there at the angles of the
    solid, shape (P, A, 3) [mm]; ``surface``: the surface of this operation it lies on, empty for none.
    """

    points: Array
    clamped: Array
    released: Array
    surface: str


@dataclass(frozen=True)
class Solid:
    """The finished part, clamped at rest and released.

    ``angle``: from the middle of jaw 1 half way to jaw 2, shape (A,) [rad]; the rest mirrors and repeats.
    ``pressure`` [MPa] and ``speed_rpm`` of the finishing cut, ``fit``: the size of the part it is for.
    Clamped is where every point goes.  Released, a surface finished here has what the grip pressed out of it,
    with its change of size; whatever is not machined springs back to where it was.
    """

    strips: tuple[Strip, ...]
    angle: Array
    jaws: int
    fit: str
    pressure: float
    speed_rpm: float


def solid(study: Study) -> Solid:
    """The solid of a study, at the likely grip of its pressure and in the fit that is worst for its form."""
    setting = setting_of(study, advise_pressure(study))
    speed = study.finishing_speed()
    at_rest, turning = (study.finished.under(study.likely_grip(setting.finishing, at)) for at in (0.0, speed))
    fit = _worst_fit(turning)
    stretches = _stretches(study)
    points = tuple((float(r), float(z)) for stretch, _ in stretches for r, z in stretch)
    body = Body(study.job.section.corners, study.job.work.young.value, study.job.work.poisson.value)
    response = _respond(body, study.stations, study.job.jaws, points)
    angle = np.linspace(0.0, pi / study.job.jaws, PITCH_ANGLES)
    clamped = _moved(response, _contact(at_rest, fit), angle)
    finishing = _moved(response, _contact(turning, fit), angle)
    strips, start = [], 0
    for stretch, surface in stretches:
        rows = slice(start, start + len(stretch))
        strips.append(
            Strip(stretch, clamped[rows], _released(finishing[rows], surface), surface.name if surface else "")
        )
        start += len(stretch)
    return Solid(tuple(strips), angle, study.job.jaws, fit, setting.finishing, speed)


def _worst_fit(elastic: Elastic) -> str:
    worst = max(elastic.forms, key=lambda form: form.runout, default=None)
    return worst.fit if worst is not None else elastic.contacts[-1][0].name


def _contact(elastic: Elastic, fit: str) -> Contact:
    return next(contact for one, contact in elastic.contacts if one.name == fit)


def _moved(response: HarmonicResponse, contact: Contact, angle: Array) -> Array:
    return response.displacement(contact.harmonics(response.orders), angle)


def _released(finishing: Array, surface: Surface | None) -> Array:
    """What a surface turned true while it was pressed out of shape has after the jaws open: the opposite."""
    found = np.zeros_like(finishing)
    if surface is not None:
        way = 2 if surface.side == "face" else 0
        found[:, :, way] = -finishing[:, :, way]
    return found


def _stretches(study: Study) -> list[tuple[Array, Surface | None]]:
    """The outline in stretches with points along them, each on one surface of this operation or on none."""
    section, surfaces = study.job.section, study.job.setup.surfaces
    longest = max(sum(edge.length for edge in section.edges) / MOST_POINTS, 0.05)
    found = []
    for edge in section.edges:
        if edge.start[0] == edge.end[0] == 0.0:
            continue  # the axis of a solid part is no surface
        marks = _marks(edge, surfaces)
        for low, high in pairwise(marks):
            count = max(LEAST_PIECES, ceil((high - low) * edge.length / longest))
            shares = np.linspace(low, high, count + 1)[:, None]
            start, end = np.array(edge.start), np.array(edge.end)
            stretch = start + shares * (end - start)
            found.append((stretch, _surface_at(stretch.mean(axis=0), edge, surfaces)))
    return found


def _marks(edge: Edge, surfaces: Sequence[Surface]) -> list[float]:
    """Shares of an edge at which a surface begins or ends, with both ends."""
    marks = {0.0, 1.0}
    for surface in surfaces:
        axis = 0 if surface.side == "face" else 1
        run = edge.end[axis] - edge.start[axis]
        if not _lies_on(edge, surface) or run == 0.0:
            continue
        ends = [d / 2 for d in surface.diameters or ()] if axis == 0 else surface.z
        marks |= {round((end - edge.start[axis]) / run, 9) for end in ends}
    return sorted(mark for mark in marks if 0.0 <= mark <= 1.0)


def _lies_on(edge: Edge, surface: Surface) -> bool:
    if surface.side == "face":
        return max(abs(edge.start[1] - surface.z[0]), abs(edge.end[1] - surface.z[0])) < SAME_PLACE_MM
    radius = (surface.diameter or 0.0) / 2
    return max(abs(edge.start[0] - radius), abs(edge.end[0] - radius)) < SAME_PLACE_MM


def _surface_at(middle: Array, edge: Edge, surfaces: Sequence[Surface]) -> Surface | None:
    for surface in surfaces:
        if not _lies_on(edge, surface):
            continue
        if surface.side == "face":
            low, high = sorted(d / 2 for d in surface.diameters or (0.0, 0.0))
            at = middle[0]
        else:
            low, high = sorted(surface.z)
            at = middle[1]
        if low <= at <= high:
            return surface
    return None


@lru_cache(maxsize=KEPT)
def _respond(body: Body, stations: Stations, jaws: int, points: tuple[Point, ...]) -> HarmonicResponse:
    part = TurnedBody(body.corners, body.young, body.poisson)
    return part.respond(stations, jaws, np.array(points), harmonics=HARMONICS, sheared=True, stressed=False)

"""A part clamped on a face against a plate: straps at 3, 4 or 6 stations or a whole ring, over rests straight below."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import asin, pi

import numpy as np
import shapely
from numpy.typing import NDArray

from heldtrue.mechanics.face_clamp import FaceBand, FacePressing, clamp_force_needed, pressed_on_face
from heldtrue.mechanics.section import Section
from heldtrue.mechanics.spin import required_grip_at_rest
from heldtrue.mechanics.turned_body import TurnedBody
from heldtrue.planning.even_ways import all_points, rows_of, tool_job
from heldtrue.planning.force_window import Ceiling, Line, Need, checks_at, force_used, state_of_way, steps_of
from heldtrue.planning.holds import SLIP_FACTOR, TIP_FACTOR, Holds, safety_of
from heldtrue.planning.inputs import Job
from heldtrue.planning.judge import FORM_QUESTIONS, tolerance_limits
from heldtrue.planning.known import ASSUMED, Known
from heldtrue.planning.loads import job_speed, loads
from heldtrue.planning.other_way import (
    ALL_ROUND,
    CLAMP_FORCE,
    EACH,
    FACE,
    FLAT_SEAT,
    INNER_STRAPS,
    OUTER_STRAPS,
    PLATE,
    RESTS,
    RING,
    STATIONS,
    STRAPS,
    TOOL_SPEED,
    UNDER_CUT,
    Fact,
    Held,
    OtherWay,
)
from heldtrue.planning.result import FORM, LIKELY_VALUE, WORST_VALUE, YIELD
from heldtrue.planning.setup import Surface
from heldtrue.planning.tool_room import CLEAR_MM, FAR_MM, drawn_sections, tool_rooms
from heldtrue.sentences import sentence

Array = NDArray[np.float64]
Values = Mapping[str, float]

STATION_COUNTS = (3, 4, 6, RING)
"""Tried in this order: three rests bear whatever the flatness of part and plate; more press less on each."""
STRAP_HEIGHT_MM = 25.0
"""Room that a strap takes over the face that it presses: common practice, no source."""
MOST_NOSE_MM, LEAST_NOSE_MM, NOSE_WIDTH_MM = 12.0, 1.5, 15.0
"""Depth of a strap's nose on the face, at most and at least worth pressing, and its width round the part: common
practice, no source."""
BESIDE_MM = 0.5
"""Between a nose and a bore or turned diameter that is machined beside it: common practice, no source."""
ANGLES = 31


def face_ways(job: Job) -> Iterator[OtherWay]:
    """Every face that can be pressed from outside or through the bore, with the fewest stations that have a window."""
    for means in (OUTER_STRAPS, INNER_STRAPS):
        for band in _bands(job, means):
            yield _fewest(job, means, band)


def _fewest(job: Job, means: str, band: FaceBand) -> OtherWay:
    """The fewest stations that have a window; where none has, those that may press hardest."""
    tried: list[OtherWay] = []
    for count in STATION_COUNTS:
        tried.append(_FaceWay(job, means, band, count).way())
        if tried[-1].window is not None:
            return tried[-1]
    return max(tried, key=lambda way: way.steps[-1].ceiling)


def _bands(job: Job, means: str) -> Iterator[FaceBand]:
    """Where a clamp can press: on a face of blank and finished part, over the seat, clear of every tool."""
    low = job.section.lowest
    if abs(job.blank.lowest - low) > 1e-6:
        return
    for top in sorted({z for _, z in job.section.corners if z > low}):
        for inner, outer in _rings(job, top, low):
            band = _nose(job, means, inner, outer, top)
            if band is not None and band[1] - band[0] >= LEAST_NOSE_MM and _is_clear(job, means, band, top):
                yield FaceBand(*band, top, low)


def _rings(job: Job, top: float, low: float) -> Iterator[tuple[float, float]]:
    """Rings (inner, outer radius) that face away from the chuck at ``top``, over the seat, in both sections. [mm]"""
    sets = [_faces(section, z, up=up) for section in drawn_sections(job) for z, up in ((top, True), (low, False))]
    for first in sets[0]:
        rings = [first]
        for others in sets[1:]:
            rings = [(max(a, c), min(b, d)) for a, b in rings for c, d in others if min(b, d) - max(a, c) > 1e-6]
        yield from rings


def _faces(section: Section, z: float, *, up: bool) -> list[tuple[float, float]]:
    """Radii from and to of the faces at ``z`` that look up, or down."""
    return [
        (min(edge.start[0], edge.end[0]), max(edge.start[0], edge.end[0]))
        for edge in section.edges
        if abs(edge.start[1] - z) + abs(edge.end[1] - z) < 1e-6 and (edge.end[0] < edge.start[0]) == up
    ]


def _nose(job: Job, means: str, inner: float, outer: float, top: float) -> tuple[float, float] | None:
    """The ring under the noses: no deeper than a strap's nose, and beside what is machined on the other side."""
    for one in tool_rooms(job):
        least, low, most, _ = one.room.bounds
        if low > top + STRAP_HEIGHT_MM:
            continue
        if one.side == "inside" and most < outer:
            inner = max(inner, most + BESIDE_MM)
        elif one.side == "outside" and least > inner:
            outer = min(outer, least - BESIDE_MM)
    if means == OUTER_STRAPS:
        inner = max(inner, outer - MOST_NOSE_MM)
    else:
        outer = min(outer, inner + MOST_NOSE_MM)
    return (inner, outer) if outer > inner else None


def _is_clear(job: Job, means: str, band: tuple[float, float], top: float) -> bool:
    """Is no tool where the straps are, over the face or beside the part?"""
    largest = max(job.blank.largest_radius, job.section.largest_radius)
    smallest = min(r for r, _ in (*job.blank.corners, *job.section.corners))
    above = top + STRAP_HEIGHT_MM
    if means == OUTER_STRAPS:
        room = shapely.box(band[0], top - CLEAR_MM, FAR_MM, above) | shapely.box(largest, -FAR_MM, FAR_MM, above)
    else:
        if smallest <= 0:
            return False
        room = shapely.box(0.0, top - CLEAR_MM, band[1], above) | shapely.box(0.0, -FAR_MM, smallest, above)
    return all((room & one.room).area < 1e-6 for one in tool_rooms(job))


@dataclass(frozen=True)
class _FaceWay:
    """One clamp on one face."""

    stated: Job
    means: str
    band: FaceBand
    count: int

    def way(self) -> OtherWay:
        """The way with its window, checks, and what nobody knows."""
        needs, ceilings = tuple(self._needs()), tuple(self._ceilings())
        steps = steps_of(self.job.setup, needs, ceilings)
        checks = checks_at(steps, needs, ceilings, self.job.known["friction"])
        band = self.band
        held = Held(
            sentence("face at z = {:g [mm]}", band.top), "face", (2 * band.inner, 2 * band.outer), (band.top, band.top)
        )
        return OtherWay(FACE, self.means, held, state_of_way(steps), checks, steps, force_used(steps[0]),
                        tuple(self._to_know(steps[0].floor)), tuple(self._notes()), self.count)  # fmt: skip

    @cached_property
    def job(self) -> Job:
        """The job with no jaws: friction of an unknown face on the tool's steel, nothing thrown out by speed."""
        none = Known("jaw moment", "mass times radius of the clamps", 0.0, 0.0, "mass moment", ASSUMED)
        made = tool_job(self.stated, self.stated.setup.grip, none, same=False)
        made.known.add(Known("seat", "the plate under the part", 1.0, 1.0, "ratio", "stated"))
        return made

    @cached_property
    def _speed(self) -> float:
        return job_speed(self.job)

    def _needs(self) -> Iterator[Need]:
        """Published rule: both faces take friction, at their mean radius; worst case: the plate alone, at the inner."""
        holds = Holds(self.job)
        published, hoped = (self._by_load(values, worst=False) for values in (holds.published, holds.hoped))
        worst, best = self._by_load(holds.worst, worst=True), self._by_load(holds.best, worst=True, both=True)
        for name, (force, by) in worst.items():
            yield Need(name, published[name][0], force, max(hoped[name][0], best[name][0]), by)

    def _by_load(self, values: Values, *, worst: bool, both: bool = False) -> dict[str, tuple[float, str]]:
        """Clamping force of every load, and what needs it; ``both``: do both faces take friction in the worst case?"""
        safety, found = safety_of(self.job, seat=True), dict[str, tuple[float, str]]()
        both_faces = both or not worst
        radius = self.band.middle if both_faces else self.band.inner
        for load in loads(self.job, values, self._speed):
            wrench = load.wrench.weighted(SLIP_FACTOR, TIP_FACTOR) if worst else load.wrench
            cut, by = clamp_force_needed(wrench, self.band, values["friction"], radius=radius, both_faces=both_faces)
            force = safety.of_worst_case * cut if worst else required_grip_at_rest(cut, 0.0, safety.factor)
            if force >= found.get(load.name, (0.0, ""))[0]:
                found[load.name] = (force, by)
        return found

    # What form and strength allow

    @property
    def _half_angle(self) -> float:
        """Half angle of a nose; of a whole ring half of two halves. [rad]"""
        if self.count == RING:
            return pi / 2
        return min(asin(min(NOSE_WIDTH_MM / 2 / self.band.middle, 1.0)), 0.9 * pi / self.count)

    @property
    def _patches(self) -> int:
        return 2 if self.count == RING else self.count

    def _pressing(self, section: Section, points: Array) -> FacePressing:
        work = self.job.work
        body = TurnedBody(section.corners, work.young.value, work.poisson.value)
        waves = 1 if self.count == RING else 12
        return pressed_on_face(body, self.band, self._patches, self._half_angle, points, harmonics=waves)

    @cached_property
    def _finished(self) -> FacePressing:
        return self._pressing(self.job.section, all_points(self.job.setup.surfaces))

    def _ceilings(self) -> Iterator[Ceiling]:
        strength, finished = self.job.known["part yield"], self._finished
        stress = finished.stress
        if self.job.blank != self.job.section:
            stress = np.maximum(stress, self._pressing(self.job.blank, np.empty((0, 2))).stress)
        worst = max(float(stress.max()), 2 * finished.bearing)
        yield Ceiling("yield: part", "Do the clamps bend the part for good?", YIELD, "part", "stress",
                      (Line(WORST_VALUE, worst, 0.0, strength.worst),),
                      Line(WORST_VALUE, max(float(stress[0]), finished.bearing), 0.0, strength.best), strength,
                      "clamps bearing on half of their noses")  # fmt: skip
        for surface, rows in rows_of(self.job.setup.surfaces):
            moved = self._moved(surface, rows)
            for tolerance in ("roundness", "cylindricity", "flatness", "runout"):
                asked = getattr(surface, tolerance)
                if asked is not None:
                    yield self._form(surface, tolerance, asked, moved)

    def _moved(self, surface: Surface, rows: slice) -> Array:
        """Movement of a surface across itself, shape (ways of bearing, points, angles). [mm/N]"""
        angles = np.linspace(0.0, pi / self._patches, ANGLES)
        return self._finished.along(2 if surface.side == "face" else 0, angles)[:, rows]

    def _form(self, surface: Surface, tolerance: str, asked: float, moved: Array) -> Ceiling:
        likely, worst = tolerance_limits(self.job, tolerance, asked)
        if tolerance in ("cylindricity", "flatness"):
            values = np.ptp(moved, axis=(1, 2))
        else:
            values = np.ptp(moved, axis=2).max(axis=1)
        soft = self.job.work.young.value / self.job.work.young.least
        even, most = float(values[0]), float(values.max()) * soft
        decider = Known("bearing", "where clamp and rest bear across their width", 0.0, 0.0, "", ASSUMED, "",
                        "bluing on clamp and rest")  # fmt: skip
        lines = (Line(LIKELY_VALUE, even, 0.0, likely), Line(WORST_VALUE, most, 0.0, worst))
        return Ceiling(f"{tolerance}: {surface.name}", FORM_QUESTIONS[tolerance].format(surface.name), FORM,
                       surface.name, "length", lines, Line(LIKELY_VALUE, float(values.min()), 0.0, likely),
                       decider)  # fmt: skip

    # What must be known

    def _to_know(self, floor: float) -> Iterator[Fact]:
        yield Fact(PLATE)
        yield Fact(CLAMP_FORCE, ALL_ROUND if self.count == RING else EACH, floor / max(self.count, 1), "force")
        yield Fact(RESTS, "", 2 * self.band.middle, "length")
        yield Fact(TOOL_SPEED, FACE, self._speed, "speed_rpm")

    def _notes(self) -> Iterator[Fact]:
        yield Fact(STATIONS, "", float(self.count), "ratio")
        yield Fact(STRAPS, self.means, STRAP_HEIGHT_MM, "length")
        yield Fact(FLAT_SEAT)
        yield Fact(UNDER_CUT)

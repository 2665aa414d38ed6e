"""Every way in which jaws could take the part of a setup: which surfaces, how long, with which jaws, and why not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Literal

from heldtrue.planning.contrary import Contrary
from heldtrue.planning.inputs import Job
from heldtrue.planning.not_round import not_round_at
from heldtrue.planning.profiles import section_of
from heldtrue.planning.setup import Setup
from heldtrue.planning.tool_room import LEAST_LENGTH_MM, clear_up_to, common, in_the_way, side_of, tool_rooms
from heldtrue.quantities import UnitSystem
from heldtrue.tooling.jaws import STYLES

FROM_END_MM = 1.0
"""Jaws begin to bear so far from the end of the part: its edge is broken, and the jaws' corner relieved; common
practice, no source."""
SHARES = (1.0, 2 / 3, 1 / 3)
"""Lengths tried, as shares of what the surface has; the shortest also at the far end."""
COUNTS = (2, 3, 4, 6)
NEAR_MM, PLACES = 1e-6, 6
Side = Literal["outside", "inside"]

OF_ITS_SURFACE = ("grip.diameter_tolerance", "grip.seat_diameters", "part.surface_condition", "part.roundness",
                  "part.oily", "jaws.friction", "jaws.friction_range")  # fmt: skip
"""What was stated or tried of the gripped surface: of another one nothing of it is known."""
OF_ITS_SET = ("number", "cuts_done", "last_cut", "tooth", "bore_diameter")
OF_ITS_BORE = ("mass", "centroid_radius")
"""What is known of one set of jaws, and what goes with the diameter it is bored to: not true of others."""
ASSUMED_OF_JAWS = ("jaw_yield", "bored_share", "bored_pressure", "jaw_bore", "jaw_moment", "jaw_base")
ASSUMED_OF_SURFACE = ("friction", "part_size", "part_roundness")
ASSUMED_OF_CHUCK = ("piston_area", "grip_share", "threshold", "gauge_error", "jaw_base", "bored_pressure", "spin_up")
"""What the shop assumes itself of one set of jaws, of the gripped surface, and of chuck and machine: not true of
others."""
OF_ITS_CHUCK = ("base_tilt", "base_tilt_range", "bored_pressure")
"""What is said of jaws that goes with the chuck they stand on."""
TURNED_HERE, TOOL_THERE, NOT_YET, BLOCKED, SHORT = "turned here", "tool there", "not yet", "blocked", "short"
"""Why no jaw can take a surface: it is cut in this operation; a tool runs where the jaws would stand; it is not on the
blank yet; something wider (inside: narrower) is between it and the chuck; too little of it is left."""
NO_CYLINDER = "no cylinder"
"""The last reason: it is not round."""


@dataclass(frozen=True)
class GripPlace:
    """Where jaws would grip: a stretch of a cylinder. ``stated``: is it the one of the setup? [mm]"""

    side: Side
    diameter: float
    z: tuple[float, float]
    stated: bool = False


@dataclass(frozen=True)
class NoGripPlace:
    """A cylinder that no jaw can take, and why: ``reason``, the cut or diameter [mm] that is in the way."""

    side: Side
    diameter: float
    z: tuple[float, float]
    reason: str
    cut: str = ""
    blocking: float | None = None


@dataclass(frozen=True)
class WayToTry:
    """One way to try: the changes of the setup that make it.

    ``needs_chuck``: for a chuck with that number of jaws, which the shop has not; 0 for one it has.  ``chuck``: number
    of the chuck of the shop that it is for, ``machine``: where that stands, if elsewhere; empty for the stated chuck.
    """

    place: GripPlace
    style: str
    jaws: int
    changes: Mapping[str, object]
    needs_chuck: int = 0
    chuck: str = ""
    machine: str = ""

    @property
    def is_stated(self) -> bool:
        """Is this the way the setup states?"""
        return not self.changes and not self.chuck

    def is_hit_by(self, one: Contrary) -> bool:
        """Does what the records say against the stated way, or its chuck, speak against this one too?"""
        if self.is_stated:
            return True
        return one.what != "jaws" and not (self.needs_chuck and one.what in ("chuck", "machine"))

    def setup_of(self, setup: Setup, *, as_if_read: bool = False) -> Setup:
        """The setup held this way; what the shop lacks is assumed in it. Raises: ``InputError``.

        ``setup``: the stated one; of a way for another chuck of the shop, the job on that chuck.  ``as_if_read``: as if
        somebody had read the plate of a chuck that the shop lacks, which can only be better: for a bound.
        """
        taken = setup.with_(self.changes).told(filter(self.is_hit_by, setup.contrary))
        return taken.assuming("chuck") if self.needs_chuck and not as_if_read else taken


def grips(setup: Setup) -> tuple[tuple[Side, float, tuple[float, float]], ...]:
    """The stated grip, and the longest cylinder on the other side that no cut of this operation machines.

    Each as side, diameter and z from, to. [mm]
    """
    grip = setup.grip
    stated = (grip.side, grip.diameter, grip.z)
    other: Side = "inside" if grip.side == "outside" else "outside"
    section = section_of(setup.part.profile)
    kind = {"outside": ("turn", "groove", "thread", "part_off"), "inside": ("bore", "drill", "tap")}[other]
    machined = {s.diameter for s in setup.surfaces if s.side == other}
    machined |= {cut.diameter for cut in setup.cuts if cut.kind in kind and cut.diameter is not None}
    best: tuple[float, float, tuple[float, float]] | None = None
    for diameter in sorted({2 * r for r, _ in section.corners if r > 0} - machined):
        for low, high in section.spans(other, diameter / 2):
            high = min(high, max(grip.z[1], low + LEAST_LENGTH_MM))
            if not_round_at(setup.part, other, (low, high)) is not None:
                continue
            if high - low >= LEAST_LENGTH_MM and (best is None or high - low > best[0]):
                best = (high - low, diameter, (low, high))
    return (stated,) if best is None else (stated, (other, best[1], best[2]))


def places(job: Job) -> tuple[tuple[GripPlace, ...], tuple[NoGripPlace, ...]]:
    """Every stretch that jaws could grip, the stated one first, and the cylinders that they cannot."""
    grip = job.setup.grip
    found, none = [GripPlace(grip.side, grip.diameter, grip.z, stated=True)], []
    sides: tuple[Side, ...] = ("outside", "inside")
    for side in sides:
        for radius in sorted({r for r, _ in job.section.corners if r > 0}, reverse=True):
            for span in job.section.spans(side, radius):
                there = _free(job, side, radius, span)
                if isinstance(there, NoGripPlace):
                    none.append(there)
                else:
                    found += [GripPlace(side, 2 * radius, z) for z in _stretches(there, job.setup.units)]
    stated = found[0]
    rest = (one for one in found[1:] if (one.side, one.diameter, one.z) != (stated.side, stated.diameter, stated.z))
    return (stated, *rest), tuple(none)


def _free(job: Job, side: Side, radius: float, span: tuple[float, float]) -> tuple[float, float] | NoGripPlace:
    """What of a cylinder jaws can reach and no tool needs."""

    def no(reason: str, cut: str = "", blocking: float | None = None) -> NoGripPlace:
        return NoGripPlace(side, 2 * radius, span, reason, cut, blocking)

    if not_round_at(job.setup.part, side, span) is not None:
        return no(NO_CYLINDER)
    made_by = _made_by(job.setup, side, 2 * radius, span)
    there = next(common((span,), job.blank.spans(side, radius)), None)
    if there is None:
        return no(TURNED_HERE, made_by) if made_by else no(NOT_YET)
    low, high = there
    blocking = in_the_way(side, radius, low, (job.section, job.blank))
    if blocking is not None and not made_by:
        return no(BLOCKED, blocking=blocking)
    low += FROM_END_MM if low - job.section.lowest <= NEAR_MM else 0.0
    free, tool = clear_up_to(side, radius, min(high, job.setup.jaws.height or high), tool_rooms(job))
    if free - low >= LEAST_LENGTH_MM and blocking is None:
        return low, free
    if made_by or tool:
        return no(TURNED_HERE, made_by) if made_by else no(TOOL_THERE, tool)
    return no(SHORT)


def _made_by(setup: Setup, side: Side, diameter: float, span: tuple[float, float]) -> str:
    """The first cut that makes something of a cylinder, or the surface that stands for it; empty where none does."""
    for surface in setup.surfaces:
        if surface.side == side and surface.diameter is not None and abs(surface.diameter - diameter) <= NEAR_MM \
                and surface.z[0] < span[1] and span[0] < surface.z[1]:  # fmt: skip
            return next((cut.name for cut in setup.cuts if cut.surface == surface.name), surface.name)
    for cut in setup.cuts:
        z = cut.z
        if cut.surface is None and cut.diameter is not None and abs(cut.diameter - diameter) <= NEAR_MM \
                and side_of(cut, None) == side and (z is None or (z[0] < span[1] and span[0] < z[1])):  # fmt: skip
            return cut.name
    return ""


def _stretches(free: tuple[float, float], units: UnitSystem) -> Iterator[tuple[float, float]]:
    """Grips of some lengths over a free stretch, from the end towards the chuck; the shortest at both ends.

    Their ends are figures that a setter would write.
    """
    fine, coarse = (0.1, 1.0) if units == "metric" else (0.254, 1.27)
    low, high = _marked(ceil(free[0] / fine - NEAR_MM), fine), _marked(floor(free[1] / fine + NEAR_MM), fine)
    if high - low < LEAST_LENGTH_MM:
        low, high = free
    yield low, high
    lengths = [_marked(round(share * (high - low) / coarse), coarse) for share in SHARES if share < 1]
    for length in lengths:
        if LEAST_LENGTH_MM <= length < high - low:
            yield low, round(low + length, PLACES)
    if lengths and LEAST_LENGTH_MM <= lengths[-1] < high - low:
        yield round(high - lengths[-1], PLACES), high


def _marked(number: int, step: float) -> float:
    return round(number * step, PLACES)


def candidates(
    setup: Setup, job: Job, where: Sequence[GripPlace], styles: Sequence[str] = STYLES
) -> Iterator[WayToTry]:
    """Every place with every style and number of jaws; the stated way comes first and changes nothing."""
    counts = sorted({*COUNTS, job.jaws})
    for place in where:
        for count in sorted(counts, key=lambda one: one != job.jaws):
            for style in sorted(styles, key=lambda one: one != setup.jaws.style):
                yield candidate(setup, job.jaws, place, style, count)


def candidate(setup: Setup, stated_count: int, place: GripPlace, style: str, jaws: int) -> WayToTry:
    """A way to hold the part as the changes of its setup."""
    changes: dict[str, object] = {}
    other_jaws = (style, jaws) != (setup.jaws.style, stated_count)
    other_bore = (place.side, place.diameter) != (setup.grip.side, setup.grip.diameter)
    if other_jaws or not place.stated:
        # Other jaws, or the same cut anew: what the records know of this set is not true of them.
        names = [*OF_ITS_SET]
        names += ["width", "gap"] if other_jaws else []
        names += OF_ITS_BORE if other_jaws or other_bore else []
        names += [] if place.stated else ["grip_height"]
        changes |= dict.fromkeys((f"jaws.{name}" for name in names), None)
        changes |= {"jaws.style": style, "jaws.count": jaws} | _without(setup, ASSUMED_OF_JAWS)
        if setup.stated_pressure is not None:
            changes["run.pressure"] = None  # it was set for the way that is stated
    needs = jaws if setup.chuck.jaws % jaws else 0
    if needs:
        # Another chuck: what was read in this one and what it is called is not true of that.
        changes |= {
            "chuck.jaws": jaws, "chuck.number": "", "chuck.grip_readings": None, "chuck.grease": None,
            "chuck.name": f"another chuck with {jaws} jaws, plate as of {setup.chuck.name}",
        } | not_of_chuck(setup)  # fmt: skip
    if not place.stated:
        changes["grip.z"] = place.z
    if other_bore:
        changes |= dict.fromkeys(OF_ITS_SURFACE) | _without(setup, ASSUMED_OF_SURFACE)
        changes |= {"grip.side": place.side, "grip.diameter": place.diameter}
    return WayToTry(place, style, jaws, changes, needs)


def not_of_chuck(setup: Setup) -> dict[str, object]:
    """The changes that take away what is known of the chuck a setup names, beside its own table."""
    return {**dict.fromkeys(f"jaws.{name}" for name in OF_ITS_CHUCK), **_without(setup, ASSUMED_OF_CHUCK)}


def not_of_set(setup: Setup) -> dict[str, object]:
    """The changes that take away what is known of the jaw set that a setup names."""
    return {**dict.fromkeys(f"jaws.{name}" for name in (*OF_ITS_SET, *OF_ITS_BORE)), **_without(setup, ASSUMED_OF_JAWS)}


def _without(setup: Setup, names: Sequence[str]) -> dict[str, object]:
    """The changes that take assumptions of the shop's own away, where there are any."""
    stated = [name for name in names if getattr(setup.assumptions, name, None) is not None]
    return dict.fromkeys(f"assumptions.{name}" for name in stated)

"""Every way in which jaws could take the part of a setup: which surfaces, how long, with which jaws, and why not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from heldtrue.planning.inputs import Job
from heldtrue.planning.profiles import section_of
from heldtrue.planning.setup import Setup
from heldtrue.planning.stages import Stage, surface_of
from heldtrue.tooling.jaws import STYLES

LEAST_GRIP_MM = 3.0
FROM_END_MM = 1.0
"""Jaws begin to bear so far from the end of the part: its edge is broken, and the jaws' corner relieved; common
practice, no source."""
CLEAR_MM = 1.0
"""Room a tool is given beside a jaw: common practice, no source."""
SHARES = (1.0, 2 / 3, 1 / 3)
"""Lengths tried, as shares of what the surface has; the shortest also at the far end."""
COUNTS = (2, 3, 4, 6)
NEAR_MM = 1e-6
Side = Literal["outside", "inside"]

TURNED_HERE, TOOL_THERE, NOT_YET, BLOCKED, SHORT = "turned here", "tool there", "not yet", "blocked", "short"
"""Why no jaw can take a surface: it is cut in this operation; a tool runs where the jaws would stand; it is not on the
blank yet; something wider (inside: narrower) is between it and the chuck; too little of it is left."""


@dataclass(frozen=True)
class Place:
    """Where jaws would grip: a stretch of a cylinder. ``stated``: is it the one of the setup? [mm]"""

    side: Side
    diameter: float
    z: tuple[float, float]
    stated: bool = False


@dataclass(frozen=True)
class NoPlace:
    """A cylinder that no jaw can take, and why: ``reason``, the cut or diameter [mm] that is in the way."""

    side: Side
    diameter: float
    z: tuple[float, float]
    reason: str
    cut: str = ""
    blocking: float | None = None


@dataclass(frozen=True)
class Candidate:
    """One way to try: the changes of the setup that make it.

    ``needs_chuck``: for a chuck with that number of jaws, which the setup has not; 0 for the stated chuck.
    """

    place: Place
    style: str
    jaws: int
    changes: Mapping[str, object]
    needs_chuck: int = 0

    @property
    def is_stated(self) -> bool:
        """Is this the way the setup states?"""
        return not self.changes

    def setup_of(self, setup: Setup) -> Setup:
        """The setup held this way; what the shop lacks is assumed in it. Raises: ``InputError``."""
        # What speaks against the jaws and chuck of the stated way is nothing to another's.
        taken = setup.with_(self.changes).told(() if self.changes else setup.contrary)
        return taken.assuming("chuck") if self.needs_chuck else taken


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
            high = min(high, max(grip.z[1], low + LEAST_GRIP_MM))
            if high - low >= LEAST_GRIP_MM and (best is None or high - low > best[0]):
                best = (high - low, diameter, (low, high))
    return (stated,) if best is None else (stated, (other, best[1], best[2]))


def places(job: Job) -> tuple[tuple[Place, ...], tuple[NoPlace, ...]]:
    """Every stretch that jaws could grip, the stated one first, and the cylinders that they cannot."""
    grip = job.setup.grip
    found, none = [Place(grip.side, grip.diameter, grip.z, stated=True)], []
    sides: tuple[Side, ...] = ("outside", "inside")
    for side in sides:
        for radius in sorted({r for r, _ in job.section.corners if r > 0}, reverse=True):
            for span in job.section.spans(side, radius):
                there = _free(job, side, radius, span)
                if isinstance(there, NoPlace):
                    none.append(there)
                else:
                    found += [Place(side, 2 * radius, z) for z in _stretches(there)]
    stated = found[0]
    rest = (one for one in found[1:] if (one.side, one.diameter, one.z) != (stated.side, stated.diameter, stated.z))
    return (stated, *rest), tuple(none)


def _free(job: Job, side: Side, radius: float, span: tuple[float, float]) -> tuple[float, float] | NoPlace:
    """What of a cylinder jaws can reach and no tool needs."""

    def no(reason: str, cut: str = "", blocking: float | None = None) -> NoPlace:
        return NoPlace(side, 2 * radius, span, reason, cut, blocking)

    in_blank = [(max(span[0], a), min(span[1], b)) for a, b in job.blank.spans(side, radius)]
    in_blank = [(a, b) for a, b in in_blank if b - a > NEAR_MM]
    own = next((s for s in job.stages if _makes(job.setup, s, side, 2 * radius, span)), None)
    if not in_blank:
        return no(TURNED_HERE, own.cut.name) if own else no(NOT_YET)
    low, high = in_blank[0]
    for section in (job.section, job.blank):
        below = [r for r, z in section.corners if z < low - NEAR_MM]
        if side == "outside" and below and max(below) > radius + NEAR_MM:
            return no(BLOCKED, blocking=2 * max(below))
        if side == "inside" and below and min(below) < radius - NEAR_MM:
            return no(BLOCKED, blocking=2 * min(below))
    low += FROM_END_MM if low - job.section.lowest <= NEAR_MM else 0.0
    limits = [(z, stage) for stage in job.stages if (z := _needed_from(job, stage, side, radius)) is not None]
    z, stage = min(limits, key=lambda limit: limit[0], default=(high + CLEAR_MM, None))
    free = min(high, z - CLEAR_MM, job.setup.jaws.height or high)
    if free - low >= LEAST_GRIP_MM:
        return low, free
    if stage is None:
        return no(SHORT)
    return no(TURNED_HERE if own is not None else TOOL_THERE, (own or stage).cut.name)


def _makes(setup: Setup, stage: Stage, side: Side, diameter: float, span: tuple[float, float]) -> bool:
    """Does a cut make that cylinder?"""
    if stage.cut.kind == "face" or _side_of(setup, stage) != side:
        return False
    made = (stage.largest, stage.smallest)
    return any(abs(d - diameter) <= NEAR_MM for d in made) and stage.z[0] < span[1] and span[0] < stage.z[1]


def _side_of(setup: Setup, stage: Stage) -> str:
    cut = stage.cut
    if cut.kind in ("bore", "drill", "tap"):
        return "inside"
    if cut.kind in ("turn", "part_off"):
        return "outside"
    surface = surface_of(setup, cut)
    return surface.side if surface else "outside"


def _needed_from(job: Job, stage: Stage, side: Side, radius: float) -> float | None:
    """The lowest z at which the tool of a cut would meet jaws that grip on ``radius``; None where it never does."""
    cut = stage.cut
    if cut.kind == "face":
        beside = stage.largest / 2 >= radius - CLEAR_MM if side == "outside" else \
            stage.smallest / 2 <= radius + CLEAR_MM  # fmt: skip
        return stage.z[0] if beside else None
    if cut.kind == "part_off":
        return stage.z[0]
    if _side_of(job.setup, stage) != side:
        return None
    return job.section.lowest if cut.kind in ("drill", "tap") and stage.through else stage.z[0]


def _stretches(free: tuple[float, float]) -> Iterator[tuple[float, float]]:
    """Grips of some lengths over a free stretch, from the end towards the chuck; the shortest at both ends."""
    low, high = free
    for share in SHARES:
        length = high - low if share == 1 else float(round(share * (high - low)))
        if length >= LEAST_GRIP_MM and (share == 1 or length < high - low):
            yield low, low + length
    short = float(round(SHARES[-1] * (high - low)))
    if LEAST_GRIP_MM <= short < high - low:
        yield high - short, high


def candidates(setup: Setup, job: Job, where: Sequence[Place], styles: Sequence[str] = STYLES) -> Iterator[Candidate]:
    """Every place with every style and number of jaws; the stated way comes first and changes nothing."""
    counts = sorted({*COUNTS, job.jaws})
    for place in where:
        for count in sorted(counts, key=lambda one: one != job.jaws):
            for style in sorted(styles, key=lambda one: one != setup.jaws.style):
                yield candidate(setup, job.jaws, place, style, count)


def candidate(setup: Setup, stated_count: int, place: Place, style: str, jaws: int) -> Candidate:
    """A way to hold the part as the changes of its setup."""
    changes: dict[str, object] = {}
    other_jaws = (style, jaws) != (setup.jaws.style, stated_count)
    other_bore = (place.side, place.diameter) != (setup.grip.side, setup.grip.diameter)
    if other_jaws or not place.stated:
        # Other jaws, or the same cut anew: what the records know of this set is not true of them.
        names = ["number", "cuts_done", "last_cut", "tooth", "bore_diameter"]
        names += ["width", "gap"] if other_jaws else []
        names += ["mass", "centroid_radius"] if other_jaws or other_bore else []
        names += [] if place.stated else ["grip_height"]
        changes |= dict.fromkeys((f"jaws.{name}" for name in names), None)
        changes |= {"jaws.style": style, "jaws.count": jaws}
    needs = jaws if setup.chuck.jaws % jaws else 0
    if needs:
        # Another chuck: what was read in this one and what it is called is not true of that.
        changes |= {
            "chuck.jaws": jaws, "chuck.number": "", "chuck.grip_readings": None, "chuck.grease": None,
            "chuck.name": f"another chuck with {jaws} jaws, plate as of {setup.chuck.name}",
        }  # fmt: skip
    if not place.stated:
        changes["grip.z"] = place.z
    if other_bore:
        changes |= {"grip.side": place.side, "grip.diameter": place.diameter,
                    "grip.diameter_tolerance": None, "grip.seat_diameters": None}  # fmt: skip
    return Candidate(place, style, jaws, changes, needs)

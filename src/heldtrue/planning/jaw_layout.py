"""Placing, ring and bore of one set of jaws, by geometry alone: milliseconds."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from heldtrue.errors import GeometryError
from heldtrue.planning.hardware import (
    Hardware,
    bar_room,
    below_tip,
    gripped_surface,
    hardware_of,
    planned_depth,
    relief_angle,
    run_in,
    say_in,
    wanted_of,
)
from heldtrue.planning.inputs import Job
from heldtrue.planning.setup import Setup
from heldtrue.sentences import joined, sentence
from heldtrue.tooling import ring
from heldtrue.tooling.blank import Bored, Say, Wanted, bored_as_found, in_mm, old_bore
from heldtrue.tooling.bore import Asked, BoreDesign, Sizes, design, faced, land_of, relief_depth, sizes
from heldtrue.tooling.nest import Nest, Step
from heldtrue.tooling.placing import Placing, Way, judge, place
from heldtrue.tooling.recut import SEAT_SKIM_MM
from heldtrue.tooling.ring_strength import Push


@dataclass(frozen=True)
class Layout:
    """Placing, ring and bore of one set, by geometry alone."""

    hardware: Hardware
    placing: Placing | None
    ring: ring.RingChoice | None
    asked: Asked
    sizes: Sizes | None
    refusals: tuple[str, ...]

    def design(self, taper: float, say: Say = in_mm) -> BoreDesign | None:
        """The bore with a taper per side. [mm]

        Raises: ``GeometryError`` where the last cut left too little metal for it.
        """
        hardware = self.hardware
        if self.ring is None or self.sizes is None or hardware.blank is None or hardware.master is None:
            return None
        asked = replace(self.asked, taper=taper)
        return design(
            asked, self.sizes, hardware.blank, hardware.master, self.ring.way, self.ring, hardware.bolt.head, say
        )


def lay_out(
    job: Job, bored: Bored | None = None, tooth: int | None = None, stroke: float | None = None,
    push: Push | None = None,
) -> Layout:  # fmt: skip
    """Placing, ring and bore.

    ``bored``: as found on the machine, instead of the record; ``tooth``: stay on it; ``stroke``: where the jaws stand;
    ``push``: what the ring must carry.
    """
    hardware = hardware_of(job)
    if bored is not None and hardware.blank is not None:
        hardware = replace(hardware, blank=replace(hardware.blank, bored=bored))
    asked, say = _asked(job, hardware), say_in(job.setup)
    master = hardware.master
    if hardware.blank is None or master is None:
        return Layout(hardware, None, None, asked, None, hardware.missing)
    try:
        size = sizes(asked, hardware.blank, say)
    except GeometryError as error:
        return Layout(hardware, None, None, asked, None, (str(error),))
    blank = faced(hardware.blank, size.face_off)
    hardware = replace(hardware, blank=blank)
    reach = max(size.relief[1], asked.nest.reach(asked.radius, asked.outward))
    wanted = wanted_of(job, asked.radius, reach, size.ledge, size.floor, asked.nest, size.depth + asked.seat_relief)
    placing = place(master, blank, wanted, say)
    if tooth is not None:
        ways = tuple(way for way in placing.ways if way.tooth == tooth)
        if ways and stroke is not None:
            judged = judge(master, blank, wanted, tooth, stroke, say)
            if isinstance(judged, Way):
                ways = (judged,)
            else:
                ways, placing = (), replace(placing, refused=(judged, *placing.refused))
        placing = replace(placing, ways=ways)
    if not placing.ways:
        why = _why_not(placing, tooth)
        return Layout(hardware, placing, None, asked, size, why)
    chosen = _ring(job, hardware, wanted, size, placing, asked, push)
    if not isinstance(chosen, ring.RingChoice):
        return Layout(hardware, placing, None, asked, size, chosen)
    return Layout(hardware, placing, chosen, asked, size, _tool_between(job, hardware, chosen.way, size.floor))


def lay_out_used(job: Job, measured: float | None, push: Push | None = None) -> tuple[Layout, float]:
    """The layout of a used set on the tooth it stands on, and the diameter found, or to be found, on the ring. [mm]

    The ring alone says where in the stroke the jaws stand when they are touched off; a record counts from mid-stroke.
    """
    setup, last = job.setup, job.setup.jaws.last_cut
    standing = setup.jaws.tooth or (last.tooth if last else None)
    depth = last.depth if last and last.depth else planned_depth(job) - seat_skim_of(setup)
    outward = 1.0 if job.grip_is_outside else -1.0
    # Metal enough that no ring is refused for want of it.
    found = lay_out(job, Bored(job.bore_radius - 3.0 * outward, depth, standing or 1), tooth=standing, push=push)
    stroke = found.ring.way.stroke if found.ring else 0.0
    hardware, tooth = found.hardware, standing or 1
    as_cut = hardware_of(job).blank
    recorded = as_cut.bored if as_cut else None
    if recorded is None:  # nobody wrote down what it was cut to: the bore found is taken as round where it stands
        recorded = Bored(job.bore_radius if measured is None else measured / 2, depth, tooth)
    recorded = replace(recorded, depth=depth)
    if hardware.master is None or hardware.blank is None:
        return lay_out(job, recorded, standing, stroke, push), measured or 2 * recorded.radius
    try:
        if measured is not None:
            recorded = bored_as_found(hardware.master, hardware.blank, recorded, tooth, stroke, measured / 2, outward)
        else:
            measured = 2 * old_bore(hardware.master, hardware.blank, recorded, tooth, stroke).near(outward)
    except GeometryError:
        measured = measured or 2 * recorded.radius
    return lay_out(job, recorded, standing, stroke, push), measured


def seat_skim_of(setup: Setup) -> float:
    """What a re-cut takes off the seat. [mm]"""
    boring = setup.boring
    return SEAT_SKIM_MM if boring is None or boring.seat_skim is None else boring.seat_skim


def _why_not(placing: Placing, tooth: int | None) -> tuple[str, ...]:
    refused = next((one for one in placing.refused if one.tooth == tooth), None)
    if refused is not None:
        return (sentence("on {} {}: {}", placing.word, tooth, joined("; ", refused.reasons)),)
    if tooth is not None and tooth not in [one.tooth for one in placing.ways] + [one.tooth for one in placing.refused]:
        return (f"the master jaws have no {placing.word} {tooth}",)
    if tooth is not None:
        return (f"on {placing.word} {tooth}, where they stand, these jaws cannot be cut to that diameter",)
    return placing.words[:1]


def _asked(job: Job, hardware: Hardware) -> Asked:
    """What part and shop ask of the bore; the taper comes later."""
    setup, boring = job.setup, job.setup.boring
    start, end = gripped_surface(job)
    given: dict[str, Any] = {}
    for key in ("seat_land", "seat_relief", "relief_width", "relief_depth", "mouth_chamfer", "seat_skim"):
        value = getattr(boring, key) if boring else None
        if value is not None:
            given[key] = value
    given["nest"] = nest_of(setup)
    if boring and boring.face is not None:
        given["face"] = boring.face
    if boring and boring.diameter_tolerance is not None:
        given["tolerance"] = boring.diameter_tolerance
    if setup.grip.seat_diameters is not None and "seat_land" not in given:
        low, high = setup.grip.seat_diameters
        given["seat_land"] = (high - low) / 2
    edge = max(start, 0.0)
    deep = given.get("relief_depth") or relief_depth(edge, hardware.tool.nose_radius)
    given["run_in"] = relief_angle(hardware.tool, setup.grip.side, deep)
    return Asked(
        side=setup.grip.side, radius=job.bore_radius, taper=setup.jaws.taper or 0.0, grip=setup.grip.z,
        depth=planned_depth(job), surface_end=end, edge=edge, seat=_seat(job) if setup.grip.seat else None,
        nose_radius=hardware.tool.nose_radius, **given,
    )  # fmt: skip


def nest_of(setup: Setup) -> Nest:
    """The steps of the bore that a setup asks for."""
    steps = setup.boring.steps if setup.boring is not None else None
    return Nest.of([Step(one.diameter / 2, one.z, one.grips) for one in steps or ()])


def seat_reach(job: Job) -> float | None:
    """Radius to which the seat face reaches in (outside grip) or out (inside); None without a seat. [mm]"""
    land = land_of(_asked(job, hardware_of(job)))
    if land is None:
        return None
    return land[0] if job.grip_is_outside else land[1]


def _seat(job: Job) -> tuple[float, float]:
    """Inner and outer radius of the part's seat face next to the grip."""
    stated = job.setup.grip.seat_diameters
    if stated is not None:
        return stated[0] / 2, stated[1] / 2
    low = 0.0 if any(abs(z) < 1e-6 for _, z in job.section.corners) else job.section.lowest
    radii = [r for r, z in job.section.corners if abs(z - low) < 1e-6]
    if job.grip_is_outside:
        return min(radii), min(max(radii), job.grip_radius)
    return max(min(radii), job.grip_radius), max(radii)


def _ring(
    job: Job, hardware: Hardware, wanted: Wanted, size: Sizes, placing: Placing, asked: Asked, push: Push | None
) -> ring.RingChoice | tuple[str, ...]:
    blank, master, boring = hardware.blank, hardware.master, job.setup.boring
    assert blank is not None
    assert master is not None
    say = say_in(job.setup)
    front = blank.height
    low, high = asked.grip[0], min(asked.grip[1], size.depth)
    clearance = ring.CLEARANCE_MM if boring is None or boring.clearance is None else boring.clearance
    room = ring.Room(
        seat=front - size.floor, front=front, grip=front - size.depth + (low + high) / 2,
        mouth=asked.radius + asked.outward * (asked.mouth_chamfer + wanted.relief + run_in(hardware.tool, clearance)),
        below_tip=below_tip(hardware.tool), clearance=clearance,
    )  # fmt: skip

    def again(tooth: int, stroke: float) -> Way | None:
        judged = judge(master, blank, wanted, tooth, stroke, say)
        return judged if isinstance(judged, Way) else None

    return ring.choose(hardware.rings, placing.ways, blank, wanted, room, master.travel, again, say, push)


def _tool_between(job: Job, hardware: Hardware, way: Way, floor: float) -> tuple[str, ...]:
    """A boring bar must reach ``floor`` mm deep and go in between the jaws."""
    stated = job.setup.boring.clearance if job.setup.boring else None
    clearance = ring.CLEARANCE_MM if stated is None else stated
    blank, say = hardware.blank, say_in(job.setup)
    if not job.grip_is_outside or blank is None:
        return ()
    tool = job.setup.boring.tool if job.setup.boring else None
    if tool is not None and not tool.outline and tool.overhang is not None and tool.overhang < floor + clearance:
        return (
            sentence(
                "{} stands {} out of its holder; cutting {} deep needs {} with the clearance: set it further "
                "out, or take a longer one",
                hardware.tool.name,
                say(tool.overhang),
                say(floor),
                say(floor + clearance),
            ),
        )
    free = way.outline.least_radius
    needs = bar_room(hardware.tool)
    if hardware.tool.quadrant == 4 and needs > 2 * free - 1.0:
        return (
            sentence(
                "{} needs {} between the jaws, which leave Ø{}: use a thinner bar, or jaws that reach less far in",
                hardware.tool.name,
                say(needs),
                say(2 * free),
            ),
        )
    return ()

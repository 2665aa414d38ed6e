"""From a setup to the shop's hardware: master jaws, blank, rings, tool; what is missing is named or assumed."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, degrees, radians, sin, sqrt, tan

import numpy as np

from heldtrue.errors import InputError
from heldtrue.mechanics.jaw_outline import FLAT
from heldtrue.planning.half_section import stretches
from heldtrue.planning.inputs import PRACTICE, Job
from heldtrue.planning.profiles import outline, section_of
from heldtrue.planning.setup import Setup, Tool
from heldtrue.program.job import RUN_IN_MM, RUN_IN_STEP_MM, BoringTool
from heldtrue.quantities import format_quantity
from heldtrue.sentences import in_both, sentence
from heldtrue.tooling import bolts
from heldtrue.tooling.blank import SKIM_MM, WEB_LIMIT_MM, Blank, Bored, Master, Say, Wanted
from heldtrue.tooling.jaws import PIE_GAP_MM, usual_size
from heldtrue.tooling.nest import Nest
from heldtrue.tooling.ring import Ring
from heldtrue.tooling.serration import TONGUE_AND_GROOVE, serration

Point = tuple[float, float]

BOLT, BOLT_CLASS = "M12", "12.9"
"""Jaw bolts where nothing is stated: common practice, no source."""
NUT_DIAMETERS = 2.0
"""Length of a T-nut in bolt diameters, where nothing is stated: common practice, no source."""
OUTSIDE, INSIDE = "outside", "inside"
NOSE_MM, LEAD_DEG, INSERT_DEG = 0.4, 95.0, 55.0
"""Tool where nothing is stated: common practice, no source."""
BAR_MM, OVERHANG_MM = 16.0, 80.0
"""Boring bar where nothing is stated: common practice, no source."""
EDGE_MM = 6.0
"""Length of a cutting edge where nothing is stated: common practice, no source."""
INSERT_MM = 8.0
"""Length of an insert's edge beside its holder: common practice, no source."""
RUN_IN_SPARE_DEG = 3.0
"""The run into the corner relief is this much flatter than the back of the insert."""


@dataclass(frozen=True)
class Hardware:
    """What the jaws are placed and cut with.

    ``missing``: what must be known before the jaws can be placed, in words; ``assumed``: what was taken for granted.
    """

    master: Master | None
    blank: Blank | None
    rings: tuple[Ring, ...]
    tool: BoringTool
    bolt: bolts.BoltSize
    bolt_class: str
    missing: tuple[str, ...]
    assumed: tuple[str, ...]


def say_in(setup: Setup) -> Say:
    """How a length is said to whoever wrote this setup."""

    def say(value: float) -> str:
        if setup.units == "inch":
            return in_both(f"{round(value, 2) + 0.0:g} mm", format_quantity(value, "length", "inch"), "inch")
        return sentence("{:g mm}", round(value, 2) + 0.0)

    return say


def hardware_of(job: Job) -> Hardware:
    """The hardware of one setup."""
    setup, assumed = job.setup, []
    bolt = bolts.size(setup.jaws.bolt or BOLT)
    bolt_class = setup.jaws.bolt_class or ("A574" if setup.jaws.bolt and setup.jaws.bolt[0] != "M" else BOLT_CLASS)
    if setup.jaws.bolt is None or setup.jaws.bolt_class is None:
        assumed.append(f"jaw bolts {bolt.name} of class {bolt_class}")
    missing = _missing(setup)
    known = not missing
    master = _master(job, bolt, assumed) if known else None
    blank = _blank(job, bolt, assumed) if known else None
    rings = tuple(
        Ring(one.name, one.kind, one.outside, 0.0 if one.kind == "plug" else (one.inside or 0.0), one.width)
        for one in (setup.boring.rings if setup.boring else None) or ()
    )
    return Hardware(master, blank, rings, boring_tool(setup, assumed), bolt, bolt_class, tuple(missing), tuple(assumed))


def _missing(setup: Setup) -> list[str]:
    chuck, jaws, found = setup.chuck, setup.jaws, []
    if chuck.master_jaws is None:
        found.append("chuck: master_jaws is missing: serration, first_tooth and teeth say where the jaws can stand")
    if chuck.jaw_travel is None:
        found.append("chuck: jaw_travel is missing: without it there is no mid-stroke")
    if jaws.ends is None:
        found.append("jaws: ends is missing: how far the blank reaches from its zero mark")
    if jaws.holes is None:
        found.append("jaws: holes is missing: where the bolts stand from the zero mark")
    if chuck.master_jaws and jaws.serration and jaws.serration != chuck.master_jaws.serration:
        found.append(
            f"jaws: serration: {jaws.serration} jaws do not fit {chuck.master_jaws.serration} master jaws; "
            "use a set of the chuck's serration"
        )
    return found


def _master(job: Job, bolt: bolts.BoltSize, assumed: list[str]) -> Master:
    chuck = job.setup.chuck
    jaws, travel = chuck.master_jaws, chuck.jaw_travel
    assert jaws is not None
    assert travel is not None
    pitch: float | None = None
    if jaws.serration == TONGUE_AND_GROOVE:
        zeros = tuple(sorted(jaws.positions or ()))
    else:
        pitch = serration(jaws.serration).pitch
        zeros = tuple((jaws.first_tooth or 0.0) + pitch * k for k in range(jaws.teeth or 0))
    if not zeros:
        raise InputError("chuck: master_jaws: there is no place for a top jaw on them")
    if jaws.nut_length is None:
        assumed.append(f"T-nuts {NUT_DIAMETERS:g} bolt diameters long; {PRACTICE}")
    if jaws.top_height is None:
        assumed.append("master jaws level with the chuck face")
    if chuck.body_diameter is None:
        assumed.append("T-nuts are not checked against the rim: body_diameter of the chuck is not given")
    return Master(
        jaws=job.jaws, zeros=zeros, pitch=pitch, travel=travel, top_height=jaws.top_height or 0.0, slot=jaws.slot,
        nut_length=jaws.nut_length or NUT_DIAMETERS * bolt.diameter,
        body_radius=None if chuck.body_diameter is None else chuck.body_diameter / 2,
        through_radius=(chuck.through_hole or 0.0) / 2,
    )  # fmt: skip


def _blank(job: Job, bolt: bolts.BoltSize, assumed: list[str]) -> Blank:
    jaws, shape = job.setup.jaws, job.jaw_kind.shape
    assert jaws.ends is not None
    usual = usual_size(job.setup.chuck.max_grip_force).width * (2 if jaws.style == "wide" else 1)
    width = jaws.width or usual
    diameter, depth = jaws.counterbore_diameter, jaws.counterbore_depth
    if diameter is None or depth is None:
        assumed.append(
            sentence("bolt pockets Ø{:g [mm]} x {:g mm}", diameter or bolt.counterbore, depth or bolt.head_height + 1)
        )
    if jaws.web_limit is None:
        assumed.append(sentence("least web {:g mm}; {}", WEB_LIMIT_MM, PRACTICE))
    if jaws.style == "pie":
        assumed.append("both ends of the segments are arcs about the spindle axis where they are cut")
    elif jaws.inner_end is None:
        assumed.append("jaws with a flat inner end")
    if jaws.style == "wide":
        assumed.append("wide jaws as wide all along as at their nose, for what turns clear")
    return Blank(
        style=jaws.style, width=width, ends=jaws.ends, height=shape.height, holes=jaws.holes or (),
        pocket=(diameter or bolt.counterbore, depth or bolt.head_height + 1.0), head=bolt.head_height,
        gap=jaws.gap if jaws.gap is not None else (PIE_GAP_MM if jaws.style == "pie" else 0.0),
        web_limit=jaws.web_limit or WEB_LIMIT_MM, bored=_bored(job, assumed), inner_end=jaws.inner_end or FLAT,
    )  # fmt: skip


def _bored(job: Job, assumed: list[str]) -> Bored | None:
    """How the set was cut last, at mid-stroke."""
    jaws = job.setup.jaws
    last = jaws.last_cut
    if last is None:
        return None
    tooth = last.tooth or jaws.tooth
    if tooth is None:
        assumed.append("the last cut was made on the first tooth: no tooth is recorded")
    relief = None if last.relief_width is None or last.relief_depth is None else (last.relief_width, last.relief_depth)
    seat = None if last.seat_land is None or last.seat_relief is None else (last.seat_land, last.seat_relief)
    if relief is None:
        assumed.append("the corner relief of the last cut as large as this one; in the program it is metal")
    if seat is None:
        assumed.append("the last seat face at least as wide as this one; what is set back beside it is metal there")
    steps = None if last.steps is None else tuple((one.diameter / 2, one.z) for one in last.steps)
    return Bored(last.diameter / 2, last.depth or planned_depth(job), tooth or 1, relief=relief, seat=seat,
                 depth_error=last.depth_error or 0.0, steps=steps)  # fmt: skip


def planned_depth(job: Job) -> float:
    """Front of the jaws to the seat, as the plan has it. [mm]"""
    shape = job.jaw_kind.shape
    return shape.height - shape.seat_height


def gripped_surface(job: Job) -> tuple[float, float]:
    """Where the gripped surface starts and ends above the seat, chamfers and roundings taken off. [mm]

    Of the finished part, and of the blank where that has the surface too.
    """
    setup, found = job.setup, []
    looks = "outside" if job.grip_is_outside else "inside"
    middle = sum(setup.grip.z) / 2
    for corners in (setup.part.profile, setup.part.blank):
        for stretch in stretches(corners) if corners else ():
            same = stretch.looks == looks and abs(stretch.diameters[0] - setup.grip.diameter) < 1e-6
            if same and stretch.z[0] <= middle <= stretch.z[1]:
                found.append(stretch.z)
    if not found:
        return setup.grip.z
    return max(z[0] for z in found), min(z[1] for z in found)


def entering_radius(job: Job, depth: float) -> float:
    """Radius of the part that must pass the open jaws: the largest (outside grip) or least (inside) below their front.

    Finished part and blank, with the tolerance of the gripped diameter. [mm]
    """
    low, high = (deviation / 2 for deviation in job.size_range)
    found = []
    for corners in (job.setup.part.profile, job.setup.part.blank):
        if corners:
            found += _radii_below(outline(corners), depth)
    if job.grip_is_outside:
        return max([*found, job.grip_radius]) + high
    edge = section_of(job.setup.part.profile)
    return (0.0 if edge.is_solid else min([*found, job.grip_radius])) + low


def _entering(job: Job, radius: float, depth: float, nest: Nest) -> float:
    """Radius that must pass a bore of ``radius``, with what must pass its steps counted as if it stood over it."""
    radii = [radius, *(one.radius for one in nest.before)]
    ends = [*(one.z for one in nest.before), depth]
    out = 1.0 if job.grip_is_outside else -1.0
    return radius + out * max(out * (entering_radius(job, end) - bore) for bore, end in zip(radii, ends, strict=True))


def _radii_below(points: list[Point], z: float) -> list[float]:
    """Radii of an outline at and below a height."""
    found = [r for r, at in points if at <= z + 1e-9]
    for (r0, z0), (r1, z1) in zip(points, [*points[1:], points[0]], strict=True):
        if (z0 - z) * (z1 - z) < 0:
            found.append(r0 + (r1 - r0) * (z - z0) / (z1 - z0))
    return found


def swings(setup: Setup) -> tuple[tuple[str, float], ...]:
    """Radii that chuck and machine turn clear. [mm]"""
    pairs = (("the chuck", setup.chuck.swing), ("the machine", setup.machine.max_swing if setup.machine else None))
    return tuple((name, swing / 2) for name, swing in pairs if swing is not None)


def boring_tool(setup: Setup, assumed: list[str]) -> BoringTool:
    """The tool of the setup, or a usual one."""
    outside = setup.grip.side == OUTSIDE
    tool = setup.boring.tool if setup.boring else None
    if tool is None:
        word = "boring bar" if outside else "turning tool"
        size = sentence("{:g mm}, {:g mm} out", BAR_MM, OVERHANG_MM) if outside else sentence("{:g mm}", 25.0)
        assumed.append(
            sentence(
                "a {} of {}, nose {:g mm}, insert {:g} degrees, edge {:g mm} long",
                word,
                size,
                NOSE_MM,
                INSERT_DEG,
                EDGE_MM,
            )
        )
        shank = (
            _bar(NOSE_MM, BAR_MM, OVERHANG_MM, 11.0, LEAD_DEG, INSERT_DEG)
            if outside
            else _holder(NOSE_MM, LEAD_DEG, INSERT_DEG)
        )
        return BoringTool(1, word, NOSE_MM, 4 if outside else 3, LEAD_DEG, shank, edge_length=EDGE_MM)
    lead = LEAD_DEG if tool.lead_angle is None else degrees(tool.lead_angle)
    if tool.insert_angle is None and not tool.outline:
        assumed.append(f"an insert of {INSERT_DEG:g} degrees in {tool.name or 'the tool'}; {PRACTICE}")
    if tool.edge_length is None:
        assumed.append(sentence("a cutting edge {:g mm} long in {}; {}", EDGE_MM, tool.name or "the tool", PRACTICE))
    return BoringTool(
        number=tool.number or 1, name=tool.name or "tool", nose_radius=tool.nose_radius,
        quadrant=tool.quadrant or (4 if outside else 3), lead_angle=lead, shank=_shank(tool, lead), offset=tool.offset,
        edge_length=tool.edge_length or EDGE_MM,
    )  # fmt: skip


def _shank(tool: Tool, lead: float) -> tuple[Point, ...]:
    if tool.outline:
        return tuple((float(x), float(z)) for x, z in tool.outline)
    bar, overhang = tool.bar_diameter or BAR_MM, tool.overhang or OVERHANG_MM
    insert = INSERT_DEG if tool.insert_angle is None else degrees(tool.insert_angle)
    return _bar(tool.nose_radius, bar, overhang, tool.tip_offset or 0.7 * bar, lead, insert)


def _leans(lead: float, insert: float) -> tuple[float, float]:
    """How far the main edge leans back from the face, and the other from the wall. [rad]"""
    return radians(max(lead - 90.0, 0.5)), radians(max(180.0 - lead - insert, 0.5))


def _bar(nose: float, bar: float, overhang: float, tip_offset: float, lead: float, insert: float) -> tuple[Point, ...]:
    """A boring bar behind its insert, round the centre of the nose: tip at +x, chuck at -z."""
    near, far = nose - tip_offset + bar / 2, nose - tip_offset - bar / 2
    face, wall = _leans(lead, insert)
    start, touch = (-nose * sin(face), -nose * cos(face)), (nose * cos(wall), nose * sin(wall))
    # The insert's back edge runs until it meets the bar, or as long as it is.
    run = min(INSERT_MM, max((touch[0] - near) / sin(wall), 1.0))
    tail = (touch[0] - run * sin(wall), touch[1] + run * cos(wall))
    side = min(near, tail[0])
    back = max(overhang, tail[1] + 1.0)
    return (
        start,
        touch,
        tail,
        (side, tail[1]),
        (side, back),
        (far, back),
        (far, start[1] + (start[0] - far) * tan(face)),
    )


def _holder(nose: float, lead: float, insert: float) -> tuple[Point, ...]:
    """A turning tool on a 25 mm shank that lies across, tip at -x, chuck at -z."""
    face, wall = _leans(lead, insert)
    start, touch = (nose * sin(face), -nose * cos(face)), (-nose * cos(wall), nose * sin(wall))
    tail = (touch[0] + INSERT_MM * sin(wall), touch[1] + INSERT_MM * cos(wall))
    return (start, (60.0, start[1] + 60.0 * tan(face)), (60.0, 35.0), (max(tail[0], 2.0), 35.0), tail, touch)


def relief_angle(tool: BoringTool, side: str, deep: float) -> float:
    """Run into a corner relief of that depth [mm] that tool and holder clear: from the wall, 45 at most. [deg]

    The nose lies where run and relief wall meet; the back of the insert must clear the edge at the top of the run.  A
    few degrees less than what just clears; 0 where even a flat run is too steep.
    """
    corners = np.array([(x if side == OUTSIDE else -x, z) for x, z in tool.shank])
    ends = np.roll(corners, -1, axis=0)
    share = np.linspace(0.0, 1.0, 201)[:, None, None]
    points = (corners + share * (ends - corners)).reshape(-1, 2)
    for angle in np.arange(45.0 + RUN_IN_SPARE_DEG, 4.0, -1.0):
        slope = radians(angle)
        u = points[:, 0] + deep - tool.nose_radius
        z = points[:, 1] - tool.nose_radius * tan(slope / 2)
        if bool((u <= np.clip(deep - z * tan(slope), 0.0, deep) + 1e-9).all()):
            return max(float(angle) - RUN_IN_SPARE_DEG, 0.0)
    return 0.0


def below_tip(tool: BoringTool) -> float:
    """How far insert and holder reach below the tip, towards the chuck. [mm]"""
    return max(0.0, -min(z for _, z in tool.shank) - tool.nose_radius)


def run_in(tool: BoringTool, clearance: float) -> float:
    """How far past the mouth the tip comes in along the chamfer before it cuts, across. [mm]

    The nose starts as far off the jaw faces as the clearance, at most ``RUN_IN_MM``, on the line of the chamfer.
    """
    return min(clearance, RUN_IN_MM) + tool.nose_radius * (2 - sqrt(2)) + RUN_IN_STEP_MM


def bar_room(tool: BoringTool) -> float:
    """Room a boring bar takes from the tip across. [mm]"""
    return tool.nose_radius - min(x for x, _ in tool.shank)


def wanted_of(
    job: Job,
    radius: float,
    relief: float,
    ledge: float,
    depth: float,
    nest: Nest | None = None,
    top: float | None = None,
) -> Wanted:
    """What the set is to be cut to.

    ``relief``: how far anything of it goes into the metal past ``radius``; ``depth`` of the lowest face that is cut;
    ``top``: of the jaw fronts above the seat, None: as much.
    """
    boring = job.setup.boring
    low, high = job.size_range
    skim = SKIM_MM if boring is None or boring.skim is None else boring.skim
    entering = _entering(job, radius, depth if top is None else top, nest or Nest())
    return Wanted(
        side=job.setup.grip.side, radius=radius, relief=relief, ledge=ledge, depth=depth,
        entering=entering, spread=(high - low) / 2, swings=swings(job.setup), skim=skim,
        half_angle=job.half_angle,
    )  # fmt: skip

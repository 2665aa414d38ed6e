"""The range of every input: how far a stated value may lie off, and what is assumed where nothing is stated.

One function for each input.  The ends are named by what they do to holding (``Known.worst``, ``Known.best``); a check
that fears the other end takes the other end.  docs/ranges.md is written from this table.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from heldtrue.errors import InputError
from heldtrue.mechanics.cutting import INTERRUPTED, WEAR_UNKNOWN, cutting_force_range
from heldtrue.mechanics.materials import friction_range
from heldtrue.mechanics.spin import SpinningMass, static_moment
from heldtrue.planning.known import ASSUMED, Known
from heldtrue.planning.setup import Source
from heldtrue.quantities import format_quantity
from heldtrue.sentences import sentence
from heldtrue.tooling import jaws as jaw_tooling
from heldtrue.tooling.chuck import height_share
from heldtrue.tooling.grip_estimate import FRESH_DAYS, GREASE

if TYPE_CHECKING:
    from heldtrue.planning.entries import JawCut
    from heldtrue.planning.inputs import Job

PRACTICE = "common practice, no source"
THRESHOLD_ERROR_MPA = 0.02
"""How far a stated threshold may lie off: a gauge is read no finer; common practice, no source."""
LEAST_STABLE_MPA = 0.4
"""Least pressure a cylinder holds steadily, where the plate is silent: common practice, no source."""
GAUGE_CLASS = 0.016
"""Error of a pressure gauge, share of its full scale: accuracy class 1.6 of EN 837-1 (from memory)."""
FRICTION_SPREAD = 0.15
"""How far friction may lie from a stated value: common practice, no source."""
AREA_SPREAD = 0.01
"""How far a piston area may lie from its plate: common practice, no source."""
AREA_UNKNOWN = (0.8, 2.0)
"""Piston area over greatest draw force / greatest pressure where no plate says it: a cylinder may be much larger than
its chuck needs; common practice, no source."""
SHARP, WORN = (1.0, 1.2), (WEAR_UNKNOWN.value, WEAR_UNKNOWN.most)
"""Force on an edge that was sharp, or worn, at the start of the cut over that of a sharp one: a sharp edge wears on."""
MASS_SPREAD, CENTRE_SPREAD = 0.05, 0.05
"""How far a stated mass or centre of mass may lie off: common practice, no source."""
BLOCK_CENTRE = 0.1
"""How far the centre of mass of a top jaw may lie from that of its solid: common practice, no source."""
SOLID_SPREAD = {True: 0.1, False: 0.4}
"""Mass of a top jaw computed from its solid: all its sizes stated, or some usual ones: common practice, no source."""
MASTER_SPREAD = (0.4, 0.2)
"""Mass and centre of mass of a master jaw nobody weighed: common practice, no source."""
PART_MASS_SPREAD = {True: 0.03, False: 0.1}
"""Mass of the part: weighed, or from its drawing: common practice, no source."""
SPIN_UP_S = (1.0, 4.0)
"""Time from rest to the highest speed, worst and best, where unknown: common practice, no source."""
SPIN_UP_SPREAD = 0.2
OFF_CENTRE_MM = {"ground": 0.02, "turned": 0.05, "raw": 0.5}
"""Centre of mass off the axis, by the state of the gripped surface: common practice, no source."""
LUMP_SPREAD = 0.1
"""How far mass times radius of a stated lump may lie off: common practice, no source."""
SIZE_MM = {"ground": 0.01, "turned": 0.05, "raw": 0.5}
"""Spread of a gripped diameter nobody stated, either way: common practice, no source."""
ROUND_MM = {"ground": 0.002, "turned": 0.01, "raw": 0.2}
"""Out-of-round that a gripped surface brings where nobody stated it: common practice, no source."""
READ_WHEN = {
    "today": "of today",
    "fresh": f"not over {FRESH_DAYS:.0f} days old",
    "old": "old, or of a day nobody stated",
}
BASE_SPREAD = (1 / 3, 8.0)
"""Stiffness of what jaws stand on, over what is assumed: common practice, no source."""
BASE_READ_SPREAD = 0.2
BORED_SHARE = (0.3, 1.1)
"""Pressure at which jaws were bored over that of use, where nobody wrote it down: common practice, no source."""
BORE_MM, BORE_READ_MM = 0.05, 0.01
"""Diameter that jaws were bored to, either way: not measured, and measured: common practice, no source."""
SAME_BORE_MM = 2 * BORE_MM
"""A last cut further than this from the bore that is planned is another bore: these jaws are cut again first."""


def friction(job: Job) -> Known:
    """Friction of jaw on part."""
    setup, jaws, label = job.setup, job.setup.jaws, "friction, jaw on part"
    if jaws.friction_range is not None:
        (low, high), path = jaws.friction_range, "jaws.friction_range"
        return Known("friction", label, low, high, "ratio", setup.source(path), "", "", jaws.friction)
    if jaws.friction is not None:
        low, high = (jaws.friction * (1 + s) for s in (-FRICTION_SPREAD, FRICTION_SPREAD))
        return Known("friction", label, low, high, "ratio", setup.source("jaws.friction"),
                     f"+/- {FRICTION_SPREAD:.0%}; {PRACTICE}", "", jaws.friction)  # fmt: skip
    face, surface = jaws.face or "smooth", setup.part.surface_condition or "ground"
    datum = friction_range(job.work.group, face, surface)
    low, likely, high = datum.least, datum.value, datum.most
    if setup.part.surface_condition is None:
        high = friction_range(job.work.group, face, "turned").most
    if setup.part.oily is False:
        low = max(low, 0.8 * likely)
    if setup.part.oily is True:
        high = likely = low
    return Known(
        "friction",
        label,
        low,
        high,
        "ratio",
        ASSUMED,
        datum.source,
        "a torque wrench or a pull on a clamped part",
        likely,
    )


def piston_area(job: Job) -> Known:
    """Area of the piston in the direction that grips: what the draw force is computed with."""
    side = "pull" if job.grip_is_outside else "push"
    actuator, chuck = job.setup.chuck.actuator, job.setup.chuck
    area, label = (actuator.pull_area if side == "pull" else actuator.push_area), f"piston area, {side}"
    if area is not None:
        return Known("piston area", label, area * (1 - AREA_SPREAD), area * (1 + AREA_SPREAD), "area",
                     job.setup.source(f"chuck.actuator.{side}_area"))  # fmt: skip
    if actuator.max_pressure is None:
        raise InputError(
            f"chuck.actuator: the {side}_area is missing, and no max_pressure to reckon it from; "
            "read it off the plate of the cylinder"
        )
    area = chuck.max_draw_force / actuator.max_pressure
    low, high = (area * share for share in AREA_UNKNOWN)
    note = "from greatest draw force over greatest pressure; a larger cylinder is not ruled out"
    return Known("piston area", label, low, high, "area", ASSUMED, note, "the plate of the cylinder", area)


def grip_share(job: Job) -> Known:
    """Share of the plate's grip that arrives today, by plates, grease and the readings of a grip gauge together."""
    label, found = "grip efficiency of the chuck", job.grip_estimate
    count = len(job.setup.chuck.grip_readings or ())
    grease = job.setup.chuck.grease
    state = f"grease {grease}" if grease else "grease unknown"
    if not count:
        return Known("grip share", label, *GREASE[grease], "ratio", ASSUMED, f"{state}; {PRACTICE}",
                     "two readings of a grip gauge, or a gauge ring and a dial")  # fmt: skip
    low, likely, high = found.share
    read = "1 reading" if count == 1 else f"{count} readings"
    note = f"{read} of a grip gauge, {READ_WHEN[found.age]}; {state}"
    if found.asks:
        note += "; another reading is wanted"
    measure = (
        "the grip gauge or ring again, today" if found.age != "today" else "another reading of the grip gauge or ring"
    )
    return Known("grip share", label, low, high, "ratio", "measured" if found.measured else ASSUMED, note, measure,
                 likely)  # fmt: skip


def threshold(job: Job) -> Known:
    """Pressure lost before the jaws grip."""
    value, label = job.setup.chuck.actuator.threshold_pressure, "pressure lost before the jaws grip"
    if value is not None:
        return Known("threshold", label, value + THRESHOLD_ERROR_MPA, max(value - THRESHOLD_ERROR_MPA, 0.0), "pressure",
                     job.setup.source("chuck.actuator.threshold_pressure"), "", "", value)  # fmt: skip
    low, likely, high = job.grip_estimate.threshold
    if job.grip_estimate.measured:
        return Known("threshold", label, high, low, "pressure", "measured", "from the readings of the grip gauge", "",
                     likely)  # fmt: skip
    return Known("threshold", label, high, low, "pressure", ASSUMED, PRACTICE, "gauge at which the jaws first move")


def gauge_error(job: Job) -> Known:
    """What the pressure gauge may show wrong; worst is the pressure it shows too much."""
    actuator, label = job.setup.chuck.actuator, "error of the pressure gauge"
    if actuator.gauge_error is not None:
        error, path = actuator.gauge_error, "chuck.actuator.gauge_error"
        return Known("gauge error", label, -error, error, "pressure", job.setup.source(path))
    scale = actuator.max_pressure or job.setup.chuck.max_draw_force / job.known["piston area"].low
    error = GAUGE_CLASS * scale
    note = f"class {100 * GAUGE_CLASS:g} of EN 837-1 (from memory), full scale at the highest pressure"
    return Known("gauge error", label, -error, error, "pressure", ASSUMED, note, "a test gauge on the cylinder")


def least_pressure(job: Job) -> Known:
    """Least pressure that the cylinder holds steadily."""
    value, label = job.setup.chuck.actuator.least_pressure, "least pressure the cylinder holds steadily"
    if value is not None:
        return Known("least pressure", label, value, value, "pressure",
                     job.setup.source("chuck.actuator.least_pressure"))  # fmt: skip
    return Known("least pressure", label, LEAST_STABLE_MPA, LEAST_STABLE_MPA, "pressure", ASSUMED, PRACTICE,
                 "the plate of the cylinder")  # fmt: skip


def seat(job: Job) -> Known:
    """Is there an axial stop under the part? 1 for yes, 0 for no."""
    label = "axial seat under the part"
    if job.seat_is_said:
        there = float(bool(job.setup.grip.seat))
        return Known("seat", label, there, there, "ratio", job.setup.source("grip.seat"))
    return Known("seat", label, 0.0, 1.0, "ratio", ASSUMED, "nobody said whether there is one: taken as none",
                 "say whether the part sits on the jaws (grip: seat)", 0.0)  # fmt: skip


def wear(job: Job) -> Known:
    """Force on the edge over a sharp one, where a cut does not say the state of its edge."""
    label = "tool wear factor on cutting force"
    if all(cut.wear is not None for cut in job.setup.cuts):
        return Known("wear", label, SHARP[1], SHARP[0], "ratio", "stated", "each cut states its edge", "", 1.0)
    return Known("wear", label, WEAR_UNKNOWN.most, WEAR_UNKNOWN.least, "ratio", ASSUMED, WEAR_UNKNOWN.source,
                 "a fresh edge, or a count of parts per edge", 1.0)  # fmt: skip


def interruption(job: Job) -> Known:
    """Force of a cut whose edge leaves and re-enters the work, where nobody said whether it does."""
    label = "interrupted cut, factor on its force"
    unsaid = [cut for cut in job.setup.cuts if cut.interrupted is None and job.may_be_interrupted]
    if not unsaid:
        return Known("interruption", label, INTERRUPTED.most, INTERRUPTED.least, "ratio", "stated", INTERRUPTED.source,
                     "", INTERRUPTED.most)  # fmt: skip
    return Known("interruption", label, INTERRUPTED.most, 1.0, "ratio", ASSUMED,
                 f"not said of a raw blank or one with holes: {unsaid[0].name}", "say whether the cut is interrupted",
                 INTERRUPTED.most)  # fmt: skip


def cutting_data(job: Job) -> Known:
    """Specific cutting force: the table's value, and its scatter."""
    datum = cutting_force_range(job.work)
    return Known("cutting data", f"specific cutting force kc1.1 of {job.work.key}", datum.most, datum.least, "stress",
                 "handbook", datum.source, "spindle load of the heaviest cut", datum.value)  # fmt: skip


def jaw_moment(job: Job) -> Known:
    """Mass times radius of master and top jaw, all positions together; the top jaw is the solid that also bends."""
    setup, jaws, chuck = job.setup, job.setup.jaws, job.setup.chuck
    size = jaw_tooling.usual_size(chuck.max_grip_force)
    solid = job.jaw_solid
    notes: list[str] = []
    sources: set[Source] = set()

    def settle(
        value: float | None, path: str, guess: float, stated: float, unstated: float, what: str
    ) -> tuple[float, float, float]:
        spread = stated if value is not None else unstated
        middle = guess if value is None else value
        sources.add(ASSUMED if value is None else setup.source(path))
        if value is None:
            notes.append(f"{what} {guess:.3g} +/- {100 * spread:.0f} %")
        return middle * (1 + spread), middle, middle * (1 - spread)

    top_mass = settle(jaws.mass, "jaws.mass", solid.volume * job.jaw.density.value, MASS_SPREAD,
                      SOLID_SPREAD[job.jaw_is_sized], "top jaw mass kg")  # fmt: skip
    if jaws.mass is None:
        # A jaw that nobody weighed may have more metal than the solid: no bore yet, no relief; a wide one no nose.
        spread = SOLID_SPREAD[job.jaw_is_sized or jaws.style == "wide"]
        block = job.block_volume * job.jaw.density.value * (1 + spread)
        top_mass = (max(top_mass[0], block), *top_mass[1:])
    top_radius = settle(jaws.centroid_radius, "jaws.centroid_radius", solid.centroid_radius, CENTRE_SPREAD,
                        BLOCK_CENTRE, "top jaw centre of mass mm")  # fmt: skip
    if jaws.centroid_radius is None and (jaws.style == "wide" or job.block_length > job.jaw_kind.shape.length):
        # Such a block has its centre of mass in its middle; the nose draws that of the solid towards the bore.
        top_radius = (max(top_radius[0], job.block_middle * (1 + BLOCK_CENTRE)), *top_radius[1:])
    base_mass = settle(chuck.master_jaw_mass, "chuck.master_jaw_mass", size.master_mass, MASS_SPREAD,
                       MASTER_SPREAD[0], "master jaw mass kg")  # fmt: skip
    base_radius = settle(chuck.master_jaw_radius, "chuck.master_jaw_radius", size.master_radius, CENTRE_SPREAD,
                         MASTER_SPREAD[1], "master jaw centre of mass mm")  # fmt: skip
    worst, middle, best = (
        static_moment([SpinningMass(top_mass[i], top_radius[i], job.jaws),
                       SpinningMass(base_mass[i], base_radius[i], job.jaws)])
        for i in range(3)
    )  # fmt: skip
    source = ASSUMED if ASSUMED in sources else sorted(sources)[0]
    return Known("jaw moment", "mass times radius of all jaws", worst, best, "mass moment", source,
                 "; ".join([*notes, PRACTICE]) if notes else "",
                 "weigh one top jaw and one master jaw" if notes else "", middle)  # fmt: skip


def part_mass(job: Job) -> Known:
    """Mass of the part as it is loaded."""
    stated = job.setup.part.mass
    mass = stated if stated is not None else job.blank.volume * job.work.density.value
    spread = PART_MASS_SPREAD[stated is not None]
    source: Source = job.setup.source("part.mass") if stated is not None else "drawing"
    note = "" if stated is not None else f"volume of the section times density, +/- {spread:.0%}"
    return Known("part mass", "mass of the part", mass * (1 + spread), mass * (1 - spread), "mass", source, note)


def off_centre(job: Job) -> Known:
    """Centre of mass off the axis. A lump is stated as its mass and radius."""
    part, label, mass = job.setup.part, "centre of mass off the axis", job.known["part mass"].likely
    lump = 0.0
    if part.off_centre_mass is not None and part.off_centre_radius is not None:
        lump = part.off_centre_mass * part.off_centre_radius / mass
    if part.off_centre is not None:
        middle = part.off_centre + lump
        return Known("off centre", label, middle * (1 + LUMP_SPREAD), middle * (1 - LUMP_SPREAD), "length",
                     job.setup.source("part.off_centre"))  # fmt: skip
    # A slot or a flat to one side takes the centre of mass off the axis, however well the rest is turned.
    spread = OFF_CENTRE_MM["raw" if part.holes else part.surface_condition or "raw"]
    worst, best = spread + lump * (1 + LUMP_SPREAD), lump * (1 - LUMP_SPREAD)
    return Known("off centre", label, worst, best, "length", ASSUMED, PRACTICE, "run-out of the blank in the jaws")


def spin_up(job: Job) -> Known:
    """Time from rest to the highest speed."""
    machine, label = job.setup.machine, "time to spin up to full speed"
    if machine is not None and machine.spin_up_time is not None:
        value = machine.spin_up_time
        return Known("spin-up", label, value * (1 - SPIN_UP_SPREAD), value * (1 + SPIN_UP_SPREAD), "time",
                     job.setup.source("machine.spin_up_time"))  # fmt: skip
    return Known("spin-up", label, *SPIN_UP_S, "time", ASSUMED, PRACTICE, "a stopwatch at the machine")


def height(job: Job) -> Known:
    """Share of the draw force allowed at this grip height."""
    jaws, chuck = job.setup.jaws, job.setup.chuck
    size = jaw_tooling.usual_size(chuck.max_grip_force)
    label = "share of the draw force allowed at this grip height"
    if jaws.grip_height is not None:
        high, source, note = jaws.grip_height, job.setup.source("jaws.grip_height"), ""
    else:
        high, source = job.seat_height + sum(job.setup.grip.z) / 2, ASSUMED
        note = sentence("grip height {:.0f mm} from the height of the jaws; {}", high, PRACTICE)
    reference = chuck.reference_grip_height
    if reference is None:
        reference, source = size.height, ASSUMED
        note = "; ".join(filter(None, [note, sentence("reference grip height {:.0f mm}; {}", reference, PRACTICE)]))
    share = height_share(high, reference)
    return Known("height share", label, share, share, "ratio", source, note,
                 "grip height, chuck face to mid grip" if source == ASSUMED else "")  # fmt: skip


def jaw_base(job: Job) -> Known:
    """The tilt of the master jaw stands for the whole base; a feeler at the tip measures it."""
    tilt, label = job.jaw_kind.base.tilt, "tilt stiffness of the master jaws"
    if job.setup.jaws.base_tilt_range is not None:
        low, high = job.setup.jaws.base_tilt_range
        return Known("jaw base", label, low, high, "tilt", job.setup.source("jaws.base_tilt_range"), "", "", tilt)
    if job.setup.jaws.base_tilt is not None:
        return Known("jaw base", label, tilt / (1 + BASE_READ_SPREAD), tilt * (1 + BASE_READ_SPREAD), "tilt",
                     job.setup.source("jaws.base_tilt"), "", "", tilt)  # fmt: skip
    return Known("jaw base", label, tilt * BASE_SPREAD[0], tilt * BASE_SPREAD[1], "tilt", ASSUMED,
                 "set so that tall aluminium jaws open as shops see; a third to eight times of it is seen; " + PRACTICE,
                 "a feeler at the tip of tall jaws, clamped at two pressures", tilt)  # fmt: skip


def bored(job: Job) -> Known:
    """Pressure at which the jaws were bored, over the gauge pressure at which they are used."""
    label, pressure = "pressure at which the jaws were bored", job.setup.jaws.bored_pressure
    if pressure is not None:
        error = job.known["gauge error"].high
        return Known("bored pressure", label, pressure + error, max(pressure - error, 0.0), "pressure",
                     job.setup.source("jaws.bored_pressure"), "", "", pressure)  # fmt: skip
    low, high = BORED_SHARE
    return Known("bored share", f"{label}, over that of use", low, high, "ratio", ASSUMED, PRACTICE,
                 "write down the pressure at which the jaws are bored", 1.0)  # fmt: skip


def bore(job: Job) -> Known:
    """Diameter that the jaws were bored to: of the last cut, where that is the bore that is planned."""
    middle, stated = 2 * job.bore_radius, job.setup.jaws.bore_diameter is not None
    spread = BORE_READ_MM if stated else BORE_MM
    source: Source = job.setup.source("jaws.bore_diameter") if stated else ASSUMED
    low, high, asked = middle - spread, middle + spread, not stated
    last = job.last_cut_counts
    if last is not None and not (stated and _says_no_more(last, middle)):
        # On another tooth or chuck nobody measured the jaws: they may still be cut again, or run as they are.
        moved = _stand_otherwise(last, job)
        error = None if moved else last.diameter_error
        off = BORE_MM if error is None else error
        cut = (last.diameter - off, last.diameter + off)
        # Where the setup says another bore, either may be true: the worst of both.
        low, high = (min(low, cut[0]), max(high, cut[1])) if stated or moved else cut
        middle, asked = last.diameter, error is None
        source = ASSUMED if error is None else "measured"
    return Known("jaw bore", "diameter that the jaws were bored to", low, high, "length", source,
                 PRACTICE if asked else "", "measure the bored jaws" if asked else "", middle)  # fmt: skip


def _says_no_more(last: JawCut, stated: float) -> bool:
    """Is a last cut that nobody measured the very bore that the setup states?"""
    return last.diameter_error is None and abs(last.diameter - stated) <= BORE_READ_MM


def _stand_otherwise(last: JawCut, job: Job) -> bool:
    """Do the jaws stand on another tooth, or on another chuck, than they were cut on?"""
    jaws, number = job.setup.jaws, job.setup.chuck.number
    if last.tooth is not None and jaws.tooth is not None and last.tooth != jaws.tooth:
        return True
    return bool(last.chuck and number and last.chuck.strip().casefold() != number.strip().casefold())


def size(job: Job) -> Known:
    """Gripped diameter over the parts of a batch."""
    (low, high), middle = job.size_range, 2 * job.grip_radius
    source: Source = job.setup.source("grip.diameter_tolerance") if job.size_is_stated else ASSUMED
    return Known("part size", "diameter of the gripped surface", middle + low, middle + high, "length", source,
                 "" if job.size_is_stated else PRACTICE,
                 "" if job.size_is_stated else "the tolerance of the gripped diameter")  # fmt: skip


def roundness(job: Job) -> Known:
    """Out-of-round that the gripped surface brings, as lobes of the number of jaws."""
    stated, part = job.setup.part.roundness, job.setup.part
    label = "out-of-round of the gripped surface"
    if stated is not None:
        return Known("part roundness", label, stated, 0.0, "length", job.setup.source("part.roundness"))
    return Known("part roundness", label, ROUND_MM[part.surface_condition or "raw"], 0.0, "length", ASSUMED, PRACTICE,
                 "roundness of the gripped surface, free")  # fmt: skip


def part_strength(job: Job) -> Known:
    """Yield strength of the part."""
    datum = job.work.yield_strength
    return Known("part yield", f"yield strength of the part, {job.work.key}", datum.least, datum.most, "stress",
                 "handbook", datum.source, "a hardness test", datum.value)  # fmt: skip


def jaw_strength(job: Job) -> Known:
    """Yield strength of the jaws."""
    datum = job.jaw.yield_strength
    return Known("jaw yield", f"yield strength of the jaw, {job.jaw.key}", datum.least, datum.most, "stress",
                 "handbook", datum.source, "a hardness test", datum.value)  # fmt: skip


def strength(job: Job) -> Known:
    """Yield strength of the softer of part and jaw; its heat treatment is rarely known."""
    softer, who = min(
        ((job.known["part yield"], f"part, {job.work.key}"), (job.known["jaw yield"], f"jaw, {job.jaw.key}")),
        key=lambda pair: pair[0].worst,
    )
    return replace(softer, name="yield", label=f"yield strength of the softer ({who})")


OWN_SPREAD = 0.05
"""A range of the shop's own is at least this wide, either way of its middle: common practice, no source."""
LOWER_IS_WORSE = ("part yield", "jaw yield")


def as_stated(job: Job, known: Known) -> Known:
    """The input with the range that the setup states for it, if it does.

    Raises: ``InputError`` for a range that is better than all that is seen, or narrower than anybody can say.
    """
    stated = getattr(job.assumptions.get(known.key), "range", None)
    if stated is None:
        return known
    (low, high), key = stated, f"assumptions: {known.key}"
    # Worse than any table is a finding; better than all of them is more likely a slip.
    middle, lower = (low + high) / 2, known.name in LOWER_IS_WORSE
    if middle > known.high if lower else middle < known.low:
        seen = " to ".join(format_quantity(end, known.kind, job.setup.units) for end in (known.low, known.high))
        raise InputError(f"{key}: range: its middle is better than all that is seen, {seen}")
    if high - low < 2 * OWN_SPREAD * middle * (1 - 1e-9):
        raise InputError(f"{key}: range: no shop knows it nearer than {OWN_SPREAD:.0%} either way; state it that wide")
    worst, best = (low, high) if lower else (high, low)
    # The published rule takes what is likely: of table and finding the worse one, as far as the range goes.
    likely = (min if lower else max)(middle, min(max(known.likely, low), high))
    return replace(known, worst=worst, best=best, source="stated", note=job.assumptions[known.key].reason,
                   middle=likely)  # fmt: skip


IN_ORDER: tuple[Callable[[Job], Known], ...] = (
    friction, piston_area, grip_share, threshold, gauge_error, least_pressure, seat, wear, interruption, cutting_data,
    jaw_moment, part_mass, off_centre, spin_up, height, jaw_base, bored, bore, size, roundness, part_strength,
    jaw_strength, strength,
)  # fmt: skip
"""Every input, in the order in which they may ask each other."""

"""Where each input of a setup may really lie, as a careful engineer would draw it; own table, not the program's.

``RANGES`` says every choice with its reason; ``ranges_of`` gives the low and high end for one setup, in core units.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import asin, pi, sin
from typing import Any

from heldtrue.mechanics.materials import friction_range, jaw_material, work_material
from heldtrue.mechanics.section import Section
from heldtrue.planning.setup import Cut, Setup
from heldtrue.tooling.jaws import usual_size

Range = tuple[float, float]

RANGES: dict[str, str] = {
    "friction": "stated: 15 % either way, a pull test repeats no better; a stated range as it is; unstated: the shop "
    "table for face and surface, oily to dry, narrowed to 15 % of that end where oily or not is said",
    "grip_share": "of what the plates promise: good grease 0.85..1, poor 0.6..0.85, unknown 0.6..1",
    "reading_error": "of the grip gauge: 5 % either way",
    "threshold": "pressure lost before gripping: stated 0.2 bar either way; three readings or more 0.2 bar about their "
    "line; else 0..1 bar, and with one or two readings the line still goes through them",
    "area": "piston area against its plate: 1 % either way",
    "gauge_error": "added to what the gauge shows: stated, else 1.6 % of the cylinder's highest pressure (class 1.6)",
    "kc11": "table low to its high end, at least to 1.25 times its value: tables differ by 20 to 30 %; the shop's own",
    "mc": "table low to high",
    "wear": "sharp 1..1.2, worn 1.3..1.5, unstated 1..1.5",
    "interrupted": "said: as said; not said: either where the part is raw or has holes, else smooth",
    "interruption": "what a broken cut adds: 1.2..1.5",
    "feed_share": "of the cutting force, 90 degree edge: 0.3..0.5 (school rule and 5 : 2 : 1 over a worn edge)",
    "passive_share": "of the cutting force: 0.15..0.3, the same",
    "thrust": "of a drill over two lips alone: 1..1.5, the chisel edge",
    "pull": "of the drill's thrust, outwards at breakthrough: 0..0.5",
    "jaw_mass": "stated 2 %; unstated: of the solid block 0.75..1.1, 0.55..1.4 where its length is not given",
    "jaw_radius": "centre of mass: stated 3 %; unstated 10 % about the block's",
    "master_mass": "stated 2 %; unstated 0.6..1.4 of the usual one for that chuck",
    "master_radius": "stated 3 %; unstated 0.8..1.2 of the usual one",
    "speed_share": "of the jaws' pull that reaches the part: 0..1, by stiffnesses nobody knows",
    "mass": "of the part: stated 1 %; unstated density low to high, volume 2 % either way",
    "off_centre": "centre of mass off the axis: stated 10 %; ground 0..0.02, turned 0..0.05, raw or unknown 0..0.5 mm",
    "lump": "mass times radius of a one-sided lump: stated 5 %; unstated none",
    "unbalance_angle": "from jaw 1: anywhere",
    "weight_angle": "from the tool: anywhere (beds and turrets differ)",
    "spin_up_time": "stated 10 %; unstated 1..4 s",
    "base_tilt": "of the master jaws: base_tilt_range; stated alone 10 %; unstated a third to eight times 4e9 N mm/rad",
    "bored_share": "bored pressure over finishing pressure, unstated: 0.3..1.1",
    "bored_pressure": "stated: with the gauge's error, drawn apart from that of use",
    "bored_offset": "bored diameter from what is stated 0.01, unstated 0.05 about the middle of the part's tolerance; "
    "a last cut within 0.1 of that: as measured, else 0.05 about it, and where another bore is stated, either",
    "gripped_offset": "gripped diameter: over its tolerance; unstated ground 0.01, turned 0.05, raw 0.5 either way",
    "lobes": "out-of-round of the gripped surface, peak to valley, one lobe a jaw, either sign: stated 0..that; "
    "ground 0.002, turned 0.01, raw or unknown 0.2",
    "clamping_friction": "while clamping: over the range of friction, apart from friction while cutting",
    "part_young": "table low to high",
    "part_yield": "table low to high",
    "jaw_yield": "table low to high",
    "seat": "said: as said; not said: either",
}


def ranges_of(raw: Mapping[str, Any] | Setup) -> dict[str, Range]:
    """Low and high of every input, core units; ``wear: NAME`` and ``interrupted: NAME`` (0 or 1) for each cut."""
    setup = raw if isinstance(raw, Setup) else Setup.from_dict(raw)
    found = {
        "feed_share": (0.3, 0.5),
        "passive_share": (0.15, 0.3),
        "thrust": (1.0, 1.5),
        "pull": (0.0, 0.5),
        "interruption": (1.2, 1.5),
        "speed_share": (0.0, 1.0),
        "unbalance_angle": (0.0, 2 * pi),
        "weight_angle": (0.0, 2 * pi),
        "area": (0.99, 1.01),
    }
    found |= _friction(setup) | _grip(setup) | _cutting(setup) | _spinning(setup) | _fit(setup) | _strength(setup)
    return found


def _own(setup: Setup, key: str, usual: Range) -> Range:
    """The range that the shop states itself, else the usual one."""
    stated = getattr(setup.assumptions, key, None) if setup.assumptions else None
    return usual if stated is None or stated.range is None else (float(stated.range[0]), float(stated.range[1]))


def _about(value: float, share: float) -> Range:
    return (value * (1 - share), value * (1 + share))


def _friction(setup: Setup) -> dict[str, Range]:
    jaws, part = setup.jaws, setup.part
    stated = getattr(jaws, "friction_range", None)
    if stated is not None:
        mu: Range = (float(min(stated)), float(max(stated)))
    elif jaws.friction is not None:
        mu = _about(jaws.friction, 0.15)
    else:
        group, face = work_material(part.material).group, jaws.face or "smooth"
        surfaces = [part.surface_condition] if part.surface_condition else ["ground", "turned", "raw"]
        table = [friction_range(group, face, surface) for surface in surfaces]
        low, high = min(t.least for t in table), max(t.most for t in table)
        if part.oily is False:
            low = max(low, min(0.85 * t.most for t in table))
        if part.oily is True:
            high = min(high, max(1.15 * t.least for t in table))
        mu = (low, high)
    return {"friction": mu, "clamping_friction": mu}


def _grip(setup: Setup) -> dict[str, Range]:
    chuck, actuator = setup.chuck, setup.chuck.actuator
    grease = {"good": (0.85, 1.0), "poor": (0.6, 0.85), None: (0.6, 1.0)}[chuck.grease]
    readings = chuck.grip_readings or ()
    lost = actuator.threshold_pressure
    if readings and not is_today(setup):
        # A chuck that gave less than a good one once gives that much less than its grease promises today.
        weak = min(1.0, min(1.05 * one.force / (promised(setup) * one.pressure) for one in readings) / 0.85)
        grease = (grease[0] * weak, grease[1])
    threshold = (0.0, 0.1) if lost is None else (max(lost - 0.02, 0.0), lost + 0.02)
    stated = getattr(actuator, "gauge_error", None)
    error = stated if stated is not None else 0.016 * (chuck.plate_pressure or 3.0)
    return {
        "grip_share": grease,
        "reading_error": (-0.05, 0.05) if is_today(setup) else (0.0, 0.0),
        "threshold": threshold,
        "gauge_error": (-error, error),
    }


def is_today(setup: Setup) -> bool:
    """Was the grip read today, more than once?"""
    days = [one.days for one in setup.chuck.grip_readings or ()]
    return len(days) > 1 and all(one is not None and one <= 1 for one in days)


def promised(setup: Setup) -> float:
    """Grip per pressure by the plates. [N/MPa]"""
    actuator = setup.chuck.actuator
    area = actuator.pull_area if setup.grip.side == "outside" else actuator.push_area
    if area is None:
        area = setup.chuck.max_draw_force / (setup.chuck.plate_pressure or 3.0)
    return setup.chuck.max_grip_force / setup.chuck.max_draw_force * float(area)


def _said(cut: Cut) -> bool | None:
    value = cut.interrupted
    return value if "interrupted" in cut.model_fields_set else None


def _cutting(setup: Setup) -> dict[str, Range]:
    work, part = work_material(setup.part.material), setup.part
    found = {
        "kc11": _own(setup, "cutting_data", (work.kc11.least, max(work.kc11.most, 1.25 * work.kc11.value))),
        "mc": (work.mc.least, work.mc.most),
    }
    rough = part.surface_condition in ("raw", None) or bool(getattr(part, "holes", None))
    for cut in setup.cuts:
        said = _said(cut)
        either = (0.0, 1.0) if rough and getattr(part, "holes", None) is not False else (0.0, 0.0)
        found[f"wear: {cut.name}"] = {"worn": (1.3, 1.5), "sharp": (1.0, 1.2), None: (1.0, 1.5)}[cut.wear]
        found[f"interrupted: {cut.name}"] = either if said is None else (float(said), float(said))
    return found


def _spinning(setup: Setup) -> dict[str, Range]:
    part, jaws, chuck = setup.part, setup.jaws, setup.chuck
    work, usual = work_material(part.material), usual_size(chuck.max_grip_force)
    volume = Section.of([(c.diameter / 2, c.z) for c in part.blank or part.profile]).volume
    drawn = (0.98 * volume * work.density.least, 1.02 * volume * work.density.most)
    mass, radius = block(setup)
    condition = part.surface_condition
    off = 0.5 if part.holes else {"ground": 0.02, "turned": 0.05}.get(condition or "raw", 0.5)
    off_stated, lump, arm = (getattr(part, f"off_centre{k}", None) for k in ("", "_mass", "_radius"))
    # A person who measured one of them has looked.
    moment = (lump or 0.0) * (arm or 0.0)
    time = setup.machine.spin_up_time if setup.machine else None
    return {
        "jaw_mass": _about(jaws.mass, 0.02)
        if jaws.mass
        else _shares(mass, *((0.75, 1.1) if jaws.length else (0.55, 1.4))),
        "jaw_radius": _about(jaws.centroid_radius, 0.03) if jaws.centroid_radius else _about(radius, 0.1),
        "master_mass": _about(chuck.master_jaw_mass, 0.02) if chuck.master_jaw_mass else _about(usual.master_mass, 0.4),
        "master_radius": _about(chuck.master_jaw_radius, 0.03)
        if chuck.master_jaw_radius
        else _about(usual.master_radius, 0.2),
        "mass": _about(part.mass, 0.01) if part.mass else drawn,
        "off_centre": (0.0, off) if off_stated is None else _about(off_stated, 0.1),
        "lump": _about(moment, 0.05),
        "spin_up_time": _about(time, 0.1) if time else (1.0, 4.0),
    }


def _shares(value: float, low: float, high: float) -> Range:
    return (value * low, value * high)


def _fit(setup: Setup) -> dict[str, Range]:
    grip, jaws, condition = setup.grip, setup.jaws, setup.part.surface_condition
    low, high = grip.diameter_tolerance
    if "diameter_tolerance" in grip.model_fields_set:
        gripped: Range = (low, high)
    else:
        spread = {"ground": 0.01, "turned": 0.05}.get(condition or "raw", 0.5)
        gripped = (-spread, spread)
    bored = grip.diameter + (low + high) / 2 if jaws.bore_diameter is None else jaws.bore_diameter
    spread = 0.05 if jaws.bore_diameter is None else 0.01
    holes = [(bored - spread, bored + spread)]
    last = jaws.last_cut
    same = last is not None and last.diameter_error is None and abs(last.diameter - bored) <= 0.01
    if last is not None and abs(last.diameter - bored) <= 0.1 and not (same and jaws.bore_diameter is not None):
        read = 0.05 if last.diameter_error is None else last.diameter_error
        cut = (last.diameter - read, last.diameter + read)
        holes = [cut] if jaws.bore_diameter is None else [*holes, cut]
    gauge = _grip(setup)["gauge_error"]
    out = getattr(setup.part, "roundness", None)
    lobes = out if out is not None else {"ground": 0.002, "turned": 0.01}.get(condition or "raw", 0.2)
    found = {
        "gripped_offset": gripped,
        "bored_offset": (min(h[0] for h in holes) - grip.diameter, max(h[1] for h in holes) - grip.diameter),
        "lobes": (-lobes, lobes),
        "base_tilt": getattr(jaws, "base_tilt_range", None)
        or (_about(jaws.base_tilt, 0.1) if jaws.base_tilt else (4e9 / 3, 32e9)),
    }
    if jaws.bored_pressure is None:
        return found | {"bored_share": _own(setup, "bored_share", (0.3, 1.1))}
    return found | {"bored_pressure": (jaws.bored_pressure + gauge[0], jaws.bored_pressure + gauge[1])}


def _strength(setup: Setup) -> dict[str, Range]:
    work, jaw = work_material(setup.part.material), jaw_material(setup.jaws.material)
    seat = setup.grip.seat if "seat" in setup.grip.model_fields_set else None
    return {
        "part_young": (work.young.least, work.young.most),
        "part_yield": _own(setup, "part_yield", (work.yield_strength.least, work.yield_strength.most)),
        "jaw_yield": _own(setup, "jaw_yield", (jaw.yield_strength.least, jaw.yield_strength.most)),
        "seat": (0.0, 1.0) if seat is None else (float(seat), float(seat)),
    }


def jaw_size(setup: Setup) -> tuple[float, float, float]:
    """Width, radial length and height of a top jaw: as stated, else usual for that chuck (a shared table). [mm]"""
    jaws, usual = setup.jaws, usual_size(setup.chuck.max_grip_force)
    width = jaws.width or usual.width * (2 if jaws.style == "wide" else 1)
    length = usual.length if jaws.ends is None else max(usual.length, jaws.ends[1] - jaws.ends[0])
    return width, jaws.length or length, jaws.height or usual.height


def half_angle(setup: Setup) -> float:
    """Half the angle one jaw bears on: its width on the gripped diameter, as far as neighbours leave it. [rad]"""
    radius, count = setup.grip.diameter / 2, setup.jaws.count or setup.chuck.jaws
    widest = pi / count - (setup.jaws.gap or 3.0) / (2 * radius)
    if setup.jaws.style == "pie":
        return widest
    return min(asin(min(jaw_size(setup)[0] / (2 * radius), 1.0)), widest)


def block(setup: Setup) -> tuple[float, float]:
    """Mass [kg] and centre radius [mm] of a top jaw as a solid block, or ring segment for a pie jaw."""
    width, length, height = jaw_size(setup)
    radius, count = setup.grip.diameter / 2, setup.jaws.count or setup.chuck.jaws
    inner, outer = (radius, radius + length) if setup.grip.side == "outside" else (max(radius - length, 0.0), radius)
    density = jaw_material(setup.jaws.material).density.value
    if setup.jaws.style != "pie":
        return width * (outer - inner) * height * density, (inner + outer) / 2
    half = pi / count
    area = half * (outer**2 - inner**2)
    return area * height * density, 2 * sin(half) * (outer**3 - inner**3) / (3 * area)

"""The measurements a shop can make: what each would put in the setup, how long it takes, and what it may find.

Times and errors are common practice, no source, where nothing else stands beside them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from heldtrue.planning.inputs import Job
from heldtrue.planning.known import ASSUMED, Known
from heldtrue.planning.odds.assumptions import keys_of
from heldtrue.planning.ranges import BORE_READ_MM, OWN_SPREAD

Changes = Mapping[str, Any]

READING_SHARES = (0.45, 0.85)
"""Pressures of two readings of a grip gauge, over the highest pressure of the plates."""
TEST_GAUGE = 0.375
"""Error left of a pressure gauge read against a test gauge, over its class: 0.6 for 1.6 (EN 837-1, from memory)."""
LOAD_SPREAD, HARDNESS_SPREAD = 0.1, 0.1
"""How far cutting force may lie from a spindle load, and strength from a hardness test."""
SIZE_LEFT = 0.25
"""Spread of the gripped diameter over five measured parts, over that of the whole range, either way."""


@dataclass(frozen=True)
class Ask:
    """One measurement or question.

    ``what``: in words; ``minutes``: at the machine; ``found``: what it puts in the setup where the input is at a value;
    ``values``: what it may find, where that is not the input's spread.
    """

    what: str
    minutes: float
    found: Callable[[Job, float], Changes]
    values: tuple[float, ...] | None = None


def asks_of(job: Job) -> dict[str, Ask]:
    """What could be asked or measured of a job that nobody has yet, by name of the input."""
    return {name: ask for name, ask in _every(job).items() if _is_open(job.known[name], name, job)}


def _is_open(known: Known, name: str, job: Job) -> bool:
    if name in ("cutting data", "part yield", "jaw yield"):
        return known.source == "handbook" and known.is_open
    if name == "grip share":
        return known.is_open and not (job.grip_estimate.measured and job.grip_estimate.age == "today")
    if name == "wear":
        return any(cut.wear is None for cut in job.setup.cuts)
    if name == "interruption":
        return any(cut.interrupted is None for cut in job.setup.cuts) and job.may_be_interrupted
    return known.source == ASSUMED and known.is_open


def _every(job: Job) -> dict[str, Ask]:
    (area,) = keys_of("piston area", job)
    found = {
        "friction": Ask("pull test or torque wrench on one clamped part", 15,
                        lambda _, x: {"jaws.friction": x}),
        "piston area": Ask("read the plate of the cylinder", 5, lambda _, x: {area: x}),
        "grip share": Ask("grip gauge or gauge ring at two pressures", 20, _readings),
        "threshold": Ask("gauge pressure at which the jaws first move", 5,
                         lambda _, x: {"chuck.actuator.threshold_pressure": x}),
        "gauge error": Ask("test gauge on the cylinder", 20,
                           lambda job, _: {"chuck.actuator.gauge_error": TEST_GAUGE * job.known["gauge error"].high},
                           (0.0,)),
        "seat": Ask("look: does the part sit on the jaws?", 1,
                    lambda _, x: {"grip.seat": x > 0}, (0.0, 1.0)),
        "wear": Ask("fresh edges, and changed before they wear", 5, _fresh, (0.0,)),
        "interruption": Ask("look: does an edge leave the work in a turn?", 1, _broken,
                            (0.0, 1.0)),
        "cutting data": Ask("spindle load of the heaviest cut", 10,
                            lambda job, x: _assumed(job, "cutting data", x, LOAD_SPREAD, "spindle load")),
        "jaw moment": Ask("weigh one top jaw and one master jaw, balance them on an edge", 15,
                          _weighed),
        "part mass": Ask("weigh one blank", 3, lambda _, x: {"part.mass": x}),
        "off centre": Ask("dial on the blank in the jaws", 5,
                          lambda _, x: {"part.off_centre": x}),
        "spin-up": Ask("stopwatch from rest to full speed", 3,
                       lambda _, x: {"machine.spin_up_time": x}),
        "jaw base": Ask("feeler at the tip, clamped at two pressures", 15,
                        lambda _, x: {"jaws.base_tilt": x}),
        "jaw bore": Ask("measure the bored jaws", 10, _bore_read),
        "part size": Ask("measure the gripped diameter of five parts", 10, _sizes),
        "part roundness": Ask("roundness of the gripped surface, free", 10,
                              lambda _, x: {"part.roundness": max(x, 1e-4)}),
        "part yield": Ask("hardness test of one blank", 10,
                          lambda job, x: _assumed(job, "part yield", x, HARDNESS_SPREAD, "hardness test")),
        "jaw yield": Ask("hardness test of one jaw", 10,
                         lambda job, x: _assumed(job, "jaw yield", x, HARDNESS_SPREAD, "hardness test")),
    }  # fmt: skip
    return {name: ask for name, ask in found.items() if name in job.known}


def _assumed(job: Job, name: str, value: float, spread: float, reason: str) -> Changes:
    """A range about a value that was found, no wider than what tables say already."""
    known = job.known[name]
    # Clipped to what tables say, but no nearer than any shop knows it.
    low, high = max(value * (1 - spread), known.low), min(value * (1 + spread), known.high)
    middle = (low + high) / 2
    ends = [min(low, middle * (1 - OWN_SPREAD)), max(high, middle * (1 + OWN_SPREAD))]
    return {f"assumptions.{known.key}": {"range": ends, "reason": reason}}


def _readings(job: Job, share: float) -> Changes:
    """Two readings of today that agree, on the line of that share."""
    chuck = job.setup.chuck
    top = chuck.plate_pressure or chuck.max_draw_force / job.known["piston area"].likely
    values = {name: known.likely for name, known in job.known.items()}
    values |= {"grip share": share, "gauge error": 0.0}
    at = [round(part * top, 3) for part in READING_SHARES]
    new = [{"pressure": p, "force": job.static_grip(values, p), "days": 0} for p in at]
    return {"chuck.grip_readings": new}


def _bore_read(job: Job, diameter: float) -> Changes:
    """The bore as it is: of the last cut where the set has one for this job, else what the setup says it is."""
    if job.last_cut_counts is None:
        return {"jaws.bore_diameter": diameter}
    return {"jaws.last_cut.diameter": diameter, "jaws.last_cut.diameter_error": BORE_READ_MM}


def _fresh(job: Job, _: float) -> Changes:
    return {f"cuts.{n}.wear": "sharp" for n, cut in enumerate(job.setup.cuts) if cut.wear is None}


def _broken(job: Job, yes: float) -> Changes:
    return {f"cuts.{n}.interrupted": yes > 0 for n, cut in enumerate(job.setup.cuts) if cut.interrupted is None}


def _weighed(job: Job, moment: float) -> Changes:
    """Masses and centres that nobody stated, at their likely values times what gives the moment."""
    from heldtrue.tooling.jaws import usual_size

    times = moment / job.known["jaw moment"].likely
    jaws, chuck, solid = job.setup.jaws, job.setup.chuck, job.jaw_solid
    usual = usual_size(chuck.max_grip_force)
    changes: dict[str, float] = {}
    if jaws.mass is None:
        changes["jaws.mass"] = solid.volume * job.jaw.density.value * times
    if jaws.centroid_radius is None:
        changes["jaws.centroid_radius"] = solid.centroid_radius
    if chuck.master_jaw_mass is None:
        changes["chuck.master_jaw_mass"] = usual.master_mass * times
    if chuck.master_jaw_radius is None:
        changes["chuck.master_jaw_radius"] = usual.master_radius
    return changes


def _sizes(job: Job, diameter: float) -> Changes:
    low, high = job.size_range
    half = SIZE_LEFT * (high - low)
    middle = min(max(diameter - 2 * job.grip_radius, low + half), high - half)
    return {"grip.diameter_tolerance": [middle - half, middle + half]}

"""The loads a plan must hold: every cut at both its ends, and the part turning free."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil, hypot, inf, pi

from heldtrue.errors import InputError
from heldtrue.mechanics import operations, spin
from heldtrue.mechanics.cutting import INTERRUPTED, WEAR_UNKNOWN, CutConditions, CutLoad
from heldtrue.mechanics.holding import Wrench
from heldtrue.planning.inputs import Job
from heldtrue.planning.setup import Cut, Surface

GRAVITY = 9.80665
SPIN_UP = "spin-up"

Values = Mapping[str, float]


@dataclass(frozen=True)
class Load:
    """One load at the speed at which it acts: ``name`` of the cut, ``case`` within it, and the wrench on the part."""

    name: str
    case: str
    finishing: bool
    speed_rpm: float
    wrench: Wrench
    tangential: float
    torque: float
    axial: float
    radius: float
    reach: float


def plate_speed(job: Job) -> float:
    """The highest spindle speed on the plates of chuck and machine. [rev/min]"""
    machine = job.setup.machine
    plates = [job.setup.chuck.max_speed_rpm]
    if machine is not None and machine.max_speed_rpm is not None:
        plates.append(machine.max_speed_rpm)
    return min(plates)


def job_speed(job: Job) -> float:
    """The spindle limit this job is planned with. [rev/min]

    Stated, or just enough that every cut can start at its own speed; a cut that runs on to a smaller diameter at
    constant surface speed is held at this limit.  Never above the plates.
    """
    run = job.setup.run
    if run is not None and run.speed_rpm is not None:
        return run.speed_rpm
    needed = max((_speed_on(cut, _diameters(job, cut)[1]) for cut in job.setup.cuts), default=0.0)
    return min(ceil(needed / 10 - 1e-9) * 10.0, plate_speed(job))


def cut_speed(job: Job, cut: Cut) -> float:
    """Highest spindle speed during a cut, on its smallest diameter or at the spindle limit. [rev/min]"""
    return min(asked_speed(job, cut), job_speed(job))


def asked_speed(job: Job, cut: Cut) -> float:
    """Speed a cut would reach on its smallest diameter with no spindle limit; infinite on the axis. [rev/min]"""
    return _speed_on(cut, _diameters(job, cut)[0])


def _speed_on(cut: Cut, diameter: float) -> float:
    """Speed a cut asks for on a diameter. [rev/min]"""
    if cut.speed_rpm is not None:
        return cut.speed_rpm
    if cut.surface_speed is None:
        raise InputError(f"cut '{cut.name}': give its speed (surface speed) or spindle_speed")
    return 1000 * cut.surface_speed / (pi * diameter) if diameter > 0 else inf


def loads(job: Job, values: Values) -> list[Load]:
    """All loads with the inputs at ``values``."""
    found = [load for cut in job.setup.cuts for load in cut_loads(job, cut, values)]
    return [*found, spin_up(job, values)]


def cut_loads(job: Job, cut: Cut, values: Values) -> list[Load]:
    """Every case of one cut, at both ends of its travel, with the part's weight and unbalance in its direction."""
    speed = cut_speed(job, cut)
    found = []
    for case in cutting_force(job, cut, values).cases:
        for z in sorted(set(case.z)):
            force = (case.radial, -case.tangential, case.axial)
            wrench = Wrench.at((case.radius, 0.0, z), force) + Wrench((0.0, 0.0, 0.0), (0.0, 0.0, -case.couple))
            wrench += _body_force(job, values, speed, force)
            found.append(
                Load(cut.name, f"{case.name}, z = {z:g}", cut.finishing, speed, wrench, case.tangential,
                     case.torque, case.axial, case.radius, z)
            )  # fmt: skip
    return found


def spin_up(job: Job, values: Values) -> Load:
    """The part brought to full speed with nothing cutting: its inertia, weight and unbalance."""
    speed = job_speed(job)
    density = values["part mass"] / job.blank.volume
    torque = spin.spin_up_torque(job.blank.polar_inertia(density), spin.angular_speed(speed) / values["spin-up"])
    wrench = Wrench((0.0, 0.0, 0.0), (0.0, 0.0, -torque)) + _body_force(job, values, speed, (0.0, 0.0, 0.0))
    return Load(SPIN_UP, "to full speed", False, speed, wrench, 0.0, torque, 0.0, 0.0, job.blank.centroid_z)


def _body_force(job: Job, values: Values, speed: float, cut: tuple[float, float, float]) -> Wrench:
    """Weight and unbalance at the centre of mass, both the way the cut already pushes: the safe side."""
    mass = values["part mass"]
    size = mass * GRAVITY + spin.unbalance_force(mass, values["off centre"], speed)
    length = hypot(cut[0], cut[1])
    x, y = (cut[0] / length, cut[1] / length) if length > 0 else (1.0, 0.0)
    return Wrench.at((0.0, 0.0, job.blank.centroid_z), (size * x, size * y, 0.0))


def cutting_force(job: Job, cut: Cut, values: Values) -> CutLoad:
    """Forces of one cut from its kind and numbers.

    Raises: ``InputError`` naming the cut and what it lacks.
    """
    if cut.wear == "sharp":
        wear = 1.0
    elif cut.wear == "worn":
        wear = WEAR_UNKNOWN.value
    else:
        wear = values["wear"]
    conditions = CutConditions(
        rake_deg=None if cut.rake is None else cut.rake * 180 / pi,
        wear=wear,
        interrupted=INTERRUPTED.value if cut.interrupted else 1.0,
    )
    kc11, mc = values["cutting data"], job.work.mc.value
    lead = 95.0 if cut.lead_angle is None else cut.lead_angle * 180 / pi
    towards_chuck = cut.towards == "chuck"
    surface = _surface(job, cut)
    side = surface.side if surface else "outside"
    low, high = _travel(job, cut)
    diameter = _largest_diameter(job, cut)

    if cut.kind in ("turn", "bore"):
        make = operations.turn if cut.kind == "turn" else operations.bore
        return make(kc11, mc, diameter=diameter, depth=_need(cut, "depth"), feed=_need(cut, "feed"), z=(low, high),
                    lead_angle_deg=lead, toward_chuck=towards_chuck, conditions=conditions)  # fmt: skip
    if cut.kind == "face":
        return operations.face(kc11, mc, diameter=diameter, depth=_need(cut, "depth"), feed=_need(cut, "feed"), z=high,
                               lead_angle_deg=lead, conditions=conditions)  # fmt: skip
    if cut.kind == "groove":
        return operations.groove(kc11, mc, diameter=diameter, width=_need(cut, "width"), feed=_need(cut, "feed"),
                                 z=high, side=side, conditions=conditions)  # fmt: skip
    if cut.kind == "part_off":
        return operations.part_off(kc11, mc, diameter=diameter, width=_need(cut, "width"), feed=_need(cut, "feed"),
                                   z=high, conditions=conditions)  # fmt: skip
    if cut.kind == "drill":
        return operations.drill(kc11, mc, diameter=_need(cut, "diameter"), feed=_need(cut, "feed"), z=(low, high),
                                conditions=conditions)  # fmt: skip
    if cut.kind == "thread":
        return operations.thread(kc11, mc, diameter=diameter, pitch=_need(cut, "pitch"), z=(low, high),
                                 depth=cut.depth, side="inside" if side == "inside" else "outside",
                                 toward_chuck=towards_chuck, conditions=conditions)  # fmt: skip
    return operations.tap(kc11, mc, diameter=_need(cut, "diameter"), pitch=_need(cut, "pitch"), z=(low, high),
                          conditions=conditions)  # fmt: skip


def _need(cut: Cut, key: str) -> float:
    value = getattr(cut, key)
    if value is None:
        raise InputError(f"cut '{cut.name}': {key} is missing; a {cut.kind.replace('_', ' ')} cut needs it")
    return float(value)


def _surface(job: Job, cut: Cut) -> Surface | None:
    return next((s for s in job.setup.surfaces if s.name == cut.surface), None)


def _diameters(job: Job, cut: Cut) -> tuple[float, float]:
    """Smallest and largest diameter the finished cut stands at. [mm]"""
    if cut.diameter is not None:
        inner = 0.0 if cut.kind in ("face", "part_off") else cut.diameter
        return inner, cut.diameter
    surface = _surface(job, cut)
    if surface is not None and surface.diameters is not None:
        return surface.diameters
    if surface is not None and surface.diameter is not None:
        return surface.diameter, surface.diameter
    raise InputError(f"cut '{cut.name}': give its diameter, or the surface it makes")


def _largest_diameter(job: Job, cut: Cut) -> float:
    """Diameter at which the tool's force acts: an outside cut still has its depth to take off. [mm]"""
    largest = _diameters(job, cut)[1]
    return largest + 2 * (cut.depth or 0.0) if cut.kind == "turn" else largest


def _travel(job: Job, cut: Cut) -> tuple[float, float]:
    if cut.z is not None:
        return min(cut.z), max(cut.z)
    surface = _surface(job, cut)
    if surface is not None:
        return min(surface.z), max(surface.z)
    if cut.kind in ("drill", "tap"):
        return job.section.lowest, job.section.highest
    raise InputError(f"cut '{cut.name}': give its z, or the surface it makes")

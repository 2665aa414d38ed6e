"""The loads a plan must hold: every cut at both ends and at every diameter that counts, and the part turning free."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil, hypot, inf, pi

from heldtrue.errors import InputError
from heldtrue.mechanics import operations, spin
from heldtrue.mechanics.cutting import CutConditions, CutLoad, LoadCase
from heldtrue.mechanics.holding import Wrench
from heldtrue.planning import ranges
from heldtrue.planning.inputs import Job
from heldtrue.planning.setup import Cut
from heldtrue.planning.stages import Stage, diameters, surface_of

GRAVITY = 9.80665
SPIN_UP = "spin-up"

Values = Mapping[str, float]


@dataclass(frozen=True)
class Load:
    """One load at the speed at which it acts: ``name`` of the cut, ``case`` within it, and the wrench on the part.

    ``radius`` and ``reach``: where the tool stands, from the axis and from the seat [mm]; ``number`` among the cases of
    its cut.
    """

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
    number: int = 0


def plate_speed(job: Job) -> float:
    """The highest spindle speed on the plates of chuck and machine. [rev/min]"""
    machine = job.setup.machine
    plates = [job.setup.chuck.max_speed_rpm]
    if machine is not None and machine.max_speed_rpm is not None:
        plates.append(machine.max_speed_rpm)
    return min(plates)


def drive_speed(job: Job) -> float:
    """The highest speed that the spin-up time is stated for: the machine's, else the chuck's. [rev/min]"""
    machine = job.setup.machine
    return machine.max_speed_rpm if machine is not None and machine.max_speed_rpm else job.setup.chuck.max_speed_rpm


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


def cut_speed(job: Job, cut: Cut, limit: float | None = None) -> float:
    """Highest spindle speed during a cut, on its smallest diameter or at the spindle limit. [rev/min]"""
    return min(_speed_on(cut, _diameters(job, cut)[0]), job_speed(job) if limit is None else limit)


def _diameters(job: Job, cut: Cut) -> tuple[float, float]:
    return diameters(cut, surface_of(job.setup, cut))


def _speed_on(cut: Cut, diameter: float) -> float:
    """Speed a cut asks for on a diameter, with no spindle limit; infinite on the axis. [rev/min]"""
    if cut.speed_rpm is not None:
        return cut.speed_rpm
    if cut.surface_speed is None:
        raise InputError(f"cut '{cut.name}': give its speed (surface speed) or spindle_speed")
    return 1000 * cut.surface_speed / (pi * diameter) if diameter > 0 else inf


def loads(job: Job, values: Values, limit: float) -> list[Load]:
    """All loads with the inputs at ``values`` and the spindle limit [rev/min]."""
    found = [load for stage in job.stages for load in cut_loads(job, stage, values, limit)]
    return [*found, spin_up(job, values, limit)]


def loads_of(job: Job, name: str, values: Values, limit: float, only: int | None = None) -> list[Load]:
    """The loads of one cut, or of the spin-up, by name; ``only``: one case of it, by number."""
    if name == SPIN_UP:
        return [spin_up(job, values, limit)]
    stage = next(stage for stage in job.stages if stage.cut.name == name)
    return cut_loads(job, stage, values, limit, only)


def cut_loads(job: Job, stage: Stage, values: Values, limit: float, only: int | None = None) -> list[Load]:
    """Every case of one cut (or one alone), with the part's weight and unbalance in its direction."""
    points = [(diameter, speed, case, z) for diameter, speed in _working_points(stage, limit)
              for case in cutting_force(job, stage, values, diameter).cases for z in sorted(set(case.z))]  # fmt: skip
    return [_load(job, stage.cut, values, number, *point) for number, point in enumerate(points)
            if only is None or number == only]  # fmt: skip


def _load(
    job: Job, cut: Cut, values: Values, number: int, diameter: float, speed: float, case: LoadCase, z: float
) -> Load:
    name = f"{case.name}, Ø{diameter:g}, z = {z:g}" if case.radius > 0 else f"{case.name}, z = {z:g}"
    force = (case.radial, -case.tangential, case.axial)
    wrench = Wrench.at((case.radius, 0.0, z), force) + Wrench((0.0, 0.0, 0.0), (0.0, 0.0, -case.couple))
    wrench += _body_force(job, values, speed, force)
    return Load(cut.name, name, cut.finishing, speed, wrench, case.tangential, case.torque, case.axial, case.radius, z,
                number)  # fmt: skip


def _working_points(stage: Stage, limit: float) -> Iterator[tuple[float, float]]:
    """Diameters and speeds at which a cut can be worst.

    The grip needed is convex in the radius (a limit theorem) and what speed takes falls with its square, up to the
    spindle limit: so the worst stands at the largest diameter, where the limit sets in, or at the smallest.
    """
    cut = stage.cut
    if cut.kind in ("drill", "tap"):
        yield stage.largest, min(_speed_on(cut, stage.largest), limit)
        return
    yield stage.largest, min(_speed_on(cut, stage.largest), limit)
    if stage.smallest < stage.largest:
        if cut.surface_speed is not None and cut.speed_rpm is None and limit > 0:
            sets_in = 1000 * cut.surface_speed / (pi * limit)
            if stage.smallest < sets_in < stage.largest:
                yield sets_in, limit
        if stage.smallest > 0:
            yield stage.smallest, min(_speed_on(cut, stage.smallest), limit)


def spin_up(job: Job, values: Values, limit: float) -> Load:
    """The part brought to full speed with nothing cutting: its inertia, weight and unbalance."""
    density = values["part mass"] / job.blank.volume
    # The drive accelerates as hard towards a low limit as towards its highest speed.
    acceleration = spin.angular_speed(drive_speed(job)) / values["spin-up"]
    torque = spin.spin_up_torque(job.blank.polar_inertia(density), acceleration)
    wrench = Wrench((0.0, 0.0, 0.0), (0.0, 0.0, -torque)) + _body_force(job, values, limit, (0.0, 0.0, 0.0))
    return Load(SPIN_UP, "to full speed", False, limit, wrench, 0.0, torque, 0.0, 0.0, job.blank.centroid_z)


def _body_force(job: Job, values: Values, speed: float, cut: tuple[float, float, float]) -> Wrench:
    """Weight and unbalance at the centre of mass, both the way the cut already pushes: the safe side."""
    mass = values["part mass"]
    size = mass * GRAVITY + spin.unbalance_force(mass, values["off centre"], speed)
    length = hypot(cut[0], cut[1])
    x, y = (cut[0] / length, cut[1] / length) if length > 0 else (1.0, 0.0)
    return Wrench.at((0.0, 0.0, job.blank.centroid_z), (size * x, size * y, 0.0))


def wear_factor(cut: Cut, values: Values, job: Job) -> float:
    """Force on the edge of a cut over that of a sharp one, with its state at the end that ``values`` stand for."""
    if cut.wear is None:
        return values["wear"]
    low, high = ranges.SHARP if cut.wear == "sharp" else ranges.WORN
    known = job.known["wear"]
    at = (values["wear"] - known.low) / (known.high - known.low) if known.is_open else 0.0
    return low + at * (high - low)


def is_interrupted(job: Job, cut: Cut) -> bool | None:
    """Does the edge leave the work every turn? None where nobody said so of a raw blank or one with holes."""
    return cut.interrupted if cut.interrupted is not None or job.may_be_interrupted else False


def cutting_force(job: Job, stage: Stage, values: Values, diameter: float) -> CutLoad:
    """Forces of one cut on one diameter [mm] from its kind and numbers.

    Raises: ``InputError`` naming the cut and what it lacks.
    """
    cut = stage.cut
    interrupted = is_interrupted(job, cut)
    conditions = CutConditions(
        rake_deg=None if cut.rake is None else cut.rake * 180 / pi,
        wear=wear_factor(cut, values, job),
        interrupted=1.0 if interrupted is False else values["interruption"],
    )
    kc11, mc = values["cutting data"], job.work.mc.value
    lead = 95.0 if cut.lead_angle is None else cut.lead_angle * 180 / pi
    towards_chuck = cut.towards == "chuck"
    surface = surface_of(job.setup, cut)
    side = surface.side if surface else "outside"
    low, high = stage.z

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
        # Without a seat the jaws alone take the thrust, that of the chisel edge included.
        chisel = operations.CHISEL_FACTOR.least if values["seat"] else operations.CHISEL_FACTOR.most
        return operations.drill(kc11, mc, diameter=_need(cut, "diameter"), feed=_need(cut, "feed"), z=(low, high),
                                chisel_factor=chisel, through=stage.through, conditions=conditions)  # fmt: skip
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

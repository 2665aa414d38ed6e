"""Gauge rings and friction trials beside the records: rings for a chuck's card, and rows made of readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from threading import Lock

from heldtrue.errors import InputError
from heldtrue.inspection.friction_reading import FrictionFound, Slips, Way, read_friction
from heldtrue.inspection.ring_design import Asked
from heldtrue.inspection.ring_file import GaugeRing
from heldtrue.inspection.ring_reading import RingAnswer, RingReadings
from heldtrue.planning.entries import Chuck
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.records import ChuckRecord, FrictionReading, GaugeReading, Store
from heldtrue.shop.chuck_card import chuck_on_card
from heldtrue.shop.friction_log import Pairing, pairing
from heldtrue.tooling.chuck import grip_per_pressure

Ends = tuple[float, float, float]

WIDE_SHARE = 0.6
"""Gripped diameter of a ring over the chuck's body where nobody asked for another: in the middle of the jaws' reach."""
TRIAL_STEPS, TRIAL_SURE = 20, 2.2
"""Pressures looked at for a trial; greatest grip over the least at which it is worth the work."""
COARSEST = 0.6
"""Error of a reading over which it says nothing, relative, 95 %: a setup takes none that is larger."""
LEAST_GRIP_SHARE = 0.05
"""Less grip than this share of the plate's is none to try friction with."""

CAUTIONS = (
    "Spindle locked and drive off. Never read a ring or try friction at speed.",
    "Hands clear while the chuck moves. Door and interlock rules stay in force.",
    "The ring's largest pressure is engraved on it; set the gauge below it before you clamp.",
    "Try friction at low pressure, with an open space where wrench and part go when it slips. No cheater bars.",
    "The plates of chuck and machine, local codes and licensed practice rule.",
)
"""What every page about rings and friction trials says."""

OF_THE_ENTRY = {"id", "at", "by", "remark", "corrects", "withdrawn"}
"""What two entries of one reading differ in."""
_entering = Lock()


def chuck_of(card: ChuckRecord) -> Chuck:
    """The plate on a card. Raises: ``InputError`` without one."""
    chuck = chuck_on_card(card)
    if chuck is None:
        raise InputError(f"chuck {card.id} has no plate in the records: heldtrue chuck add FILE enters it")
    return chuck


def gauge_of(chuck: Chuck, card: ChuckRecord | None = None) -> str:
    """Unit of the pressure gauge of a chuck."""
    return str((card.gauge if card else None) or chuck.actuator.gauge or "bar")


def ring_for(
    chuck: Chuck, side: str, diameter: float | None, widest: float | None, pressure: float | None, number: str
) -> Asked:
    """What a ring for a chuck must be. mm, MPa.

    ``pressure``: the largest it will be used at, that of the plate if None.  Raises: ``InputError`` where the plate
    says too little.
    """
    full = pressure if pressure is not None else chuck.plate_pressure
    if diameter is None and chuck.body_diameter is None:
        raise InputError(f"{chuck.name}: no body_diameter on its card; say the diameter that the jaws shall press on")
    gripped = diameter if diameter is not None else round(WIDE_SHARE * (chuck.body_diameter or 0.0))
    most = chuck.max_grip_force
    if pressure is not None:
        _require_plates(chuck, pressure)
        areas = [one for one in (chuck.actuator.pull_area, chuck.actuator.push_area) if one is not None]
        if not areas:
            raise InputError(f"{chuck.name}: no piston area on its card; leave the largest pressure out")
        most = min(most, grip_per_pressure(chuck.max_grip_force, chuck.max_draw_force, max(areas)) * pressure)
    asked = Asked(side, chuck.jaws, gripped, most, full, number=number)
    return asked if widest is None else Asked(side, chuck.jaws, gripped, most, full, widest, number=number)


def check_fits(ring: GaugeRing, readings: RingReadings, chuck: Chuck) -> None:
    """Raises: ``InputError`` where the ring is not for this chuck, or was clamped harder than it may be."""
    if ring.jaws != chuck.jaws:
        raise InputError(f"the ring is for {ring.jaws} jaws; {chuck.name} has {chuck.jaws}")
    gauge = gauge_of(chuck)
    highest = max((t.pressure for t in readings.traces if t.pressure is not None), default=0.0)
    if ring.most_pressure is not None and highest > ring.most_pressure * (1 + 1e-9):
        raise InputError(
            f"the ring may be clamped with {pressure_text(ring.most_pressure, gauge, 'down')}; it was with "
            f"{pressure_text(highest, gauge)}: check it for a set, free, before it is used again"
        )
    _require_plates(chuck, highest)


def _require_plates(chuck: Chuck, pressure: float) -> None:
    limit = chuck.plate_pressure
    if limit is not None and pressure > limit * (1 + 1e-9):
        raise InputError(f"the plates of {chuck.name} allow {pressure_text(limit, gauge_of(chuck), 'down')}")


def rows_of(answer: RingAnswer, ring: GaugeRing, card: ChuckRecord, at: datetime, by: str) -> list[GaugeReading]:
    """One row of the chuck's log for every pressure, with the ring's own error.

    Raises: ``InputError`` for a grip read so coarsely that the log would take it for better than it is.
    """
    coarse = next((one for one in answer.clamped if one.error > COARSEST), None)
    if coarse is not None:
        raise InputError(
            f"at {pressure_text(coarse.pressure, card.gauge or 'bar')} the ring reads the grip to {coarse.error:.0%} "
            "only: too coarse for the log. Take a finer dial, leave that round out, or clamp harder"
        )
    device = f"gauge ring {ring.number}".strip()
    return [
        GaugeReading(at=at, by=by, chuck=card.id, pressure=one.pressure, force=one.total[1], device=device,
                     error=one.error)
        for one in answer.clamped
    ]  # fmt: skip


@dataclass(frozen=True)
class FrictionTrial:
    """Friction of one pairing, and the grip of all jaws it was tried at: low, likely, high [N]."""

    found: FrictionFound
    grip: Ends
    of: Pairing


def friction_tried(
    setup: Setup, pressure: float, way: Way, values: tuple[float, ...], error: float | None
) -> FrictionTrial:
    """Friction behind slips [N mm or N] of the part of a setup, clamped at a gauge pressure [MPa].

    ``error`` of the wrench or scale, 95 %, relative.  Raises: ``InputError`` for slips that are none, or where so
    little pressure is left that nothing can be tried with it.
    """
    grip = _grip_ends(Study.of(setup), pressure)
    if grip[0] < LEAST_GRIP_SHARE * grip[1] or grip[1] < LEAST_GRIP_SHARE * setup.chuck.max_grip_force / 10:
        raise InputError("so little pressure may grip with nothing at all: take more, or read the chuck's grip first")
    slips = Slips(way, values, setup.grip.diameter, grip, error)
    return FrictionTrial(read_friction(slips), grip, pairing(setup))


@dataclass(frozen=True)
class TrialAdvice:
    """How to try friction with a setup.

    ``pressure`` to clamp with [MPa]; ``grip`` it gives, low, likely, high [N]; ``friction`` that the plan takes, low
    and high; ``torque`` [N mm] and ``pull`` [N] at which it should slip, least and greatest; ``diameter`` gripped [mm].
    """

    pressure: float
    grip: Ends
    friction: tuple[float, float]
    torque: tuple[float, float]
    pull: tuple[float, float]
    diameter: float


def trial_for(setup: Setup) -> TrialAdvice:
    """The lowest pressure at which the grip is known well enough, and what it should take there.

    Raises: ``InputError`` for a setup that cannot be planned, or a chuck whose grip is not known at any pressure.
    """
    study, arm = Study.of(setup), setup.grip.diameter / 2
    known = study.job.known["friction"]
    for step in range(1, TRIAL_STEPS + 1):
        pressure = study.highest_pressure * step / TRIAL_STEPS
        grip = _grip_ends(study, pressure)
        if grip[0] <= 0 or grip[2] > TRIAL_SURE * grip[0]:
            continue
        pull = (known.low * grip[0], known.high * grip[2])
        torque = (pull[0] * arm, pull[1] * arm)
        return TrialAdvice(pressure, grip, (known.low, known.high), torque, pull, setup.grip.diameter)
    raise InputError(
        "the grip of this chuck is not known well enough at any pressure: read it first, by a gauge or a ring"
    )


def _grip_ends(study: Study, pressure: float) -> Ends:
    """Grip of all jaws at rest at a gauge pressure: low, likely, high. [MPa to N]"""
    low, high = study.least_grip(study.worst, pressure), study.most_grip(study.best, pressure)
    likely = study.job.static_grip(study.likely, pressure)
    return low, min(max(likely, low), high), high


def friction_row(
    found: FrictionFound, setup: Setup, at: datetime, by: str, *, oiled: bool, setup_id: str = ""
) -> FrictionReading:
    """The row of one trial."""
    of = pairing(setup)
    return FrictionReading(
        at=at, by=by, material=of.material, surface=of.surface, jaw_material=of.jaw_material, face=of.face, oiled=oiled,
        low=found.low, likely=found.likely, high=found.high, slips=found.slips, setup=setup_id,
        jaw_set=setup.jaws.number,
    )  # fmt: skip


def enter_once(store: Store, rows: Sequence[GaugeReading] | Sequence[FrictionReading], by: str) -> tuple[str, ...]:
    """Write rows into the records, all or none; their ids.

    Raises: ``InputError`` where one stands there already to the last digit, as two touches of a button make it.
    """
    with _entering:
        for row in rows:
            if any(_same(row, one) for one in _beside(store, row)):
                raise InputError("these readings are in the records already: nothing was entered twice")
        store.write(*rows, by=by)
    return tuple(row.id for row in rows)


def _beside(store: Store, row: GaugeReading | FrictionReading) -> Sequence[GaugeReading | FrictionReading]:
    """The log of one chuck, or the trials of one material: never all that a shop has."""
    if isinstance(row, GaugeReading):
        return store.events(GaugeReading, chuck=row.chuck)
    return store.events(FrictionReading, material=row.material)


def _same(one: object, other: object) -> bool:
    names = [field.name for field in fields(one) if field.name not in OF_THE_ENTRY]  # type: ignore[arg-type]
    return all(getattr(one, name) == getattr(other, name) for name in names)

"""Gauge ring and friction as JSON. Core units: mm, N, MPa."""

from __future__ import annotations

from pydantic import Field

from heldtrue.inspection.friction_reading import FrictionFound
from heldtrue.inspection.ring_design import RingDesign
from heldtrue.inspection.ring_reading import RingAnswer
from heldtrue.json_document import FORMAT, Entry


class RangeEntry(Entry):
    """A figure with its ends at 95 %."""

    low: float
    likely: float
    high: float


class RingDesignDocument(Entry):
    """A gauge ring to make. mm, N, MPa."""

    format: int = Field(FORMAT, description="format of this document")
    number: str
    side: str
    jaws: int
    outer: float = Field(description="outside diameter [mm]")
    inner: float = Field(description="inside diameter [mm]")
    width: float
    contact: str = Field(description="rollers or pads between jaws and ring")
    roller: float | None = Field(description="diameter of the pins [mm]")
    pad: float | None = Field(description="width of a pad round the ring [mm]")
    material: str
    strength: float = Field(description="yield strength that the certificate must show [MPa]")
    stress: float = Field(description="largest stress at the largest grip [MPa]")
    factor: float = Field(description="strength over stress")
    contact_pressure: float = Field(description="under a pin or pad at the largest grip [MPa]")
    contact_limit: float
    most_grip: float = Field(description="largest grip of all jaws [N]")
    most_pressure: float | None = Field(description="largest pressure, to be engraved [MPa]")
    per_kn: float = Field(description="highest less lowest reading for 1 kN of all jaws [mm]")
    fine_error: float = Field(description="how well a 0.001 mm dial reads half the largest grip, 95 %, relative")
    coarse_error: float = Field(description="the same of a 0.01 mm dial")
    whole_error: float = Field(description="of the 0.001 mm dial with material, size and contact, 95 %, relative")
    misses: list[str] = Field(description="what the ring does not reach")


class ClampedEntry(Entry):
    """Forces at one pressure [MPa, N]."""

    pressure: float
    grip: RangeEntry = Field(description="of all jaws")
    by_jaw: list[RangeEntry]
    error: float = Field(description="half of the range of all jaws, relative")
    lobes: float = Field(description="highest less lowest reading [mm]")


class RingAnswerDocument(Entry):
    """What the readings of a gauge ring say. mm, N, MPa."""

    format: int = Field(FORMAT, description="format of this document")
    clamped: list[ClampedEntry]
    slope: RangeEntry | None = Field(description="grip of all jaws per pressure [N/MPa]")
    threshold: RangeEntry | None = Field(description="pressure lost before the jaws grip [MPa]")
    jaws_apart: bool = Field(description="can the readings tell the jaws apart?")
    uneven_jaw: int | None = Field(description="the jaw that differs beyond doubt, from 1")
    uneven_share: float | None = Field(description="its force over the mean")
    common_error: float = Field(description="what scales all forces alike, 95 %, relative")
    entered: list[str] = Field(description="ids of the rows written to the chuck's log")


class FrictionDocument(Entry):
    """What slips say of the friction of jaws on a part."""

    format: int = Field(FORMAT, description="format of this document")
    friction: RangeEntry
    scatter: float = Field(description="from slip to slip, standard deviation, relative")
    slips: int
    grip: RangeEntry = Field(description="of all jaws, at the pressure it was tried at [N]")
    material: str
    surface: str
    jaw_material: str
    face: str
    oiled: bool
    entered: str | None = Field(description="id of the row written to the records")


def design_document(made: RingDesign) -> RingDesignDocument:
    """A designed ring."""
    ring, gauge = made.gauge.ring, made.gauge
    return RingDesignDocument(
        format=FORMAT, number=gauge.number, side=ring.side, jaws=gauge.jaws, outer=2 * ring.outer, inner=2 * ring.inner,
        width=ring.width, contact=gauge.contact, roller=made.roller,
        pad=2 * gauge.half_angle * ring.gripped if gauge.contact == "pads" else None, material=made.material.key,
        strength=made.strength, stress=made.stress, factor=made.factor, contact_pressure=made.pressure,
        contact_limit=made.pressure_limit, most_grip=made.most_grip, most_pressure=made.most_pressure,
        per_kn=made.per_kn, fine_error=made.fine, coarse_error=made.coarse, whole_error=made.with_common,
        misses=list(made.misses),
    )  # fmt: skip


def answer_document(answer: RingAnswer, entered: list[str]) -> RingAnswerDocument:
    """What a ring said, and the rows made of it."""
    uneven = answer.uneven
    return RingAnswerDocument(
        format=FORMAT,
        clamped=[
            ClampedEntry(pressure=one.pressure, grip=_range(one.total), by_jaw=[_range(jaw) for jaw in one.by_jaw],
                         error=one.error, lobes=one.lobes)
            for one in answer.clamped
        ],
        slope=None if answer.slope is None else _range(answer.slope),
        threshold=None if answer.threshold is None else _range(answer.threshold),
        jaws_apart=answer.apart, uneven_jaw=None if uneven is None else uneven[0] + 1,
        uneven_share=None if uneven is None else uneven[1], common_error=answer.common, entered=entered,
    )  # fmt: skip


def friction_document(
    found: FrictionFound, grip: tuple[float, float, float], of: dict[str, str], *, oiled: bool, entered: str | None
) -> FrictionDocument:
    """What slips said; ``of``: what rubbed on what, by the names of this document."""
    return FrictionDocument(
        format=FORMAT, friction=RangeEntry(low=found.low, likely=found.likely, high=found.high), scatter=found.scatter,
        slips=found.slips, grip=_range(grip), oiled=oiled, entered=entered,
        material=of["material"], surface=of["surface"], jaw_material=of["jaw_material"], face=of["face"],
    )  # fmt: skip


def _range(ends: tuple[float, float, float]) -> RangeEntry:
    return RangeEntry(low=ends[0], likely=ends[1], high=ends[2])

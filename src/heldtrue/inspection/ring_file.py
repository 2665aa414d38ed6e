"""The file of a gauge ring, and of the readings taken with it."""

from __future__ import annotations

from math import cos, pi, sin
from pathlib import Path
from typing import Any, Literal, TypeVar

from pydantic import Field

from heldtrue.errors import InputError
from heldtrue.inspection.ring_design import RingDesign
from heldtrue.inspection.ring_reading import Gauge, RingGauge, RingReadings, RingTrace, Touch
from heldtrue.mechanics.gauge_ring import Ring
from heldtrue.mechanics.materials import work_material
from heldtrue.planning.entries import Angle, Entry, Force, Length, LengthRange, Pressure
from heldtrue.planning.reading import Layer, Reader
from heldtrue.planning.toml_file import read_toml
from heldtrue.quantities import format_quantity

E = TypeVar("E", bound=Entry)

MOST_PLACES = 360
MOST_ROUNDS = 12
ODD_DEFLECTION_MM = 2.0
"""No gauge ring moves so much: the readings are in another unit."""


class GaugeRing(Entry):
    """A gauge ring as it was made. Sizes as measured."""

    number: str = Field("", description="number engraved on the ring")
    side: Literal["outside", "inside"] = Field("outside", description="grip: the jaws press on its outside, or inside")
    jaws: int = Field(description="number of jaws it is pressed by")
    outer: Length = Field(description="outside diameter")
    inner: Length = Field(description="inside diameter")
    width: Length = Field(description="width along the axis")
    contact: Touch = Field(description="what presses on it: rollers, pads or the jaws themselves")
    pad: Length | None = Field(None, description="width of a pad round the ring")
    jaw_width: Length | None = Field(None, description="width of a jaw that presses on the ring itself")
    bored: LengthRange | None = Field(None, description="least and greatest diameter those jaws are bored to")
    material: str = Field("42CrMo4", description="material, by a name the material table knows")
    roundness: Length = Field(0.005, description="out-of-round of the surface that is read, ring free")
    most_grip: Force = Field(description="largest grip of all jaws that it may carry")
    most_pressure: Pressure | None = Field(None, description="largest pressure, engraved on it")


class Round(Entry):
    """One round of readings."""

    pressure: Pressure | None = Field(None, description="gauge pressure; left out: the ring was free")
    values: tuple[Length, ...] = Field(description="reading at each place")


class RingRounds(Entry):
    """Readings of a gauge ring."""

    gauge: Gauge = Field("dial", description="dial, two-point or three-point")
    division: Length = Field(description="one division of the dial")
    places: int | None = Field(None, description="number of even places, the first at the middle of jaw 1")
    angles: tuple[Angle, ...] | None = Field(None, description="or the angle of each place, jaw 1 at 0")
    round: tuple[Round, ...] = Field(description="one table [[round]] each")


def gauge_ring(path: Path) -> tuple[RingGauge, GaugeRing]:
    """The ring of a file. Raises: ``InputError`` with what is wrong."""
    return ring_from(read_toml(path), str(path))


def ring_from(raw: dict[str, Any], where: str) -> tuple[RingGauge, GaugeRing]:
    """The same of a table."""
    made = _read(GaugeRing, raw, where)
    material = work_material(made.material)
    if not 2 <= made.jaws <= 12:
        raise InputError(f"{where}: a chuck has 2 to 12 jaws, found {made.jaws}")
    if made.most_grip <= 0 or made.roundness < 0:
        raise InputError(f"{where}: most_grip is above 0, roundness not below")
    ring = Ring(made.side, made.inner / 2, made.outer / 2, made.width, material.young.value, material.poisson.value)
    half, bored = 0.0, (0.0, 0.0)
    if made.contact == "pads":
        if made.pad is None or not 0 < made.pad < ring.gripped / 2:
            raise InputError(f"{where}: pads need their width round the ring: pad = 8")
        half = made.pad / 2 / ring.gripped
    if made.contact == "jaws":
        if (
            made.jaw_width is None
            or made.bored is None
            or not 0 < made.jaw_width < 2 * ring.gripped * sin(pi / made.jaws)
        ):
            raise InputError(
                f"{where}: jaws that press on the ring itself need jaw_width, and bored = [least, greatest]"
            )
        half = min(made.jaw_width / 2 / ring.gripped, pi / made.jaws * 0.999)
        bored = (made.bored[0] / 2, made.bored[1] / 2)
        if not 0 < bored[0] <= bored[1] or cos(half) <= 0:
            raise InputError(f"{where}: bored = [least, greatest] diameter, the smaller first")
    gauge = RingGauge(ring, made.number, made.jaws, made.contact, half, bored, made.roundness,
                      made.most_grip / made.jaws)  # fmt: skip
    return gauge, made


def ring_rounds(path: Path) -> RingReadings:
    """The readings of a file. Raises: ``InputError`` with what is wrong."""
    return rounds_from(read_toml(path), str(path))


def rounds_from(raw: dict[str, Any], where: str) -> RingReadings:
    """The same of a table."""
    made = _read(RingRounds, raw, where)
    if (made.places is None) == (made.angles is None):
        raise InputError(f"{where}: give either places, the number of even places, or angles, one for each")
    if made.places is not None and not 2 <= made.places <= MOST_PLACES:
        raise InputError(f"{where}: 2 to {MOST_PLACES} places, found {made.places}")
    angles = made.angles or tuple(2 * pi * k / (made.places or 1) for k in range(made.places or 0))
    if len({round(a % (2 * pi), 6) for a in angles}) < len(angles):
        raise InputError(f"{where}: two places are the same")
    if made.division <= 0:
        raise InputError(f"{where}: division is above 0, such as 0.001")
    if len(made.round) > MOST_ROUNDS:
        raise InputError(f"{where}: {len(made.round)} rounds; {MOST_ROUNDS} are enough")
    values = [v for one in made.round for v in one.values]
    swing = max((max(one.values) - min(one.values) for one in made.round if one.values), default=0.0)
    if values and made.gauge == "dial" and swing > ODD_DEFLECTION_MM:
        raise InputError(f"{where}: readings swing by {swing:.3g} mm; a gauge ring does not: is that the unit?")
    traces = tuple(RingTrace(one.pressure, one.values) for one in made.round)
    return RingReadings(traces, angles, made.division, made.gauge)


def ring_text(design: RingDesign) -> str:
    """The file of a designed ring, to be kept with the ring and corrected by its measured sizes."""
    ring, gauge = design.gauge.ring, design.gauge
    pad = f"pad = {2 * gauge.half_angle * ring.gripped:g}\n" if gauge.contact == "pads" else ""
    pressure = design.most_pressure
    most = "" if pressure is None else f'most_pressure = "{format_quantity(pressure, "pressure", unit="bar")}"\n'
    return (
        "# A gauge ring. Put in the sizes as they were measured on the finished ring.\n"
        'units = "metric"\n'
        f'number = "{gauge.number}"\n'
        f'side = "{ring.side}"\njaws = {gauge.jaws}\n'
        f"outer = {2 * ring.outer:g}\ninner = {2 * ring.inner:g}\nwidth = {ring.width:g}\n"
        f'contact = "{gauge.contact}"\n{pad}material = "{design.material.key}"\n'
        f"roundness = {gauge.roundness:g}              # of the surface that is read, ring free\n"
        f'most_grip = "{design.most_grip / 1e3:g} kN"\n{most}'
    )


def _read(kind: type[E], raw: dict[str, Any], where: str) -> E:
    reader = Reader()
    raw = dict(raw)
    system = reader.system_of(raw, f"{where}: ")
    raw.pop("units", None)
    values = reader.table(kind, [Layer(raw, system, where)], "ring", None)
    if reader.problems:
        raise InputError(*reader.problems)
    return kind.model_validate(values)

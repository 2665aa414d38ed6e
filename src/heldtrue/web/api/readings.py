"""What the shop measures: an indicator, a feeler or a print, sizes part after part; and what is learned from it."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter
from fastapi.responses import Response
from pydantic import Field

from heldtrue.errors import InputError
from heldtrue.inspection.part_sizes import typed_parts
from heldtrue.inspection.table import column
from heldtrue.inspection.taper import Bearing
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem
from heldtrue.shop.accepting import known_base
from heldtrue.shop.learned_force import CutRead
from heldtrue.shop.learned_repeat import known_repeat
from heldtrue.shop.part_cause import Parts
from heldtrue.shop.taught import taught_for_causes
from heldtrue.web import texts
from heldtrue.web.api import work
from heldtrue.web.api.asked import (
    Asked,
    AtDesk,
    Id,
    Looks,
    OfSetup,
    Remark,
    SetsUp,
    SetupTable,
    Typed,
    Units,
    at_pressure,
    json,
    name_of,
    quantity,
    read_setup,
    remembered,
    setup_asked,
)
from heldtrue.web.desk import checked, now

router = APIRouter()
LONGEST_TABLE = 1_000_000
Csv = Annotated[str, Field(min_length=1, max_length=LONGEST_TABLE)]
Dial = Annotated[str, Field(max_length=60, description="Number of the dial; any of its division if left out.")]
Touch = Literal["base", "tip", "all"]


class IndicatorQuestion(Asked):
    """What do these indicator readings say?"""

    readings: Csv | None = Field(None, description="A table as CSV text: angle_deg,reading_mm; or else: typed.")
    typed: str | None = Field(None, min_length=1, max_length=20_000, description="0:5 60:7 120:4 ..., in degrees.")
    unit: Literal["mm", "um", "in", "thou"] | None = Field(None, description="Unit of typed readings.")
    setup: SetupTable | None = Field(None, description="Compare with the plan of this setup.")
    surface: Id | None = Field(None, description="Surface of the setup that was read.")
    side: Literal["outside", "inside", "face"] | None = Field(None, description="Surface read.")
    grip: Literal["outside", "inside"] | None = None
    jaws: int | None = Field(None, ge=1, le=100, description="Number of jaws; of the setup, or 3, if left out.")
    resolution: Typed | None = Field(None, description="One division of the dial: 0.001 mm.")
    dial: Dial = ""
    tolerance: Typed | None = Field(None, description="Run-out tolerance; that of the surface if left out.")
    pressure: Typed | None = Field(None, description="Gauge pressure it was clamped at: 18 bar.")
    made: Literal["here", "before"] | None = Field(
        None, description="Was the surface turned here, in the clamping read first, or before?"
    )
    units: Units | None = Field(None, description="Units of bare numbers; of the setup, or metric, if left out.")


class Seen(Asked):
    """What a feeler or the bluing showed."""

    touch: Touch | None = Field(None, description="Which end of the grip touches.")
    gap: Typed | None = Field(None, description="By feeler, at the other end: 0.10 mm.")
    length: Typed | None = Field(None, description="How far the print runs from the end that touches: 8 mm.")
    taper: Typed | None = Field(None, description="Taper the jaws have now, per side; of the setup if left out.")
    pressure: Typed | None = Field(None, description="Gauge pressure it was clamped at; of the finish if left out.")


class TaperQuestion(Seen):
    """What taper do I cut next, and why is the part tapered?"""

    setup: SetupTable
    parts: Csv | None = Field(
        None, description="Finished parts, one a line: 50.012 50.004 25 bar free; Ø front, Ø back, pressure, state."
    )
    surface: Id | None = Field(None, description="Surface of the setup that the parts were read on.")
    over: Typed | None = Field(None, description="From front to back; the whole surface if left out.")
    dial: str = Field("", max_length=60, description="Number of the micrometer that read the parts.")


class LearnQuestion(Seen, OfSetup):
    """Accept readings for this chuck and these jaws."""

    force: Typed | None = Field(None, description="Grip gauge: grip of all jaws together, at the pressure: 62 kN.")
    readings: Csv | None = Field(None, description="Indicator readings as CSV text, kept with jaw set and last run.")
    surface: Id | None = Field(None, description="Surface of the setup that was read.")
    cut: Id | None = Field(None, description="Cut of the setup in which the power of the spindle was read.")
    power: Typed | None = Field(None, description="Power of the spindle in that cut: 4.3 kW.")
    idle: Typed | None = Field(None, description="The same turning free at that speed: 0.6 kW.")
    speed: Typed | None = Field(None, description="Spindle speed of both: 780.")
    diameter: Typed | None = Field(None, description="Diameter that was turned, where the cut works on several.")
    again: str | None = Field(
        None, min_length=1, max_length=20_000,
        description="Places read again with one dial: 5.1 5.2 5.1; 7.0 7.1 7.1; a semicolon between places.",
    )  # fmt: skip
    unit: Literal["mm", "um", "in", "thou"] | None = Field(None, description="Unit of again; mm or in if left out.")
    dial: Dial = ""
    remark: Remark = ""
    units: Units | None = Field(None, description="Units of the words; those of the setup if left out.")


class Limits(Asked):
    """Of one column; a bare number is in the unit of the column."""

    name: Id = Field(description="Header of the column.")
    low: str = Field("", max_length=60)
    high: str = Field("", max_length=60)


class DriftQuestion(Asked):
    """Do the sizes drift?"""

    measurements: Csv = Field(description="A table as CSV text, one row for each part.")
    limits: list[Limits] = Field(default_factory=list, max_length=100)
    units: Units = Field("metric", description="Units of bare numbers.")


@router.post("/indicator", dependencies=[Looks], summary="Which jaw, which cause, and what is the next test?",
             response_description="What the readings say, as heldtrue indicator --json.")  # fmt: skip
async def indicator(desk: AtDesk, asked: IndicatorQuestion) -> Response:
    """What indicator readings say, beside the plan where there is a setup."""
    if (asked.readings is None) == (asked.typed is None):
        raise InputError(texts.API_ONE_OF_READINGS)
    if asked.typed is None and asked.unit is not None:
        raise InputError(texts.API_UNIT_OF_TYPED)
    if asked.setup is None and (asked.surface is not None or asked.pressure is not None):
        raise InputError(texts.API_NEEDS_SETUP)
    if asked.setup is None and asked.dial:
        raise InputError(texts.API_DIAL_NEEDS_SETUP)
    setup = None if asked.setup is None else at_pressure(await remembered(desk, asked.setup), asked.pressure)
    system: UnitSystem = asked.units or (setup.units if setup else "metric")
    taught = None if setup is None else await desk.remember(taught_for_causes, desk.store, setup)
    return json(checked(await desk.pool.run(
        "", work.indicator_json, setup, asked.surface, asked.side, asked.grip, asked.jaws,
        asked.readings, asked.typed, asked.unit, system,
        resolution=_length("resolution", asked.resolution, system),
        tolerance=_length("tolerance", asked.tolerance, system), made=asked.made or "", taught=taught,
        dial=asked.dial,
    )))  # fmt: skip


@router.post("/taper", dependencies=[Looks], summary="What taper do I cut next, and when do I stop?",
             response_description="The next cut, as heldtrue taper --json.")  # fmt: skip
async def taper(desk: AtDesk, asked: TaperQuestion) -> Response:
    """The next taper cut from what feeler, bluing and finished parts showed."""
    setup = at_pressure(await remembered(desk, asked.setup), asked.pressure)
    seen, has = _bearing(asked, setup.units), _length("taper", asked.taper, setup.units)
    parts = None
    if asked.parts is not None:
        rows = typed_parts(asked.parts, setup.units, gauge_unit_of(setup))
        repeat = await desk.remember(known_repeat, desk.store, setup, asked.dial)
        parts = Parts(rows, asked.surface or "", _length("over", asked.over, setup.units), repeat)
    elif asked.surface is not None or asked.over is not None or asked.dial:
        raise InputError(texts.API_NEEDS_PARTS)
    if seen is None and parts is None:
        raise InputError(texts.API_SAY_TOUCH)
    known = await desk.remember(known_base, desk.store, setup)
    return json(checked(await desk.pool.run("", work.taper_json, setup, seen, has, known, parts)))


@router.post("/drift", dependencies=[Looks], summary="Do the sizes drift, how many parts are left before the limit?",
             response_description="Each series, as heldtrue drift --json.")  # fmt: skip
async def drift(desk: AtDesk, asked: DriftQuestion) -> Response:
    """Sizes part after part."""
    limits = [[column(one.name).name, one.low, one.high] for one in asked.limits]
    return json(checked(await desk.pool.run("", work.drift_json, asked.measurements, asked.units, limits)))


@router.post("/learned", dependencies=[Looks], summary="What is known of this chuck and these jaws?",
             response_description="What is known, as heldtrue learn --json without a reading.")  # fmt: skip
async def learned(desk: AtDesk, setup: SetupTable) -> Response:
    """What readings have taught; nothing is written."""
    found = read_setup(setup)
    return json(checked(await desk.pool.run("", work.learn_json, desk.records, found, "", "", now(), found.units)))


@router.post("/learn", summary="Accept readings for this chuck and these jaws. Recorded.",
             response_description="What was kept and what is known then, as heldtrue learn --json.")  # fmt: skip
async def learn(desk: AtDesk, viewer: SetsUp, asked: LearnQuestion) -> Response:
    """As heldtrue learn with a reading."""
    by, setup = name_of(viewer, asked.by), await setup_asked(desk, asked)
    if asked.force is not None and asked.pressure is None:
        raise InputError(texts.API_FORCE_AT_PRESSURE)
    units, seen = setup.units, _bearing(asked, setup.units)
    cut = _cut(asked, units)
    if seen is None and asked.force is None and asked.readings is None and cut is None and asked.again is None:
        raise InputError(texts.API_NOTHING_READ)
    if asked.dial and asked.readings is None and asked.again is None:
        raise InputError(texts.API_DIAL_OF_WHAT)
    pressure = None if asked.pressure is None else quantity("pressure", asked.pressure, "pressure", units)
    force = None if asked.force is None else quantity("force", asked.force, "force", units)
    return json(checked(await desk.pool.run(
        "", work.learn_json, desk.records, setup, asked.id, by, now(), asked.units or units, seen=seen,
        taper=_length("taper", asked.taper, units), pressure=pressure, force=force, readings=asked.readings,
        surface=asked.surface, remark=asked.remark, cut=cut, dial=asked.dial,
        again=asked.again, unit=asked.unit,
    )))  # fmt: skip


def _cut(asked: LearnQuestion, system: UnitSystem) -> CutRead | None:
    """Power of the spindle in a cut; None where none was given."""
    typed = {name: getattr(asked, name) for name in ("power", "idle", "speed")}
    if asked.cut is None and asked.diameter is None and not any(typed.values()):
        return None
    if asked.cut is None or None in typed.values():
        raise InputError(texts.API_WHOLE_CUT)
    power, idle, speed = (quantity(name, str(text), "speed_rpm" if name == "speed" else "power", system)
                          for name, text in typed.items())  # fmt: skip
    return CutRead(asked.cut, power, idle, speed, _length("diameter", asked.diameter, system))


def _length(name: str, typed: str | None, system: UnitSystem) -> float | None:
    return None if typed is None else quantity(name, typed, "length", system)


def _bearing(asked: Seen, system: UnitSystem) -> Bearing | None:
    """What was seen; None where nothing was. Raises: ``InputError`` for what does not go together."""
    if asked.touch is None:
        if asked.gap is not None or asked.length is not None:
            raise InputError(texts.API_SAY_TOUCH)
        return None
    gap, length = _length("gap", asked.gap, system), _length("length", asked.length, system)
    if asked.touch == "all":
        if length is not None:
            raise InputError(texts.API_NO_LENGTH)
        return Bearing("all along", gap)
    if gap is None and length is None:
        raise InputError(texts.API_GAP_OR_LENGTH.format(touch=asked.touch))
    return Bearing(asked.touch, gap, length)

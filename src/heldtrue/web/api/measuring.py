"""Grip of a chuck by a gauge ring, friction of jaws on a part: what was read, what it says, and into the records."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any, Literal

from fastapi import APIRouter
from fastapi.responses import Response
from pydantic import Field

from heldtrue.errors import InputError
from heldtrue.inspection.friction_reading import Way, slip_values
from heldtrue.inspection.ring_document import answer_document, design_document, friction_document
from heldtrue.inspection.ring_file import GaugeRing, ring_from, rounds_from
from heldtrue.inspection.ring_reading import RingAnswer
from heldtrue.json_document import to_json
from heldtrue.planning.entries import Chuck
from heldtrue.planning.gauge_words import typed_pressure
from heldtrue.planning.hardware_file import chuck_from
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.records import ChuckRecord
from heldtrue.shop.enter import card_of
from heldtrue.shop.from_records import with_records
from heldtrue.shop.gauge_rings import (
    FrictionTrial,
    check_fits,
    chuck_of,
    enter_once,
    friction_row,
    gauge_of,
    ring_for,
    rows_of,
)
from heldtrue.web.api.asked import (
    Asked,
    AtDesk,
    By,
    Id,
    Looks,
    OfSetup,
    SetsUp,
    SetupTable,
    Typed,
    Units,
    diameter,
    gauge,
    json,
    name_of,
    quantity,
    remembered,
    setup_asked,
)
from heldtrue.web.desk import Desk, checked, now
from heldtrue.web.measuring import words, work

router = APIRouter()
OfChuck = Annotated[Id | dict[str, Any], Field(description="Its number in the records, or its table.")]
AS_READ = "Force of each jaw and line of grip, as heldtrue ring read --json."
AS_TRIED = "Friction with its range, as heldtrue friction read --json."
MOST_SLIPS = 20


class RingWanted(Asked):
    """A gauge ring for a chuck."""

    chuck: OfChuck
    side: Literal["outside", "inside"] = Field("outside", description="Grip on its outside, or inside.")
    diameter: Typed | None = Field(None, description="That the jaws press on: Ø150; 0.6 of the body if left out.")
    widest: Typed | None = Field(None, description="No wider along the axis: 30 mm; 40 mm if left out.")
    most_pressure: Typed | None = Field(None, description="Largest gauge pressure; that of the plate if left out.")
    number: str = Field("", max_length=60, description="Number to engrave on it.")
    units: Units = Field("metric", description="Units of bare numbers.")


class RingRead(Asked):
    """Readings of a gauge ring."""

    chuck: OfChuck
    ring: dict[str, Any] = Field(description="The ring in the shape of its file, sizes as measured.")
    readings: dict[str, Any] = Field(description="The readings in the shape of their file.")


class RingEntered(Asked):
    """Readings of a gauge ring for the log of a chuck."""

    chuck: Id = Field(description="Inventory number of the chuck.")
    ring: dict[str, Any] = Field(description="The ring in the shape of its file, sizes as measured.")
    readings: dict[str, Any] = Field(description="The readings in the shape of their file.")
    by: By = ""


class Slipped(Asked):
    """What it took to make a clamped part slip: ``torque`` or ``pull``, once for each clamping."""

    pressure: Typed = Field(description="Low gauge pressure it was clamped with: 6 bar.")
    torque: list[Typed] | None = Field(None, max_length=MOST_SLIPS, description="Torques: 60 N m, 65 N m, 58 N m.")
    pull: list[Typed] | None = Field(None, max_length=MOST_SLIPS, description="Or pulls along the axis: 900 N.")
    dry: bool = Field(description="Was it tried dry? Else as wet as it runs.")
    error: float | None = Field(None, gt=0.0, lt=50.0, description="Error of wrench or scale in percent, 95 %.")


class FrictionQuestion(Slipped):
    """What friction is behind these slips?"""

    setup: SetupTable


class FrictionEntered(Slipped, OfSetup):
    """The same, for the records."""


@router.post("/ring/design", dependencies=[Looks], summary="Which turned ring gauges the grip of this chuck?",
             response_description="The ring to make, as heldtrue ring design --json.")  # fmt: skip
async def design(desk: AtDesk, asked: RingWanted) -> Response:
    """A ring strong enough for the chuck's full grip, soft enough for a dial."""
    chuck, unit, _ = await _chuck(desk, asked.chuck)
    wanted = None if asked.diameter is None else diameter("diameter", asked.diameter, asked.units)
    widest = None if asked.widest is None else quantity("widest", asked.widest, "length", asked.units)
    most = None if asked.most_pressure is None else gauge("most_pressure", asked.most_pressure, unit)
    ring = ring_for(chuck, asked.side, wanted, widest, most, asked.number)
    made = checked(await desk.pool.run("", work.ring_designed, ring))
    return json(to_json(design_document(made)))


@router.post("/ring/read", dependencies=[Looks], summary="What force has each jaw, what is lost before they grip?",
             response_description=AS_READ)  # fmt: skip
async def read(desk: AtDesk, asked: RingRead) -> Response:
    """The forces behind readings of a gauge ring; nothing is written."""
    chuck, _, _ = await _chuck(desk, asked.chuck)
    answer, _ = await _answer(desk, chuck, asked)
    return json(to_json(answer_document(answer, [])))


@router.post("/ring/enter", summary="Enter readings of a gauge ring in the log of a chuck, once. Recorded.",
             response_description=AS_READ)  # fmt: skip
async def enter(desk: AtDesk, viewer: SetsUp, asked: RingEntered) -> Response:
    """As heldtrue ring read --enter."""
    by = name_of(viewer, asked.by)
    chuck, _, card = await _chuck(desk, asked.chuck)
    assert card is not None
    answer, ring = await _answer(desk, chuck, asked)
    ids = await desk.remember(enter_once, desk.store, rows_of(answer, ring, card, now(), by), by)
    return json(to_json(answer_document(answer, list(ids))))


@router.post("/friction/read", dependencies=[Looks], summary="What friction do these slips show?",
             response_description=AS_TRIED)  # fmt: skip
async def read_friction(desk: AtDesk, asked: FrictionQuestion) -> Response:
    """Friction of the jaws of a setup on its part; nothing is written."""
    setup = await remembered(desk, asked.setup)
    trial = await _trial(desk, setup, asked)
    return _told(trial, asked, None)


@router.post("/friction/enter", summary="Enter a friction trial for plans of the same pairing, once. Recorded.",
             response_description=AS_TRIED)  # fmt: skip
async def enter_friction(desk: AtDesk, viewer: SetsUp, asked: FrictionEntered) -> Response:
    """As heldtrue friction read --enter."""
    by, found = name_of(viewer, asked.by), await setup_asked(desk, asked)
    setup = (await desk.remember(with_records, found, desk.store, now()))[0]
    trial = await _trial(desk, setup, asked)
    row = friction_row(trial.found, setup, now(), by, oiled=not asked.dry, setup_id=asked.id)
    (entered,) = await desk.remember(enter_once, desk.store, [row], by)
    return _told(trial, asked, entered)


async def _chuck(desk: Desk, asked: str | dict[str, Any]) -> tuple[Chuck, str, ChuckRecord | None]:
    """Its plate, the unit of its gauge, and its card where it is one of the records. Raises: ``InputError``."""
    if isinstance(asked, dict):
        chuck = chuck_from(asked, "chuck")[0]
        return chuck, gauge_of(chuck), None
    card = await desk.remember(card_of, desk.store, ChuckRecord, asked, "chuck")
    chuck = chuck_of(card)
    return chuck, gauge_of(chuck, card), card


async def _answer(desk: Desk, chuck: Chuck, asked: RingRead | RingEntered) -> tuple[RingAnswer, GaugeRing]:
    made, ring = ring_from(asked.ring, "ring")
    readings = rounds_from(asked.readings, "readings")
    check_fits(ring, readings, chuck)
    return checked(await desk.pool.run("", work.ring_read, made, readings, chuck)), ring


async def _trial(desk: Desk, setup: Setup, asked: Slipped) -> FrictionTrial:
    if bool(asked.torque) == bool(asked.pull):
        raise InputError(words.API_TORQUE_OR_PULL)
    try:
        pressure = typed_pressure(asked.pressure, gauge_unit_of(setup), setup.chuck.plate_pressure)
    except InputError as error:
        raise InputError(f"pressure: {error}") from error
    way: Way = "torque" if asked.torque else "pull"
    kind = "torque" if asked.torque else "force"
    values = slip_values(asked.torque or asked.pull or [], lambda one: quantity(way, one, kind, setup.units))
    share = None if asked.error is None else asked.error / 100
    return checked(await desk.pool.run("", work.friction_read, setup, pressure, way, values, share))


def _told(trial: FrictionTrial, asked: Slipped, entered: str | None) -> Response:
    of = asdict(trial.of)
    return json(to_json(friction_document(trial.found, trial.grip, of, oiled=not asked.dry, entered=entered)))

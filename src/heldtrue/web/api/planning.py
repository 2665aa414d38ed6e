"""Plan a setup, what to measure, the ways to hold it, the contact, the jaw cut, its start, another machine."""

from __future__ import annotations

import json as plain_json
from dataclasses import asdict
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response
from pydantic import Field

from heldtrue.errors import InputError
from heldtrue.planning.gauge_words import typed_pressure
from heldtrue.planning.hardware_file import chuck_from
from heldtrue.planning.window import gauge_unit_of
from heldtrue.records import ChuckRecord
from heldtrue.shop.chuck_card import plate_table
from heldtrue.shop.enter import card_of
from heldtrue.web import texts, worker
from heldtrue.web.api import work
from heldtrue.web.api.asked import (
    Asked,
    AtDesk,
    By,
    Id,
    Looks,
    SetsUp,
    SetupBody,
    SetupTable,
    Typed,
    at_pressure,
    diameter,
    json,
    name_of,
    quantity,
    read_setup,
    remembered,
)
from heldtrue.web.chucks.page import with_unit
from heldtrue.web.desk import Desk, checked, now

router = APIRouter()


class ContactQuestion(Asked):
    """How do the jaws bear on the part?"""

    setup: SetupTable
    pressure: Typed | None = Field(None, description="Gauge pressure: 18 bar; that of the finish if left out.")


class WaysQuestion(Asked):
    """How should I hold this part?"""

    setup: SetupTable
    most: int = Field(12, ge=1, le=50, description="Work out so many ways in full, at the most.")


class RecutQuestion(Asked):
    """What is the least to cut off a used jaw set?"""

    setup: SetupTable
    measured: Typed | None = Field(None, description="Diameter touched off with the jaws on the ring: Ø97.55.")
    runout: Typed | None = Field(None, description="Run-out found on the used bore: 0.03 mm.")


class StartQuestion(Asked):
    """May the spindle start?"""

    setup: SetupTable
    id: Id = Field(description="What the setup is called in the records.")
    gauge: Typed = Field(description="What the gauge shows: 18 bar; a bare number is in the unit of that gauge.")
    by: By = ""
    step: str | None = Field(None, max_length=60, description="Pressure step: rough or finish; the first if left out.")
    override: str = Field("", max_length=300, description="Start although it must not: why.")


class MoveQuestion(Asked):
    """The same setup on another machine?"""

    setup: SetupTable
    chuck: Id | dict[str, Any] = Field(description="The other chuck: its number in the records, or its table.")
    machine: str | None = Field(None, max_length=100, description="Name of the other machine.")
    max_speed: float | None = Field(None, gt=0.0, le=1e6, description="Its highest spindle speed, rev/min.")


@router.post("/plan", dependencies=[Looks], summary="Does the part stay in, at what pressure, how fast, how round?",
             response_description="The plan, as heldtrue plan --json.")  # fmt: skip
async def plan(desk: AtDesk, setup: SetupBody) -> Response:
    """The plan of a setup, with what the records know of its chuck and jaws."""
    return json(checked(await desk.pool.run("", work.plan_json, await remembered(desk, setup))))


@router.post("/measure", dependencies=[Looks], summary="How sure is this, and which one measurement pays?",
             response_description="What to measure, ranked, as heldtrue measure --json.")  # fmt: skip
async def measure(desk: AtDesk, setup: SetupBody) -> Response:
    """What each measurement would do to the window, and the chance that the plan then passes."""
    return json(checked(await desk.pool.run("", work.measure_json, await remembered(desk, setup))))


@router.post("/assumptions", dependencies=[Looks], summary="What does the plan assume, and from where?",
             response_description="Every input with its range, as heldtrue assumptions --json.")  # fmt: skip
async def assumptions(desk: AtDesk, setup: SetupBody) -> Response:
    """Every input of a plan, where it comes from, and the key that changes it."""
    return json(checked(await desk.pool.run("", work.assumptions_json, await remembered(desk, setup))))


@router.post("/compare", dependencies=[Looks], summary="How else could it be held, and which way is truest?",
             response_description="Every way to hold it, as heldtrue compare --json.")  # fmt: skip
async def compare(desk: AtDesk, setup: SetupBody) -> Response:
    """Other jaws, the other side, more jaws."""
    return json(checked(await desk.pool.run("", work.compare_json, await remembered(desk, setup))))


@router.post("/ways", dependencies=[Looks], summary="How should it be held: every surface, every jaw, the best few?",
             response_description="The ways nobody beats and why the rest lose, as heldtrue ways --json.")  # fmt: skip
async def ways(desk: AtDesk, asked: WaysQuestion) -> Response:
    """Every way to hold the part, ranked, with what its jaws cost by the shelf."""
    stated = read_setup(asked.setup)
    return json(checked(await desk.pool.run("", work.ways_json, desk.records, stated, asked.most, now())))


@router.post("/contact", dependencies=[Looks], summary="How do the jaws bear on the part, what taper do I cut?",
             response_description="Contact, taper and bore, as heldtrue contact --json.")  # fmt: skip
async def contact(desk: AtDesk, asked: ContactQuestion) -> Response:
    """How the jaws bear on the part."""
    found = at_pressure(await remembered(desk, asked.setup), asked.pressure)
    return json(checked(await desk.pool.run("", work.contact_json, found)))


@router.post("/bore", dependencies=[Looks], summary="Where do the jaws stand, on which ring, what is bored?",
             response_description="The jaw cut with its proved program, as heldtrue bore --json.")  # fmt: skip
async def bore(desk: AtDesk, setup: SetupBody) -> Response:
    """How the jaws are cut."""
    return json(checked(await desk.pool.run("", work.bore_json, await remembered(desk, setup))))


@router.post("/recut", dependencies=[Looks], summary="What is the least to cut off a used jaw set, and what is left?",
             response_description="The re-cut with its proved program, as heldtrue recut --json.")  # fmt: skip
async def recut(desk: AtDesk, asked: RecutQuestion) -> Response:
    """How a used set is cut again."""
    found = await remembered(desk, asked.setup)
    measured = None if asked.measured is None else diameter("measured", asked.measured, found.units)
    runout = None if asked.runout is None else quantity("runout", asked.runout, "length", found.units)
    return json(checked(await desk.pool.run("", work.recut_json, found, measured, runout)))


@router.post("/start", summary="May the spindle start with what the gauge shows? Recorded.",
             response_description="The decision as it was recorded, and why.")  # fmt: skip
async def start(desk: AtDesk, viewer: SetsUp, question: StartQuestion) -> Response:
    """The gate before a start, written down."""
    by, found = name_of(viewer, question.by), read_setup(question.setup)
    unit = gauge_unit_of(found)
    typed_pressure(question.gauge, unit, found.chuck.plate_pressure)
    typed = with_unit(question.gauge, unit)
    made = checked(await desk.pool.run(
        question.id, worker.start, desk.records, found, question.id, typed, by, question.step, question.override, now(),
    ))  # fmt: skip
    return json(plain_json.dumps(asdict(made), ensure_ascii=False))


@router.post("/move", dependencies=[Looks], summary="What becomes of a setup on another chuck and machine?",
             response_description="Pressure there and every difference, as heldtrue move --json.")  # fmt: skip
async def move(desk: AtDesk, asked: MoveQuestion) -> Response:
    """The same draw force on another machine."""
    found, chuck, there = read_setup(asked.setup), await _chuck(desk, asked.chuck), None
    if asked.machine is not None or asked.max_speed is not None:
        there = {"name": asked.machine or "",
                 **({"max_speed": asked.max_speed} if asked.max_speed is not None else {})}  # fmt: skip
    return json(checked(await desk.pool.run("", work.move_json, desk.records, found, chuck, there, now())))


@router.get("/materials", dependencies=[Looks], summary="Which materials are built in?",
            response_description="Every number with its source, as heldtrue materials --json.")  # fmt: skip
async def materials() -> Response:
    """The built-in data of part and jaw materials."""
    from heldtrue.mechanics.materials import JAW_MATERIALS, WORK_MATERIALS

    data = {"work": [asdict(one) for one in WORK_MATERIALS], "jaws": [asdict(one) for one in JAW_MATERIALS]}
    return json(plain_json.dumps(data, indent=2, ensure_ascii=False))


async def _chuck(desk: Desk, asked: str | dict[str, Any]) -> dict[str, object]:
    """The table of a chuck as it was given, or from its card. Raises: ``InputError``."""
    if isinstance(asked, dict):
        return chuck_from(asked, "chuck")[1]
    card = await desk.remember(card_of, desk.store, ChuckRecord, asked, "chuck")
    table = plate_table(card)
    if not table:
        raise InputError(texts.API_NO_PLATE.format(chuck=asked))
    return table

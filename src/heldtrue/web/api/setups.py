"""The setups of the records: list them, read one, keep one, record a run."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path
from fastapi.responses import Response
from pydantic import Field

from heldtrue.shop.documents import setup_text, setups_text, text_of
from heldtrue.shop.runs import RunMade, record_run
from heldtrue.web import worker
from heldtrue.web.api.asked import (
    AtDesk,
    Looks,
    OfSetup,
    Remark,
    SetsUp,
    Typed,
    gauge_of,
    json,
    name_of,
    setup_asked,
    setup_of_records,
)
from heldtrue.web.desk import checked, now

router = APIRouter()
SetupId = Annotated[str, Path(min_length=1, max_length=100, description="What the setup is called in the records.")]
ReadingName = Annotated[str, Field(min_length=1, max_length=100)]


class EnterQuestion(OfSetup):
    """Keep a setup and its plan."""

    why: str = Field("", max_length=300, description="What changed in it, and why.")


class RunQuestion(OfSetup):
    """What was set, what came of it."""

    pressure: Typed | None = Field(None, description="Pressure set for roughing, or for the whole job: 18 bar.")
    finish_pressure: Typed | None = Field(None, description="Pressure set for the finish, if another.")
    speed: float | None = Field(None, ge=0.0, le=1e6, description="Spindle limit set, rev/min.")
    quantity: int = Field(0, ge=0, le=1_000_000_000, description="Good parts.")
    scrap: int = Field(0, ge=0, le=1_000_000_000, description="Scrapped parts.")
    lot: str = Field("", max_length=100, description="Lot of the material.")
    readings: dict[ReadingName, Annotated[float, Field(allow_inf_nan=False)]] = Field(
        default_factory=dict, max_length=100, description="What was measured, by name with its unit: runout_mm."
    )
    remark: Remark = ""


@router.get("/setups", dependencies=[Looks], summary="Which setups are in the records, and when did each last run?",
            response_description="Every setup with its last run, as heldtrue run list --json.")  # fmt: skip
async def setups(desk: AtDesk) -> Response:
    """Every setup, with its last run."""
    return json(await desk.remember(setups_text, desk.store))


@router.get("/setups/show/{id:path}", dependencies=[Looks], summary="What was run and started with a setup?",
            response_description="Runs, starts and changes, as heldtrue run show --json.")  # fmt: skip
async def setup(desk: AtDesk, id: SetupId) -> Response:
    """Every run and every start of a setup, and what has changed since the last run."""
    return json(await desk.remember(setup_text, desk.store, id))


@router.get("/setups/file/{id:path}", dependencies=[Looks], summary="What does a setup of the records hold?",
            response_description="The setup in the shape of the setup file, to ask /plan with.")  # fmt: skip
async def setup_file(desk: AtDesk, id: SetupId) -> Response:
    """A setup as it can be handed to /plan."""
    return json(text_of((await desk.remember(setup_of_records, desk.store, id)).to_dict()))


@router.post("/setups/enter", summary="Keep a setup and its plan; a new version where it has changed. Recorded.",
             response_description="Runs, starts and changes of it, as heldtrue run show --json.")  # fmt: skip
async def enter(desk: AtDesk, viewer: SetsUp, asked: EnterQuestion) -> Response:
    """As heldtrue run enter."""
    by, found = name_of(viewer, asked.by), await setup_asked(desk, asked)
    checked(await desk.pool.run("", worker.enter_setup, desk.records, found, asked.id, by, asked.why))
    return json(await desk.remember(setup_text, desk.store, asked.id))


@router.post("/runs/add", summary="A run was made: what was set, what came of it, what was different. Recorded.",
             response_description="Runs, starts and changes of the setup, as heldtrue run show --json.")  # fmt: skip
async def add_run(desk: AtDesk, viewer: SetsUp, asked: RunQuestion) -> Response:
    """As heldtrue run add."""
    by, found = name_of(viewer, asked.by), await setup_asked(desk, asked)
    made = RunMade(
        gauge_of(found, "pressure", asked.pressure), gauge_of(found, "finish_pressure", asked.finish_pressure),
        asked.speed, asked.quantity, asked.scrap, asked.lot,
        {name.strip(): value for name, value in asked.readings.items()}, asked.remark,
    )  # fmt: skip
    await desk.remember(record_run, desk.store, found, asked.id, made, by=by, now=now())
    return json(await desk.remember(setup_text, desk.store, asked.id))

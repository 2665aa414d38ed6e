"""The chucks: their plates, their logs, grip readings and grease."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path
from fastapi.responses import Response
from pydantic import Field

from heldtrue.planning.hardware_file import chuck_from
from heldtrue.records import ChuckRecord, GaugeReading, Greasing, Store
from heldtrue.shop.documents import chuck_text, chucks_text
from heldtrue.shop.enter import card_of
from heldtrue.shop.stock import chuck_cards
from heldtrue.shop.typed import typed_grip_reading
from heldtrue.web.api.asked import Asked, AtDesk, By, Id, Looks, Remark, SetsUp, Typed, json, name_of
from heldtrue.web.desk import now

router = APIRouter(prefix="/chucks")
ChuckId = Annotated[str, Path(min_length=1, max_length=100, description="Inventory number of the chuck.")]
AS_LOGGED = "What its log says then, as heldtrue chuck log --json."


class OfChuck(Asked):
    """What is written down for a chuck."""

    chuck: Id = Field(description="Inventory number of the chuck.")
    by: By = ""


class NewPlate(OfChuck):
    """A chuck, or a new version of its card."""

    plate: dict[str, Any] = Field(description="The chuck in the shape of the chuck file, nothing by 'use'.")
    machine: str | None = Field(None, min_length=1, max_length=100, description="Machine it stands on.")
    grease_days: int | None = Field(None, ge=1, le=10_000, description="Days between two greasings.")


class GripRead(OfChuck):
    """One reading of a grip gauge, chuck at rest."""

    pressure: Typed = Field(description="What the pressure gauge showed: 20 bar.")
    force: Typed = Field(description="Grip of all jaws together, with its unit: 62 kN.")
    device: str = Field("", max_length=100, description="Which grip gauge.")
    remark: Remark = ""


class Greased(OfChuck):
    """A chuck was greased."""

    what: str = Field("", max_length=100, description="Which grease.")


@router.get("", dependencies=[Looks], summary="Which chucks are there, and what does each log say?",
            response_description="Every chuck, as heldtrue chuck list --json.")  # fmt: skip
async def chucks(desk: AtDesk) -> Response:
    """Every chuck and what its log says."""
    return json(await desk.remember(chucks_text, desk.store, now()))


@router.get("/log/{chuck:path}", dependencies=[Looks], summary="Has the grip fallen, when is grease due?",
            response_description="Plate, readings, line and grease, as heldtrue chuck log --json.")  # fmt: skip
async def log(desk: AtDesk, chuck: ChuckId) -> Response:
    """Readings of a chuck, the line through them, whether the grip has fallen, when grease is due."""
    return json(await desk.remember(chuck_text, desk.store, chuck, now()))


@router.post("/add", summary="Enter a chuck from its plate, or a new version of its card. Recorded.",
             response_description=AS_LOGGED)  # fmt: skip
async def add(desk: AtDesk, viewer: SetsUp, asked: NewPlate) -> Response:
    """As heldtrue chuck add."""
    by = name_of(viewer, asked.by)

    def added(store: Store) -> str:
        _, table = chuck_from({**asked.plate, "number": asked.chuck}, "plate")
        cards = chuck_cards(store, asked.chuck, table, machine=asked.machine, grease_days=asked.grease_days)
        store.write(*cards, by=by)
        return chuck_text(store, asked.chuck, now())

    return json(await desk.remember(added, desk.store))


@router.post("/gauge", summary="Enter one reading of a grip gauge, chuck at rest. Recorded.",
             response_description=AS_LOGGED)  # fmt: skip
async def read(desk: AtDesk, viewer: SetsUp, asked: GripRead) -> Response:
    """As heldtrue chuck gauge."""
    by = name_of(viewer, asked.by)

    def kept(store: Store) -> str:
        card = card_of(store, ChuckRecord, asked.chuck, "chuck")
        pressure, force = typed_grip_reading(asked.pressure, asked.force, card)
        store.write(
            GaugeReading(at=now(), by=by, chuck=card.id, device=asked.device, remark=asked.remark, pressure=pressure,
                         force=force), by=by,
        )  # fmt: skip
        return chuck_text(store, card.id, now())

    return json(await desk.remember(kept, desk.store))


@router.post("/grease", summary="Enter that a chuck was greased. Recorded.", response_description=AS_LOGGED)
async def grease(desk: AtDesk, viewer: SetsUp, asked: Greased) -> Response:
    """As heldtrue chuck grease."""
    by = name_of(viewer, asked.by)

    def kept(store: Store) -> str:
        card = card_of(store, ChuckRecord, asked.chuck, "chuck")
        store.write(Greasing(at=now(), by=by, chuck=card.id, grease=asked.what), by=by)
        return chuck_text(store, card.id, now())

    return json(await desk.remember(kept, desk.store))

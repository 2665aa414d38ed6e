"""What the shop owns besides chucks and jaw sets: machines, blanks, rings, tools, and the revisions of its parts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response
from pydantic import Field

from heldtrue.planning.hardware_file import jaws_from, rings_from, tool_from
from heldtrue.records import MachineRecord, PartRecord, Revision, Store
from heldtrue.records.things import Thing
from heldtrue.shop.documents import cards_text, stock_text, text_of
from heldtrue.shop.enter import card_of
from heldtrue.shop.stock import blank_card, over, ring_cards, tool_card, with_old_revision
from heldtrue.web.api.asked import Asked, AtDesk, By, Id, Looks, SetsUp, Typed, json, name_of, quantity
from heldtrue.web.desk import Desk, now

router = APIRouter(prefix="/stock")
AS_LISTED = "The cards as they stand then, as heldtrue stock list --json has them."


class OfStock(Asked):
    """What is written down for stock."""

    by: By = ""
    place: str = Field("", max_length=100, description="Where it lies.")


class NewMachine(Asked):
    """A lathe."""

    id: Id = Field(description="What it is called.")
    max_speed: float | None = Field(None, gt=0.0, le=1e6, description="Highest spindle speed, rev/min.")
    max_swing: Typed | None = Field(None, description="Largest diameter it turns: 350 mm.")
    by: By = ""


class NewBlank(OfStock):
    """A kind of uncut jaws."""

    id: Id = Field(description="What this kind of blank is called.")
    jaws: dict[str, Any] = Field(description="An uncut jaw in the shape of the jaw file.")
    in_stock: int = Field(0, ge=0, le=1_000_000, description="How many complete sets lie there.")


class NewRings(OfStock):
    """Boring rings."""

    rings: list[dict[str, Any]] = Field(min_length=1, max_length=100, description="As [[ring]] of the ring file.")
    units: str = Field("metric", max_length=10, description="metric or inch: of bare numbers.")


class NewTool(OfStock):
    """A tool that cuts jaws."""

    tool: dict[str, Any] = Field(description="The tool in the shape of the tool file.")


class NewRevision(Asked):
    """A new revision of a part's drawing came in."""

    part: Id = Field(description="Number of the part.")
    revision: Id = Field(description="The new revision.")
    changes: str = Field("", max_length=1000, description="What it changes.")
    by: By = ""


@router.get("", dependencies=[Looks], summary="Which machines, blanks, rings and tools are there?",
            response_description="Every card, as heldtrue stock list --json.")  # fmt: skip
async def stock(desk: AtDesk) -> Response:
    """Every machine, blank, ring and tool."""
    return json(await desk.remember(stock_text, desk.store))


@router.post("/machine", summary="Enter a lathe. Recorded.", response_description=AS_LISTED)
async def machine(desk: AtDesk, viewer: SetsUp, asked: NewMachine) -> Response:
    """As heldtrue stock machine."""
    swing = None if asked.max_swing is None else quantity("max_swing", asked.max_swing, "length", "metric")
    card = MachineRecord(id=asked.id, name=asked.id, max_speed_rpm=asked.max_speed, max_swing=swing)
    return await _keep(desk, [card], name_of(viewer, asked.by))


@router.post("/blank", summary="Enter a kind of uncut jaws, or how many sets are left. Recorded.",
             response_description=AS_LISTED)  # fmt: skip
async def blank(desk: AtDesk, viewer: SetsUp, asked: NewBlank) -> Response:
    """As heldtrue stock blank."""
    card = blank_card(*jaws_from(asked.jaws, "jaws"), id=asked.id, in_stock=asked.in_stock, place=asked.place)
    return await _keep(desk, [card], name_of(viewer, asked.by))


@router.post("/rings", summary="Enter boring rings. Recorded.", response_description=AS_LISTED)
async def rings(desk: AtDesk, viewer: SetsUp, asked: NewRings) -> Response:
    """As heldtrue stock rings."""
    found = rings_from({"ring": asked.rings, "units": asked.units}, "rings")
    return await _keep(desk, ring_cards(found, place=asked.place), name_of(viewer, asked.by))


@router.post("/tool", summary="Enter a tool that cuts jaws. Recorded.", response_description=AS_LISTED)
async def tool(desk: AtDesk, viewer: SetsUp, asked: NewTool) -> Response:
    """As heldtrue stock tool."""
    card = tool_card(*tool_from(asked.tool, "tool"), place=asked.place)
    return await _keep(desk, [card], name_of(viewer, asked.by))


@router.post("/revision", summary="Enter a new revision of a part's drawing. Recorded.",
             response_description="The part, its revision, and the setups that still have another.")  # fmt: skip
async def revision(desk: AtDesk, viewer: SetsUp, asked: NewRevision) -> Response:
    """As heldtrue stock revision."""
    by = name_of(viewer, asked.by)

    def kept(store: Store) -> str:
        card_of(store, PartRecord, asked.part, "part")
        store.write(Revision(at=now(), by=by, part=asked.part, revision=asked.revision, changes=asked.changes), by=by)
        old = [{"id": one.id, "revision": one.revision}
               for one in with_old_revision(store, asked.part, asked.revision)]  # fmt: skip
        return text_of({"part": asked.part, "revision": asked.revision, "setups_with_another": old})

    return json(await desk.remember(kept, desk.store))


async def _keep(desk: Desk, cards: Sequence[Thing], by: str) -> Response:
    """New cards, or new versions of those there are."""

    def kept(store: Store) -> str:
        written = store.write(*(over(store, card) for card in cards), by=by)
        return cards_text([one for one in written if isinstance(one, Thing)])

    return json(await desk.remember(kept, desk.store))

"""The jaw shelf: find a set, see its history, record what was done with it."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Path, Query
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field

from heldtrue.records import JawSet, SetMove, Store
from heldtrue.shop.documents import recalled_text, set_text, sets_text, text_of
from heldtrue.shop.enter import card_of
from heldtrue.shop.shelf import MoveKind, Reading, move_of, new_jaw_set, with_standing
from heldtrue.web import worker
from heldtrue.web.api.asked import (
    Asked,
    AtDesk,
    By,
    Id,
    Looks,
    OfSetup,
    Remark,
    SetsUp,
    SetupTable,
    Typed,
    diameter,
    json,
    name_of,
    quantity,
    read_setup,
    setup_asked,
)
from heldtrue.web.desk import Desk, checked, now
from heldtrue.web.who import Viewer

router = APIRouter(prefix="/shelf")
SetId = Annotated[str, Path(min_length=1, max_length=100, description="Number of the jaw set.")]
AS_SHOWN = "How the set stands then, and its history, as heldtrue shelf show --json."


class ListQuestion(BaseModel):
    """Which sets are listed."""

    model_config = ConfigDict(extra="forbid")

    retired: bool = Field(False, description="The retired too.")


class SearchQuestion(BaseModel):
    """What is looked for."""

    model_config = ConfigDict(extra="forbid")

    what: str = Field(min_length=1, max_length=300,
                      description="What to search for: about 82, aluminium, last spring, machine 3.")  # fmt: skip
    southern: bool = Field(False, description="Seasons of the southern half of the world.")


class FindQuestion(Asked):
    """Which jaws will do?"""

    setup: SetupTable
    any_style: bool = Field(False, description="Jaws of another style too.")
    any_material: bool = Field(False, description="Jaws of another material too.")


class CutMade(OfSetup):
    """The jaws of a setup were cut as planned."""

    diameter: Typed | None = Field(None, description="As measured near the seat; if left out it counts as planned.")
    error: Typed | None = Field(None, description="How far that may be off; 0.01 mm if left out.")
    depth: Typed | None = Field(None, description="Depth as measured, jaw fronts to seat.")
    depth_error: Typed | None = Field(None, description="How far that may be off; 0.02 mm if left out.")
    measured: Typed | None = Field(None, description="Of a re-cut: the diameter touched off before.")
    remark: Remark = ""


class OfSet(Asked):
    """What is written down for a set."""

    jaw_set: Id = Field(description="Number of the jaw set.")
    by: By = ""
    remark: Remark = ""


class NewSet(OfSet):
    """A set that was not on the shelf."""

    style: Literal["standard", "wide", "pie"]
    material: str = Field(max_length=100, description="What they are made of.")
    serration: str = Field("", max_length=100, description="Their teeth, as the setup file names them.")
    jaws: int = Field(3, ge=1, le=100, description="How many jaws.")
    place: str = Field("", max_length=100, description="Where it lies.")


class TakenOut(OfSet):
    """A set is checked out."""

    holder: str = Field("", max_length=60, description="Who has it; whoever enters it if left out.")


class BroughtBack(OfSet):
    """A set is checked in."""

    place: str = Field("", max_length=100, description="Where it lies.")
    missing: list[Annotated[int, Field(ge=1, le=100)]] = Field(
        default_factory=list, max_length=100, description="Numbers of the jaws that are missing."
    )


class Looked(OfSet):
    """Somebody looked at a set."""

    state: Literal["good", "skim first", "scrap"] = Field(description="How it is.")


@router.get("", dependencies=[Looks], summary="Which jaw sets are there, and how does each stand?",
            response_description="Every set, as heldtrue shelf list --json.")  # fmt: skip
async def sets(desk: AtDesk, asked: Annotated[ListQuestion, Query()]) -> Response:
    """Every jaw set and how it stands."""
    return json(await desk.remember(sets_text, desk.store, asked.retired))


@router.get("/show/{jaw_set:path}", dependencies=[Looks], summary="How does a set stand, and what happened to it?",
            response_description="The set with its history, as heldtrue shelf show --json.")  # fmt: skip
async def one(desk: AtDesk, jaw_set: SetId) -> Response:
    """One set: how it stands, and everything that happened to it."""
    return json(await desk.remember(set_text, desk.store, jaw_set))


@router.get("/search", dependencies=[Looks], summary="Which set was it that I remember?",
            response_description="The sets, the nearest first, as heldtrue shelf search --json.")  # fmt: skip
async def search(desk: AtDesk, asked: Annotated[SearchQuestion, Query()]) -> Response:
    """Jaw sets by what somebody remembers of them."""
    return json(await desk.remember(recalled_text, desk.store, asked.what, now(), asked.southern))


@router.post("/find", dependencies=[Looks], summary="Which jaws will do for a setup, the cheapest first?",
             response_description="Sets and blanks, as heldtrue shelf find --json.")  # fmt: skip
async def find(desk: AtDesk, asked: FindQuestion) -> Response:
    """As they are, skimmed or re-cut; else which blank to take."""
    found, _ = checked(await desk.pool.run("", worker.find_jaws, desk.records, read_setup(asked.setup),
                                           asked.any_style, asked.any_material))  # fmt: skip
    return json(text_of(found))


@router.post("/cut", summary="The jaws of a setup were cut as planned. Recorded.", response_description=AS_SHOWN)
async def cut(desk: AtDesk, viewer: SetsUp, asked: CutMade) -> Response:
    """As heldtrue shelf cut."""
    by = name_of(viewer, asked.by)
    found, _ = await desk.remember(with_standing, await setup_asked(desk, asked), desk.store)
    before = None if asked.measured is None else diameter("measured", asked.measured, found.units)
    size = None if asked.diameter is None else diameter("diameter", asked.diameter, found.units)

    def typed(name: str) -> float | None:
        text = getattr(asked, name)
        return None if text is None else quantity(name, text, "length", found.units)

    kept = checked(await desk.pool.run(
        "", worker.record_cut, desk.records, found, asked.id, by, now(), measured=before,
        diameter=Reading(size, typed("error")), depth=Reading(typed("depth"), typed("depth_error")),
        remark=asked.remark,
    ))  # fmt: skip
    return json(await desk.remember(set_text, desk.store, kept.standing.jaw_set))


@router.post("/add", summary="Put a new set on the shelf. Recorded.", response_description=AS_SHOWN)
async def add(desk: AtDesk, viewer: SetsUp, asked: NewSet) -> Response:
    """As heldtrue shelf add."""
    by, number = name_of(viewer, asked.by), asked.jaw_set
    card = new_jaw_set(number, asked.style, asked.material, serration=asked.serration, jaws=asked.jaws,
                       remark=asked.remark)  # fmt: skip
    moves = [SetMove(at=now(), by=by, jaw_set=number, kind="in", place=asked.place)] if asked.place else []
    await desk.remember(desk.store.write, card, *moves, by=by)
    return json(await desk.remember(set_text, desk.store, number))


@router.post("/out", summary="Check a set out. Recorded.", response_description=AS_SHOWN)
async def out(desk: AtDesk, viewer: SetsUp, asked: TakenOut) -> Response:
    """As heldtrue shelf out."""
    return await _move(desk, viewer, asked, "out", holder=asked.holder)


@router.post("/in", summary="Check a set back in. Recorded.", response_description=AS_SHOWN)
async def back(desk: AtDesk, viewer: SetsUp, asked: BroughtBack) -> Response:
    """As heldtrue shelf in."""
    return await _move(desk, viewer, asked, "in", place=asked.place, missing=tuple(asked.missing))


@router.post("/condition", summary="Say in what condition a set is. Recorded.", response_description=AS_SHOWN)
async def condition(desk: AtDesk, viewer: SetsUp, asked: Looked) -> Response:
    """As heldtrue shelf condition."""
    return await _move(desk, viewer, asked, "condition", condition=asked.state)


@router.post("/retire", summary="Take a set off the shelf for good; its history stays. Recorded.",
             response_description=AS_SHOWN)  # fmt: skip
async def retire(desk: AtDesk, viewer: SetsUp, asked: OfSet) -> Response:
    """As heldtrue shelf retire."""
    by = name_of(viewer, asked.by)

    def retired(store: Store) -> str:
        card = card_of(store, JawSet, asked.jaw_set, "jaw set")
        store.write(replace(card, retired=True), by=by, why=asked.remark or "retired")
        return set_text(store, asked.jaw_set)

    return json(await desk.remember(retired, desk.store))


async def _move(desk: Desk, viewer: Viewer, asked: OfSet, kind: MoveKind, **more: Any) -> Response:
    by = name_of(viewer, asked.by)

    def moved(store: Store) -> str:
        store.write(move_of(store, asked.jaw_set, kind, by=by, now=now(), remark=asked.remark, **more), by=by)
        return set_text(store, asked.jaw_set)

    return json(await desk.remember(moved, desk.store))

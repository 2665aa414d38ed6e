"""What is asked: strict bodies, who asks, a setup that reads no file of this computer, quantities as typed."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import Body, Depends, Request
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.exceptions import HTTPException

from heldtrue.errors import InputError
from heldtrue.planning.gauge_words import typed_pressure
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.program.dialect import shipped
from heldtrue.quantities import UnitSystem, parse_quantity
from heldtrue.records import SetupRecord, Store, open_setup
from heldtrue.shop.enter import card_of
from heldtrue.shop.from_records import with_records
from heldtrue.shop.typed import typed_diameter
from heldtrue.web import texts
from heldtrue.web.access.door import VIEWER
from heldtrue.web.desk import Desk, now
from heldtrue.web.who import AT_THIS_PC, Role, Viewer

Units = Literal["metric", "inch"]
SetupTable = Annotated[dict[str, Any], Field(description="A setup in the shape of the setup file, nothing by 'use'.")]
SetupBody = Annotated[dict[str, Any], Body(description="A setup in the shape of the setup file, nothing by 'use'.")]
Id = Annotated[str, Field(min_length=1, max_length=100)]
Word = Annotated[str, Field(max_length=60)]
Typed = Annotated[str, Field(min_length=1, max_length=60)]
Remark = Annotated[str, Field(max_length=1000, description="Anything to know later.")]
By = Annotated[str, Field(max_length=60, description="Name or initials; of a shared app always whose key it is.")]


class Asked(BaseModel):
    """A body: nothing it does not know, nothing of another type."""

    model_config = ConfigDict(extra="forbid", strict=True)


class OfSetup(Asked):
    """What is written down for a setup."""

    id: Id = Field(description="What the setup is called in the records.")
    setup: SetupTable | None = Field(None, description="A setup in the shape of the setup file; "
                                                       "that of the records under this id if left out.")  # fmt: skip
    by: By = ""


async def _desk(request: Request) -> Desk:
    found = request.app.state.desk
    assert isinstance(found, Desk)
    return found


AtDesk = Annotated[Desk, Depends(_desk)]


def _allowed(request: Request, desk: Desk, role: Role) -> Viewer:
    """Whose request it is. Raises: ``HTTPException`` where they may not do what this role does."""
    found = AT_THIS_PC if desk.door is None else request.scope.get(VIEWER)
    if found is not None and not found.may(role):
        desk.note_refused(found, role)
    if found is None or not found.may(role):
        raise HTTPException(403, texts.MAY_NOT.format(role=found.role if found else "nothing"))
    return found


async def _looks(request: Request, desk: AtDesk) -> Viewer:
    return _allowed(request, desk, "look")


async def _sets_up(request: Request, desk: AtDesk) -> Viewer:
    return _allowed(request, desk, "set up")


Looks = Depends(_looks)
"""Whoever may look may ask this."""
SetsUp = Annotated[Viewer, Depends(_sets_up)]
"""Whoever may set up; their name is written down."""


def name_of(viewer: Viewer, said: str) -> str:
    """Who is written down. Raises: ``InputError`` for no name, and for another name than that of the key."""
    if viewer.name and said.strip() not in ("", viewer.name):
        raise InputError(texts.NOT_YOUR_NAME.format(name=viewer.name))
    if not (viewer.name or said.strip()):
        raise InputError(texts.API_NEED_NAME)
    return viewer.name or said.strip()


def read_setup(raw: dict[str, Any]) -> Setup:
    """Read one; no file of this computer is read for it. Raises: ``InputError``."""
    found = Setup.from_dict(raw, base_dir=None)
    template = found.boring.template if found.boring is not None else None
    if template is not None and template not in shipped():
        raise InputError(texts.NO_SERVER_FILES)
    return found


async def remembered(desk: Desk, raw: dict[str, Any]) -> Setup:
    """A setup with what the records know of its chuck and its jaws, as the commands plan it. Raises: ``InputError``."""

    def known() -> Setup:
        return with_records(read_setup(raw), desk.store, now())[0]

    return await desk.remember(known)


async def setup_asked(desk: Desk, asked: OfSetup) -> Setup:
    """The setup that is meant: the one given, or the one the records have under its id. Raises: ``InputError``."""
    if asked.setup is not None:
        return read_setup(asked.setup)
    return await desk.remember(setup_of_records, desk.store, asked.id)


def setup_of_records(store: Store, id: str) -> Setup:
    """A setup by its id. Raises: ``InputError`` where there is none."""
    return open_setup(card_of(store, SetupRecord, id, "setup").document)


def quantity(name: str, typed: str, kind: str, system: UnitSystem) -> float:
    """What was typed, in the core unit of its kind. Raises: ``InputError`` with the name of the field."""
    try:
        return parse_quantity(typed, kind, system)
    except InputError as error:
        raise InputError(f"{name}: {error}") from error


def diameter(name: str, typed: str, system: UnitSystem) -> float:
    """A diameter, with or without its sign [mm]. Raises: ``InputError`` with the name of the field."""
    try:
        return typed_diameter(typed, system)
    except InputError as error:
        raise InputError(f"{name}: {error}") from error


def gauge(name: str, typed: str, unit: str) -> float:
    """What was typed off a gauge with that unit [MPa]. Raises: ``InputError`` with the name of the field."""
    try:
        return typed_pressure(typed, unit)
    except InputError as error:
        raise InputError(f"{name}: {error}") from error


def gauge_of(setup: Setup, name: str, typed: str | None) -> float | None:
    """What was typed off the gauge of a setup [MPa], if anything. Raises: as ``gauge``."""
    return None if typed is None else gauge(name, typed, gauge_unit_of(setup))


def at_pressure(setup: Setup, typed: str | None) -> Setup:
    """The setup clamped at what was typed. Raises: ``InputError``."""
    if typed is None:
        return setup
    return setup.with_({"run.pressure": quantity("pressure", typed, "pressure", setup.units)})


def json(text: str) -> Response:
    """A document, written already."""
    return Response(text, media_type="application/json")

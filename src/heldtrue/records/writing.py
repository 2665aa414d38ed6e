"""One action written: its cards, its history, and the standings that follow from them. Runs inside a transaction."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from sqlalchemy import Connection, Table, delete, insert, select, update

from heldtrue.errors import InputError
from heldtrue.records.errors import ConflictError
from heldtrue.records.events import Event, Photo, RunRecord, SetCut, SetMove, StartDecision
from heldtrue.records.kinds import Record, record_of, references, row_of, table_of, to_document, word_for
from heldtrue.records.reading import STANDINGS, as_row, events_of, row_by_id, standing_row
from heldtrue.records.require import keepable
from heldtrue.records.seals import SEAL, add_link, sealed
from heldtrue.records.standing import standing_of
from heldtrue.records.tables import Action, Versions, plain
from heldtrue.records.things import JawSet, Thing

CLOCK_SLACK = timedelta(minutes=10)
"""How far ahead the clock of another machine of the shop may be: common practice, no source."""
ACTIONS, VERSIONS = plain(Action), plain(Versions)


def action_row(id: str, by: str, why: str) -> dict[str, Any]:
    """The row that says who entered it.

    Raises: ``InputError`` without a name.
    """
    if not by.strip():
        raise InputError("by is empty: give the name of who enters it")
    keepable(by, "by")
    keepable(why, "why")
    return {"id": id, "at": datetime.now(UTC), "by": by, "why": why, "program": _program()}


def write(connection: Connection, action: Mapping[str, Any], records: Sequence[Record]) -> tuple[Record, ...]:
    """Write one action; done already, where the answer of an earlier try got lost.

    Raises: ``ConflictError``, ``InputError``.
    """
    rows = [row_of(record) for record in records]
    entry = _Entry(connection, action)
    if connection.execute(select(ACTIONS.c.id).where(ACTIONS.c.id == action["id"])).first():
        return tuple(_again(connection, record) for record in records)
    written: list[Record] = []
    for record, row in zip(records, rows, strict=True):
        _check_references(connection, record)
        if isinstance(record, Thing):
            written.append(_write_card(connection, entry, record, row))
        else:
            _refuse_what_has_not_happened(record)
            written.append(_write_event(connection, entry, record, row))
    entry.close()
    return tuple(written)


class _Entry:
    """One action as it is written: its own row goes in before the first that names it, its link last."""

    def __init__(self, connection: Connection, action: Mapping[str, Any]) -> None:
        self.connection, self.action, self.seals = connection, action, list[str]()

    def put(self, table: Table, row: Mapping[str, Any]) -> None:
        """Add a row that names the action."""
        if not self.seals:
            self._insert(ACTIONS, self.action)
        self._insert(table, {**row, "action": self.action["id"]})

    def close(self) -> None:
        """Chain it; an action that added nothing, for all was there already, leaves nothing."""
        if self.seals:
            add_link(self.connection, self.action["id"], self.seals)

    def _insert(self, table: Table, row: Mapping[str, Any]) -> None:
        row = sealed(table, row)
        self.connection.execute(insert(table), row)
        self.seals.append(row[SEAL])


def derive(connection: Connection, jaw_set: str) -> None:
    """Make the standing of one set anew from its card and history."""
    card = row_by_id(connection, table_of(JawSet), jaw_set)
    assert card is not None
    happened: list[SetCut | SetMove] = [*events_of(connection, SetCut, {"jaw_set": jaw_set})]
    happened += events_of(connection, SetMove, {"jaw_set": jaw_set})
    now = standing_of(record_of(JawSet, card), happened)
    connection.execute(delete(STANDINGS).where(STANDINGS.c.jaw_set == jaw_set))
    connection.execute(insert(STANDINGS), as_row(now))


def _refuse_what_has_not_happened(event: Event) -> None:
    """Raise ``InputError`` for a row dated ahead: what is due, and what holds now, is told by these times."""
    now = datetime.now(UTC)
    if event.at > now + CLOCK_SLACK:
        raise InputError(
            f"{word_for(event)}: dated {event.at:%Y-%m-%d %H:%M}, ahead of this computer's {now:%Y-%m-%d %H:%M} UTC; "
            "nothing is written down before it has happened: set the clock or the date right"
        )


def _write_card(connection: Connection, entry: _Entry, card: Thing, row: dict[str, Any]) -> Thing:
    table, word = table_of(type(card)), word_for(card)
    stands = row_by_id(connection, table, card.id)
    row = sealed(table, row | {"version": card.version + 1})
    written = dataclasses.replace(card, version=card.version + 1)
    if stands is None and card.version:
        raise InputError(f"there is no {word} {card.id!r} in the records to change")
    if stands is None:
        connection.execute(insert(table), row)
    elif stands["version"] != card.version:
        theirs = record_of(type(card), stands)
        raise ConflictError(_who_was_first(connection, table, card, theirs), card, theirs)
    else:
        connection.execute(update(table).where(table.c.id == card.id), row)
    document = to_document(written)
    entry.put(VERSIONS, {"kind": table.name, "thing": card.id, "version": written.version, "document": document})
    if isinstance(card, JawSet):
        derive(connection, card.id)
    return written


def _who_was_first(connection: Connection, table: Table, mine: Thing, theirs: Thing) -> str:
    query = (
        select(ACTIONS.c.by, ACTIONS.c.at)
        .join(VERSIONS, VERSIONS.c.action == ACTIONS.c.id)
        .where(VERSIONS.c.kind == table.name, VERSIONS.c.thing == mine.id, VERSIONS.c.version == theirs.version)
    )
    who, when = connection.execute(query).one()
    what = f"{word_for(mine)} {mine.id}"
    if mine.version == 0:
        return f"{what} is there already, entered by {who} on {when.astimezone():%Y-%m-%d %H:%M}: open it to change it"
    differs = [
        field.name for field in dataclasses.fields(mine)
        if field.name != "version" and getattr(mine, field.name) != getattr(theirs, field.name)
    ]  # fmt: skip
    return (
        f"{what}: {who} changed it on {when.astimezone():%Y-%m-%d %H:%M}, since you opened it; nothing of yours was "
        "written. "
        f"Yours and theirs differ in {', '.join(differs) or 'nothing'}: look at theirs, then change it again"
    )


def _write_event(connection: Connection, entry: _Entry, event: Event, row: dict[str, Any]) -> Event:
    table = table_of(type(event))
    stands = row_by_id(connection, table, event.id)
    if stands is not None:
        there = record_of(type(event), stands)
        if isinstance(event, Photo) or _same(there, event):
            return there
        raise ConflictError(f"{word_for(event)} {event.id} is there already with other content", event, there)
    touched = {row["jaw_set"]} if isinstance(event, SetCut | SetMove) else set()
    if event.corrects is not None:
        touched |= _corrected_set(connection, table, event)
    if isinstance(event, SetMove) and event.kind == "out" and event.corrects is None:
        _check_is_in(connection, event)
    if isinstance(event, RunRecord | StartDecision):
        event = _of_version(connection, event)
        row["setup_version"] = event.setup_version
    entry.put(table, row)
    for jaw_set in sorted(touched):
        derive(connection, jaw_set)
    return event


def _same(there: Event, event: Event) -> bool:
    """Is it the same row? One that asked for the newest version got that version."""
    if isinstance(event, RunRecord | StartDecision) and event.setup_version == 0:
        assert isinstance(there, RunRecord | StartDecision)
        event = dataclasses.replace(event, setup_version=there.setup_version)
    return there == event


def _corrected_set(connection: Connection, table: Table, event: Event) -> set[str]:
    """The set whose history a correction changes, which need not be the one it names."""
    first = connection.execute(select(table.c.by, table.c.at).where(table.c.corrects == event.corrects)).first()
    if first:
        raise ConflictError(
            f"{word_for(event)} {event.corrects} was corrected already, by {first.by} on {first.at:%Y-%m-%d}: "
            "put that correction right",
            event,
        )
    if not isinstance(event, SetCut | SetMove):
        return set()
    old = row_by_id(connection, table, event.corrects or "")
    return {old["jaw_set"]} if old else set()


def _check_is_in(connection: Connection, move: SetMove) -> None:
    now = standing_row(connection, move.jaw_set)
    if now and now.holder and now.holder != (move.holder or move.by):
        raise ConflictError(f"jaw set {move.jaw_set} is out already: {now.holder} has it", move, now)


def _of_version(connection: Connection, event: RunRecord | StartDecision) -> RunRecord | StartDecision:
    """The event with the version of the setup it belongs to."""
    query = select(VERSIONS.c.version).where(VERSIONS.c.kind == "setups", VERSIONS.c.thing == event.setup)
    there = set(connection.execute(query).scalars())
    if event.setup_version == 0:
        return dataclasses.replace(event, setup_version=max(there))
    if event.setup_version not in there:
        raise InputError(f"setup {event.setup} has versions 1 to {max(there)}, not {event.setup_version}")
    return event


def _check_references(connection: Connection, record: Record) -> None:
    """Say which reference leads nowhere; the database would only say that one does."""
    for name, table in references(type(record)):
        value = getattr(record, name)
        if value is not None and row_by_id_is_missing(connection, table, value):
            raise InputError(f"{word_for(record)} {record.id}: {name} {value!r} is not in the records ({table.name})")


def row_by_id_is_missing(connection: Connection, table: Table, id: Any) -> bool:
    """Is there no row with this id?"""
    return connection.execute(select(table.c.id).where(table.c.id == id)).first() is None


def _again(connection: Connection, record: Record) -> Record:
    """A record as the earlier try gave it back."""
    if isinstance(record, Thing):
        return dataclasses.replace(record, version=record.version + 1)
    row = row_by_id(connection, table_of(type(record)), record.id)
    assert row is not None
    return record_of(type(record), row)


def _program() -> str:
    try:
        return version("heldtrue")
    except PackageNotFoundError:
        return ""

"""Which record lives in which table, and how one becomes the other. Names of fields and columns are the same."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from datetime import datetime
from typing import Any, TypeVar

from sqlalchemy import Boolean, Table

from heldtrue.errors import InputError
from heldtrue.records import events, tables, things
from heldtrue.records.columns import Json, Moment
from heldtrue.records.events import Event
from heldtrue.records.require import keepable
from heldtrue.records.seals import must_match
from heldtrue.records.things import Thing

Record = Thing | Event
R = TypeVar("R", bound=Thing | Event)
T = TypeVar("T", bound=Thing)
E = TypeVar("E", bound=Event)

THINGS: dict[type[Thing], type[tables.Base]] = {
    things.MachineRecord: tables.Machine,
    things.ActuatorRecord: tables.Actuator,
    things.ChuckRecord: tables.Chuck,
    things.BlankRecord: tables.Blank,
    things.RingRecord: tables.Ring,
    things.ToolRecord: tables.Tool,
    things.PartRecord: tables.Part,
    things.JawSet: tables.JawSetCard,
    things.SetupRecord: tables.SetupCard,
    things.Tag: tables.TagCard,
}
EVENTS: dict[type[Event], type[tables.Base]] = {
    events.Photo: tables.PhotoRow,
    events.Revision: tables.RevisionRow,
    events.SetCut: tables.SetCutRow,
    events.SetMove: tables.SetMoveRow,
    events.StartDecision: tables.StartDecisionRow,
    events.RunRecord: tables.RunRow,
    events.IndicatorReading: tables.IndicatorReadingRow,
    events.GaugeReading: tables.GaugeReadingRow,
    events.Greasing: tables.GreasingRow,
}
WORDS: dict[type[Thing], str] = {
    things.MachineRecord: "machine", things.ActuatorRecord: "actuator", things.ChuckRecord: "chuck",
    things.BlankRecord: "jaw blank", things.RingRecord: "boring ring", things.ToolRecord: "tool",
    things.PartRecord: "part", things.JawSet: "jaw set", things.SetupRecord: "setup", things.Tag: "tag",
}  # fmt: skip


def table_of(kind: type[Record]) -> Table:
    """The table a kind of record lives in."""
    model = THINGS[kind] if issubclass(kind, Thing) else EVENTS[kind]
    return tables.plain(model)


def kind_of(table: str) -> type[Record] | None:
    """The kind of record that lives in a table; None for the store's own tables."""
    return _BY_TABLE.get(table)


def word_for(record: Record | type[Record]) -> str:
    """What a kind of record is called."""
    kind = record if isinstance(record, type) else type(record)
    if issubclass(kind, Thing):
        return WORDS[kind]
    return {"runs": "run"}.get(table_of(kind).name, table_of(kind).name.replace("_", " ").removesuffix("s"))


def row_of(record: Record) -> dict[str, Any]:
    """A record as a row of its table.

    Raises: ``InputError`` for a value that one of the databases, or a plain file, could not keep.
    """
    table = table_of(type(record))
    row: dict[str, Any] = {}
    for field in dataclasses.fields(record):
        value = getattr(record, field.name)
        where = f"{word_for(record)} {record.id}, {field.name}"
        if isinstance(table.c[field.name].type, Json) and value is not None:
            value = _plain(value)
        keepable(value, where)
        row[field.name] = _fitting(value, table, field.name, where)
    return row


def record_of(kind: type[R], row: Mapping[Any, Any]) -> R:
    """A row of its table as the record. Raises: ``DamagedError`` where it is not as it was written."""
    must_match(_TABLES[kind], row)
    return unsealed(kind, row)


def unsealed(kind: type[R], row: Mapping[Any, Any]) -> R:
    """A row as the record, whatever its seal: of a file from outside, where it need not have one."""
    values: dict[str, Any] = {}
    for name, is_tuple in _FIELDS[kind]:
        value = row[name]
        values[name] = tuple(value) if is_tuple else value
    return kind(**values)


def to_document(record: Thing) -> dict[str, Any]:
    """A card as a JSON document."""
    return {k: v.isoformat() if isinstance(v, datetime) else v for k, v in row_of(record).items()}


def from_document(kind: type[T], document: Mapping[str, Any]) -> T:
    """The card such a document keeps; what it does not say, or this program does not know, is left at its default."""
    columns = table_of(kind).c
    values: dict[str, Any] = {}
    for name, is_tuple in _FIELDS[kind]:
        if name in document:
            value = document[name]
            if isinstance(columns[name].type, Moment) and value is not None:
                value = datetime.fromisoformat(value)
            values[name] = tuple(value) if is_tuple else value
    return kind(**values)


def references(kind: type[Record]) -> tuple[tuple[str, Table], ...]:
    """The fields of a record that hold an id of another row, and the table it is in."""
    found = []
    for column in table_of(kind).columns:
        for key in column.foreign_keys:
            if column.name != "action":
                found.append((column.name, key.column.table))
    return tuple(found)


def _fitting(value: Any, table: Table, name: str, where: str) -> Any:
    """The value as its column holds it; SQLite would keep anything anywhere."""
    column = table.c[name]
    if isinstance(column.type, Json):
        return value
    if value is None:
        if not column.nullable:
            raise InputError(f"{where}: must be given")
        return None
    wanted = column.type.python_type
    if wanted is float and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    if isinstance(value, bool) != isinstance(column.type, Boolean) or not isinstance(value, wanted):
        raise InputError(f"{where}: {value!r} must be a {wanted.__name__}")
    return value


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    return value


_RECORDS: list[type[Record]] = [*THINGS, *EVENTS]
_BY_TABLE = {table_of(kind).name: kind for kind in _RECORDS}
_TABLES: dict[Any, Table] = {kind: table_of(kind) for kind in _RECORDS}
_FIELDS: dict[Any, tuple[tuple[str, bool], ...]] = {
    kind: tuple((field.name, str(field.type).startswith("tuple[")) for field in dataclasses.fields(kind))
    for kind in _RECORDS
}
"""Names of the fields of every kind, and whether each is a list in its table."""

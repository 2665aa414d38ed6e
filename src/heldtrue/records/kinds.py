"""Which record lives in which table, and how one becomes the other. Names of fields and columns are the same."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from datetime import datetime
from typing import Any, NamedTuple, TypeVar

from sqlalchemy import ColumnElement, Table

from heldtrue.errors import InputError
from heldtrue.records import events, tables, things
from heldtrue.records.columns import Damaged, Json, Moment
from heldtrue.records.errors import RecordsError
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
    events.FrictionReading: tables.FrictionReadingRow,
    events.ReplanSeen: tables.ReplanSeenRow,
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
    return {"runs": "run", "replans_seen": "re-plan looked at"}.get(
        table_of(kind).name, table_of(kind).name.replace("_", " ").removesuffix("s")
    )


def row_of(record: Record) -> dict[str, Any]:
    """A record as a row of its table.

    Raises: ``InputError`` for a value that one of the databases, or a plain file, could not keep.
    """
    row: dict[str, Any] = {}
    try:
        for name, column in _COLUMNS[type(record)]:
            value = getattr(record, name)
            if column.wanted is None and value is not None:
                value = _plain(value)
            keepable(value, name)
            row[name] = _fitting(value, column, name)
    except InputError as error:
        raise InputError(f"{word_for(record)} {record.id}, {error}") from error
    return row


def record_of(kind: type[R], row: Mapping[Any, Any]) -> R:
    """A row of its table as the record. Raises: ``RecordsError`` where it is damaged, with its name."""
    try:
        found = unsealed(kind, row)  # first: it names the column
    except InputError as error:
        raise RecordsError(damage(_TABLES[kind].name, row, str(error))) from error
    must_match(_TABLES[kind], row)
    return found


def unsealed(kind: type[R], row: Mapping[Any, Any]) -> R:
    """A row as the record, whatever its seal: of a file from outside, where it need not have one.

    Raises: ``InputError`` for a value that cannot be; ``RecordsError`` for one of another type.
    """
    columns, table = _TABLES[kind].c, _TABLES[kind].name
    values: dict[str, Any] = {}
    for name, is_tuple in _FIELDS[kind]:
        value = sound(row[name], columns[name], table, row, is_tuple=is_tuple)
        values[name] = tuple(value) if is_tuple and not (value is None and columns[name].nullable) else value
    return kind(**values)


def sound(value: Any, column: ColumnElement[Any], table: str, row: Mapping[Any, Any], *, is_tuple: bool = False) -> Any:
    """A value as it came out of its column: SQLite keeps anything anywhere, and so may a hand that mended the file.

    ``is_tuple``: a list in a document. Raises: ``RecordsError`` with table, row and column.
    """
    made = column.type
    if isinstance(made, Json):
        fits = value is None or isinstance(value, list if is_tuple else dict)
    elif value is None:
        return value
    else:
        wanted: Any = made.python_type
        fits = isinstance(value, (int, float) if wanted is float else wanted) and not isinstance(value, Damaged)
    if not fits:
        found = value.found if isinstance(value, Damaged) else repr(value)[:60]
        raise RecordsError(damage(table, row, f"{column.name} holds {found}"))
    return value


def damage(table: str, row: Mapping[Any, Any], words: str) -> str:
    """What is wrong with a row that is there, and what to do."""
    name = row.get("id", row.get("jaw_set", "?"))
    return f"{table} {name} is damaged: {words}; keep the file as it is and restore a back-up"


def to_document(record: Thing) -> dict[str, Any]:
    """A card as a JSON document."""
    return {k: v.isoformat() if isinstance(v, datetime) else v for k, v in row_of(record).items()}


def from_document(kind: type[T], document: Mapping[str, Any] | Damaged) -> T:
    """The card such a document keeps; what it does not say, or this program does not know, is left at its default.

    Raises: ``RecordsError`` for what is no such document.
    """
    try:
        return _from_document(kind, document)
    except (TypeError, ValueError, InputError) as error:
        raise RecordsError(f"a version of a {word_for(kind)} is damaged: {error}; keep the file as it is and restore a "
                           "back-up") from error  # fmt: skip


def _from_document(kind: type[T], document: Mapping[str, Any] | Damaged) -> T:
    if not isinstance(document, Mapping):
        raise TypeError(f"it holds {document.found if isinstance(document, Damaged) else repr(document)[:60]}")
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


def _fitting(value: Any, column: _Column, name: str) -> Any:
    """The value as its column holds it; SQLite would keep anything anywhere."""
    wanted = column.wanted
    if wanted is None:
        return value
    if value is None:
        if not column.nullable:
            raise InputError(f"{name}: must be given")
        return None
    if wanted is float and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    if isinstance(value, bool) != (wanted is bool) or not isinstance(value, wanted):
        raise InputError(f"{name}: {value!r} must be a {wanted.__name__}")
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


class _Column(NamedTuple):
    """What a column takes: ``wanted`` type of its values, None for a document."""

    wanted: type | None
    nullable: bool


_COLUMNS: dict[Any, tuple[tuple[str, _Column], ...]] = {
    kind: tuple((name, _Column(None if isinstance(made := _TABLES[kind].c[name].type, Json) else made.python_type,
                               bool(_TABLES[kind].c[name].nullable))) for name, _ in fields)
    for kind, fields in _FIELDS.items()
}  # fmt: skip
"""The same with what each column takes: asked once, for thousands of records are written at once."""

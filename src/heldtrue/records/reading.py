"""Rows read back as records."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from datetime import UTC, datetime
from functools import cache
from typing import Any

from sqlalchemy import ColumnElement, Connection, FromClause, RowMapping, ScalarSelect, Select, Table, func, select

from heldtrue.records.kinds import E, record_of, sound, table_of
from heldtrue.records.seals import must_match, sealed
from heldtrue.records.standing import Standing
from heldtrue.records.tables import StandingRow, plain

STANDINGS = plain(StandingRow)
NEVER = datetime(1970, 1, 1, tzinfo=UTC)


def row_by_id(connection: Connection, table: Table, id: str) -> RowMapping | None:
    """One row; None where it is not there."""
    return connection.execute(select(table).where(table.c.id == id)).mappings().first()


def how_many(counted: Select[int]) -> ScalarSelect[int]:
    """A count looked up row by row, for a walk down an index that stops early.

    EXISTS may become a join of everything; and of "not this number" every planner thinks that nearly all rows pass, so
    that it takes the walk and not a sort.
    """
    return counted.scalar_subquery()


@cache
def counting(table: FromClause) -> ColumnElement[bool]:
    """The rows of a history that are in force."""
    later = table.alias("later")
    return ~table.c.withdrawn & (how_many(select(func.count()).where(later.c.corrects == table.c.id)) != 1)


def events_of(
    connection: Connection, kind: type[E], where: Mapping[str, Any], *, corrected: bool = False,
    newest: int | None = None,
) -> tuple[E, ...]:  # fmt: skip
    """Rows of history, oldest first. A list in ``where`` stands for any of its values."""
    table = table_of(kind)
    query = matching(select(table), table, where)
    if not corrected:
        query = query.where(counting(table))
    if newest is not None:
        query = query.order_by(table.c.at.desc(), table.c.id.desc()).limit(newest)
        rows = list(connection.execute(query).mappings())[::-1]
    else:
        rows = list(connection.execute(query.order_by(table.c.at, table.c.id)).mappings())
    return tuple(record_of(kind, row) for row in rows)


def matching(query: Select[Any], table: Table, where: Mapping[str, Any]) -> Select[Any]:
    """A query narrowed to rows with these values."""
    for name, value in where.items():
        column = table.c[name]
        query = query.where(column.in_(value) if isinstance(value, list) else column == value)
    return query


def standing_row(connection: Connection, jaw_set: str) -> Standing | None:
    """How a set stands; None where it is not there."""
    row = connection.execute(select(STANDINGS).where(STANDINGS.c.jaw_set == jaw_set)).mappings().first()
    return None if row is None else standing_from(row)


def standing_from(row: Mapping[Any, Any]) -> Standing:
    """A row of ``standings``. Raises: ``RecordsError`` where it is damaged, with its name."""
    values = {}
    for name, column, usual, is_list in _standing_columns():
        value = values[name] = row[name]
        if type(value) is not usual:  # thousands are read at once, and hardly one is not what it was written as
            sound(value, column, "standings", row, is_tuple=is_list)
    must_match(STANDINGS, row)
    steps = row["bore_steps"]
    return Standing(**values | {"jaw_order": tuple(row["jaw_order"]), "missing": tuple(row["missing"]),
                                "bore_steps": None if steps is None else tuple(map(tuple, steps))})  # fmt: skip


@cache
def _standing_columns() -> tuple[tuple[str, ColumnElement[Any], type, bool], ...]:
    """Name, column, usual type of a value and whether it is a list, of what a standing holds."""
    found = []
    for field in dataclasses.fields(Standing):
        column, is_list = STANDINGS.c[field.name], field.name in ("jaw_order", "missing", "bore_steps")
        found.append((field.name, column, list if is_list else column.type.python_type, is_list))
    return tuple(found)


def as_row(stands: Standing) -> dict[str, Any]:
    """A standing as a row."""
    return sealed(STANDINGS, dataclasses.asdict(stands) | {"latest": stands.last_cut_at or NEVER})


def distinct(connection: Connection, column: ColumnElement[str]) -> list[str]:
    """The different values of an indexed column: one step down the index each, where DISTINCT would read every row."""
    steps = select(func.min(column).label("value")).cte("steps", recursive=True)
    following = select(func.min(column)).where(column > steps.c.value).scalar_subquery()
    steps = steps.union_all(select(following).where(steps.c.value.is_not(None)))
    return [value for value in connection.execute(select(steps.c.value)).scalars() if value is not None]

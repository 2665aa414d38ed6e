"""Everything at once: every row read in an order in which it can be written, and an empty store filled."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby, islice
from operator import itemgetter
from typing import Any

from sqlalchemy import Connection, Table, insert, select

from heldtrue.errors import InputError
from heldtrue.records.checking import findings, standings
from heldtrue.records.kinds import kind_of, references, row_of, unsealed
from heldtrue.records.reading import STANDINGS, as_row
from heldtrue.records.seals import LINKS, SEAL, make_chain, sealed
from heldtrue.records.tables import DERIVED, Base

Row = dict[str, Any]
BATCH = 1000
_SHOWN = 5


def kept_tables() -> tuple[Table, ...]:
    """The tables that are not derived, each after those it refers to."""
    return tuple(table for table in Base.metadata.sorted_tables if table.name not in DERIVED)


def every_row(connection: Connection) -> Iterator[tuple[str, Row]]:
    """Every row with the name of its table, by key, so that the same records give the same rows."""
    for table in kept_tables():
        query = select(table).order_by(*table.primary_key.columns).execution_options(yield_per=BATCH)
        for row in connection.execute(query).mappings():
            yield table.name, dict(row)


def checked(table: Table, row: Row) -> Row:
    """A row from outside, as the store itself would have written it.

    Raises: ``InputError`` for a value that cannot be kept.
    """
    kind = kind_of(table.name)
    if kind is None:
        return row
    as_written = row_of(unsealed(kind, row))
    return as_written | {name: row[name] for name in ("action", SEAL) if name in row}


def load(connection: Connection, rows: Iterable[tuple[str, Row]]) -> None:
    """Fill an empty store, derive the standings, and check the whole; see ``Store.load_rows``."""
    for table in kept_tables():
        if connection.execute(select(table).limit(1)).first() is not None:
            raise InputError("these records are not empty: what comes in whole needs a new folder or database")
    tables = {table.name: table for table in kept_tables()}
    for name, group in groupby(rows, key=itemgetter(0)):
        table = tables[name]
        for batch in _batches(row if SEAL in row else sealed(table, row) for _, row in group):
            connection.execute(insert(table), batch)
    if connection.execute(select(LINKS).limit(1)).first() is None:  # from before there was a chain
        make_chain(connection)
    for batch in _batches(as_row(one) for one in standings(connection)):
        connection.execute(insert(STANDINGS), batch)
    wrong = list(islice((one for one in findings(connection) if one.code != "server"), _SHOWN))
    if wrong:
        raise InputError(*(f"{one.where}: {one.words}" for one in wrong))


def references_of(table: Table) -> tuple[tuple[str, str], ...]:
    """The columns of a table that hold an id of another row, and the table that row is in."""
    kind = kind_of(table.name)
    own = () if kind is None else tuple((name, other.name) for name, other in references(kind))
    return (*own, ("action", "actions")) if "action" in table.c else own


def _batches(rows: Iterable[Row]) -> Iterator[list[Row]]:
    running = iter(rows)
    while batch := list(islice(running, BATCH)):
        yield batch

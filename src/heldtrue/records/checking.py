"""Is everything as it must be? The file, the references, and our own rules; every fault as data."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from heapq import merge
from itertools import groupby
from operator import itemgetter
from typing import Any

from sqlalchemy import Connection, Table, func, select
from sqlalchemy.exc import DBAPIError

from heldtrue.records.errors import RecordsError
from heldtrue.records.events import Event, SetCut, SetMove
from heldtrue.records.kinds import THINGS, record_of, table_of, to_document
from heldtrue.records.reading import STANDINGS, counting, standing_from
from heldtrue.records.seals import LINKS, SEAL, broken, key_of, seal_of, sealed_tables
from heldtrue.records.standing import Standing, standing_of
from heldtrue.records.tables import Action, Base, RunRow, StartDecisionRow, Versions, plain
from heldtrue.records.things import JawSet


@dataclass(frozen=True)
class Finding:
    """One fault: a ``code`` that stays the same, the table and id it is at, and what is wrong in words."""

    code: str
    where: str
    words: str


Step = Callable[[Connection], Iterator[Finding]]


def findings(connection: Connection) -> Iterator[Finding]:
    """Every fault of a store: of its file or server, of every row's seal, of the chain, of references and rules.

    What follows from damaged rows is looked at only where no row is damaged.
    """
    steps: list[Step] = [_seals, _chain]
    steps.insert(0, _file if connection.dialect.name == "sqlite" else _server)
    wrong = False
    for step in steps:
        for one in _readable(step, connection):
            wrong = wrong or one.code in ("file", "unreadable", "seal")
            yield one
    if not wrong:
        for step in (_versions, _actions, _setup_versions, _standings):
            yield from _readable(step, connection)


def _readable(step: Step, connection: Connection) -> Iterator[Finding]:
    """What a step finds; that it cannot read is a finding too."""
    try:
        yield from step(connection)
    except (RecordsError, DBAPIError) as error:
        words = str(getattr(error, "orig", None) or error).splitlines()[0]
        yield Finding("unreadable", step.__name__.strip("_").replace("_", " "), f"it cannot be read: {words}")


def _file(connection: Connection) -> Iterator[Finding]:
    for (words,) in connection.exec_driver_sql("PRAGMA integrity_check"):
        if words != "ok":
            yield Finding("file", "", f"the file is damaged: {words}")
    for table, rowid, parent, _ in connection.exec_driver_sql("PRAGMA foreign_key_check"):
        yield Finding("reference", f"{table} row {rowid}", f"refers to a row of {parent} that is not there")


def _server(connection: Connection) -> Iterator[Finding]:
    """The server keeps what it acknowledged when the power goes."""
    for name in ("fsync", "full_page_writes"):
        if connection.exec_driver_sql(f"SHOW {name}").scalar() == "off":
            yield Finding("server", name, "it is off: when the power goes, entries are lost and pages are damaged; "
                          "set it on in postgresql.conf")  # fmt: skip


def _seals(connection: Connection) -> Iterator[Finding]:
    """Every row is as it was written."""
    for table in sealed_tables():

        def rows(connection: Connection, table: Table = table) -> Iterator[Finding]:
            for row in connection.execute(select(table).execution_options(yield_per=1000)).mappings():
                if row[SEAL] != seal_of(table, row):
                    yield Finding("seal", f"{table.name} {key_of(table, row)}", "it is not as it was written")

        rows.__name__ = table.name
        yield from _readable(rows, connection)


def _chain(connection: Connection) -> Iterator[Finding]:
    """Nothing was added or taken away without this program."""
    for action, words in broken(connection):
        yield Finding("chain", f"actions {action}", words)


def _versions(connection: Connection) -> Iterator[Finding]:
    """Every card has all its versions, and the last is the card as it stands."""
    kept = plain(Versions)
    for kind in THINGS:
        table = table_of(kind)
        counts: dict[str, Any] = {
            row.thing: row
            for row in connection.execute(
                select(kept.c.thing, func.count().label("count"), func.max(kept.c.version).label("last"))
                .where(kept.c.kind == table.name)
                .group_by(kept.c.thing)
            )
        }
        last = {
            row.thing: row.document
            for row in connection.execute(
                select(kept.c.thing, kept.c.document)
                .join(table, (table.c.id == kept.c.thing) & (table.c.version == kept.c.version))
                .where(kept.c.kind == table.name)
            )
        }
        for row in connection.execute(select(table)).mappings():
            where, count = f"{table.name} {row['id']}", counts.pop(row["id"], None)
            if count is None or not count.count == count.last == row["version"]:
                yield Finding("versions", where, f"it has version {row['version']}, but not every one is kept")
            try:
                now = to_document(record_of(kind, row))
            except RecordsError as error:
                yield Finding("damaged", where, str(error))
                continue
            # a version written before a field came to be does not know it
            then = last.get(row["id"]) or {}
            if not isinstance(then, dict):
                yield Finding("damaged", where, "its newest version cannot be read")
                continue
            for name in [name for name, value in then.items() if name in now and now[name] != value]:
                yield Finding("versions", where, f"{name} was changed without a new version")
        for thing in counts:
            yield Finding("versions", f"{table.name} {thing}", "its versions are kept, the card itself is not there")


def _actions(connection: Connection) -> Iterator[Finding]:
    """No action without anything it did: it would be half of one."""
    actions = plain(Action)
    used = [
        select(table.c.action) for table in Base.metadata.sorted_tables if "action" in table.c and table is not LINKS
    ]
    empty = select(actions.c.id).where(~actions.c.id.in_(used[0].union(*used[1:])))
    for (id_,) in connection.execute(empty):
        yield Finding("action", f"actions {id_}", "nothing it did is there")


def _setup_versions(connection: Connection) -> Iterator[Finding]:
    """Runs and decisions name a version of their setup that is kept."""
    kept = plain(Versions)
    for model in (RunRow, StartDecisionRow):
        table = plain(model)
        known = select(kept.c.version).where(
            kept.c.kind == "setups", kept.c.thing == table.c.setup, kept.c.version == table.c.setup_version
        )
        query = select(table.c.id, table.c.setup, table.c.setup_version).where(~known.exists())
        for row in connection.execute(query):
            yield Finding("setup version", f"{model.__tablename__} {row.id}",
                          f"setup {row.setup} has no version {row.setup_version}")  # fmt: skip


def _standings(connection: Connection) -> Iterator[Finding]:
    """Every standing is what card and history make of it."""
    kept: dict[str, Standing] = {}
    for row in connection.execute(select(STANDINGS)).mappings():
        try:
            kept[row["jaw_set"]] = standing_from(row)
        except RecordsError as error:
            yield Finding("damaged", f"standings {row['jaw_set']}", str(error))
    try:
        made = list(standings(connection))
    except RecordsError as error:
        yield Finding("damaged", "standings", f"they cannot be made from cards and history: {error}")
        return
    for right in made:
        stands = kept.pop(right.jaw_set, None)
        if stands != right:
            wrong = [f.name for f in dataclasses.fields(Standing)
                     if stands is None or getattr(stands, f.name) != getattr(right, f.name)]  # fmt: skip
            yield Finding("standing", f"standings {right.jaw_set}", f"not as its history says: {', '.join(wrong)}")
    for jaw_set in kept:
        yield Finding("standing", f"standings {jaw_set}", "there is no such set")


def standings(connection: Connection) -> Iterator[Standing]:
    """The standing of every set, made anew from cards and history, of which one set at a time is in memory."""
    streams = (_by_set(connection, JawSet, "id"), _by_set(connection, SetCut, "jaw_set"),
               _by_set(connection, SetMove, "jaw_set"))  # fmt: skip
    for _, group in groupby(merge(*streams, key=itemgetter(0)), key=itemgetter(0)):
        records = [record for _, record in group]
        if isinstance(card := records[0], JawSet):
            yield standing_of(card, [one for one in records if isinstance(one, SetCut | SetMove)])


def _by_set(connection: Connection, kind: type[JawSet | SetCut | SetMove], column: str) -> Iterator[tuple[str, Any]]:
    """Records that count with the number of their set, in the order of those."""
    table = table_of(kind)
    query = select(table).order_by(table.c[column]).execution_options(yield_per=1000)
    if issubclass(kind, Event):
        query = query.where(counting(table))
    return ((row[column], record_of(kind, row)) for row in connection.execute(query).mappings())

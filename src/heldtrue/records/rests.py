"""What setups rest on in the records, as digests: whether a setup has to be looked at again is seen without reading it.

History is only added to and cards are never deleted, so counts and the last id say whether anything came; a card's
version says whether it changed.  The log of the chuck is not in it: what it says changes with the date.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, Table, func, literal, select

from heldtrue.records import tables
from heldtrue.records.columns import among
from heldtrue.records.tables import plain

SETUPS, PARTS = plain(tables.SetupCard), plain(tables.Part)
CARDS: Mapping[str, Table] = {
    "chuck": plain(tables.Chuck), "machine": plain(tables.Machine), "part": PARTS,
    "jaw_set": plain(tables.JawSetCard),
}  # fmt: skip
HISTORY: Mapping[Table, str] = {
    plain(tables.SetCutRow): "jaw_set", plain(tables.SetMoveRow): "jaw_set", plain(tables.RevisionRow): "part",
}  # fmt: skip
FRICTION = plain(tables.FrictionReadingRow)
BATCH = 2000
Filters = Mapping[str, str]


class SetupInShort(NamedTuple):
    """A setup's card without its documents; ``names`` of ``chuck``, ``machine``, ``part`` and ``jaw_set``."""

    id: str
    version: int
    title: str
    revision: str
    names: Mapping[str, str]


def in_short(connection: Connection, where: Filters) -> tuple[SetupInShort, ...]:
    """The setups that are not retired, by id; ``where``: chuck, machine, jaw_set, part, revision or material."""
    c = SETUPS.c
    query = select(c.id, c.version, c.title, c.revision, c.chuck, c.machine, c.part, c.jaw_set).where(~c.retired)
    for name, value in where.items():
        query = query.where(c[name] == value)
    rows = connection.execute(query.order_by(c.id)).all()
    return tuple(
        SetupInShort(id, version, title, revision,
                     {"chuck": chuck or "", "machine": machine or "", "part": part or "", "jaw_set": jaw_set or ""})
        for id, version, title, revision, chuck, machine, part, jaw_set in rows
    )  # fmt: skip


def say(connection: Connection, table: str, key: str, without: str = "") -> dict[str, Any]:
    """What the setups that are not retired state themselves under a key of a table, as written; None where nothing.

    ``without``: only setups whose card does not name that.  Documents are read one after another: they are never all
    in memory.
    """
    query = select(SETUPS.c.id, SETUPS.c.document).where(~SETUPS.c.retired)
    if without:
        query = query.where(SETUPS.c[without].is_(None))
    found = {}
    for id, document in connection.execute(query):
        content = document.get("content") if isinstance(document, Mapping) else None
        there = content.get(table) if isinstance(content, Mapping) else None
        found[id] = there.get(key) if isinstance(there, Mapping) else None
    return found


def rests(connection: Connection, setups: Sequence[SetupInShort], also: Mapping[str, str]) -> dict[str, str]:
    """A digest for each setup of its card, of the cards and history it names, and of ``also``, which has more by id."""
    friction = " ".join(map(str, _last(connection, FRICTION)))
    found = {}
    for start in range(0, len(setups), BATCH):
        batch = setups[start : start + BATCH]
        wanted = {name: {one.names.get(name, "") for one in batch} for name in CARDS}
        cards = [(name, _versions(connection, table, wanted[name])) for name, table in CARDS.items()]
        happened = [(name, _happened(connection, table, name, wanted[name])) for table, name in HISTORY.items()]
        for one in batch:
            pieces = [framed(one.id, str(one.version), friction, also.get(one.id, ""))]
            for name, version in cards:
                id = one.names.get(name, "")
                pieces.append(version.get(id) or framed(id, ""))
            pieces += [rows.get(one.names.get(name, ""), NOTHING) for name, rows in happened]
            found[one.id] = _digest("".join(pieces))
    return found


def framed(*pieces: str) -> str:
    """Texts one after another, each with its length before it: where one ends is never in doubt."""
    return "".join([f"{len(piece)}:{piece}" for piece in pieces])


NOTHING = framed("")


def digest(value: Any) -> str:
    """Of plain values."""
    return _digest(_ENCODE(value))


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:32]


_ENCODE = json.JSONEncoder(sort_keys=True, ensure_ascii=False, separators=(",", ":")).encode


def _last(connection: Connection, table: Table) -> list[Any]:
    return list(connection.execute(select(func.count(), func.max(table.c.id))).one())


def _versions(connection: Connection, table: Table, ids: set[str]) -> dict[str, str]:
    """Which version each card is at, and whether it is retired: framed, with the id before it."""
    query = select(table.c.id, table.c.version, table.c.retired).where(among(connection, table.c.id, ids))
    return {id: framed(id, f"{version} {bool(retired)}") for id, version, retired in connection.execute(query).all()}


def _happened(connection: Connection, table: Table, column: str, ids: set[str]) -> dict[str, str]:
    """How many rows each has, the last, and how many of them were put right: framed.

    What puts a row right may name another set or part than that row did, so it need not be among the rows of its own.
    Of cuts also the versions of the setups they were made for: what steps a bore has stands there.
    """
    of, later = table.c[column], table.alias("later")
    rows = table.outerjoin(later, later.c.corrects == table.c.id)
    made_for: ColumnElement[Any] = literal(0)
    if "setup" in table.c:
        rows = rows.outerjoin(SETUPS, SETUPS.c.id == table.c.setup)
        made_for = func.coalesce(func.sum(SETUPS.c.version), 0)
    query = select(of, func.count(table.c.id), func.max(table.c.id), func.count(later.c.id), made_for)
    found = connection.execute(query.select_from(rows).where(among(connection, of, ids)).group_by(of))
    return {id: framed(" ".join(map(str, marks))) for id, *marks in found.all()}

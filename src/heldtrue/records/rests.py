"""What setups rest on in the records, as digests: whether a setup has to be looked at again is seen without reading it.

History is only added to and cards are never deleted, so a count and the last id say whether anything came; a card's
version says whether it changed.  The log of the chuck is not in it: what it says changes with the date.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Table, func, select

from heldtrue.records import tables
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


@dataclass(frozen=True)
class SetupInShort:
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
    return tuple(
        SetupInShort(id, version, title, revision,
                     {"chuck": chuck or "", "machine": machine or "", "part": part or "", "jaw_set": jaw_set or ""})
        for id, version, title, revision, chuck, machine, part, jaw_set in connection.execute(query.order_by(c.id))
    )  # fmt: skip


def rests(connection: Connection, setups: Sequence[SetupInShort], also: Mapping[str, Any]) -> dict[str, str]:
    """A digest for each setup of its card, of the cards and history it names, and of ``also``, which has more by id.

    ``also``: plain values.
    """
    friction = _last(connection, FRICTION)
    found = {}
    for start in range(0, len(setups), BATCH):
        batch = setups[start : start + BATCH]
        versions = {name: _versions(connection, table, {one.names.get(name, "") for one in batch})
                    for name, table in CARDS.items()}  # fmt: skip
        happened = [(name, _happened(connection, table, name, {one.names.get(name, "") for one in batch}))
                    for table, name in HISTORY.items()]  # fmt: skip
        for one in batch:
            names = {name: one.names.get(name, "") for name in CARDS}
            own = [(name, id, versions[name].get(id)) for name, id in names.items()]
            rows = [of.get(names[name]) for name, of in happened]
            found[one.id] = digest((one.id, one.version, own, rows, friction, also.get(one.id)))
    return found


def digest(value: Any) -> str:
    """Of plain values."""
    return hashlib.sha256(_ENCODE(value).encode("utf-8", "surrogatepass")).hexdigest()[:32]


_ENCODE = json.JSONEncoder(sort_keys=True, ensure_ascii=False, separators=(",", ":")).encode


def _last(connection: Connection, table: Table) -> list[Any]:
    return list(connection.execute(select(func.count(), func.max(table.c.id))).one())


def _versions(connection: Connection, table: Table, ids: set[str]) -> dict[str, Any]:
    query = select(table.c.id, table.c.version, table.c.retired).where(table.c.id.in_(ids - {""}))
    return {id: (version, bool(retired)) for id, version, retired in connection.execute(query)}


def _happened(connection: Connection, table: Table, column: str, ids: set[str]) -> dict[str, Any]:
    """How many rows each has, and the last."""
    of = table.c[column]
    query = select(of, func.count(), func.max(table.c.id)).where(of.in_(ids - {""})).group_by(of)
    return {id: (count, last) for id, count, last in connection.execute(query)}

"""Seals: a digest in every row, and a chain over all actions, so that no damaged value is taken for a sound one.

A row's ``seal`` is a digest of every value it holds.  It is looked at whenever the row is read as a record, so a disk
that turns one bit never makes another pressure of it; the full check looks at all of them.  A seal cannot tell that a
row is gone.  The *chain* can: for every action, in the order they were written, one link, which is a digest of the link
before and of the seals of all that the action wrote.  A row that is added, changed or gone breaks it at its action.

What neither can tell: that the newest actions are gone with their links, or that somebody who may write the file made
seals and chain anew.  A link that was written down elsewhere can: all that is before it is then as it was.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from functools import cache
from json.encoder import encode_basestring as quoted
from math import isfinite
from typing import Any

from sqlalchemy import Connection, Table, bindparam, insert, select, update

from heldtrue.records.errors import DamagedError
from heldtrue.records.tables import Action, Base, Link, plain

SEAL = "seal"
SINCE = "0003"
"""The schema that brought seals."""
LINKS = plain(Link)
_BYTES = 16
"""128 bits: one chance in 10^38 that damage goes unseen."""


class Written(str):
    """A JSON document as its column has it, for a seal without taking it apart: ``columns.to_text`` made it."""

    __slots__ = ()


def seal_of(table: Table, row: Mapping[Any, Any]) -> str:
    """The digest of all values of a row but the seal itself; what is not known is left out, as a column that is new."""
    return seal_of_values(table, [row[name] for name, _ in _names(table)])


def seal_of_values(table: Table, values: Sequence[Any]) -> str:
    """The same of values in the order of ``sealed_names``: thousands of rows are read at once."""
    known = []
    for (_, key), value in zip(_names(table), values, strict=True):  # the usual kinds first, without a call
        if value is None:
            continue
        kind = type(value)
        known.append(key + (value if kind is Written else quoted(value) if kind is str else _text(value)))
    return _digest(f"[{quoted(table.name)},{{{','.join(known)}}}]".encode("utf-8", "surrogatepass"))


def sealed_names(table: Table) -> tuple[str, ...]:
    """The names of what is sealed in a row, in order."""
    return tuple(name for name, _ in _names(table))


def _text(value: Any) -> str:
    """A value as JSON, by the way that is short for it."""
    kind = type(value)
    if kind is datetime:
        return f'"{(value if value.tzinfo is UTC else value.astimezone(UTC)).isoformat()}"'
    if kind is int or (kind is float and isfinite(value)):
        return repr(value)
    if kind is list and not value:
        return "[]"
    return ("false", "true")[value] if kind is bool else _ENCODE(value)


@cache
def _names(table: Table) -> tuple[tuple[str, str], ...]:
    """The names of what is sealed, in order, and as JSON stands before a value."""
    return tuple((name, f"{quoted(name)}:") for name in sorted(table.columns.keys()) if name != SEAL)


def sealed(table: Table, row: Mapping[str, Any]) -> dict[str, Any]:
    """A row with its seal."""
    # Minus nought is nought: databases differ.
    row = {name: value + 0.0 if isinstance(value, float) else value for name, value in row.items()}
    return {**row, SEAL: seal_of(table, row)}


def must_match(table: Table, row: Mapping[Any, Any]) -> None:
    """Raises: ``DamagedError`` where a row is not as it was written."""
    if row[SEAL] != seal_of(table, row):
        raise DamagedError(f"{table.name} {key_of(table, row)} is not as it was written")


def key_of(table: Table, row: Mapping[Any, Any]) -> str:
    """The key of a row, to show."""
    return " ".join(str(row[column.name]) for column in table.primary_key.columns)


def add_link(connection: Connection, action: str, seals: Iterable[str]) -> None:
    """Close an action: the next link of the chain. Inside its transaction, in which nobody else writes."""
    last = connection.execute(select(LINKS).order_by(LINKS.c.number.desc()).limit(1)).first()
    number, before = (last.number, last.link) if last else (0, "")
    row = {"number": number + 1, "action": action, "link": _link(before, seals)}
    connection.execute(insert(LINKS), sealed(LINKS, row))


def make_chain(connection: Connection) -> None:
    """The chain of records that have none yet: actions in the order of their time."""
    written, before = _seals_by_action(connection), ""
    actions = plain(Action)
    ids = connection.execute(select(actions.c.id).order_by(actions.c.at, actions.c.id)).scalars().all()
    for number, action in enumerate(ids, start=1):
        before = _link(before, written[action])
        connection.execute(insert(LINKS), sealed(LINKS, {"number": number, "action": action, "link": before}))


def seal_everything(connection: Connection) -> None:
    """Seals and chain of records that come from before there were any, as they stand. Whatever guards them is off."""
    for table in sealed_tables():
        keys = table.primary_key.columns
        change = update(table).where(*(column == bindparam(f"key_{column.name}") for column in keys))
        change = change.values({SEAL: bindparam("made")})
        rows = connection.execute(select(table)).mappings()
        while batch := rows.fetchmany(1000):
            made = [{f"key_{c.name}": row[c.name] for c in keys} | {"made": seal_of(table, row)} for row in batch]
            connection.execute(change, made)
    make_chain(connection)


def broken(connection: Connection) -> Iterator[tuple[str, str]]:
    """Where the chain does not hold: the action, and what is wrong."""
    written, before, number = _seals_by_action(connection), "", 0
    for row in connection.execute(select(LINKS).order_by(LINKS.c.number)):
        seals = written.pop(row.action, [])
        if row.number != number + 1:
            yield row.action, f"the chain goes from {number} to {row.number}: what was between is gone"
        elif row.link != _link(before, seals):
            yield row.action, "not all that was written by it is there, or more is, or what was before it has changed"
        number, before = row.number, row.link
    for action in written:
        yield action, "it has no link in the chain: it was not entered by this program"


def newest_broken(connection: Connection, count: int = 20) -> str:
    """The first of the newest actions whose row or link is damaged, as a quick look on opening; empty if none is."""
    actions = plain(Action)
    links = connection.execute(select(LINKS).order_by(LINKS.c.number.desc()).limit(count)).mappings().all()
    rows = connection.execute(select(actions).where(actions.c.id.in_([row["action"] for row in links]))).mappings()
    there = {row["id"]: row for row in rows}
    for n, row in enumerate(links):
        action = there.get(row["action"])
        good = row["number"] == links[0]["number"] - n and row[SEAL] == seal_of(LINKS, row)
        if not good or action is None or action[SEAL] != seal_of(actions, action):
            return str(row["action"])
    return ""


def sealed_tables() -> tuple[Table, ...]:
    """Every table whose rows have a seal: all but the schema's version."""
    return tuple(Base.metadata.sorted_tables)


def _seals_by_action(connection: Connection) -> dict[str, list[str]]:
    """The seals of all that each action wrote, its own among them."""
    actions = plain(Action)
    found = {row.id: [row.seal] for row in connection.execute(select(actions.c.id, actions.c.seal))}
    for table in sealed_tables():
        if "action" in table.c and table is not LINKS:
            for action, seal in connection.execute(select(table.c.action, table.c.seal)):
                found.setdefault(action, []).append(seal)
    return found


def _link(before: str, seals: Iterable[str]) -> str:
    return _digest("\n".join([before, *sorted(map(str, seals))]).encode())


def _digest(data: bytes) -> str:
    return hashlib.blake2b(data, digest_size=_BYTES).hexdigest()


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, bytes | memoryview):
        return {"bytes": _digest(bytes(value))}
    return repr(value)


_ENCODE = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), default=_plain).encode

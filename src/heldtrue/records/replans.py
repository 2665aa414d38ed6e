"""What re-planning found of setups: one row for each setup in each state of what it rests on.

A row is made by planning, and can be made anew from the rest at any time: it is derived.  It is written once for a
state, by whoever has it first; written again, only ``first_at`` and ``last_at`` move, so rows may come in any order and
twice.  The newest by ``last_at`` is how the setup stands.  What kept limits said before that, and what was of an older
version of the card, is dropped: nothing asks for it again.  Pressures in MPa, grips in N.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any, TypeAlias

from sqlalchemy import Connection, Select, Text, bindparam, delete, func, insert, select, type_coerce, update

from heldtrue.records.columns import Json, among, to_text
from heldtrue.records.kinds import sound
from heldtrue.records.seals import SEAL, Written, must_match, seal_of_values, sealed, sealed_names
from heldtrue.records.tables import ReplanRow, plain

REPLANS = plain(ReplanRow)
FULL, KEPT_LIMITS = "full plan", "kept limits"
FAILED = "failed"
BATCH = 2000
StepTable: TypeAlias = Mapping[str, Mapping[str, Any]]


@dataclass(frozen=True, kw_only=True)
class Replanned:
    """What one re-plan of a setup found.

    ``state``: digest of everything it rests on; ``rest``: of that without the log of its chuck; ``version`` of its card
    and ``content``, digest of the setup as it stands there; ``key``: digest of the setup with all that the records
    know, as it was planned; ``verdict`` of the plan, or ``failed`` with the ``reason``; ``how`` it was found: by a full
    plan, or by the limits that the full plan of the state ``base`` left; ``names`` of ``chuck``, ``machine``, ``part``
    and ``jaw_set`` as the setup has them, and the unit of its ``gauge``; ``planned``: ``verdict`` and ``pressures`` of
    the plan that is kept with the setup, empty without one; ``steps`` by name: ``pressure`` that is set, ``floor`` and
    ``ceiling``, what sets them, None without end; ``limits`` of a full plan that passes, as JSON text, which few
    readers need; ``first_at``, ``last_at``: when the records were first and last seen in that state.
    """

    setup: str
    state: str
    rest: str
    version: int
    content: str
    key: str = ""
    verdict: str
    reason: str = ""
    how: str = FULL
    base: str = ""
    names: Mapping[str, str] = field(default_factory=dict)
    planned: Mapping[str, Any] = field(default_factory=dict)
    steps: StepTable = field(default_factory=dict)
    limits: str = ""
    first_at: datetime
    last_at: datetime


_FIELDS = tuple(one.name for one in dataclasses.fields(Replanned))
_SEALED = sealed_names(REPLANS)
_NAMES = (*_SEALED, SEAL)
_DOCUMENTS = tuple(name for name in _NAMES if isinstance(REPLANS.c[name].type, Json))
_PLACES = tuple(map(_NAMES.index, _DOCUMENTS))
_TYPES = {name: Text() if name in _DOCUMENTS else REPLANS.c[name].type for name in _NAMES}
_AS_WRITTEN = [type_coerce(REPLANS.c[name], kind).label(name) if name in _DOCUMENTS else REPLANS.c[name]
               for name, kind in _TYPES.items()]  # fmt: skip
"""All columns in the order of the seal, documents as their text: thousands of rows are looked through at once."""
_INSERT = insert(REPLANS).values({name: bindparam(name, type_=kind) for name, kind in _TYPES.items()})
_UPDATE = update(REPLANS).values({REPLANS.c[name]: bindparam(f"new_{name}", type_=kind) for name, kind in
                                  _TYPES.items()}).where(REPLANS.c.setup == bindparam("new_setup"),
                                                         REPLANS.c.state == bindparam("new_state"))  # fmt: skip


def put(connection: Connection, rows: Iterable[Replanned]) -> None:
    """Write rows; one that is there keeps what it says and moves its times. A full plan takes the place of less.

    Of a state seen again after another, the row that is there becomes the newest.
    """
    running = iter(rows)
    while batch := list(islice(running, BATCH)):
        there = _there(connection, {(row.setup, row.state) for row in batch})
        new, moved = [], []
        for key, one in {(row.setup, row.state): row for row in batch}.items():
            before = there.get(key)
            if before is None:
                new.append(sealed(REPLANS, _as_row(one)))
                continue
            kept = {name: before[name] for name in _FIELDS}
            if _rank(one.verdict, one.how) > _rank(before["verdict"], before["how"]):
                kept = _as_row(one)  # and its first time: what says less may have been dropped before it came
            elif _rank(one.verdict, one.how) == _rank(before["verdict"], before["how"]):
                kept["first_at"] = min(before["first_at"], one.first_at)
            kept["last_at"] = max(before["last_at"], one.last_at)
            changed = sealed(REPLANS, kept)
            if changed[SEAL] != before[SEAL]:
                moved.append({f"new_{name}": value for name, value in changed.items()})
        if new:
            connection.execute(_INSERT, new)
        if moved:
            connection.execute(_UPDATE, moved)
        _drop_what_is_past(connection, {one.setup for one in batch})


def _there(connection: Connection, keys: set[tuple[str, str]]) -> dict[tuple[str, str], Mapping[str, Any]]:
    """The rows with these keys that are there already."""
    query = select(REPLANS.c.setup, REPLANS.c.state).where(
        among(connection, REPLANS.c.setup, {setup for setup, _ in keys})
    )
    again = {setup for setup, state in connection.execute(query) if (setup, state) in keys}
    rows = connection.execute(_of(connection, again)).all() if again else []
    found = [dict(zip(_NAMES, _as_written(row), strict=True)) for row in rows]
    return {(one["setup"], one["state"]): one for one in found}


def _drop_what_is_past(connection: Connection, setups: set[str]) -> None:
    """Keep a row for each full plan of the card as it stands, and the newest."""
    other = REPLANS.alias("other")
    same = select(other.c.setup).where(other.c.setup == REPLANS.c.setup)
    older = same.where(other.c.version > REPLANS.c.version).exists()
    said = (REPLANS.c.how == KEPT_LIMITS) & same.where(other.c.last_at > REPLANS.c.last_at).exists()
    connection.execute(delete(REPLANS).where(among(connection, REPLANS.c.setup, setups), older | said))


def _as_row(one: Replanned) -> dict[str, Any]:
    row = {name: getattr(one, name) for name in _FIELDS}
    return row | {name: Written(to_text(row[name])) for name in _DOCUMENTS}


def _rank(verdict: str, how: str) -> int:
    """How much a row says of its state."""
    return 0 if verdict == FAILED else {FULL: 2, KEPT_LIMITS: 1}[how]


def touch(connection: Connection, keys: Sequence[tuple[str, str]], at: datetime) -> None:
    """Say of rows that are there, by setup and state, that the records were seen so at ``at``."""
    wanted = set(keys)
    for batch in _batches(sorted({setup for setup, _ in keys})):
        rows = [one for one in _read(connection, _of(connection, batch)) if (one.setup, one.state) in wanted]
        put(connection, [dataclasses.replace(one, last_at=at) for one in rows])


def newest(connection: Connection, setups: Sequence[str] | None = None) -> Iterator[Replanned]:
    """How setups stand: the newest row of each, all setups that were ever re-planned if none are named."""
    last = select(REPLANS.c.setup, func.max(REPLANS.c.last_at).label("at")).group_by(REPLANS.c.setup)
    for batch in [None] if setups is None else _batches(setups):
        wanted = (last if batch is None else last.where(among(connection, REPLANS.c.setup, batch))).subquery()
        query = select(*_AS_WRITTEN).join(
            wanted, (wanted.c.setup == REPLANS.c.setup) & (wanted.c.at == REPLANS.c.last_at)
        )
        found = _read(connection, query.order_by(REPLANS.c.setup))
        # Of two of one moment the one that says worse, so that it is always the same one.
        best: dict[str, Replanned] = {}
        for one in found:
            before = best.get(one.setup)
            if before is None or _standing(one) > _standing(before):
                best[one.setup] = one
        yield from best.values()


def rows_of(connection: Connection, setups: Sequence[str]) -> Iterator[Replanned]:
    """Every row of some setups, oldest first."""
    for batch in _batches(setups):
        yield from sorted(_read(connection, _of(connection, batch)), key=_standing)


def of_content(connection: Connection, content: str) -> tuple[str, ...]:
    """Ids of the setups with this content that were re-planned."""
    query = select(REPLANS.c.setup).where(REPLANS.c.content == content).distinct().order_by(REPLANS.c.setup)
    return tuple(connection.execute(query).scalars())


def by_key(connection: Connection, key: str) -> Replanned | None:
    """The full plan of exactly this, whichever setup it was made for; None where there is none."""
    query = select(*_AS_WRITTEN).where(REPLANS.c.key == key, REPLANS.c.how == FULL, REPLANS.c.verdict != FAILED)
    return next(iter(_read(connection, query.order_by(REPLANS.c.setup, REPLANS.c.state).limit(1))), None)


def _standing(one: Replanned) -> tuple[str, datetime, int, str]:
    """The order of rows: the last is how its setup stands."""
    return one.setup, one.last_at, ("passes", "not proven", "fails", FAILED).index(one.verdict), one.state


def _of(connection: Connection, setups: Collection[str]) -> Select[Any]:
    return select(*_AS_WRITTEN).where(among(connection, REPLANS.c.setup, set(setups)))


def _as_written(row: Iterable[Any]) -> list[Any]:
    """A row of ``_AS_WRITTEN`` as its seal takes it."""
    values = list(row)
    for place in _PLACES:
        if type(values[place]) is str:
            values[place] = Written(values[place])
    return values


def _read(connection: Connection, query: Select[Any]) -> list[Replanned]:
    """The rows of a query of ``_AS_WRITTEN``. Raises: ``RecordsError`` for a damaged row, with its name."""
    rows = [_as_written(row) for row in connection.execute(query).all()]
    for *values, seal in rows:
        if seal != seal_of_values(REPLANS, values):
            _say_what_is_damaged(dict(zip(_NAMES, (*values, seal), strict=True)))
    for place in _PLACES:  # sealed, so each is a whole document: all are taken apart in one go
        for row, document in zip(rows, json.loads(f"[{','.join([row[place] for row in rows])}]"), strict=True):
            row[place] = document
    return [_made(row) for row in rows]


def _made(values: Sequence[Any]) -> Replanned:
    found = object.__new__(Replanned)
    vars(found).update(zip(_SEALED, values, strict=False))  # a frozen class would set each field by a call
    return found


def _say_what_is_damaged(row: Mapping[str, Any]) -> None:
    """Raises: ``RecordsError``, with the column where one holds what it cannot."""
    for name in _FIELDS:
        if name not in _DOCUMENTS:
            sound(row[name], REPLANS.c[name], "replans", row)
    must_match(REPLANS, row)


def _batches(setups: Sequence[str]) -> Iterator[Sequence[str]]:
    for start in range(0, len(setups), BATCH):
        yield setups[start : start + BATCH]

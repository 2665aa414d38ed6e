"""What re-planning found of setups: one row for each setup in each state of what it rests on.

A row is made by planning, and can be made anew from the rest at any time: it is derived.  It is written once for a
state, by whoever has it first; written again, only ``first_at`` and ``last_at`` move, so rows may come in any order and
twice.  The newest by ``last_at`` is how the setup stands.  What kept limits said before that, and what was of an older
version of the card, is dropped: nothing asks for it again.  Pressures in MPa, grips in N.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any, TypeAlias

from sqlalchemy import Connection, Select, bindparam, delete, func, insert, select, update

from heldtrue.records.kinds import sound
from heldtrue.records.seals import SEAL, must_match, sealed
from heldtrue.records.tables import ReplanRow, plain

REPLANS = plain(ReplanRow)
FULL, KEPT_LIMITS = "full plan", "kept limits"
FAILED = "failed"
BATCH = 500
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


def put(connection: Connection, rows: Iterable[Replanned]) -> None:
    """Write rows; one that is there keeps what it says and moves its times. A full plan takes the place of less.

    Of a state seen again after another, the row that is there becomes the newest.
    """
    running = iter(rows)
    while batch := list(islice(running, BATCH)):
        asked = REPLANS.c.setup.in_({one.setup for one in batch}) & REPLANS.c.state.in_({one.state for one in batch})
        there = {
            (one["setup"], one["state"]): one for one in connection.execute(select(REPLANS).where(asked)).mappings()
        }
        new, moved = [], []
        for (setup, state), one in {(row.setup, row.state): row for row in batch}.items():
            before = there.get((setup, state))
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
            connection.execute(insert(REPLANS), new)
        if moved:
            key = (REPLANS.c.setup == bindparam("new_setup"), REPLANS.c.state == bindparam("new_state"))
            columns: dict[str, Any] = {c.name: bindparam(f"new_{c.name}") for c in REPLANS.columns}
            connection.execute(update(REPLANS).where(*key).values(columns), moved)
        _drop_what_is_past(connection, {one.setup for one in batch})


def _drop_what_is_past(connection: Connection, setups: set[str]) -> None:
    """Keep a row for each full plan of the card as it stands, and the newest."""
    other = REPLANS.alias("other")
    same = select(other.c.setup).where(other.c.setup == REPLANS.c.setup)
    older = same.where(other.c.version > REPLANS.c.version).exists()
    said = (REPLANS.c.how == KEPT_LIMITS) & same.where(other.c.last_at > REPLANS.c.last_at).exists()
    connection.execute(delete(REPLANS).where(REPLANS.c.setup.in_(setups), older | said))


def _as_row(one: Replanned) -> dict[str, Any]:
    return {name: getattr(one, name) for name in _FIELDS}


def _rank(verdict: str, how: str) -> int:
    """How much a row says of its state."""
    return 0 if verdict == FAILED else {FULL: 2, KEPT_LIMITS: 1}[how]


def touch(connection: Connection, keys: Sequence[tuple[str, str]], at: datetime) -> None:
    """Say of rows that are there, by setup and state, that the records were seen so at ``at``."""
    wanted = set(keys)
    for batch in _batches(sorted({setup for setup, _ in keys})):
        rows = [_row(one) for one in _raw(connection, set(batch)) if (one["setup"], one["state"]) in wanted]
        put(connection, [dataclasses.replace(one, last_at=at) for one in rows])


def newest(connection: Connection, setups: Sequence[str] | None = None) -> Iterator[Replanned]:
    """How setups stand: the newest row of each, all setups that were ever re-planned if none are named."""
    last = select(REPLANS.c.setup, func.max(REPLANS.c.last_at).label("at")).group_by(REPLANS.c.setup)
    for batch in [None] if setups is None else _batches(setups):
        wanted = (last if batch is None else last.where(REPLANS.c.setup.in_(batch))).subquery()
        query = select(REPLANS).join(wanted, (wanted.c.setup == REPLANS.c.setup) & (wanted.c.at == REPLANS.c.last_at))
        found = [_row(one) for one in connection.execute(query.order_by(REPLANS.c.setup)).mappings()]
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
        yield from sorted((_row(one) for one in _raw(connection, set(batch))), key=_standing)


def of_content(connection: Connection, content: str) -> tuple[str, ...]:
    """Ids of the setups with this content that were re-planned."""
    query = select(REPLANS.c.setup).where(REPLANS.c.content == content).distinct().order_by(REPLANS.c.setup)
    return tuple(connection.execute(query).scalars())


def by_key(connection: Connection, key: str) -> Replanned | None:
    """The full plan of exactly this, whichever setup it was made for; None where there is none."""
    query = select(REPLANS).where(REPLANS.c.key == key, REPLANS.c.how == FULL, REPLANS.c.verdict != FAILED)
    row = connection.execute(query.order_by(REPLANS.c.setup, REPLANS.c.state).limit(1)).mappings().first()
    return None if row is None else _row(row)


def _standing(one: Replanned) -> tuple[str, datetime, int, str]:
    """The order of rows: the last is how its setup stands."""
    return one.setup, one.last_at, ("passes", "not proven", "fails", FAILED).index(one.verdict), one.state


def _raw(connection: Connection, setups: set[str]) -> Sequence[Mapping[Any, Any]]:
    query: Select[Any] = select(REPLANS).where(REPLANS.c.setup.in_(setups))
    return connection.execute(query).mappings().all()


def _row(row: Mapping[Any, Any]) -> Replanned:
    """Raises: ``RecordsError`` for a damaged row, with its name."""
    values = {name: sound(row[name], REPLANS.c[name], "replans", row) for name in _FIELDS}
    must_match(REPLANS, row)
    return Replanned(**values)


def _batches(setups: Sequence[str]) -> Iterator[Sequence[str]]:
    for start in range(0, len(setups), BATCH):
        yield setups[start : start + BATCH]

"""Which setups need no plan: in a state that was known, or where the limits of a plan decide.

What kept limits say is written only where another outcome stood last, or one that had turned; everywhere else the plan
that left them stands as it did, and they say so again in less time than it would take to read.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from time import monotonic

from heldtrue.records import Replanned, ReplanSeen, Store
from heldtrue.records.replans import FAILED, FULL, KEPT_LIMITS
from heldtrue.records.rests import SetupInShort
from heldtrue.shop.replanning.compare import Turned, baseline_of, goes_by, turned
from heldtrue.shop.replanning.shortcut import Known, Shortcut
from heldtrue.shop.replanning.state import State, States, named

Rows = Sequence[Replanned]


class Moment:
    """The records as they were a moment ago: chucks are asked once for many setups. ``at``: now if left out."""

    def __init__(self, store: Store, at: datetime | None) -> None:
        self.store, self.now, self.since = store, at or datetime.now(UTC), monotonic()
        self.states, self.shortcut = States(store, self.now), Shortcut(store, self.now)


@dataclass
class Settled:
    """Setups, and what needs no plan of them.

    ``rows`` and ``seen`` of each, by id.  ``known``: in a state that was known, with its rows and who saw it;
    ``again``: of them those that stand otherwise by now, with their state; ``shortened``: how many kept limits decide;
    ``new``: of them what stands otherwise by now; ``left``: what only a plan can say.
    """

    rows: Mapping[str, Rows]
    seen: Mapping[str, ReplanSeen]
    known: list[tuple[Replanned, Rows, ReplanSeen | None]] = field(default_factory=list)
    again: list[tuple[str, str]] = field(default_factory=list)
    shortened: int = 0
    new: list[Replanned] = field(default_factory=list)
    left: list[str] = field(default_factory=list)

    @property
    def stands(self) -> bool:
        """Has all of it been looked at as it is now, and stands so in the records?"""
        return not (self.again or self.new or self.left)


def settle(moment: Moment, batch: Sequence[SetupInShort], *, failed_too: bool = False) -> Settled:
    """What needs no plan of some setups; nothing is written.

    ``failed_too``: is what could not be planned in this very state to be tried again?
    """
    ids = [one.id for one in batch]
    rows = rows_of(moment.store, ids)
    found = Settled(rows, seen_of(moment.store, ids))
    states = moment.states.of([named(one, rows[one.id][-1].names) if one.id in rows else one for one in batch])
    asked = []
    for one in batch:
        mine, state = rows.get(one.id, []), states[one.id]
        same = next((row for row in mine if row.state == state.whole), None)
        if same is not None and same.verdict == FAILED and failed_too:
            same = None
        if same is not None:
            found.known.append((same, mine, found.seen.get(one.id)))
            if same is not mine[-1]:
                found.again.append((one.id, state.whole))
        elif (full := _newest_full(mine, state)) is not None:
            asked.append(Known(full, state))
        else:
            found.left.append(one.id)
    for known, floors in zip(asked, moment.shortcut.floors(asked), strict=True):
        id, full = known.full.setup, known.full
        if floors is not None and goes_by(full, rows[id], found.seen.get(id)):
            found.shortened += 1
            continue
        outcome = None if floors is None else moment.shortcut.outcome(known, floors)
        if outcome is None or turned_of(outcome, rows[id], found.seen.get(id)) is not None:
            found.left.append(id)  # a plan has to say what it is now
            continue
        found.shortened += 1
        last = rows[id][-1]
        says_so = last is full or (last.how == KEPT_LIMITS and last.base == full.state)
        # What stands last may have turned in a worse state of the chuck that is past: the gate goes by it.
        if not says_so or turned_of(last, rows[id], found.seen.get(id)) is not None:
            found.new.append(outcome)
    found.left.sort()
    return found


def _newest_full(rows: Rows, state: State) -> Replanned | None:
    """The newest full plan of a setup that passed with everything as now but the log of its chuck."""
    return next((row for row in reversed(rows) if row.rest == state.rest and row.how == FULL and row.limits), None)


def rows_of(store: Store, ids: Sequence[str]) -> dict[str, list[Replanned]]:
    """Every outcome of some setups, oldest first."""
    rows: dict[str, list[Replanned]] = {}
    for row in store.replanned(ids, every=True):
        rows.setdefault(row.setup, []).append(row)
    return rows


def seen_of(store: Store, ids: Sequence[str]) -> dict[str, ReplanSeen]:
    """What somebody looked at last of each setup."""
    return {one.setup: one for one in store.events(ReplanSeen, setup=list(ids))}


def turned_of(found: Replanned, rows: Rows, seen: ReplanSeen | None) -> Turned | None:
    """Whether an outcome is another than the shop goes by; ``rows``: all of the setup, ``seen``: the last of it."""
    mine = [row for row in rows if row.version == found.version]
    if seen is not None and seen.version != found.version:
        seen = None
    return turned(found, baseline_of(mine, found, seen), found.names.get("gauge", "bar"))

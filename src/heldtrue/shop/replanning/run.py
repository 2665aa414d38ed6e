"""Re-planning the setups of the records: known states are left alone, limits decide where they can, plans the rest.

Every outcome is written as it comes, once for each state: a run that is stopped goes on where it was, and two at once
do no harm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from math import inf
from time import monotonic
from typing import Protocol

from heldtrue.errors import InputError
from heldtrue.mechanics.materials import work_material
from heldtrue.records import PartRecord, Replanned, ReplanSeen, SetupRecord, Store
from heldtrue.records.replans import FAILED, FULL
from heldtrue.records.rests import SetupInShort
from heldtrue.shop.enter import card_of
from heldtrue.shop.replanning.compare import Turned, baseline_of, turned
from heldtrue.shop.replanning.look import look
from heldtrue.shop.replanning.shortcut import Known, Shortcut
from heldtrue.shop.replanning.state import State, States, named

BATCH = 500
"""Setups looked at together: what is in memory at once."""
SAME_MOMENT = 5.0
"""What was read of chucks stands for setups that are looked at within this time, s."""
WRITTEN_EVERY = 2.0
"""Outcomes wait no longer than this to be written, s."""
LOST = "the worker ended while it planned this setup; run it again"


@dataclass(frozen=True)
class Which:
    """Which setups: all, or those of a chuck, machine, jaw set, part, revision or material of the part."""

    chuck: str = ""
    machine: str = ""
    jaw_set: str = ""
    part: str = ""
    revision: str = ""
    material: str = ""

    def of(self, store: Store) -> tuple[SetupInShort, ...]:
        """The setups, by id. Raises: ``InputError`` for a material that nobody knows."""
        asked = {"chuck": self.chuck, "machine": self.machine, "jaw_set": self.jaw_set, "part": self.part,
                 "revision": self.revision}  # fmt: skip
        found = store.setups_in_short(**{name: value for name, value in asked.items() if value})
        if not self.material:
            return found
        wanted = work_material(self.material).key
        parts = {card.id for card in store.all(PartRecord, retired=True) if _is_of(card.material, wanted)}
        return tuple(one for one in found if _is_cut_of(store, one, parts, wanted))


def _is_cut_of(store: Store, one: SetupInShort, parts: set[str], material: str) -> bool:
    """By the card of its part; without one by the setup itself."""
    if one.names["part"]:
        return one.names["part"] in parts
    part = store.get(SetupRecord, one.id).document.get("content", {}).get("part", {})
    return isinstance(part, Mapping) and _is_of(str(part.get("material", "")), material)


def _is_of(named: str, material: str) -> bool:
    try:
        return work_material(named).key == material
    except InputError:
        return False


@dataclass(frozen=True)
class Failed:
    """A setup that cannot be planned, and why."""

    setup: str
    reason: str


@dataclass
class Report:
    """What a re-plan found.

    ``looked_at`` setups; ``first``: of them never re-planned before; ``known``: in a state that was known already;
    ``shortened``: decided by kept limits alone; ``planned`` in full; ``left``: for want of time; ``seconds`` it took.
    """

    looked_at: int = 0
    first: int = 0
    known: int = 0
    shortened: int = 0
    planned: int = 0
    left: int = 0
    turned: list[Turned] = field(default_factory=list)
    failed: list[Failed] = field(default_factory=list)
    seconds: float = 0.0

    @property
    def unchanged(self) -> int:
        """Setups that stand as the shop goes by them."""
        return self.looked_at - len(self.turned) - len(self.failed)

    @property
    def stopped(self) -> tuple[Turned, ...]:
        """Those that may no longer start as they did."""
        return tuple(one for one in self.turned if one.stops)


@dataclass(frozen=True)
class Progress:
    """How far a run is: setups ``done`` of ``all``, full plans among them, and the time it has taken [s]."""

    done: int
    all: int
    planned: int
    seconds: float

    @property
    def rate(self) -> float:
        """Setups a second."""
        return self.done / self.seconds if self.seconds > 0 else 0.0

    @property
    def left(self) -> float | None:
        """Time left at this rate, s; None where nothing was done yet."""
        return (self.all - self.done) / self.rate if self.rate > 0 else None


class Runner(Protocol):
    """Who plans in full: ids in, outcomes out, in any order; what was lost comes as ``Failed``."""

    def __call__(self, ids: Iterable[str]) -> Iterator[Replanned | Failed]:
        """Plan the setups."""
        ...


def in_this_process(store: Store, at: datetime | None = None) -> Runner:
    """One plan after another."""

    def run(ids: Iterable[str]) -> Iterator[Replanned | Failed]:
        return (look(store, id, at) for id in ids)

    return run


def replan(
    store: Store, which: Which | None = None, *, runner: Runner | None = None, at: datetime | None = None,
    seconds: float = inf, watch: Callable[[Progress], None] = lambda _: None,
) -> Report:  # fmt: skip
    """Re-plan setups, and say which turned.

    ``at``: the moment they are planned for, now if left out; ``seconds`` after which no further plan is begun;
    ``watch`` hears how far it is.  What is interrupted has kept what it found.
    Raises: ``RecordsError``; ``InputError`` for a filter nobody knows.
    """
    began, report = monotonic(), Report()
    setups = (which or Which()).of(store)
    run = runner or in_this_process(store, at)
    kept = _Writer(store)

    def tell() -> None:
        watch(Progress(report.looked_at, len(setups), report.planned, monotonic() - began))

    def to_plan() -> Iterator[str]:
        """Ids that need a full plan; all others are settled on the way."""
        seen = _Moment(store, at)
        for start in range(0, len(setups), BATCH):
            if monotonic() - seen.since > SAME_MOMENT:
                seen = _Moment(store, at)
            for id in _settle(seen, setups[start : start + BATCH], report, kept):
                if monotonic() - began > seconds:
                    report.left += 1
                else:
                    yield id
            tell()

    try:
        for found in run(to_plan()):
            report.looked_at += 1
            if isinstance(found, Failed):
                report.failed.append(found)
            else:
                report.planned += 1
                before = store.replanned([found.setup], every=True)
                report.first += not before
                kept.add(found)
                _report(report, found, before, seen_of(store, [found.setup]).get(found.setup))
            tell()
    finally:
        kept.write()
    report.turned.sort(key=lambda one: one.setup)
    report.failed.sort(key=lambda one: one.setup)
    report.seconds = monotonic() - began
    return report


class _Moment:
    """The records as they were a moment ago: chucks are asked once for many setups."""

    def __init__(self, store: Store, at: datetime | None) -> None:
        self.store, self.now, self.since = store, at or datetime.now(UTC), monotonic()
        self.states, self.shortcut = States(store, self.now), Shortcut(store, self.now)


def standing(store: Store, at: datetime | None = None) -> Report:
    """How all setups stand by the re-plans so far; ``left``: those whose state nobody has re-planned yet."""
    began, report, moment = monotonic(), Report(), _Moment(store, at)
    setups = Which().of(store)
    for start in range(0, len(setups), BATCH):
        batch = setups[start : start + BATCH]
        rows = _rows_of(store, batch)
        seen = seen_of(store, [one.id for one in batch])
        states = moment.states.of([named(one, rows[one.id][-1].names) if one.id in rows else one for one in batch])
        for one in batch:
            mine = rows.get(one.id, [])
            report.left += not mine or mine[-1].state != states[one.id].whole
            report.first += not mine
            if mine and mine[-1].version == one.version:
                report.looked_at += 1
                _report(report, mine[-1], mine, seen.get(one.id))
    report.seconds = monotonic() - began
    return report


def _rows_of(store: Store, batch: Sequence[SetupInShort]) -> dict[str, list[Replanned]]:
    rows: dict[str, list[Replanned]] = {}
    for row in store.replanned([one.id for one in batch], every=True):
        rows.setdefault(row.setup, []).append(row)
    return rows


def _settle(moment: _Moment, batch: Sequence[SetupInShort], report: Report, kept: _Writer) -> list[str]:
    """Settle what needs no plan; the ids of the rest."""
    store = moment.store
    rows = _rows_of(store, batch)
    seen = seen_of(store, [one.id for one in batch])
    states = moment.states.of([named(one, rows[one.id][-1].names) if one.id in rows else one for one in batch])
    left, again, asked = [], [], []
    for one in batch:
        mine, state = rows.get(one.id, []), states[one.id]
        same = next((row for row in mine if row.state == state.whole and row.verdict != FAILED), None)
        if same is not None:
            report.looked_at += 1
            report.known += 1
            if same is not mine[-1]:
                again.append((one.id, state.whole))
            _report(report, same, mine, seen.get(one.id))
            continue
        full = _newest_full(mine, state)
        if full is None:
            left.append(one.id)
        else:
            asked.append(Known(full, state))
    kept.seen_again(again, moment.now)
    for known, found in zip(asked, moment.shortcut.outcomes(asked), strict=True):
        mine = rows[known.full.setup]
        if found is None or turned_of(found, mine, seen.get(found.setup)) is not None:
            left.append(known.full.setup)  # a plan has to say what it is now
            continue
        report.looked_at += 1
        report.shortened += 1
        kept.add(found)
    return sorted(left)


def _newest_full(rows: Sequence[Replanned], state: State) -> Replanned | None:
    """The newest full plan of a setup that passed with everything as now but the log of its chuck."""
    return next((row for row in reversed(rows) if row.rest == state.rest and row.how == FULL and row.limits), None)


def _report(report: Report, found: Replanned, rows: Sequence[Replanned], seen: ReplanSeen | None) -> None:
    if found.verdict == FAILED:
        report.failed.append(Failed(found.setup, found.reason))
        return
    one = turned_of(found, rows, seen)
    if one is not None:
        report.turned.append(one)


def turned_of(found: Replanned, rows: Sequence[Replanned], seen: ReplanSeen | None) -> Turned | None:
    """Whether an outcome is another than the shop goes by; ``rows``: all of the setup, ``seen``: the last of it."""
    mine = [row for row in rows if row.version == found.version]
    if seen is not None and seen.version != found.version:
        seen = None
    return turned(found, baseline_of(mine, found, seen), found.names.get("gauge", "bar"))


def seen_of(store: Store, setups: Sequence[str]) -> dict[str, ReplanSeen]:
    """What somebody looked at last of each setup."""
    return {one.setup: one for one in store.events(ReplanSeen, setup=list(setups))}


def see(store: Store, id: str, by: str, now: datetime, remark: str = "") -> ReplanSeen:
    """Write down that somebody looked at how a setup stands now: from here on the shop goes by that.

    Raises: ``InputError`` where it was never re-planned, or cannot be planned.
    """
    card_of(store, SetupRecord, id, "setup")
    found = next(iter(store.replanned([id])), None)
    if found is None:
        raise InputError(f"setup {id} was never re-planned: there is nothing to look at")
    if found.verdict == FAILED:
        raise InputError(f"setup {id} cannot be planned: {found.reason}")
    steps = {name: {"pressure": step["pressure"]} for name, step in found.steps.items()}
    row = ReplanSeen(at=now, by=by, setup=id, version=found.version, verdict=found.verdict, steps=steps, remark=remark)
    (written,) = store.write(row, by=by, why="re-plan looked at")
    assert isinstance(written, ReplanSeen)
    return written


class _Writer:
    """Outcomes on their way into the records: a few at a time."""

    def __init__(self, store: Store) -> None:
        self.store, self._rows, self._last = store, list[Replanned](), monotonic()

    def add(self, row: Replanned) -> None:
        """Keep one."""
        self._rows.append(row)
        if len(self._rows) >= BATCH or monotonic() - self._last > WRITTEN_EVERY:
            self.write()

    def seen_again(self, keys: Sequence[tuple[str, str]], at: datetime) -> None:
        """States that have a row already."""
        self.store.seen_again(keys, at)

    def write(self) -> None:
        """Write what waits."""
        rows, self._rows, self._last = self._rows, [], monotonic()
        self.store.keep_replanned(rows)


def filters_of(which: Which) -> Mapping[str, str]:
    """The filters that are set, to show."""
    return {name: value for name, value in vars(which).items() if value}

"""Re-planning the setups of the records: known states are left alone, limits decide where they can, plans the rest.

Every outcome is written as it comes, once for each state: a run that is stopped goes on where it was, and two at once
do no harm.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from math import inf
from time import monotonic
from typing import Any, Protocol

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.mechanics.materials import work_material
from heldtrue.planning.result import PASSES
from heldtrue.records import PartRecord, RecordsError, Replanned, ReplanSeen, SetupRecord, Store
from heldtrue.records.kinds import word_for
from heldtrue.records.replans import FAILED
from heldtrue.records.rests import SetupInShort
from heldtrue.shop.enter import card_of, known_card
from heldtrue.shop.identity import alike
from heldtrue.shop.replanning.compare import Turned
from heldtrue.shop.replanning.look import look
from heldtrue.shop.replanning.settle import Moment, seen_of, settle, turned_of
from heldtrue.shop.replanning.state import NUMBERED
from heldtrue.shop.typed import plain

BATCH = 2000
"""Setups looked at together: what is in memory at once."""
WRITTEN_TOGETHER = 500
SAME_MOMENT = 5.0
"""What was read of chucks stands for setups that are looked at within this time, s."""
WRITTEN_EVERY = 2.0
"""Outcomes wait no longer than this to be written, s."""
SAID_IN_SETUP = {"chuck": ("chuck", "number"), "machine": ("machine", "name"), "part": ("part", "number"),
                 "jaw_set": ("jaws", "number")}  # fmt: skip
"""Where the file of a setup has what its card names."""
LOST = "the worker ended while it planned this setup; run it again"


def collect_rarely() -> None:
    """Let the collector of garbage wait, in a program that re-plans and ends.

    The rows of ten thousand setups have no cycles; looking for some among them took a third of the time.
    """
    gc.freeze()
    gc.set_threshold(200_000, 20, 20)


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
        """The setups, by id. Raises: ``InputError`` for what nobody knows: a number mistyped finds no setup either."""
        self._must_be_known(store)
        found = store.setups_in_short(**{"revision": self.revision} if self.revision else {})
        for name, key in SAID_IN_SETUP.items():
            if wanted := getattr(self, name):
                # A card may have come after the setup that names it.
                own = store.setups_say(*key, without=name)
                found = tuple(one for one in found if wanted == (one.names[name] or _text(own.get(one.id))))
        if not self.material:
            return found
        # By the card of the part and by the setup: where they differ, whoever changes a material wants to know of both.
        material = work_material(self.material).key
        parts = {card.id for card in store.all(PartRecord, retired=True) if _is_of(card.material, material)}
        said = {id: _text(value) for id, value in store.setups_say("part", "material").items()}
        names = {name for name in set(said.values()) if _is_of(name, material)}
        return tuple(one for one in found if one.names["part"] in parts or said.get(one.id) in names)

    def _must_be_known(self, store: Store) -> None:
        for name, kind in NUMBERED.items():
            number = getattr(self, name)
            if not number or known_card(store, kind, number) is not None:
                continue
            if like := alike(store, kind, number):
                raise InputError(f"there is no {word_for(kind)} {number} in the records; there is {', '.join(like)}")
            card_of(store, kind, number, word_for(kind))
        if self.revision and not store.setups_in_short(revision=self.revision):
            there = ", ".join(sorted({one.revision for one in store.setups_in_short()} - {""})[:8]) or "none"
            raise InputError(f"no setup is of revision {self.revision}; there are: {there}")


def _text(value: Any) -> str:
    return str(plain(value, ""))


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


@dataclass(frozen=True)
class Refused:
    """A setup that does not pass, and did not as the shop goes by it: no news, and all the same it does not start."""

    setup: str
    chuck: str
    verdict: str
    reason: str


@dataclass
class Report:
    """What a re-plan found.

    ``looked_at`` setups; ``first``: of them never re-planned before; ``known``: in a state that was known already;
    ``shortened``: decided by kept limits alone; ``planned`` in full; ``left``: for want of time; ``refused``: of the
    unchanged those that do not pass; ``seconds`` it took.
    """

    looked_at: int = 0
    first: int = 0
    known: int = 0
    shortened: int = 0
    planned: int = 0
    left: int = 0
    turned: list[Turned] = field(default_factory=list)
    failed: list[Failed] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)
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

    def one(id: str) -> Replanned | Failed:
        try:
            return look(store, id, at)
        except HeldtrueError:
            raise
        except Exception as error:  # noqa: BLE001  one setup that breaks the program must not stop the rest
            return broken(id, error)

    return lambda ids: map(one, ids)


def broken(id: str, error: Exception) -> Failed:
    """A setup at which the program broke; nothing of it is kept, so it is tried again."""
    return Failed(id, f"{type(error).__name__}: {error}")


def replan(
    store: Store, which: Which | None = None, *, runner: Runner | None = None, at: datetime | None = None,
    seconds: float = inf, watch: Callable[[Progress], None] = lambda _: None,
) -> Report:  # fmt: skip
    """Re-plan setups, and say which turned.

    ``at``: the moment they are planned for, now if left out; ``seconds`` after which no further plan is begun, but one:
    who asks in slices gets on, and does not try what could not be planned a second time; ``watch`` hears how far it is.
    What is interrupted has kept what it found.
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
        moment, given = Moment(store, at), 0
        for start in range(0, len(setups), BATCH):
            if monotonic() - moment.since > SAME_MOMENT:
                moment = Moment(store, at)
            batch = settle(moment, setups[start : start + BATCH], failed_too=seconds == inf)
            for found, rows, seen in batch.known:
                report.looked_at += 1
                report.known += 1
                _report(report, found, rows, seen)
            report.looked_at += batch.shortened
            report.shortened += batch.shortened
            kept.seen_again(batch.again, moment.now)
            for one in batch.new:
                kept.add(one)
            for id in batch.left:
                if given and monotonic() - began > seconds:
                    report.left += 1
                else:
                    given += 1
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
    except RecordsError:
        kept.drop()
        raise
    finally:
        kept.write()
    for found_of in (report.turned, report.failed, report.refused):
        found_of.sort(key=lambda one: one.setup)
    report.seconds = monotonic() - began
    return report


def standing(store: Store, at: datetime | None = None) -> Report:
    """How all setups stand by the re-plans so far; ``left``: those whose state nobody has re-planned yet."""
    began, report, moment = monotonic(), Report(), Moment(store, at)
    setups = Which().of(store)
    for start in range(0, len(setups), BATCH):
        batch = setups[start : start + BATCH]
        found = settle(moment, batch)
        report.left += len(found.left) + len(found.again) + len(found.new)
        for one in batch:
            mine = found.rows.get(one.id, [])
            report.first += not mine
            if mine and mine[-1].version == one.version:
                report.looked_at += 1
                _report(report, mine[-1], mine, found.seen.get(one.id))
    report.seconds = monotonic() - began
    return report


def _report(report: Report, found: Replanned, rows: Sequence[Replanned], seen: ReplanSeen | None) -> None:
    if found.verdict == FAILED:
        report.failed.append(Failed(found.setup, found.reason))
        return
    one = turned_of(found, rows, seen)
    if one is not None:
        report.turned.append(one)
    elif found.verdict != PASSES:
        report.refused.append(Refused(found.setup, found.names.get("chuck", ""), found.verdict, found.reason))


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
        if len(self._rows) >= WRITTEN_TOGETHER or monotonic() - self._last > WRITTEN_EVERY:
            self.write()

    def seen_again(self, keys: Sequence[tuple[str, str]], at: datetime) -> None:
        """States that have a row already."""
        self.store.seen_again(keys, at)

    def drop(self) -> None:
        """The records are away: nobody waits for them a second time, and what waits here is planned again."""
        self._rows = []

    def write(self) -> None:
        """Write what waits."""
        rows, self._rows, self._last = self._rows, [], monotonic()
        self.store.keep_replanned(rows)


def filters_of(which: Which) -> Mapping[str, str]:
    """The filters that are set, to show."""
    return {name: value for name, value in vars(which).items() if value}

"""What every page of one server shares: records, drafts, workers, and what is being solved for which draft."""

from __future__ import annotations

import asyncio
import logging
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace
from dataclasses import field as default
from datetime import datetime
from functools import partial
from pathlib import Path
from time import monotonic
from typing import Any, TypeVar

from nicegui import ui

from heldtrue.errors import HeldtrueError, InputError, StorageError
from heldtrue.inspection.taper import Bearing
from heldtrue.planning.setup import Setup
from heldtrue.records import Store, open_store
from heldtrue.records.kinds import Record
from heldtrue.shop.find_setup import SetupFinder
from heldtrue.shop.from_records import with_records
from heldtrue.shop.repeat import repeat_of
from heldtrue.web import texts, worker
from heldtrue.web.access.door import Door
from heldtrue.web.answer import Answer
from heldtrue.web.conflict import Conflict
from heldtrue.web.drafts import TEMPLATE, Draft, Drafts, SavedElsewhereError
from heldtrue.web.fields import Field, Table, put
from heldtrue.web.odds.work import AssumedRow, MeasureAnswer, assumed_rows, measure_answer
from heldtrue.web.part.arrivals import Arrivals
from heldtrue.web.part.kept_drawings import KeptDrawings
from heldtrue.web.pool import Pool
from heldtrue.web.readings import work as readings_work
from heldtrue.web.readings.store import Bench, Benches
from heldtrue.web.results import CompareRow, JawsAnswer
from heldtrue.web.trouble import Trouble, problems_of
from heldtrue.web.ways_work import WaysStep, ways_step
from heldtrue.web.who import AT_THIS_PC, Role, Viewer

R = TypeVar("R")
NOTED_AGAIN = 900.0
"""The same work of the same person is one line of the audit trail for this long, s."""
CALM = 0.35
"""Pause after the last change before the full plan follows the quick look, s: whoever turns a knob is not kept."""
log = logging.getLogger("heldtrue.web")


def now() -> datetime:
    """This moment, with the zone of this machine."""
    return datetime.now().astimezone()


def folder_of(records: str) -> Path:
    """Where the app keeps what is no record: beside the records, or at home where those are on a database server."""
    return Path.home() / "heldtrue-records" if records.startswith("postgresql") else Path(records)


@dataclass
class Live:
    """A draft that somebody has open.

    ``answer``: the last there is; ``solving``: since when [s, monotonic], None at rest; ``watchers``: told of every
    change of fields or answer, by every tab; ``ways``, ``jaws``: the last comparison and jaw cut;
    ``ways_of``: of which setup; ``search``: how far a search for ways went, ``search_of``: of which setup;
    ``measured``: what to measure, ``measured_of``: of which setup;
    ``typed_by``: when and by whom each field was typed last.
    """

    draft: Draft
    answer: Answer | None = None
    solving: float | None = None
    watchers: set[Callable[[str], None]] = default(default_factory=set)
    ways: tuple[CompareRow, ...] | None = None
    ways_of: Setup | None = None
    search: WaysStep | None = None
    search_of: Setup | None = None
    measured: MeasureAnswer | None = None
    measured_of: Setup | None = None
    jaws: JawsAnswer | None = None
    task: asyncio.Task[None] | None = None
    again: bool = False
    typed_by: dict[str, tuple[datetime, str]] = default(default_factory=dict)

    def conflict(self, field: Field) -> Conflict:
        """What the draft has where somebody typed something else, when it came and from whom."""
        when, who = self.typed_by.get(field.path, (None, ""))
        return Conflict(self.draft.text(field), when, who)

    def tell(self, what: str) -> None:
        """Tell every tab; one that is gone must not keep the others from hearing."""
        for watcher in tuple(self.watchers):
            try:
                watcher(what)
            except Exception:
                self.watchers.discard(watcher)
                log.exception("a page could not be updated")


class Desk:
    """The services behind the pages."""

    def __init__(
        self, records: str, *, examples: Path | None = None, pool: Pool | None = None, door: Door | None = None,
    ) -> None:  # fmt: skip
        self.records, self.door = records, door
        self.store: Store = open_store(records)
        self.drafts = Drafts(folder_of(records) / "drafts")
        self.benches = Benches(folder_of(records) / "readings")
        self.arrivals = Arrivals()
        self.finder = SetupFinder()
        self.drawings = KeptDrawings(folder_of(records) / "drawings")
        self.examples = examples
        self.pool = pool or Pool()
        self._live: dict[str, Live] = {}
        self._noted: dict[tuple[str, str], float] = {}

    def close(self) -> None:
        """Let go of everything."""
        self.pool.close()
        self.store.close()

    def live(self, id: str) -> Live:
        """A draft as it stands. Raises: ``InputError`` where there is none of that name."""
        draft = self.drafts.get(id)
        found = self._live.get(id)
        if found is None or found.draft is not draft:
            watchers = found.watchers if found else set()
            found = self._live[id] = Live(draft, watchers=watchers)
        return found

    async def take_newest(self, live: Live) -> None:
        """Take in what another program saved of this draft. Raises: ``InputError`` where it was thrown away."""
        found = await self.remember(self.drafts.newest, live.draft)
        if found is not live.draft:
            live.draft, live.ways, live.jaws = found, None, None
            live.tell("fields")
            self.solve(live)

    def viewer(self) -> Viewer:
        """Who looks at the page that asks. Raises: ``InputError`` where their login has ended."""
        if self.door is None:
            return AT_THIS_PC
        found = self.door.viewer(ui.context.client.request)
        if found is None:
            raise InputError(texts.LOGIN_ENDED)
        return found

    def require(self, role: Role) -> Viewer:
        """Who looks at the page that asks. Raises: ``InputError`` where they may not do that."""
        found = self.viewer()
        if not found.may(role):
            self.note_refused(found, role)
            raise InputError(texts.MAY_NOT.format(role=found.role))
        return found

    def note_refused(self, viewer: Viewer, role: Role) -> None:
        """Somebody wanted what they may not do."""
        if self.door is None or not self._is_news(viewer.name, f"refused {role}"):
            return
        try:
            self.door.accounts.note(viewer.name, "refused", f"wanted to {role}, may {viewer.role}")
        except (sqlite3.Error, StorageError):  # they are refused also where that cannot be written down
            log.exception("the audit trail could not be written")

    async def note(self, viewer: Viewer, what: str, detail: str) -> None:
        """Write a line into the audit trail of a shared app; the same again within a while is one line."""
        if self.door is not None and self._is_news(viewer.name, f"{what} {detail}"):
            await asyncio.to_thread(self.door.accounts.note, viewer.name, what, detail)

    def _is_news(self, name: str, what: str) -> bool:
        key, at = (name, what), monotonic()
        if at - self._noted.get(key, -NOTED_AGAIN) < NOTED_AGAIN:
            return False
        self._noted = {one: when for one, when in self._noted.items() if at - when < NOTED_AGAIN} | {key: at}
        return True

    # Whatever writes goes through here, so that nobody who may only look writes by a way that was forgotten.

    async def write(self, *rows: Record, by: str) -> None:
        """Write cards and events into the records. Raises: ``InputError``."""
        viewer = self.require("set up")
        if viewer.name and viewer.name != by:
            raise InputError(texts.NOT_YOUR_NAME.format(name=viewer.name))
        await self.remember(self.store.write, *rows, by=by)

    async def record(self, work: Callable[..., R], *arguments: Any, **more: Any) -> R:
        """Work of the shop that writes into the records by itself. Raises: ``InputError``."""
        self.require("set up")
        return await self.remember(work, self.store, *arguments, **more)

    async def begin(self, id: str, table: Table, *, own_files: bool = False) -> Draft:
        """A new draft. Raises: ``InputError``."""
        viewer = self.require("set up")
        draft = await self.remember(self.drafts.new, id, table, own_files=own_files)
        await self.remember(self.benches.remove, draft.id)  # no readings of one that had the name before
        await self.note(viewer, "setup begun", draft.id)
        return draft

    async def throw_away(self, id: str) -> None:
        """A draft is no longer wanted. Raises: ``InputError``."""
        viewer = self.require("set up")
        await self.remember(self.drafts.remove, id)
        await self.remember(self.benches.remove, id)
        await self.note(viewer, "setup thrown away", id)

    async def tick(self, live: Live, ticks: list[str]) -> None:
        """Steps at the machine that are done. Raises: ``InputError``."""
        self.require("set up")
        live.draft.ticks = ticks
        await self.remember(self.drafts.save, live.draft)

    async def edit(self, live: Live, field: Field, text: str, base: str | None = None) -> Conflict | None:
        """One field was typed: keep it, save it, answer.

        ``base``: the state of the field it was typed over; where the draft has another by now nothing is overwritten,
        and what it has comes back.
        """
        viewer = self.require("set up")
        for again in (True, False):
            if base is not None and live.draft.state(field) != base and not live.draft.has(field, text):
                return live.conflict(field)
            live.draft.edit(field, text)
            live.typed_by[field.path] = (now(), viewer.name)
            try:
                await self.changed(live)
                break
            except SavedElsewhereError:
                live.typed_by.clear()
                if base is None or not again:
                    raise
        await self.note(viewer, "setup changed", live.draft.id)
        return None

    async def say_source(self, live: Live, field: Field, source: str) -> None:
        """Where the value of a field came from. Raises: ``InputError`` where there is no value."""
        viewer = self.require("set up")
        live.draft.set_source(field, source)
        await self.changed(live)
        await self.note(viewer, "setup changed", live.draft.id)

    async def change(self, live: Live, values: dict[str, Any], label: str, *, unfinished: bool = False) -> None:
        """Several values at once. Raises: ``InputError`` where they do not hold together, unless ``unfinished``."""
        viewer = self.require("set up")
        live.draft.change(values, label, unfinished=unfinished)
        await self.changed(live)
        await self.note(viewer, "setup changed", live.draft.id)

    async def take_template(self, live: Live, content: bytes) -> None:
        """Keep a program template with a setup; empty content takes it away. Raises: ``InputError``."""
        viewer = self.require("set up")
        await self.remember(self.drafts.keep_template, live.draft, content)
        live.draft.change({"boring.template": TEMPLATE if content else None}, texts.TEMPLATE_FILE)
        await self.changed(live)
        await self.note(viewer, "setup changed", live.draft.id)

    async def undo(self, live: Live) -> str:
        """Take the last change back; what it was."""
        self.require("set up")
        label = live.draft.undo()
        await self.changed(live)
        return label

    async def type_reading(self, bench: Bench, values: Table, label: str) -> None:
        """Readings were typed: keep them, tell every tab, save them. Raises: ``InputError``."""
        viewer = self.require("set up")
        bench.typed.change(values, label)
        await self._typed(bench)
        await self.note(viewer, "readings typed", bench.typed.id)

    async def undo_reading(self, bench: Bench) -> str:
        """Take the last entry back; what it was."""
        self.require("set up")
        label = bench.typed.undo()
        await self._typed(bench)
        return label

    async def _typed(self, bench: Bench) -> None:
        bench.tell()
        try:
            await asyncio.to_thread(self.benches.save, bench)
        except InputError:
            bench.tell()
            raise

    async def accept_bearing(self, setup: Setup, seen: Bearing, by: str, taper: float | None) -> tuple[str, ...]:
        """Keep a feeler or bluing reading for the jaws of this chuck; what was kept. Raises: ``InputError``."""
        self.require("set up")
        work = readings_work.accept_bearing_of
        return tuple(checked(await self.pool.run("", work, self.records, setup, seen, by, now(), taper)))

    async def changed(self, live: Live) -> None:
        """Save, tell every tab, plan anew."""
        live.ways = live.jaws = None
        live.tell("fields")
        self.solve(live)
        try:
            await asyncio.to_thread(self.drafts.save, live.draft)
        except InputError:
            # Where another program saved it meanwhile, the drafts have read that; every tab shows it.
            live.draft = self.drafts.get(live.draft.id)
            live.tell("fields")
            self.solve(live)
            raise

    def solve(self, live: Live) -> None:
        """Plan the draft; while that goes on only the newest state is planned next."""
        live.again = True
        if live.task is None or live.task.done():
            live.solving = monotonic()
            live.tell("solving")
            live.task = asyncio.create_task(self._solve(live))

    def stop(self, live: Live) -> None:
        """Nobody wants to wait for this plan any more. Raises: ``InputError`` for whoever may only look."""
        self.require("set up")
        if live.task is not None and not live.task.done():
            live.again = False
            live.task.cancel()

    async def _solve(self, live: Live) -> None:
        try:
            while live.again:
                live.again = False
                live.answer = await self._plan(live, quick=True)
                full = live.answer.full or bool(live.answer.problems)
                if full and not live.again:
                    break
                live.tell("answer")
                if not full:
                    await asyncio.sleep(CALM)
                    if not live.again:
                        live.answer = await self._plan(live, quick=False)
        except asyncio.CancelledError:  # stopped: the answer before must not stand there as if it were this one
            live.answer = Answer(problems=(texts.STOPPED,))
        finally:
            live.solving = None
            live.tell("answer")
            if live.again:  # changed after it was stopped
                live.task = None
                self.solve(live)

    async def _plan(self, live: Live, *, quick: bool) -> Answer:
        try:
            setup, words = await self.setup_of(live)
            made = await self.pool.run(live.draft.id, worker.plan_draft, live.draft.id, setup, quick)
        except HeldtrueError as error:
            return Answer(problems=problems_of(error))
        except Exception:  # a fault of ours: the answer before must not stand there as if it were this one
            log.exception("a plan failed")
            return Answer(problems=(texts.FAILED,))
        return replace(made, from_log=words)

    async def setup_of(self, live: Live) -> tuple[Setup, tuple[str, ...]]:
        """The setup of a draft with what the records know of its chuck and jaws, and in words what that is."""
        setup = live.draft.setup()
        return await asyncio.to_thread(with_records, setup, self.store, now())

    def base_of(self, draft: Draft) -> str | None:
        """Where files a draft names are looked up: nowhere, unless it came from the examples of this machine."""
        if draft.has_template:
            return str(self.drafts.files_of(draft.id))
        return str(self.examples) if draft.own_files and self.examples else None

    async def compare(self, live: Live) -> tuple[CompareRow, ...]:
        """Every way to hold; kept until the draft changes. Raises: ``InputError``."""
        table = live.draft.table
        setup, _ = await self.setup_of(live)
        if live.ways is None or live.ways_of != setup:
            found = checked(await self.pool.run("", worker.compare_ways, setup))
            if live.draft.table is not table:  # it was changed meanwhile: this is the answer to an old question
                return found
            live.ways, live.ways_of = found, setup
        return live.ways

    async def find_ways(self, live: Live, show: Callable[[WaysStep], None]) -> None:
        """Look at every way to hold; ``show`` is told after each step. Raises: ``InputError``."""
        setup, _ = await self.setup_of(live)
        search = live.search if live.search_of == setup else None
        while search is None or search.doing:
            if search is not None:
                show(search)
            state = b"" if search is None else search.search
            search = checked(await self.pool.run("", ways_step, self.records, live.draft.setup(), state, now()))
            # Kept as far as it went: who comes back goes on from there.
            live.search, live.search_of = search, setup
        show(search)

    async def what_to_measure(self, live: Live) -> MeasureAnswer:
        """Which measurement pays; kept until the setup changes. Raises: ``InputError``."""
        setup, _ = await self.setup_of(live)
        if live.measured is None or live.measured_of != setup:
            live.measured = checked(await self.pool.run("", measure_answer, setup))
            live.measured_of = setup
        return live.measured

    async def assumptions(self, live: Live) -> tuple[AssumedRow, ...]:
        """Every input of a draft with its range and spread. Raises: ``InputError``."""
        setup, _ = await self.setup_of(live)
        return checked(await self.pool.run(live.draft.id, assumed_rows, setup))

    async def assume(self, live: Live, key: str, value: dict[str, Any] | None, label: str) -> None:
        """State an input of ``[assumptions]``, or with None no longer. Raises: ``InputError`` where it does not fit."""
        path = f"assumptions.{key}"
        self.require("set up")
        if value is not None:
            setup = await asyncio.to_thread(Setup.from_dict, put(live.draft.table, path, value))
            checked(await self.pool.run(live.draft.id, assumed_rows, setup))
        await self.change(live, {path: value}, label)

    async def cut_jaws(self, live: Live) -> JawsAnswer:
        """How the jaws are cut; kept until the draft changes. Raises: ``InputError``."""
        if live.jaws is None:
            table = live.draft.table
            setup, _ = await self.setup_of(live)
            found = checked(await self.pool.run("", worker.cut_jaws, setup, self.base_of(live.draft)))
            if live.draft.table is not table:
                return found
            live.jaws = found
        return live.jaws

    async def floor_sheet(self, live: Live) -> bytes:
        """The floor sheet as a PDF. Raises: ``InputError``."""
        from_draft = live.draft.setup()
        setup, _ = await self.setup_of(live)
        repeat = await self.remember(repeat_of, self.store, live.draft.id, from_draft)
        return checked(await self.pool.run("", worker.floor_sheet_of, setup, repeat, now().date()))

    async def remember(self, work: Callable[..., R], *arguments: Any, **more: Any) -> R:
        """Ask or write the records in a thread: a disk must not hold up the pages."""
        return await asyncio.to_thread(partial(work, *arguments, **more))


def checked(found: R | Trouble) -> R:
    """The answer of a worker. Raises: ``InputError`` with why there is none."""
    if isinstance(found, Trouble):
        raise InputError(*found.problems)
    return found

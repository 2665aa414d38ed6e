"""A setup in the records: its runs and starts, what is different since the last, and the same on another machine."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Any
from urllib.parse import quote

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.planning.gauge_words import typed_pressure
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import format_quantity
from heldtrue.records import RunRecord, SetupRecord, StartDecision, Version, open_setup, since_last_run
from heldtrue.shop.enter import card_of, known_card
from heldtrue.shop.runs import RunMade, record_run
from heldtrue.shop.typed import typed_reading
from heldtrue.web import moving, texts, worker
from heldtrue.web.boxes import NumberBox, TextBox, WholeBox
from heldtrue.web.busy import waited_for
from heldtrue.web.desk import Desk, Live, checked, now
from heldtrue.web.frame import button, frame, go, html, in_words, not_here, page, say
from heldtrue.web.render import bullets, facts, heading, paragraph, table
from heldtrue.web.who import NameBox

MINUTE = "%Y-%m-%d %H:%M"
MOST_SHOWN = 40
"""Newest runs and starts on the page."""


def register(desk: Desk) -> None:
    """The pages ``/setups/{id}`` and ``/setups/{id}/move``."""
    moving.register(desk)

    @page("/setups/{id}")
    async def one(id: str) -> None:
        card = await desk.remember(known_card, desk.store, SetupRecord, id)
        live = await desk.remember(draft_of, desk, id)
        if card is None and live is None:
            not_here(InputError(texts.NO_SUCH_DRAFT))
            return
        with frame(texts.RECORDS_OF.format(title=(card.title if card else "") or id), "/"):
            page = _Setup(desk, id, live)
            await page.build(card)


def draft_of(desk: Desk, id: str) -> Live | None:
    """The draft whose starts are recorded under this number, if one is open."""
    for name in desk.drafts.ids():
        try:
            live = desk.live(name)
        except InputError:
            continue
        if live.draft.record == id:
            return live
    return None


class _Setup:
    """The page of one setup in one browser."""

    def __init__(self, desk: Desk, id: str, live: Live | None) -> None:
        self.desk, self.id, self.live = desk, id, live

    async def build(self, card: SetupRecord | None) -> None:
        """Put it on the page."""
        self.who = NameBox(self.desk)
        if self.live is not None:
            self._keep(self.live, card is None)
        if card is None:
            return
        self.unit = gauge_unit_of(open_setup(card.document))
        self.head = html("").mark("setup")
        with ui.element("div").classes("row-line"):
            button(texts.OPEN_SETUP, self.open).mark("open")
            button(texts.MOVE_SETUP, lambda: ui.navigate.to(f"/setups/{quote(self.id, safe='')}/move")).mark("to-move")
        self._run()
        self.history = html("").mark("runs")
        await self.show()

    async def show(self) -> None:
        """As it stands now."""
        store = self.desk.store
        card = await self.desk.remember(card_of, store, SetupRecord, self.id, "setup")
        runs = await self.desk.remember(store.events, RunRecord, setup=self.id, newest=MOST_SHOWN)
        starts = await self.desk.remember(store.events, StartDecision, setup=self.id, newest=MOST_SHOWN)
        changes = await self.desk.remember(since_last_run, store, self.id)
        versions = await self.desk.remember(store.versions, SetupRecord, self.id)
        said = [one.words for one in changes] or [texts.NOTHING_SINCE if runs else texts.NEVER_RAN]
        self.head.content = _facts(card) + heading(texts.SINCE_RUN) + bullets(said)
        self.history.content = _runs(runs, self.unit) + _starts(starts) + _versions(versions)

    def _keep(self, live: Live, new: bool) -> None:
        """A draft that is open: keep it as it stands now."""
        html(paragraph(texts.KEEP_FIRST if new else ""))
        why = TextBox(texts.WHY_CHANGED, "why")

        @in_words
        async def keep() -> None:
            self.desk.require("set up")
            by = self.who.name()
            if live.draft.pending:
                raise InputError(texts.PENDING_FIRST)
            version = checked(await waited_for(self.desk.pool.run(
                "", worker.enter_setup, self.desk.records, live.draft.setup(), self.id, by, why.text(),
            )))  # fmt: skip
            go(f"/setups/{quote(self.id, safe='')}", texts.SETUP_KEPT.format(id=self.id, version=version))

        button(texts.KEEP_SETUP, keep, main=new).mark("keep-setup")

    @in_words
    async def open(self) -> None:
        """Plan with it."""
        table_of = await self.desk.remember(self._table)
        draft = await self.desk.begin(self.id, table_of)
        ui.navigate.to(f"/plan/{draft.id}")

    def _table(self) -> dict[str, Any]:
        return self._kept().to_dict(as_corners=True, keep_files=True)

    def _kept(self) -> Setup:
        return open_setup(card_of(self.desk.store, SetupRecord, self.id, "setup").document)

    def _run(self) -> None:
        html(heading(texts.RECORD_RUN))
        with ui.element("div").classes("grid"):
            self.good, self.scrap = WholeBox(texts.GOOD_PARTS, "good"), WholeBox(texts.SCRAP_PARTS, "scrap")
            self.rough = NumberBox(texts.SET_PRESSURE, "run-pressure", "pressure", unit=self.unit)
            self.finish = NumberBox(texts.SET_FINISH, "run-finish", "pressure", unit=self.unit)
            self.speed = WholeBox(texts.SET_SPEED, "run-speed")
            self.lot = TextBox(texts.LOT, "lot", most=80)
            self.measured = TextBox(texts.MEASURED_AS, "measured", hint=texts.MEASURED_HINT)
            self.remark = TextBox(texts.REMARK, "remark")
        button(texts.RECORD_RUN, self.record, main=True).mark("record-run")

    @in_words
    async def record(self) -> None:
        """What was set and what came of it."""
        by = self.who.name()
        good, scrap = self.good.number(), self.scrap.number()
        if not self.good.text() and not self.scrap.text():
            raise InputError(texts.NEEDED.format(what=texts.GOOD_PARTS))
        rough, finish = (
            None if not box.text() else typed_pressure(box.full(), self.unit) for box in (self.rough, self.finish)
        )
        speed = self.speed.number() if self.speed.text() else None
        readings = dict(typed_reading(one) for one in self.measured.text().split())
        made = RunMade(rough, finish, speed, good, scrap, self.lot.text(), readings, self.remark.text())
        setup = await self.desk.remember(self._kept)
        row = await self.desk.record(record_run, setup, self.id, made, by=by, now=now())
        for box in (self.good, self.scrap, self.measured, self.remark):
            box.clear()
        say(texts.RUN_KEPT, *row.changed, *(() if row.decision else (texts.NO_GATE,)))
        await self.show()


def _facts(card: SetupRecord) -> str:
    jaw_set = card.jaw_set or ""
    rows = [(texts.PART, " ".join(filter(None, [card.part, card.revision]))),
            (texts.ON_MACHINE, card.machine or texts.NOT_KNOWN), (texts.CHUCK, card.chuck or texts.NOT_KNOWN),
            (texts.SET_NUMBER, jaw_set or texts.NOT_KNOWN)]  # fmt: skip
    return facts(rows) + (f"<p>{_set_link(jaw_set)}</p>" if jaw_set else "")


def _set_link(jaw_set: str) -> str:
    return f'<a class="to-set" href="/shelf/{quote(jaw_set, safe="")}">{escape(texts.SHELF)}: {escape(jaw_set)}</a>'


def _runs(runs: Sequence[RunRecord], unit: str) -> str:
    if not runs:
        return heading(texts.RUNS) + paragraph(texts.NEVER_RAN)
    rows = []
    for one in reversed(runs):
        sets = [format_quantity(p, "pressure", unit=unit) for p in (one.rough_pressure, one.finish_pressure)
                if p is not None]  # fmt: skip
        if one.speed_rpm is not None:
            sets.append(f"{one.speed_rpm:.0f} rev/min")
        measured = ", ".join(f"{name} {value:g}" for name, value in one.readings.items())
        rows.append((f"{one.at.astimezone():{MINUTE}}", str(one.quantity), str(one.scrap), ", ".join(sets), one.lot,
                     measured, "; ".join(one.changed), one.remark, one.by))  # fmt: skip
    return heading(texts.RUNS) + table(texts.RUN_HEADS, rows, numeric=(0, 1, 2))


def _starts(starts: Sequence[StartDecision]) -> str:
    if not starts:
        return heading(texts.STARTS) + paragraph(texts.NEVER_STARTED)
    rows = [(f"{one.at.astimezone():{MINUTE}}", one.gauge_text, one.verdict, one.by, one.override_reason)
            for one in reversed(starts)]  # fmt: skip
    return heading(texts.STARTS) + table(texts.EARLIER_HEADS, rows, numeric=(0, 1))


def _versions(versions: Sequence[Version]) -> str:
    rows = [(str(one.card.version), f"{one.at.astimezone():{MINUTE}}", one.by, one.why) for one in reversed(versions)]
    return heading(texts.VERSIONS) + table(texts.VERSION_HEADS, rows[:MOST_SHOWN], numeric=(0, 1))

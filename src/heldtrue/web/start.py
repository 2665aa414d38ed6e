"""The start page: what the gauge shows, who stands there, and the answer in the largest type; every answer recorded."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from html import escape
from time import monotonic
from typing import TYPE_CHECKING

from nicegui import events, ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.planning.gauge_words import spelled, typed_pressure
from heldtrue.quantities import bare_unit, names_unit
from heldtrue.records import StartDecision
from heldtrue.shop.basis import Basis, basis_of
from heldtrue.web import texts, worker
from heldtrue.web.busy import Busy
from heldtrue.web.desk import Desk, Live, checked, now
from heldtrue.web.fields import Field, Table, bare, echo, get
from heldtrue.web.frame import STILL_THERE, button, frame, html, in_words, needs_server, not_here, page, still_there
from heldtrue.web.places import meant
from heldtrue.web.plan.page import watch
from heldtrue.web.render import bullets, gate, gate_more, heading, paragraph, table
from heldtrue.web.standing import Standing
from heldtrue.web.trouble import problems_of
from heldtrue.web.who import NameBox

if TYPE_CHECKING:
    from heldtrue.web.results import StartAnswer

MINUTE = "%Y-%m-%d %H:%M"
LEAST_REASON = 8
GAUGE = Field("gauge", texts.GAUGE_SHOWS, "pressure")
MOST_EARLIER = 12
OPENS_WITHIN = 5.0
"""The page waits this long for the plan, s; then it opens without, and its steps and windows come with the plan."""
LOOKED_AT = 0.5
"""How often it is looked at whether an answer still stands, s: with the way to the browser it is gone in about one."""


@dataclass(frozen=True)
class _Asked:
    """What was asked: the reading and the step, the setup as it was typed, and what the records knew."""

    question: tuple[str, str]
    table: Table
    basis: Basis


def register(desk: Desk) -> None:
    """The page ``/start/{id}``."""

    @page("/start/{id}")
    async def start(id: str) -> None:
        try:
            live = desk.live(id)
            await desk.take_newest(live)
        except InputError as error:
            not_here(error)
            return
        with frame(f"{texts.START}: {live.draft.title}"):
            gate_page = _Gate(desk, live)
            await gate_page.build()
        with ui.element("div").classes("bar"):
            button(texts.PLAN, lambda: ui.navigate.to(f"/plan/{id}"))
            button(texts.ASK_START, gate_page.ask, main=True).mark("ask-start")


class _Gate:
    """One start page in one browser."""

    def __init__(self, desk: Desk, live: Live) -> None:
        self.desk, self.live = desk, live
        self.stands: _Asked | None = None
        self.looked = 0.0
        self.unit = bare(get(live.draft.table, "chuck.actuator.gauge")) or bare_unit("pressure", live.draft.system)

    async def build(self) -> None:
        """Put it on the page."""
        self.busy = Busy()
        Standing(self.desk, self.live)
        # What is answered needs the server: the browser hides it when nobody could take it back any more.
        html(f'<p class="lost here" role="alert">{escape(texts.NOT_CONNECTED_START)}</p>')
        with needs_server():
            self.answer = html("").mark("gate")
        self.gone = html("").props("role=alert").mark("gone")
        self.job = html("").mark("job")
        self.asks = html("").mark("asks")
        with ui.element("div").classes("grid"):
            self.gauge = ui.input(texts.GAUGE_SHOWS, on_change=self._echo)
            self.gauge.props(f'outlined stack-label inputmode="decimal" suffix="{spelled(self.unit)}" autofocus')
            self.gauge.classes("huge").mark("gauge")
            self.name = NameBox(self.desk, "huge")
            self.step = ui.select([], label=texts.STEP).props("outlined stack-label").classes("huge").mark("step")
            if self.live.answer is None:
                self.desk.solve(self.live)
                assert self.live.task is not None
                await asyncio.wait({self.live.task}, timeout=OPENS_WITHIN)
            self._show_job()
            if self.live.answer is None:
                self.asks.content = paragraph(texts.PLANNED_ANEW)
            self.step.on_value_change(self._forget)
        self.below = ui.element("div").classes("below")
        with ui.element("div").classes("sheet") as self.overriding:
            html(heading(texts.OVERRIDE))
            self.reason = ui.input(texts.OVERRIDE_REASON).props("outlined stack-label maxlength=300").classes("w-full")
            self.reason.mark("reason")
            button(texts.OVERRIDE, self.override).mark("override")
        self.overriding.visible = False
        with ui.element("div").classes("block needs-server"):
            self.more = html("")
        self.earlier = html("")
        watch(self.live, self._tell)
        ui.timer(LOOKED_AT, self._look)
        ui.on(STILL_THERE, self._still_there)  # nobody else may say it here: more has to be looked at
        await self._show_earlier()

    def _tell(self, what: str) -> None:
        """A setup that another tab changed makes the answer and the windows on this page untrue."""
        if what == "fields":
            self._take_back(texts.BASIS["setup"])
            self.asks.content = paragraph(texts.PLANNED_ANEW)
        elif what == "answer":
            self._show_job()

    def _show_job(self) -> None:
        """What is started here, how its plan stands, and the steps and windows of the last answer."""
        found, table = self.live.answer, self.live.draft.table
        said = [(words, bare(get(table, path))) for words, path in texts.JOB_FACTS]
        self.job.content = paragraph("; ".join(f"{words} {value or texts.NOT_SAID}" for words, value in said))
        self.asks.content = bullets(self._windows())
        steps = [one.name for one in found.steps] if found else []
        if list(self.step.options) != steps:
            self.step.set_options(steps, value=next(iter(steps), None))

    def _windows(self) -> list[str]:
        """What each pressure step asks for, in words."""
        found, lines = self.live.answer, list[str]()
        for one in found.steps if found else ():
            if one.recommended is None:
                lines.append(texts.NO_WINDOW_OF.format(step=one.name))
            else:
                lines.append(texts.WINDOW_OF.format(step=one.name, set=one.recommended[0], other=one.recommended[1],
                                                    low=one.floor[0], high=one.ceiling[0]))  # fmt: skip
        return lines

    def _echo(self) -> None:
        self.gauge.error = None
        self._ask_back("")
        self.gauge.props(f'hint="{echo(GAUGE, self._typed(), self.live.draft.system)}"')
        self._forget()

    def _forget(self) -> None:
        """What stands there was decided for another reading: nobody may take it for the answer to this one."""
        self.gone.content = ""
        if self.stands is not None and self._question() != self.stands.question:
            self._clear()

    def _clear(self) -> None:
        self.stands = None
        self.answer.content = self.more.content = ""
        self.overriding.visible = False

    def _take_back(self, *why: str) -> None:
        """The answer is none any more; an old one must not stand there."""
        if self.stands is not None:
            self._clear()
            self.gone.content = paragraph(texts.ANSWER_GONE.format(why="; ".join(why)))

    async def _look(self) -> None:
        """Is the answer that stands there still the answer?"""
        asked, began = self.stands, monotonic()
        if asked is not None:
            why = await self._changed_since(asked)
            if why and self.stands is asked:
                self._take_back(*why)
        self.looked = began

    async def _changed_since(self, asked: _Asked) -> tuple[str, ...]:
        """What is no longer as it was when that was asked, in words; empty where everything is."""
        draft = self.live.draft
        if draft.table is not asked.table or draft.pending:
            return (texts.BASIS["setup"],)
        try:
            if not await self.desk.remember(self.desk.drafts.is_newest, draft):
                return (texts.BASIS["setup"],)
            found = await self.desk.remember(basis_of, asked.basis.setup, self.desk.store, now())
        except HeldtrueError as error:  # what cannot be read could be anything
            return problems_of(error)
        return tuple(texts.BASIS[name] for name in asked.basis.changes(found))

    async def _still_there(self, event: events.GenericEventArguments) -> None:
        """The browser asks whether somebody is there who would take the answer back; ``alive.js`` hides it if not."""
        if monotonic() - self.looked < 2 * LOOKED_AT:
            still_there(event)

    def _question(self) -> tuple[str, str]:
        return self._typed(), str(self.step.value)

    def _can_be_read(self) -> bool:
        """Is it a pressure, in the unit that is meant? What is wrong stands below the field, with what may be meant."""
        text, chuck = str(self.gauge.value or "").strip(), self.live.draft.setup().chuck
        try:
            typed_pressure(text, self.unit, chuck.plate_pressure)
        except InputError as error:
            self.gauge.error = "; ".join(error.problems)
            self._ask_back(meant(self.gauge.error))
            return False
        return True

    def _ask_back(self, suggested: str) -> None:
        self.below.clear()
        if suggested:
            with self.below:
                take = button(texts.TAKE_IT.format(value=suggested), lambda: self.gauge.set_value(suggested))
                take.mark("gauge-meant")

    def _typed(self) -> str:
        """What was typed, a bare number in the unit of the gauge as the box shows it."""
        text = str(self.gauge.value or "").strip()
        return text if not text or names_unit(text) else f"{text} {self.unit}"

    @in_words
    async def ask(self) -> None:
        """May it start?"""
        await self._decide("")

    @in_words
    async def override(self) -> None:
        """Start it all the same, with a reason."""
        reason = str(self.reason.value or "").strip()
        if len(reason) < LEAST_REASON:
            raise InputError(texts.OVERRIDE_NEEDS)
        if self.stands is None or self._question() != self.stands.question:  # a reason is for its own reading
            raise InputError(texts.ASK_FIRST)
        await self._decide(reason)

    async def _decide(self, reason: str) -> None:
        self.desk.require("set up")
        typed = self._typed()
        if not typed:
            self.gauge.error = texts.NEED_GAUGE
            return
        by = self.name.name()
        await self.desk.take_newest(self.live)
        if self.live.draft.pending:
            raise InputError(texts.NOT_WITH_PENDING)
        if not self._can_be_read():
            return
        # An old answer must not stand there while the new one is worked out.
        self._clear()
        self.gone.content = ""
        draft = self.live.draft
        setup, table, at = draft.setup(), draft.table, now()
        asked = _Asked(self._question(), table, await self.desk.remember(basis_of, setup, self.desk.store, at))
        made = checked(await self.busy.over(self.desk.pool.run(
            draft.id, worker.start, self.desk.records, setup, draft.record, typed, by, self.step.value, reason, at,
        ), texts.SOLVING))  # fmt: skip
        self.stands = asked
        if why := await self._changed_since(asked):
            self._take_back(*why)
        elif self.stands is asked and self._question() == asked.question:
            self._show(made)
        await self._show_earlier()

    def _show(self, made: StartAnswer) -> None:
        self.answer.content = gate(made)
        self.more.content = gate_more(made)
        self.overriding.visible = not made.goes
        if made.overridden:
            self.reason.value = ""
        ui.run_javascript("document.getElementById('content').scrollTo(0, 0)")

    async def _show_earlier(self) -> None:
        rows = await self.desk.remember(
            self.desk.store.events, StartDecision, setup=self.live.draft.record, newest=MOST_EARLIER
        )
        cells = [
            (f"{one.at.astimezone():{MINUTE}}", one.gauge_text, one.verdict, one.by, one.override_reason)
            for one in reversed(rows)
        ]
        content = heading(texts.EARLIER) + table(texts.EARLIER_HEADS, cells, numeric=(0, 1)) if cells else ""
        self.earlier.content = content

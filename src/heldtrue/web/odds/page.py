"""The page that says which measurement pays, and what is assumed; both beside the verdict, which stands above."""

from __future__ import annotations

from functools import partial
from html import escape
from urllib.parse import quote

from nicegui import background_tasks, ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.web import texts
from heldtrue.web.busy import StoppedError
from heldtrue.web.compare import figure, under_the_verdict
from heldtrue.web.desk import Desk, Live
from heldtrue.web.fields import Table
from heldtrue.web.frame import button, html, not_here, page
from heldtrue.web.odds.assumed import AssumptionTable
from heldtrue.web.odds.places import assumption_in, called, fields_for
from heldtrue.web.odds.work import MeasureAnswer, MeasureRow
from heldtrue.web.places import in_labels
from heldtrue.web.plan.page import watch
from heldtrue.web.render import bullets, heading, odds, paragraph, picture
from heldtrue.web.trouble import problems_of

Spans = tuple[tuple[float, float], ...]


def register(desk: Desk) -> None:
    """The page ``/measure/{id}``."""

    @page("/measure/{id}")
    async def measure(id: str) -> None:
        try:
            live = desk.live(id)
        except InputError as error:
            not_here(error)
            return
        made = MeasurePage(desk, live)
        with ui.element("div").classes("bar"):
            button(texts.WAYS, lambda: ui.navigate.to(f"/ways/{id}"))
            button(texts.PLAN, lambda: ui.navigate.to(f"/plan/{id}"), main=True)
        await ui.context.client.connected()
        await made.work_out()


class MeasurePage:
    """The page of one browser: worked out when it is opened, and again whenever another full plan stands."""

    def __init__(self, desk: Desk, live: Live) -> None:
        self.desk, self.live = desk, live
        self._asked: Table | None = None
        self.busy, place = under_the_verdict(desk, live, texts.TO_MEASURE, texts.TO_MEASURE_SAYS)
        with place:
            self.old = html("").mark("measure-old")
            self.place = ui.element("div").classes("block").mark("measurements")
            self.assumed = AssumptionTable(desk, live)
        watch(live, self._hear)

    def _hear(self, what: str) -> None:
        """A change makes it old; the full plan that follows makes it new."""
        if self._asked is None or self.live.draft.table is self._asked:
            return
        self.old.content = f'<p role="status"><strong>{escape(texts.MEASURED_OLD)}</strong></p>'
        self.place.classes(add="stale")
        found = self.live.answer
        if what == "answer" and self.live.solving is None and found is not None and found.full:
            background_tasks.create(self.work_out())

    async def work_out(self) -> None:
        """Ask for both, and show them."""
        self._asked = self.live.draft.table
        await self.assumed.refresh()
        problems: tuple[str, ...] = ()
        found: MeasureAnswer | None = None
        try:
            found = await self.busy.over(self.desk.what_to_measure(self.live), texts.FINDING_MEASUREMENTS)
        except StoppedError:
            pass
        except HeldtrueError as error:
            problems = problems_of(error)
        if self.place.is_deleted or self._asked is not self.live.draft.table:
            return  # closed, or changed meanwhile: another answer is on its way
        self.old.content = ""
        self.place.classes(remove="stale")
        self.place.clear()
        with self.place:
            if found is not None:
                self._show(found)
            else:
                html(bullets(in_labels(self.live.draft.table, one) for one in problems))
                button(texts.MEASURE_AGAIN, self.work_out).mark("measure-again")

    def _show(self, found: MeasureAnswer) -> None:
        longest = max((high for row in found.rows for _, high in (*row.now_span, *row.after_span)), default=0.0)
        for number, row in enumerate(found.rows, 1):
            self._row(number, row, longest)
        if not found.rows:
            html(paragraph(texts.NOTHING_PAYS if found.idle else texts.NOTHING_LEFT)).mark("nothing-pays")
        if found.pair:
            html(paragraph(found.pair)).mark("pair")
        if found.idle:
            html(f'<p class="hint">{escape(texts.CHANGE_NOTHING.format(what="; ".join(found.idle)))}</p>')
        if found.picture:
            title = texts.WHAT_SPREADS.format(check=found.check)
            drawn = f'<div class="pictures">{picture(found.picture, texts.ODDS_PICTURE)}</div>'
            html(heading(title) + bullets(found.shares) + drawn).mark("spreads")
        html(odds(found.verdict, found.odds)).mark("odds")

    def _row(self, number: int, row: MeasureRow, longest: float) -> None:
        """One measurement: what it is and what it takes, the window now and after, the way to its field."""
        table, id = self.live.draft.table, quote(self.live.draft.id, safe="")
        fields, assumption = fields_for(table, row.keys), assumption_in(row.keys)
        names = [self.assumed.label_of(assumption)] if assumption else [called(table, path) for path in fields]
        lines = [texts.MINUTES.format(minutes=row.minutes), texts.GOES_INTO.format(fields=", ".join(names))]
        chance = f"<p>{escape(texts.TURNS_PASS.format(chance=row.chance))}</p>" if row.chance else ""
        guessed = f'<p class="hint">{escape(texts.GUESSED)}</p>' if row.guessed else ""
        measures = (_window(texts.WINDOW_NOW, row.now, row.now_span, longest)
                    + _window(texts.WINDOW_AFTER, row.after, row.after_span, longest))  # fmt: skip
        said = "".join(f'<p class="hint">{escape(one)}</p>' for one in lines)
        with ui.element("div").classes("row-line way paying").mark("measurement"):
            html(f"<h3>{number}. {escape(row.what)}</h3>{chance}{said}{guessed}").classes("what")
            html(f'<div class="measures">{measures}</div>').classes("beside-it")
            if assumption:
                enter = button(texts.ENTER, partial(self.assumed.choose, assumption))
            else:
                to = f"/plan/{id}?field={quote(fields[0], safe='')}"
                enter = button(texts.ENTER, lambda: ui.navigate.to(to))
            enter.mark(f"enter-{number}").props(f'aria-label="{escape(f"{texts.ENTER}: {names[0]}")}"')


def _window(name: str, words: str, spans: Spans, longest: float) -> str:
    """A window on the scale of all of them; where there is none, in words alone."""
    if spans:
        return figure(name, words, spans, longest)
    return f'<div><span class="hint">{escape(name)}</span><br><strong>{escape(words)}</strong></div>'

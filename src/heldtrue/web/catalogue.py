"""The whole catalogue: which setups may no longer start as they did, why, and their floor sheets to print again."""

from __future__ import annotations

from functools import partial
from html import escape
from urllib.parse import quote

from nicegui import ui

from heldtrue.planning.gauge_words import pressure_text
from heldtrue.shop.replanning.compare import Turned
from heldtrue.shop.replanning.document import replan_csv
from heldtrue.shop.replanning.run import Report, see, standing
from heldtrue.web import texts, worker
from heldtrue.web.busy import Busy, waited_for
from heldtrue.web.desk import Desk, checked, now
from heldtrue.web.frame import button, frame, html, in_words, page, say
from heldtrue.web.prints import open_pdf
from heldtrue.web.render import bullets, heading, paragraph
from heldtrue.web.who import NameBox

SLICE = 10.0
"""Full plans are made for so long at a time, s: nobody's comparison waits longer behind them."""
MOST_SHOWN = 100
"""Setups on the page; the CSV has all of them."""


def register(desk: Desk) -> None:
    """The page ``/catalogue``."""

    @page("/catalogue")
    async def catalogue() -> None:
        with frame(texts.CATALOGUE, "/catalogue"):
            await _Catalogue(desk).build()


class _Catalogue:
    """The page in one browser."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.report = Report()

    async def build(self) -> None:
        """Put it on the page."""
        html(paragraph(texts.CATALOGUE_WORDS))
        self.head = html(paragraph(texts.CATALOGUE_READ)).mark("stopped").props('role="status"')
        with ui.element("div").classes("row-line"):
            button(texts.REPLAN_NOW, self.replan, main=True).mark("replan")
            button(texts.DOWNLOAD_CSV, self.download).mark("csv")
        self.busy = Busy("replanning")
        html(heading(texts.TURNED_SETUPS))
        self.who = NameBox(self.desk)
        self.rows = ui.element("div").mark("turned")
        self.failed = html("").mark("failed")
        await self.show()

    async def show(self) -> None:
        """As it stands now."""
        self.report = report = await self.desk.remember(standing, self.desk.store)
        self.head.content = _head(report)
        turned = sorted(report.turned, key=lambda one: (not one.stops, one.setup))
        self.rows.clear()
        with self.rows:
            for one in turned[:MOST_SHOWN]:
                self._row(one)
            if not turned:
                html(paragraph(texts.NOTHING_TURNED))
            if len(turned) > MOST_SHOWN:
                html(paragraph(texts.MORE_IN_CSV.format(more=len(turned) - MOST_SHOWN)))
        words = [f"{one.setup}: {one.reason}" for one in report.failed[:MOST_SHOWN]]
        refused = [f"{one.setup}: {one.verdict}, {one.reason}" for one in report.refused[:MOST_SHOWN]]
        self.failed.content = "".join(heading(title) + bullets(lines) for title, lines in (
            (texts.NOT_PLANNABLE, words), (texts.DO_NOT_PASS, refused)) if lines)  # fmt: skip

    def _row(self, one: Turned) -> None:
        with ui.element("div").classes("row-line"):
            html(_turned(one)).classes("what")
            button(texts.PRINT_SHEET, partial(self.print, one.setup)).mark(f"sheet-{one.setup}")
            button(texts.LOOKED_AT, partial(self.seen, one.setup)).mark(f"seen-{one.setup}")

    @in_words
    async def replan(self) -> None:
        """Re-plan what has changed, and show it as it comes."""
        self.desk.require("set up")
        left = -1
        while left:
            words = texts.REPLAN_BEGINS if left < 0 else texts.REPLANNING.format(left=left)
            work = self.desk.pool.run("", worker.replan_for, self.desk.records, SLICE)
            left = checked(await self.busy.over(work, words))
            await self.show()
        say(texts.REPLANNED)

    @in_words
    async def print(self, setup: str) -> None:
        """The floor sheet as it must be now."""
        work = self.desk.pool.run("", worker.floor_sheet_now, self.desk.records, setup, now())
        open_pdf(checked(await waited_for(work)), f"{setup}.pdf")

    @in_words
    async def seen(self, setup: str) -> None:
        """Somebody has looked at a setup as it stands."""
        row = await self.desk.record(see, setup, self.who.name(), now())
        say(texts.LOOKED_AT_SAID.format(setup=setup, verdict=row.verdict))
        await self.show()

    def download(self) -> None:
        """All that turned, and what cannot be planned."""
        ui.download(replan_csv(self.report).encode(), "catalogue.csv")


def _head(report: Report) -> str:
    stopped = len(report.stopped)
    words = texts.MAY_NO_LONGER.format(stopped=f"{stopped:,}", all=f"{report.looked_at:,}")
    hints = []
    if report.first:
        hints.append(texts.CATALOGUE_NEW.format(first=f"{report.first:,}"))
    if report.left > report.first:
        hints.append(texts.CATALOGUE_LEFT.format(left=f"{report.left - report.first:,}"))
    if report.failed:
        hints.append(texts.CATALOGUE_FAILED.format(failed=f"{len(report.failed):,}"))
    if report.refused:
        hints.append(texts.CATALOGUE_REFUSED.format(refused=f"{len(report.refused):,}"))
    # What nobody has planned as it is now is no good news.
    look = "fails" if stopped else "not-proven" if report.failed or report.left or not report.looked_at else "passes"
    more = f"<p>{escape('; '.join(hints))}</p>" if hints else ""
    return f'<div class="verdict {look}"><div class="word">{escape(words)}</div>{more}</div>'


def _turned(one: Turned) -> str:
    pressures = ", ".join(f"{name} {pressure_text(value, one.unit)}" for name, value in one.pressures.items())
    said = texts.WAS_NOW.format(was=one.was, now=one.now)
    link = f'<a href="/setups/{quote(one.setup, safe="")}">{escape(one.setup)}</a>'
    words = "; ".join(filter(None, (said, pressures, one.reason)))
    chuck = f" ({escape(one.chuck)})" if one.chuck else ""
    return f"<strong>{link}</strong>{chuck}<p>{escape(words)}</p>"

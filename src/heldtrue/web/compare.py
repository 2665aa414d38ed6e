"""The page that sets every way to hold side by side, and takes one over."""

from __future__ import annotations

from html import escape

from nicegui import ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.web import texts
from heldtrue.web.desk import Desk, Live
from heldtrue.web.frame import button, frame, html, in_words, not_here, page
from heldtrue.web.render import bullets, state
from heldtrue.web.results import CompareRow
from heldtrue.web.worker import problems_of


def register(desk: Desk) -> None:
    """The page ``/compare/{id}``."""

    @page("/compare/{id}")
    async def compare(id: str) -> None:
        try:
            live = desk.live(id)
        except InputError as error:
            not_here(error)
            return
        with frame(f"{texts.COMPARE}: {live.draft.title}"):
            busy = ui.label(texts.COMPARING).classes("busy on")
            place = ui.element("div").classes("block")
        with ui.element("div").classes("bar"):
            button(texts.PLAN, lambda: ui.navigate.to(f"/plan/{id}"), main=True)
        await ui.context.client.connected()
        ways: tuple[CompareRow, ...] = ()
        problems: tuple[str, ...] = ()
        try:
            ways = await desk.compare(live)
        except HeldtrueError as error:
            problems = problems_of(error)
        if place.is_deleted:  # the page was closed meanwhile
            return
        busy.text = ""
        busy.classes(remove="on")
        with place:
            if problems:
                html(bullets(problems))
            for number, way in enumerate(ways, 1):
                _way(desk, live, number, way)


def _way(desk: Desk, live: Live, number: int, way: CompareRow) -> None:
    @in_words
    async def take() -> None:
        await desk.change(live, dict(way.changes), texts.TAKEN_OVER.format(name=way.name))
        ui.navigate.to(f"/plan/{live.draft.id}")

    figures = " · ".join(filter(None, [
        f"{texts.WAYS_HEADS[3]} {way.form_error}" if way.form_error else "",
        f"{texts.WAYS_HEADS[4]} {way.window}" if way.window else "",
    ]))  # fmt: skip
    why = way.why + (f"; {texts.NEEDS} {way.needs}" if way.needs else "")
    with ui.element("div").classes("row-line").mark("way"):
        html(f"<h3>{number}. {escape(way.name)} {state(way.verdict)}</h3><p><strong>{escape(figures)}</strong></p>"
             f"<p>{escape(why)}</p>").classes("what")  # fmt: skip
        if way.changes:
            button(texts.TAKE_OVER, take).mark(f"take-{number}")
        elif way.verdict != "cannot be":
            ui.label(texts.AS_IT_IS)

"""The page that sets every way to hold side by side, and takes one over."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from nicegui import ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.web import texts
from heldtrue.web.busy import Busy
from heldtrue.web.desk import Desk, Live
from heldtrue.web.frame import STILL_THERE, button, frame, html, in_words, needs_server, not_here, page, still_there
from heldtrue.web.places import in_labels
from heldtrue.web.render import bullets, paragraph, picture_source, state
from heldtrue.web.results import CompareRow
from heldtrue.web.standing import Standing
from heldtrue.web.trouble import problems_of


def register(desk: Desk) -> None:
    """The page ``/compare/{id}``."""

    @page("/compare/{id}")
    async def compare(id: str) -> None:
        try:
            live = desk.live(id)
        except InputError as error:
            not_here(error)
            return
        busy, place = under_the_verdict(desk, live, texts.COMPARE)
        with ui.element("div").classes("bar"):
            button(texts.PLAN, lambda: ui.navigate.to(f"/plan/{id}"), main=True)
        await ui.context.client.connected()
        ways: tuple[CompareRow, ...] = ()
        problems: tuple[str, ...] = ()
        try:
            ways = await busy.over(desk.compare(live), texts.COMPARING)
        except HeldtrueError as error:
            problems = problems_of(error)
        if place.is_deleted:  # the page was closed meanwhile
            return
        with place:
            if problems:
                html(bullets(in_labels(live.draft.table, one) for one in problems))
            scales = (max((way.form for way in ways), default=0.0),
                      max((high for way in ways for _, high in way.spans), default=0.0))  # fmt: skip
            for number, way in enumerate(ways, 1):
                _way(desk, live, number, way, scales)


def under_the_verdict(desk: Desk, live: Live, title: str, says: str = "") -> tuple[Busy, ui.element]:
    """A page about ways to hold: the verdict at the top, the sign of work, and the place for what is found.

    ``says``: what stands above it.
    """
    with frame(f"{title}: {live.draft.title}"):
        ui.on(STILL_THERE, still_there)
        Standing(desk, live)
        busy = Busy()
        html(f'<p class="lost here">{escape(texts.NOT_CONNECTED_ANSWER)}</p>')
        with needs_server():
            if says:
                html(paragraph(says))
            return busy, ui.element("div").classes("block")


def _way(desk: Desk, live: Live, number: int, way: CompareRow, scales: tuple[float, float]) -> None:
    """One line; ``scales``: the largest form error and pressure of all, so that their bars can be compared."""

    @in_words
    async def take() -> None:
        await desk.change(live, dict(way.changes), texts.TAKEN_OVER.format(name=way.name))
        ui.navigate.to(f"/plan/{live.draft.id}")

    why = way.why + (f"; {texts.NEEDS} {way.needs}" if way.needs else "")
    with ui.element("div").classes("row-line way sketched").mark("way"):
        html(f'<img class="sketch" alt="" src="{picture_source(way.sketch)}">' if way.sketch else "")
        html(f"<h3>{number}. {escape(way.name)} {state(way.verdict)}</h3><p>{escape(why)}</p>").classes("what")
        form = figure(texts.FORM_ERROR, way.form_error, [(0.0, way.form)], scales[0]) if way.form_error else ""
        window = figure(texts.PRESSURE_WINDOW, way.window, way.spans, scales[1]) if way.window else ""
        html(f'<div class="measures">{form}{window}</div>').classes("beside-it")
        if way.changes:
            button(texts.TAKE_OVER, take).mark(f"take-{number}")
        elif way.verdict != "cannot be":
            ui.label(texts.AS_IT_IS)


def figure(name: str, words: str, spans: Sequence[tuple[float, float]], most: float) -> str:
    """A number with its name, and below it where it lies on a scale from 0 to ``most``."""
    whole = most if most > 0.0 else 1.0
    bars = "".join(
        f'<rect x="{100 * low / whole:.2f}" y="{12 * number / len(spans):.2f}" '
        f'width="{max(100 * (high - low) / whole, 0.5):.2f}" height="{12 / len(spans) - 1:.2f}"/>'
        for number, (low, high) in enumerate(spans)
    )  # fmt: skip
    return (f'<div><span class="hint">{escape(name)}</span><br><strong>{escape(words)}</strong>'
            f'<svg class="bars" viewBox="0 0 100 12" preserveAspectRatio="none" aria-hidden="true">'
            f'<path d="M0 0V12M100 0V12M0 12H100"/>{bars}</svg></div>')  # fmt: skip

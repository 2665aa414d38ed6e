"""The page that asks how a part should be held: every way ranked, shown as it is found, and one taken over."""

from __future__ import annotations

from html import escape

from nicegui import ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.web import texts
from heldtrue.web.busy import StoppedError
from heldtrue.web.compare import figure, under_the_verdict
from heldtrue.web.desk import Desk, Live
from heldtrue.web.frame import button, html, in_words, not_here, page
from heldtrue.web.places import in_labels
from heldtrue.web.render import bullets, heading, paragraph, picture, state, table
from heldtrue.web.trouble import problems_of
from heldtrue.web.ways_work import WayRow, WaysStep


def register(desk: Desk) -> None:
    """The page ``/ways/{id}``."""

    @page("/ways/{id}")
    async def ways(id: str) -> None:
        try:
            live = desk.live(id)
        except InputError as error:
            not_here(error)
            return
        busy, place = under_the_verdict(desk, live, texts.WAYS, texts.WAYS_SAYS)
        with ui.element("div").classes("bar"):
            button(texts.COMPARE, lambda: ui.navigate.to(f"/compare/{id}"))
            button(texts.PLAN, lambda: ui.navigate.to(f"/plan/{id}"), main=True)
        await ui.context.client.connected()

        def show(found: WaysStep) -> None:
            if not place.is_deleted:  # the page may be closed by now
                _show(desk, live, place, found)

        problems: tuple[str, ...] = ()
        try:
            await busy.over(desk.find_ways(live, show), texts.LOOKING_FOR_WAYS)
        except StoppedError:
            pass  # what was found by then stays
        except HeldtrueError as error:
            problems = problems_of(error)
        if problems and not place.is_deleted:
            with place:
                html(bullets(in_labels(live.draft.table, one) for one in problems))


def _show(desk: Desk, live: Live, place: ui.element, found: WaysStep) -> None:
    """Everything that is known by now, drawn anew."""
    place.clear()
    with place:
        said = texts.WAYS_LOOKED_AT.format(looked_at=found.looked_at, planned=found.planned)
        ui.label(f"{said} {found.doing and texts.WAYS_GO_ON.format(doing=found.doing)}").mark("ways-said")
        longest = max((high for way in (*found.best, *found.beaten) for _, high in way.spans), default=0.0)
        if not found.best and not found.doing:
            html(paragraph(texts.NO_JAWS_HOLD))
        for number, way in enumerate(found.best, 1):
            _way(desk, live, number, way, longest)
        if found.beaten:
            html(heading(texts.WAYS_BEATEN))
            for number, way in enumerate(found.beaten, len(found.best) + 1):
                _way(desk, live, number, way, longest)
        if found.others:
            html(heading(texts.NOT_JAWS_ALONE))
            for first, *more in found.others:
                html(f"<h3>{escape(first)}</h3>{bullets(more)}").classes("block").mark("other-way")
        if found.dropped:
            html(heading(texts.WAYS_DROPPED) + table(texts.WAYS_DROPPED_HEADS, found.dropped, numeric=(0,)))


def _way(desk: Desk, live: Live, number: int, way: WayRow, longest: float) -> None:
    """One way: its weakest point, what it has to spare, its picture; ``longest``: the highest pressure of all [MPa]."""

    @in_words
    async def take() -> None:
        await desk.change(live, dict(way.changes), texts.TAKEN_OVER.format(name=way.name))
        ui.navigate.to(f"/plan/{live.draft.id}")

    first = f"<p>{escape(texts.MEASURE_FIRST)}: {escape(way.first)}</p>" if way.first else ""
    needs = f"<p>{escape(texts.NEEDS.capitalize())} {escape(way.needs)}</p>" if way.needs else ""
    with ui.element("div").classes("row-line way ranked").mark("ranked-way"):
        html(f"<h3>{number}. {escape(way.name)} {state(way.verdict)}</h3><p>{escape(way.why)}</p>{first}{needs}"
             f'<p class="hint">{escape(way.cost)}</p>').classes("what")  # fmt: skip
        measures = (figure(texts.SPARE_HOLD, way.hold_words, [(0.0, max(way.hold, 0.0))], 1.0)
                    + figure(texts.SPARE_FORM, way.form_words, [(0.0, max(way.form, 0.0))], 1.0)
                    + figure(texts.PRESSURE_WINDOW, way.window, way.spans, longest))  # fmt: skip
        shown = picture(way.section, way.name) if way.section else ""
        html(f'<div class="measures">{measures}</div>{shown}').classes("beside-it")
        if way.changes:
            button(texts.TAKE_OVER, take).mark(f"take-way-{number}")
        else:
            ui.label(texts.AS_IT_IS)

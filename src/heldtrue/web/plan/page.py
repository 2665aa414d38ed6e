"""The plan page: the form on one side, the answer on the other, every change answered at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from time import monotonic

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.web import texts
from heldtrue.web.busy import SOON, waited_for
from heldtrue.web.desk import Desk, Live
from heldtrue.web.frame import button, frame, html, in_words, not_here, page, say
from heldtrue.web.measuring.ways import way_to_measure
from heldtrue.web.places import in_labels
from heldtrue.web.plan.form import Form
from heldtrue.web.plan.map_view import MapPanel
from heldtrue.web.plan.missing import MissingList
from heldtrue.web.plan.solid_view import SolidPanel
from heldtrue.web.render import answer, pictures, reasons, remarks
from heldtrue.web.sections import label_of
from heldtrue.web.write_file import setup_toml


def register(desk: Desk) -> None:
    """The page ``/plan/{id}``."""

    @page("/plan/{id}")
    async def plan(id: str) -> None:
        try:
            live = desk.live(id)
        except InputError as error:
            not_here(error)
            return
        with frame(live.draft.title):
            await _page(desk, live)
        _bar(desk, live)


async def _page(desk: Desk, live: Live) -> None:
    async def halt() -> None:
        desk.stop(live)

    with ui.element("div").classes("split sticky plan"):
        with ui.element("section").props('aria-label="setup"'):
            form = Form(desk, live)
            await form.build()
        with ui.element("section").props('aria-label="answer"'):
            busy = ui.label("").classes("busy").props('aria-live="polite"').mark("busy")
            stop = button(texts.STOP, in_words(halt)).mark("busy-stop")
            stop.visible = False
            missing = MissingList(form)
            head = html("").mark("answer")
            way = html("").mark("measure-way")
        with ui.element("section").props('aria-label="why"'):
            ring = MapPanel(desk, live)
            ring.build()
            solid = SolidPanel(desk, live)
            solid.build()
            why = html("").mark("reasons")
            # Whatever is paled is sent anew with all it holds: the drawings stand inside of what is paled.
            with ui.element("div").classes("block") as sheet:
                drawings = html("").mark("pictures")
            more = html("").mark("remarks")
    aging, drawn = (head, why, more), (ring.place, sheet)

    def tell(what: str) -> None:
        if what == "fields":
            form.refresh()
            missing.refresh()
        # With every change: what could not be taken in must be said at once, not when the next answer comes.
        waiting = [label_of(live.draft.table, one) for one in live.draft.pending]
        head.content = answer(
            live.answer,
            waiting=waiting,
            say=partial(in_labels, live.draft.table),
            listed={one.problem for one in form.points()},
        )
        way.content = way_to_measure(live)
        if what == "answer":
            ring.show()
            why.content, more.content = reasons(live.answer), remarks(live.answer)
            if live.answer is None or live.answer.full:
                drawings.content = pictures(live.answer)
        _progress(live, busy, aging, drawn)
        stop.visible = False
        solid.hear(what)

    def tick() -> None:
        if live.solving is not None:
            _progress(live, busy, aging, drawn)
            stop.visible = monotonic() - live.solving > SOON

    watch(live, tell)
    tell("fields")  # somebody may have typed while this was put together
    ui.timer(0.5, tick)
    tell("answer")
    if live.answer is None:
        desk.solve(live)


def watch(live: Live, tell: Callable[[str], None]) -> None:
    """Hear of changes for as long as the page is open."""
    live.watchers.add(tell)
    ui.context.client.on_delete(lambda: live.watchers.discard(tell))


def _progress(live: Live, busy: ui.label, aging: Iterable[ui.element], drawn: Iterable[ui.element]) -> None:
    """What is going on; an answer that is being replaced is pale, so that nobody takes it for the new one.

    ``drawn``: pictures, which a quick look does not bring: they are pale until the full answer is there.
    """
    found = live.answer
    if live.solving is None:
        text = "" if found is None or found.problems else texts.DONE.format(seconds=found.seconds)
        busy.classes(remove="on")
        stale = old_pictures = False
    else:
        quick = found is not None and not found.full
        seconds = monotonic() - live.solving
        text = texts.QUICK if quick else texts.SOLVING_FOR.format(seconds=seconds)
        busy.classes(add="on")
        # A knob is answered before the eye sees it: only what takes longer is paled.
        stale = seconds > 0.3 and not quick
        old_pictures = stale or quick
    for places, pale in ((aging, stale), (drawn, old_pictures)):
        for place in places:
            place.classes(add="stale" if pale else "", remove="" if pale else "stale")
    if busy.text != text:
        busy.text = text


def _bar(desk: Desk, live: Live) -> None:
    id = live.draft.id

    @in_words
    async def undo() -> None:
        label = await desk.undo(live)
        say(texts.UNDONE.format(label=label) if label else texts.NOTHING_TO_UNDO)

    @in_words
    async def save() -> None:
        ui.download(setup_toml(live.draft).encode(), f"{id}.toml")

    @in_words
    async def sheet() -> None:
        ui.download(await waited_for(desk.floor_sheet(live)), f"floor-sheet-{id}.pdf")

    with ui.element("div").classes("bar"):
        button(texts.UNDO, undo).mark("undo")
        button(texts.COMPARE, lambda: ui.navigate.to(f"/compare/{id}"))
        button(texts.JAWS, lambda: ui.navigate.to(f"/jaws/{id}"))
        button(texts.READ, lambda: ui.navigate.to(f"/readings/{id}")).mark("readings")
        button(texts.SHEET, sheet).mark("sheet")
        button(texts.SAVE_FILE, save).mark("save-file")
        button(texts.START, lambda: ui.navigate.to(f"/start/{id}"), main=True).mark("start")

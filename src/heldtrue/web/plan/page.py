"""The plan page: the answer, the drawing, and one reason at a time on one screen; every change answered at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from html import escape
from time import monotonic

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.web import texts
from heldtrue.web.busy import SOON, waited_for
from heldtrue.web.desk import Desk, Live
from heldtrue.web.fields import bare, get
from heldtrue.web.frame import (
    STILL_THERE,
    button,
    frame,
    html,
    in_words,
    needs_server,
    not_here,
    page,
    say,
    still_there,
)
from heldtrue.web.measuring.ways import way_to_all, way_to_measure
from heldtrue.web.places import in_labels
from heldtrue.web.plan.drawing_view import DrawingPanel
from heldtrue.web.plan.form import Form
from heldtrue.web.plan.map_view import MapPanel
from heldtrue.web.plan.missing import MissingList
from heldtrue.web.plan.solid_view import SolidPanel
from heldtrue.web.render import answer, assumed, paper, pictures, reasons, remarks
from heldtrue.web.sections import label_of
from heldtrue.web.tabs import Tabs
from heldtrue.web.write_file import setup_toml

FACTS = ("part.number", "part.revision", "machine.name", "chuck.number", "jaws.number")


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

    @in_words
    async def undo() -> None:
        label = await desk.undo(live)
        say(texts.UNDONE.format(label=label) if label else texts.NOTHING_TO_UNDO)

    with ui.element("div").classes("status-line"):
        busy = ui.label("").classes("busy").props('aria-live="polite"').mark("busy")
        stop = button(texts.STOP, in_words(halt)).mark("busy-stop")
        stop.visible = False
        button(texts.UNDO, undo).mark("undo")
    with ui.element("div").classes("plan-page"):
        with ui.element("section").classes("answer").props('aria-label="answer" tabindex="0"'):
            html(f'<p class="lost here">{escape(texts.NOT_CONNECTED_ANSWER)}</p>')
            asking = ui.element("div").classes("block")
            with needs_server():
                head = html("").mark("answer")
                way = html("").mark("measure-way")
        drawing_place = ui.element("section").classes("drawing").props('aria-label="drawing"')
        with ui.element("section").classes("why").props('aria-label="why"'):
            whys = Tabs("why", texts.WHY_TABS, texts.WHY_TABS[5 if live.draft.points() else 0])
            whys.panels.props('tabindex="0"')  # it scrolls, and a table has nothing else that takes the cursor
            reasons_, map_, contact, shape, taken, values, notes = texts.WHY_TABS
            with whys.panel(reasons_).classes("needs-server"):
                why = html("").mark("reasons")
            with whys.panel(map_).classes("needs-server wide-panel"):
                ring = MapPanel(desk, live)
                ring.build()
            with whys.panel(contact).classes("needs-server wide-panel"):
                print_ = html("").mark("contact")
            with whys.panel(shape).classes("needs-server wide-panel"):
                solid = SolidPanel(desk, live)
                solid.build()
                polar = html("").mark("pictures")
            with whys.panel(taken).classes("needs-server"):
                open_inputs = html("").mark("assumed")
            with whys.panel(values).classes("wide-panel"):
                form = Form(desk, live, show=lambda: whys.open(values))
                await form.build()
            with whys.panel(notes).classes("needs-server"):
                more = html("").mark("remarks")
        with drawing_place:
            drawing = DrawingPanel(desk, live, form)
            drawing.build()
        with asking:
            missing = MissingList(form)
    sheet_of_paper = html("").classes("needs-server").mark("paper")
    to_measure = way_to_all(live.draft.id)
    aging, drawn = (head, why, open_inputs, more), (ring.place, drawing.sheet, print_, polar)

    def tell(what: str) -> None:
        if what == "fields":
            form.refresh()
            missing.refresh()
            drawing.refresh()
        # With every change: what could not be taken in must be said at once, not when the next answer comes.
        waiting = [label_of(live.draft.table, one) for one in live.draft.pending]
        head.content = answer(
            live.answer,
            waiting=waiting,
            say=partial(in_labels, live.draft.table),
            listed={one.problem for one in form.wrongs.points()},
        )
        facts = [str(one) for one in (bare(get(live.draft.table, path)) for path in FACTS) if one]
        if what == "answer" or waiting:
            sheet_of_paper.content = paper(live.answer, live.draft.title, bool(waiting), *facts)
        way.content = way_to_measure(live)
        if (what == "fields" and live.answer is not None and live.answer.problems) or what == "answer":
            drawing.show()
        if what == "answer":
            ring.show()
            why.content, more.content = reasons(live.answer) + to_measure, remarks(live.answer)
            open_inputs.content = assumed(live.answer) + to_measure
            count = 0 if live.answer is None else len(live.answer.assumed)
            whys.label(taken, f"{taken} ({count})" if count else taken)
            if live.answer is None or live.answer.full:
                print_.content = pictures(live.answer, "contact-print", "chuck-face")
                polar.content = pictures(live.answer, "polar")
        _progress(live, busy, aging, drawn)
        stop.visible = False
        solid.hear(what)

    def tick() -> None:
        if live.solving is not None:
            _progress(live, busy, aging, drawn)
            stop.visible = monotonic() - live.solving > SOON

    asked = str(ui.context.client.request.query_params.get("field", ""))
    if asked:  # where another page found something that goes in there
        form.go_to(asked)
    ui.on("choices-kept", form.take_choices)
    ui.on(STILL_THERE, still_there)
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
    async def save() -> None:
        ui.download(setup_toml(live.draft).encode(), f"{id}.toml")

    @in_words
    async def sheet() -> None:
        ui.download(await waited_for(desk.floor_sheet(live)), f"floor-sheet-{id}.pdf")

    with ui.element("div").classes("bar"):
        button(texts.WAYS, lambda: ui.navigate.to(f"/ways/{id}")).mark("ways")
        button(texts.COMPARE, lambda: ui.navigate.to(f"/compare/{id}"))
        button(texts.TO_MEASURE, lambda: ui.navigate.to(f"/measure/{id}")).mark("to-measure")
        button(texts.JAWS, lambda: ui.navigate.to(f"/jaws/{id}"))
        button(texts.READ, lambda: ui.navigate.to(f"/readings/{id}")).mark("readings")
        button(texts.SHEET, sheet).mark("sheet")
        button(texts.SAVE_FILE, save).mark("save-file")
        button(texts.START, lambda: ui.navigate.to(f"/start/{id}"), main=True).mark("start")

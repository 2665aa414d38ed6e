"""The page for cutting the jaws: where they stand, what to bore, the steps to tick off, the proved program."""

from __future__ import annotations

import io
import zipfile
from hashlib import sha256
from html import escape

from nicegui import ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.planning.boring_words import ROW_HEADS
from heldtrue.shop.shelf import Reading
from heldtrue.web import texts, worker
from heldtrue.web.boxes import NumberBox, TextBox
from heldtrue.web.busy import Busy
from heldtrue.web.desk import Desk, Live, checked, now
from heldtrue.web.fields import get
from heldtrue.web.frame import (
    STILL_THERE,
    button,
    frame,
    go,
    html,
    in_words,
    needs_server,
    not_here,
    page,
    say,
    still_there,
)
from heldtrue.web.places import in_labels
from heldtrue.web.plan.page import watch
from heldtrue.web.plan.row_list import RowList
from heldtrue.web.plan.wrongs import Wrongs
from heldtrue.web.prints import open_pdf
from heldtrue.web.render import bullets, facts, heading, paragraph, picture, table
from heldtrue.web.results import JawsAnswer
from heldtrue.web.shelf.scan import set_page
from heldtrue.web.standing import Standing
from heldtrue.web.trouble import problems_of
from heldtrue.web.who import NameBox


def register(desk: Desk) -> None:
    """The page ``/jaws/{id}``."""

    @page("/jaws/{id}")
    async def jaws(id: str) -> None:
        try:
            live = desk.live(id)
        except InputError as error:
            not_here(error)
            return
        with frame(f"{texts.JAWS}: {live.draft.title}"):
            page = _Jaws(desk, live)
            await page.build()
        with ui.element("div").classes("bar"):
            button(texts.PLAN, lambda: ui.navigate.to(f"/plan/{id}"))
            button(texts.UNDO, page.undo).mark("undo")
            button(texts.DOWNLOAD_ALL, page.save_all).mark("save-all")
        await ui.context.client.connected()
        await page.work_out()


class _Jaws:
    """One cut of jaws in one browser: the first, or a re-cut from the diameter touched off on the ring."""

    def __init__(self, desk: Desk, live: Live) -> None:
        self.desk, self.live = desk, live
        self.made: JawsAnswer | None = None
        self.asked = 0

    async def build(self) -> None:
        """Put it on the page; a set with a cut behind it is cut again."""
        ui.on(STILL_THERE, still_there)
        Standing(self.desk, self.live, texts.CUT_ALL_THE_SAME)
        try:
            setup, _ = await self.desk.setup_of(self.live)
            used, named = setup.jaws.last_cut is not None, bool(setup.jaws.number)
        except HeldtrueError:
            used, named = False, False
        system = self.live.draft.system
        with ui.element("div").classes("row-line"):
            ways = {texts.CUT_NEW: texts.CUT_NEW, texts.CUT_AGAIN: texts.CUT_AGAIN}
            self.way = ui.select(ways, label=texts.WAY_OF_CUT, value=texts.CUT_AGAIN if used else texts.CUT_NEW)
            self.way.props("outlined stack-label").style("min-width: 150px").mark("way-of-cut")
            self.way.on_value_change(self.work_out)
            with (
                ui.element("div")
                .classes("row-line fields")
                .bind_visibility_from(self.way, "value", lambda way: way == texts.CUT_AGAIN)
            ):
                self.touched = NumberBox(texts.TOUCHED, "touched", "diameter", system)
                self.runout = NumberBox(texts.FOUND_RUNOUT, "found-runout", "length", system)
                button(texts.WORK_OUT, self.work_out, main=True).mark("work-out")
        self._nest()
        self.busy = Busy()
        html(f'<p class="lost here">{escape(texts.NOT_CONNECTED_ANSWER)}</p>')
        with needs_server():
            self.place = ui.element("div").classes("block").mark("jaws")
        html(heading(texts.RECORD_CUT))
        if not named:
            html(paragraph(texts.SET_OF_CUT))
        with ui.element("div").classes("grid"):
            self.who = NameBox(self.desk)
            self.diameter = NumberBox(texts.CUT_DIAMETER, "cut-diameter", "diameter", system, hint=texts.CUT_HINT)
            self.error = NumberBox(texts.CUT_ERROR, "cut-error", "length", system, hint=texts.CUT_ERROR_HINT)
            self.depth = NumberBox(texts.CUT_DEPTH, "cut-depth", "length", system, hint=texts.CUT_DEPTH_HINT)
            self.depth_error = NumberBox(texts.CUT_ERROR, "cut-depth-error", "length", system,
                                         hint=texts.CUT_DEPTH_ERROR_HINT)  # fmt: skip
            self.remark = TextBox(texts.REMARK, "cut-remark")
        button(texts.RECORD_CUT, self.record).mark("record-cut")
        watch(self.live, self._tell)

    def _nest(self) -> None:
        """The diameters of a nest, and those that the last cut left where the setup itself says of one."""
        wrong = Wrongs(self.live).at
        with ui.element("details").classes("more").mark("more-steps") as self.steps, ui.element("summary"):
            ui.label(texts.BORE_STEPS)
        self.steps.props("open" if get(self.live.draft.table, "boring.steps") else "")
        with self.steps:
            self.lists = [RowList(self.desk, self.live, texts.BORE_STEPS, "boring.steps", wrong)]
            if get(self.live.draft.table, "jaws.last_cut") is not None:
                self.lists.append(RowList(self.desk, self.live, texts.OLD_STEPS, "jaws.last_cut.steps", wrong))

    @in_words
    async def undo(self) -> None:
        """Take the last change of the setup back."""
        label = await self.desk.undo(self.live)
        say(texts.UNDONE.format(label=label) if label else texts.NOTHING_TO_UNDO)

    @property
    def again(self) -> bool:
        """Is it a re-cut?"""
        return bool(self.way.value == texts.CUT_AGAIN)

    def _tell(self, what: str) -> None:
        """Another tab changed the setup: what stands here is the answer to an old question."""
        if what == "fields":
            for one in self.lists:
                one.refresh()
            self._clear()
            with self.steps:  # whoever changed it may have been a button of a row that is gone now
                ui.timer(0.1, self.work_out, once=True)

    def _clear(self) -> None:
        self.asked += 1
        self.made = None
        self.place.clear()

    @in_words
    async def work_out(self, _: object = None) -> None:
        """How they are cut; nothing old stands there meanwhile."""
        self._clear()
        number = self.asked
        measured, runout = self.touched.value(), self.runout.value()
        problems: tuple[str, ...] = ()
        made: JawsAnswer | None = None
        try:
            made = await self.busy.over(self._cut(measured, runout), texts.CUTTING)
        except HeldtrueError as error:
            problems = problems_of(error)
        if number != self.asked or self.place.is_deleted:  # asked anew, or the page closed, meanwhile
            return
        self.made = made
        with self.place:
            if made is None:
                html(heading(texts.CANNOT_BE_CUT) + bullets(in_labels(self.live.draft.table, one) for one in problems))
            else:
                self._show(made, touch=self.again and measured is None)

    async def _cut(self, measured: float | None, runout: float | None) -> JawsAnswer:
        if not self.again:
            return await self.desk.cut_jaws(self.live)
        setup, _ = await self.desk.setup_of(self.live)
        base = self.desk.base_of(self.live.draft)
        return checked(await self.desk.pool.run("", worker.recut_jaws, setup, measured, runout, base))

    def _show(self, made: JawsAnswer, *, touch: bool) -> None:
        if touch and made.files:
            html(f'<p role="status"><strong>{texts.TOUCH_FIRST}</strong></p>')
        with ui.element("div").classes("split"):
            with ui.element("section"):
                _steps(self.desk, self.live, made)
            with ui.element("section"):
                _answer(made)
                if made.files:
                    _program(made)
                html(heading(texts.CAUTIONS) + bullets(made.cautions))

    @in_words
    async def save_all(self) -> None:
        """Every file for the machine, of the cut that stands on the page."""
        if self.made is None or not self.made.files:
            raise InputError(texts.CANNOT_BE_CUT)
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, content in self.made.files:
                archive.writestr(name, content)
        ui.download(packed.getvalue(), f"jaws-{self.live.draft.id}.zip")

    @in_words
    async def record(self) -> None:
        """The jaws were cut: the set has one cut more, and stands as it was cut."""
        self.desk.require("set up")
        by = self.who.name()
        if self.live.draft.pending:
            raise InputError(texts.PENDING_FIRST)
        measured = self.touched.needed() if self.again else None
        diameter = Reading(self.diameter.value(), self.error.value())
        depth, remark = Reading(self.depth.value(), self.depth_error.value()), self.remark.text()
        setup, _ = await self.desk.setup_of(self.live)
        kept = checked(await self.busy.over(self.desk.pool.run(
            "", worker.record_cut, self.desk.records, setup, self.live.draft.record, by, now(), measured=measured,
            diameter=diameter, depth=depth, remark=remark,
        ), texts.CUTTING))  # fmt: skip
        self.live.jaws = None  # the records know another last cut now
        words = texts.CUT_RECORDED.format(set=kept.standing.jaw_set, number=kept.number, stamp=kept.stamp)
        go(set_page(kept.standing.jaw_set), words, *kept.words)


def _answer(made: JawsAnswer) -> None:
    files = dict(made.files)
    if made.refusals:
        html(f'<div class="verdict fails"><div class="word">{texts.VERDICT_MARKS["fails"]} {texts.CANNOT_BE_CUT}</div>'
             f"{bullets(in_labels({}, one) for one in made.refusals)}</div>")  # fmt: skip
    else:
        html(bullets(in_labels({}, one) for one in made.words))
    html(heading(texts.NUMBERS) + facts(made.numbers))
    if "jaw.svg" in files:
        html(picture(files["jaw.svg"], texts.DRAWING))
    if made.ways:
        html(heading(texts.PLACING) + table(texts.PLACING_HEADS, made.ways))
    if made.forces:
        html(heading(texts.FORCES) + paragraph(made.cutting) + table(ROW_HEADS, made.forces))
    for words, lines in ((texts.NOTES, made.notes), (texts.TAKEN, made.assumed)):
        if lines:
            html(heading(words) + bullets(in_labels({}, one) for one in lines))


def _program(made: JawsAnswer) -> None:
    files = dict(made.files)
    html(heading(texts.PROGRAM))
    path = files.get("tool-path.svg") or files.get("failed-path.svg")
    if made.program:
        html(paragraph(made.proof))
    else:
        why = in_labels({}, made.why_no_program)
        html(f"<h3>{texts.NO_PROGRAM}</h3>{paragraph(why)}{bullets(made.findings)}")
    if path:
        html(picture(path, texts.PATH_PICTURE))
    if made.program:
        text = str(files[made.program])
        with ui.element("pre").classes("program").props('tabindex="0"'):
            ui.label(text).style("white-space: pre")
    with ui.element("div").classes("row-line"):
        for name, content in made.files:
            if name.endswith((".nc", ".pdf", ".dxf", ".step", ".stl")):
                button(texts.DOWNLOAD.format(name=name), lambda c=content, n=name: _save(c, n)).mark(f"save-{name}")
            if name.endswith(".pdf") and isinstance(content, bytes):
                printing = button(texts.PRINT_FILE.format(name=name), lambda c=content, n=name: open_pdf(c, n))
                printing.mark(f"print-{name}")
    if made.solids:
        html(heading(texts.SOLIDS) + bullets(made.solids))


def _save(content: str | bytes, name: str) -> None:
    ui.download(content.encode() if isinstance(content, str) else content, name)


def _steps(desk: Desk, live: Live, made: JawsAnswer) -> None:
    """Steps to tick off; ticks are saved, and fall away when the words of their step change."""
    if not made.steps:
        return
    html(heading(texts.STEPS))
    for number, (name, words) in enumerate(made.steps, 1):
        key = sha256(f"{number} {name} {words}".encode()).hexdigest()[:16]

        @in_words
        async def ticked(event: object, key: str = key) -> None:
            ticks = [one for one in live.draft.ticks if one != key]
            await desk.tick(live, [*ticks, key] if getattr(event, "value", False) else ticks)

        with ui.element("div").classes("row-line").style("flex-wrap: nowrap; align-items: flex-start"):
            box = ui.checkbox(value=key in live.draft.ticks, on_change=ticked).mark(f"step-{number}")
            box.props(f'aria-label="{number} {name}"')
            with ui.element("div").style("padding: 12px 0"):
                ui.label(f"{number}  {name}").style("font-weight: 700")
                ui.label(words)

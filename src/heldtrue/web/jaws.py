"""The page for cutting the jaws: where they stand, what to bore, the steps to tick off, the proved program."""

from __future__ import annotations

import io
import zipfile
from hashlib import sha256

from nicegui import ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.web import texts
from heldtrue.web.desk import Desk, Live
from heldtrue.web.frame import button, frame, html, in_words, not_here
from heldtrue.web.render import bullets, facts, heading, paragraph, picture, table
from heldtrue.web.results import JawsAnswer
from heldtrue.web.worker import problems_of


def register(desk: Desk) -> None:
    """The page ``/jaws/{id}``."""

    @ui.page("/jaws/{id}")
    async def jaws(id: str) -> None:
        try:
            live = desk.live(id)
        except InputError as error:
            not_here(error)
            return
        with frame(f"{texts.JAWS}: {live.draft.title}"):
            busy = ui.label(texts.CUTTING).classes("busy on")
            place = ui.element("div").classes("block")
        with ui.element("div").classes("bar"):
            button(texts.PLAN, lambda: ui.navigate.to(f"/plan/{id}"))
            button(texts.DOWNLOAD_ALL, lambda: _save_all(desk, live)).mark("save-all")
        await ui.context.client.connected()
        await _fill(desk, live, busy, place)


async def _fill(desk: Desk, live: Live, busy: ui.label, place: ui.element) -> None:
    try:
        made = await desk.cut_jaws(live)
    except HeldtrueError as error:
        with place:
            html(heading(texts.CANNOT_BE_CUT) + bullets(problems_of(error)))
        return
    finally:
        busy.text = ""
        busy.classes(remove="on")
    with place, ui.element("div").classes("split"):
        with ui.element("section"):
            _steps(desk, live, made)
        with ui.element("section"):
            _answer(made)
            _program(made)
            html(heading(texts.CAUTIONS) + bullets(made.cautions))


def _answer(made: JawsAnswer) -> None:
    files = dict(made.files)
    if made.refusals:
        html(f'<div class="verdict fails"><div class="word">{texts.VERDICT_MARKS["fails"]} {texts.CANNOT_BE_CUT}</div>'
             f"{bullets(made.refusals)}</div>")  # fmt: skip
    else:
        html(bullets(made.words))
    html(heading(texts.NUMBERS) + facts(made.numbers))
    if "jaw.svg" in files:
        html(picture(files["jaw.svg"], texts.DRAWING))
    if made.ways:
        html(heading(texts.PLACING) + table(texts.PLACING_HEADS, made.ways))
    for words, lines in ((texts.NOTES, made.notes), (texts.TAKEN, made.assumed)):
        if lines:
            html(heading(words) + bullets(lines))


def _program(made: JawsAnswer) -> None:
    files = dict(made.files)
    html(heading(texts.PROGRAM))
    path = files.get("tool-path.svg") or files.get("failed-path.svg")
    if made.program:
        html(paragraph(made.proof))
    else:
        html(f"<h3>{texts.NO_PROGRAM}</h3>{paragraph(made.why_no_program)}{bullets(made.findings)}")
    if path:
        html(picture(path, texts.PATH_PICTURE))
    if made.program:
        text = str(files[made.program])
        with ui.element("pre").classes("program").props('tabindex="0"'):
            ui.label(text).style("white-space: pre")
    with ui.element("div").classes("row-line"):
        for name, content in made.files:
            if name.endswith((".nc", ".pdf", ".dxf")):
                button(texts.DOWNLOAD.format(name=name), lambda c=content, n=name: _save(c, n)).mark(f"save-{name}")


def _save(content: str | bytes, name: str) -> None:
    ui.download(content.encode() if isinstance(content, str) else content, name)


@in_words
async def _save_all(desk: Desk, live: Live) -> None:
    made = await desk.cut_jaws(live)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in made.files:
            archive.writestr(name, content)
    ui.download(packed.getvalue(), f"jaws-{live.draft.id}.zip")


def _steps(desk: Desk, live: Live, made: JawsAnswer) -> None:
    """Steps to tick off; ticks are saved, and fall away when the words of their step change."""
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

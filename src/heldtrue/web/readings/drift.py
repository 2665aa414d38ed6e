"""Part after part: a table of measured parts, its chart, and what comes next."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from functools import partial
from html import escape
from typing import TYPE_CHECKING, Any

from nicegui import events, ui

from heldtrue.drawing.readings import draw_drift
from heldtrue.drawing.readings_rows import drift_name, drift_rows, event_rows
from heldtrue.errors import HeldtrueError, InputError
from heldtrue.inspection.drift import Drift
from heldtrue.inspection.table import text_of
from heldtrue.quantities import UnitSystem
from heldtrue.sentences import in_units
from heldtrue.web import texts
from heldtrue.web.busy import waited_for
from heldtrue.web.chucks.page import with_unit
from heldtrue.web.desk import checked
from heldtrue.web.fields import Field, Table, echo
from heldtrue.web.frame import button, file_button, html, in_words, say
from heldtrue.web.readings import work as readings_work
from heldtrue.web.readings.drift_read import LARGEST, Parts, read_parts
from heldtrue.web.readings.newest import Newest
from heldtrue.web.render import bullets, heading, paragraph, picture, table
from heldtrue.web.trouble import problems_of

if TYPE_CHECKING:
    from heldtrue.web.readings.page import Here

MOST_IN_BOX = 100_000
"""Letters of a file that are put into the box; of a longer one only the name and length are shown."""


class DriftPage:
    """One tab of one browser."""

    def __init__(self, here: Here) -> None:
        self.here, self.desk, self.bench = here, here.desk, here.parts
        self._units: dict[str, str] = {}
        self._limits: dict[tuple[str, int], ui.input] = {}

    @property
    def table(self) -> Table:
        """What was typed."""
        return self.bench.typed.table

    def build(self) -> None:
        """Put it on the page."""
        with ui.element("div").classes("split"):
            with ui.element("section"):
                self.units = ui.select(dict(texts.PARTS_UNIT_WORDS), label=texts.PARTS_UNITS, value=self.table["units"])
                self.units.on_value_change(partial(self._typed, "units", texts.PARTS_UNITS))
                self.units.props('outlined stack-label behavior="menu"').classes("w-full").mark("parts-units")
                self.box = ui.textarea(texts.PARTS_TEXT, value=self._in_box())
                self.box.on_value_change(partial(self._typed, "text", texts.PARTS_TEXT))
                self.box.props(f'outlined stack-label debounce=300 rows=12 spellcheck=false hint="{texts.PARTS_HINT}"')
                self.box.classes("w-full parts").mark("parts")
                self.file = ui.element("div").classes("block")
                file_button(texts.PARTS_FILE, self._uploaded, accept=".csv,.txt", most=LARGEST, mark="parts-file",
                            refused=texts.PARTS_TOO_LARGE)  # fmt: skip
                self.limits = ui.element("div").classes("block")
                with ui.element("div").classes("row-line"):
                    button(texts.UNDO, self.undo).mark("undo-parts")
                    button(texts.SAVE_PAGE, self.page).mark("parts-page")
            with ui.element("section").props('aria-label="answer"'):
                self.answer = html("").mark("drift-answer")
        self.newest = Newest(self._work, self.answer)
        self.bench.watchers.add(self.changed)
        ui.context.client.on_delete(lambda: self.bench.watchers.discard(self.changed))
        self.changed()

    def _in_box(self) -> str:
        text = str(self.table["text"])
        return "" if self._from_file() else text

    def _from_file(self) -> bool:
        return bool(self.table["file"]) and len(self.table["text"]) > MOST_IN_BOX

    async def _typed(self, path: str, label: str, event: events.ValueChangeEventArguments[Any]) -> None:
        text = "" if event.value is None else str(event.value)
        shown = self._in_box() if path == "text" else str(self.table[path])
        if text != shown:
            values = {path: text} if path != "text" else {"text": text, "file": ""}
            await in_words(self.desk.type_reading)(self.bench, values, label)

    @in_words
    async def _uploaded(self, event: events.UploadEventArguments) -> None:
        name = event.file.name.replace("\\", "/").rpartition("/")[2][:80]
        if not name.casefold().endswith((".csv", ".txt")):
            raise InputError(texts.PARTS_NO_TABLE.format(name=name))
        raw = await event.file.read()
        if len(raw) > LARGEST:
            raise InputError(texts.PARTS_TOO_LARGE)
        text = text_of(raw, name)
        await self.desk.type_reading(self.bench, {"text": text, "file": name}, texts.PARTS_FILE)

    async def _limit(self, name: str, end: int, event: events.ValueChangeEventArguments[Any]) -> None:
        typed = {one[0]: list(one[1:]) for one in self.table["limits"]}
        ends = typed.setdefault(name, ["", ""])
        text = str(event.value or "")
        if text != ends[end]:
            ends[end] = text
            label = (texts.LOWER_LIMIT, texts.UPPER_LIMIT)[end].format(name=name)
            limits = [[one, *both] for one, both in typed.items()]
            await in_words(self.desk.type_reading)(self.bench, {"limits": limits}, label)

    def changed(self) -> None:
        """Something was typed: show it, and work out what it says."""
        self.answer.classes(add="soon-stale")
        self.newest.ask()

    async def _work(self) -> Callable[[], None]:
        self._show_typed()
        return partial(self._show_answer, *await asyncio.to_thread(answer, dict(self.table)))

    def _show_answer(self, content: str, parts: Parts | None) -> None:
        if parts is not None:
            self._show_limits(parts)
        self.answer.content = content
        self.answer.classes(remove="soon-stale")

    def _show_typed(self) -> None:
        if (self.box.value or "") != self._in_box():
            self.box.value = self._in_box()
        if self.units.value != self.table["units"]:
            self.units.value = self.table["units"]
        self.box.set_visibility(not self._from_file())
        self.file.clear()
        if self.table["file"]:
            with self.file:
                rows = len(str(self.table["text"]).splitlines())
                html(paragraph(texts.PARTS_FROM.format(name=self.table["file"], rows=rows)))
                empty = {"text": "", "file": ""}
                button(
                    texts.PARTS_CLEAR, lambda: in_words(self.desk.type_reading)(self.bench, empty, texts.PARTS_CLEAR)
                )

    def _show_limits(self, parts: Parts) -> None:
        """A least and a most for each characteristic; built anew where there are others."""
        typed = {one[0]: one[1:] for one in self.table["limits"]}
        if parts.units != self._units:
            self._units = parts.units
            self._limits.clear()
            self.limits.clear()
            with self.limits, ui.element("div").classes("grid"):
                for name, unit in parts.units.items():
                    for end, words in enumerate((texts.LOWER_LIMIT, texts.UPPER_LIMIT)):
                        entry = ui.input(words.format(name=name), value=typed.get(name, ["", ""])[end])
                        entry.on_value_change(partial(self._limit, name, end))
                        entry.props(f'outlined stack-label debounce=300 inputmode="decimal" suffix="{unit}"')
                        entry.mark(f"limit-{name}-{end}")
                        self._limits[name, end] = entry
        for (name, end), entry in self._limits.items():
            text = typed.get(name, ["", ""])[end]
            if str(entry.value or "") != text:
                entry.value = text
            entry.error = parts.wrong.get((name, end))
            if entry.error is None:
                entry._props["hint"] = echo(
                    Field("", "", "length"), with_unit(text, self._units[name]), self.table["units"]
                )
                entry.update()

    @in_words
    async def undo(self) -> None:
        """Take the last entry back."""
        label = await self.desk.undo_reading(self.bench)
        say(texts.UNDONE.format(label=label) if label else texts.NOTHING_TO_UNDO)

    @in_words
    async def page(self) -> None:
        """Pages as a PDF."""
        if not str(self.table["text"]).strip():
            raise InputError(texts.NOTHING_TO_PRINT)
        made = await waited_for(self.desk.pool.run("", readings_work.drift_pdf, self.table, self.here.title))
        ui.download(checked(made), "part-after-part.pdf")


def answer(typed: Table) -> tuple[str, Parts | None]:
    """What the parts say, as HTML; and the parts, where they can be read."""
    if not str(typed["text"]).strip():
        return paragraph(texts.PARTS_NONE), None
    try:
        parts = read_parts(typed)
    except HeldtrueError as error:
        return _cannot(problems_of(error)), None
    if parts.wrong:
        return _cannot(tuple(parts.wrong.values())), parts
    return "".join(_series(one, typed["units"]) for one in parts.found), parts


def _cannot(problems: tuple[str, ...]) -> str:
    return (f'<div class="verdict not-proven" role="status"><div class="word">{escape(texts.NOT_READ)}</div>'
            f"{bullets(problems)}</div>")  # fmt: skip


def _series(one: Drift, system: UnitSystem) -> str:
    other: UnitSystem = "inch" if system == "metric" else "metric"
    first, *more = [in_units(words, system) for words in one.words]
    shown = zip(drift_rows(one, system), drift_rows(one, other), strict=True)
    rows = [(name, value, second if second != value else "") for (name, value), (_, second) in shown]
    events_said = [f"{name}: {words}" for name, words in event_rows(one, system)]
    return "".join((
        heading(drift_name(one)),
        f'<div class="verdict small" role="status"><div class="word">{escape(first)}</div>{bullets(more)}</div>',
        picture(draw_drift(one, system), drift_name(one), broad=True), bullets(events_said),
        table(texts.FIGURE_HEADS[system], rows),
    ))  # fmt: skip

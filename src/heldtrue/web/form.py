"""The form of the plan page: text inputs that keep what is typed, say what is wrong with it, and show both units."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from functools import partial
from typing import Any

from nicegui import ui
from nicegui.events import ValueChangeEventArguments

from heldtrue.quantities import KINDS
from heldtrue.web import sources, texts
from heldtrue.web.desk import Desk, Live
from heldtrue.web.fields import Field, bare, echo, get, shown, unit_of
from heldtrue.web.frame import button, html, in_words
from heldtrue.web.render import heading, paragraph
from heldtrue.web.sections import FIXED, corner_fields, cut_fields, surface_fields

Input = ui.input | ui.select
TYPING = 40
"""Pause in typing after which a value is taken in, ms."""


class Form:
    """The fields of one tab of one browser."""

    def __init__(self, desk: Desk, live: Live) -> None:
        self.desk, self.live = desk, live
        self.inputs: dict[str, tuple[Field, Input]] = {}
        self._lists: list[Callable[[], None]] = []
        self._shape = self._list_lengths()

    def build(self) -> None:
        """Put the sections on the page."""
        with ui.tabs().props("align=left no-caps inline-label outside-arrows mobile-arrows") as tabs:
            names = [ui.tab(words).mark(f"tab-{words}") for words in texts.SECTIONS]
        with ui.tab_panels(tabs, value=names[0], animated=False, keep_alive=True):
            for name, section in zip(names, (*FIXED, None), strict=True):
                with ui.tab_panel(name):
                    self._section(name.props["name"], section)

    def refresh(self) -> None:
        """Show what the draft has: another tab, or undo, may have changed it."""
        if self._shape != (now := self._list_lengths()):
            self._shape = now
            for rebuild in self._lists:
                rebuild()
        for field, entry in tuple(self.inputs.values()):
            self._show(field, entry)

    def _section(self, name: str, section: tuple[Field, ...] | None) -> None:
        if name == "Chuck":
            self._taking(texts.TAKE_CHUCK, sources.chucks(self.desk.store, self.desk.examples), self._take_chuck)
        if name == "Jaws":
            self._taking(texts.TAKE_JAWS, sources.jaws(self.desk.examples), self._take_jaws)
        if section is not None:
            with ui.element("div").classes("grid"):
                for field in section:
                    self._input(field)
        if name == "Part":
            for words, outline in ((texts.CORNERS, "part.profile"), (texts.BLANK, "part.blank")):
                self._listed(partial(self._outline, words, outline))
        if section is None:
            self._listed(self._cuts)
            self._listed(self._surfaces)

    def _listed(self, build: Callable[[], None]) -> None:
        """A part of the form that is built anew when its list grows or shrinks."""
        place = ui.element("div").classes("block")

        def rebuild() -> None:
            place.clear()
            with place:
                build()

        self._lists.append(rebuild)
        rebuild()

    def _list_lengths(self) -> tuple[Any, ...]:
        table = self.live.draft.table
        lengths = [len(bare(get(table, path)) or ()) for path in ("part.profile", "part.blank", "cut", "surface")]
        return (*lengths, *(bare(one.get("side")) for one in bare(get(table, "surface")) or ()))

    def _input(self, field: Field) -> None:
        @in_words
        async def typed(event: ValueChangeEventArguments[Any]) -> None:
            text = "" if event.value is None else str(event.value)
            # What this page was just told by another tab is nothing that was typed.
            if text.strip() != self._text(field):
                await self.desk.edit(self.live, field, text)

        entry: Input
        if field.choices:
            now = self._text(field)
            choices = [*field.choices, *([now] if now and now not in field.choices else [])]
            entry = ui.select(choices, label=field.label, value=now or None, on_change=typed)
            entry.props('outlined stack-label options-dense=false behavior="menu"')
        else:
            entry = ui.input(field.label, value=self._text(field), on_change=typed)
            mode = 'inputmode="decimal"' if field.kind in KINDS else ""
            entry.props(f'outlined stack-label debounce={TYPING} autocomplete="off" maxlength=400 {mode}')
        entry.mark(field.path)
        self.inputs[field.path] = (field, entry)
        self._show(field, entry)

    def _text(self, field: Field) -> str:
        draft = self.live.draft
        return draft.pending.get(field.path, shown(field, draft.table)).strip()

    def _show(self, field: Field, entry: Input) -> None:
        draft, text = self.live.draft, self._text(field)
        if str(entry.value or "").strip() != text:
            entry.value = text or (None if isinstance(entry, ui.select) else "")
        wrong = draft.problems.get(field.path)
        if wrong:
            entry.error = "; ".join(wrong)
            entry.props(remove="hint")
            return
        entry.error = None
        if isinstance(entry, ui.input):
            entry._props["suffix"] = unit_of(field, text, draft.system)
            entry._props["hint"] = echo(field, text, draft.system) or field.hint
            entry.update()

    def _taking(self, words: str, choices: dict[str, str], take: Callable[[str], Any]) -> None:
        if not choices:
            return

        @in_words
        async def chosen(event: ValueChangeEventArguments[Any]) -> None:
            if event.value is not None:
                await take(str(event.value))

        ui.select(choices, label=words, on_change=chosen).props("outlined stack-label").classes("wide w-full")

    async def _take_chuck(self, key: str) -> None:
        table = await self.desk.remember(sources.chuck_of, self.desk.store, self.desk.examples, key)
        await self.desk.change(self.live, {"chuck": table}, texts.TAKE_CHUCK)

    async def _take_jaws(self, key: str) -> None:
        table = await self.desk.remember(sources.jaws_of, self.desk.examples, key)
        await self.desk.change(self.live, {"jaws": table}, texts.TAKE_JAWS)

    def _outline(self, words: str, outline: str) -> None:
        html(f"{heading(words)}{paragraph(texts.CORNER_WORDS)}")
        corners = bare(get(self.live.draft.table, outline)) or []
        for number in range(len(corners)):
            with ui.element("div").classes("corner"):
                ui.label(str(number + 1)).classes("n")
                for field in corner_fields(outline, number):
                    self._input(field)
                add = button("+", lambda n=number: self._add_corner(outline, n))
                add.props(f'aria-label="{texts.CORNER_ADD.format(n=number + 1)}"').mark(f"add-{outline}-{number}")
                take = button("−", lambda n=number: self._remove(outline, n))
                take.props(f'aria-label="{texts.CORNER_REMOVE.format(n=number + 1)}"')
        if not corners:
            button(texts.FIRST_CORNERS, lambda: self._first_corners(outline)).mark(f"first-{outline}")

    @in_words
    async def _first_corners(self, outline: str) -> None:
        other = "part.profile" if outline == "part.blank" else "part.blank"
        corners = deepcopy(bare(get(self.live.draft.table, other))) or [[0, 0], [0, 0], [0, 0], [0, 0]]
        await self.desk.change(self.live, {outline: corners}, texts.FIRST_CORNERS)

    @in_words
    async def _add_corner(self, outline: str, number: int) -> None:
        """A corner half way to the next one: the shape stays as it is until somebody types."""
        corners = deepcopy(bare(get(self.live.draft.table, outline)))
        here, following = corners[number], corners[(number + 1) % len(corners)]
        middle = [_half_way(a, b) for a, b in zip(here[:2], following[:2], strict=True)]
        corners.insert(number + 1, middle)
        await self.desk.change(self.live, {outline: corners}, texts.CORNER_ADD.format(n=number + 1))

    @in_words
    async def _remove(self, path: str, number: int) -> None:
        rest = [one for place, one in enumerate(bare(get(self.live.draft.table, path))) if place != number]
        await self.desk.change(self.live, {path: rest}, texts.CORNER_REMOVE.format(n=number + 1))

    def _cuts(self) -> None:
        cuts = bare(get(self.live.draft.table, "cut")) or []
        for number in range(len(cuts)):
            html(heading(f"{number + 1}. {bare(cuts[number].get('name')) or texts.SECTIONS[-1]}"))
            with ui.element("div").classes("grid"):
                for field in cut_fields(number):
                    self._input(field)
            button(texts.CUT_REMOVE, lambda n=number: self._remove("cut", n))
        with ui.element("div").classes("row-line"):
            button(texts.CUT_ADD, self._add_cut).mark("add-cut")

    @in_words
    async def _add_cut(self) -> None:
        """As the last one, under a new name: a cut is mostly like its neighbour."""
        cuts = deepcopy(bare(get(self.live.draft.table, "cut")) or [])
        new = dict(cuts[-1]) if cuts else {"kind": "turn"}
        new["name"] = f"cut {len(cuts) + 1}"
        new.pop("finishing", None)
        await self.desk.change(self.live, {"cut": [*cuts, new]}, texts.CUT_ADD)

    def _surfaces(self) -> None:
        html(heading(texts.SURFACE_OF_CUT))
        table = self.live.draft.table
        for number in range(len(bare(get(table, "surface")) or [])):
            with ui.element("div").classes("grid"):
                for field in surface_fields(table, number):
                    self._input(field)
        button(texts.SURFACE_ADD, self._add_surface).mark("add-surface")

    @in_words
    async def _add_surface(self) -> None:
        there = deepcopy(bare(get(self.live.draft.table, "surface")) or [])
        new = dict(there[-1]) if there else {"side": "outside", "diameter": 0, "z": [0, 0]}
        new["name"] = f"surface {len(there) + 1}"
        await self.desk.change(self.live, {"surface": [*there, new]}, texts.SURFACE_ADD)


def _half_way(a: Any, b: Any) -> Any:
    """The middle of two bare numbers; of typed text the first."""
    first, second = bare(a), bare(b)
    if isinstance(first, int | float) and isinstance(second, int | float):
        return (first + second) / 2
    return first

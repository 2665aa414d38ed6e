"""The form of the plan page: sections with their fields, the rare ones under "More", and lists that grow and shrink."""

from __future__ import annotations

import asyncio
import json
import logging
from collections.abc import Callable
from copy import deepcopy
from functools import partial
from typing import Any

from nicegui import events, ui

from heldtrue.errors import InputError
from heldtrue.quantities import bare_unit, from_core, parse_quantity
from heldtrue.web import sources, texts
from heldtrue.web.desk import Desk, Live
from heldtrue.web.drafts import LARGEST_TEMPLATE
from heldtrue.web.fields import Field, bare, get
from heldtrue.web.frame import button, file_button, html, in_words, say
from heldtrue.web.plan.box import Box
from heldtrue.web.plan.drawn_note import DrawnNote
from heldtrue.web.plan.outline_view import OutlineView
from heldtrue.web.plan.row_list import RowList
from heldtrue.web.plan.rows import Rows
from heldtrue.web.plan.surface_choice import ANY_SIDE, JAW_SIDES, SurfaceChoice, Take, ask_of, grip_on, show_all
from heldtrue.web.plan.wrongs import Wrongs
from heldtrue.web.render import heading, paragraph
from heldtrue.web.sections import FIXED, Section, corner_fields, cut_fields, label_of, row_fields, section_of
from heldtrue.web.tabs import Tabs

log = logging.getLogger("heldtrue.web")
READINGS = "chuck.grip_readings"
MOST_CORNERS = 40
"""Corners whose fields are made at once; a drawing's arcs can be hundreds, and take seconds."""


class Form:
    """The fields of one tab of one browser. ``show``: brings them in sight."""

    def __init__(self, desk: Desk, live: Live, show: Callable[[], None]) -> None:
        self.desk, self.live, self._show = desk, live, show
        self.boxes: list[Box] = []
        self._rows: dict[str, Rows] = {}
        self._choices: list[SurfaceChoice] = []
        self._more: dict[str, ui.element] = {}
        self._unopened: dict[str, Section] = {}
        self._first: dict[str, ui.button] = {}
        self._lists: list[RowList] = []
        self.wrongs = Wrongs(live)

    async def build(self) -> None:
        """Put the sections on the page, with a breath between them: others' answers need not wait for all of it."""
        self.tabs = Tabs("values", texts.SECTIONS)
        for name, section in zip(texts.SECTIONS, (*FIXED, None), strict=True):
            with self.tabs.panel(name):
                self._section(section) if section is not None else self._last()
            await asyncio.sleep(0)
        html(f'<p class="hint">{texts.SOURCE_HELP}</p>')
        self._count()

    def refresh(self) -> None:
        """Show what the draft has: another tab, or undo, may have changed it."""
        show_all(self.boxes, self._choices)
        for rows in self._rows.values():
            rows.refresh()
        for one in self._lists:
            one.refresh()
        for path, first in self._first.items():
            first.set_visibility(not self._rows[path].values)
        self._count()
        try:
            self._note.refresh()
            self._drawn.refresh()
        except Exception:  # a part half typed that cannot be drawn must not stop the fields from following
            log.exception("the part could not be drawn")

    def go_to(self, path: str) -> None:
        """Open the tab and the part a field stands in, and put the cursor there."""
        if path.startswith("assumptions."):
            ui.navigate.to(f"/measure/{self.live.draft.id}")
            return
        number = section_of(path)
        self._show()
        self.tabs.open(texts.SECTIONS[number])
        if number < len(FIXED) and path not in {one.path for one in FIXED[number].first}:
            self._open_more(FIXED[number].name)
        box = next((one for one in self._all() if one.field.path == path), None)
        if box is None:
            box = next((one for one in self._all() if one.field.path.startswith(f"{path}.")), None)
        if box is None:
            button_of = {"cut": "add-cut", "part.profile": "first-part.profile", READINGS: f"add-{READINGS}"}.get(path)
            if path == READINGS:
                self._more[FIXED[number].name].run_method("setAttribute", "open", "")
            if button_of:
                ui.run_javascript(f"setTimeout(() => document.getElementById('{button_of}')?.focus(), 150)")
            return
        for prefix, more in self._more.items():
            if box in self._in_more(prefix):
                more.run_method("setAttribute", "open", "")
        # The tab comes into view first: what is hidden takes no cursor.
        ui.timer(0.15, box.focus, once=True)

    async def take_choices(self, event: events.GenericEventArguments) -> None:
        """What was chosen while the server was away: a choice each by the path of its field, and over which state."""
        kept = event.args if isinstance(event.args, dict) else {}
        for path, (words, base) in kept.items():
            box = next((one for one in self._all() if one.field.path == path), None)
            if box is not None:
                await box.choose(str(words), str(base))
        ui.run_javascript(f"choicesTaken({json.dumps(list(kept))})")

    def _in_more(self, name: str) -> list[Box]:
        return [one for one in self._all() if getattr(one, "more", "") == name]

    def _all(self) -> list[Box]:
        lists = [*self._rows.values(), *(one.rows for one in self._lists)]
        return [*self.boxes, *(box for rows in lists for row in rows.rows for box in row.boxes)]

    def _count(self) -> None:
        """How many things each tab still asks for, as a number beside its name."""
        counts = [0] * len(texts.SECTIONS)
        for point in self.wrongs.points():
            counts[section_of(point.path)] += 1
        for words, count in zip(texts.SECTIONS, counts, strict=True):
            self.tabs.label(words, f"{words} ({count} !)" if count else words)

    def _section(self, section: Section) -> None:
        if section.name == "Chuck":
            self._taking(texts.TAKE_CHUCK, sources.chucks(self.desk.store, self.desk.examples), self._take_chuck)
        if section.name == "Jaws":
            self._taking(texts.TAKE_JAWS, sources.jaws(self.desk.examples), self._take_jaws)
        if section.name == "Grip":
            self._choose_surface(texts.GRIP_TAKE, "grip-surface", JAW_SIDES, grip_on)
        self._grid(section.first)
        if section.name == "Part":
            self._drawn = OutlineView(self.live)
            self._note = DrawnNote(self.desk, self.live)
            for words, outline in ((texts.CORNERS, "part.profile"), (texts.BLANK, "part.blank")):
                self._outline(words, outline)
        self._more_of(section)

    def _more_of(self, section: Section) -> None:
        """The closed part of a section: its fields are made when it is opened, as half of all fields are in there."""
        used = sum(get(self.live.draft.table, field.path) is not None for _, group in section.more for field in group)
        words = texts.MORE_SET.format(count=used) if used else texts.MORE
        made = ui.element("details").classes("more").mark(f"more-{section.name}")
        with made, ui.element("summary"):
            ui.label(words)
        made.on("toggle", lambda: self._open_more(section.name), args=[])
        self._more[section.name], self._unopened[section.name] = made, section

    def _open_more(self, name: str) -> None:
        section = self._unopened.pop(name, None)
        if section is None:
            return
        with self._more[name]:
            for words, group in section.more:
                html(f"<h3>{words}</h3>")
                self._grid(group, name)
            if name == "Chuck":
                self._small_list(texts.GRIP_READINGS, READINGS, name)
            if name == "Jaws":
                self._small_list(texts.BORE_STEPS, "boring.steps", name)
                self._small_list(texts.OLD_STEPS, "jaws.last_cut.steps", name)
                self._small_list(texts.RINGS_AT_HAND, "boring.rings", name)
                self._template()

    def _grid(self, fields: tuple[Field, ...], more: str = "") -> None:
        with ui.element("div").classes("grid"):
            for field in fields:
                box = self._box(field)
                box.more = more
                self.boxes.append(box)

    def _box(self, field: Field) -> Box:
        return Box(self.desk, self.live, field, self.wrongs.at)

    def _last(self) -> None:
        """The cuts and the surfaces they make."""
        self._rows["cut"] = Rows(self.live, "cut", partial(self._fields_of, "cut"), self._cut)
        self._adding(texts.CUT_ADD, self._add_cut, "add-cut")
        html(heading(texts.SURFACE_OF_CUT))
        self._rows["surface"] = Rows(self.live, "surface", partial(self._fields_of, "surface"), self._plain_row)
        self._choose_surface(texts.SURFACE_TAKE, "take-surface", ANY_SIDE, ask_of)
        self._adding(texts.SURFACE_ADD, self._add_surface, "add-surface")

    def _choose_surface(self, words: str, mark: str, sides: tuple[str, ...], take: Take) -> None:
        self._choices.append(SurfaceChoice(self.live, words, mark, sides, partial(take, self.desk, self.live)))

    def _adding(self, words: str, action: Callable[[], Any], mark: str) -> ui.button:
        return button(words, action).mark(mark).props(f'id="{mark}"')

    def _fields_of(self, path: str, number: int) -> tuple[Field, ...]:
        return row_fields(self.live.draft.table, path, number)

    def _taking(self, words: str, choices: dict[str, str], take: Callable[[str], Any]) -> None:
        if not choices:
            return

        @in_words
        async def chosen(event: Any) -> None:
            if event.value is not None:
                await take(str(event.value))

        ui.select(choices, label=words, on_change=chosen).props("outlined stack-label").classes("wide")

    async def _take_chuck(self, key: str) -> None:
        table = await self.desk.remember(sources.chuck_of, self.desk.store, self.desk.examples, key)
        await self.desk.change(self.live, {"chuck": table}, texts.TAKE_CHUCK)

    async def _take_jaws(self, key: str) -> None:
        table = await self.desk.remember(sources.jaws_of, self.desk.examples, key)
        await self.desk.change(self.live, {"jaws": table}, texts.TAKE_JAWS)

    def _outline(self, words: str, outline: str) -> None:
        html(f"{heading(words)}{paragraph(texts.CORNER_WORDS)}")
        count = len(bare(get(self.live.draft.table, outline)) or ())
        if count <= MOST_CORNERS:
            self._corners(outline)
            return

        def show_all() -> None:
            place.clear()
            with place:
                self._corners(outline)

        with ui.element("div").classes("block") as place:
            button(texts.SHOW_CORNERS.format(count=count), show_all).mark(f"show-{outline}")

    def _corners(self, outline: str) -> None:
        edges = ui.checkbox(texts.EDGES, value=self._has_edges(outline)).mark(f"edges-{outline}")
        self._rows[outline] = Rows(self.live, outline, partial(corner_fields, outline), self._corner)
        self._edges(self._rows[outline].place, bool(edges.value))
        edges.on_value_change(lambda event: self._edges(self._rows[outline].place, bool(event.value)))
        first = self._adding(texts.FIRST_CORNERS, lambda: self._first_corners(outline), f"first-{outline}")
        first.set_visibility(not self._rows[outline].values)
        self._first[outline] = first

    def _edges(self, place: ui.element, on: bool) -> None:
        """Show or hide rounding and chamfer of every corner."""
        place.classes(add="edges") if on else place.classes(remove="edges")

    def _has_edges(self, outline: str) -> bool:
        corners = bare(get(self.live.draft.table, outline)) or ()
        return any(isinstance(one, list | tuple) and len(one) > 2 for one in corners)

    def _corner(self, number: int, rows: Rows, place: ui.element) -> tuple[list[Box], Callable[[int], None]]:
        with ui.element("div").classes("corner"):
            head = ui.label("").classes("n")
            boxes = [self._box(field) for field in corner_fields(rows.path, number)]
            for box in boxes[2:]:
                box.place.classes("edge")
            for box in boxes:  # the corner that is typed stands out in the picture
                box.entry.on("focus", lambda box=box: self._drawn.pick(box.field.path), args=[])
            add = button("+", lambda: self._add_corner(rows, rows.number_of(place)))
            take = button("−", lambda: self._remove(rows, rows.number_of(place)))

        def renumber(number: int) -> None:
            head.text = str(number + 1)
            add.props(f'aria-label="{texts.CORNER_ADD.format(n=number + 1)}"')
            take.props(f'aria-label="{texts.CORNER_REMOVE.format(n=number + 1)}"')
            add._markers[:], take._markers[:] = [f"add-{rows.path}-{number}"], [f"take-{rows.path}-{number}"]

        return boxes, renumber

    def _plain_row(self, number: int, rows: Rows, place: ui.element) -> tuple[list[Box], Callable[[int], None]]:
        with ui.element("div").classes("grid"):
            boxes = [self._box(field) for field in self._fields_of(rows.path, number)]
        take = button("", lambda: self._remove(rows, rows.number_of(place)))

        def renumber(number: int) -> None:
            take.text = texts.ROW_REMOVE.format(what=label_of(self.live.draft.table, f"{rows.path}.{number}"))
            take._markers[:] = [f"take-{rows.path}-{number}"]

        return boxes, renumber

    def _cut(self, number: int, rows: Rows, place: ui.element) -> tuple[list[Box], Callable[[int], None]]:
        first, rare = cut_fields(self.live.draft.table, number)
        head = html("")
        with ui.element("div").classes("grid"):
            boxes = [self._box(field) for field in first]
        name = f"cut at {place.id}"
        with ui.element("details").classes("more") as more, ui.element("summary"):
            ui.label(texts.MORE)
        self._more[name] = more
        with more, ui.element("div").classes("grid"):
            for field in rare:
                box = self._box(field)
                box.more = name
                boxes.append(box)
        take = button(texts.CUT_REMOVE, lambda: self._remove(rows, rows.number_of(place)))

        def renumber(number: int) -> None:
            name = bare(get(self.live.draft.table, f"cut.{number}.name"))
            head.content = heading(f"{number + 1}. {name or texts.SECTIONS[-1]}")
            take._markers[:] = [f"take-cut-{number}"]

        return boxes, renumber

    def _template(self) -> None:
        """Hand over the template of the control: kept with this setup, never looked up on this computer."""

        @in_words
        async def taken(event: events.UploadEventArguments) -> None:
            await self.desk.take_template(self.live, await event.file.read())
            say(texts.TEMPLATE_TAKEN)

        @in_words
        async def away() -> None:
            await self.desk.take_template(self.live, b"")
            say(texts.TEMPLATE_GONE)

        file_button(texts.TEMPLATE_FILE, taken, accept=".toml", most=LARGEST_TEMPLATE, mark="template",
                    refused=texts.FILE_TOO_LARGE)  # fmt: skip
        button(texts.TEMPLATE_REMOVE, away).mark("template-away")

    def _small_list(self, words: str, path: str, name: str) -> None:
        self._lists.append(RowList(self.desk, self.live, words, path, self.wrongs.at, name))

    async def _grow(self, rows: Rows, values: list[Any], number: int, label: str) -> None:
        """Put a row in, with the cursor in it."""
        rows.wanted = number
        try:
            await self.desk.change(self.live, {rows.path: values}, label)
        finally:
            rows.wanted = None

    @in_words
    async def _first_corners(self, outline: str) -> None:
        rows = self._rows[outline]
        other = "part.profile" if outline == "part.blank" else "part.blank"
        corners = deepcopy(bare(get(self.live.draft.table, other))) or [[None, None] for _ in range(4)]
        await self._grow(rows, corners, 0, texts.FIRST_CORNERS)

    @in_words
    async def _add_corner(self, rows: Rows, number: int) -> None:
        """A corner half way to the next one: the shape stays as it is until somebody types."""
        corners = deepcopy(rows.values)
        here, following = corners[number], corners[(number + 1) % len(corners)]
        middle = [self._half_way(a, b) for a, b in zip(here[:2], following[:2], strict=True)]
        corners.insert(number + 1, middle)
        await self._grow(rows, corners, number + 1, texts.CORNER_ADD.format(n=number + 1))

    @in_words
    async def _remove(self, rows: Rows, number: int) -> None:
        rest = [one for place, one in enumerate(rows.values) if place != number]
        label = texts.ROW_REMOVE.format(what=label_of(self.live.draft.table, f"{rows.path}.{number}"))
        await self.desk.change(self.live, {rows.path: rest}, label)

    @in_words
    async def _add_cut(self) -> None:
        """As the last one, under a new name: a cut is mostly like its neighbour."""
        cuts = deepcopy(self._rows["cut"].values)
        new = dict(cuts[-1]) if cuts else {"kind": "turn"}
        new["name"] = new_name("cut", cuts)
        new.pop("finishing", None)
        await self._grow(self._rows["cut"], [*cuts, new], len(cuts), texts.CUT_ADD)

    @in_words
    async def _add_surface(self) -> None:
        there = deepcopy(self._rows["surface"].values)
        new = dict(there[-1]) if there else {"side": "outside"}
        new["name"] = new_name("surface", there)
        await self._grow(self._rows["surface"], [*there, new], len(there), texts.SURFACE_ADD)

    def _half_way(self, a: Any, b: Any) -> Any:
        """The middle of two lengths as they stand in the file; the first where one of them is not read."""
        system = self.live.draft.system
        try:
            ends = [parse_quantity(bare(one), "length", system) for one in (a, b)]
        except InputError:
            return bare(a)
        return round(from_core(sum(ends) / 2.0, "length", bare_unit("length", system)), 6)


def new_name(word: str, there: list[Any]) -> str:
    """A name no other row has."""
    names = {bare(one.get("name")) for one in there if isinstance(one, dict)}
    return next(name for number in range(1, 1000) if (name := f"{word} {number}") not in names)

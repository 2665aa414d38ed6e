"""What the shop owns besides jaw sets and chucks: machines, blanks, rings, tools; and revisions of its parts."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from typing import Any

from nicegui import events, ui

from heldtrue.errors import InputError
from heldtrue.planning.hardware_file import jaws_from, rings_from, tool_from
from heldtrue.planning.toml_file import LARGEST_FILE, parse_toml
from heldtrue.quantities import format_both
from heldtrue.records import BlankRecord, MachineRecord, PartRecord, Revision, RingRecord, ToolRecord
from heldtrue.records.things import Thing
from heldtrue.shop.enter import card_of
from heldtrue.shop.stock import blank_card, over, ring_cards, taken, tool_card, with_old_revision
from heldtrue.web import texts
from heldtrue.web.boxes import NumberBox, TextBox, WholeBox
from heldtrue.web.desk import Desk, now
from heldtrue.web.frame import button, confirmed, file_button, frame, html, in_words, page, say
from heldtrue.web.render import heading, paragraph, table
from heldtrue.web.sections import STYLES
from heldtrue.web.who import NameBox

RING_KINDS = ("ring", "plug", "spider")


def register(desk: Desk) -> None:
    """The page ``/stock``."""

    @page("/stock")
    async def stock() -> None:
        with frame(texts.STOCK, "/stock"):
            await _Stock(desk).build()


class _Stock:
    """The page in one browser."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    async def build(self) -> None:
        """Put it on the page."""
        self.who = NameBox(self.desk)
        html(heading(texts.BLANKS))
        self.blanks = html("").mark("blanks")
        self._take()
        with _more(texts.ADD_BLANK):
            self._add_blank()
        html(heading(texts.RINGS))
        self.rings = html("").mark("rings")
        with _more(texts.ADD_RING):
            self._add_ring()
        html(heading(texts.TOOLS))
        self.tools = html("").mark("tools")
        with _more(texts.ADD_TOOL):
            self._add_tool()
        html(heading(texts.MACHINES))
        self.machines = html("").mark("machines")
        with _more(texts.ADD_MACHINE):
            self._add_machine()
        html(heading(texts.NEW_REVISION))
        self._revision()
        await self.show()

    async def show(self) -> None:
        """As it stands now."""
        store = self.desk.store
        blanks = await self.desk.remember(store.all, BlankRecord)
        sizes = [" x ".join(_length(one) for one in (card.width, card.length, card.height)) for card in blanks]
        self.blanks.content = _table(texts.BLANK_STOCK_HEADS, [
            (one.id, one.style, one.material, one.serration, size, str(one.in_stock), one.place)
            for one, size in zip(blanks, sizes, strict=True)
        ])  # fmt: skip
        self.taking.set_options([one.id for one in blanks])
        self.rings.content = _table(texts.RING_HEADS, [
            (one.id, one.kind, _length(one.outside), _length(one.inside), _length(one.width), one.place)
            for one in await self.desk.remember(store.all, RingRecord)
        ])  # fmt: skip
        self.tools.content = _table(texts.TOOL_HEADS, [
            (one.id, _length(one.nose_radius), one.place) for one in await self.desk.remember(store.all, ToolRecord)
        ])  # fmt: skip
        self.machines.content = _table(texts.MACHINE_HEADS, [
            (one.id, "" if one.max_speed_rpm is None else f"{one.max_speed_rpm:.0f}", _length(one.max_swing))
            for one in await self.desk.remember(store.all, MachineRecord)
        ])  # fmt: skip

    async def keep(self, *cards: Thing) -> None:
        """New cards, or new versions of those there are."""
        by = self.who.name()
        written = [await self.desk.remember(over, self.desk.store, one) for one in cards]
        there = ", ".join(one.id for one in written if one.version)
        if there and not await confirmed(texts.WRITE_OVER.format(ids=there)):
            return
        await self.desk.write(*written, by=by)
        say(texts.IN_RECORDS.format(ids=", ".join(one.id for one in cards)))
        await self.show()

    def _take(self) -> None:
        with ui.element("div").classes("row-line"):
            self.taking = ui.select([], label=texts.BLANKS).props("outlined stack-label").style("min-width: 240px")
            self.taking.mark("take-which")
            sets = WholeBox(texts.HOW_MANY_SETS, "take-sets", value="1")

            @in_words
            async def take() -> None:
                by = self.who.name()
                if not self.taking.value:
                    raise InputError(texts.NEEDED.format(what=texts.BLANKS))
                card = await self.desk.remember(taken, self.desk.store, self.taking.value, sets.number(1))
                await self.desk.write(card, by=by)
                say(texts.BLANK_TAKEN.format(id=card.id, left=card.in_stock))
                await self.show()

            button(texts.TAKE_BLANK, take, main=True).mark("take-blank")

    def _add_blank(self) -> None:
        with ui.element("div").classes("grid"):
            id, material = TextBox(texts.CALLED, "blank-id", most=100), TextBox(texts.MATERIAL, "blank-material")
            style = ui.select(list(STYLES), label=texts.STYLE, value=STYLES[0]).props("outlined stack-label")
            teeth = TextBox(texts.TEETH, "blank-teeth", hint="1.5 mm x 60 deg", most=80)
            sizes = [NumberBox(words, f"blank-{mark}", "length") for words, mark in (
                (texts.WIDTH, "width"), (texts.LENGTH, "length"), (texts.HEIGHT, "height"))]  # fmt: skip
            count, place = WholeBox(texts.IN_STOCK, "blank-count", value="0"), TextBox(texts.PLACE, "blank-place")

        @in_words
        async def add() -> None:
            width, length, height = (box.value() for box in sizes)
            await self.keep(BlankRecord(
                id=id.need(), style=style.value, material=material.need(), serration=teeth.text(), width=width,
                length=length, height=height, in_stock=count.number(), place=place.text(),
            ))  # fmt: skip

        async def from_file(raw: dict[str, Any], name: str) -> None:
            jaws, data = jaws_from(raw, name)
            await self.keep(blank_card(jaws, data, id=id.need(), in_stock=count.number(), place=place.text()))

        button(texts.ADD_BLANK, add).mark("add-blank")
        toml_box(from_file, "blank-file")

    def _add_ring(self) -> None:
        with ui.element("div").classes("grid"):
            id = TextBox(texts.CALLED, "ring-id", most=100)
            kind = ui.select(list(RING_KINDS), label=texts.KIND, value="ring").props("outlined stack-label")
            outside = NumberBox(texts.OUTSIDE, "ring-outside", "diameter")
            inside = NumberBox(texts.INSIDE, "ring-inside", "diameter")
            width, place = NumberBox(texts.WIDTH, "ring-width", "length"), TextBox(texts.PLACE, "ring-place")

        @in_words
        async def add() -> None:
            await self.keep(RingRecord(id=id.need(), name=id.text(), kind=kind.value, outside=outside.needed(),
                                       inside=inside.value(), width=width.needed(), place=place.text()))  # fmt: skip

        async def from_file(raw: dict[str, Any], name: str) -> None:
            await self.keep(*ring_cards(rings_from(raw, name), place=place.text()))

        button(texts.ADD_RING, add).mark("add-ring")
        toml_box(from_file, "ring-file")

    def _add_tool(self) -> None:
        with ui.element("div").classes("grid"):
            id, nose = TextBox(texts.CALLED, "tool-id", most=100), NumberBox(texts.NOSE, "tool-nose", "length")
            place = TextBox(texts.PLACE, "tool-place")

        @in_words
        async def add() -> None:
            await self.keep(ToolRecord(id=id.need(), name=id.text(), nose_radius=nose.value(), place=place.text()))

        async def from_file(raw: dict[str, Any], name: str) -> None:
            await self.keep(tool_card(*tool_from(raw, name), place=place.text()))

        button(texts.ADD_TOOL, add).mark("add-tool")
        toml_box(from_file, "tool-file")

    def _add_machine(self) -> None:
        with ui.element("div").classes("grid"):
            id, speed = TextBox(texts.CALLED, "machine-id", most=100), WholeBox(texts.TOP_SPEED_RPM, "machine-speed")
            swing = NumberBox(texts.SWING, "machine-swing", "diameter")

        @in_words
        async def add() -> None:
            most = float(speed.number()) if speed.text() else None
            await self.keep(MachineRecord(id=id.need(), name=id.text(), max_speed_rpm=most, max_swing=swing.value()))

        button(texts.ADD_MACHINE, add).mark("add-machine")

    def _revision(self) -> None:
        with ui.element("div").classes("grid"):
            part = TextBox(texts.PART_NUMBER, "part", most=100)
            letter = TextBox(texts.REVISION_LETTER, "letter", most=20)
            changes = TextBox(texts.REVISION_CHANGES, "changes")

        @in_words
        async def add() -> None:
            by = self.who.name()
            await self.desk.remember(card_of, self.desk.store, PartRecord, part.need(), "part")
            row = Revision(at=now(), by=by, part=part.text(), revision=letter.need(), changes=changes.text())
            await self.desk.write(row, by=by)
            old = await self.desk.remember(with_old_revision, self.desk.store, part.text(), letter.text())
            lines = [texts.OLD_REVISION.format(id=one.id, old=one.revision or "-") for one in old]
            told.content = paragraph(texts.AT_REVISION.format(part=part.text(), letter=letter.text())) + "".join(
                paragraph(line) for line in lines
            )

        button(texts.NEW_REVISION, add).mark("add-revision")
        told = html("").mark("old-revisions")


def toml_box(work: Callable[[dict[str, Any], str], Awaitable[None]], mark: str) -> None:
    """A hardware file that is handed over; it cannot name other files."""

    @in_words
    async def come(event: events.UploadEventArguments) -> None:
        if event.file.size() > LARGEST_FILE:
            raise InputError(texts.FILE_TOO_LARGE)
        await work(parse_toml(await event.file.read()), event.file.name.rpartition("/")[2])

    file_button(texts.FROM_FILE, come, accept=".toml", most=LARGEST_FILE, mark=mark, refused=texts.FILE_TOO_LARGE)


def _more(words: str) -> ui.element:
    """A part of the page that is closed until it is wanted."""
    made = ui.element("details").classes("more")
    with made, ui.element("summary"):
        ui.label(words)
    return made


def _table(heads: Sequence[str], rows: Sequence[tuple[str, ...]]) -> str:
    return table(heads, rows) if rows else paragraph(texts.NOTHING_THERE)


def _length(value: float | None) -> str:
    return "" if value is None else format_both(value, "length")

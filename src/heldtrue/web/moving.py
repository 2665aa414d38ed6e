"""A setup of the records on another machine: the pressure there for the same draw force, and every difference."""

from __future__ import annotations

from html import escape
from urllib.parse import quote

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.records import ChuckRecord, MachineRecord, SetupRecord, open_setup
from heldtrue.shop.chuck_card import plate_table
from heldtrue.shop.enter import card_of, known_card
from heldtrue.web import texts, worker
from heldtrue.web.boxes import TextBox, WholeBox
from heldtrue.web.busy import Busy
from heldtrue.web.desk import Desk, checked, now
from heldtrue.web.frame import button, frame, html, in_words, not_here, page
from heldtrue.web.render import bullets, heading, paragraph, state, table
from heldtrue.web.results import MovedAnswer


def register(desk: Desk) -> None:
    """The page ``/setups/{id}/move``."""

    @page("/setups/{id}/move")
    async def move(id: str) -> None:
        try:
            card = await desk.remember(card_of, desk.store, SetupRecord, id, "setup")
        except InputError as error:
            not_here(error)
            return
        with frame(texts.MOVE_TITLE.format(title=card.title or id), "/"):
            await _Move(desk, card).build()
        with ui.element("div").classes("bar"):
            button(texts.RUNS, lambda: ui.navigate.to(f"/setups/{quote(id, safe='')}"))


class _Move:
    """One move in one browser."""

    def __init__(self, desk: Desk, card: SetupRecord) -> None:
        self.desk, self.card = desk, card

    async def build(self) -> None:
        """Put it on the page."""
        chucks = await self.desk.remember(self._chucks)
        if not chucks:
            html(paragraph(texts.NO_OTHER_CHUCK))
            return
        with ui.element("div").classes("grid"):
            self.chuck = ui.select(chucks, label=texts.TO_CHUCK, on_change=self._chosen).mark("to-chuck")
            self.chuck.props("outlined stack-label")
            self.machine = TextBox(texts.TO_MACHINE, "to-machine", most=80)
            self.speed = WholeBox(texts.MACHINE_SPEED, "machine-speed")
        button(texts.MOVE, self.move, main=True).mark("move")
        self.busy = Busy()
        self.answer = html("").mark("moved")
        self.after = ui.element("div").classes("block")

    def _chucks(self) -> dict[str, str]:
        cards = [card for card in self.desk.store.all(ChuckRecord) if card.data and card.id != self.card.chuck]
        return {card.id: ", ".join(filter(None, [card.id, card.name, card.machine])) for card in cards}

    @in_words
    async def _chosen(self, _: object = None) -> None:
        """The machine the chuck stands on, as its card has it."""
        self._clear()
        card = await self.desk.remember(known_card, self.desk.store, ChuckRecord, self.chuck.value)
        name = card.machine if card is not None else None
        machine = await self.desk.remember(known_card, self.desk.store, MachineRecord, name) if name else None
        self.machine.box.value = name or ""
        self.speed.box.value = f"{machine.max_speed_rpm:.0f}" if machine and machine.max_speed_rpm else ""

    def _clear(self) -> None:
        self.answer.content = ""
        self.after.clear()

    @in_words
    async def move(self) -> None:
        """Plan it on both."""
        self._clear()
        if not self.chuck.value:
            raise InputError(texts.NEEDED.format(what=texts.TO_CHUCK))
        card = await self.desk.remember(card_of, self.desk.store, ChuckRecord, self.chuck.value, "chuck")
        plate = plate_table(card)
        there: dict[str, object] | None = None
        if self.machine.text() or self.speed.text():
            there = {"name": self.machine.text()}
            if self.speed.text():
                there["max_speed"] = self.speed.number()
        setup = await self.desk.remember(open_setup, self.card.document)
        made = checked(await self.busy.over(
            self.desk.pool.run("", worker.move_setup, self.desk.records, setup, plate, there, now()), texts.MOVING
        ))  # fmt: skip
        if self.chuck.value != card.id:  # another was chosen meanwhile
            return
        self.answer.content = _answer(made)
        if made.table is not None:
            with self.after:
                button(texts.OPEN_THERE, lambda: self.open(made)).mark("open-there")

    @in_words
    async def open(self, made: MovedAnswer) -> None:
        """A new setup of its own: the one here stays as it is."""
        assert made.table is not None
        draft = await self.desk.begin(f"{self.card.id}-{self.chuck.value}", made.table)
        ui.navigate.to(f"/plan/{draft.id}")


def _answer(made: MovedAnswer) -> str:
    if made.table is None:
        return (f'<div class="verdict fails" role="alert"><div class="word">{escape(texts.CANNOT_THERE)}</div>'
                f"{paragraph(made.why)}</div>")  # fmt: skip
    said = texts.SAME_FORCE.format(force=made.force, pressure=made.pressure_here, there=made.pressure_there)
    blocked = f'<div class="word">{escape(texts.BLOCKED)}</div>' if made.blocked else ""
    kind = "fails" if made.blocked else made.verdict.replace(" ", "-")
    head = (f'<div class="verdict {kind}" role="status">{blocked}<p>{escape(texts.THERE)}: {state(made.verdict)} '
            f"{escape(made.because)}</p>{paragraph(said)}</div>")  # fmt: skip
    rows = [(what, here, there, texts.BLOCKS if blocks else "") for what, here, there, blocks in made.differences]
    told = table(texts.DIFF_HEADS, rows) if rows else paragraph(texts.NO_DIFFERENCE)
    return head + told + heading(texts.CAUTIONS) + bullets(made.cautions)

"""What is chosen of a part that was read: its end on the jaws, its blank, where it is gripped and turned."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import replace
from functools import partial
from typing import Any

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.mechanics.materials import WORK_MATERIALS
from heldtrue.part_file.turned_part import TurnedPart, TurnedSurface
from heldtrue.web import sources, texts
from heldtrue.web.boxes import NumberBox, TextBox
from heldtrue.web.desk import Desk
from heldtrue.web.fields import Table
from heldtrue.web.frame import button, html, in_words, press
from heldtrue.web.part import said, words, work
from heldtrue.web.part.arrivals import Arrival
from heldtrue.web.part.draft import Chosen
from heldtrue.web.render import heading, paragraph, picture

LENGTHS = (
    ("grip-from", "grip_from", words.GRIP_FROM, ""), ("grip-to", "grip_to", words.GRIP_TO, ""),
    ("on-diameter", "on_diameter", words.ON_DIAMETER, words.BLANK_HINT),
    ("on-faces", "on_faces", words.ON_FACES, words.BLANK_HINT),
)  # fmt: skip
"""Lengths that are typed: mark, what they are of ``Chosen``, label and hint."""


class Choosing:
    """One part on one page. ``ask``: has a worker answer."""

    def __init__(self, desk: Desk, arrival: Arrival, ends: work.Ends, ask: Callable[..., Awaitable[Any]]) -> None:
        self.desk, self.arrival, self.ends, self.ask = desk, arrival, ends, ask
        self.part: TurnedPart = ends.part
        self.surfaces: tuple[TurnedSurface, ...] = ()

    @property
    def chosen(self) -> Chosen:
        """What was chosen by now."""
        return self.arrival.chosen

    def build(self, more: Callable[[], None]) -> None:
        """Put it on the page. ``more``: what stands below what the drawing says."""
        with ui.element("div").classes("part-page"):
            self.section = html("").classes("part-drawing").mark("part-section")
            with ui.element("section").classes("part-choices"):
                self._end_choices()
                self.rest = ui.element("div").classes("block")
            with ui.element("section").classes("part-facts"):
                html(said.facts_of(self.part, self.chosen.system)).mark("part-facts")
                more()
        self.rest.visible = False
        with self.rest:
            self._states()
            html(heading(words.SURFACES) + paragraph(words.SURFACES_WORDS))
            self.rows = ui.element("div").classes("block").mark("part-surfaces")
            self._boxes()

    def _end_choices(self) -> None:
        html(heading(words.END))
        self.end_buttons: dict[bool, ui.button] = {}
        with ui.element("div").classes("two-ends"):
            for low_end, svg in ((True, self.ends.low), (False, self.ends.high)):
                name = words.END_CHOICES[low_end]
                with ui.element("div").classes("sheet"):
                    html(said.image(svg, words.END_PICTURE.format(end=name)))
                    self.end_buttons[low_end] = button(name, in_words(partial(self.choose_end, low_end)))
                    self.end_buttons[low_end].mark(f"end-{'low' if low_end else 'high'}").props("aria-pressed=false")

    def _states(self) -> None:
        html(heading(words.STATE))
        self.state_buttons: dict[words.State, ui.button] = {}
        with ui.element("div").classes("row-line"):
            for state, name in words.STATES.items():
                self.state_buttons[state] = button(name, partial(self.choose_state, state)).mark(f"state-{state}")
                press(self.state_buttons[state], state == self.chosen.state)

    def _boxes(self) -> None:
        """What a drawing's file seldom has."""
        chosen, desk = self.chosen, self.desk
        html(heading(words.REST) + paragraph(words.REST_WORDS))
        self.chuck = _taking(texts.TAKE_CHUCK, sources.chucks(desk.store, desk.examples), chosen.chuck, "part-chuck")
        self.jaws = _taking(texts.TAKE_JAWS, sources.jaws(desk.examples), chosen.jaws, "part-jaws")
        self.lengths: dict[str, NumberBox] = {}
        with ui.element("div").classes("grid"):
            for mark, key, label, hint in LENGTHS:
                kept = chosen.lengths.get(key)
                typed = "" if kept is None else f"{kept:g} mm"
                self.lengths[key] = NumberBox(label, mark, "length", chosen.system, value=typed, hint=hint)
            self.number = TextBox(words.NUMBER, "part-number", value=chosen.number, most=80)
            self.material = TextBox(words.MATERIAL, "part-material", value=chosen.material, most=80,
                                    offered=[one.name for one in WORK_MATERIALS])  # fmt: skip
        lengths = (one.box for one in self.lengths.values())
        for box in (self.chuck, self.jaws, self.number.box, self.material.box, *lengths):
            box.on_value_change(self._keep)

    def _keep(self) -> None:
        """Keep what is typed and taken, also over a reload; a length that cannot be read is not kept."""
        for key, box in self.lengths.items():
            with suppress(InputError):
                self.arrival.chosen = self.chosen.with_length(key, box.value())
        self.arrival.chosen = replace(
            self.chosen, number=self.number.text(), material=self.material.text(), chuck=str(self.chuck.value or ""),
            jaws=str(self.jaws.value or ""),
        )  # fmt: skip

    async def choose_end(self, low_end: bool) -> None:
        """That end is towards the chuck; what was chosen on the other goes."""
        if self.chosen.low_end != low_end:
            self.arrival.chosen = self.chosen.on_end(low_end)
            for key in ("grip_from", "grip_to"):
                self.lengths[key].clear()
        await self.show()

    def choose_state(self, state: words.State) -> None:
        """What the drawing shows."""
        self.arrival.chosen = replace(self.chosen, state=state)
        for one, made in self.state_buttons.items():
            press(made, one == state)

    async def show(self) -> None:
        """Draw the section with what was chosen, and list its surfaces."""
        chosen = self.chosen
        if chosen.low_end is None:
            return
        for end, made in self.end_buttons.items():
            press(made, end == chosen.low_end)
        shown: work.Shown = await self.ask(work.show, self.part, chosen)
        if chosen.drawn != self.chosen.drawn:
            return  # another answer is on its way
        self.rest.visible = True
        self.section.content = picture(shown.picture, words.SECTION.format(name=self.part.source))
        if shown.surfaces != self.surfaces:
            self.surfaces = shown.surfaces
            self._list()
        for number in range(len(shown.surfaces)):
            if number in self.grip_buttons:
                press(self.grip_buttons[number], number == chosen.gripped)
            press(self.turn_buttons[number], number in chosen.turned)
        reach = "" if chosen.gripped is None else words.GRIP_HINT.format(
            where=said.span(*shown.surfaces[chosen.gripped].z, chosen.system))  # fmt: skip
        for key in ("grip_from", "grip_to"):
            self.lengths[key].tell(reach)

    def _list(self) -> None:
        """The surfaces, each with its number and what it can be chosen for."""
        self.grip_buttons: dict[int, ui.button] = {}
        self.turn_buttons: dict[int, ui.button] = {}
        self.rows.clear()
        with self.rows:
            if not self.surfaces:
                html(paragraph(words.NO_SURFACES))
            for number, surface in enumerate(self.surfaces):
                with ui.element("div").classes("row-line"):
                    html(said.row(number + 1, surface, self.chosen.system)).classes("what")
                    if surface.side != "face":
                        made = button(words.GRIP_HERE, in_words(partial(self.grip_on, number))).mark(f"grip-{number}")
                        self.grip_buttons[number] = aloud(made, words.GRIP_ON.format(name=surface.name))
                    made = button(words.TURNED_HERE, in_words(partial(self.turn, number))).mark(f"turn-{number}")
                    self.turn_buttons[number] = aloud(made, words.TURN_ON.format(name=surface.name))

    async def grip_on(self, number: int) -> None:
        """Gripped on that surface."""
        self.arrival.chosen = self.chosen.gripping(number)
        await self.show()

    async def turn(self, number: int) -> None:
        """That surface is turned here, or no longer."""
        self.arrival.chosen = self.chosen.turning(number)
        await self.show()

    async def table(self) -> Table:
        """The setup that comes of it. Raises: ``InputError`` where something typed cannot be read."""
        if self.chosen.low_end is None:
            raise InputError(words.SAY_END)
        for box in self.lengths.values():
            box.value()  # says what is wrong with it
        self._keep()
        chosen, desk = self.chosen, self.desk
        new = sources.blank_setup(chosen.system)
        if chosen.chuck:
            new["chuck"] = await desk.remember(sources.chuck_of, desk.store, desk.examples, chosen.chuck)
        if chosen.jaws:
            new["jaws"] = await desk.remember(sources.jaws_of, desk.examples, chosen.jaws)
        made: Table = await self.ask(work.make, self.part, chosen, self.arrival.choices, self.arrival.stem, new)
        return made


def _taking(label: str, choices: dict[str, str], kept: str, mark: str) -> ui.select:
    made = ui.select(choices, label=label, value=kept if kept in choices else None, clearable=True).mark(mark)
    return made.props('outlined stack-label behavior="menu"').classes("wide")


def aloud(made: ui.button, words_: str) -> ui.button:
    """A button whose words are the same in every row says to a screen reader which row it is."""
    made._props["aria-label"] = words_
    return made

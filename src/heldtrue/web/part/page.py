"""The page ``/part/{id}``: a drawing that was dropped, what it leaves open, and the way on to the plan."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from functools import partial
from html import escape
from typing import ParamSpec, TypeVar

from nicegui import background_tasks, events, ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.part_file.choices import Choices, Question
from heldtrue.part_file.outline import Outline
from heldtrue.part_file.shapes import SHAPES
from heldtrue.web import texts
from heldtrue.web.busy import Busy
from heldtrue.web.desk import Desk, checked
from heldtrue.web.frame import (
    STILL_THERE,
    button,
    file_button,
    frame,
    go,
    html,
    in_words,
    not_here,
    page,
    still_there,
)
from heldtrue.web.part import said, words, work
from heldtrue.web.part.arrivals import LARGEST_DRAWING, SUFFIXES, Arrival
from heldtrue.web.part.choosing import Choosing, aloud
from heldtrue.web.part.draft import Chosen
from heldtrue.web.part.earlier import listed, made_from_another
from heldtrue.web.part.shape_form import ShapeForm, shape_icon
from heldtrue.web.render import bullets, heading, paragraph, picture_source
from heldtrue.web.trouble import Trouble, problems_of

P = ParamSpec("P")
R = TypeVar("R")
READ_WITHIN = 30.0
"""The longest that reading one drawing may take, s: 5 MB take half a second, on a slow and busy machine a few."""


def register(desk: Desk) -> None:
    """Put it into the application."""

    @page("/part/{id}")
    async def part(id: str) -> None:
        try:
            desk.require("set up")
            arrival = desk.arrivals.get(id)
        except InputError as error:
            not_here(error)
            return
        ui.on(STILL_THERE, still_there)
        made = PartPage(desk, arrival)
        with frame(words.PART_OF.format(name=arrival.name), "/"):
            made.build()
        with ui.element("div").classes("bar"):
            button(texts.TO_HOME, lambda: ui.navigate.to("/"))
            button(words.MAKE, made.make, main=True).mark("make-setup")


def shape_buttons(desk: Desk) -> None:
    """A button for each shape, with its picture."""

    @in_words
    async def take(name: str) -> None:
        desk.require("set up")
        ui.navigate.to(f"/part/{desk.arrivals.add_shape(name).id}")

    with ui.element("div").classes("shapes"):
        for name in SHAPES:
            with button("", partial(take, name)).mark(f"shape-{name}") as made:
                html(f'<img alt="" src="{picture_source(shape_icon(name))}"><span>{escape(name)}</span>')
            aloud(made, words.SHAPE_BUTTON.format(name=name))


def drop_button(desk: Desk, place: ui.element) -> None:
    """The button that takes a drawing in; ``place``: what a file can be dropped on."""

    @in_words
    async def come(event: events.UploadEventArguments) -> None:
        desk.require("set up")
        arrival = desk.arrivals.add(event.file.name, await event.file.read())
        ui.navigate.to(f"/part/{arrival.id}")

    file_button(words.DROP_BUTTON, come, accept=",".join(SUFFIXES), most=LARGEST_DRAWING, mark="drop-file",
                refused=words.REFUSED.format(most=LARGEST_DRAWING // 1_000_000), main=True, place=place)  # fmt: skip


class PartPage:
    """One browser at one drawing, or at one shape."""

    def __init__(self, desk: Desk, arrival: Arrival) -> None:
        self.desk, self.arrival = desk, arrival
        self.choosing: Choosing | None = None

    def build(self) -> None:
        """Put it on the page, and read the drawing."""
        form = ShapeForm(self.arrival, self._shaped) if self.arrival.shape else None
        if form is not None:
            form.build()
        self.busy = Busy("part-busy")
        self.place = ui.element("div").classes("block").mark("part")
        background_tasks.create(self.read() if form is None else form.look())

    @in_words
    async def _shaped(self, outline: Outline | None) -> None:
        """Another outline of a shape; what was chosen of its surfaces stays where they are the same kind in a row."""
        if outline is None:
            self.choosing = None
            self.place.clear()
            return
        arrival = self.arrival
        ends = await self.desk.remember(work.shaped, arrival.name, outline, arrival.chosen.system)
        before, arrival.sides = arrival.sides, [one.side for one in ends.part.surfaces]
        if before and before != arrival.sides:
            arrival.chosen = arrival.chosen.on_end(bool(arrival.chosen.low_end))
        await self._take(ends)

    @in_words
    async def read(self) -> None:
        """Read the drawing as far as the answers go."""
        arrival, self.choosing = self.arrival, None
        try:
            reading = self._ask_worker(work.look, arrival.name, arrival.content, arrival.choices)
            looked = await self.busy.over(reading, words.READING.format(name=arrival.name))
        except HeldtrueError as error:
            self._fill(partial(self._broken, problems_of(error)))
            return
        if looked.asked is not None:
            self._fill(partial(self._ask, looked.asked))
        if looked.ends is not None:
            arrival.chosen = arrival.chosen.read_as(work.system_of(arrival.choices), arrival.stem)
            await self._take(looked.ends)
            await self._tell_changed(looked.ends.part.digest)

    async def _tell_changed(self, digest: str) -> None:
        """Say which setups came from a drawing of this name that was another."""
        desk, name = self.desk, self.arrival.name
        others = await desk.remember(made_from_another, desk.store, desk.drafts, name, digest)
        if others:
            with self.place:
                told = html(f'<p role="alert">{escape(words.HAS_CHANGED.format(name=name, setups=listed(others)))}</p>')
                told.mark("part-changed").move(self.place, 0)

    async def _take(self, ends: work.Ends) -> None:
        """Show a part, and what was chosen for it."""
        self.choosing = made = Choosing(self.desk, self.arrival, ends, self._ask_worker)
        self._fill(partial(made.build, self._again))
        await made.show()

    async def _ask_worker(self, work_: Callable[P, R | Trouble], *arguments: P.args, **more: P.kwargs) -> R:
        """The answer of a worker, within its time."""
        try:
            async with asyncio.timeout(READ_WITHIN):
                return checked(await self.desk.pool.run(f"part {self.arrival.id}", work_, *arguments, **more))
        except TimeoutError:
            raise InputError(words.TOO_LONG.format(name=self.arrival.name, seconds=READ_WITHIN)) from None

    def _fill(self, build: Callable[[], None]) -> None:
        self.place.clear()
        with self.place:
            build()

    def _broken(self, problems: tuple[str, ...]) -> None:
        html(f'<div role="alert">{bullets(problems)}</div>').mark("part-problem")
        self._again()

    def _again(self) -> None:
        """The way back to the questions, where some were answered."""
        if self.arrival.choices != Choices():
            button(words.ASK_AGAIN, self._forget).mark("ask-again")

    async def _forget(self) -> None:
        self.arrival.choices, self.arrival.chosen = Choices(), Chosen()
        await self.read()

    def _ask(self, asked: work.Asked) -> None:
        """A question that the file leaves open, with a picture of each answer."""
        html(heading(words.QUESTIONS[asked.question]) + paragraph(asked.message)).mark("part-question")
        with ui.element("div").classes("pictures"):
            for number, one in enumerate(asked.answers):
                with ui.element("div").classes("sheet"):
                    html(said.image(one.picture, one.what) if one.picture else paragraph(words.NO_PICTURE))
                    made = button(one.what, partial(self.answer, asked.question, one.id)).mark(f"answer-{number}")
                    aloud(made, words.CHOOSE.format(what=one.what))
        self._again()

    async def answer(self, question: Question, id: str) -> None:
        """One of the answers."""
        self.arrival.choices = work.answered(self.arrival.choices, question, id)
        await self.read()

    @in_words
    async def make(self) -> None:
        """Make the setup, and go on to its plan."""
        if self.choosing is None:
            raise InputError(words.NO_PART_YET)
        table, arrival = await self.choosing.table(), self.arrival
        self.desk.require("set up")
        kept = bool(arrival.shape) or await self.desk.remember(self.desk.drawings.keep, arrival.name, arrival.content)
        draft = await self.desk.begin(arrival.stem, table)
        if kept:
            ui.navigate.to(f"/plan/{draft.id}")
        else:
            go(f"/plan/{draft.id}", words.NO_ROOM)

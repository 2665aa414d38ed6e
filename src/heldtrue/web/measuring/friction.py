"""Friction of the jaws of a setup on its part, from slips."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from nicegui import ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.inspection.friction_reading import FEWEST, Way, slip_values
from heldtrue.planning.gauge_words import spelled, typed_pressure
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, bare_unit, names_unit, parse_quantity
from heldtrue.shop.gauge_rings import FrictionTrial, enter_once, friction_row
from heldtrue.web import texts
from heldtrue.web.busy import Busy
from heldtrue.web.desk import Desk, Live, checked, now
from heldtrue.web.fields import Field, Table, echo, units_of
from heldtrue.web.frame import button, html, in_words, say
from heldtrue.web.measuring import words, work
from heldtrue.web.measuring.answer import friction_html
from heldtrue.web.measuring.bench_page import BenchBoxes, answers, not_yet
from heldtrue.web.readings.newest import Newest
from heldtrue.web.readings.store import Bench
from heldtrue.web.render import bullets, paragraph
from heldtrue.web.trouble import problems_of
from heldtrue.web.who import NameBox

MOST_SLIPS = 5


def blank() -> Table:
    """Nothing typed yet."""
    return {"pressure": "", "way": "", "wet": "", "error": "", "slips": [""] * MOST_SLIPS}


@dataclass(frozen=True)
class Tried:
    """A trial as typed [MPa; N mm or N]; ``error`` of the device, relative; ``oiled``: as wet as it runs?"""

    pressure: float
    way: Way
    values: tuple[float, ...]
    error: float | None
    oiled: bool


@dataclass(frozen=True)
class Read:
    """``tried``: None until all of it is there; ``wrong`` by path; ``waiting``: what is still to come."""

    tried: Tried | None
    wrong: dict[str, str]
    waiting: tuple[str, ...]


@dataclass(frozen=True)
class Stands:
    """The answer on the page, and what it is the answer to."""

    table: Table
    draft: Table
    setup: Setup
    tried: Tried
    trial: FrictionTrial


def read_slips(table: Table, setup: Setup) -> Read:
    """Understand what was typed.  Everything that is typed counts: what cannot be read holds the answer back."""
    wrong: dict[str, str] = {}
    waiting: list[str] = []
    way: Way | None = {"torque": "torque", "pull": "pull"}.get(str(table["way"]))  # type: ignore[assignment]
    pressure = _pressure(str(table["pressure"]).strip(), setup, wrong, waiting)
    if way is None:
        waiting.append(words.NEED_WAY)
    values = _slips(table, way, setup.units, wrong)
    if len(values) < FEWEST:
        waiting.append(words.NEED_SLIPS.format(left=FEWEST - len(values)))
    if table["wet"] not in words.WETS:
        waiting.append(words.NEED_WET)
    error = _error(str(table["error"]).strip(), wrong)
    if wrong or waiting or pressure is None or way is None:
        return Read(None, wrong, tuple(waiting))
    return Read(Tried(pressure, way, values, error, table["wet"] == "wet"), wrong, ())


def _pressure(text: str, setup: Setup, wrong: dict[str, str], waiting: list[str]) -> float | None:
    if not text:
        waiting.append(words.NEED_TRIED)
        return None
    try:
        return typed_pressure(text, gauge_unit_of(setup), setup.chuck.plate_pressure)
    except InputError as error:
        wrong["pressure"] = "; ".join(error.problems)
        return None


def _slips(table: Table, way: Way | None, system: UnitSystem, wrong: dict[str, str]) -> tuple[float, ...]:
    kind = "torque" if way == "torque" else "force"
    values: list[float] = []
    for at, text in enumerate(table["slips"]):
        if not str(text).strip() or way is None:
            continue
        try:
            values += slip_values([str(text)], lambda one: parse_quantity(_with_unit(one, kind, system), kind, system))
        except InputError as error:
            wrong[f"slips.{at}"] = "; ".join(error.problems)
    return tuple(values)


def slip_unit(kind: str, system: UnitSystem) -> str:
    """Unit of a bare number."""
    return {("torque", "metric"): "N m", ("force", "metric"): "N"}.get((kind, system)) or bare_unit(kind, system)


def _with_unit(text: str, kind: str, system: UnitSystem) -> str:
    return text if names_unit(text) else f"{text} {slip_unit(kind, system)}"


def _error(text: str, wrong: dict[str, str]) -> float | None:
    if not text:
        return None
    try:
        return parse_quantity(text.removesuffix("%").strip(), "ratio") / 100
    except InputError:
        wrong["error"] = words.ERROR_NUMBER.format(found=text)
        return None


class FrictionPage(BenchBoxes):
    """One tab of one browser."""

    def __init__(self, desk: Desk, bench: Bench, live: Live) -> None:
        super().__init__(desk, bench)
        self.live = live
        self.stands: Stands | None = None
        self.system: UnitSystem = live.draft.system
        self._shown_way = ""

    def build(self) -> None:
        """Put it on the page."""
        with ui.element("div").classes("split"):
            with ui.element("section").props(f'aria-label="{words.FRICTION}"'):
                html(paragraph(words.FRICTION_WORDS))
                with ui.element("div").classes("grid"):
                    self.gauge = self.text("pressure", words.TRIED_AT, hint=self._pressure)
                    self.choice("way", words.WAY, words.WAYS)
                    self.choice("wet", words.WET, words.WETS)
                    self.text("error", words.DEVICE_ERROR, hint=words.DEVICE_ERROR_HINT)
                    self.slips = [
                        self.text(f"slips.{at}", words.SLIP.format(n=at + 1), hint=self._slip)
                        for at in range(MOST_SLIPS)
                    ]
                with ui.element("div").classes("row-line"):
                    button(texts.UNDO, self.undo).mark("undo-friction")
            with ui.element("section").props('aria-label="answer"'), answers():
                self.busy = Busy("friction-busy")
                self.answer = html("").mark("friction-answer")
                with ui.element("div").classes("row-line").style("margin-top: 12px"):
                    self.who = NameBox(self.desk)
                    button(words.ENTER_FRICTION, self.enter, main=True).mark("enter-friction")
                self.entered = html("").props('role="status"').mark("friction-entered")
        self.newest = Newest(self._work, self.answer)
        self.watch(self.changed)
        self.live.watchers.add(self._setup_told)
        ui.context.client.on_delete(lambda: self.live.watchers.discard(self._setup_told))
        self.changed()

    def _pressure(self, text: str) -> str:
        return echo(Field("", "", "pressure"), text, units_of(self.live.draft.table))

    def _slip(self, text: str) -> str:
        kind = "force" if self.table["way"] == "pull" else "torque"
        return echo(Field("", "", kind), _with_unit(text, kind, self.system) if text else "", self.system)

    def _setup_told(self, what: str) -> None:
        if what == "fields":
            self.changed()

    def changed(self) -> None:
        """Something was typed, here or in another tab, or the setup is another."""
        self.stands = None
        self.entered.content = ""
        self.answer.classes(add="soon-stale")
        self.show_boxes({})
        self.newest.ask()

    async def _work(self) -> Callable[[], None]:
        table, draft = self.table, self.live.draft.table
        try:
            setup, _ = await self.desk.setup_of(self.live)
        except HeldtrueError as error:
            return partial(self._show, None, words.WHOLE_SETUP.format(why="; ".join(problems_of(error))), None)
        read = read_slips(table, setup)
        tried = read.tried
        if self.live.draft.pending:
            return partial(self._show, read, texts.NOT_WITH_PENDING, None, setup)
        if tried is None:
            return partial(self._show, read, "", None, setup)
        try:
            asked = self.desk.pool.run(self.live.draft.id, work.friction_read, setup, tried.pressure, tried.way,
                                       tried.values, tried.error)  # fmt: skip
            trial = checked(await self.busy.over(asked, words.READING_FRICTION))
        except HeldtrueError as error:
            return partial(self._show, read, "; ".join(problems_of(error)), None, setup)
        return partial(self._show, read, "", Stands(table, draft, setup, tried, trial), setup)

    def _show(self, read: Read | None, why: str, stands: Stands | None, setup: Setup | None = None) -> None:
        """The answer, or why there is none."""
        self.stands = stands
        if setup is not None:
            kind = "force" if self.table["way"] == "pull" else "torque"
            for box, unit in ((self.gauge, spelled(gauge_unit_of(setup))),
                              *((one, slip_unit(kind, setup.units)) for one in self.slips)):  # fmt: skip
                box._props["suffix"] = unit
                box.update()
        self.show_boxes(read.wrong if read else {})
        if stands is not None:
            self.answer.content = friction_html(stands.trial, self.system, oiled=stands.tried.oiled)
        else:
            lines = [*filter(None, [why]), *(read.wrong.values() if read else ())]
            head = words.NOT_READ if lines else words.STILL
            self.answer.content = not_yet(head, dict.fromkeys((*lines, *(read.waiting if read else ()))))
        self.answer.classes(remove="soon-stale")

    @in_words
    async def undo(self) -> None:
        """Take the last entry back."""
        label = await self.desk.undo_reading(self.bench)
        say(texts.UNDONE.format(label=label) if label else texts.NOTHING_TO_UNDO)

    @in_words
    async def enter(self) -> None:
        """What stands there into the records: just that, and once."""
        by, stands = self.who.name(), self.stands
        self.desk.require("set up")
        if stands is None or stands.table is not self.table or stands.draft is not self.live.draft.table:
            raise InputError(words.NO_ANSWER_YET)
        row = friction_row(stands.trial.found, stands.setup, now(), by, oiled=stands.tried.oiled,
                           setup_id=self.live.draft.record)  # fmt: skip
        await self.desk.record(enter_once, [row], by)
        self.entered.content = bullets((words.FRICTION_ENTERED,))
        say(words.FRICTION_ENTERED)

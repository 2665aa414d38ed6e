"""The indicator page: a dial to see, a pad to type, and what the readings say while they are typed."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from functools import partial
from html import escape
from math import pi
from typing import TYPE_CHECKING

from nicegui import background_tasks, events, ui

from heldtrue.drawing.readings import draw_indicator
from heldtrue.drawing.readings_rows import signed_length
from heldtrue.errors import HeldtrueError, InputError
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.shop.accepting import trace_rows
from heldtrue.shop.against_plan import Expected
from heldtrue.shop.taught import Taught, taught_for_causes
from heldtrue.web import texts
from heldtrue.web.busy import waited_for
from heldtrue.web.desk import checked, now
from heldtrue.web.fields import Table
from heldtrue.web.frame import button, confirmed, html, in_words, say
from heldtrue.web.readings import work as readings_work
from heldtrue.web.readings.answer import both, read_html
from heldtrue.web.readings.dial import Dial, draw_dial
from heldtrue.web.readings.keys import KEYS, MOST_DIGITS, PAD, TAPPED, after_key, only_one, place_along
from heldtrue.web.readings.newest import Newest
from heldtrue.web.readings.surroundings import Settings
from heldtrue.web.readings.typed import (
    Read,
    blank,
    blank_trace,
    number,
    place_words,
    read_typed,
    surface_read,
    system_of,
)
from heldtrue.web.render import paragraph
from heldtrue.web.trouble import problems_of
from heldtrue.web.who import NameBox

if TYPE_CHECKING:
    from heldtrue.web.readings.page import Here


class IndicatorPage:
    """One tab of one browser; where it types is its own, what was typed is everybody's."""

    def __init__(self, here: Here, setup: Setup | None) -> None:
        self.here, self.desk, self.bench = here, here.desk, here.bench
        self.trace, self.place, self.fresh = 0, 0, True
        self.read = read_typed(self.table)
        self.setup = setup
        self.plan: Expected | None = None
        self.taught: Taught | None = None
        self.plan_words, self._planned = "", None
        self._planned_for: object = None

    @property
    def table(self) -> Table:
        """What was typed, as it stands."""
        return self.bench.typed.table

    @property
    def gauge(self) -> str:
        """Unit of the pressure gauge."""
        return gauge_unit_of(self.setup) if self.setup is not None else "bar"

    @property
    def jaws(self) -> int:
        """How many."""
        if self.setup is not None:
            return self.setup.jaws.count or self.setup.chuck.jaws or 3
        text = str(self.table["jaws"])
        return int(text) if text.isdecimal() and 2 <= int(text) <= 12 else 3

    # --- building -------------------------------------------------------------------------------------------------

    def build(self) -> None:
        """Put it on the page."""
        with ui.element("div").classes("reading"):
            with ui.element("section").props(f'aria-label="{texts.TAB_INDICATOR}"'):
                self.tabs = ui.element("div").classes("traces")
                self._zone()
            with ui.element("section").classes("says").props('aria-label="answer"'):
                self.asked = ui.element("div").classes("block").mark("asked")
                self.answer = html("").mark("reading-answer")
                self._keep()
            self.newest = Newest(self._work, self.answer)
            with ui.element("section").props(f'aria-label="{texts.SETTINGS_OF_DIAL}"'):
                self.settings = Settings(self)
                self.settings.build()
        self.bench.watchers.add(self.changed)
        ui.context.client.on_delete(lambda: self.bench.watchers.discard(self.changed))
        if self.here.live is not None:
            live, told = self.here.live, self._setup_told
            live.watchers.add(told)
            ui.context.client.on_delete(lambda: live.watchers.discard(told))
        self.show()

    def begin(self) -> None:
        """The page stands: put the keyboard on the pad, and work the answer out."""
        ui.run_javascript(f"document.getElementById('{self.zone.html_id}')?.focus({{preventScroll: true}})")
        self.changed()

    def _zone(self) -> None:
        self.zone = ui.element("div").classes("zone").props(f'tabindex="0" role="group" aria-label="{texts.PAD_LABEL}"')
        self.zone.on("keydown", self._key, js_handler=KEYS).mark("zone")
        with self.zone:
            with ui.element("div").classes("dial").on("click", self._tapped, js_handler=TAPPED).mark("dial"):
                self.dial = html("").mark("dial-picture")
            with ui.element("div").classes("pad"):
                self.now = html("").classes("now").props('aria-live="polite"').mark("now")
                for key, words in PAD:
                    made = button(words, partial(self.press, key), main=key == "Enter").mark(f"key-{key}")
                    made.on("mousedown", js_handler="(e) => e.preventDefault()")
                    made.classes("two" if key == "Enter" else "").classes("word" if len(words) > 1 else "")

    def _keep(self) -> None:
        with ui.element("div").classes("row-line").style("margin-top: 12px"):
            self.who = NameBox(self.desk)
            button(texts.KEEP_READINGS, self.keep, main=True).mark("keep-readings")
        with ui.element("div").classes("row-line"):
            button(texts.UNDO, self.undo).mark("undo-reading")
            button(texts.SAVE_PAGE, self.page).mark("save-page")
            button(texts.SAVE_PICTURE, self.picture).mark("save-picture")
            button(texts.BEGIN_ANEW, self.anew).mark("begin-anew")

    # --- showing --------------------------------------------------------------------------------------------------

    def show(self) -> None:
        """Everything this tab shows, as the table stands."""
        self.trace = min(self.trace, len(self.table["traces"]) - 1)
        self.place = min(self.place, self.table["places"] - 1)
        self._show_dial()
        self._show_now()
        self._show_tabs()
        self.settings.show()

    def _show_dial(self) -> None:
        one, read, at = self.table["traces"][self.trace], self.read, self.trace
        values = read.values[at] if at < len(read.values) else ()
        count = len(one["values"])
        inside = (surface.side if (surface := surface_read(self.setup, self.table)) else self.table["side"]) == "inside"
        deviations = [None if v is None else -v if inside else v for v in values]
        result = None
        if read.out is not None and at in (read.of_typed or {}) and len(values) == count:
            result = read.out.results[(read.of_typed or {})[at]]
        grip = self.setup.grip.side if self.setup is not None else self.table["grip"]
        wrong = frozenset(p for p in range(count) if f"traces.{at}.values.{p}" in read.wrong)
        jaw = read.out.found.jaw if read.out is not None else None
        z = 0.0
        if result is not None:
            places = result.trace.planes
            z = min(places, key=lambda p: abs(p - place_along(one, self.table)))
        self.dial.content = draw_dial(Dial(
            one["values"], self.place, wrong, self.jaws, grip == "inside",
            deviations if len(deviations) == count else [None] * count, result, z, jaw.jaw if jaw else None,
            system_of(self.table),
        ))  # fmt: skip

    def _show_now(self) -> None:
        unit, count = self.table["unit"], self.table["places"]
        text = self.table["traces"][self.trace]["values"][self.place]
        lines = [f"<p><strong>{escape(texts.PLACE_N.format(n=self.place + 1, count=count))}</strong>: "
                 f"{escape(place_words(self.place, count, self.jaws))}</p>"]  # fmt: skip
        shown = f"{text.replace('-', '−')} {texts.DIAL_UNITS[unit].split(' (')[0]}" if text else texts.NO_READING
        lines.append(f'<div class="big">{escape(shown)}</div>')
        if text:
            try:
                value = number(text, unit)
                first, second = (signed_length(value, one) for one in ("metric", "inch"))
                lines.append(f"<p>{escape(f'{first} = {second}')}</p>")
            except InputError as error:
                lines.append(f'<p class="wrong" role="alert">! {escape(str(error))}</p>')
        else:
            lines.append(f"<p>{escape(texts.DIAL_HINT)}</p>")
        self.now.content = "".join(lines)

    def _show_tabs(self) -> None:
        self.tabs.clear()
        with self.tabs:
            self.settings.units()
            for at, one in enumerate(self.table["traces"]):
                words = ", ".join(filter(None, [
                    texts.TRACE_N.format(n=at + 1), f"z {one['z']}" if one["z"] else "",
                    one["state"] if one["state"] != "not said" else "", f"{one['turned']}°" if one["turned"] else "",
                    str(one.get("clamped_at", "")),
                ]))  # fmt: skip
                made = button(words, partial(self.take_trace, at)).mark(f"trace-{at}")
                made.props(f'aria-pressed="{str(at == self.trace).lower()}"')
            button(texts.TRACE_ADD, self.add_trace).mark("add-trace")

    # --- typing ---------------------------------------------------------------------------------------------------

    async def _key(self, event: events.GenericEventArguments) -> None:
        await self.press(str(only_one(event.args)))

    @in_words
    async def _tapped(self, event: events.GenericEventArguments) -> None:
        count = self.table["places"]
        self.go(round(float(only_one(event.args)) % (2 * pi) / (2 * pi) * count) % count)

    async def press(self, key: str) -> None:
        """One key of the pad or the keyboard."""
        count = self.table["places"]
        moves = {"Enter": self.place + 1, "ArrowRight": self.place + 1, "ArrowDown": self.place + 1,
                 "ArrowLeft": self.place - 1, "ArrowUp": self.place - 1, "Home": 0, "End": count - 1}  # fmt: skip
        if key in moves:
            self.go(moves[key] % count)
            return
        before = str(self.table["traces"][self.trace]["values"][self.place])
        text = after_key(before, key, self.fresh)
        self.fresh = False
        if len(text) > MOST_DIGITS:
            say(texts.TOO_MANY_DIGITS.format(most=MOST_DIGITS))
            return
        path = f"traces.{self.trace}.values.{self.place}"
        label = texts.READING_OF.format(degrees=f"{360 * self.place / count:g}")
        await self.put({path: text}, label)

    def go(self, place: int) -> None:
        """Type at another place."""
        self.place, self.fresh = place, True
        self.bench.typed.settle()
        self._show_dial()
        self._show_now()

    def take_trace(self, at: int) -> None:
        """Type into another trace."""
        self.trace, self.place, self.fresh = at, 0, True
        self.show()
        self.changed()

    def put(self, values: Table, label: str) -> Awaitable[None]:
        """Keep what was typed; what goes wrong is said."""
        return in_words(self.desk.type_reading)(self.bench, values, label)

    async def add_trace(self) -> None:
        """One more trace, and type into it."""
        traces = self.table["traces"]
        new = {**blank_trace(self.table["places"]), "state": traces[-1]["state"]}
        await self.put({"traces": [*traces, new]}, texts.TRACE_ADD)
        self.take_trace(len(self.table["traces"]) - 1)

    async def remove_trace(self) -> None:
        """Take the trace away that is typed into."""
        traces = list(self.table["traces"])
        if any(traces[self.trace]["values"]) and not await confirmed(texts.TRACE_ASK):
            return
        del traces[self.trace]
        await self.put({"traces": traces or [blank_trace(self.table["places"])]}, texts.TRACE_REMOVE)

    async def anew(self) -> None:
        """Everything empty, the way it is read kept; undo brings it back."""
        if any(any(one["values"]) for one in self.table["traces"]) and not await confirmed(texts.ANEW_ASK):
            return
        kept = blank_trace(self.table["places"])
        await self.put({"traces": [kept], "sure": "", "seen": blank("metric")["seen"]}, texts.BEGIN_ANEW)
        self.take_trace(0)

    @in_words
    async def undo(self) -> None:
        """Take the last entry back."""
        label = await self.desk.undo_reading(self.bench)
        self.fresh = True
        say(texts.UNDONE.format(label=label) if label else texts.NOTHING_TO_UNDO)

    # --- the answer -----------------------------------------------------------------------------------------------

    def _setup_told(self, what: str) -> None:
        if what == "fields":
            self.changed()

    def changed(self) -> None:
        """Something was typed, here or in another tab: show it, and work out what it says."""
        self.answer.classes(add="soon-stale")
        self.newest.ask()

    async def _work(self) -> Callable[[], None]:
        self.setup, why = await self.here.setup()
        self.taught = None if self.setup is None else (
            await self.desk.remember(taught_for_causes, self.desk.store, self.setup))  # fmt: skip
        self._plan(why)
        return partial(
            self._show_answer, await asyncio.to_thread(read_typed, self.table, self.setup, self.plan, self.taught)
        )

    def _show_answer(self, read: Read) -> None:
        self.read = read
        self.show()
        self.asked.clear()
        if read.question is not None:
            self.answer.content = ""
            with self.asked:
                self._ask(read)
        else:
            self.answer.content = read_html(read, system_of(self.table), gauge=self.gauge, shown=self.trace,
                                            plan_words=self.plan_words)  # fmt: skip
        self.answer.classes(remove="soon-stale")

    def _ask(self, read: Read) -> None:
        """The slip asked back, with the answers to choose from."""
        question, unit = read.question, self.table["unit"]
        assert question is not None
        size, other = both(question.size, system_of(self.table))
        at = f"{360 * question.row / self.table['places']:g}"
        reading = self.table["traces"][read.question_at]["values"][question.row]
        words = texts.ASKED_MORE.format(unit=_unit(unit), size=size, other=other, reading=reading, degrees=at)
        html(f'<div class="verdict not-proven" role="alert"><div class="word">? {escape(texts.ASKED_BACK)}</div>'
             f"{paragraph(words)}</div>")  # fmt: skip
        with ui.element("div").classes("row-line"):
            for name in question.instead[:2]:
                words = texts.ASKED_INSTEAD.format(unit=_unit(name))
                button(words, partial(self.put, {"unit": name, "sure": ""}, texts.DIAL_UNIT)).mark(f"asked-{name}")
            sure = texts.ASKED_SURE.format(unit=_unit(unit))
            button(sure, partial(self.put, {"sure": unit}, sure)).mark("asked-sure")
            button(texts.ASKED_FIX.format(degrees=at), partial(self._look, read.question_at, question.row))

    def _look(self, trace: int, place: int) -> None:
        self.take_trace(trace)
        self.go(place)

    def _plan(self, why: str) -> None:
        """What the plan expects, solved once for each state of the setup; an old one never stands beside new inputs."""
        if self.here.live is None:
            return
        surface = surface_read(self.setup, self.table)
        if self.setup is None or surface is None:
            self.plan, self._planned_for, self.plan_words = None, None, why or texts.SURFACE_NOT_SAID
            return
        key = (self.setup.model_dump_json(), surface.name)
        if key != self._planned_for:
            self.plan, self._planned_for, self.plan_words = None, key, texts.PLANNING_SURFACE
            background_tasks.create(self._solve(key, self.setup, surface.name))

    async def _solve(self, key: object, setup: Setup, surface: str) -> None:
        try:
            found = await self.desk.pool.run("", readings_work.expected_of, setup, surface)
            plan, words = checked(found), ""
        except HeldtrueError as error:
            plan, words = None, texts.SETUP_NOT_WHOLE.format(why="; ".join(problems_of(error)))
        if key == self._planned_for:
            self.plan, self.plan_words = plan, words
            self.changed()

    # --- keeping --------------------------------------------------------------------------------------------------

    @in_words
    async def keep(self) -> None:
        """The readings into the records, with a name."""
        by = self.who.name()
        read = read_typed(self.table, self.setup)
        if read.out is None:
            raise InputError(texts.NOTHING_TO_KEEP)
        surface = surface_read(self.setup, self.table)
        record = self.here.live.draft.record if self.here.live is not None else ""
        rows, words = await self.desk.remember(
            trace_rows, self.desk.store, self.setup, record, surface.name if surface else self.table["surface"],
            read.traces, by, now(),
        )  # fmt: skip
        await self.desk.write(*rows, by=by)
        say(f"{texts.KEPT} {words}")

    @in_words
    async def page(self) -> None:
        """One page as a PDF."""
        work = readings_work.indicator_pdf
        asked = self.desk.pool.run("", work, self.table, self.setup, self.plan, self.gauge, self.here.title,
                                   self.taught)  # fmt: skip
        made = await waited_for(asked)
        ui.download(checked(made), "readings.pdf")

    @in_words
    async def picture(self) -> None:
        """The polar plot of the trace on the dial."""
        out = self.read.out
        if out is None:
            raise InputError(texts.NOTHING_TO_PRINT)
        one = out.results[(self.read.of_typed or {}).get(self.trace, 0)]
        svg = await asyncio.to_thread(draw_indicator, one, system_of(self.table), jaw=out.found.jaw)
        ui.download(svg.encode(), f"readings-{self.trace + 1}.svg")


def _unit(name: str) -> str:
    return texts.DIAL_UNITS[name]

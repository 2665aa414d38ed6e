"""Read a gauge ring: the ring, a picture of the place to be read now, a pad, and the force of every jaw."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from html import escape
from math import pi

from nicegui import events, ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.inspection.ring_reading import RingAnswer
from heldtrue.planning.gauge_words import spelled
from heldtrue.planning.toml_file import LARGEST_FILE
from heldtrue.quantities import format_both, names_unit
from heldtrue.records import ChuckRecord
from heldtrue.shop.enter import card_of
from heldtrue.shop.gauge_rings import chuck_of, enter_once, rows_of
from heldtrue.web import texts
from heldtrue.web.busy import Busy, StoppedError
from heldtrue.web.desk import checked, now
from heldtrue.web.fields import Field, Table, Units, echo
from heldtrue.web.frame import button, confirmed, file_button, html, in_words, say
from heldtrue.web.measuring import words, work
from heldtrue.web.measuring.answer import read_html
from heldtrue.web.measuring.bench_page import BenchBoxes, answers, not_yet
from heldtrue.web.measuring.face import Face, draw_face
from heldtrue.web.measuring.here import Here
from heldtrue.web.measuring.typed import KINDS, PLACES, Question, blank_round, division_of, round_name, understood
from heldtrue.web.readings.keys import KEYS, MOST_DIGITS, PAD, TAPPED, after_key, moved, only_one
from heldtrue.web.readings.newest import Newest
from heldtrue.web.render import bullets, heading, paragraph
from heldtrue.web.trouble import problems_of
from heldtrue.web.who import NameBox


@dataclass(frozen=True)
class Stands:
    """The answer on the page, and what it is the answer to."""

    table: Table
    question: Question
    answer: RingAnswer


class ReadTab(BenchBoxes):
    """One tab of one browser; where it types is its own, what was typed is everybody's."""

    def __init__(self, here: Here) -> None:
        super().__init__(here.desk, here.bench)
        self.here = here
        self.round, self.place, self.fresh = 0, 0, True
        self.stands: Stands | None = None
        self.found = understood(self.table, here.chuck, here.unit)

    # --- building -------------------------------------------------------------------------------------------------

    def build(self) -> None:
        """Put it on the page."""
        html(paragraph(words.READ_WORDS))
        with ui.element("div").classes("reading"):
            with ui.element("section").props(f'aria-label="{words.PAD_TITLE}"'):
                with ui.element("div").classes("grid"):
                    self.choice("kind", words.GAUGE_KIND, {one: words.GAUGE_KINDS[one] for one in KINDS})
                    self.choice("unit", texts.DIAL_UNIT, texts.DIAL_UNITS)
                    self.text("division", texts.DIVISION, hint=self._division)
                    # Not a box of the bench: the readings move with it.
                    self.places = ui.select(sorted({*PLACES, self.table["places"]}), label=texts.DIAL_PLACES,
                                            value=self.table["places"]).mark("places")  # fmt: skip
                    self.places.props('outlined stack-label behavior="menu"').on_value_change(self._places)
                self.tabs = ui.element("div").classes("traces").style("margin-top: 12px")
                self.pressure = ui.element("div").classes("block")
                self._zone()
            with ui.element("section").classes("says").props('aria-label="answer"'), answers():
                self.busy = Busy("reading-busy")
                self.answer = html("").mark("ring-answer")
                with ui.element("div").classes("row-line").style("margin-top: 12px"):
                    self.who = NameBox(self.desk)
                    button(words.ENTER_LOG, self.enter, main=True).mark("enter-ring")
                self.entered = html("").props('role="status"').mark("ring-entered")
            with ui.element("section").props(f'aria-label="{words.RING}"'):
                html(heading(words.RING))
                self.text("ring", words.RING_TEXT, hint=words.RING_HINT, many=True).classes("w-full")
                file_button(texts.FROM_FILE, self._file, accept=".toml", most=LARGEST_FILE, mark="ring-file",
                            refused=texts.FILE_TOO_LARGE)  # fmt: skip
        self.newest = Newest(self._work, self.answer)
        self.watch(self.changed)
        self.changed()

    def _zone(self) -> None:
        self.zone = ui.element("div").classes("zone").props(f'tabindex="0" role="group" aria-label="{texts.PAD_LABEL}"')
        self.zone.on("keydown", self._key, js_handler=KEYS).mark("ring-zone")
        with self.zone:
            with ui.element("div").classes("dial").on("click", self._tapped, js_handler=TAPPED).mark("face"):
                self.face = html("").mark("ring-face")
            with ui.element("div").classes("pad"):
                self.now = html("").classes("now").props('aria-live="polite"').mark("ring-now")
                for key, said in PAD:
                    made = button(said, partial(self.press, key), main=key == "Enter").mark(f"key-{key}")
                    made.on("mousedown", js_handler="(e) => e.preventDefault()")
                    made.classes("two" if key == "Enter" else "").classes("word" if len(said) > 1 else "")
        with ui.element("div").classes("row-line"):
            button(texts.UNDO, self.undo).mark("undo-ring")
            button(words.EMPTY_ALL, self.anew).mark("ring-anew")

    # --- showing --------------------------------------------------------------------------------------------------

    def show(self) -> None:
        """Everything this tab shows but the answer, as the table stands."""
        self.found = understood(self.table, self.here.chuck, self.here.unit)
        self.place = min(self.place, self.table["places"] - 1)
        if self.places.value != self.table["places"]:
            self.places.value = self.table["places"]
        self._show_tabs()
        self._show_place()
        self.show_boxes(self.found.wrong)

    def _show_place(self) -> None:
        values, gauge = self.table["traces"][self.round]["values"], self.found.ring
        wrong = frozenset(p for p in range(len(values)) if f"traces.{self.round}.values.{p}" in self.found.wrong)
        self.face.content = draw_face(Face(
            gauge.ring.side if gauge else "outside", gauge.jaws if gauge else self.here.chuck.jaws,
            gauge.contact if gauge else "rollers", values, self.place, round_name(self.round), self.round > 0, wrong,
        ))  # fmt: skip
        jaws, count, text = gauge.jaws if gauge else self.here.chuck.jaws, len(values), values[self.place]
        said = words.PLACE_NOW.format(round=round_name(self.round), place=self.place + 1, count=count)
        if self.place * jaws % count == 0:
            said += words.JAW_AT.format(jaw=self.place * jaws // count + 1)
        unit = texts.DIAL_UNITS[self.table["unit"]].split(" (")[0]
        shown = f"{text.replace('-', '−')} {unit}" if text else texts.NO_READING
        why = self.found.wrong.get(f"traces.{self.round}.values.{self.place}")
        more = f'<p class="wrong" role="alert">! {escape(why)}</p>' if why else paragraph(texts.DIAL_HINT)
        self.now.content = f'<p><strong>{escape(said)}</strong></p><div class="big">{escape(shown)}</div>{more}'

    def _show_tabs(self) -> None:
        self.tabs.clear()
        with self.tabs:
            for at, one in enumerate(self.table["traces"]):
                count = f"{len([text for text in one['values'] if text])}/{len(one['values'])}"
                said = ", ".join(filter(None, [round_name(at), self._pressure_of(one), count]))
                made = button(said, partial(self.take_round, at)).mark(f"round-{at}")
                made.props(f'aria-pressed="{str(at == self.round).lower()}"')
        path = f"traces.{self.round}.pressure"
        if self.pressure.default_slot.children and path in self._boxes:
            return
        self.forget(*(one for one in self._boxes if one.startswith("traces.")))
        self.pressure.clear()
        with self.pressure:
            if self.round == 0:
                html(paragraph(words.FREE_NO_PRESSURE))
                return
            label = f"{words.ROUND_PRESSURE} ({round_name(self.round)})"
            self.text(path, label, hint=self._pressure, suffix=spelled(self.here.unit)).style("max-width: 340px")

    def _pressure(self, text: str) -> str:
        return echo(Field("", "", "pressure"), text, Units(self.here.system, self.here.unit))

    def _division(self, text: str) -> str:
        try:
            value = division_of(text, self.table["unit"]) if text else None
        except InputError:
            value = None
        return words.DIVISION_HINT if value is None else format_both(value, "length", self.here.system)

    def _pressure_of(self, one: Table) -> str:
        text = str(one["pressure"])
        return text if not text or names_unit(text) else f"{text} {spelled(self.here.unit)}"

    # --- typing ---------------------------------------------------------------------------------------------------

    async def _key(self, event: events.GenericEventArguments) -> None:
        await self.press(str(only_one(event.args)))

    @in_words
    async def _tapped(self, event: events.GenericEventArguments) -> None:
        count = self.table["places"]
        # The browser counts angles the other way round than this picture.
        self.go(round(-float(only_one(event.args)) % (2 * pi) / (2 * pi) * count) % count)

    async def press(self, key: str) -> None:
        """One key of the pad or the keyboard; past the last place the next round begins."""
        count = self.table["places"]
        if key == "Enter" and self.place == count - 1 and self.round + 1 < len(self.table["traces"]):
            self.take_round(self.round + 1)
            return
        moves = {"Enter": self.place + 1, "ArrowRight": self.place + 1, "ArrowDown": self.place + 1,
                 "ArrowLeft": self.place - 1, "ArrowUp": self.place - 1, "Home": 0, "End": count - 1}  # fmt: skip
        if key in moves:
            self.go(moves[key] % count)
            return
        text = after_key(str(self.table["traces"][self.round]["values"][self.place]), key, self.fresh)
        self.fresh = False
        if len(text) > MOST_DIGITS:
            say(texts.TOO_MANY_DIGITS.format(most=MOST_DIGITS))
            return
        label = words.READING_AT.format(round=round_name(self.round), place=self.place + 1)
        await self.put({f"traces.{self.round}.values.{self.place}": text}, label)

    def go(self, place: int) -> None:
        """Type at another place."""
        self.place, self.fresh = place, True
        self.bench.typed.settle()
        self._show_place()

    def take_round(self, at: int) -> None:
        """Type into another round."""
        self.round, self.place, self.fresh = at, 0, True
        self.show()

    async def _places(self, event: events.ValueChangeEventArguments[int]) -> None:
        places = int(event.value or 0)
        if places in (0, self.table["places"]):
            return
        traces, lost = moved(self.table, places)
        if lost and not await confirmed(texts.PLACES_ASK.format(count=lost)):
            self.places.value = self.table["places"]
            return
        await self.put({"places": places, "traces": traces}, texts.DIAL_PLACES)

    @in_words
    async def _file(self, event: events.UploadEventArguments) -> None:
        if event.file.size() > LARGEST_FILE:
            raise InputError(texts.FILE_TOO_LARGE)
        text = (await event.file.read()).decode("utf-8-sig", errors="replace")
        await self.desk.type_reading(self.bench, {"ring": text}, words.RING)

    @in_words
    async def undo(self) -> None:
        """Take the last entry back."""
        label = await self.desk.undo_reading(self.bench)
        self.fresh = True
        say(texts.UNDONE.format(label=label) if label else texts.NOTHING_TO_UNDO)

    async def anew(self) -> None:
        """Every round empty, the ring and how it is read kept."""
        if not await confirmed(words.EMPTY_ASK):
            return
        rounds = [blank_round(self.table["places"]) for _ in self.table["traces"]]
        await self.put({"traces": rounds}, words.EMPTY_ALL)
        self.take_round(0)

    # --- the answer -----------------------------------------------------------------------------------------------

    def changed(self) -> None:
        """Something was typed, here or in another tab: show it, and work out what it says."""
        self.show()
        self.stands = None
        self.entered.content = ""
        self.answer.classes(add="soon-stale")
        self.newest.ask()

    async def _work(self) -> Callable[[], None]:
        table, here = self.table, self.here
        found = understood(table, here.chuck, here.unit)
        if found.question is None:
            lines = (*found.wrong.values(), *found.problems)
            head = words.NOT_READ if lines else words.STILL
            return partial(self._show_answer, not_yet(head, dict.fromkeys((*lines, *found.waiting))), None)
        try:
            asked = here.desk.pool.run(f"ring {here.card.id}", work.ring_read, found.question.gauge,
                                       found.question.readings, here.chuck)  # fmt: skip
            answer = checked(await self.busy.over(asked, words.READING_RING))
        except StoppedError as error:
            return partial(self._show_answer, not_yet(str(error), ()), None)
        except HeldtrueError as error:
            return partial(self._show_answer, not_yet(words.NOT_READ, problems_of(error)), None)
        stands = Stands(table, found.question, answer)
        return partial(self._show_answer, read_html(answer, here.system, here.unit), stands)

    def _show_answer(self, content: str, stands: Stands | None) -> None:
        self.answer.content, self.stands = content, stands
        self.answer.classes(remove="soon-stale")

    @in_words
    async def enter(self) -> None:
        """What stands there into the chuck's log: just that, and once."""
        by, stands, desk = self.who.name(), self.stands, self.desk
        desk.require("set up")
        if stands is None or stands.table is not self.table:
            raise InputError(words.NO_ANSWER_YET)
        card = await desk.remember(card_of, desk.store, ChuckRecord, self.here.card.id, "chuck")
        if chuck_of(card) != self.here.chuck or card.gauge != self.here.card.gauge:
            raise InputError(words.CARD_CHANGED)
        rows = rows_of(stands.answer, stands.question.ring, card, now(), by)
        await desk.record(enter_once, rows, by)
        said = words.ENTERED.format(count=f"{len(rows)} reading{'s are' if len(rows) > 1 else ' is'}", chuck=card.id)
        self.entered.content = bullets((said,))
        say(said)

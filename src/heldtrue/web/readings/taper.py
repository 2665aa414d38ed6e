"""Feeler and bluing: what was seen, and the taper to cut next."""

from __future__ import annotations

from functools import partial
from html import escape
from typing import TYPE_CHECKING, Any

from nicegui import events, ui

from heldtrue.errors import InputError
from heldtrue.inspection.part_sizes import typed_parts
from heldtrue.inspection.taper import Bearing
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, parse_quantity
from heldtrue.shop.accepting import known_base
from heldtrue.shop.part_cause import Parts
from heldtrue.web import texts
from heldtrue.web.busy import Busy
from heldtrue.web.desk import checked
from heldtrue.web.fields import Field, Table, echo, unit_of
from heldtrue.web.frame import button, html, in_words, say
from heldtrue.web.readings import work as readings_work
from heldtrue.web.readings.typed import blank_seen
from heldtrue.web.readings.work import TaperAnswer
from heldtrue.web.render import bullets, heading, paragraph, table
from heldtrue.web.who import NameBox

if TYPE_CHECKING:
    from heldtrue.web.readings.page import Here

FIELDS = (
    Field("seen.gap", texts.GAP, "length", hint=texts.GAP_HINT),
    Field("seen.length", texts.PRINT_LENGTH, "length", hint=texts.PRINT_HINT),
    Field("seen.taper", texts.TAPER_NOW, "length", hint=texts.TAPER_HINT),
)
OVER = Field("seen.over", texts.PART_OVER, "length", hint=texts.PART_OVER_HINT)


class TaperPage:
    """One tab of one browser."""

    def __init__(self, here: Here) -> None:
        self.here, self.desk, self.bench = here, here.desk, here.bench
        self.boxes: dict[str, tuple[Field, ui.input]] = {}
        assert here.live is not None
        self.system: UnitSystem = here.live.draft.system

    @property
    def seen(self) -> Table:
        """What was typed."""
        return {**blank_seen(), **self.bench.typed.table["seen"]}

    def build(self) -> None:
        """Put it on the page."""
        with ui.element("div").classes("split"):
            with ui.element("section"):
                html(paragraph(texts.FEELER_WORDS))
                self.what = ui.select(dict(texts.SEEN_WORDS), label=texts.SEEN, value=self.seen["what"])
                self.what.on_value_change(partial(self._typed, "seen.what", texts.SEEN))
                self.what.props('outlined stack-label behavior="menu"').classes("w-full").mark("seen")
                with ui.element("div").classes("grid"):
                    for field in FIELDS:
                        self._box(field)
                self._part_boxes()
                with ui.element("div").classes("row-line"):
                    button(texts.ASK_TAPER, self.ask, main=True).mark("ask-taper")
                with ui.element("div").classes("row-line"):
                    self.who = NameBox(self.desk)
                    self.who.box.mark("seen-name")
                    button(texts.ACCEPT_SEEN, self.accept).mark("accept-seen")
            with ui.element("section").props('aria-label="answer"'):
                self.busy = Busy()
                self.answer = html("").mark("taper-answer")
        self.bench.watchers.add(self.show)
        ui.context.client.on_delete(lambda: self.bench.watchers.discard(self.show))
        live = self.here.live
        assert live is not None
        live.watchers.add(self._setup_told)
        ui.context.client.on_delete(lambda: live.watchers.discard(self._setup_told))
        self.show()

    def _part_boxes(self) -> None:
        """Sizes of finished parts: on which surface, over what length, one part a line."""
        self.parts = ui.textarea(texts.PART_SIZES, value=self.seen["parts"])
        self.parts.on_value_change(partial(self._typed, "seen.parts", texts.PART_SIZES))
        self.parts.props(f'outlined stack-label debounce=120 rows=3 maxlength=4000 hint="{texts.PART_SIZES_HINT}"')
        self.parts.classes("w-full").mark("seen-parts")
        with ui.element("div").classes("grid"):
            assert self.here.live is not None
            names = [one["name"] for one in self.here.live.draft.table.get("surface", []) if one.get("name")]
            self.surface = ui.select(
                {"": "", **{name: name for name in names}}, label=texts.PART_SURFACE,
                value=self.seen["surface"] if self.seen["surface"] in names else "",
            )  # fmt: skip
            self.surface.on_value_change(partial(self._typed, "seen.surface", texts.PART_SURFACE))
            self.surface.props('outlined stack-label behavior="menu"').mark("seen-surface")
            self._box(OVER)

    def _box(self, field: Field) -> None:
        name = field.path.rpartition(".")[2]
        entry = ui.input(field.label, value=self.seen[name])
        entry.on_value_change(partial(self._typed, field.path, field.label))
        entry.props('outlined stack-label debounce=120 autocomplete="off" inputmode="decimal" maxlength=400')
        entry.mark(f"seen-{name}")
        self.boxes[name] = (field, entry)

    async def _typed(self, path: str, label: str, event: events.ValueChangeEventArguments[Any]) -> None:
        text = "" if event.value is None else str(event.value)
        if text != self.seen[path.rpartition(".")[2]]:
            self.answer.content = ""  # an answer to another reading
            await in_words(self.desk.type_reading)(self.bench, {path: text}, label)

    def show(self) -> None:
        """What was typed, here or in another tab."""
        seen = self.seen
        if self.what.value != seen["what"]:
            self.what.value = seen["what"]
            self.answer.content = ""
        if (self.parts.value or "") != seen["parts"]:
            self.parts.value = seen["parts"]
            self.answer.content = ""
        if (self.surface.value or "") != seen["surface"]:
            self.surface.value = seen["surface"]
            self.answer.content = ""
        for name, (field, entry) in self.boxes.items():
            if str(entry.value or "") != seen[name]:
                entry.value = seen[name]
                self.answer.content = ""
            entry.error = self._wrong(seen[name])
            if entry.error is None:
                entry._props["hint"] = echo(field, seen[name], self.system) or field.hint
                entry._props["suffix"] = unit_of(field, seen[name], self.system)
                entry.update()

    def _setup_told(self, what: str) -> None:
        if what == "fields":
            self.answer.content = ""

    def _wrong(self, text: str) -> str | None:
        try:
            self._length(text)
        except InputError as error:
            return str(error)
        return None

    def _length(self, text: str) -> float | None:
        return parse_quantity(text, "length", self.system) if text.strip() else None

    def _bearing(self) -> tuple[Bearing, float | None]:
        """What was seen, and the taper the jaws have. Raises: ``InputError``."""
        seen = self.seen
        gap, length, taper = (self._length(seen[name]) for name in ("gap", "length", "taper"))
        what = seen["what"]
        if not what:
            raise InputError(texts.SAY_SEEN)
        if what == "all":
            return Bearing("all along", gap, length), taper
        if what.startswith("gap") and gap is None:
            raise InputError(texts.NEEDED.format(what=texts.GAP))
        if what.startswith("print") and length is None:
            raise InputError(texts.NEEDED.format(what=texts.PRINT_LENGTH))
        touches = {"gap tip": "base", "gap base": "tip", "print base": "base", "print tip": "tip"}[what]
        return Bearing("base" if touches == "base" else "tip", gap, length), taper

    def _parts(self, setup: Setup) -> Parts | None:
        """Finished parts as typed; None where there are none. Raises: ``InputError``."""
        seen = self.seen
        rows = typed_parts(str(seen["parts"]), self.system, gauge_unit_of(setup))
        return Parts(rows, str(seen["surface"]), self._length(seen["over"])) if rows else None

    @in_words
    async def ask(self) -> None:
        """The next cut, and why finished parts are tapered."""
        setup, why = await self.here.setup()
        if setup is None:
            raise InputError(why)
        parts = self._parts(setup)
        if self.seen["what"] or parts is None:
            seen, taper = self._bearing()
        else:
            seen, taper = None, self._length(self.seen["taper"])
        before = self.bench.typed.table
        self.answer.content = ""
        known = await self.desk.remember(known_base, self.desk.store, setup)
        work = readings_work.next_taper_of
        made = checked(await self.busy.over(
            self.desk.pool.run("", work, setup, seen, taper, known, parts), texts.WORKING_TAPER
        ))  # fmt: skip
        if self.bench.typed.table["seen"] == before["seen"]:
            self.answer.content = taper_html(made, self.system)

    @in_words
    async def accept(self) -> None:
        """Keep the reading with the chuck, so that later answers know these jaws."""
        by = self.who.name()
        seen, taper = self._bearing()
        setup, why = await self.here.setup()
        if setup is None:
            raise InputError(why)
        say(*await self.busy.over(self.desk.accept_bearing(setup, seen, by, taper), texts.WORKING_TAPER))


def taper_html(made: TaperAnswer, system: UnitSystem) -> str:
    """The next cut: the words, then the figures in both unit systems."""
    kind, word = ("passes", f"✓ {texts.TAPER_STOP}") if made.stop else ("not-proven", f"→ {texts.TAPER_CUT}")
    first, second = made.words
    other = paragraph(second) if second != first else ""
    head = (f'<div class="verdict {kind} small" role="status"><strong>{escape(word)}</strong><div class="word">'
            f"{escape(first)}</div>{other}</div>")  # fmt: skip
    if not made.looked:  # no reading of the jaws: no cut is asked for
        head = paragraph(first) + other
    why = ""
    if made.told:
        sign = {"none": "–", "open": "?"}.get(made.told, "→")
        cause = f"<strong>{sign} {escape(texts.PART_CAUSE[made.told])}</strong>"
        why = f'<div class="verdict not-proven small" role="status">{cause}'
        why += f'<div class="word">{escape(made.why[0])}</div></div>'
        why = heading(texts.WHY_TAPERED) + why + bullets(made.why[1:]) + table(texts.TAPER_HEADS[system], made.why_rows)
    more = heading(texts.NOTES) + bullets(made.notes) + heading(texts.CAUTIONS) + bullets(made.cautions)
    return why + head + table(texts.TAPER_HEADS[system], made.rows) + more

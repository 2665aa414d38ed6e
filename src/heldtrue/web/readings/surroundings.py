"""How the dial is read, and what is said of each trace: the few fields beside the pad."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import events, ui

from heldtrue.quantities import names_unit
from heldtrue.web import texts
from heldtrue.web.chucks.page import with_unit
from heldtrue.web.fields import Field, echo, get
from heldtrue.web.frame import button, confirmed, html
from heldtrue.web.readings.keys import moved
from heldtrue.web.readings.typed import MADE, PLACES, STATES, surface_read, system_of
from heldtrue.web.render import heading, paragraph

if TYPE_CHECKING:
    from heldtrue.web.readings.pad import IndicatorPage

Input = ui.input | ui.select
TYPING = 120
"""Pause in typing after which a value is taken in, ms."""


class Settings:
    """The fields of one tab."""

    def __init__(self, page: IndicatorPage) -> None:
        self.page = page
        self.fields: dict[str, tuple[Field, Input]] = {}
        self._built_for: tuple[object, ...] = ()

    def units(self) -> None:
        """Unit and places, above the dial."""
        table = self.page.table
        made = ui.select(dict(texts.DIAL_UNITS), label=texts.DIAL_UNIT, value=table["unit"])
        made.on_value_change(self._unit)
        made.props('outlined stack-label behavior="menu"').mark("unit")
        places = ui.select(list(PLACES), label=texts.DIAL_PLACES, value=table["places"])
        places.on_value_change(self._places)
        places.props('outlined stack-label behavior="menu"').mark("places")

    def build(self) -> None:
        """Below the dial: what is said of the trace, and how all of it was read."""
        self.place = ui.element("div").classes("block")

    def show(self) -> None:
        """What the table says; built anew where there are other fields."""
        page, table = self.page, self.page.table
        shape = (page.trace, len(table["traces"]), page.setup is None, system_of(table), table["unit"],
                 () if page.setup is None else tuple(one.name for one in page.setup.surfaces))  # fmt: skip
        if shape != self._built_for:
            self._built_for = shape
            self.fields.clear()
            self.place.clear()
            with self.place:
                self._rows()
        for path, (field, entry) in self.fields.items():
            self._show(path, field, entry)

    def _rows(self) -> None:
        page, table = self.page, self.page.table
        html(heading(texts.TRACE_N.format(n=page.trace + 1)) + paragraph(texts.MORE_TRACES))
        at = f"traces.{page.trace}"
        with ui.element("div").classes("grid"):
            self._text(Field(f"{at}.z", texts.TRACE_Z, "length", hint=texts.TRACE_Z_HINT))
            self._choice(f"{at}.state", texts.TRACE_STATE, {one: texts.STATE_WORDS[one] for one in STATES})
            self._text(Field(f"{at}.turned", texts.TRACE_TURNED, "angle", hint=texts.TRACE_TURNED_HINT))
            self._text(Field(f"{at}.clamped_at", texts.TRACE_PRESSURE, "pressure", hint=texts.TRACE_PRESSURE_HINT))
        if len(table["traces"]) > 1:
            button(texts.TRACE_REMOVE, page.remove_trace).mark("remove-trace")
        html(heading(texts.SETTINGS_OF_DIAL) + paragraph(texts.SIGN_WORDS))
        if page.here.live is None:
            html(paragraph(texts.WITHOUT_SETUP))
        with ui.element("div").classes("grid"):
            if page.setup is None:
                self._choice("side", texts.READ_SIDE, texts.READ_SIDES)
                self._choice("grip", texts.DIAL_GRIP, texts.GRIP_SIDES)
                self._text(Field("jaws", texts.DIAL_JAWS))
                self._text(Field("surface", texts.READ_SURFACE))
            else:
                names = {one.name: f"{one.name} ({one.side})" for one in page.setup.surfaces}
                self._choice("surface", texts.READ_SURFACE, names)
                self._text(Field("pressure", texts.CLAMPED_AT, "pressure", hint=texts.CLAMPED_AT_HINT))
            self._choice("made", texts.MADE, {one: texts.MADE_WORDS[one] for one in MADE})
            self._text(Field("division", texts.DIVISION, "small", hint=texts.FROM_DIGITS))
            if page.setup is not None:
                self._text(Field("dial", texts.DIAL_NUMBER, hint=texts.DIAL_NUMBER_HINT))
            self._text(Field("tolerance", texts.RUNOUT_TOLERANCE, "small"))

    def _text(self, field: Field) -> None:
        entry = ui.input(field.label, value=str(get(self.page.table, field.path) or ""))
        entry.on_value_change(partial(self._typed, field.path, field.label))
        decimal = 'inputmode="decimal"' if field.kind else ""
        entry.props(f'outlined stack-label debounce={TYPING} autocomplete="off" maxlength=400 {decimal}')
        entry.mark(field.path.rpartition(".")[2])
        self.fields[field.path] = (field, entry)

    def _choice(self, path: str, label: str, choices: dict[str, str]) -> None:
        value = get(self.page.table, path)
        entry = ui.select(choices, label=label, value=value if value in choices else None)
        entry.on_value_change(partial(self._typed, path, label))
        entry.props('outlined stack-label behavior="menu"').mark(path.rpartition(".")[2])
        self.fields[path] = (Field(path, label, choices=tuple(choices)), entry)

    async def _typed(self, path: str, label: str, event: events.ValueChangeEventArguments[Any]) -> None:
        text = "" if event.value is None else str(event.value)
        # What this page was just told by another tab is nothing that was typed.
        if text != str(get(self.page.table, path) or ""):
            await self.page.put({path: text}, label)

    def _show(self, path: str, field: Field, entry: Input) -> None:
        table = self.page.table
        text = str(get(table, path) or "")
        if isinstance(entry, ui.select):
            # The one surface that can be meant is shown, not chosen for anybody.
            found = surface_read(self.page.setup, table) if path == "surface" else None
            shown = text if text in field.choices else found.name if found is not None else None
            if entry.value != shown:
                entry.value = shown
            return
        if str(entry.value or "") != text:
            entry.value = text
        entry.error = self.page.read.wrong.get(path)
        if entry.error is None:
            entry._props["hint"] = self._echo(field, text) or field.hint
            entry._props["suffix"] = self._suffix(field, text)
            entry.update()

    def _bare(self, field: Field) -> str:
        """The unit of a bare number."""
        unit = self.page.table["unit"]
        kinds = {"length": "mm" if system_of(self.page.table) == "metric" else "in", "angle": "deg",
                 "pressure": self.page.gauge, "small": texts.DIAL_UNITS[unit].split(" (")[0]}  # fmt: skip
        return kinds.get(field.kind, "")

    def _suffix(self, field: Field, text: str) -> str:
        return "" if names_unit(text) else self._bare(field)

    def _echo(self, field: Field, text: str) -> str:
        if not text.strip() or field.kind in ("", "angle"):
            return ""
        if field.kind == "small":
            bare = not names_unit(text)
            tenths = bare and self.page.table["unit"] == "tenth"
            unit = "" if not bare or tenths else f" {self.page.table['unit']}"
            return "" if tenths else echo(Field("", "", "length"), f"{text}{unit}", system_of(self.page.table))
        return echo(field, with_unit(text, self._bare(field)), system_of(self.page.table))

    async def _unit(self, event: events.ValueChangeEventArguments[Any]) -> None:
        if event.value != self.page.table["unit"]:
            await self.page.put({"unit": event.value, "sure": ""}, texts.DIAL_UNIT)

    async def _places(self, event: events.ValueChangeEventArguments[Any]) -> None:
        if event.value == self.page.table["places"]:
            return
        traces, lost = moved(self.page.table, int(event.value))
        if lost and not await confirmed(texts.PLACES_ASK.format(count=lost)):
            self.page.show()
            return
        await self.page.put({"places": int(event.value), "traces": traces}, texts.DIAL_PLACES)

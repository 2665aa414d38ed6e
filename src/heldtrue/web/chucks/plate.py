"""A chuck by hand: what stands on its plates, typed in; or its file."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.planning.hardware_file import chuck_from
from heldtrue.quantities import UnitSystem, bare_unit, from_core, parse_quantity
from heldtrue.records import ChuckRecord
from heldtrue.shop.stock import chuck_cards
from heldtrue.web import texts
from heldtrue.web.boxes import NumberBox, TextBox, WholeBox
from heldtrue.web.desk import Desk
from heldtrue.web.fields import Table, bare, field_at, get, put
from heldtrue.web.frame import button, go, in_words
from heldtrue.web.places import in_labels
from heldtrue.web.sections import label_of
from heldtrue.web.stock import toml_box
from heldtrue.web.who import NameBox

UNITS = ("metric", "inch")
GAUGES = ("bar", "psi", "MPa", "kgf/cm2")
PATHS = (
    "max_draw_force", "max_grip_force", "max_speed", "jaw_travel", "reference_grip_height", "swing", "body_diameter",
    "through_hole", "master_jaw_mass", "master_jaw_radius", "actuator.pull_area", "actuator.push_area",
    "actuator.max_pressure", "actuator.least_pressure", "actuator.threshold_pressure",
)  # fmt: skip
FIELDS = tuple((path, label_of({}, f"chuck.{path}"), field_at(f"chuck.{path}", "").kind) for path in PATHS)
"""Where it stands in the chuck file, what it is called, and its kind."""
NEEDED = ("max_draw_force", "max_grip_force", "max_speed")
"""Without these a chuck cannot be planned with."""


def plate_form(desk: Desk, card: ChuckRecord | None) -> None:
    """The boxes of a chuck's card; of one that is there as it stands, its number fixed."""
    _Plate(desk, card).build()


class _Plate:
    """One form in one browser."""

    def __init__(self, desk: Desk, card: ChuckRecord | None) -> None:
        self.desk, self.card = desk, card
        self.data: Table = dict(card.data) if card else {}
        self.boxes: dict[str, TextBox] = {}

    def build(self) -> None:
        """Put it on the page."""
        card = self.card
        gauge = (card.gauge if card else "") or "bar"
        # A card has every unit written out in metric, so a bare number that is typed over one is metric as well.
        with ui.element("div").classes("grid"):
            self.number = TextBox(texts.CHUCK_NUMBER, "chuck-number", value=card.id if card else "", most=100)
            if card:
                self.number.box.props("readonly")
            self.name = TextBox("Name", "chuck-name", value=str(bare(self.data.get("name")) or ""))
            self.machine = TextBox(texts.ON_MACHINE, "chuck-machine", value=(card.machine or "") if card else "")
            days = str(card.grease_days) if card and card.grease_days else ""
            self.days = WholeBox(texts.GREASE_DAYS, "grease-days", value=days)
            self.jaws = WholeBox(texts.HOW_MANY_JAWS, "chuck-jaws", value=str(card.jaws) if card else "3")
            self.gauge = ui.select(list(GAUGES), label="Unit of the gauge", value=gauge).mark("chuck-gauge")
            self.gauge.props("outlined stack-label")
            self.units = ui.select(list(UNITS), label=texts.CHUCK_UNITS, value="metric").mark("chuck-units")
            self.units.props("outlined stack-label").on_value_change(self._units)
            self.gauge.on_value_change(self._units)
            teeth = str(bare(get(self.data, "master_jaws.serration")) or "")
            self.teeth = TextBox(texts.TEETH, "chuck-teeth", value=teeth, hint="1.5 mm x 60 deg")
        self.grid = ui.element("div").classes("grid")
        self._fields({path: self._shown(path) for path, _, _ in FIELDS})
        self.who = NameBox(self.desk)
        self.who.box.mark("plate-name")
        button(texts.KEEP_CHUCK if card else texts.ADD_CHUCK, self.keep).mark("keep-chuck")
        if card is None:
            toml_box(self.from_file, "chuck-file")

    def _shown(self, path: str) -> str:
        """A figure of the card, in the unit of its box: a card has every unit written out."""
        value = bare(get(self.data, path))
        if value is None:
            return ""
        kind = next(kind for one, _, kind in FIELDS if one == path)
        unit = self._unit(kind) or bare_unit(kind, self._system())
        known = parse_quantity(value if isinstance(value, str) else float(value), kind, "metric")
        return f"{from_core(known, kind, unit):.6g}"

    def _system(self) -> UnitSystem:
        return "inch" if self.units.value == "inch" else "metric"

    def _unit(self, kind: str) -> str:
        """Unit of a bare number where it is not that of the system: a gauge has its own, plates give forces in kN."""
        if kind == "pressure":
            return str(self.gauge.value)
        return "kN" if kind == "force" and self._system() == "metric" else ""

    def _fields(self, values: dict[str, str]) -> None:
        self.grid.clear()
        with self.grid:
            for path, words, kind in FIELDS:
                hint = texts.IS_NEEDED if path in NEEDED else ""
                self.boxes[path] = NumberBox(
                    words, path, kind, self._system(), unit=self._unit(kind), value=values[path], hint=hint
                )
        self.shown = {path: self._shown(path) for path in PATHS}

    def _units(self) -> None:
        """Other units of bare numbers: what was typed stays as typed, what stands on the card is shown in them."""
        before = self.shown
        self._fields({path: self._shown(path) if box.text() == before[path] else box.text()
                      for path, box in self.boxes.items()})  # fmt: skip

    def _typed(self) -> dict[str, Any]:
        """The table of the chuck file, with what was typed in the place of what stood there before."""
        table = dict(self.data)
        for path, _, kind in FIELDS:
            box = self.boxes[path]
            assert isinstance(box, NumberBox)
            if box.text() == self.shown[path]:
                continue  # as it was, with where it came from
            box.value()
            table = put(table, path, (box.full() if kind != "speed_rpm" else box.text()) or None)
        words = {"name": self.name.text(), "master_jaws.serration": self.teeth.text(),
                 "actuator.gauge": str(self.gauge.value)}  # fmt: skip
        for path, text in words.items():
            if text or get(table, path) is not None:
                table = put(table, path, text or None)
        return {**table, "jaws": self.jaws.number(3), "number": self.number.need(), "from": table.get("from", "plate")}

    @in_words
    async def keep(self) -> None:
        """The card, new or a new version."""
        by = self.who.name()
        try:
            _, table = chuck_from({**self._typed(), "units": self.units.value}, "chuck")
        except InputError as error:
            raise InputError(*(in_labels({}, one) for one in error.problems)) from error
        await self._write(table, by)

    async def from_file(self, raw: dict[str, Any], name: str) -> None:
        """A chuck file that was handed over."""
        by = self.who.name()
        number = self.number.text() or str(bare(raw.get("number")) or "") or self.number.need()
        await self._write(chuck_from({**raw, "number": number}, name)[1], by)

    async def _write(self, table: dict[str, Any], by: str) -> None:
        number = str(bare(table["number"]))  # with where it came from, it is a table of its own
        cards = await self.desk.remember(
            chuck_cards, self.desk.store, number, table, machine=self.machine.text() or None,
            grease_days=self.days.number() or None,
        )  # fmt: skip
        await self.desk.write(*cards, by=by)
        go(f"/chucks/{quote(number, safe='')}", texts.CHUCK_KEPT.format(id=number))

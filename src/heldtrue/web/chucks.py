"""The chucks: what each one's log says, its grip readings with the line through them, and grease."""

from __future__ import annotations

from html import escape
from typing import Literal
from urllib.parse import quote

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.quantities import UnitSystem, format_both, format_quantity, parse_quantity
from heldtrue.records import ChuckRecord, GaugeReading, Greasing
from heldtrue.shop.chuck_log import ChuckState, chuck_state
from heldtrue.shop.enter import card_of
from heldtrue.web import texts
from heldtrue.web.chuck_plot import draw_readings
from heldtrue.web.desk import Desk, now
from heldtrue.web.fields import Field, echo
from heldtrue.web.frame import button, frame, html, in_words, not_here, say
from heldtrue.web.render import Safe, bullets, heading, paragraph, picture, table
from heldtrue.web.who import NameBox

DAY, MINUTE = "%Y-%m-%d", "%Y-%m-%d %H:%M"


def register(desk: Desk) -> None:
    """The pages ``/chucks`` and ``/chucks/{number}``."""

    @ui.page("/chucks")
    async def chucks() -> None:
        with frame(texts.CHUCKS, "/chucks"):
            states = await desk.remember(_all, desk)
            rows = [
                (Safe(f'<a href="/chucks/{quote(one.chuck.id, safe="")}"><strong>{escape(one.chuck.id)}</strong></a>'),
                 one.chuck.name, one.chuck.machine or "", str(len(one.readings)),
                 f"{one.greased.astimezone():{DAY}}" if one.greased else "",
                 f"{one.grease_due.astimezone():{DAY}}" if one.grease_due else "", "; ".join(one.words))
                for one in states
            ]  # fmt: skip
            html(table(texts.CHUCK_HEADS, rows) if rows else paragraph(texts.NO_CHUCKS))

    @ui.page("/chucks/{number}")
    async def one(number: str) -> None:
        try:
            card = await desk.remember(card_of, desk.store, ChuckRecord, number, "chuck")
        except InputError as error:
            not_here(error)
            return
        with frame(f"{texts.CHUCKS}: {number}", "/chucks"):
            await _chuck(desk, card)


def _all(desk: Desk) -> list[ChuckState]:
    return [chuck_state(desk.store, card, now()) for card in desk.store.all(ChuckRecord)]


async def _chuck(desk: Desk, card: ChuckRecord) -> None:
    unit, system = card.gauge or "bar", _system(card)
    place = html("").mark("log")

    async def show() -> None:
        place.content = log_html(await desk.remember(chuck_state, desk.store, card, now()))

    await show()
    html(heading(texts.ADD_READING))
    with ui.element("div").classes("grid"):
        pressure = _number(Field("p", texts.READ_PRESSURE, "pressure"), unit, system)
        force = _number(Field("f", texts.READ_FORCE, "force"), "N" if system == "metric" else "lbf", system)
        who = NameBox(desk)

    @in_words
    async def read() -> None:
        by = who.name()
        row = GaugeReading(
            at=now(), by=by, chuck=card.id, pressure=parse_quantity(with_unit(pressure.value, unit), "pressure"),
            force=parse_quantity(str(force.value or ""), "force", system),
        )  # fmt: skip
        await desk.write(row, by=by)
        say(texts.KEPT)
        await show()

    @in_words
    async def grease() -> None:
        by = who.name()
        await desk.write(Greasing(at=now(), by=by, chuck=card.id), by=by)
        say(texts.KEPT)
        await show()

    with ui.element("div").classes("row-line"):
        button(texts.ADD_READING, read, main=True).mark("add-reading")
        button(texts.GREASED, grease).mark("grease")


def _number(field: Field, unit: str, system: UnitSystem) -> ui.input:
    """A number with its unit in the box and both units below."""
    made = ui.input(field.label).props(f'outlined stack-label inputmode="decimal" suffix="{unit}"').mark(field.path)

    def show() -> None:
        made._props["hint"] = echo(field, with_unit(made.value, unit), system)
        made.update()

    made.on_value_change(show)
    return made


def with_unit(typed: object, unit: str) -> str:
    """What was typed; a bare number in the unit that the box shows."""
    text = str(typed or "").strip()
    return text if not text or any(one.isalpha() for one in text) else f"{text} {unit}"


def log_html(state: ChuckState) -> str:
    """The log of a chuck."""
    unit, system = state.chuck.gauge or "bar", _system(state.chuck)
    content = heading(state.chuck.name or state.chuck.id) + bullets(state.words)
    if state.line is not None:
        at = state.used[-1].pressure
        grip = state.line.slope * max(at - state.line.threshold, 0.0)
        words = texts.LINE_WORDS.format(
            grip=format_both(grip, "force", system), pressure=format_quantity(at, "pressure", unit=unit),
            zero=format_quantity(state.line.threshold, "pressure", unit=unit), count=len(state.used),
        )  # fmt: skip
        content += f"<p><strong>{escape(texts.LINE)}:</strong> {escape(words)}</p>"
        content += f'<div style="max-width: 760px">{picture(draw_readings(state), texts.LINE_PICTURE)}</div>'
    rows = [
        (f"{row.at.astimezone():{MINUTE}}", format_quantity(row.pressure, "pressure", unit=unit),
         format_both(row.force, "force", system), row.by, _note(state, row))
        for row in reversed(state.readings)
    ]  # fmt: skip
    return content + (heading(texts.READINGS) + table(texts.READING_HEADS, rows, numeric=(0, 1, 2)) if rows else "")


def _note(state: ChuckState, row: GaugeReading) -> str:
    if row not in state.used:
        return "before the fall, not used"
    off = state.line is not None and state.used.index(row) in state.line.far_off
    return "; ".join(filter(None, ["does not fit the others" if off else "", row.remark]))


def _system(card: ChuckRecord) -> Literal["metric", "inch"]:
    return "inch" if card.gauge == "psi" else "metric"

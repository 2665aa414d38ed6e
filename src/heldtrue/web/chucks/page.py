"""The chucks: what each one's log says, its grip readings with the line through them, and grease."""

from __future__ import annotations

from html import escape
from urllib.parse import quote

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.quantities import format_both, format_quantity, names_unit
from heldtrue.records import ChuckRecord, GaugeReading, Greasing
from heldtrue.shop.chuck_log import ChuckState, chuck_state
from heldtrue.shop.enter import card_of
from heldtrue.shop.put_right import taken_back
from heldtrue.shop.typed import system_of, typed_grip_reading
from heldtrue.web import texts
from heldtrue.web.boxes import NumberBox, TextBox
from heldtrue.web.chucks.plate import plate_form
from heldtrue.web.chucks.plot import draw_readings
from heldtrue.web.desk import Desk, now
from heldtrue.web.frame import button, frame, html, in_words, not_here, page, say
from heldtrue.web.measuring import words as measuring
from heldtrue.web.render import Safe, bullets, heading, paragraph, picture, table
from heldtrue.web.who import NameBox

DAY, MINUTE = "%Y-%m-%d", "%Y-%m-%d %H:%M"


def register(desk: Desk) -> None:
    """The pages ``/chucks`` and ``/chucks/{number}``."""

    @page("/chucks")
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
            html(heading(texts.ADD_CHUCK))
            plate_form(desk, None)

    @page("/chucks/{number}")
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
    unit, system = card.gauge or "bar", system_of(card)
    place = html("").mark("log")

    readings: dict[str, GaugeReading] = {}

    async def show() -> None:
        state = await desk.remember(chuck_state, desk.store, card, now())
        place.content = log_html(state)
        readings.clear()
        readings.update({row.id: row for row in reversed(state.readings)})
        wrong.set_options({
            id: f"{row.at.astimezone():{MINUTE}}  {format_quantity(row.pressure, 'pressure', unit=unit)}, "
                f"{format_both(row.force, 'force', system)}, {row.by}" for id, row in readings.items()
        })  # fmt: skip
        wrong.value = None

    html(heading(texts.ADD_READING))
    with ui.element("div").classes("grid"):
        pressure = NumberBox(texts.READ_PRESSURE, "p", "pressure", unit=unit)
        force = NumberBox(texts.READ_FORCE, "f", "force", system, unit="kN" if system == "metric" else "lbf")
        device, grease_name = TextBox(texts.DEVICE, "device"), TextBox(texts.WHICH_GREASE, "grease-name")
        remark = TextBox(texts.REMARK, "remark")
        who = NameBox(desk)

    @in_words
    async def read() -> None:
        by = who.name()
        pressure.need(), force.need()
        shown, grip = typed_grip_reading(pressure.full(), force.full(), card)
        row = GaugeReading(at=now(), by=by, chuck=card.id, pressure=shown, force=grip, device=device.text(),
                           remark=remark.text())  # fmt: skip
        await desk.write(row, by=by)
        # Empty again: a second touch of the button keeps no reading twice.
        for box in (pressure, force, remark):
            box.clear()
        say(texts.KEPT)
        await show()

    @in_words
    async def grease() -> None:
        by = who.name()
        await desk.write(Greasing(at=now(), by=by, chuck=card.id, grease=grease_name.text()), by=by)
        say(texts.KEPT)
        await show()

    with ui.element("div").classes("row-line"):
        button(texts.ADD_READING, read, main=True).mark("add-reading")
        button(texts.GREASED, grease).mark("grease")
        button(texts.PRINT_PAGE, lambda: ui.run_javascript("window.print()")).mark("print-page")
        button(measuring.RING, lambda: ui.navigate.to(f"/chucks/{quote(card.id, safe='')}/ring")).mark("gauge-ring")
    html(heading(texts.WRONG_READING))
    with ui.element("div").classes("row-line"):
        wrong = ui.select({}, label=texts.READING_BACK).props("outlined stack-label").style("min-width: 300px")
        wrong.mark("wrong-reading")
        why = TextBox(texts.WHY_WRONG, "why-wrong")

        @in_words
        async def back() -> None:
            by, row = who.name(), readings.get(wrong.value)
            if row is None:
                raise InputError(texts.CHOOSE_ENTRY)
            await desk.write(taken_back(row, by=by, why=why.text()), by=by)
            why.clear()
            say(texts.ENTRY_BACK)
            await show()

        button(texts.TAKE_ENTRY_BACK, back).mark("reading-back")
    html(heading(texts.EDIT_CHUCK))
    plate_form(desk, card)
    await show()


def with_unit(typed: object, unit: str) -> str:
    """What was typed; a bare number in the unit that the box shows."""
    text = str(typed or "").strip()
    return text if not text or names_unit(text) else f"{text} {unit}"


def log_html(state: ChuckState) -> str:
    """The log of a chuck."""
    unit, system = state.chuck.gauge or "bar", system_of(state.chuck)
    content, drawn = heading(state.chuck.name or state.chuck.id) + bullets(state.words), ""
    if state.estimate is not None and state.used:
        at, found = state.used[-1].pressure, state.estimate
        grip = found.grip(at)
        words = texts.LINE_WORDS.format(
            grip=format_both(grip, "force", system), pressure=format_quantity(at, "pressure", unit=unit),
            zero=format_quantity(found.threshold[1], "pressure", unit=unit), count=len(state.used),
        )  # fmt: skip
        if state.has_plate:
            words += texts.PLANS_TAKE.format(low=found.share[0], high=found.share[2])
        content += f"<p><strong>{escape(texts.LINE)}:</strong> {escape(words)}</p>"
        drawn = picture(draw_readings(state), texts.LINE_PICTURE)
    rows = [
        (f"{row.at.astimezone():{MINUTE}}", format_quantity(row.pressure, "pressure", unit=unit),
         format_both(row.force, "force", system), row.by, _note(state, row))
        for row in reversed(state.readings)
    ]  # fmt: skip
    log = heading(texts.READINGS) + table(texts.READING_HEADS, rows, numeric=(0, 1, 2)) if rows else ""
    return f'{content}<div class="beside"><div>{drawn}</div><div>{log}</div></div>' if drawn else content + log


def _note(state: ChuckState, row: GaugeReading) -> str:
    note = texts.DOES_NOT_FIT if state.is_doubtful(row) else state.why_unused(row)
    return "; ".join(filter(None, [note, row.remark]))

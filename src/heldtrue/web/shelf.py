"""The shelf: find a jaw set by what is remembered of it, open it with its history, check it out and back in."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from typing import Any, Literal
from urllib.parse import quote

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.quantities import format_both
from heldtrue.records import JawSet, RunRecord, SetCut, SetMove, Standing, remembered
from heldtrue.shop.enter import card_of
from heldtrue.web import texts
from heldtrue.web.desk import Desk, now
from heldtrue.web.frame import button, frame, html, in_words, not_here, say
from heldtrue.web.render import Safe, bullets, heading, paragraph, table
from heldtrue.web.sections import STYLES
from heldtrue.web.who import NameBox

MINUTE = "%Y-%m-%d %H:%M"


def register(desk: Desk) -> None:
    """The pages ``/shelf`` and ``/shelf/{number}``."""

    @ui.page("/shelf")
    async def shelf() -> None:
        with frame(texts.SHELF, "/shelf"):
            await _list(desk)

    @ui.page("/shelf/{number}")
    async def one(number: str) -> None:
        try:
            await desk.remember(card_of, desk.store, JawSet, number, "jaw set")
        except InputError as error:
            not_here(error)
            return
        with frame(f"{texts.SHELF}: {number}", "/shelf"):
            await _set(desk, number)


async def _list(desk: Desk) -> None:
    place = html("").mark("sets")

    @in_words
    async def find() -> None:
        words = str(sought.value or "").strip()
        if words:
            found = await desk.remember(desk.store.search, remembered(words, now()))
            place.content = _standings([one.standing for one in found], texts.NO_FIT)
        else:
            place.content = _standings(await desk.remember(_all, desk), texts.NO_SETS)

    sought = ui.input(texts.FIND, on_change=find).classes("w-full").mark("find")
    sought.props(f'outlined stack-label debounce=250 hint="{texts.FIND_HINT}" autofocus')
    sought.move(target_index=0)
    await find()
    html(heading(texts.ADD_SET))
    with ui.element("div").classes("grid"):
        number, material, lies = (
            ui.input(words).props("outlined stack-label maxlength=80").mark(f"new-{mark}")
            for words, mark in ((texts.SET_NUMBER, "number"), (texts.MATERIAL, "material"), (texts.PLACE, "place"))
        )
        who = NameBox(desk)
        style = ui.select(list(STYLES), label=texts.STYLE, value=STYLES[0]).props("outlined stack-label")

    @in_words
    async def add() -> None:
        by = who.name()
        card = JawSet(id=_said(number.value, texts.SET_NUMBER), style=style.value,
                      material=_said(material.value, texts.MATERIAL))  # fmt: skip
        where = str(lies.value or "").strip()
        moves = [SetMove(at=now(), by=by, jaw_set=card.id, kind="in", place=where)] if where else []
        await desk.write(card, *moves, by=by)
        say(texts.ON_SHELF.format(set=card.id))
        await find()

    button(texts.ADD_SET, add).mark("add-set")


def _all(desk: Desk) -> list[Standing]:
    return [desk.store.standing(card.id) for card in desk.store.all(JawSet)]


def _standings(found: Iterable[Standing], none: str) -> str:
    rows = [
        (Safe(f'<a href="/shelf/{quote(one.jaw_set, safe="")}"><strong>{escape(one.jaw_set)}</strong></a>'), one.style,
         one.material, "" if one.diameter is None else f"Ø{format_both(one.diameter, 'length')}",
         "" if one.cuts_left is None else str(one.cuts_left), *_where(one))
        for one in found
    ]  # fmt: skip
    return table(texts.SET_HEADS, rows) if rows else paragraph(none)


def _where(one: Standing) -> tuple[str, str]:
    state = "retired" if one.retired else one.condition
    if one.missing:
        state = ", ".join(filter(None, [state, f"jaw {', '.join(str(n) for n in one.missing)} missing"]))
    return f"{one.holder} has it" if one.holder else one.place, state


async def _set(desk: Desk, number: str) -> None:
    place = html("").mark("set")

    async def show() -> None:
        history = await desk.remember(desk.store.history, number)
        counting = {row.id for row in history.counting}
        rows = [
            (
                f"{row.at.astimezone():{MINUTE}}",
                _words(row) + ("" if row.id in counting else texts.PUT_RIGHT),
                row.by,
            )
            for row in reversed(history.rows)
        ]
        remark = [history.card.remark] if history.card.remark else []
        told = table(texts.HISTORY_HEADS, rows, numeric=(0,)) if rows else paragraph(texts.NO_HISTORY)
        stands = _standings([history.standing], "")
        place.content = f"{stands}{bullets(remark)}{heading(texts.HISTORY)}{told}"

    await show()
    html(heading(f"{texts.CHECK_OUT}, {texts.CHECK_IN.lower()}"))
    with ui.element("div").classes("grid"):
        who = NameBox(desk)
        lies, remark = (
            ui.input(words).props("outlined stack-label maxlength=200").mark(mark)
            for words, mark in ((texts.PLACE, "place"), (texts.REMARK, "remark"))
        )

    async def move(kind: Literal["out", "in"], words: str, **more: Any) -> None:
        by = who.name()
        row = SetMove(at=now(), by=by, jaw_set=number, kind=kind, remark=str(remark.value or "").strip(), **more)
        await desk.write(row, by=by)
        say(words.format(set=number, who=by))
        await show()

    @in_words
    async def out() -> None:
        await move("out", texts.SET_OUT)

    @in_words
    async def back() -> None:
        await move("in", texts.SET_IN, place=str(lies.value or "").strip())

    with ui.element("div").classes("row-line"):
        button(texts.CHECK_OUT, out, main=True).mark("check-out")
        button(texts.CHECK_IN, back).mark("check-in")


def _words(row: object) -> str:
    """One line of a set's history."""
    if isinstance(row, SetCut):
        where = " on ".join(filter(None, [row.chuck, row.machine]))
        cut = f"{row.kind} Ø{format_both(row.diameter, 'length')}, tooth {row.tooth or '?'}"
        return ", ".join(filter(None, [cut, where, row.remark]))
    if isinstance(row, SetMove):
        missing = f"jaw {', '.join(str(n) for n in row.missing)} missing" if row.missing else ""
        what = "photo" if row.photo else row.kind
        return ", ".join(filter(None, [what, row.holder, row.place, row.condition, missing, row.remark]))
    if isinstance(row, RunRecord):
        return f"run of {row.setup}: {row.quantity} good, {row.scrap} scrap"
    return f"indicator reading, {getattr(row, 'surface', '') or 'no surface said'}"


def _said(value: object, what: str) -> str:
    words = str(value or "").strip()
    if not words:
        raise InputError(texts.NEEDED.format(what=what))
    return words

"""A new jaw set put on the shelf."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import replace

from nicegui import ui

from heldtrue.records import JawSet, SetMove, Tag
from heldtrue.records.kinds import Record
from heldtrue.shop.enter import known_card
from heldtrue.web import texts
from heldtrue.web.boxes import TextBox, WholeBox
from heldtrue.web.desk import Desk, now
from heldtrue.web.frame import button, in_words, say
from heldtrue.web.sections import STYLES
from heldtrue.web.who import NameBox


def new_set(desk: Desk, done: Callable[[str], Awaitable[None]], *, number: str = "") -> None:
    """The boxes of a new set; ``done`` is told its number. A label printed ahead of that number is stuck on it."""
    with ui.element("div").classes("grid"):
        id = TextBox(texts.SET_NUMBER, "new-number", value=number, most=100)
        material = TextBox(texts.MATERIAL, "new-material", most=80)
        style = ui.select(list(STYLES), label=texts.STYLE, value=STYLES[0]).mark("new-style")
        style.props("outlined stack-label")
        teeth = TextBox(texts.TEETH, "new-teeth", hint="1.5 mm x 60 deg", most=80)
        jaws = WholeBox(texts.HOW_MANY_JAWS, "new-jaws", value="3")
        lies, remark = TextBox(texts.PLACE, "new-place"), TextBox(texts.REMARK, "new-remark")
        who = NameBox(desk)
        who.box.mark("new-name")

    @in_words
    async def add() -> None:
        by = who.name()
        card = JawSet(id=id.need(), style=style.value, material=material.need(), serration=teeth.text(),
                      jaws=jaws.number(3), remark=remark.text())  # fmt: skip
        rows: list[Record] = [card]
        if lies.text():
            rows.append(SetMove(at=now(), by=by, jaw_set=card.id, kind="in", place=lies.text()))
        label = await desk.remember(known_card, desk.store, Tag, card.id)
        if label is not None and label.jaw_set is None:
            rows.append(replace(label, jaw_set=card.id))
        await desk.write(*rows, by=by)
        say(texts.ON_SHELF.format(set=card.id))
        await done(card.id)

    button(texts.ADD_SET, add, main=bool(number)).mark("add-set")

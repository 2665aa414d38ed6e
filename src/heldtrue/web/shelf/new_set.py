"""A new jaw set put on the shelf."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import replace

from nicegui import ui

from heldtrue.mechanics.materials import JAW_MATERIALS
from heldtrue.records import SetMove, Tag
from heldtrue.records.kinds import Record
from heldtrue.shop.enter import known_card
from heldtrue.shop.shelf import TEETH, new_jaw_set
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
        material = TextBox(texts.MATERIAL, "new-material", most=80, offered=[one.name for one in JAW_MATERIALS])
        style = ui.select(list(STYLES), label=texts.STYLE, value=STYLES[0]).mark("new-style")
        style.props("outlined stack-label")
        teeth = ui.select({"": texts.NOT_KNOWN, **{one: one for one in TEETH}}, label=texts.TEETH, value="")
        teeth.props("outlined stack-label").mark("new-teeth")
        jaws = WholeBox(texts.HOW_MANY_JAWS, "new-jaws", value="3")
        lies, remark = TextBox(texts.PLACE, "new-place"), TextBox(texts.REMARK, "new-remark")
        who = NameBox(desk)
        who.box.mark("new-name")

    @in_words
    async def add() -> None:
        by = who.name()
        card = new_jaw_set(id.need(), style.value, material.need(), serration=teeth.value, jaws=jaws.number(3),
                           remark=remark.text())  # fmt: skip
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

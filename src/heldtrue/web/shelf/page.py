"""The shelf: scan or find a jaw set by what is remembered of it, put a new one there, print tags to stick on."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from math import ceil
from urllib.parse import quote

from fastapi import Query
from nicegui import ui

from heldtrue.quantities import format_both
from heldtrue.records import JawSet, Remembered, Standing, Tag, remembered
from heldtrue.sheets.jaw_tag import blank_tags
from heldtrue.shop.tags import new_labels
from heldtrue.shop.typed import typed_size
from heldtrue.web import prints, texts
from heldtrue.web.boxes import TextBox, WholeBox
from heldtrue.web.desk import Desk, now
from heldtrue.web.frame import button, frame, html, in_words, page, say
from heldtrue.web.render import Safe, heading, paragraph, table
from heldtrue.web.shelf import fitting as shelf_for
from heldtrue.web.shelf import one_set as shelf_set
from heldtrue.web.shelf.new_set import new_set
from heldtrue.web.shelf.scan import scan_box, set_page
from heldtrue.web.who import NameBox

ON_A_PAGE = 50
DEFAULT_SIZE = "50x25"


def register(desk: Desk) -> None:
    """The pages ``/shelf``, with ``?for=`` the sets that fit an open setup, and ``/shelf/{number}``."""

    @page("/shelf")
    async def shelf(page: int = 1, retired: bool = False, for_: str = Query("", alias="for")) -> None:
        if for_:
            ui.navigate.to(f"/shelf/for/{quote(for_, safe='')}")
            return
        with frame(texts.SHELF, "/shelf"):
            await _list(desk, page, retired)

    shelf_for.register(desk)
    shelf_set.register(desk)


async def _list(desk: Desk, page: int, retired: bool) -> None:
    scan_box(desk)
    place = html("").mark("sets")

    @in_words
    async def find() -> None:
        words = str(sought.value or "").strip()
        if words:
            asked = remembered(words, now())
            found = await desk.remember(desk.store.search, asked)
            near = found[0].near if found else ""
            said = paragraph(texts.NEAREST.format(what=looked_for(asked), near=near)) if near else ""
            place.content = said + standings(
                [one.standing for one in found], texts.NO_FIT.format(what=looked_for(asked))
            )
        else:
            place.content = await desk.remember(_page, desk, page, retired)

    sought = ui.input(texts.FIND, on_change=find).classes("w-full").mark("find")
    sought.props(f'outlined stack-label debounce=250 hint="{texts.FIND_HINT}" autofocus')
    sought.move(target_index=1)
    await find()
    html(heading(texts.ADD_SET))

    async def added(_: str) -> None:
        await find()

    new_set(desk, added)
    _blank_tags(desk)


def _page(desk: Desk, page: int, retired: bool) -> str:
    """One page of the sets by their numbers: only as many are read as are shown."""
    cards = desk.store.all(JawSet, retired=retired)
    pages = max(ceil(len(cards) / ON_A_PAGE), 1)
    page = min(max(page, 1), pages)
    shown = cards[(page - 1) * ON_A_PAGE : page * ON_A_PAGE]
    content = standings([desk.store.standing(card.id) for card in shown], texts.NO_SETS)
    also = "&retired=true" if retired else ""
    links = [f"<span>{escape(texts.PAGE_OF.format(page=page, pages=pages, count=len(cards)))}</span>"] if cards else []
    for words, there, goes in ((texts.BEFORE, page - 1, page > 1), (texts.NEXT, page + 1, page < pages)):
        if goes:
            links.append(f'<a href="/shelf?page={there}{also}">{escape(words)}</a>')
    other, word = ("/shelf", texts.HIDE_RETIRED) if retired else ("/shelf?retired=true", texts.SHOW_RETIRED)
    return content + f'<div class="pages">{"".join(links)}<a href="{other}">{escape(word)}</a></div>'


def looked_for(asked: Remembered) -> str:
    """How a line of what somebody remembers was understood."""
    sizes = " to ".join(f"Ø{format_both(one, 'length')}" for one in asked.diameter or ())
    when = " to ".join(f"{one.astimezone():%Y-%m-%d}" for one in (asked.since, asked.until) if one is not None)
    found = [sizes, when and texts.CUT_FROM.format(when=when), asked.machine and texts.ON_THE_MACHINE.format(
        machine=asked.machine), asked.chuck and f"{texts.CHUCK} {asked.chuck}", asked.side, asked.style,
        *(texts.THE_WORD.format(word=word) for word in asked.words)]  # fmt: skip
    return "; ".join(one for one in found if one)


def standings(found: Iterable[Standing], none: str) -> str:
    """Jaw sets as they stand, each a link to its page."""
    rows = [
        (set_link(one.jaw_set), one.style, one.material,
         "" if one.diameter is None else f"Ø{format_both(one.diameter, 'length')}",
         "" if one.cuts_left is None else str(one.cuts_left), *_where(one))
        for one in found
    ]  # fmt: skip
    return table(texts.SET_HEADS, rows) if rows else paragraph(none)


def set_link(number: str) -> Safe:
    """A link to the page of a set."""
    return Safe(f'<a class="to-set" href="{set_page(number)}"><strong>{escape(number)}</strong></a>')


def _where(one: Standing) -> tuple[str, str]:
    state = texts.RETIRED if one.retired else one.condition
    if one.missing:
        missing = texts.JAW_MISSING.format(numbers=", ".join(str(number) for number in one.missing))
        state = ", ".join(filter(None, [state, missing]))
    return texts.HAS_IT.format(who=one.holder) if one.holder else one.place, state


def _blank_tags(desk: Desk) -> None:
    html(heading(texts.PRINT_BLANK) + paragraph(texts.BLANK_WORDS))
    with ui.element("div").classes("grid"):
        count = WholeBox(texts.TAG_COUNT, "blank-count", value="12")
        size = TextBox(texts.TAG_SIZE, "blank-size", value=DEFAULT_SIZE, most=20)
        who = NameBox(desk)
        who.box.mark("blank-name")

    @in_words
    async def make() -> None:
        by, wanted = who.name(), typed_size(size.need())
        cards: tuple[Tag, ...] = await desk.remember(new_labels, desk.store, count.number(), now())
        made = await desk.remember(blank_tags, [card.id for card in cards], wanted)
        await desk.write(*cards, by=by)
        say(texts.PRINTED_BLANK.format(first=cards[0].id, last=cards[-1].id))
        prints.open_pdf(made, f"blank-tags-{cards[0].id}.pdf")

    with ui.element("div").classes("block"):
        button(texts.PRINT_BLANK, make).mark("print-blank")

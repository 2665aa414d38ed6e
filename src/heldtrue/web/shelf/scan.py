"""The code on a jaw tag, out of a picture of it, and what to do with the number that stands there."""

from __future__ import annotations

from urllib.parse import quote

import zxingcpp
from nicegui import ui
from PIL import Image, ImageFilter, ImageOps

from heldtrue.errors import InputError
from heldtrue.shop.tags import Code, stuck_on, what_is
from heldtrue.web import texts
from heldtrue.web.boxes import TextBox
from heldtrue.web.desk import Desk
from heldtrue.web.frame import button, frame, html, in_words, not_here, page
from heldtrue.web.render import heading, paragraph
from heldtrue.web.shelf.new_set import new_set
from heldtrue.web.shelf.photos import in_turn, opened, picture_boxes
from heldtrue.web.who import NameBox

EDGES = (1000, 2400)
"""Longer edge of the picture that is looked through, points: the small one is quick, the large one has small codes."""
CODES = zxingcpp.BarcodeFormats([zxingcpp.BarcodeFormat.QRCode])
"""A picture unpacked takes some hundred MB at the worst."""


def register(desk: Desk) -> None:
    """The pages ``/scan`` and ``/scan/{id}``."""

    @page("/scan")
    def scan() -> None:
        with frame(texts.SCAN_BIG, "/shelf"):
            scan_box(desk)

    @page("/scan/{id:path}")
    async def found(id: str) -> None:
        try:
            code = await desk.remember(what_is, desk.store, id)
        except InputError as error:
            not_here(error)
            return
        if code.kind == "set":
            ui.navigate.to(set_page(code.jaw_set))
            return
        if code.kind == "setup":
            ui.navigate.to(f"/setups/{quote(code.id, safe='')}")
            return
        with frame(f"{texts.SCAN}: {code.id}", "/shelf"):
            _place(desk, code)


def set_page(number: str) -> str:
    """The address of a set's page."""
    return f"/shelf/{quote(number, safe='')}"


def scan_box(desk: Desk) -> None:
    """Scan or type a number: it leads to the set it belongs to."""

    @in_words
    async def look(content: bytes) -> None:
        words = await in_turn(code_in, content)
        await _go(desk, words)

    @in_words
    async def typed() -> None:
        await _go(desk, number.need())

    with ui.element("div").classes("scan-line"):
        picture_boxes(texts.SCAN_BIG, look, "scan", main=True)
        number = TextBox(texts.SET_NUMBER, "scan-number", hint=texts.OR_TYPE, most=100)
        number.box.on("keydown.enter", typed)


async def _go(desk: Desk, words: str) -> None:
    code = await desk.remember(what_is, desk.store, words)
    ui.navigate.to(set_page(code.jaw_set) if code.kind == "set" else f"/scan/{quote(code.id, safe='')}")


def code_in(content: bytes) -> str:
    """The number in the code on a picture. Raises: ``InputError`` for no picture, no code, or several."""
    picture = ImageOps.grayscale(opened(content, EDGES[-1]))
    for edge in EDGES:
        smaller = picture.copy()
        smaller.thumbnail((edge, edge))
        for made in (smaller, smaller.filter(ImageFilter.UnsharpMask(4, 300, 0))):
            found = _codes(made)
            if len(found) > 1:
                raise InputError(texts.SEVERAL_CODES.format(codes=", ".join(sorted(found)[:6])))
            if found:
                return found.pop()
    raise InputError(texts.NO_CODE)


def _codes(picture: Image.Image) -> set[str]:
    found = zxingcpp.read_barcodes(picture, formats=CODES)
    return {one.text.strip() for one in found if one.text.strip()}


def _place(desk: Desk, code: Code) -> None:
    """A number that is on no set: say on which it is, or make a new set of it."""
    html(paragraph((texts.LABEL_FREE if code.kind == "label" else texts.UNKNOWN_CODE).format(id=code.id)))
    if code.kind == "label":
        html(heading(texts.LINK_LABEL))
        with ui.element("div").classes("grid"):
            number, who = TextBox(texts.LINK_TO, "link-set", most=100), NameBox(desk)

        @in_words
        async def link() -> None:
            by, jaw_set = who.name(), number.need()
            known = await desk.remember(what_is, desk.store, jaw_set)
            card = await desk.remember(stuck_on, desk.store, code.id, known.jaw_set or jaw_set)
            await desk.write(card, by=by)
            ui.navigate.to(set_page(str(card.jaw_set)))

        button(texts.LINK_LABEL, link, main=True).mark("link")
    html(heading(texts.NEW_UNDER))

    async def opened(id: str) -> None:
        ui.navigate.to(set_page(id))

    new_set(desk, opened, number=code.id)

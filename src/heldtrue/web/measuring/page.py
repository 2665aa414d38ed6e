"""The pages ``/chucks/{number}/ring``, ``/friction`` and ``/friction/{id}``."""

from __future__ import annotations

from functools import partial
from html import escape
from urllib.parse import quote

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.records import ChuckRecord
from heldtrue.shop.enter import card_of
from heldtrue.shop.gauge_rings import chuck_of, gauge_of
from heldtrue.web.desk import Desk
from heldtrue.web.frame import STILL_THERE, button, frame, html, not_here, page, still_there
from heldtrue.web.measuring import friction, typed, words
from heldtrue.web.measuring.answer import cautions
from heldtrue.web.measuring.here import Here, bench_name
from heldtrue.web.measuring.make import MakeTab
from heldtrue.web.measuring.read import ReadTab
from heldtrue.web.render import heading, paragraph


def register(desk: Desk) -> None:
    """Put them into the application."""

    @page("/chucks/{number}/ring")
    async def ring(number: str) -> None:
        try:
            card = await desk.remember(card_of, desk.store, ChuckRecord, number, "chuck")
            chuck = chuck_of(card)
            bench = await desk.remember(desk.benches.get, bench_name(card.id), typed.blank(chuck.jaws))
        except InputError as error:
            not_here(error)
            return
        here = Here(desk, bench, card, chuck, gauge_of(chuck, card))
        ui.on(STILL_THERE, still_there)
        with frame(words.RING_OF.format(chuck=card.id), "/chucks"):
            _ring(here)
        with ui.element("div").classes("bar"):
            button(words.BACK_TO_CHUCK, lambda: ui.navigate.to(f"/chucks/{quote(card.id, safe='')}"))
            button(words.TO_FRICTION, lambda: ui.navigate.to("/friction"))

    @page("/friction")
    async def choose() -> None:
        with frame(words.FRICTION, "/readings"):
            await _choose(desk)

    @page("/friction/{id}")
    async def of_setup(id: str) -> None:
        try:
            live = desk.live(id)
            bench = await desk.remember(desk.benches.get, f"{id}.friction", friction.blank())
        except InputError as error:
            not_here(error)
            return
        ui.on(STILL_THERE, still_there)
        with frame(words.FRICTION_OF.format(title=live.draft.title)):
            friction.FrictionPage(desk, bench, live).build()
            html(cautions())
        with ui.element("div").classes("bar"):
            button(words.TO_PLAN, lambda: ui.navigate.to(f"/plan/{id}"))


def _ring(here: Here) -> None:
    with ui.tabs().props("align=left no-caps inline-label outside-arrows mobile-arrows") as tabs:
        make, read = (ui.tab(said).mark(f"tab-{mark}") for said, mark in (
            (words.TAB_MAKE, "make"), (words.TAB_READ, "read")))  # fmt: skip
    began = bool(str(here.bench.typed.table["ring"]).strip())
    with ui.tab_panels(tabs, value=read if began else make, animated=False, keep_alive=True) as panels:
        with ui.tab_panel(make):
            MakeTab(here, partial(panels.set_value, words.TAB_READ)).build()
        with ui.tab_panel(read):
            ReadTab(here).build()
    html(cautions())


async def _choose(desk: Desk) -> None:
    html(paragraph(words.FRICTION_WORDS) + heading(words.CHOOSE_SETUP))
    rows = []
    for id in await desk.remember(desk.drafts.ids):
        try:
            title = desk.drafts.get(id).title
        except InputError:
            continue
        rows.append(f'<div class="row-line"><a href="/friction/{escape(id)}">{escape(title)}</a></div>')
    html("".join(rows) or paragraph(words.NO_SETUPS))
    html(cautions())

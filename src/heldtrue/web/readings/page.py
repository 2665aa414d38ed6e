"""The pages for what the shop measures: indicator, feeler and bluing, part after part."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

from nicegui import ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, names_unit, parse_quantity
from heldtrue.web import texts
from heldtrue.web.desk import Desk, Live
from heldtrue.web.frame import button, frame, html, not_here, page
from heldtrue.web.readings import drift as readings_drift
from heldtrue.web.readings import drift_read as readings_drift_read
from heldtrue.web.readings import pad as readings_pad
from heldtrue.web.readings import taper as readings_taper
from heldtrue.web.readings import typed as readings_typed
from heldtrue.web.readings.store import Bench, own_name
from heldtrue.web.render import heading, paragraph
from heldtrue.web.trouble import problems_of


@dataclass
class Here:
    """What one page is about: ``bench`` of the indicator and the feeler, ``parts`` in a row, ``live`` setup or None."""

    desk: Desk
    bench: Bench
    parts: Bench
    live: Live | None

    @property
    def title(self) -> str:
        """What the page is called."""
        return texts.READINGS_OF.format(title=self.live.draft.title) if self.live is not None else texts.READ

    async def setup(self) -> tuple[Setup | None, str]:
        """The setup with what the records know, at the pressure typed; or why there is none."""
        if self.live is None:
            return None, ""
        try:
            setup, _ = await self.desk.setup_of(self.live)
            typed = str(self.bench.typed.table["pressure"]).strip()
            if not typed:
                return setup, ""
            unit = gauge_unit_of(setup)
            bare = not names_unit(typed)
            return setup.with_({"run.pressure": parse_quantity(f"{typed} {unit}" if bare else typed, "pressure")}), ""
        except HeldtrueError as error:
            return None, texts.SETUP_NOT_WHOLE.format(why="; ".join(problems_of(error)))


def register(desk: Desk) -> None:
    """The pages ``/readings`` and ``/readings/{id}``."""

    @page("/readings")
    async def own() -> None:
        try:
            viewer = desk.viewer()
        except InputError as error:
            not_here(error)
            return
        await _page(desk, own_name(viewer.name), None)

    @page("/readings/{id}")
    async def of_setup(id: str) -> None:
        try:
            live = desk.live(id)
        except InputError as error:
            not_here(error)
            return
        await _page(desk, id, live)


async def _page(desk: Desk, name: str, live: Live | None) -> None:
    units: UnitSystem = live.draft.system if live is not None else "metric"
    try:
        bench = await desk.remember(desk.benches.get, name, readings_typed.blank(units))
        parts = await desk.remember(desk.benches.get, f"{name}.drift", readings_drift_read.blank(units))
    except InputError as error:
        not_here(error)
        return
    here = Here(desk, bench, parts, live)
    setup, _ = await here.setup()
    with frame(here.title, "" if live is not None else "/readings"):
        with ui.tabs().props("align=left no-caps inline-label outside-arrows mobile-arrows") as tabs:
            first, second, third = (
                ui.tab(words).mark(f"tab-{mark}")
                for words, mark in (
                    (texts.TAB_INDICATOR, "indicator"), (texts.TAB_FEELER, "feeler"), (texts.TAB_DRIFT, "drift"),
                )
            )  # fmt: skip
        with ui.tab_panels(tabs, value=first, animated=False, keep_alive=True):
            with ui.tab_panel(first):
                page = readings_pad.IndicatorPage(here, setup)
                page.build()
            with ui.tab_panel(second):
                _feeler(here)
            with ui.tab_panel(third):
                readings_drift.DriftPage(here).build()
    if live is not None:
        with ui.element("div").classes("bar"):
            button(texts.PLAN, lambda: ui.navigate.to(f"/plan/{name}"))
    page.begin()


def _feeler(here: Here) -> None:
    if here.live is not None:
        readings_taper.TaperPage(here).build()
        return
    html(paragraph(texts.FEELER_NEEDS_SETUP) + heading(texts.OPEN_WITH_SETUP))
    for id in here.desk.drafts.ids():
        try:
            title = here.desk.drafts.get(id).title
        except InputError:
            continue
        html(f'<div class="row-line"><a href="/readings/{escape(id)}">{escape(title)}</a></div>')

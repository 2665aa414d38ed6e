"""The first page: what is being worked on, and what to start from."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from html import escape
from typing import Any

from nicegui import events, ui

from heldtrue.errors import HeldtrueError
from heldtrue.quantities import UnitSystem
from heldtrue.web import sources, texts
from heldtrue.web.desk import Desk, now
from heldtrue.web.fields import Table
from heldtrue.web.frame import button, confirmed, frame, html, in_words
from heldtrue.web.render import heading, paragraph


def register(desk: Desk) -> None:
    """The page ``/``."""

    @ui.page("/")
    async def home() -> None:
        with frame(texts.HOME, "/"):
            await _page(desk)


async def _page(desk: Desk) -> None:
    @in_words
    async def begin(id: str, table: Table, own_files: bool = False) -> None:
        draft = await desk.begin(id, table, own_files=own_files)
        ui.navigate.to(f"/plan/{draft.id}")

    @in_words
    async def upload(event: events.UploadEventArguments) -> None:
        table = await desk.remember(sources.open_bytes, await event.file.read())
        await begin(event.file.name.rpartition("/")[2].removesuffix(".toml"), table)

    with ui.element("div").classes("split"):
        with ui.element("section"):
            _begin_new(begin, upload)
            await _examples(desk, begin)
        with ui.element("section"):
            await _drafts(desk)
            await _stored(desk, begin)


def _begin_new(begin: Callable[..., Awaitable[None]], upload: Callable[..., Any]) -> None:
    html(heading(texts.NEW))
    with ui.element("div").classes("row-line"):
        for words, units in ((texts.NEW_METRIC, "metric"), (texts.NEW_INCH, "inch")):
            made: UnitSystem = "inch" if units == "inch" else "metric"
            button(
                words,
                lambda made=made: begin(_new_name(), sources.blank_setup(made)),
                main=units == "metric",
            )
    ui.upload(label=texts.OPEN_FILE, on_upload=upload, auto_upload=True, max_file_size=1_000_000).props(
        'accept=".toml" flat bordered'
    ).classes("w-full").mark("open-file")


def _new_name() -> str:
    """A name no other setup has: two new ones must not share a history."""
    return f"setup-{now():%Y%m%d-%H%M%S}"


async def _examples(desk: Desk, begin: Callable[..., Awaitable[None]]) -> None:
    html(heading(texts.EXAMPLES))
    for one in await desk.remember(sources.examples, desk.examples):

        @in_words
        async def take(key: str = one.key) -> None:
            await begin(key, await desk.remember(sources.open_example, desk.examples, key), True)

        _row(one.title, "", take, f"example-{one.key}")


async def _drafts(desk: Desk) -> None:
    html(heading(texts.OPEN_DRAFTS))
    ids = await desk.remember(desk.drafts.ids)
    if not ids:
        html(paragraph(texts.NO_DRAFTS))
    for id in ids:
        try:
            title = (await desk.remember(desk.drafts.get, id)).title
        except HeldtrueError as error:  # one broken file must not hide the others
            title = str(error)
        with ui.element("div").classes("row-line"):
            html(f'<a href="/plan/{id}">{escape(title)}</a>').classes("what")
            ui.label(id)
            button(texts.REMOVE, lambda id=id: _remove(desk, id)).mark(f"remove-{id}")


async def _remove(desk: Desk, id: str) -> None:
    if await confirmed(f"{id}: {texts.REMOVE_ASK}"):
        await desk.throw_away(id)
        ui.navigate.to("/")


async def _stored(desk: Desk, begin: Callable[..., Awaitable[None]]) -> None:
    html(heading(texts.STORED))
    found = await desk.remember(sources.stored, desk.store)
    if not found:
        html(paragraph(texts.NO_STORED))
    for one in found:

        @in_words
        async def take(key: str = one.key) -> None:
            await begin(key, await desk.remember(sources.open_stored, desk.store, key))

        _row(one.title, one.key, take, f"stored-{one.key}")


def _row(title: str, id: str, take: Callable[[], Awaitable[None]], mark: str) -> None:
    with ui.element("div").classes("row-line"):
        ui.label(title).classes("what")
        if id:
            ui.label(id)
        button(texts.OPENED, lambda: take()).mark(mark)

"""The first page: three ways in, and below them what is being worked on and what is saved."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from html import escape
from typing import Any

from nicegui import app, events, ui

from heldtrue.errors import HeldtrueError
from heldtrue.planning.toml_file import LARGEST_FILE
from heldtrue.quantities import UnitSystem
from heldtrue.web import sample, sources, texts
from heldtrue.web.desk import Desk, folder_of, now
from heldtrue.web.fields import Table, put
from heldtrue.web.frame import button, confirmed, file_button, frame, html, in_words, page, say
from heldtrue.web.part import words as part_words
from heldtrue.web.part.page import drop_button, shape_buttons
from heldtrue.web.render import heading, paragraph

SAID = 40
"""Setups of the records of which the first page says what changed since the last run: each is a look-up."""

FOUND_SHOWN = 3
"""Saved setups shown under the search: who sees more than that types another word."""

_SAMPLE = sample.SampleProcess()


def register(desk: Desk) -> None:
    """The page ``/``."""
    app.on_shutdown(_SAMPLE.close)

    @page("/")
    async def home() -> None:
        with frame(texts.WHAT_IT_DOES, "/"):
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

    with ui.element("div").classes("ways-in"):
        _new_part(desk, begin, upload)
        await _again(desk, begin)
        await _look_around(desk, begin)
    with ui.element("div").classes("two-lists"):
        with ui.element("section"):
            await _drafts(desk, begin)
        with ui.element("section"):
            await _stored(desk, begin)


def _new_part(desk: Desk, begin: Callable[..., Awaitable[None]], upload: Callable[..., Any]) -> None:
    """A part from its drawing, from a shape, or typed; or a file of it."""
    with ui.element("section").classes("sheet"):
        html(heading(texts.NEW_PART))
        with ui.element("div").classes("drop") as place:
            html(paragraph(part_words.DROP_HERE))
            drop_button(desk, place)
        html(paragraph(part_words.SHAPE_WORDS))
        shape_buttons(desk)
        html(paragraph(part_words.CORNERS_WORDS))
        with ui.element("div").classes("buttons"):
            _typed_from_nothing(begin)
            file_button(texts.OPEN_FILE, upload, accept=".toml", most=LARGEST_FILE, mark="open-file",
                        refused=texts.FILE_TOO_LARGE)  # fmt: skip


async def _again(desk: Desk, begin: Callable[..., Awaitable[None]]) -> None:
    """A saved setup once more, found by what is remembered of it."""
    with ui.element("section").classes("sheet"):
        html(heading(texts.JOB_AGAIN))
        sought = ui.input(texts.FIND_SETUP).classes("w-full").mark("find-setup")
        sought.props(f'outlined stack-label debounce=250 hint="{texts.FIND_SETUP_HINT}" type=search')
        place = ui.element("div").classes("found").props("role=status").mark("found-setups")

    async def find() -> None:
        words = str(sought.value or "")
        found, count = await desk.remember(desk.finder.find, desk.store, words, FOUND_SHOWN)
        if words != str(sought.value or ""):  # more was typed meanwhile
            return
        place.clear()
        with place:
            for one in found:
                ran = texts.LAST_RUN.format(when=one.last_run) if one.last_run else texts.NEVER_RUN
                _row(one.title, one.about, _taker(desk, begin, one.id), f"found-{one.id}", texts.AGAIN, ran)
            if not found:
                html(paragraph(texts.NONE_FOUND if words else texts.NO_STORED))
            if count > len(found):
                html(paragraph(texts.FOUND_MORE.format(count=count - len(found))))

    sought.on_value_change(in_words(find))
    await find()


def _taker(desk: Desk, begin: Callable[..., Awaitable[None]], key: str) -> Callable[[], Awaitable[None]]:
    """What opens a saved setup again."""

    @in_words
    async def take() -> None:
        await begin(key, await desk.remember(sources.open_stored, desk.store, key))

    return take


async def _look_around(desk: Desk, begin: Callable[..., Awaitable[None]]) -> None:
    """The sample shop, and examples alone."""
    with ui.element("section").classes("sheet"):
        html(heading(texts.LOOK_AROUND))
        _sample(desk)
        await _examples(desk, begin)


def _typed_from_nothing(begin: Callable[..., Awaitable[None]]) -> None:
    for words, units in ((texts.NEW_METRIC, "metric"), (texts.NEW_INCH, "inch")):
        made: UnitSystem = "inch" if units == "inch" else "metric"
        button(words, lambda made=made: begin(_new_name(), sources.blank_setup(made)))


def _new_name() -> str:
    """A name no other setup has: two new ones must not share a history."""
    return f"setup-{now():%Y%m%d-%H%M%S}"


def _sample(desk: Desk) -> None:
    """The sample shop beside this one; only where nobody else is served: it has a process of its own on this PC."""
    shop, examples = folder_of(desk.records), desk.examples
    if desk.door is not None or examples is None or (shop / sample.MARK).exists():
        return

    own = str(ui.context.client.request.base_url)

    @in_words
    async def open_it() -> None:
        say(texts.SAMPLE_LOADING)
        folder = await desk.remember(sample.load, shop, examples, now())
        address = await desk.remember(_SAMPLE.open, folder, own)
        say(texts.SAMPLE_THERE.format(address=address))
        ui.navigate.to(address)

    @in_words
    async def remove() -> None:
        if await confirmed(texts.SAMPLE_ASK):
            await desk.remember(_SAMPLE.close)
            await desk.remember(sample.remove, shop)
            ui.navigate.to("/")

    html(paragraph(texts.SAMPLE_WORDS))
    loaded = sample.is_loaded(shop)
    with ui.element("div").classes("row-line"):
        button(texts.SAMPLE_OPEN if loaded else texts.SAMPLE_LOAD, open_it).mark("sample-open")
        if loaded:
            button(texts.SAMPLE_REMOVE, remove).mark("sample-remove")


async def _examples(desk: Desk, begin: Callable[..., Awaitable[None]]) -> None:
    html(paragraph(texts.EXAMPLES))
    for one in await desk.remember(sources.examples, desk.examples):

        @in_words
        async def take(key: str = one.key) -> None:
            await begin(key, await desk.remember(sources.open_example, desk.examples, key), True)

        _row(one.title, "", take, f"example-{one.key}")


async def _drafts(desk: Desk, begin: Callable[..., Awaitable[None]]) -> None:
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
            html(f'<a href="/plan/{id}">{escape(title)}</a><div class="hint">{escape(id)}</div>').classes("what")
            button(texts.SAVE_COPY, lambda id=id: _copy(desk, id, begin)).mark(f"copy-{id}")
            button(texts.REMOVE, lambda id=id: _remove(desk, id)).mark(f"remove-{id}")


@in_words
async def _copy(desk: Desk, id: str, begin: Callable[..., Awaitable[None]]) -> None:
    """The same setup under another name and title: the two have no history together."""
    draft = await desk.remember(desk.drafts.get, id)
    table = put(draft.table, "title", texts.COPIED.format(title=draft.title))
    if draft.has_template:  # its file belongs to the other
        table = put(table, "boring.template", None)
    await begin(texts.COPY_NAME.format(id=draft.record or id), table, draft.own_files)


async def _remove(desk: Desk, id: str) -> None:
    if await confirmed(f"{id}: {texts.REMOVE_ASK}"):
        await desk.throw_away(id)
        ui.navigate.to("/")


async def _stored(desk: Desk, begin: Callable[..., Awaitable[None]]) -> None:
    html(heading(texts.STORED))
    found = await desk.remember(sources.stored, desk.store)
    if not found:
        html(paragraph(texts.NO_STORED))
    for number, one in enumerate(found):
        since = await desk.remember(sources.since_run, desk.store, one.key) if number < SAID else ""
        _row(one.title, one.key, _taker(desk, begin, one.key), f"stored-{one.key}", texts.AGAIN, since)


def _row(
    title: str, id: str, take: Callable[[], Awaitable[None]], mark: str, words: str = texts.OPENED, more: str = ""
) -> None:
    with ui.element("div").classes("row-line"):
        with ui.element("div").classes("what"):
            ui.label(title).style("font-weight: 700")
            for said in filter(None, (more, id)):
                ui.label(said).classes("hint")
        button(words, lambda: take()).mark(mark)

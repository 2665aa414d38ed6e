"""The frame of every page: heading, ways to the other pages, cautions, and errors in words."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from html import escape
from typing import ParamSpec

from nicegui import events, ui

from heldtrue.errors import HeldtrueError
from heldtrue.web import help_pages, texts
from heldtrue.web.access.door import LOGOUT, VIEWER
from heldtrue.web.trouble import problems_of

P = ParamSpec("P")
STILL_THERE = "still-there"
"""The event by which the browser asks."""
PATIENCE = 60.0
"""The longest that a page may take to be put together when many ask at once, s; the library gives up after 3."""


def page(path: str) -> ui.page:
    """Decorator of a page at ``path``."""
    return ui.page(path, response_timeout=PATIENCE)


@contextmanager
def frame(title: str, here: str = "", *, facts: str = "") -> Iterator[None]:
    """One page: ``title`` in the tab and the heading, ``here`` the way that is shown as taken.

    ``facts``: a few words beside the title. What a page puts below the frame stays in sight at the bottom.
    """
    ui.page_title(f"{title} · {texts.APP}")
    html(f'<a class="skip" href="#content">{escape(texts.SKIP)}</a>')
    ways = (*texts.NAV, *([(texts.HELP, help_pages.FIRST)] if help_pages.folder() is not None else []))
    links = "".join(
        f'<a href="{to}"{" aria-current=page" if to == here else ""}>{escape(words)}</a>' for words, to in ways
    )
    html(f'<header class="top"><span class="name">{escape(texts.APP)}</span>'
         f'<nav aria-label="pages">{links}</nav><div class="own">{_look()}{_login()}</div></header>')  # fmt: skip
    html(f'<p class="lost" role="alert">{escape(texts.NOT_CONNECTED)}</p>')
    viewer = ui.context.client.request.scope.get(VIEWER)
    if viewer is not None and not viewer.may("set up"):
        html(f'<p class="look-only" role="note">{escape(texts.LOOK_ONLY)}</p>')
    with ui.element("main").classes("body").props('id=content tabindex="-1"'):
        beside = f'<span class="hint">{escape(facts)}</span>' if facts else ""
        html(f'<div class="title"><h1>{escape(title)}</h1>{beside}</div>')
        yield
        lines = " ".join(escape(line) for line in texts.CAUTION_LINES)
        html(f'<footer class="cautions" role="note"><strong>{escape(texts.CAUTIONS)}</strong>{lines}</footer>')


def _login() -> str:
    """Who has logged in, and the way out; nothing where nobody has to."""
    viewer = ui.context.client.request.scope.get(VIEWER)
    if viewer is None:
        return ""
    people = f'<a href="/people">{escape(texts.PEOPLE)}</a>' if viewer.may("administer") else ""
    return (f'{people}<a href="/me">{escape(viewer.name)}</a><form method="post" action="{LOGOUT}">'
            f'<button class="plain">{escape(texts.LOG_OUT)}</button></form>')  # fmt: skip


def _look() -> str:
    """Theme and text size; ``look.js`` keeps and applies what is chosen."""
    groups = "".join(
        f"<fieldset><legend>{escape(words)}</legend>" + "".join(
            f'<label><input type="radio" name="{name}" value="{value}">{escape(choice)}</label>'
            for value, choice in choices
        ) + "</fieldset>"
        for name, words, choices in texts.LOOK_CHOICES
    )  # fmt: skip
    return f'<details class="look"><summary>{escape(texts.LOOK)}</summary><div>{groups}</div></details>'


@contextmanager
def needs_server() -> Iterator[None]:
    """What is answered: the browser hides it (``alive.js``) once nobody says any more that it still stands.

    Who says so is up to the page, once: ``ui.on(STILL_THERE, still_there)`` where the server need only be there.
    """
    with ui.element("div").classes("block needs-server"):
        yield


def still_there(event: events.GenericEventArguments) -> None:
    """The browser asks whether anybody is there who would change what it shows."""
    if isinstance(event.args, int):
        ui.run_javascript(f"stillThere({event.args})")


def html(content: str) -> ui.html:
    """HTML that ``render`` or this page escaped."""
    return ui.html(content, sanitize=False).classes("block")


def button(words: str, action: Callable[..., object], *, main: bool = False) -> ui.button:
    """A button big enough for a glove; on paper it would do nothing."""
    made = ui.button(words, on_click=action, color=None).props("unelevated no-caps").classes("print-hide")
    return made.classes("main") if main else made


def press(made: ui.button, on: bool) -> None:
    """Show a button that stands for a choice as taken, or not."""
    made.props(f"aria-pressed={'true' if on else 'false'}")
    made.classes(add="main" if on else "", remove="" if on else "main")


def file_button(
    words: str, taken: Callable[[events.UploadEventArguments], Awaitable[None]], *, accept: str, most: int,
    mark: str, refused: str = "", camera: bool = False, main: bool = False, place: ui.element | None = None,
) -> ui.button:  # fmt: skip
    """A button that hands over a file of at most ``most`` bytes; the library's own box cannot be read out or reached.

    ``refused``: said of a larger file; ``camera``: opens the camera of a tablet. ``mark`` is that of the file itself.
    ``place``: what a file can be dropped on as well.
    """

    work = [taken]
    # The server's caches keep the way by which the file comes long after the page has gone, but not the page with it.
    ui.context.client.on_delete(work.clear)

    async def come(event: events.UploadEventArguments) -> None:
        event.sender.reset()  # type: ignore[attr-defined]
        for one in work:
            await one(event)

    say_so = (lambda: say(refused)) if refused else None
    box = ui.upload(on_upload=come, auto_upload=True, max_file_size=most, on_rejected=say_so).style("display: none")
    box.props(f'accept="{accept}" no-thumbnails' + (' capture="environment"' if camera else "")).mark(mark)
    made = button(words, lambda: None, main=main)
    # In the browser itself: only a touch of the user's own may open a file or the camera.  ``runMethod`` finds the
    # method where the library keeps it, inside of its own wrapping.
    made.on("click", js_handler=f"() => runMethod({box.id}, 'pickFiles', [])")
    if place is not None:
        place.on("dragover", js_handler="(event) => event.preventDefault()")
        place.on("drop", js_handler="(event) => { event.preventDefault(); "
                 f"runMethod({box.id}, 'addFiles', [event.dataTransfer.files]); }}")  # fmt: skip
    return made


def say(*words: str) -> None:
    """Words at the upper edge, where they hide no button, for as long as it takes to read them."""
    for line in words:
        ui.notify(line, position="top", timeout=6000, close_button="OK")


def go(to: str, *words: str) -> None:
    """Another page of the app, with words that stay to be read there: ``look.js`` says them once more."""
    say(*words)
    ui.run_javascript(f"sessionStorage.setItem('said', {json.dumps(json.dumps(words))})")
    ui.navigate.to(to)


async def confirmed(question: str) -> bool:
    """Ask before something that cannot be taken back."""
    with ui.dialog() as dialog, ui.element("div").classes("sheet"):
        ui.label(question)
        with ui.element("div").classes("row-line"):
            button(texts.YES, lambda: dialog.submit(True), main=True).mark("yes")
            button(texts.NO, lambda: dialog.submit(False)).mark("no")
    answer = bool(await dialog)
    if not dialog.is_deleted:  # gone with its page
        dialog.delete()
    return answer


def in_words(work: Callable[P, Awaitable[None]]) -> Callable[P, Awaitable[None]]:
    """An event whose errors on purpose are said in words."""

    @wraps(work)
    async def wrapped(*arguments: P.args, **more: P.kwargs) -> None:
        try:
            await work(*arguments, **more)
        except HeldtrueError as error:
            say(*problems_of(error))

    return wrapped


def not_here(error: HeldtrueError) -> None:
    """A page that is not there, in words."""
    with frame(texts.NOT_FOUND):
        for problem in problems_of(error):
            ui.label(problem)
        ui.link(texts.TO_HOME, "/")

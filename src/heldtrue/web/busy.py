"""The sign that something is worked out, for how long by now, and the way to stop it."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from contextlib import suppress
from time import monotonic
from typing import Any, TypeVar

from nicegui import ui

from heldtrue.errors import HeldtrueError
from heldtrue.web import texts
from heldtrue.web.frame import button

R = TypeVar("R")
SOON = 0.5
"""What takes longer can be stopped, s; what is there sooner would only flicker."""


class StoppedError(HeldtrueError):
    """Whoever asked does not want the answer any more."""


class Busy:
    """One line of a page: what is worked out. ``mark``: that of the line; its button has ``-stop`` behind it."""

    def __init__(self, mark: str = "busy") -> None:
        self.label = ui.label("").classes("busy").props('aria-live="polite"').mark(mark)
        self.button = button(texts.STOP, self.stop).mark(f"{mark}-stop")
        self.button.visible = False
        self._task: asyncio.Task[Any] | None = None
        self._words, self._began, self._stopped = "", 0.0, False
        ui.timer(SOON, self._tick)

    async def over(self, work: Coroutine[Any, Any, R], words: str) -> R:
        """The answer of ``work``. Raises: what it raises, ``StoppedError`` where it was stopped."""
        if self._task is not None:  # asked anew: nobody waits for the answer before
            self._task.cancel()
        task = asyncio.ensure_future(work)
        self._task, self._words, self._began, self._stopped = task, words, monotonic(), False
        self.label.text = words
        self.label.classes(add="on")
        try:
            return await task
        except asyncio.CancelledError:
            if task.cancelled() and (self._stopped or self._task is not task):
                raise StoppedError(texts.STOPPED) from None
            raise
        finally:
            task.cancel()
            if self._task is task:
                self._task = None
                self.label.text = ""
                self.label.classes(remove="on")
                self.button.visible = False

    def stop(self) -> None:
        """Nobody wants it any more."""
        if self._task is not None:
            self._stopped = True
            self._task.cancel()

    def _tick(self) -> None:
        seconds = monotonic() - self._began
        if self._task is not None and seconds >= SOON:
            self.label.text = texts.WORKING_FOR.format(words=self._words, seconds=seconds)
            self.button.visible = True


async def waited_for(work: Coroutine[Any, Any, R], words: str = texts.SOLVING) -> R:
    """The same where a page has no such line: said at the upper edge once it takes longer, with the way to stop it."""
    task = asyncio.ensure_future(work)
    sign: ui.notification | None = None
    stopped = False

    def stop() -> None:
        nonlocal stopped
        stopped = not task.done()
        task.cancel()

    try:
        await asyncio.wait({task}, timeout=SOON)
        if not task.done():
            sign = ui.notification(words, position="top", spinner=True, timeout=None, close_button=texts.STOP,
                                   on_dismiss=stop)  # fmt: skip
        return await task
    except asyncio.CancelledError:
        if stopped:
            raise StoppedError(texts.STOPPED) from None
        raise
    finally:
        task.cancel()
        if sign is not None:
            with suppress(RuntimeError):  # its page has gone
                sign.dismiss()

"""Only the newest state is worked out: what was asked for meanwhile comes next, once, and nothing old is shown."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from nicegui import background_tasks, ui


class Newest:
    """Work that is asked for with every key; ``work`` gives what shows its answer, ``place`` is where that stands."""

    def __init__(self, work: Callable[[], Awaitable[Callable[[], None]]], place: ui.element) -> None:
        self._work, self._place = work, place
        self._again = self._busy = False

    def ask(self) -> None:
        """Something is new."""
        self._again = True
        if not self._busy:
            self._busy = True
            background_tasks.create(self._until_newest())

    async def _until_newest(self) -> None:
        try:
            while self._again:
                self._again = False
                show = await self._work()
                if self._place.is_deleted:  # the page was closed meanwhile
                    return
                if not self._again:
                    show()
        finally:
            self._busy = False

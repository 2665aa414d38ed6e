"""What the pages that are typed into share: boxes kept with every letter, and answers that need the server."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from html import escape
from typing import Any

from nicegui import events, ui

from heldtrue.web.desk import Desk
from heldtrue.web.fields import Table, get
from heldtrue.web.frame import html, in_words, needs_server
from heldtrue.web.measuring import words
from heldtrue.web.readings.store import Bench
from heldtrue.web.render import bullets

TYPING = 120
"""Pause in typing after which a value is taken in, ms."""
LONGEST, LONGEST_TEXT = 60, 20_000
Hint = Callable[[str], str]
"""What stands below a box, by what was typed."""


class BenchBoxes:
    """Boxes over one bench: what was typed is everybody's, in every tab."""

    def __init__(self, desk: Desk, bench: Bench) -> None:
        self.desk, self.bench = desk, bench
        self._boxes: dict[str, tuple[Hint, ui.input | ui.textarea | ui.select]] = {}

    @property
    def table(self) -> Table:
        """What was typed, as it stands."""
        return self.bench.typed.table

    def put(self, values: Table, label: str) -> Awaitable[None]:
        """Keep what was typed; what goes wrong is said."""
        return in_words(self.desk.type_reading)(self.bench, values, label)

    def text(self, path: str, label: str, *, hint: str | Hint = "", suffix: str = "", many: bool = False) -> ui.element:
        """A box for words or a number; ``hint``: words, or how what was typed is understood."""
        made: ui.input | ui.textarea = (ui.textarea if many else ui.input)(label, value=self._typed_at(path))
        numeric = "" if many else 'inputmode="decimal"'
        made.props(f'outlined stack-label debounce={TYPING} autocomplete="off" {numeric}')
        made.props(f"maxlength={LONGEST_TEXT if many else LONGEST}")
        if suffix:
            made._props["suffix"] = suffix
        return self._kept(path, label, hint, made)

    def choice(self, path: str, label: str, choices: Mapping[Any, str]) -> ui.element:
        """A box to choose from."""
        value = get(self.table, path)
        made = ui.select(dict(choices), label=label, value=value if value in choices else None)
        made.props('outlined stack-label behavior="menu"')
        return self._kept(path, label, "", made)

    def forget(self, *paths: str) -> None:
        """Boxes that were taken off the page."""
        for path in paths:
            self._boxes.pop(path, None)

    def show_boxes(self, wrong: Mapping[str, str]) -> None:
        """What was typed, here or in another tab, and why it cannot be read."""
        for path, (hint, box) in self._boxes.items():
            value = get(self.table, path)
            if isinstance(box, ui.select):
                shown = value if value in box.options else None
                if box.value != shown:
                    box.value = shown
                continue
            if str(box.value or "") != str(value or ""):
                box.value = str(value or "")
            box.error = wrong.get(path)
            if box._props.get("hint", "") != (below := hint(str(value or ""))):
                box._props["hint"] = below
                box.update()

    def watch(self, changed: Callable[[], None]) -> None:
        """Hear of every change for as long as the page is open."""
        self.bench.watchers.add(changed)
        ui.context.client.on_delete(lambda: self.bench.watchers.discard(changed))

    def _kept(self, path: str, label: str, hint: str | Hint, made: Any) -> ui.element:
        made.on_value_change(partial(self._typed, path, label))
        made.mark(path.rpartition(".")[2] if not path.startswith("slips") else path)
        self._boxes[path] = ((lambda _: hint) if isinstance(hint, str) else hint, made)
        return made  # type: ignore[no-any-return]

    def _typed_at(self, path: str) -> str:
        return str(get(self.table, path) or "")

    async def _typed(self, path: str, label: str, event: events.ValueChangeEventArguments[Any]) -> None:
        value = "" if event.value is None else event.value
        # What this page was just told by another tab is nothing that was typed.
        if value != (get(self.table, path) or ""):
            await self.put({path: value}, label)


@contextmanager
def answers() -> Iterator[None]:
    """A place for answers: hidden, and said so, where the server cannot be reached."""
    html(f'<p class="lost here" role="alert">{escape(words.NOT_CONNECTED)}</p>')
    with needs_server():
        yield


def not_yet(head: str, lines: Iterable[str]) -> str:
    """Why there is no answer, in place of one."""
    return (f'<div class="verdict not-proven small" role="status"><div class="word">{escape(head)}</div>'
            f"{bullets(lines)}</div>")  # fmt: skip

"""A short list of the setup with its heading, its rows, and buttons to add and to remove one: rings, steps."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from typing import Any

from nicegui import ui

from heldtrue.web import texts
from heldtrue.web.desk import Desk, Live
from heldtrue.web.fields import Field, get
from heldtrue.web.frame import button, html, in_words
from heldtrue.web.plan.box import Box
from heldtrue.web.plan.rows import Rows
from heldtrue.web.sections import label_of, row_fields

NEW_ROWS: dict[str, dict[str, Any]] = {
    "chuck.grip_readings": {"pressure": None, "force": None, "days": None}, "boring.rings": {"kind": "ring"},
    "boring.steps": {"diameter": None, "z": None}, "jaws.last_cut.steps": {"diameter": None, "z": None},
}  # fmt: skip
"""What a row begins with."""
MAY_BE_NONE = {"jaws.last_cut.steps": (texts.NO_OLD_STEPS, texts.OLD_STEPS_NONE, texts.OLD_STEPS_UNKNOWN)}
"""Lists of which an empty one says more than none: the button that says it, and the words for either."""


class RowList:
    """The list at ``path`` under its heading; ``wrong``: what is wrong at a path; ``more``: the closed part around."""

    def __init__(self, desk: Desk, live: Live, words: str, path: str, wrong: Callable[[str], list[str]],
                 more: str = "") -> None:  # fmt: skip
        self.desk, self.live, self.path, self._wrong, self._more = desk, live, path, wrong, more
        html(f"<h3>{words}</h3>")
        self._state = ui.label("").classes("hint")
        self.rows = Rows(live, path, self._fields, self._row)
        with ui.element("div").classes("row-line"):
            self._button(texts.ROW_ADD, self._add, f"add-{path}")
            if path in MAY_BE_NONE:
                self._button(MAY_BE_NONE[path][0], self._none, f"none-{path}")
        self.refresh()

    def refresh(self) -> None:
        """Follow the draft."""
        self.rows.refresh()
        _, none, unknown = MAY_BE_NONE.get(self.path, ("", "", ""))
        said = "" if self.rows.values else unknown if get(self.live.draft.table, self.path) is None else none
        self._state.text = said
        self._state.set_visibility(bool(said))

    def _button(self, words: str, action: Callable[[], Any], mark: str) -> None:
        button(words, action).mark(mark).props(f'id="{mark}"')

    def _fields(self, number: int) -> tuple[Field, ...]:
        return row_fields(self.live.draft.table, self.path, number)

    def _row(self, number: int, rows: Rows, place: ui.element) -> tuple[list[Box], Callable[[int], None]]:
        with ui.element("div").classes("grid"):
            boxes = [Box(self.desk, self.live, field, self._wrong) for field in self._fields(number)]
        for box in boxes:
            box.more = self._more
        take = button("", lambda: self._remove(rows.number_of(place)))

        def renumber(number: int) -> None:
            take.text = self._removing(number)
            take._markers[:] = [f"take-{self.path}-{number}"]

        return boxes, renumber

    def _removing(self, number: int) -> str:
        return texts.ROW_REMOVE.format(what=label_of(self.live.draft.table, f"{self.path}.{number}"))

    @in_words
    async def _add(self) -> None:
        """One more, with the cursor in it."""
        there = deepcopy(self.rows.values)
        self.rows.wanted = len(there)
        try:
            rows = [*there, dict(NEW_ROWS[self.path])]
            await self.desk.change(self.live, {self.path: rows}, texts.ROW_ADD, unfinished=True)
        finally:
            self.rows.wanted = None

    @in_words
    async def _remove(self, number: int) -> None:
        rest = [one for place, one in enumerate(self.rows.values) if place != number]
        await self.desk.change(self.live, {self.path: rest or None}, self._removing(number))

    @in_words
    async def _none(self) -> None:
        await self.desk.change(self.live, {self.path: []}, MAY_BE_NONE[self.path][0])

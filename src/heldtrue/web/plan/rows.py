"""A list of the form, row by row: rows stay while others come and go, and so does what is being typed there."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from nicegui import ui

from heldtrue.web.alignment import aligned
from heldtrue.web.desk import Live
from heldtrue.web.fields import Field, bare, get
from heldtrue.web.plan.box import Box


@dataclass
class Row:
    """One entry of a list: its element, its boxes in order, what fields it was built for, and its heading by number."""

    place: ui.element
    boxes: list[Box]
    kind: tuple[str, ...]
    renumber: Callable[[int], None]


Build = Callable[[int, "Rows", ui.element], tuple[list[Box], Callable[[int], None]]]
"""Puts a row on the page: gives its boxes, and what to do when its number changes."""


class Rows:
    """The rows of the list at ``path``.

    ``fields``: those of one row, by its number, in the order in which ``build`` makes their boxes.
    """

    def __init__(self, live: Live, path: str, fields: Callable[[int], tuple[Field, ...]],
                 build: Build) -> None:  # fmt: skip
        self.live, self.path, self._fields, self._build = live, path, fields, build
        self.place = ui.element("div").classes("block")
        self.rows: list[Row] = []
        self._seen: list[Any] = []
        self.wanted: int | None = None
        self.refresh()

    @property
    def values(self) -> list[Any]:
        """The rows as the draft has them."""
        found = bare(get(self.live.draft.table, self.path))
        return list(found) if isinstance(found, list | tuple) else []

    def number_of(self, place: ui.element) -> int:
        """Where a row stands now."""
        return next(number for number, one in enumerate(self.rows) if one.place is place)

    def refresh(self) -> None:
        """Follow the list: take rows away, put new ones in, and let the others be."""
        now = self.values
        if now != self._seen or len(now) != len(self.rows):
            self._follow(aligned(self._seen, now))
            self._seen = deepcopy(now)
        for number, row in enumerate(self.rows):
            for box, field in zip(row.boxes, self._fields(number), strict=True):
                if box.field != field:  # what it offers may have changed elsewhere: a surface of another name
                    box.rebind(field)
                box.show()

    def _follow(self, places: list[int | None]) -> None:
        old, self.rows = self.rows, []
        keep = {place for number, place in enumerate(places) if place is not None and self._fits(old[place], number)}
        for position, row in enumerate(old):
            if position not in keep:
                row.place.delete()
        for number, place in enumerate(places):
            if place in keep and place is not None:
                row = old[place]
                for box, field in zip(row.boxes, self._fields(number), strict=True):
                    if box.field != field:
                        box.rebind(field)
            else:
                row = self._new(number)
            row.renumber(number)
            self.rows.append(row)
            row.place.move(self.place, target_index=number)
        if self.wanted is not None and self.wanted < len(self.rows) and self.rows[self.wanted].boxes:
            self.rows[self.wanted].boxes[0].focus()
        self.wanted = None

    def _fits(self, row: Row, number: int) -> bool:
        return row.kind == self._kind(number)

    def _kind(self, number: int) -> tuple[str, ...]:
        head = f"{self.path}.{number}."
        return tuple(field.path.removeprefix(head) for field in self._fields(number))

    def _new(self, number: int) -> Row:
        with self.place, ui.element("div").classes("block") as place:
            boxes, renumber = self._build(number, self, place)
        return Row(place, boxes, self._kind(number), renumber)

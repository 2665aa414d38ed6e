"""What is still missing or to be put right, as a list that leads to the fields."""

from __future__ import annotations

from html import escape

from nicegui import ui

from heldtrue.web import texts
from heldtrue.web.frame import button, html
from heldtrue.web.places import Point, in_labels
from heldtrue.web.plan.form import Form
from heldtrue.web.render import paragraph
from heldtrue.web.sections import label_of, section_of


class MissingList:
    """The list of one tab; empty where the setup holds together."""

    def __init__(self, form: Form) -> None:
        self.form = form
        self.place = ui.element("div").classes("block missing").mark("missing")
        self._shown: list[Point] | None = None
        self.refresh()

    def refresh(self) -> None:
        """Follow the draft."""
        points = self.form.wrongs.points()
        if points == self._shown:
            return
        self._shown = points
        self.place.clear()
        if not points:
            return
        with self.place:
            gone = sum(one.missing for one in points)
            counts = ((texts.STILL_MISSING, gone), (texts.TO_PUT_RIGHT, len(points) - gone))
            words = ". ".join(line.format(count=count) for line, count in counts if count)
            html(f"<h2>{escape(words)}</h2>{paragraph(texts.GO_THERE)}")
            for number, name in enumerate(texts.SECTIONS):
                here = [one for one in points if section_of(one.path) == number]
                if here:
                    html(f"<h3>{escape(name)} ({len(here)})</h3>")
                for one in here:
                    self._line(one)

    def _line(self, point: Point) -> None:
        table = self.form.live.draft.table
        label = label_of(table, point.path) if point.path else ""
        words = label if point.missing and label else in_labels(table, point.problem)
        made = button(f"{'□' if point.missing else '!'} {words}", lambda: self.form.go_to(point.path))
        made.mark(f"go-{point.path}")

"""Which drawing the part of a setup is: said above its corners for as long as they are those of the drawing."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from typing import Any

from nicegui import background_tasks, ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.planning.forms_asked import SECTIONS
from heldtrue.web.desk import Desk, Live
from heldtrue.web.fields import bare, get, is_from_file
from heldtrue.web.frame import button, html, in_words
from heldtrue.web.part import words
from heldtrue.web.render import paragraph

Drawn = Mapping[str, Any]


class DrawnNote:
    """The note in the part section; it follows the draft."""

    def __init__(self, desk: Desk, live: Live) -> None:
        self.desk, self.live = desk, live
        self._shown: tuple[str, Drawn] | None = None
        self._edited = ""
        self._said = html("").mark("drawn")
        self._copy = button(words.COPY, self._download).mark("drawn-copy")
        self._copy.visible = False
        self.refresh()

    def refresh(self) -> None:
        """Say what the draft has now, if that is anything new."""
        found = drawn_of(self.live.draft.table)
        if found == self._shown:
            return
        if found is None and self._shown is not None:
            self._edited = paragraph(words.EDITED.format(name=self._shown[1]["file"]))
        self._shown, self._copy.visible = found, False
        self._said.content = self._edited if found is None else paragraph(drawn_words(*found))
        if found is not None:
            background_tasks.create(self._look(found))

    async def _look(self, found: tuple[str, Drawn]) -> None:
        """Is the copy of the drawing still there, and what it was?"""
        name, digest = str(found[1]["file"]), str(found[1].get("sha256"))
        try:
            state = await self.desk.remember(self.desk.drawings.state, digest, name)
        except HeldtrueError:
            return
        if found != self._shown or self._said.is_deleted:
            return
        more = {"kept": words.KEPT_COPY, "missing": words.NO_COPY, "changed": words.COPY_CHANGED}[state]
        alert = ' role="alert"' if state == "changed" else ""
        self._said.content = paragraph(drawn_words(*found)) + f"<p{alert}>{escape(more.format(name=name))}</p>"
        self._copy.visible = state == "kept"

    @in_words
    async def _download(self) -> None:
        if self._shown is None:
            raise InputError(words.GONE)
        name, digest = str(self._shown[1]["file"]), str(self._shown[1].get("sha256"))
        content = await self.desk.remember(self.desk.drawings.content, digest, name)
        ui.download(content, name.replace("\\", "/").rpartition("/")[2])


def drawn_of(table: Mapping[str, Any]) -> tuple[str, Drawn] | None:
    """The section that came from a drawing, ``profile`` or ``blank``, and what the setup keeps of that drawing."""
    for key in SECTIONS:
        there = get(dict(table), f"part.{key}")
        if is_from_file(there):
            return key, {name: bare(value) for name, value in there.items() if name != "corners"}
    return None


def drawn_words(key: str, drawn: Drawn) -> str:
    """Which section is that of which drawing."""
    end = words.DRAWN_END["high" if drawn.get("seat_end") == "high" else "low"]
    return words.DRAWN[key].format(name=drawn["file"], end=end, digest=drawn.get("sha256"))

"""The way from a plan to what it asks to be measured first."""

from __future__ import annotations

from html import escape
from urllib.parse import quote

from heldtrue.web import texts
from heldtrue.web.desk import Live
from heldtrue.web.fields import bare, get
from heldtrue.web.measuring import words

GRIP, FRICTION = "grip share", "friction"
"""Inputs of a plan that these pages can settle, by their names there."""


def way_to_measure(live: Live) -> str:
    """A link to the page that measures what the plan says to measure first; empty where that is something else."""
    found = live.answer
    asked = found.measured_input if found is not None and not found.problems else ""
    if asked == FRICTION:
        return _link(f"/friction/{quote(live.draft.id, safe='')}", words.MEASURE_FRICTION)
    if asked == GRIP:
        number = bare(get(live.draft.table, "chuck.number"))
        return _link(f"/chucks/{quote(str(number), safe='')}/ring" if number else "/chucks", words.MEASURE_GRIP)
    return ""


def way_to_all(id: str) -> str:
    """A link to the page that ranks every measurement of a setup and lists what is assumed."""
    return _link(f"/measure/{quote(id, safe='')}", texts.SEE_TO_MEASURE)


def _link(to: str, said: str) -> str:
    return f'<div class="row-line"><a href="{to}">→ {escape(said)}</a></div>'

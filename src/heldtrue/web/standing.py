"""How the plan of a setup stands, at the top of every page that rests on it, in the words of the plan page."""

from __future__ import annotations

from html import escape

from heldtrue.web import texts
from heldtrue.web.answer import Answer
from heldtrue.web.desk import Desk, Live
from heldtrue.web.frame import html, needs_server
from heldtrue.web.plan.page import watch
from heldtrue.web.render import bullets, paragraph, verdict


class Standing:
    """The verdict of one page; it follows the plan. ``unless``: said below it where the plan does not pass."""

    def __init__(self, desk: Desk, live: Live, unless: str = "") -> None:
        self.live, self.unless = live, unless
        html(f"<h3>{escape(texts.PLAN)}</h3>")  # beside the answer of a gate it must be plain whose verdict this is
        with needs_server():
            self.place = html("").classes("standing-plan").mark("standing")
        watch(live, self._hear)
        if live.answer is None:
            desk.solve(live)
        self._hear("answer")

    def _hear(self, what: str) -> None:
        found = self.live.answer
        if found is None or what != "answer":
            self.place.content = paragraph(texts.PLANNED_ANEW)
        else:
            self.place.content = standing(found, self.unless)


def standing(found: Answer, unless: str = "") -> str:
    """The verdict of a plan, or why there is none."""
    if found.problems:
        return (f'<div class="verdict not-proven" role="status"><div class="word">{escape(texts.NOT_YET)}</div>'
                f"{bullets(found.problems)}</div>")  # fmt: skip
    more = f"<p><strong>{escape(unless)}</strong></p>" if unless and found.verdict != "passes" else ""
    return verdict(found) + more

"""Which sets of the shelf will do for a setup that is being planned, and taking one of them for it."""

from __future__ import annotations

from nicegui import ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.records import Found, JawSet, Match
from heldtrue.shop.enter import card_of
from heldtrue.web import texts, worker
from heldtrue.web.busy import Busy
from heldtrue.web.desk import Desk, Live, checked
from heldtrue.web.frame import button, frame, go, html, in_words, not_here, page
from heldtrue.web.plan.page import watch
from heldtrue.web.render import bullets, heading, paragraph, table
from heldtrue.web.shelf.scan import set_page
from heldtrue.web.trouble import problems_of

TAKEN_FROM_CARD = ("jaws.number", "jaws.style", "jaws.material", "jaws.serration", "jaws.count")
OF_THE_OTHER_SET = ("jaws.last_cut", "jaws.cuts_done", "jaws.tooth", "jaws.bored_pressure")
"""What was said of the set before and is not true of another: the records know these of the new one."""


def register(desk: Desk) -> None:
    """The page ``/shelf/for/{id}``."""

    @page("/shelf/for/{id}")
    async def fitting(id: str) -> None:
        try:
            live = desk.live(id)
        except InputError as error:
            not_here(error)
            return
        with frame(texts.FOR_SETUP.format(title=live.draft.title), "/shelf"):
            page = _Fitting(desk, live)
        with ui.element("div").classes("bar"):
            button(texts.PLAN, lambda: ui.navigate.to(f"/plan/{id}"))
        await page.look()


class _Fitting:
    """One list of sets in one browser."""

    def __init__(self, desk: Desk, live: Live) -> None:
        self.desk, self.live = desk, live
        self.asked = 0
        self.busy = Busy()
        with ui.element("div").classes("row-line"):
            self.style = ui.checkbox(texts.ANY_STYLE, on_change=self.look).mark("any-style")
            self.material = ui.checkbox(texts.ANY_MATERIAL, on_change=self.look).mark("any-material")
        self.place = ui.element("div").classes("block").mark("fitting")
        watch(live, self._tell)

    def _tell(self, what: str) -> None:
        """Another tab changed the setup: these sets are the answer to an old question."""
        if what == "fields":
            self.asked += 1
            self.place.clear()
            ui.timer(0.1, self.look, once=True)

    async def look(self) -> None:
        """Ask the shelf, and show what it has."""
        self.asked += 1
        number = self.asked
        self.place.clear()
        problems: tuple[str, ...] = ()
        found: tuple[Found, tuple[tuple[str, str, str], ...]] | None = None
        try:
            if self.live.draft.pending:
                raise InputError(texts.PENDING_FIRST)
            found = checked(await self.busy.over(self.desk.pool.run(
                self.live.draft.id, worker.find_jaws, self.desk.records, self.live.draft.setup(),
                bool(self.style.value), bool(self.material.value),
            ), texts.FINDING))  # fmt: skip
        except HeldtrueError as error:
            problems = problems_of(error)
        if number != self.asked:  # asked anew meanwhile
            return
        with self.place:
            if found is None:
                html(heading(texts.NOT_YET) + bullets(problems))
            else:
                self._show(*found)

    def _show(self, found: Found, others: tuple[tuple[str, str, str], ...]) -> None:
        system = self.live.draft.system
        html(bullets(found.words))
        for number, match in enumerate(found.matches, 1):
            self._match(number, match, system)
        if found.blanks:
            rows = [(one.id, one.style, one.material, one.serration, str(one.in_stock), one.place)
                    for one in found.blanks[:12]]  # fmt: skip
            html(heading(texts.BLANKS_FIT) + table(texts.BLANK_HEADS, rows))
        if others:
            html(heading(texts.OTHERS) + table(texts.OTHERS_HEADS, others))

    def _match(self, number: int, match: Match, system: UnitSystem) -> None:
        stands = match.standing
        left = texts.NOT_KNOWN if stands.cuts_left is None else str(stands.cuts_left)
        web = texts.NOT_KNOWN if match.web_after is None else format_quantity(match.web_after, "length", system)
        with ui.element("div").classes("row-line"):
            ui.link(stands.jaw_set, set_page(stands.jaw_set)).style("font-size: var(--strong)")
            with ui.element("div").classes("what"):
                html(f"<strong>{number}. {match.cost}</strong>" + paragraph("; ".join(match.words)))
                html(paragraph(f"{texts.METAL} {format_quantity(match.metal, 'length', system)}, {texts.WEB} {web}, "
                               f"{texts.CUTS_LEFT} {left}; {stands.place}"))  # fmt: skip
            button(texts.TAKE_SET, lambda: self.take(stands.jaw_set), main=number == 1).mark(f"take-{stands.jaw_set}")

    @in_words
    async def take(self, number: str) -> None:
        """This set for the setup: what its card says, and nothing that was said of another set."""
        card = await self.desk.remember(card_of, self.desk.store, JawSet, number, "jaw set")
        values = (card.id, card.style, card.material, card.serration or None, card.jaws)
        changes: dict[str, object] = dict(zip(TAKEN_FROM_CARD, values, strict=True))
        if self.live.draft.table.get("jaws", {}).get("number") != number:
            changes |= dict.fromkeys(OF_THE_OTHER_SET)
        changes = {path: value for path, value in changes.items() if value is not None or _there(self.live, path)}
        self.asked += 1
        await self.desk.change(self.live, changes, texts.TAKE_SET)
        go(f"/plan/{self.live.draft.id}", texts.SET_TAKEN.format(set=number))


def _there(live: Live, path: str) -> bool:
    return path.partition(".")[2] in live.draft.table.get("jaws", {})

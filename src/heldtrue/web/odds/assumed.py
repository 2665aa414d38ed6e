"""Every input of a plan with its range and spread, and the place where the shop states its own."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from html import escape
from typing import Any, get_args

from nicegui import ui

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.planning.entries import SpreadKind
from heldtrue.web import texts
from heldtrue.web.boxes import TextBox
from heldtrue.web.desk import Desk, Live
from heldtrue.web.fields import bare, get, spelled, typed_value, units_of
from heldtrue.web.frame import button, html, in_words
from heldtrue.web.odds.work import AssumedRow, stated_rows
from heldtrue.web.places import in_labels
from heldtrue.web.render import Safe, bullets, heading, paragraph, table
from heldtrue.web.sections import assumption_fields, label_of
from heldtrue.web.trouble import problems_of


class AssumptionTable:
    """The table of one browser, with one input of it to change."""

    def __init__(self, desk: Desk, live: Live) -> None:
        self.desk, self.live = desk, live
        self.rows: tuple[AssumedRow, ...] = ()
        html(heading(texts.ASSUMPTIONS) + paragraph(texts.ASSUMPTIONS_SAY)).props('id="assumptions"')
        self.table = html("").mark("assumptions")
        html(f"<h3>{escape(texts.CHANGE_ASSUMPTION)}</h3>")
        self.input = ui.select({}, label=texts.INPUT_TO_CHANGE, on_change=self._open).mark("assumption")
        self.input.props("outlined stack-label").classes("wide")
        self.place = ui.element("div").classes("block")

    async def refresh(self) -> None:
        """Show what the draft has now."""
        problems: tuple[str, ...] = ()
        try:
            self.rows = await self.desk.assumptions(self.live)
        except HeldtrueError as error:
            self.rows, problems = stated_rows(self.live.draft.table), problems_of(error)
        if self.table.is_deleted:
            return
        said = bullets(in_labels(self.live.draft.table, one) for one in problems)
        self.table.content = said or table(texts.ASSUMPTION_HEADS, map(self._cells, self.rows))
        self.input.set_options({one.key: one.label for one in self.rows if one.key})
        self._open()

    def label_of(self, key: str) -> str:
        """What the input of a key of ``[assumptions]`` is called."""
        return next((one.label for one in self.rows if one.key == key), key)

    def choose(self, key: str) -> None:
        """Open an input, with the cursor in its first box."""
        self.input.value = key
        ui.run_javascript(f"getHtmlElement({self.input.id})?.scrollIntoView({{block: 'center'}})")

    def _cells(self, row: AssumedRow) -> Sequence[str]:
        names = ", ".join(label_of(self.live.draft.table, key) for key in row.change if label_of({}, key) != key)
        said = escape(names) + ("<br>" if names else "")
        changed = Safe("".join((said, *(f"<code>{escape(key)}</code> " for key in row.change))))
        of = f'<br><span class="hint">{escape(texts.SPREAD_OF[row.scope])}</span>' if row.scope else ""
        return (row.label, *row.ends, Safe(escape(row.spread) + of), row.source, row.reason, changed)

    def _row(self) -> AssumedRow | None:
        return next((one for one in self.rows if one.key and one.key == self.input.value), None)

    def _open(self, *_: Any) -> None:
        """The boxes of the input that is chosen, with what the setup states of it."""
        self.place.clear()
        row = self._row()
        if row is None:
            return
        stated = get(self.live.draft.table, f"assumptions.{row.key}") or {}
        kinds = {"": texts.SPREAD_AS_LISTED, **{one: one for one in get_args(SpreadKind)}}
        units = units_of(self.live.draft.table)
        of_spread, of_reason, *of_range = assumption_fields(row.key)
        with self.place, ui.element("div").classes("grid"):
            kind = str(bare(stated.get("spread")) or "")
            spread = ui.select(kinds, label=of_spread.label, value=kind if kind in kinds else "")
            spread.props("outlined stack-label").mark("assumption-spread")
            reason = TextBox(of_reason.label, "assumption-reason", value=str(bare(stated.get("reason")) or ""),
                             hint=of_reason.hint)  # fmt: skip
            ends = []
            for place, field in enumerate(of_range):
                now = spelled(field, bare(get(stated, f"range.{place}")), units)
                hint = " ".join((units.bare(field.kind), field.hint)).strip()
                ends.append((field, TextBox(field.label, f"assumption-range-{place}", value=now, hint=hint, most=40)))
        with self.place, ui.element("div").classes("row-line fields"):
            button(texts.ASSUMPTION_SAVE, partial(self._save, row, spread, reason, ends), main=True).mark(
                "assumption-save"
            )
            if stated:
                button(texts.ASSUMPTION_REMOVE, partial(self._remove, row)).mark("assumption-remove")

    @in_words
    async def _save(self, row: AssumedRow, spread: ui.select, reason: TextBox, ends: list[Any]) -> None:
        """All of it at once: half of it would be no setup."""
        found: dict[str, Any] = {"spread": spread.value} if spread.value else {}
        typed = [typed_value(field, box.text(), units_of(self.live.draft.table)) for field, box in ends]
        if any(one is not None for one in typed):
            if any(one is None for one in typed):
                raise InputError(texts.RANGE_BOTH)
            found["range"] = typed
        if not found:
            raise InputError(texts.ASSUMPTION_EMPTY.format(range=texts.ASSUMPTION_OR_RANGE if row.has_range else ""))
        await self._change(row, {**found, "reason": reason.need()}, texts.ASSUMPTION_CHANGED)

    @in_words
    async def _remove(self, row: AssumedRow) -> None:
        await self._change(row, None, texts.ASSUMPTION_REMOVED)

    async def _change(self, row: AssumedRow, value: dict[str, Any] | None, words: str) -> None:
        try:
            await self.desk.assume(self.live, row.key, value, words.format(label=row.label))
        except InputError as error:
            raise InputError(*(in_labels(self.live.draft.table, one) for one in error.problems)) from None

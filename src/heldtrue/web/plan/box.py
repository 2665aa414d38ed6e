"""One field on the page: what is typed, its unit, what is wrong with it, who else typed there, where it comes from."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui
from nicegui.events import GenericEventArguments, ValueChangeEventArguments

from heldtrue.quantities import KINDS
from heldtrue.web import texts
from heldtrue.web.boxes import offer, offered_words
from heldtrue.web.conflict import Conflict
from heldtrue.web.desk import Desk, Live
from heldtrue.web.drafts import LONGEST_TEXT, SavedElsewhereError
from heldtrue.web.fields import Field, echo, source_of, typed_value, unit_of
from heldtrue.web.frame import button, in_words
from heldtrue.web.places import meant

TYPING = 40
"""Pause in typing after which a value is taken in, ms."""
SHOWN_THERE = "(event) => emit(event.target && 'value' in event.target ? String(event.target.value) : null)"
"""What the browser itself showed when the field was entered: a tablet that was asleep shows what was true before."""

UP_AND_DOWN = """(event) => {
    const way = {ArrowDown: "nextElementSibling", ArrowUp: "previousElementSibling"}[event.key];
    if (way) { event.preventDefault(); event.currentTarget[way]?.focus(); }
}"""


class Box:
    """A field of one tab.

    ``base``: what this tab last showed of the draft, and therefore what is being changed; ``more``: the closed part of
    the form it stands in, empty where it is always on show.
    """

    def __init__(self, desk: Desk, live: Live, field: Field, wrong: Callable[[str], list[str]]) -> None:
        self.desk, self.live, self.field = desk, live, field
        self.base = live.draft.text(field)
        self.conflict: Conflict | None = None
        self.more = ""
        self._wrong, self._inside, self._own, self._sending, self._asked = wrong, False, False, False, ""
        self._marked: tuple[object, ...] = ()
        self._sources: ui.menu | None = None
        self._below: ui.element | None = None
        self._offered: ui.html | None = None
        with ui.element("div").classes("field") as self.place:
            self.entry = self._made()
        self.show()

    def _made(self) -> ui.input | ui.select:
        field, now = self.field, self.base
        entry: ui.input | ui.select
        if field.choices:
            choices = {
                "": texts.NOT_SAID,
                **{one: one.replace("_", " ") for one in (*field.choices, *([now] if now else []))},
            }
            entry = ui.select(choices, label=field.label, value=now, on_change=self._typed)
            entry.props('outlined stack-label options-dense=false behavior="menu"')
        else:
            entry = ui.input(field.label, value=now, on_change=self._typed)
            mode = 'inputmode="decimal"' if field.kind in KINDS and not field.many else ""
            entry.props(f'outlined stack-label debounce={TYPING} autocomplete="off" maxlength={LONGEST_TEXT} {mode}')
            if field.words or field.path.endswith(".surface"):
                self._offer(entry)
        entry.mark(field.path)
        entry.on("focus", self._entered, js_handler=SHOWN_THERE)
        entry.on("blur", self._left, args=[])
        if field.has_source:
            with entry.add_slot("append"):
                self._source_button(entry)
        return entry

    def _offer(self, entry: ui.input) -> None:
        """Words the browser offers while one types; anything else may be typed all the same."""
        self._offered = offer(entry, self.field.words)

    def _source_button(self, entry: ui.input | ui.select) -> None:
        """A button that Tab passes by: two stops at every field would double the way through the form."""
        # The bare element: what the library's own button can do besides is not needed, and there is one at every field.
        self._from = ui.element("q-btn").props('label="⋮" flat no-caps tabindex="-1"').classes("from")
        self._from.mark(f"from-{self.field.path}").on("click", self._choose_source, args=[])
        entry.props('aria-keyshortcuts="Alt+ArrowDown"')
        entry.on("keydown.alt.down.prevent", self._choose_source, args=[])

    def _choose_source(self) -> None:
        """Open the menu, made when it is first wanted: those of all fields at once are most of a page's work."""
        if self._sources is None:
            with self._from, ui.menu().props('no-parent-event anchor="bottom right" self="top right"') as self._sources:
                for source, words in texts.SOURCES.items():
                    item = ui.menu_item(words, lambda source=source: self._said(source))
                    item.mark(f"from-{self.field.path}-{source}").on("keydown", js_handler=UP_AND_DOWN)
            focus = "() => setTimeout(() => document.querySelector('.q-menu .q-item')?.focus(), 60)"
            self._sources.on("show", js_handler=focus)
        self._sources.open()

    def rebind(self, field: Field) -> None:
        """The same box for the same row at another place of its list."""
        if self._offered is not None and field.words != self.field.words:
            self._offered.content = offered_words(self.entry, field.words)
        self.field = field
        self.entry.props(f'label="{field.label}"')
        self.entry._markers[:] = [field.path]

    def focus(self) -> None:
        """Put the cursor here."""
        self.entry.run_method("focus")

    def _entered(self, event: GenericEventArguments) -> None:
        self._inside = True
        there = event.args[0] if isinstance(event.args, list) and event.args else event.args
        there = "" if there == texts.NOT_SAID else there
        if isinstance(there, str) and self.conflict is None and not self._same(there, self._mine()):
            self.base = there.strip()

    def _left(self) -> None:
        self._inside = False
        if not self._own:  # nothing was typed here that could be lost: there is nothing to ask
            self.conflict = None
        self.show()

    def _mine(self) -> str:
        return str(self.entry.value or "").strip()

    def _same(self, one: str, other: str) -> bool:
        units = self.live.draft.units
        return one.strip() == other.strip() or (
            typed_value(self.field, one, units) == typed_value(self.field, other, units)
        )

    async def _typed(self, _: ValueChangeEventArguments[Any]) -> None:
        # The newest there is, not what this event was about: letters that follow fast must not undo each other.
        if not self._same(self._mine(), self.live.draft.text(self.field)):
            await self._send(self._mine(), self.base)
        else:
            self.base = self._mine()
            self.show()

    @in_words
    async def _send(self, text: str, base: str | None) -> None:
        self._sending = True
        found: Conflict | None = None
        try:
            found = await self.desk.edit(self.live, self.field, text, base)
        except SavedElsewhereError:
            # What was typed stays here, beside what they saved: it need not be typed again.
            found = self.live.conflict(self.field)
            raise
        finally:
            self._sending = False
            self.conflict, self._own = found, found is not None
            self.show()

    @in_words
    async def _said(self, source: str) -> None:
        await self.desk.say_source(self.live, self.field, source)

    async def _keep_theirs(self) -> None:
        self.conflict, self._inside, self._own = None, False, False
        self.show()
        self.focus()

    async def _take_mine(self) -> None:
        self.conflict = None
        await self._send(self._mine(), None)
        self.focus()

    def show(self) -> None:
        """Show what the draft has, unless somebody types here: then say what another window typed."""
        theirs = self.live.draft.text(self.field)
        if self._same(theirs, self._mine()):
            self.conflict, self.base = None, theirs
        elif self.conflict is not None or self._inside or self._sending:
            if not self._sending:
                self.conflict = self.live.conflict(self.field)
        else:
            self.base = theirs
            options = self.entry.options if isinstance(self.entry, ui.select) else None
            if isinstance(options, dict) and theirs not in options and isinstance(self.entry, ui.select):
                self.entry.set_options({**options, theirs: theirs})  # a file may hold what is no choice
            self.entry.value = theirs
        self._marks()

    def _marks(self) -> None:
        entry, units, text = self.entry, self.live.draft.units, self._mine()
        wrong = self._wrong(self.field.path)
        source = source_of(self.live.draft.table, self.field.path)
        # Every change is told to every box: those it does not concern send nothing to the browser.
        marks = (text, tuple(wrong), source, units, self.field, repr(self.conflict))
        if marks == self._marked:
            return
        self._marked = marks
        if isinstance(entry, ui.input):
            entry._props["suffix"] = unit_of(self.field, text, units)
        if self.field.has_source:
            words = texts.SOURCE_NOW.format(label=self.field.label, source=source or "stated")
            self._from._props["aria-label"] = words
            self._from.update()
        if wrong:
            entry.error = "; ".join(wrong)
            entry._props.pop("hint", None)
        else:
            entry.error = None
            said = echo(self.field, text, units)
            of = source if said and source != "stated" else ""
            entry._props["hint"] = " · ".join(filter(None, (said, of))) or self.field.hint
        entry.update()
        self._ask(wrong)

    def _ask(self, wrong: list[str]) -> None:
        """The questions below the field: two that typed, or another reading of the number."""
        suggested = next(filter(None, map(meant, wrong)), "")
        asked = self.conflict.words(self._mine()) if self.conflict else suggested
        if asked == self._asked:
            return
        self._asked = asked
        if self._below is None:
            with self.place:
                self._below = ui.element("div").classes("below")
        self._below.clear()
        with self._below:
            if self.conflict:
                ui.label(asked).props('role="alert"').mark(f"conflict-{self.field.path}")
                button(texts.KEEP_THEIRS, self._keep_theirs).mark(f"theirs-{self.field.path}")
                button(texts.TAKE_MINE, self._take_mine).mark(f"mine-{self.field.path}")
            elif suggested:
                take = button(texts.TAKE_IT.format(value=suggested), lambda: self._send(suggested, None))
                take.mark(f"meant-{self.field.path}")

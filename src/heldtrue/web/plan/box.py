"""One field on the page: what is typed, its unit, what is wrong with it, who else typed there, where it comes from."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

from nicegui import ui
from nicegui.events import GenericEventArguments, ValueChangeEventArguments

from heldtrue.quantities import KINDS
from heldtrue.web import texts
from heldtrue.web.boxes import offer, offered_words
from heldtrue.web.conflict import Conflict
from heldtrue.web.desk import Desk, Live
from heldtrue.web.drafts import LONGEST_TEXT, SavedElsewhereError
from heldtrue.web.fields import Field, echo, source_of, understood, unit_of
from heldtrue.web.frame import button, in_words
from heldtrue.web.places import meant

UP_AND_DOWN = """(event) => {
    const way = {ArrowDown: "nextElementSibling", ArrowUp: "previousElementSibling"}[event.key];
    if (way) { event.preventDefault(); event.currentTarget[way]?.focus(); }
}"""


class Typing(ui.input, component=Path(__file__).with_suffix(".js")):
    """A field that keeps what is typed in the browser and hands it over as a whole value. Event: ``typed``.

    ``value`` is what the browser is known to show; what the setup has goes there as ``now``.
    """


class Box:
    """A field of one tab.

    ``version``: the state of the field this tab was last told, and therefore what is being changed; ``more``: the
    closed part of the form it stands in, empty where it is always on show. ``_handed``: what this tab handed
    over last.
    """

    def __init__(self, desk: Desk, live: Live, field: Field, wrong: Callable[[str], list[str]]) -> None:
        self.desk, self.live, self.field = desk, live, field
        self.version = live.draft.state(field)
        self.conflict: Conflict | None = None
        self.more = ""
        self._wrong, self._own, self._quiet, self._asked = wrong, False, False, ""
        self._sending, self._accepted, self._done = 0, self.version, 0
        self._newest = 0
        self._handed: str | None = None
        self._marked: tuple[object, ...] = ()
        self._sources: ui.menu | None = None
        self._below: ui.element | None = None
        self._offered: ui.html | None = None
        with ui.element("div").classes("field") as self.place:
            self.entry = self._made()
        self.show()

    def _made(self) -> ui.input | ui.select:
        field, now = self.field, self.live.draft.text(self.field)
        entry: ui.input | ui.select
        if field.choices:
            choices = {
                "": texts.NOT_SAID,
                **{one: one.replace("_", " ") for one in (*field.choices, *([now] if now else []))},
            }
            entry = ui.select(choices, label=field.label, value=now, on_change=self._typed)
            entry.props('outlined stack-label options-dense=false behavior="menu"')
            entry._props.update(place=field.path, version=self.version)
            entry.on("update:model-value", js_handler=f"(chosen) => keepChoice({entry.id}, chosen)")
        else:
            entry = Typing(field.label, value=now, on_change=self._typed)
            mode = 'inputmode="decimal"' if field.kind in KINDS and not field.many else ""
            entry.props(f'outlined stack-label autocomplete="off" maxlength={LONGEST_TEXT} {mode}')
            entry._props.update(place=field.path, now=now, version=self.version, accepted=self.version, done=0)
            entry.on("typed", self._come)
            if field.words or field.path.endswith(".surface"):
                self._offer(entry)
        entry.mark(field.path)
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
        self.field, self.version = field, self.live.draft.state(field)
        self.entry.props(f'label="{field.label}"')
        self.entry._props["place"] = field.path
        self.entry._markers[:] = [field.path]

    def focus(self) -> None:
        """Put the cursor here."""
        self.entry.run_method("focus")

    def _mine(self) -> str:
        return str(self.entry.value or "").strip()

    async def _come(self, event: GenericEventArguments) -> None:
        """The browser hands over what was typed, and which state of the field it was typed over."""
        told = event.args
        if told.get("own") and int(told["count"]) <= self._newest:
            return  # handed over once more while the answer is on its way: done twice, it would come back after an undo
        self._quiet = True
        self.entry.value = str(told["text"])
        self._quiet = False
        if told.get("own"):
            await self._send(self._mine(), str(told["base"]), int(told["count"]))
            return
        # Nothing was typed that could be lost: whoever stands in the field is asked, whoever has left it is not.
        if told.get("left"):
            self.conflict = None if not self._own else self.conflict
        elif not self.live.draft.has(self.field, self._mine()):
            self.conflict, self._own = self.live.conflict(self.field), False
        self.show()

    def _typed(self, _: ValueChangeEventArguments[Any]) -> Awaitable[None] | None:
        """A choice was made; what this page itself puts there is none. Decided at once: awaited is later."""
        return None if self._quiet else self._chosen()

    async def choose(self, words: str, base: str) -> None:
        """What was chosen without the server, over a state of the field that may be another by now."""
        options = self.entry.options if isinstance(self.entry, ui.select) else None
        if isinstance(options, dict):
            text = next((value for value, said in options.items() if said == words), "")
            self._quiet = True
            self.entry.value = text
            self._quiet = False
            await self._send(text, base)

    async def _chosen(self) -> None:
        if self.live.draft.has(self.field, self._mine()):
            self.show()
        else:
            await self._send(self._mine(), self.version)

    @in_words
    async def _send(self, text: str, base: str | None, count: int = 0) -> None:
        """Hand a value to the desk. ``count``: which hand-over of the browser this is; only the newest decides.

        A browser types on while an answer is awaited, over a state it was not told of: its own last one is no other's.
        """
        self._sending += 1
        self._accepted = ""
        self._newest = max(count, self._newest)
        found: Conflict | None = None
        draft = self.live.draft
        if base is not None and self._handed is not None and draft.has(self.field, self._handed):
            base = draft.state(self.field)
        self._handed = text
        try:
            found = await self.desk.edit(self.live, self.field, text, base)
        except SavedElsewhereError:
            # What was typed stays here, beside what they saved: it need not be typed again.
            found = self.live.conflict(self.field)
            raise
        finally:
            self._sending -= 1
            self._done = max(count, self._done)
            if count == self._newest:
                self.conflict, self._own = found, found is not None
            self.show()

    @in_words
    async def _said(self, source: str) -> None:
        await self.desk.say_source(self.live, self.field, source)

    async def _keep_theirs(self) -> None:
        self.conflict, self._own = None, False
        self.show()
        self._give_up()
        self.focus()

    def _give_up(self) -> None:
        """What was typed here is wanted no more, in the browser too."""
        if isinstance(self.entry, Typing):
            self.entry.run_method("take")

    async def _take_mine(self) -> None:
        self.conflict = None
        await self._send(self._mine(), None)
        self.focus()

    def show(self) -> None:
        """Show what the draft has; while a question is open, or something is handed over, what was typed stays."""
        draft = self.live.draft
        theirs, state = draft.text(self.field), draft.state(self.field)
        if draft.has(self.field, self._mine()):
            self.conflict = None
            self._accepted = self._accepted or state
        elif self.conflict is not None:
            self.conflict = self.live.conflict(self.field)
        elif not self._sending:
            options = self.entry.options if isinstance(self.entry, ui.select) else None
            if isinstance(options, dict) and theirs not in options and isinstance(self.entry, ui.select):
                self.entry.set_options({**options, theirs: theirs})  # a file may hold what is no choice
            self._quiet = True
            self.entry.value = theirs
            self._quiet = False
        if self.conflict is None:
            self.version = state
        self._marks()

    def _marks(self) -> None:
        entry, units, text = self.entry, self.live.draft.units, self._mine()
        wrong = self._wrong(self.field.path)
        source = source_of(self.live.draft.table, self.field.path)
        # Every change is told to every box: those it does not concern send nothing to the browser.
        theirs, asked = self.live.draft.text(self.field), self.conflict is not None
        state = self.live.draft.state(self.field)
        marks = (text, theirs, state, self._done, tuple(wrong), source, units, self.field, repr(self.conflict))
        if marks == self._marked:
            return
        self._marked = marks
        entry._props["version"] = state
        if isinstance(entry, Typing):
            entry._props.update(now=theirs, accepted=self._accepted or state, done=self._done,
                                asked=asked, bare=unit_of(self.field, "", units))  # fmt: skip
        if self.field.has_source:
            words = texts.SOURCE_NOW.format(label=self.field.label, source=source or "stated")
            self._from._props["aria-label"] = words
            self._from.update()
        if wrong:
            entry.error = "; ".join(wrong)
            entry._props.pop("hint", None)
        else:
            entry.error = None
            said = echo(self.field, text, units) or understood(self.field, text)
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

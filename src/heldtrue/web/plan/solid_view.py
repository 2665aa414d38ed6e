"""The part in three dimensions on the plan page: made when somebody opens it, never shown for another setup."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Any

import nicegui.elements.scene  # noqa: F401  it tells the browser where the library for three dimensions is
from nicegui import background_tasks, ui
from nicegui.events import ValueChangeEventArguments

from heldtrue.errors import HeldtrueError
from heldtrue.web import texts, worker
from heldtrue.web.busy import Busy
from heldtrue.web.desk import Desk, Live, checked
from heldtrue.web.frame import button, html, in_words
from heldtrue.web.plan.solid_data import STATES, VIRIDIS, SolidView, State, colour_bar, times
from heldtrue.web.render import bullets, heading, paragraph, section
from heldtrue.web.trouble import problems_of


class SolidCanvas(ui.element, component=Path(__file__).with_suffix(".js")):
    """What shows and turns a mesh of ``solid_data``; "without" is its event where the browser has no WebGL."""

    def __init__(self, mesh: dict[str, Any], state: State, factor: float) -> None:
        super().__init__()
        self._props.update(mesh=mesh, first=state, enlarged=factor, colours=[list(one) for one in VIRIDIS])


class SolidPanel:
    """The view with its buttons, closed at first."""

    def __init__(self, desk: Desk, live: Live) -> None:
        self.desk, self.live = desk, live
        self.state: State = STATES[0]
        self.view: SolidView | None = None
        self.canvas: SolidCanvas | None = None
        self._of: object = None
        self._factor: dict[State, float] = {}
        self._at_work = False
        self._without = False

    def build(self) -> None:
        """Put it on the page."""
        html(heading(texts.SOLID))
        self.open_button = button(texts.SOLID_OPEN, self.open).mark("solid-open")
        self.busy = Busy("solid-busy")
        self.place = ui.element("div").classes("block").mark("solid")
        self.place.visible = False

    @in_words
    async def open(self) -> None:
        """Open it, or close it again."""
        if self.place.visible:
            self.place.clear()
            self.view = self.canvas = None
            self.place.visible = False
            self.open_button.text = texts.SOLID_OPEN
            return
        self.open_button.text = texts.SOLID_CLOSE
        self.place.visible = True
        await self.redo()

    def hear(self, what: str) -> None:
        """The setup or its answer changed: mark the view as old, or draw the new one once the full plan is there."""
        if not self.place.visible:
            return
        self._show_age()
        found = self.live.answer
        if what == "answer" and self.live.solving is None and found is not None and not found.problems:
            background_tasks.create(self.redo())

    async def redo(self) -> None:
        """Draw the setup as it stands, unless that is what is drawn."""
        if self._at_work or (self.view is not None and self._of is self.live.draft.table):
            return
        self._at_work = True
        table = self.live.draft.table
        try:
            setup, _ = await self.desk.setup_of(self.live)
            key = self.live.draft.id
            self.view = checked(await self.busy.over(
                self.desk.pool.run(key, worker.shape_mesh, key, setup), texts.SOLID_WORKING
            ))  # fmt: skip
            self._of = table
            self._factor = dict(self.view.factor)
            self._show()
        except HeldtrueError as error:
            self.view = self.canvas = None
            self.place.clear()
            with self.place:
                html(bullets(problems_of(error)))
        finally:
            self._at_work = False

    def _show(self) -> None:
        view = self.view
        assert view is not None
        self.place.clear()
        if self._without:
            self._show_drawing(view)
            return
        with self.place, ui.element("div").classes("sheet solid-sheet"):
            self.old = html(f'<p role="alert"><strong>{escape(texts.SOLID_STALE)}</strong></p>').mark("solid-old")
            html(paragraph(view.about)).mark("solid-about")
            with ui.element("div").classes("row-line"):
                self.choices = {
                    state: button(texts.SOLID_STATES[state], lambda s=state: self.choose(s)) for state in STATES
                }
                for state, choice in self.choices.items():
                    choice.mark(f"solid-{state}")
                self.factor = ui.select({}, label=texts.SOLID_FACTOR, on_change=self._enlarge)
                self.factor.props("outlined stack-label").classes("solid-factor").mark("solid-factor")
            self.canvas = SolidCanvas(view.mesh, self.state, self._factor[self.state])
            self.canvas.on("without", self._do_without)
            with ui.element("div").classes("row-line"):
                for mark, words, right, up in texts.SOLID_TURNS:
                    self._turning(mark, words, "step", right, up)
                for mark, words, nearer in texts.SOLID_NEARER:
                    self._turning(mark, words, "nearer", nearer)
                self._turning(texts.SOLID_FIRST, texts.SOLID_FIRST, "again")
            self.said = html("").mark("solid-said")
            html(paragraph(texts.SOLID_KEYS))
        self.choose(self.state)
        self._show_age()

    def _do_without(self) -> None:
        """The browser has no WebGL, or lost it."""
        self._without = True
        if self.view is not None:
            self._show()

    def _show_drawing(self, view: SolidView) -> None:
        """The half section and each state in words."""
        self.canvas = None
        said = (f"{texts.SOLID_STATES[state]}. {view.says[state]}" for state in STATES)
        with self.place, ui.element("div").classes("sheet solid-sheet"):
            self.old = html(f'<p role="alert"><strong>{escape(texts.SOLID_STALE)}</strong></p>').mark("solid-old")
            html(paragraph(texts.SOLID_NO_WEBGL)).mark("solid-without")
            html(paragraph(view.about)).mark("solid-about")
            html(bullets(said) + section(self.live.answer)).mark("solid-said")
        self._show_age()

    def _turning(self, mark: str, words: str, method: str, *arguments: float) -> None:
        def turn() -> None:
            if self.canvas is not None:
                self.canvas.run_method(method, *arguments)

        button(mark, turn).props(f'aria-label="{words}"')

    def choose(self, state: State) -> None:
        """Show the part clamped, or released."""
        view = self.view
        if view is None:
            return
        self.state = state
        for one, choice in self.choices.items():
            choice.props(f"aria-pressed={'true' if one == state else 'false'}")
            choice.classes(add="main" if one == state else "", remove="" if one == state else "main")
        kept = self._factor[state]
        options = {factor: times(factor) for factor in (*view.factors[state],)}
        self.factor.set_options(options, value=kept)
        self._say()

    def _enlarge(self, event: ValueChangeEventArguments[Any]) -> None:
        if event.value is not None:
            self._factor[self.state] = float(event.value)
            self._say()

    def _say(self) -> None:
        view, canvas = self.view, self.canvas
        if view is None or canvas is None:
            return
        enlarged = texts.SOLID_ENLARGED.format(factor=times(self._factor[self.state]))
        ticks = "".join(f"<span>{escape(tick)}</span>" for tick in view.ticks[self.state])
        bar = f'<div class="colour-bar" style="background: {colour_bar()}"></div><div class="ticks">{ticks}</div>'
        self.said.content = (
            f"<p><strong>{escape(texts.SOLID_STATES[self.state])}. {escape(enlarged)}.</strong></p>"
            f"<p>{escape(view.says[self.state])}</p>{bar}{paragraph(texts.SOLID_BAR)}"
        )
        label = texts.SOLID_LABEL.format(
            state=texts.SOLID_STATES[self.state], enlarged=enlarged, says=view.says[self.state]
        )
        canvas.run_method("show", self.state, self._factor[self.state], label)

    def _show_age(self) -> None:
        """An old shape must not pass for the new one."""
        if self.view is None:
            return
        old = self._of is not self.live.draft.table
        self.old.visible = old
        if self.canvas is not None:
            self.canvas.classes(add="stale" if old else "", remove="" if old else "stale")

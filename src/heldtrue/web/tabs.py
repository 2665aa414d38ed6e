"""Tabs that change in the browser alone, also without the server, with the choice kept in the address."""

from __future__ import annotations

from collections.abc import Sequence

from nicegui import ui


class Tabs:
    """A row of tabs and their panels. ``key``: the name of the choice in the address; ``value``: shown at first.

    Puts both on the page; each panel is filled by ``with tabs.panel(name)``.
    """

    def __init__(self, key: str, names: Sequence[str], value: str = "") -> None:
        self.key, asked = key, str(ui.context.client.request.query_params.get(key, ""))
        value = asked if asked in names else value or names[0]
        with ui.tabs().props("align=left no-caps inline-label outside-arrows mobile-arrows") as self.tabs:
            self.buttons = {name: ui.tab(name).mark(f"tab-{name}") for name in names}
        self.panels = ui.tab_panels(self.tabs, value=value, animated=False, keep_alive=True)
        self.tabs.on("update:model-value", js_handler=f"(name) => showTab({self.tabs.id}, '{key}', name)")
        self.tabs._props["panels"] = self.panels.id

    def panel(self, name: str) -> ui.tab_panel:
        """The panel of a tab, to be filled."""
        with self.panels:
            return ui.tab_panel(name)

    def open(self, name: str) -> None:
        """Show one."""
        self.tabs.set_value(name)

    def label(self, name: str, words: str) -> None:
        """What stands on a tab."""
        if self.buttons[name]._props.get("label") != words:
            self.buttons[name]._props["label"] = words
            self.buttons[name].update()

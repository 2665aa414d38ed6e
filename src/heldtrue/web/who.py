"""Who looks at a page, what they may do, and the box that asks for a name where nobody has logged in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.web import texts

if TYPE_CHECKING:
    from heldtrue.web.desk import Desk

Role = Literal["look", "set up", "administer"]
ROLES: tuple[Role, ...] = ("look", "set up", "administer")
"""What a person may do; each may do what the ones before it may."""


@dataclass(frozen=True)
class Viewer:
    """Somebody at a page; ``name`` is empty where nobody had to log in."""

    name: str
    role: Role

    def may(self, role: Role) -> bool:
        """May they do what this role does?"""
        return ROLES.index(self.role) >= ROLES.index(role)


AT_THIS_PC = Viewer("", "administer")
"""Whoever sits at the PC that serves nobody else."""


class NameBox:
    """Asks who it is; of somebody who has logged in it shows the name, and nobody can write under another."""

    def __init__(self, desk: Desk, *classes: str) -> None:
        self._viewer = desk.viewer()
        self.box = ui.input(texts.YOUR_NAME, value=self._viewer.name).props("outlined stack-label maxlength=60")
        self.box.classes(" ".join(classes)).mark("name")
        if self._viewer.name:
            self.box.props("readonly")

    def name(self) -> str:
        """The name to write down. Raises: ``InputError`` where there is none."""
        found = self._viewer.name or str(self.box.value or "").strip()
        if not found:
            raise InputError(texts.NEED_NAME)
        return found

"""Lists on the plan page to choose a surface of the part from: to grip on it, or to say what is asked of it."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable
from copy import deepcopy
from itertools import chain
from typing import Any, Protocol

from nicegui import ui

from heldtrue.errors import InputError
from heldtrue.part_file.turned_part import TurnedSurface
from heldtrue.planning.drawn_rows import rounded, surface_row
from heldtrue.planning.way_space import ASSUMED_OF_JAWS, ASSUMED_OF_SURFACE, OF_ITS_BORE, OF_ITS_SET, OF_ITS_SURFACE
from heldtrue.quantities import parse_quantity
from heldtrue.web import texts
from heldtrue.web.desk import Desk, Live
from heldtrue.web.fields import bare, get
from heldtrue.web.frame import in_words
from heldtrue.web.named_surfaces import named_surfaces

NEAR_MM = 1e-6
Take = Callable[[Desk, Live, TurnedSurface], Awaitable[None]]
JAW_SIDES, ANY_SIDE = ("outside", "inside"), ("outside", "inside", "face")


class SurfaceChoice:
    """One list; it follows the draft. ``take``: what is done with the surface that is chosen."""

    def __init__(
        self,
        live: Live,
        words: str,
        mark: str,
        sides: tuple[str, ...],
        take: Callable[[TurnedSurface], Awaitable[None]],
    ) -> None:
        self.live, self._sides = live, sides

        @in_words
        async def chosen(event: Any) -> None:
            if event.value is None:
                return
            self._list.value = None
            await take(next(one for one in self._offered() if one.name == event.value))

        self._list = (
            ui.select([], label=words, on_change=chosen).props("outlined stack-label").classes("wide").mark(mark)
        )
        self.show()

    def show(self) -> None:
        """Offer what the part has now."""
        names = [one.name for one in self._offered()]
        if names != self._list.options:
            self._list.set_options(names, value=None)
        self._list.visible = bool(names)

    def _offered(self) -> list[TurnedSurface]:
        return [one for one in named_surfaces(self.live.draft.table) if one.side in self._sides]


class Shows(Protocol):
    """A part of the form that shows what the draft has."""

    def show(self) -> None:
        """Show it now."""
        ...


def show_all(*parts: Iterable[Shows]) -> None:
    """Show in all of them what the draft has now."""
    for one in chain(*parts):
        one.show()


async def grip_on(desk: Desk, live: Live, surface: TurnedSurface) -> None:
    """Gripped on that surface: side and diameter; what was known of another surface and of its bore goes.

    Raises: ``InputError`` where the gripped z is not on it.
    """
    table, size = live.draft.table, rounded(live.draft.system)
    typed = [bare(get(table, f"grip.z.{end}")) for end in (0, 1)]
    if None not in typed:
        low, high = (parse_quantity(one, "length", live.draft.system) for one in typed)
        if low < surface.z[0] - NEAR_MM or high > surface.z[1] + NEAR_MM:
            raise InputError(
                texts.GRIP_ELSEWHERE.format(name=surface.name, low=size(surface.z[0]), high=size(surface.z[1]))
            )
    row = surface_row(surface, size)
    changes = dict.fromkeys(_of_another(live, surface)) | {"grip.diameter_tolerance": None}
    await desk.change(
        live, {**changes, "grip.side": row["side"], "grip.diameter": row["diameter"]},
        texts.GRIP_ON.format(name=surface.name),
    )  # fmt: skip


def _of_another(live: Live, surface: TurnedSurface) -> list[str]:
    """The paths of all that the draft says of the surface gripped so far, where that is another, and of its bore."""
    table, side = live.draft.table, bare(get(live.draft.table, "grip.side"))
    typed = bare(get(table, "grip.diameter"))
    if typed is None:
        return []
    diameter = parse_quantity(typed, "length", live.draft.system)
    if (side, diameter) == (surface.side, surface.diameters[0]):
        return []
    jaws = [f"jaws.{name}" for name in (*OF_ITS_SET, *OF_ITS_BORE, "grip_height")]
    assumed = [f"assumptions.{name}" for name in (*ASSUMED_OF_SURFACE, *ASSUMED_OF_JAWS)]
    return [path for path in (*OF_ITS_SURFACE, *jaws, *assumed, "run.pressure") if get(table, path) is not None]


async def ask_of(desk: Desk, live: Live, surface: TurnedSurface) -> None:
    """That surface into the list of those that are made here. Raises: ``InputError`` where it is there."""
    rows = deepcopy(list(bare(get(live.draft.table, "surface")) or ()))
    if surface.name in [bare(one.get("name")) for one in rows if isinstance(one, dict)]:
        raise InputError(texts.SURFACE_THERE.format(name=surface.name))
    row = surface_row(surface, rounded(live.draft.system))
    await desk.change(live, {"surface": [*rows, row]}, texts.SURFACE_TAKEN.format(name=surface.name))

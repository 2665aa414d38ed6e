"""How a jaw set stands: its card and its history, folded."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TypeVar

from heldtrue.records.events import Event, SetCut, SetMove
from heldtrue.records.things import JawSet

E = TypeVar("E", bound=Event)


@dataclass(frozen=True, kw_only=True)
class Standing:
    """How a jaw set stands now.

    From its last cut: ``side``, ``diameter`` and ``depth`` [mm] with their errors, relief, seat and steps as ``SetCut``
    has them, ``machine``, ``chuck``, ``tooth``, ``jaw_order``, ``web_left`` [mm], ``cuts_left``; ``cuts_done`` of all;
    from what was done with it: ``place``, ``holder`` (empty: it is in), ``condition``, ``missing`` jaws.  ``words``:
    what a search by words looks through.
    """

    jaw_set: str
    retired: bool
    words: str
    style: str
    material: str
    serration: str
    jaws: int
    part: str | None
    last_cut: str | None = None
    last_cut_at: datetime | None = None
    side: str = ""
    diameter: float | None = None
    depth: float | None = None
    machine: str | None = None
    chuck: str | None = None
    tooth: int | None = None
    jaw_order: tuple[int, ...] = ()
    web_left: float | None = None
    cuts_left: int | None = None
    cuts_done: int = 0
    place: str = ""
    holder: str = ""
    condition: str = ""
    missing: tuple[int, ...] = ()
    diameter_error: float | None = None
    depth_error: float | None = None
    relief_width: float | None = None
    relief_depth: float | None = None
    seat_land: float | None = None
    seat_relief: float | None = None
    bore_steps: tuple[tuple[float, float], ...] | None = None


def standing_of(card: JawSet, happened: Iterable[SetCut | SetMove], *, by_entry: bool = False) -> Standing:
    """The standing after everything in ``happened``, corrected rows and all, in any order.

    ``by_entry``: in the order in which it was entered, whatever time was typed.
    """
    now = Standing(
        jaw_set=card.id, retired=card.retired, words=words_of(card.id, card.name, card.part or "", card.remark),
        style=card.style, material=card.material, serration=card.serration, jaws=card.jaws, part=card.part,
    )  # fmt: skip
    for event in in_force(tuple(happened), by_entry=by_entry):
        now = _after_cut(now, event) if isinstance(event, SetCut) else _after_move(now, event)
    return now


def in_force(rows: Sequence[E], *, by_entry: bool = False) -> tuple[E, ...]:
    """The rows that count, oldest first: not put right by another, not taken back."""
    replaced = {row.corrects for row in rows if row.corrects is not None}
    counting = [row for row in rows if row.id not in replaced and not row.withdrawn]
    if not by_entry:
        return tuple(sorted(counting, key=lambda row: (row.at, row.id)))
    corrects = {row.id: row.corrects for row in rows}

    def entered(row: E) -> str:
        """The id of the row that was entered first: what puts it right stands in its place."""
        first, before = row.id, row.corrects
        while before is not None:
            first, before = before, corrects.get(before)
        return first

    return tuple(sorted(counting, key=entered))


def words_of(*texts: str) -> str:
    """Texts as a search compares them."""
    return " ".join(text for text in texts if text).casefold()


def _after_cut(now: Standing, cut: SetCut) -> Standing:
    return replace(
        now, last_cut=cut.id, last_cut_at=cut.at, side=cut.side, diameter=cut.diameter, depth=cut.depth,
        machine=cut.machine, chuck=cut.chuck, tooth=cut.tooth, jaw_order=cut.jaw_order, web_left=cut.web_left,
        cuts_left=cut.cuts_left, cuts_done=now.cuts_done + 1, condition="good",
        diameter_error=cut.diameter_error, depth_error=cut.depth_error, relief_width=cut.relief_width,
        relief_depth=cut.relief_depth, seat_land=cut.seat_land, seat_relief=cut.seat_relief,
        bore_steps=cut.bore_steps,
    )  # fmt: skip


def _after_move(now: Standing, move: SetMove) -> Standing:
    holder = {"out": move.holder or move.by, "in": ""}.get(move.kind, now.holder)
    return replace(
        now, holder=holder, place=move.place or now.place, condition=move.condition or now.condition,
        missing=move.missing if move.kind in ("in", "condition") else now.missing,
    )  # fmt: skip

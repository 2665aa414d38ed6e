"""A wrong entry put right: by a new row that takes its place, or takes it back; both stay in the history."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

from heldtrue.errors import InputError
from heldtrue.records.events import Event, SetCut
from heldtrue.records.ids import new_id

E = TypeVar("E", bound=Event)
LEAST_WHY = 3


def taken_back(row: E, *, by: str, why: str) -> E:
    """The row that takes another back; not written yet. Raises: ``InputError`` without a reason."""
    return replace(row, id=new_id(), corrects=row.id, withdrawn=True, by=by, remark=_reason(why))


def with_diameter(row: SetCut, diameter: float, *, by: str, why: str) -> SetCut:
    """A cut as it should have been written [mm]; not written yet. Raises: ``InputError`` without a reason.

    It stands at the moment of the wrong one: what was done with the set since then still came after it.
    """
    return replace(row, id=new_id(), corrects=row.id, diameter=diameter, by=by, remark=_reason(why))


def with_steps(row: SetCut, steps: Sequence[tuple[float, float]], *, by: str, why: str) -> SetCut:
    """A cut with the steps that stand in the jaws after it: diameter and height above the seat [mm]; else as above."""
    return replace(row, id=new_id(), corrects=row.id, bore_steps=tuple(steps), by=by, remark=_reason(why))


def _reason(why: str) -> str:
    if len(why.strip()) < LEAST_WHY:
        raise InputError("say what was wrong: it is kept with the entry")
    return why.strip()

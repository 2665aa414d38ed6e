"""Which field of the plan page a finding goes into."""

from __future__ import annotations

from collections.abc import Sequence

from heldtrue.web.fields import Table, bare, get
from heldtrue.web.sections import label_of

ASSUMPTIONS = "assumptions."
OF_A_CUT = "cut."
READINGS = "chuck.grip_readings"


def fields_for(table: Table, keys: Sequence[str]) -> tuple[str, ...]:
    """Paths of the fields of the form that the keys of a measurement stand for, what is there already left out.

    A key of every cut is that of the first cut that does not say it.  A key of ``[assumptions]`` has none.
    """
    found = [_path(table, key) for key in keys if not key.startswith(ASSUMPTIONS)]
    return tuple(one for one in found if one == READINGS or get(table, one) is None) or tuple(found)


def assumption_in(keys: Sequence[str]) -> str:
    """The input of ``[assumptions]`` that a measurement is entered in; empty where it goes into fields."""
    return next((key.split(".")[1] for key in keys if key.startswith(ASSUMPTIONS)), "")


def called(table: Table, path: str) -> str:
    """What a field is called on the plan page; of a list that has no rows yet the list."""
    from heldtrue.web import texts

    return texts.GRIP_READINGS if path == READINGS else label_of(table, path)


def _path(table: Table, key: str) -> str:
    if not key.startswith(OF_A_CUT):
        return key
    cuts = bare(get(table, "cut")) or ()
    said = key.removeprefix(OF_A_CUT)
    number = next((n for n in range(len(cuts)) if get(table, f"cut.{n}.{said}") is None), 0)
    return f"cut.{number}.{said}"

"""Which row of a changed list is which of the list before: so that what is typed at a row stays with it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from difflib import SequenceMatcher
from typing import Any


def aligned(before: Sequence[Any], after: Sequence[Any]) -> list[int | None]:
    """For every row of ``after`` the place it had in ``before``; None for a new one.

    Rows that changed where they stand keep their place, and where none came or went all of them do: an empty corner
    that is being typed is no new one, though the next is still empty like it was.

    >>> aligned(["a", "b", "c"], ["a", "c"]), aligned(["a", "b"], ["a", "x", "b"]), aligned(["a", "b"], ["a", "y"])
    ([0, 2], [0, None, 1], [0, 1])
    """
    if len(before) == len(after):
        return list(range(len(after)))
    old, new = ([json.dumps(one, sort_keys=True, default=str) for one in rows] for rows in (before, after))
    found: list[int | None] = [None] * len(new)
    for what, low, high, first, last in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if what in ("equal", "replace"):
            for place in range(min(high - low, last - first)):
                found[first + place] = low + place
    return found


def moved(path: str, listed: str, places: Sequence[int | None]) -> str | None:
    """A path into a list after its rows moved as ``places`` says; None where its row is gone."""
    number, _, rest = path.removeprefix(f"{listed}.").partition(".")
    if not number.isdecimal() or int(number) not in places:
        return None
    return f"{listed}.{places.index(int(number))}{f'.{rest}' if rest else ''}"

"""Numbers on labels and sheets: what a scanned code means, labels printed ahead, and on which set one is stuck."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from heldtrue.errors import InputError
from heldtrue.records import JawSet, SetupRecord, Store, Tag
from heldtrue.shop.enter import card_of, known_card

BEGINS = "T-"
"""How the number of a label printed ahead begins."""
MOST_AT_ONCE = 500
LONGEST = 100
"""Letters of a number: as long as the records keep one."""


@dataclass(frozen=True)
class Code:
    """What a number on a label means.

    ``kind``: a set (then ``jaw_set`` says which, for a label printed ahead the one it is stuck on), a label that is on
    no set yet, a setup as it stands on a floor sheet, or nothing the records know.
    """

    id: str
    kind: Literal["set", "label", "setup", "unknown"]
    jaw_set: str = ""


def what_is(store: Store, words: str) -> Code:
    """What a scanned or typed number means. Raises: ``InputError`` for one that cannot be a number."""
    id = words.strip()
    if not id or len(id) > LONGEST or not id.isprintable():
        raise InputError("that code holds no number of a jaw set")
    if known_card(store, JawSet, id) is not None:
        return Code(id, "set", id)
    label = known_card(store, Tag, id)
    if label is None:
        return Code(id, "unknown" if known_card(store, SetupRecord, id) is None else "setup")
    return Code(id, "set", label.jaw_set) if label.jaw_set else Code(id, "label")


def new_labels(store: Store, count: int, now: datetime) -> tuple[Tag, ...]:
    """The next labels to print ahead, not written yet. Raises: ``InputError`` for none or too many."""
    if not 1 <= count <= MOST_AT_ONCE:
        raise InputError(f"1 to {MOST_AT_ONCE} labels at once; found {count}")
    there = [one.id.removeprefix(BEGINS) for one in store.all(Tag, retired=True) if one.id.startswith(BEGINS)]
    first = max((int(number) for number in there if number.isdecimal()), default=0) + 1
    return tuple(Tag(id=f"{BEGINS}{number:05d}", printed_at=now) for number in range(first, first + count))


def stuck_on(store: Store, label: str, jaw_set: str) -> Tag:
    """The card of a label that is stuck on a set, not written yet. Raises: ``InputError`` where it is on another."""
    card = card_of(store, Tag, label, "tag")
    card_of(store, JawSet, jaw_set, "jaw set")
    if card.jaw_set not in (None, jaw_set):
        raise InputError(f"tag {label} is on set {card.jaw_set} already; take another")
    return replace(card, jaw_set=jaw_set)

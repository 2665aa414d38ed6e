"""Numbers that look alike: ``ch-02``, ``CH‑02`` and ``CH-2`` are one chuck to whoever reads the plate."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from weakref import WeakKeyDictionary

from heldtrue.records import Store
from heldtrue.records.things import Thing

_LETTERS = str.maketrans(
    "авсенікморѕтухАВСЕНІКМОРЅТУХαβεηικμνορτυχΑΒΕΖΗΙΚΜΝΟΡΤΥΧ",
    "abcehikmopstyxabcehikmopstyxabehikmvoptyxabezhikmnoptyx",
)
"""Letters of other alphabets that are drawn like ours."""
_DRAWN_ALIKE = str.maketrans("oil", "011")


def look_of(number: str) -> str:
    """What is left of a number once case, dashes, blanks, leading zeros and letters drawn alike do not count."""
    plain = unicodedata.normalize("NFKC", number).translate(_LETTERS).casefold()
    # What parts two figures stays: 1-02 is not 10-2.
    parted = re.sub(r"(?<=\d)[^0-9a-z]+(?=\d)", "/", plain)
    drawn = re.sub(r"[^0-9a-z/]+", "", parted).translate(_DRAWN_ALIKE)
    return re.sub(r"(?<!\d)0+(?=\d)", "", drawn)


class _Numbers:
    """The numbers of all cards of a kind, by their look: made anew only when a card has come."""

    def __init__(self, store: Store, kind: type[Thing], count: int) -> None:
        self.count = count
        self.by_look: dict[str, list[str]] = {}
        for id in store.ids(kind):
            self.by_look.setdefault(look_of(id), []).append(id)


_NUMBERS: WeakKeyDictionary[Store, dict[type[Thing], _Numbers]] = WeakKeyDictionary()


def _numbers(store: Store, kind: type[Thing]) -> _Numbers:
    kept, count = _NUMBERS.setdefault(store, {}), store.count(kind, retired=True)
    if kind not in kept or kept[kind].count != count:
        kept[kind] = _Numbers(store, kind, count)
    return kept[kind]


def alike(store: Store, kind: type[Thing], number: str) -> tuple[str, ...]:
    """Ids of other cards of a kind whose number looks like this one, retired ones too."""
    there = _numbers(store, kind).by_look.get(look_of(number), ())
    return tuple(id for id in there if id != number)


def numbers_like(store: Store, kind: type[Thing], numbers: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Of many numbers, those of cards that are or look like each."""
    by_look = _numbers(store, kind).by_look
    return {number: tuple(by_look.get(look_of(number), ())) for number in numbers if number}

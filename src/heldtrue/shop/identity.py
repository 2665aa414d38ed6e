"""Numbers that look alike: ``ch-02``, ``CH‑02`` and ``CH-2`` are one chuck to whoever reads the plate."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from weakref import WeakKeyDictionary

from heldtrue.records import Store
from heldtrue.records.things import Thing

_LETTERS = str.maketrans(
    "авсенікморѕтухАВСЕНІКМОРЅТУХαβεηικμνορτυχΑΒΕΖΗΙΚΜΝΟΡΤΥΧ",
    "abcehikmopstyxabcehikmopstyxabehikmvoptyxabezhikmnoptyx",
)
"""Letters of other alphabets that are drawn like ours."""
_BETWEEN_FIGURES, _MARKS = re.compile(r"(?<=\d)[^0-9a-z\n]+(?=\d)"), re.compile(r"[^0-9a-z/\n]+")
_LEADING_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")
_DRAWN_ALIKE = str.maketrans("oil", "011")


def look_of(number: str) -> str:
    """What is left of a number once case, dashes, blanks, leading zeros and letters drawn alike do not count."""
    plain = number.replace("\n", " ")
    if number.isascii():
        return _look(plain.lower())
    return _look(unicodedata.normalize("NFKC", plain).translate(_LETTERS).casefold())


def looks_of(numbers: Sequence[str]) -> list[str]:
    """The same of thousands: in plain letters all at once, a line each."""
    plain = "\n".join([number.replace("\n", " ") for number in numbers])
    return _look(plain.lower()).split("\n") if numbers and plain.isascii() else [look_of(one) for one in numbers]


def _look(lines: str) -> str:
    # What parts two figures stays: 1-02 is not 10-2.
    drawn = _MARKS.sub("", _BETWEEN_FIGURES.sub("/", lines)).translate(_DRAWN_ALIKE)
    return _LEADING_ZEROS.sub("", drawn)


class _Numbers:
    """The numbers of all cards of a kind, by their look: made anew only when a card has come."""

    def __init__(self, store: Store, kind: type[Thing], count: int) -> None:
        self.count = count
        ids = store.ids(kind)
        self.looks = dict(zip(ids, looks_of(ids), strict=True))
        self.by_look: dict[str, tuple[str, ...]] = {}
        for id, look in self.looks.items():
            self.by_look[look] = (*self.by_look.get(look, ()), id)


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
    there = _numbers(store, kind)
    looks = {number: there.looks.get(number) or look_of(number) for number in numbers if number}
    return {number: there.by_look.get(look, ()) for number, look in looks.items()}

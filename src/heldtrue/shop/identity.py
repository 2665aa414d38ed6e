"""Numbers that look alike: ``ch-02``, ``CH‑02`` and ``CH-2`` are one chuck to whoever reads the plate."""

from __future__ import annotations

import re
import unicodedata

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


def alike(store: Store, kind: type[Thing], number: str) -> tuple[str, ...]:
    """Ids of other cards of a kind whose number looks like this one, retired ones too."""
    look = look_of(number)
    return tuple(card.id for card in store.all(kind, retired=True) if card.id != number and look_of(card.id) == look)

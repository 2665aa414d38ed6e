"""How well a dial repeats on a chuck: from places read again, used as the scatter where causes are told.  mm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import sqrt

from heldtrue.errors import InputError
from heldtrue.inspection.indicator import IndicatorResult, resolution_of
from heldtrue.inspection.learning import Accepted, Prior
from heldtrue.inspection.readings import Trace
from heldtrue.inspection.repeats import Repeats, read_repeats
from heldtrue.planning.setup import Setup
from heldtrue.records import ChuckRecord, Store
from heldtrue.sentences import sentence
from heldtrue.shop.enter import chuck_in_use
from heldtrue.shop.learned import NEAREST, Knowledge, accept, agrees, learned_of, styles_of

PRIOR = Prior(0.0009, 5.0)
"""What is assumed of a dial nobody tried: our own judgement, no source."""
UNLIKE = 3.0
"""Factor by which a dial differs from chuck to chuck of one shop, 95 %: our own judgement, no source."""


def dial_key(dial: str, division: float) -> str:
    """What a reading is kept under: the number of the dial, or its division [mm] where nobody said a number."""
    name = " ".join(dial.split()).upper()
    return f"dial {name}" if name else f"a dial of {division:g} mm"


def repeat_reading(found: Repeats, what: str = "") -> Accepted:
    """Scatter of a reading [mm]: of any reader, or of one where that is more."""
    # Of a standard deviation with so many degrees of freedom: any textbook.
    return Accepted(max(found.whole, found.one or 0.0), 1.0 / sqrt(2 * found.freedom), what)


def accept_repeats(
    store: Store, card: ChuckRecord, traces: Sequence[Trace], dial: str, by: str, at: datetime
) -> list[str]:
    """Keep what places read again say of a dial with the chuck; in words what was kept, or why nothing was."""
    division = max(resolution_of(one.reading)[0] for one in traces)
    try:
        found = read_repeats(traces, division)
    except InputError as error:
        return [f"nothing learned of what {dial_key(dial, division)} repeats to: {error}"]
    return accept_study(store, card, found, dial_key(dial, division), by, at)


def accept_study(
    store: Store, card: ChuckRecord, found: Repeats, key: str, by: str, at: datetime
) -> list[str]:  # fmt: skip
    """Keep a study of a dial, by its ``dial_key``, with the chuck; in words what was kept."""
    reading = repeat_reading(found, f"{found.places} places read again, {at:%Y-%m-%d} {by}")
    accept(store, card, "repeatability", reading, by, at, style=key)
    readers = "" if found.between is None else sentence("; {} readers, who add {:.4f mm}", found.readers, found.between)
    return [
        sentence(
            "accepted for {} on chuck {}: it repeats to {:.4f mm} (R&R, a standard deviation, {} degrees of freedom{})",
            key,
            card.id,
            reading.value,
            found.freedom,
            readers,
        )
    ]


def learned_repeats(store: Store, card: ChuckRecord, *, alone: bool = False) -> list[Knowledge]:
    """What is known of every dial that was tried on a chuck; ``alone``: as in ``learned_of``."""
    return [
        learned_of(store, card, "repeatability", key, f"repeatability of {key} on chuck {card.id}", PRIOR, UNLIKE,
                   alone=alone)
        for key in styles_of(store, card, "repeatability")
    ]  # fmt: skip


@dataclass(frozen=True)
class Repeat:
    """What a dial repeats to [mm], the factor within which that is known, and in words where it comes from."""

    scatter: float
    factor: float
    words: str


def known_repeats(store: Store, card: ChuckRecord) -> dict[str, Repeat]:
    """The dials of which readings agree, by what they are kept under; never nearer than a factor of ``NEAREST``."""
    found = {}
    for known in learned_repeats(store, card, alone=True):
        one = known.learned
        if agrees(one):
            factor = max(one.high / one.median, one.median / one.low, NEAREST)
            found[known.style] = Repeat(one.median, factor, known.sentence())
    return found


def repeat_of(known: Mapping[str, Repeat], dial: str, results: Sequence[IndicatorResult]) -> Repeat | None:
    """What is known of the dial that took these traces; None where nothing is, or the traces are of unlike dials."""
    keys = {dial_key(dial, one.resolution) for one in results}
    return known.get(keys.pop()) if len(keys) == 1 else None


def known_repeat(store: Store, setup: Setup, dial: str) -> Repeat | None:
    """What is known of a dial by its number on the chuck of a setup; None without a number, a card, or readings that
    agree."""
    card = chuck_in_use(store, setup)
    return known_repeats(store, card).get(dial_key(dial, 0.0)) if card is not None and dial.strip() else None

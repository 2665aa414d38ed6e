"""Which steps the last cut left in the bore of a set, as far as the records know it.

A cut from before steps were recorded names the setup it was made for: its steps are those of that setup, where all
versions of it have the same, for which of them was cut is not known.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from heldtrue.errors import InputError
from heldtrue.planning.earlier_steps import Pair, pairs_of
from heldtrue.records import SetCut, SetupRecord, Store, open_setup
from heldtrue.shop.enter import known_card


def steps_left(store: Store, cuts: Sequence[SetCut]) -> tuple[Pair, ...] | None:
    """Diameter and height above the seat of every step after the last of the cuts of a set; None: not known. [mm]

    ``cuts``: those that count, oldest first.
    """
    if not cuts:
        return None
    newest, *older = reversed(cuts)
    found = _steps_of(store, newest)
    if newest.bore_steps is not None or found is None:
        return found
    # Without a record of what stood after it, any step of an earlier cut may be there still.
    for cut in older:
        if _steps_of(store, cut) != ():
            return None
        if cut.bore_steps is not None:
            break
    return found


def _steps_of(store: Store, cut: SetCut) -> tuple[Pair, ...] | None:
    if cut.bore_steps is not None:
        return cut.bore_steps
    if cut.setup is None or known_card(store, SetupRecord, cut.setup) is None:
        return None
    cards = (one.card for one in store.versions(SetupRecord, cut.setup))
    found = {_steps_in(card.document) for card in cards if isinstance(card, SetupRecord)}
    return found.pop() if len(found) == 1 else None


def _steps_in(document: Mapping[str, Any]) -> tuple[Pair, ...] | None:
    """Of a setup in the records; None where it cannot be read."""
    try:
        setup = open_setup(document)
    except InputError:
        return None
    return pairs_of(setup.boring.steps if setup.boring is not None else None) or ()

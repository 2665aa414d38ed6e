"""What the records know of a chuck that answers about causes rest on: how it centres, what its dials repeat to.  mm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from heldtrue.planning.setup import Setup
from heldtrue.records import Store
from heldtrue.shop.enter import chuck_in_use
from heldtrue.shop.learned_centring import Centring, known_centring
from heldtrue.shop.learned_repeat import Repeat, known_repeats


@dataclass(frozen=True)
class Taught:
    """``centring``: None where no readings agree; ``repeats``: of the dials of which readings agree, by
    ``dial_key``."""

    centring: Centring | None
    repeats: Mapping[str, Repeat]


def taught_for_causes(store: Store, setup: Setup) -> Taught | None:
    """What readings have taught of the chuck of a setup; None without its card."""
    card = chuck_in_use(store, setup)
    return None if card is None else Taught(known_centring(store, setup), known_repeats(store, card))

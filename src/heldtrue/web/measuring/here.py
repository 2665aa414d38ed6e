"""What a page about gauge rings is about: one chuck, and what was typed for it."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256

from heldtrue.planning.entries import Chuck
from heldtrue.quantities import UnitSystem
from heldtrue.records import ChuckRecord
from heldtrue.shop.typed import system_of
from heldtrue.web.desk import Desk
from heldtrue.web.readings.store import Bench


@dataclass
class Here:
    """``bench``: ring and readings as typed; ``chuck``: the plate on the ``card``; ``unit`` of its pressure gauge."""

    desk: Desk
    bench: Bench
    card: ChuckRecord
    chuck: Chuck
    unit: str

    @property
    def system(self) -> UnitSystem:
        """Units of forces and lengths."""
        return system_of(self.card)


def bench_name(chuck: str) -> str:
    """What the readings of a chuck's ring are called: a number may have letters that no file name has."""
    return f"_ring-{sha256(chuck.encode()).hexdigest()[:16]}"

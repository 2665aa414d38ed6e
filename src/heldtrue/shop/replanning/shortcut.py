"""Setups whose chuck alone has changed, all at once: where the pressures that were set still pass for certain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from heldtrue.planning.kept_limits import ChuckToday, KeptLimits, StatedChuck, grease_of, still_hold, today
from heldtrue.records import ChuckRecord, Replanned, Store
from heldtrue.records.replans import KEPT_LIMITS
from heldtrue.shop.chuck_log import chuck_state
from heldtrue.shop.enter import known_card
from heldtrue.shop.replanning.state import State
from heldtrue.tooling.grip_estimate import Reading


class Known(NamedTuple):
    """A setup with the full plan that its limits are of, and the state it is in now."""

    full: Replanned
    state: State


class Shortcut:
    """The shortcut at one moment; a chuck is asked once for each plate it is planned with."""

    def __init__(self, store: Store, now: datetime) -> None:
        self.store, self.now = store, now
        self._chucks: list[ChuckToday] = []
        self._places: dict[tuple[str, bytes], int] = {}

    def floors(self, asked: Sequence[Known]) -> list[dict[str, float] | None]:
        """For each setup the floors of its steps by name [MPa], or None where a full plan has to say."""
        if not asked:
            return []
        limits = KeptLimits.read([one.full.limits for one in asked])
        which = [self._chuck(one.full.names.get("chuck", ""), limits, place) for place, one in enumerate(asked)]
        fine, floors = still_hold(limits, self._chucks, which)
        rows = zip(limits.names(), fine.tolist(), floors.tolist(), strict=True)
        return [dict(zip(names, low, strict=False)) if good else None for names, good, low in rows]

    def outcome(self, one: Known, floors: Mapping[str, float]) -> Replanned:
        """As it was, with the floors of today; up to the pressure that is set it is known to pass, not beyond."""
        full = one.full
        steps = {name: {**full.steps[name], "floor": floor, "ceiling": full.steps[name]["pressure"]}
                 for name, floor in floors.items()}  # fmt: skip
        return Replanned(
            setup=full.setup, state=one.state.whole, rest=one.state.rest, version=full.version, content=full.content,
            verdict=full.verdict, reason=full.reason, how=KEPT_LIMITS, base=full.state, names=full.names,
            planned=full.planned, steps=steps, first_at=self.now, last_at=self.now,
        )  # fmt: skip

    def _chuck(self, chuck: str, limits: KeptLimits, place: int) -> int:
        """The place of a row's chuck, as it grips today, among those asked about."""
        key = (chuck, limits.stated[place])
        if key not in self._places:
            self._places[key] = len(self._chucks)
            self._chucks.append(self._today(chuck, limits.chuck(place)))
        return self._places[key]

    def _today(self, chuck: str, stated: StatedChuck) -> ChuckToday:
        card = known_card(self.store, ChuckRecord, chuck) if chuck else None
        if card is None:
            return today(stated, stated.readings, stated.plate.grease)
        log = chuck_state(self.store, card, self.now, stated.plate, stated.readings)
        rows = zip(log.used, log.days, strict=True)
        readings = [*(Reading(one.pressure, one.force, age, one.error) for one, age in rows), *stated.readings]
        return today(stated, readings, grease_of(stated, overdue=log.overdue, greased=log.grease_due is not None))

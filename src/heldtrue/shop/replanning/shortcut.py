"""Setups whose chuck alone has changed, all at once: where the pressures that were set still pass for certain."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from heldtrue.planning.kept_limits import ChuckToday, grease_of, plate_of, stated_readings, still_hold, today
from heldtrue.records import ChuckRecord, Replanned, Store
from heldtrue.records.replans import KEPT_LIMITS
from heldtrue.shop.chuck_log import chuck_state
from heldtrue.shop.enter import known_card
from heldtrue.shop.replanning.state import State
from heldtrue.tooling.grip_estimate import Reading


@dataclass(frozen=True)
class Known:
    """A setup with the full plan that its limits are of, and the state it is in now."""

    full: Replanned
    state: State


class Shortcut:
    """The shortcut at one moment; a chuck is asked once for each plate it is planned with."""

    def __init__(self, store: Store, now: datetime) -> None:
        self.store, self.now = store, now
        self._chucks: dict[tuple[Any, ...], ChuckToday] = {}

    def outcomes(self, asked: Sequence[Known]) -> list[Replanned | None]:
        """For each setup its outcome, or None where a full plan has to say."""
        if not asked:
            return []
        limits = [json.loads(one.full.limits) for one in asked]
        chucks = [self._chuck(one.full, kept) for one, kept in zip(asked, limits, strict=True)]
        fine, floors = still_hold(limits, chucks)
        rows = zip(asked, limits, fine.tolist(), floors.tolist(), strict=True)
        return [self._outcome(one, kept["steps"], low) if good else None for one, kept, good, low in rows]

    def _outcome(self, one: Known, names: Iterable[str], floors: list[float]) -> Replanned:
        """As it was, with the floors of today; up to the pressure that is set it is known to pass, not beyond."""
        full = one.full
        steps = {name: {**full.steps[name], "floor": floor, "ceiling": full.steps[name]["pressure"]}
                 for name, floor in zip(names, floors, strict=False)}  # fmt: skip
        return replace(full, state=one.state.whole, rest=one.state.rest, how=KEPT_LIMITS, base=full.state, key="",
                       steps=steps, limits="", first_at=self.now, last_at=self.now)  # fmt: skip

    def _chuck(self, full: Replanned, limits: Mapping[str, Any]) -> ChuckToday:
        chuck = full.names.get("chuck", "")
        own = stated_readings(limits)
        key = (chuck, *limits["plate"], limits["grease"], limits["serviced"], tuple(limits["threshold"] or ()), own)
        if key not in self._chucks:
            card = known_card(self.store, ChuckRecord, chuck) if chuck else None
            readings, grease = list(own), limits["grease"]
            if card is not None:
                log = chuck_state(self.store, card, self.now, plate_of(limits), own)
                rows = zip(log.used, log.days, strict=True)
                readings = [*(Reading(one.pressure, one.force, age, one.error) for one, age in rows), *own]
                grease = grease_of(limits, overdue=log.overdue, greased=log.grease_due is not None)
            self._chucks[key] = today(limits, readings, grease)
        return self._chucks[key]

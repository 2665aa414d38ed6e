"""What a start was decided on, to know whether the answer that stands on a screen is still the answer."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime

from heldtrue.planning.setup import Setup
from heldtrue.records import GaugeReading, Greasing, SetCut, SetMove, Store
from heldtrue.records.events import Event
from heldtrue.shop.friction_log import friction_rows
from heldtrue.shop.from_records import with_records
from heldtrue.shop.replanning.standing import stopping


@dataclass(frozen=True)
class Basis:
    """What one decision rests on.

    ``setup``: as it is typed; ``chuck_log`` with the friction that was tried, ``jaw_history``: ids of the rows that
    count, oldest first; ``records``: the setup with what the records make of it at that moment, and in words what that
    is: a date that passes (grease due) changes it without a new row; ``replanned``: why nothing starts until somebody
    has looked at what re-planning found.
    """

    setup: Setup
    chuck_log: tuple[str, ...]
    jaw_history: tuple[str, ...]
    records: tuple[Setup, tuple[str, ...]]
    replanned: tuple[str, ...] = ()

    def changes(self, other: Basis) -> tuple[str, ...]:
        """The names of the parts that differ; empty where an answer for the one is an answer for the other."""
        return tuple(one.name for one in fields(self) if getattr(self, one.name) != getattr(other, one.name))


def basis_of(setup: Setup, store: Store, now: datetime) -> Basis:
    """What a start of this setup rests on at ``now``. Raises: as ``Store``."""
    chuck, jaws = setup.chuck.number, setup.jaws.number
    log: list[Event] = [*store.events(GaugeReading, chuck=chuck), *store.events(Greasing, chuck=chuck)] if chuck else []
    history = [*store.events(SetCut, jaw_set=jaws), *store.events(SetMove, jaw_set=jaws)] if jaws else []
    log += list(friction_rows(setup, store))
    return Basis(
        setup, tuple(one.id for one in log), tuple(one.id for one in history),
        with_records(setup, store, now), stopping(store, setup),
    )  # fmt: skip

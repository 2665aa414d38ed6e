"""A run of parts, written down: what was set, what came of it, and what was different from the run before."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from heldtrue.planning.setup import Setup
from heldtrue.records import RunRecord, StartDecision, Store, since_last_run
from heldtrue.shop.enter import enter_setup


@dataclass(frozen=True)
class RunMade:
    """What came of a run. Pressures in MPa, speed in rev/min; None was not said; ``readings`` by name with its unit."""

    rough_pressure: float | None = None
    finish_pressure: float | None = None
    speed_rpm: float | None = None
    quantity: int = 0
    scrap: int = 0
    lot: str = ""
    readings: Mapping[str, float] | None = None
    remark: str = ""


def record_run(store: Store, setup: Setup, id: str, made: RunMade, *, by: str, now: datetime) -> RunRecord:
    """Keep the setup and the run; the row has what changed, and the start it passed, None where none was decided.

    Raises: as ``Store.write``.
    """
    card = enter_setup(store, setup, by, id=id, why="run")
    gates = store.events(StartDecision, newest=1, setup=card.id)
    planned = RunRecord(
        at=now, by=by, setup=card.id, setup_version=card.version, machine=card.machine, chuck=card.chuck,
        jaw_set=card.jaw_set, decision=gates[0].id if gates else None, rough_pressure=made.rough_pressure,
        finish_pressure=made.finish_pressure, speed_rpm=made.speed_rpm, quantity=made.quantity, scrap=made.scrap,
        lot=made.lot, readings=dict(made.readings or {}), remark=made.remark,
    )  # fmt: skip
    changes = tuple(one.words for one in since_last_run(store, card.id, planned))
    (row,) = store.write(replace(planned, changed=(*_of_gate(gates[0] if gates else None), *changes)), by=by)
    assert isinstance(row, RunRecord)
    return row


def override_of(store: Store, id: str) -> StartDecision | None:
    """The start against the answer that is still to be seen: the last start of a setup, or that of its last run."""
    last = next(iter(store.events(StartDecision, newest=1, setup=id)), None)
    if last is None or last.override_reason:
        return last
    run = store.last_run(id)
    made = () if run is None or run.decision is None else store.events(StartDecision, id=run.decision)
    return next((one for one in made if one.override_reason), None)


def _of_gate(gate: StartDecision | None) -> tuple[str, ...]:
    """What a run must carry of the start before it: that it was refused, or made against the answer."""
    if gate is None or gate.verdict == "may start":
        return ()
    if gate.override_reason:
        return (f"started against the answer by {gate.by}: {gate.override_reason}",)
    return (f"run although the start of {gate.at:%Y-%m-%d %H:%M} was refused: {gate.reason}",)

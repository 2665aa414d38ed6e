"""The gate before every start, written down: what the gauge showed, the answer, who stood there."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from heldtrue.errors import InputError
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.planning.setup import Setup
from heldtrue.planning.start_gate import StartDecision, decide_start
from heldtrue.planning.window import gauge_unit_of
from heldtrue.records import RunRecord, Store, since_last_run
from heldtrue.records import StartDecision as DecisionRow
from heldtrue.records.differences import Change
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.from_records import with_records
from heldtrue.shop.shelf import why_unfit

LEAST_REASON = 8
"""Letters of a reason for an override: enough to say something."""


@dataclass(frozen=True)
class Start:
    """A decision as it was recorded.

    ``changes``: since the last run of this setup; ``from_log``: what the records changed in the setup, in words;
    ``overridden``: started all the same, with ``reason``.
    """

    decision: StartDecision
    row: DecisionRow
    changes: tuple[Change, ...]
    from_log: tuple[str, ...]

    @property
    def overridden(self) -> bool:
        """Was it started although it must not?"""
        return bool(self.row.override_reason)

    @property
    def goes(self) -> bool:
        """Does the spindle turn?"""
        return self.decision.may or self.overridden


def start(
    store: Store, setup: Setup, id: str, gauge: float, *, typed: str, by: str, now: datetime, step: str | None = None,
    override: str = "",
) -> Start:  # fmt: skip
    """Decide and record one start.

    ``gauge`` [MPa], ``typed``: as it was entered; ``override``: why it is started although it must not be.
    Raises: ``InputError`` for a setup that cannot be planned, an override without a reason, a missing name.
    """
    if not by.strip():
        raise InputError("give your name: a start is recorded with it")
    if override and len(override.strip()) < LEAST_REASON:
        raise InputError(f'override: "{override}" is no reason; say why it holds all the same')
    planned, from_log = with_records(setup, store, now)
    decision = decide_start(planned, gauge, step)
    if unfit := why_unfit(setup, store):
        decision = replace(decision, reasons=(*unfit, *decision.reasons))
    card = enter_setup(store, setup, by, id=id, why="before a start")
    if last := _last_run(store, card.id, decision):
        decision = replace(decision, warnings=(last, *decision.warnings))
    reason = decision.words if decision.may else "; ".join(decision.reasons)
    row = DecisionRow(
        at=now, by=by, setup=card.id, setup_version=card.version, gauge_pressure=gauge, gauge_text=typed,
        verdict="may start" if decision.may else "must not start", reason=reason,
        override_reason="" if decision.may else override.strip(),
    )  # fmt: skip
    (written,) = store.write(row, by=by)
    assert isinstance(written, DecisionRow)
    return Start(decision, written, since_last_run(store, card.id), from_log)


def _last_run(store: Store, setup: str, decision: StartDecision) -> str:
    """The pressure of the last run of this step, in words; empty where none is known."""
    runs = store.events(RunRecord, newest=1, setup=setup)
    if not runs:
        return ""
    run = runs[0]
    pressure = run.finish_pressure if decision.step.finished and run.finish_pressure else run.rough_pressure
    if pressure is None:
        return ""
    unit = gauge_unit_of(decision.setup)
    return f"the last run, {run.at:%Y-%m-%d} by {run.by}, was at {pressure_text(pressure, unit)}"

"""The gate before every start, written down: what the gauge showed, the answer, who stood there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from heldtrue.errors import InputError
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.planning.setup import Setup
from heldtrue.planning.start_gate import StartDecision, decide_start
from heldtrue.planning.window import gauge_unit_of
from heldtrue.records import ChuckRecord, RunRecord, Store, since_last_run
from heldtrue.records import StartDecision as DecisionRow
from heldtrue.records.differences import Change
from heldtrue.shop.enter import enter_setup, known_card
from heldtrue.shop.from_records import with_records
from heldtrue.shop.replanning.standing import not_looked_at, stopping
from heldtrue.shop.runs import override_of

OTHER_PRESSURE = 0.05
"""Share by which a gauge must differ from the last run's pressure for the two to be named together."""
LEAST_REASON = 8
"""Letters of a reason for an override: enough to say something."""

NOT_REPLANNED = "what this setup rests on has changed since it was last re-planned: run heldtrue replan"


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
    planned, from_log = with_records(setup, store, now, by)
    decision = decide_start(planned, gauge, step)
    card = enter_setup(store, setup, by, id=id, why="before a start")
    told = (*_before_words(store, card.id, setup, decision), *decision.warnings)
    if not_looked_at(store, setup, now):
        told = (*told, NOT_REPLANNED)
    # What re-planning found comes on top of the judge: it can only refuse more.
    decision = replace(decision, warnings=told, reasons=(*decision.reasons, *stopping(store, setup)))
    reason = decision.words if decision.may else "; ".join(decision.reasons)
    row = DecisionRow(
        at=now, by=by, setup=card.id, setup_version=card.version, gauge_pressure=gauge, gauge_text=typed,
        verdict="may start" if decision.may else "must not start", reason=reason,
        override_reason="" if decision.may else override.strip(),
    )  # fmt: skip
    (written,) = store.write(row, by=by)
    assert isinstance(written, DecisionRow)
    return Start(decision, written, since_last_run(store, card.id), from_log)


def _before_words(store: Store, id: str, setup: Setup, decision: StartDecision) -> Iterator[str]:
    """What the last start and the last jobs left behind: an override, and pressures that may still be set."""
    if words := _override_words(store, id):
        yield words
    unit, shown = gauge_unit_of(decision.setup), decision.gauge
    runs = store.events(RunRecord, newest=1, setup=id)
    pressure = _pressure_of(runs[0], decision) if runs else None
    if pressure is not None:
        run, differs = runs[0], abs(pressure - shown) > OTHER_PRESSURE * pressure
        said = f"the last run, {run.at:%Y-%m-%d} by {run.by}, was at {pressure_text(pressure, unit)}"
        yield f"{said}; the gauge shows {pressure_text(shown, unit)}" if differs else said
    chuck = setup.chuck.number
    other = store.events(RunRecord, newest=1, chuck=chuck) if chuck and known_card(store, ChuckRecord, chuck) else ()
    if other and other[0].setup != id:
        left = other[0].finish_pressure or other[0].rough_pressure
        if left is not None:
            yield (f"the last job on {chuck}, {other[0].setup} on {other[0].at:%Y-%m-%d}, was at "
                   f"{pressure_text(left, unit)}: it may still be set")  # fmt: skip


def _override_words(store: Store, id: str) -> str:
    """That the last start, or that of the last run, was made although it must not be, and why; else empty."""
    row = override_of(store, id)
    return "" if row is None else (f"the last start, {row.at:%Y-%m-%d}, was made against the answer by {row.by}: "
                                   f"{row.override_reason}")  # fmt: skip


def _pressure_of(run: RunRecord, decision: StartDecision) -> float | None:
    """Pressure of a run in the step that is decided on; None where it is not known. [MPa]"""
    return run.finish_pressure if decision.step.finished and run.finish_pressure else run.rough_pressure

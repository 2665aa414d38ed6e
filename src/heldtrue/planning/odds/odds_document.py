"""The JSON of the measurements that pay, and of the assumptions."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import Any

from pydantic import Field

from heldtrue.json_document import FORMAT, Entry, schema_of
from heldtrue.json_document import to_json as as_json
from heldtrue.planning.entries import SpreadKind
from heldtrue.planning.odds.assumptions import AssumptionRow
from heldtrue.planning.odds.measurements import Measurement, Pair, Window
from heldtrue.planning.odds.shares import Decides
from heldtrue.planning.result import CAUTIONS, Plan, State
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import KINDS, from_core


class WindowEntry(Entry):
    """A pressure window, of the step that has least room; floor above ceiling: there is none."""

    floor: float | None
    ceiling: float | None
    pressures: int = Field(description="how many pressures the job needs")


class MeasurementEntry(Entry):
    """One measurement that the shop could make."""

    name: str = Field(description="the input it narrows, a fixed word")
    what: str
    chance: float = Field(description="that it turns the plan into a pass; 0 where it passes already")
    guessed: bool = Field(description="a yes or no that nobody can put odds on, counted as one in two")
    window_now: WindowEntry
    window_after: WindowEntry = Field(description="expected")
    minutes: float = Field(description="at the machine; common practice, no source")
    keys: list[str] = Field(description="keys of the setup file where it is entered")


class ShareEntry(Entry):
    """One input's share of what spreads the margin of the leading check."""

    name: str
    label: str
    share: float


class PairEntry(Entry):
    """Two measurements made together."""

    names: list[str] = Field(description="of both, fixed words")
    chance: float = Field(description="that they turn the plan into a pass")


class MeasurementsDocument(Entry):
    """The measurements that pay, best first."""

    format: int = FORMAT
    title: str
    verdict: State
    unit: str = Field(description="of every pressure")
    leading: str = Field(description="name of the check that decides")
    shares: list[ShareEntry] = Field(description="inputs that spread its margin, largest first")
    together: float | None = Field(description="share of what inputs do only together")
    measurements: list[MeasurementEntry]
    best_pair: PairEntry | None = Field(description="two that together do more; null where there are none")
    cautions: list[str]


class AssumptionEntry(Entry):
    """One input: its range, what the worst case takes, its spread and where all that comes from."""

    name: str = Field(description="a fixed word")
    label: str
    low: float
    likely: float
    high: float
    worst: float = Field(description="the end at which holding is checked")
    unit: str
    source: str
    note: str
    spread: SpreadKind | None = Field(description="null for a yes or no and for what other inputs say")
    scope: str = Field(description="setup, or part: changes from part to part; empty where there is no spread")
    reason: str = Field(description="why this spread")
    change: str = Field(description="key of the setup file that changes it; empty where none does")


class AssumptionsDocument(Entry):
    """Every input of a plan."""

    format: int = FORMAT
    title: str
    assumptions: list[AssumptionEntry]


def measurements_json(plan: Plan, found: Sequence[Measurement], pair: Pair | None, decided: Decides | None) -> str:
    """The measurements of a plan as JSON text."""
    gauge = gauge_unit_of(plan.setup)
    leading = plan.answer.leading
    return as_json(
        MeasurementsDocument(
            title=plan.setup.title, verdict=plan.verdict, unit=gauge, leading="" if leading is None else leading.name,
            shares=[ShareEntry(name=one.name, label=one.label, share=round(one.share, 3)) for one in decided.shares]
            if decided else [],
            together=None if decided is None else round(decided.together, 3),
            measurements=[
                MeasurementEntry(name=one.name, what=one.ask.what, chance=round(one.chance, 2), guessed=one.guessed,
                                 window_now=_window(one.now, gauge), window_after=_window(one.after, gauge),
                                 minutes=one.ask.minutes, keys=list(one.keys))
                for one in found
            ],
            best_pair=None if pair is None else PairEntry(names=list(pair.names), chance=round(pair.chance, 2)),
            cautions=list(CAUTIONS),
        )
    )  # fmt: skip


def _window(window: Window, gauge: str) -> WindowEntry:
    floor, ceiling = (
        round(from_core(end, "pressure", gauge), 4) if isfinite(end) else None for end in (window.floor, window.ceiling)
    )
    return WindowEntry(floor=floor, ceiling=ceiling, pressures=window.steps)


def assumptions_json(plan_title: str, rows: Sequence[AssumptionRow], gauge: str) -> str:
    """The assumptions of a setup as JSON text; ``gauge``: unit of pressures."""
    return as_json(AssumptionsDocument(title=plan_title, assumptions=[_assumption(row, gauge) for row in rows]))


def _assumption(row: AssumptionRow, gauge: str) -> AssumptionEntry:
    known, spread = row.known, row.spread
    unit = gauge if known.kind == "pressure" else KINDS[known.kind].core
    low, likely, high, worst = (
        from_core(value, known.kind, unit) if unit else value
        for value in (known.low, known.likely, known.high, known.worst)
    )
    return AssumptionEntry(
        name=known.name, label=known.label, low=low, likely=likely, high=high, worst=worst, unit=unit,
        source=known.source, note=known.note, spread=None if spread is None else spread.kind,
        scope="" if spread is None else spread.scope, reason="" if spread is None else spread.reason,
        change=", ".join(row.change),
    )  # fmt: skip


def measurements_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the measurements."""
    return schema_of(MeasurementsDocument)


def assumptions_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the assumptions."""
    return schema_of(AssumptionsDocument)

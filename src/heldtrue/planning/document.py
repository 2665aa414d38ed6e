"""The plan as a JSON document, with names other programs may rely on, and its JSON Schema.

Forces in N, form in mm, whatever the setup's units; pressure in the unit of the gauge, and every check in the unit it
names.  A figure that has no bound (nothing limits it) is null.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from math import isfinite
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from heldtrue.planning.compare import Way
from heldtrue.planning.known import Known
from heldtrue.planning.result import Check, Hold, Plan, PressureStep, State
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import KINDS, from_core

FORMAT = 1
"""Goes up when a name changes its meaning or goes; not when one is added."""


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Step(_Entry):
    """One pressure and the cuts made at it."""

    name: str
    cuts: list[str]
    floor: float | None
    floor_by: str
    ceiling: float | None
    ceiling_by: str
    recommended: float | None


class Pressure(_Entry):
    """The window, of the first step; where two pressures are needed, ``steps`` has both."""

    unit: str
    floor: float | None
    ceiling: float | None
    recommended: float | None
    reason: str
    checked_at: float = Field(description="pressure of the first step at which the checks were made")
    steps: list[Step]
    openers: list[str] = Field(description="where there is no window: what would open one")


class Speed(_Entry):
    """Spindle limit to write, and the top speed with these jaws at this pressure."""

    unit: Literal["rev/min"] = "rev/min"
    limit: float
    reason: str
    top: float
    top_reason: str


class Force(_Entry):
    """Least grip that holding may count on, and the most that distorts. [N]"""

    static_total: float
    dynamic_total: float
    per_jaw: float
    static_most: float
    dynamic_most: float


class LobeEntry(_Entry):
    """Waves a turn and their amplitude. [mm]"""

    order: int
    amplitude: float


class SurfaceEntry(_Entry):
    """What the grip does to one machined surface. [mm]"""

    name: str
    clamped_runout: float
    released_roundness: float
    released_cylindricity: float
    released_flatness: float
    size_shift: float = Field(description="change of diameter at release")
    lobes: list[LobeEntry]
    worst_fit: str


class HoldEntry(_Entry):
    """How one load is held. [N, rev/min]"""

    cut: str
    case: str
    failure: str
    factor: float | None
    safety: float
    grip_needed: float | None
    speed: float
    handbook_factor: float | None


class CheckEntry(_Entry):
    """One question, its answer and what decides it."""

    name: str
    question: str
    state: State
    value: float | None
    limit: float | None
    unit: str
    margin: float | None = Field(description="share of the limit to spare with every unknown at its worst")
    best_margin: float | None = Field(description="the same with every unknown at its best")
    decided_by: str
    from_: str = Field(serialization_alias="from")
    measure_next: str
    detail: str


class AssumedEntry(_Entry):
    """An input nobody stated, at what it was taken and how far it may lie off."""

    name: str
    value: float
    other_end: float
    unit: str
    note: str
    measure: str


class PlanDocument(_Entry):
    """One plan."""

    format: int = FORMAT
    title: str
    part: str
    verdict: State
    pressure: Pressure
    speed: Speed
    grip_force: Force
    surfaces: list[SurfaceEntry]
    holds: list[HoldEntry]
    checks: list[CheckEntry]
    assumed: list[AssumedEntry]
    notes: list[str]
    cautions: list[str]


def document(plan: Plan) -> PlanDocument:
    """The JSON document of a plan."""
    unit = gauge_unit_of(plan.setup)

    def gauge(pressure: float | None) -> float | None:
        return None if pressure is None or not isfinite(pressure) else from_core(pressure, "pressure", unit)

    def step(s: PressureStep) -> Step:
        return Step(
            name=s.name, cuts=list(s.cuts), floor=gauge(s.floor), floor_by=s.floor_by, ceiling=gauge(s.ceiling),
            ceiling_by=s.ceiling_by, recommended=gauge(s.recommended),
        )  # fmt: skip

    advice = plan.pressure
    return PlanDocument(
        title=plan.setup.title,
        part=plan.setup.part.number,
        verdict=plan.verdict,
        pressure=Pressure(
            unit=unit, floor=gauge(advice.floor), ceiling=gauge(advice.ceiling), recommended=gauge(advice.recommended),
            reason=advice.reason, checked_at=from_core(advice.used, "pressure", unit),
            steps=[step(s) for s in advice.steps], openers=list(advice.openers),
        ),
        speed=Speed(
            limit=plan.speed.limit, reason=plan.speed.reason, top=plan.speed.top, top_reason=plan.speed.top_reason
        ),
        grip_force=Force(**vars(plan.grip_force)),
        surfaces=[
            SurfaceEntry(
                name=s.name, clamped_runout=s.clamped_runout, released_roundness=s.released_roundness,
                released_cylindricity=s.released_cylindricity, released_flatness=s.released_flatness,
                size_shift=s.size_shift, lobes=[LobeEntry(order=x.order, amplitude=x.amplitude) for x in s.lobes],
                worst_fit=s.worst_fit,
            )
            for s in plan.surfaces
        ],
        holds=[_hold(h) for h in plan.holds],
        checks=[_check(c, unit) for c in plan.checks],
        assumed=[_assumed(k, unit) for k in plan.assumed],
        notes=list(plan.notes),
        cautions=list(plan.cautions),
    )  # fmt: skip


def to_json(plan: Plan) -> str:
    """The plan as JSON text."""
    return document(plan).model_dump_json(by_alias=True, indent=2)


def comparison_json(ways: Sequence[Way]) -> str:
    """A comparison as JSON text: the ways, best first, each with its plan (null where it cannot be)."""
    entries = [
        {
            "way": way.name, "style": way.style, "side": way.side, "jaws": way.jaws, "why": way.why, "needs": way.needs,
            "form_error": _bounded(way.form_error),
            "plan": None if way.plan is None else document(way.plan).model_dump(by_alias=True),
        }
        for way in ways
    ]  # fmt: skip
    return json.dumps({"format": FORMAT, "ways": entries}, indent=2)


def plan_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the plan document."""
    schema = PlanDocument.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def _hold(hold: Hold) -> HoldEntry:
    return HoldEntry(
        cut=hold.cut, case=hold.case, failure=hold.failure, factor=_bounded(hold.factor), safety=hold.safety,
        grip_needed=_bounded(hold.grip_needed), speed=hold.speed_rpm, handbook_factor=_bounded(hold.handbook_factor),
    )  # fmt: skip


def _check(check: Check, gauge: str) -> CheckEntry:
    unit = gauge if check.kind == "pressure" else KINDS[check.kind].core
    value, limit = (_in_unit(v, check.kind, unit) for v in (check.value, check.limit))
    return CheckEntry(
        name=check.name, question=check.question, state=check.state, value=value, limit=limit, unit=unit,
        margin=_bounded(check.margin), best_margin=_bounded(check.best_margin), decided_by=check.decided_by,
        from_=check.source, measure_next=check.measure, detail=check.detail,
    )  # fmt: skip


def _assumed(known: Known, gauge: str) -> AssumedEntry:
    unit = gauge if known.kind == "pressure" else KINDS[known.kind].core
    value, other = (_in_unit(v, known.kind, unit) for v in (known.worst, known.best))
    return AssumedEntry(name=known.label, value=value or 0.0, other_end=other or 0.0, unit=unit, note=known.note,
                        measure=known.measure)  # fmt: skip


def _in_unit(value: float, kind: str, unit: str) -> float | None:
    if not isfinite(value):
        return None
    return from_core(value, kind, unit) if unit else value


def _bounded(value: float) -> float | None:
    return value if isfinite(value) else None

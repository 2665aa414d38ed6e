"""The plan as a JSON document, with names other programs may rely on, and its JSON Schema.

Forces in N, form in mm, whatever the setup's units; pressure in the unit of the gauge, and every check in the unit it
names.  A figure that has no bound (nothing limits it), or that does not apply, is null.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import Any, Literal

from pydantic import Field

from heldtrue.json_document import FORMAT, Entry, schema_of
from heldtrue.json_document import to_json as as_json
from heldtrue.planning.compare import Way
from heldtrue.planning.known import Known
from heldtrue.planning.odds.odds_words import batch_words, part_words
from heldtrue.planning.phrases import lead_words, measure_words, remedy_words, window_words
from heldtrue.planning.result import Check, Failure, Hold, Odds, Plan, PressureStep, State, SurfaceResult
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import KINDS, from_core
from heldtrue.tooling.jaws import STYLES


class Step(Entry):
    """One pressure and the cuts made at it."""

    name: str
    cuts: list[str]
    floor: float | None
    floor_by: str
    ceiling: float | None
    ceiling_by: str
    recommended: float | None


class Pressure(Entry):
    """The window, of the first step; where two pressures are needed, ``steps`` has both."""

    unit: str
    floor: float | None
    ceiling: float | None
    recommended: float | None
    reason: str
    checked_at: float = Field(description="pressure of the first step at which the checks were made")
    steps: list[Step]


class Speed(Entry):
    """Spindle limit to write, and the top speed with these jaws at this pressure."""

    unit: Literal["rev/min"] = "rev/min"
    limit: float
    reason: str
    top: float
    top_reason: str


class Force(Entry):
    """Least grip that holding may count on, and the most that distorts. [N]"""

    static_total: float
    dynamic_total: float
    per_jaw: float
    static_most: float
    dynamic_most: float


class LobeEntry(Entry):
    """Waves a turn and their amplitude. [mm]"""

    order: int
    amplitude: float


class SurfaceEntry(Entry):
    """What the grip does to one machined surface. [mm]"""

    name: str
    side: str = Field(json_schema_extra={"enum": ["outside", "inside", "face"]})
    clamped_runout: float = Field(description="indicator on a surface that was round or flat before, part clamped")
    released_roundness: float | None = Field(description="null on a face")
    released_cylindricity: float | None = Field(description="null on a face")
    released_flatness: float | None = Field(description="null but on a face")
    size_shift: float | None = Field(description="change of diameter at release; null on a face")
    cut_size: float = Field(description="left by the finishing force, on diameter, at the most")
    cut_taper: float = Field(description="left by the finishing force, on diameter, from end to end")
    lobes: list[LobeEntry]
    worst_fit: str


class HoldEntry(Entry):
    """How one load is held. [N, rev/min]"""

    cut: str
    case: str
    failure: str
    factor: float | None
    safety: float
    grip_needed: float | None
    speed: float
    handbook_factor: float | None


class PrintEntry(Entry):
    """How one jaw bears on the part, for one size of it. [mm, MPa]"""

    fit: str
    part_diameter: float
    bore_diameter: float
    taper: float
    peak: float
    words: str


class RuleEntry(Entry):
    """One rule of a check, in the unit of the check."""

    name: str
    value: float | None
    limit: float | None
    margin: float | None


class FailureEntry(Entry):
    """How a load would get the part out of the jaws: what is needed with safety, and what the grip carries."""

    mode: str = Field(description="slip round, slip along, tip or lift")
    cut: str
    case: str
    radius: float = Field(description="of the tool, from the axis [mm]")
    reach: float = Field(description="of the tool, from the seat [mm]")
    needs: float | None
    carries: float | None
    unit: str = Field(description="N mm of a moment, N of a force")


class RemedyEntry(Entry):
    """One change after which the leading check would pass."""

    what: str
    subject: str
    was: float | None
    to: float | None
    unit: str
    words: str


class AnswerEntry(Entry):
    """What comes first: the leading check, what to measure, what would help."""

    leading: str = Field(description="name of the check that decides; empty where none was made")
    words: str
    also: int = Field(description="how many other checks have the state of the leading one")
    measure_first: str
    remedies: list[RemedyEntry]


class OddsEntry(Entry):
    """How likely a check goes wrong, beside the worst case that decides; a probability, and its class in words."""

    part: float = Field(description="for one part, with no more digits than its error allows; 0: under 1 in a million")
    batch: float | None = Field(description="that any part of the batch does; null where no quantity is stated")
    parts: int | None = Field(description="how many parts the batch has")
    class_: str = Field(serialization_alias="class", description="class of ``part``: 'about 1 in 40'")
    batch_class: str = Field(description="class of ``batch``; empty where no quantity is stated")
    error: float = Field(description="half the width of the 95 % interval of ``part``")


class CheckEntry(Entry):
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
    group: str = Field(description="hold, grip left, plate, steady pressure, form, under the cut, marking or yield")
    subject: str = Field(description="the cut, surface, body or plate that it is about")
    rules: list[RuleEntry] = Field(description="every rule that must hold, where there is more than one")
    failure: FailureEntry | None = Field(description="of a hold: what would happen first")
    odds: OddsEntry | None = Field(description="how likely it goes wrong; null where it was not worked out")


class AssumedEntry(Entry):
    """An input nobody stated, at what it was taken and how far it may lie off."""

    name: str
    value: float
    other_end: float
    unit: str
    note: str
    measure: str


class PlanDocument(Entry):
    """One plan."""

    format: int = FORMAT
    title: str
    part: str = Field(description="part number")
    revision: str = Field(description="drawing revision")
    verdict: State
    pressure: Pressure
    speed: Speed
    grip_force: Force
    surfaces: list[SurfaceEntry]
    holds: list[HoldEntry]
    prints: list[PrintEntry]
    answer: AnswerEntry
    checks: list[CheckEntry]
    assumed: list[AssumedEntry]
    notes: list[str]
    cautions: list[str]


def pressure_entry(plan: Plan) -> Pressure:
    """The pressure window of a plan, in the unit of its gauge."""
    unit, advice = gauge_unit_of(plan.setup), plan.pressure

    def gauge(pressure: float | None) -> float | None:
        return None if pressure is None or not isfinite(pressure) else from_core(pressure, "pressure", unit)

    def step(s: PressureStep) -> Step:
        return Step(
            name=s.name, cuts=list(s.cuts), floor=gauge(s.floor), floor_by=s.floor_by, ceiling=gauge(s.ceiling),
            ceiling_by=s.ceiling_by, recommended=gauge(s.recommended),
        )  # fmt: skip

    return Pressure(
            unit=unit, floor=gauge(advice.floor), ceiling=gauge(advice.ceiling), recommended=gauge(advice.recommended),
            reason=window_words(advice, unit), checked_at=from_core(advice.used, "pressure", unit),
            steps=[step(s) for s in advice.steps],
    )  # fmt: skip


def document(plan: Plan) -> PlanDocument:
    """The JSON document of a plan."""
    unit = gauge_unit_of(plan.setup)
    return PlanDocument(
        title=plan.setup.title,
        part=plan.setup.part.number,
        revision=plan.setup.part.revision,
        verdict=plan.verdict,
        pressure=pressure_entry(plan),
        speed=Speed(
            limit=plan.speed.limit, reason=plan.speed.reason, top=plan.speed.top, top_reason=plan.speed.top_reason
        ),
        grip_force=Force(**vars(plan.grip_force)),
        surfaces=[_surface(s) for s in plan.surfaces],
        holds=[_hold(h) for h in plan.holds],
        prints=[
            PrintEntry(
                fit=p.fit, part_diameter=p.part_diameter, bore_diameter=p.bore_diameter, taper=p.taper, peak=p.peak,
                words=p.words,
            )
            for p in plan.prints
        ],
        answer=_answer(plan),
        checks=[_check(c, unit) for c in plan.checks],
        assumed=[assumed_entry(k, unit) for k in plan.answer.open_inputs],
        notes=list(plan.notes),
        cautions=list(plan.cautions),
    )  # fmt: skip


def to_json(plan: Plan) -> str:
    """The plan as JSON text."""
    return as_json(document(plan))


class WayEntry(Entry):
    """One way to hold the part. [mm]"""

    way: str
    style: str = Field(json_schema_extra={"enum": list(STYLES)})
    side: str = Field(json_schema_extra={"enum": ["outside", "inside"]})
    jaws: int
    stated: bool = Field(description="is this the way the setup file states?")
    why: str = Field(description="what puts it behind the best way, or what decides the best")
    needs: str = Field(description="what the shop must have for it")
    form_error: float | None = Field(description="largest released roundness or flatness; null where it cannot be")
    plan: PlanDocument | None = Field(description="null where it cannot be")


class ComparisonDocument(Entry):
    """The ways to hold one part, best first."""

    format: int = FORMAT
    ways: list[WayEntry]


def comparison_json(ways: Sequence[Way], setup: Setup) -> str:
    """A comparison as JSON text: the ways to hold ``setup``, best first."""
    entries = [
        WayEntry(
            way=way.name, style=way.style, side=way.side, jaws=way.jaws, stated=is_stated(way, setup), why=way.why,
            needs=way.needs, form_error=bounded(way.form_error), plan=None if way.plan is None else document(way.plan),
        )
        for way in ways
    ]  # fmt: skip
    return as_json(ComparisonDocument(ways=entries))


def is_stated(way: Way, setup: Setup) -> bool:
    """Is this the way the setup itself states?"""
    stated = (setup.jaws.style, setup.grip.side, setup.jaws.count or setup.chuck.jaws)
    return (way.style, way.side, way.jaws) == stated


def plan_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the plan document."""
    return schema_of(PlanDocument)


def comparison_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the comparison document."""
    return schema_of(ComparisonDocument)


def _surface(s: SurfaceResult) -> SurfaceEntry:
    face = s.side == "face"
    return SurfaceEntry(
        name=s.name, side=s.side, clamped_runout=s.clamped_runout,
        released_roundness=None if face else s.released_roundness,
        released_cylindricity=None if face else s.released_cylindricity,
        released_flatness=s.released_flatness if face else None, size_shift=None if face else s.size_shift,
        cut_size=s.cut_size, cut_taper=s.cut_taper,
        lobes=[LobeEntry(order=x.order, amplitude=x.amplitude) for x in s.lobes], worst_fit=s.worst_fit,
    )  # fmt: skip


def _hold(hold: Hold) -> HoldEntry:
    return HoldEntry(
        cut=hold.cut, case=hold.case, failure=hold.failure, factor=bounded(hold.factor), safety=hold.safety,
        grip_needed=bounded(hold.grip_needed), speed=hold.speed_rpm, handbook_factor=bounded(hold.handbook_factor),
    )  # fmt: skip


def _check(check: Check, gauge: str) -> CheckEntry:
    unit = gauge if check.kind == "pressure" else KINDS[check.kind].core
    value, limit = (_in_unit(v, check.kind, unit) for v in (check.value, check.limit))
    return CheckEntry(
        name=check.name, question=check.question, state=check.state, value=value, limit=limit, unit=unit,
        margin=bounded(check.margin), best_margin=bounded(check.best_margin), decided_by=check.decided_by,
        from_=check.source, measure_next=check.measure, detail=check.detail, group=check.group, subject=check.subject,
        rules=[
            RuleEntry(name=r.name, value=_in_unit(r.value, check.kind, unit), limit=_in_unit(r.limit, check.kind, unit),
                      margin=bounded(r.margin))
            for r in check.rules
        ],
        failure=None if check.failure is None else _failure(check.failure),
        odds=None if check.odds is None else odds_entry(check.odds),
    )  # fmt: skip


def odds_entry(odds: Odds) -> OddsEntry:
    """The odds of a check."""
    return OddsEntry(part=odds.part, batch=odds.batch, parts=odds.parts, class_=part_words(odds),
                     batch_class=batch_words(odds), error=float(f"{odds.error:.1g}"))  # fmt: skip


def _failure(failure: Failure) -> FailureEntry:
    return FailureEntry(
        mode=failure.mode, cut=failure.cut, case=failure.case, radius=failure.radius, reach=failure.reach,
        needs=bounded(failure.needs), carries=bounded(failure.carries), unit=KINDS[failure.kind].core,
    )  # fmt: skip


def _answer(plan: Plan) -> AnswerEntry:
    answer, units = plan.answer, plan.setup.units
    return AnswerEntry(
        leading="" if answer.leading is None else answer.leading.name, words=lead_words(plan, units),
        also=answer.alike, measure_first=measure_words(answer.measure_first),
        remedies=[
            RemedyEntry(what=r.what, subject=r.subject, was=r.was, to=r.to, unit=KINDS[r.kind].core if r.kind else "",
                        words=remedy_words(r, units))
            for r in answer.remedies
        ],
    )  # fmt: skip


def assumed_entry(known: Known, gauge: str) -> AssumedEntry:
    """One assumed input; ``gauge``: unit of its pressures."""
    unit = gauge if known.kind == "pressure" else KINDS[known.kind].core
    value, other = (_in_unit(v, known.kind, unit) for v in (known.worst, known.best))
    return AssumedEntry(name=known.label, value=value or 0.0, other_end=other or 0.0, unit=unit, note=known.note,
                        measure=known.measure)  # fmt: skip


def _in_unit(value: float, kind: str, unit: str) -> float | None:
    if not isfinite(value):
        return None
    return from_core(value, kind, unit) if unit else value


def bounded(value: float) -> float | None:
    """A number, or None for what JSON has no number for."""
    return value if isfinite(value) else None

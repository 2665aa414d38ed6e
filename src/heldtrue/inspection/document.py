"""What the readings say as JSON documents, and their JSON Schemas.

Lengths in mm and angles in degrees from jaw 1, whatever units were typed.  A figure that does not apply is null.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import degrees, isfinite
from typing import Annotated, Any, Literal

from pydantic import Field

from heldtrue.inspection.budget import Budget, LobeComparison
from heldtrue.inspection.causes import Diagnosis, JawHigh, NextTest
from heldtrue.inspection.estimate import Estimate
from heldtrue.inspection.indicator import IndicatorResult, Wave
from heldtrue.json_document import FORMAT, Entry, schema_of

CAUTIONS_NOTE = "show these wherever you show this"


class EstimateEntry(Entry):
    """A figure with its uncertainty."""

    value: float = Field(description="the figure")
    uncertainty: float | None = Field(description="its standard uncertainty")
    low: float | None = Field(description="lower end of the 95 % interval; null: no end")
    high: float | None = Field(description="upper end of the 95 % interval; null: no end")


class WaveEntry(Entry):
    """One wave round the part."""

    order: int = Field(description="waves a turn; 1 is the offset")
    amplitude: EstimateEntry = Field(description="half the swing [mm]")
    direction: float = Field(description="first high spot, from jaw 1 [deg]")
    direction_within: float = Field(description="half the 95 % interval of it [deg]")
    chance: float = Field(description="that noise alone looks like it; 0 for the offset, which is not tested")
    whole: bool = Field(description="false: only the part in step with the places was seen, it is at least that high")


class LeanEntry(Entry):
    """What differs from plane to plane."""

    tilt: float | None = Field(description="lean of the part's axis [mm per 100 mm]")
    tilt_low: float | None = Field(description="lower end of its 95 % interval")
    tilt_high: float | None = Field(description="upper end of its 95 % interval")
    tilt_direction: float | None = Field(description="which way it leans, from jaw 1 [deg]")
    taper: EstimateEntry | None = Field(description="change of radius [mm per 100 mm]")


class OutlierEntry(Entry):
    """A reading that was left out."""

    row: int = Field(description="which one, from 1")
    angle: float = Field(description="from jaw 1 [deg]")
    z: float = Field(description="along the part [mm]")
    reading: float = Field(description="as read [mm]")
    off: float = Field(description="off the rest [mm]")


class GaugesEntry(Entry):
    """What other gauges would show of the same surface, from the lobes alone. [mm]"""

    micrometer: float = Field(description="difference of diameters")
    vee_60: float = Field(description="swing over a vee block of 60 degrees")
    vee_90: float = Field(description="the same, 90 degrees")
    vee_120: float = Field(description="the same, 120 degrees")


class TraceEntry(Entry):
    """What one trace says."""

    side: Literal["outside", "inside", "face"] = Field(description="surface read")
    state: Literal["clamped", "free", "spindle", "not said"] = Field(description="of the part; spindle: a test bar")
    pressure: float | None = Field(description="it was clamped at [MPa]; null: not said")
    turned: float = Field(description="of the part in the jaws, against the first trace [deg]")
    readings: int = Field(description="how many")
    planes: list[float] = Field(description="places along the part [mm]")
    tir: float = Field(description="largest less smallest reading, outliers left out [mm]")
    runout: EstimateEntry = Field(description="the same of the fitted shape [mm]")
    offset: WaveEntry = Field(description="once per turn, at the middle plane; run-out by it is twice the amplitude")
    lobes: list[WaveEntry] = Field(description="those that count")
    highest_order: int = Field(description="the most lobes that these readings can tell")
    lean: LeanEntry | None = Field(description="null with one plane")
    noise: EstimateEntry = Field(description="standard deviation of one reading [mm]")
    resolution: float = Field(description="one division [mm]")
    resolution_from: str = Field(description="stated, or read off the digits")
    roundness_ls: float | None = Field(description="about the least-squares circle [mm]; null: not all round")
    roundness_mz: float | None = Field(description="minimum zone, ISO 12181 [mm]")
    roundness_high: float | None = Field(description="the same, with what lies between the places, 95 of 100 shapes")
    aliases: list[tuple[int, int]] = Field(description="lobes found, and the order that reads the same at these places")
    gauges: GaugesEntry = Field(description="micrometer and vee block")
    outliers: list[OutlierEntry] = Field(description="left out")
    criterion: str = Field(description="by which lobes count")
    notes: list[str] = Field(description="what to know")


class CauseEntry(Entry):
    """One cause. [mm, total indicator reading]"""

    name: str = Field(description="jaws, part, clamp, seat or chip, spindle or measuring, cut")
    expected: float = Field(description="run-out it explains, on average over all that is possible")
    least: float = Field(description="at the least, 95 %")
    most: float = Field(description="at the most, 95 %")
    chance: float = Field(description="that it is the largest, 0 to 1")
    evidence: list[str] = Field(description="why")


class OutcomeEntry(Entry):
    """One outcome of a test."""

    cause: str = Field(description="then it is this")
    means: str = Field(description="what is seen, and what to do")


class NextTestEntry(Entry):
    """The one reading that would tell most of what is open."""

    name: str = Field(description="in a word or two")
    how: str = Field(description="what to do")
    outcomes: list[OutcomeEntry] = Field(description="what each would mean")
    bits: float = Field(description="it is expected to tell; 1 bit parts two causes that are equally likely")


class ThereEntry(Entry):
    """What the readings show before any cause."""

    name: str = Field(description="offset, lean along the part, or lobes with their number")
    size: float = Field(description="as total indicator reading [mm]")


class SlipEntry(Entry):
    """A trace that contradicts the others."""

    trace: int = Field(description="which one, from 1")
    what: str = Field(description="seems to have gone wrong")
    chance: float = Field(description="of that, 0 to 1")


class JawEntry(Entry):
    """The jaw that would explain the whole offset alone."""

    jaw: int = Field(description="its number")
    by: float = Field(description="how far [mm]")
    high: bool = Field(description="true: it stands in; false: it stands back")
    by_jaw: list[float] = Field(description="how far each jaw may stand in, mean left out [mm]")


class LobeComparisonEntry(Entry):
    """One lobe, measured against the plan."""

    order: int = Field(description="waves a turn")
    state: str = Field(description="clamped or free: what was compared")
    measured: EstimateEntry = Field(description="amplitude [mm]")
    predicted: float = Field(description="by the plan [mm]")
    predicted_low: float = Field(description="at the least [mm]")
    predicted_high: float = Field(description="at the most [mm]")
    verdict: str = Field(description="explained, more or less than the pressure explains, or cannot tell")
    halved_at: float | None = Field(description="gauge pressure for half of it [MPa]; null: below the floor")
    words: str = Field(description="what to do")


class SpentEntry(Entry):
    """One item of the budget."""

    name: str = Field(description="cause")
    size: float = Field(description="total indicator reading [mm]")
    share: float = Field(description="of the tolerance")


class BudgetEntry(Entry):
    """Where the run-out tolerance goes. [mm]"""

    tolerance: float = Field(description="run-out")
    items: list[SpentEntry] = Field(description="largest first")
    worst: float = Field(description="if all add up")
    likely: float = Field(description="root of the sum of squares")
    holding: float = Field(description="share used of what holding may use")
    words: list[str] = Field(description="in words")


class IndicatorDocument(Entry):
    """What an indicator says."""

    format: Annotated[int, Field(description="of this document")] = FORMAT
    answer: str = Field(description="the first cause; cannot tell; or nothing to find")
    told: bool = Field(description="is it sure?")
    words: list[str] = Field(description="the answer")
    there: list[ThereEntry] = Field(description="what the readings show before any cause, largest first")
    could: list[str] = Field(description="causes that may be the largest, likeliest first")
    slip: SlipEntry | None = Field(description="null where no trace contradicts the others")
    jaw: JawEntry | None = Field(description="null where no offset stays with the chuck")
    causes: list[CauseEntry] = Field(description="largest first")
    next_test: NextTestEntry | None = Field(description="null where none is needed")
    traces: list[TraceEntry] = Field(description="one for each state and turn of the part")
    surface: str | None = Field(description="of the setup that it was compared with; null without a setup")
    against_plan: list[LobeComparisonEntry] = Field(description="empty without a setup")
    budget: BudgetEntry | None = Field(description="null without a run-out tolerance")
    plan_words: list[str] = Field(description="of the comparison")
    cautions: list[str] = Field(description=CAUTIONS_NOTE)


def indicator_document(
    results: Sequence[IndicatorResult], found: Diagnosis, cautions: Sequence[str], *, surface: str | None = None,
    comparisons: Sequence[tuple[str, LobeComparison]] = (), budget: Budget | None = None,
    plan_words: Sequence[str] = (),
) -> IndicatorDocument:  # fmt: skip
    """The document of one or more traces; ``comparisons``: (state, lobe)."""
    return IndicatorDocument(
        answer=found.answer, told=found.told, words=list(found.words), jaw=_jaw(found.jaw),
        there=[ThereEntry(name=name, size=size) for name, size in found.there], could=list(found.could),
        slip=None if found.slip is None else SlipEntry(
            trace=found.slip.trace + 1, what=found.slip.what, chance=found.slip.chance
        ),
        causes=[
            CauseEntry(name=c.name, expected=c.expected, least=c.least, most=c.most, chance=c.chance,
                       evidence=list(c.evidence))
            for c in found.causes
        ],
        next_test=_test(found.next_test), traces=[_trace(one) for one in results], surface=surface,
        against_plan=[_comparison(state, one) for state, one in comparisons],
        budget=None if budget is None else BudgetEntry(
            tolerance=budget.tolerance, worst=budget.worst, likely=budget.likely, holding=budget.holding,
            items=[SpentEntry(name=i.name, size=i.size, share=i.share) for i in budget.items],
            words=list(budget.words),
        ),
        plan_words=list(plan_words), cautions=list(cautions),
    )  # fmt: skip


def estimate_entry(one: Estimate, factor: float = 1.0) -> EstimateEntry:
    """A figure times ``factor``; an end without bound is null."""
    scaled = one.scaled(factor)
    return EstimateEntry(
        value=scaled.value, uncertainty=finite(scaled.uncertainty), low=finite(scaled.low), high=finite(scaled.high)
    )


def finite(value: float | None) -> float | None:
    """The value, null where JSON has no number for it."""
    return value if value is not None and isfinite(value) else None


def indicator_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the indicator document."""
    return schema_of(IndicatorDocument)


def _trace(one: IndicatorResult) -> TraceEntry:
    ls, mz, trace = one.roundness_ls, one.roundness_mz, one.trace
    return TraceEntry(
        side=trace.side, state=trace.state, pressure=trace.pressure, turned=degrees(trace.turned),
        readings=len(trace.reading),
        planes=list(trace.planes), tir=one.tir, runout=estimate_entry(one.runout), offset=_wave(one.eccentricity),
        lobes=[_wave(w) for w in one.lobes], highest_order=one.highest, lean=_lean(one),
        noise=estimate_entry(one.noise), resolution=one.resolution, resolution_from=one.resolution_from,
        roundness_ls=ls.peak_to_valley if ls else None, roundness_mz=mz.peak_to_valley if mz else None,
        roundness_high=one.roundness_high, aliases=list(one.aliases),
        gauges=GaugesEntry(micrometer=one.gauges.micrometer, vee_60=one.gauges.vee_60, vee_90=one.gauges.vee_90,
                           vee_120=one.gauges.vee_120),
        outliers=[
            OutlierEntry(row=o.row + 1, angle=degrees(o.angle), z=o.z, reading=o.reading, off=o.off)
            for o in one.outliers
        ],
        criterion=one.criterion, notes=list(one.notes),
    )  # fmt: skip


def _wave(one: Wave) -> WaveEntry:
    return WaveEntry(
        order=one.order, amplitude=estimate_entry(one.amplitude), direction=degrees(one.direction),
        direction_within=degrees(one.phase.high - one.phase.value) / one.order, chance=one.chance, whole=one.whole,
    )  # fmt: skip


def _lean(one: IndicatorResult) -> LeanEntry | None:
    if one.tilt is None:
        return None
    tilt = one.tilt.amplitude.scaled(100.0)
    return LeanEntry(
        tilt=tilt.value, tilt_low=tilt.low, tilt_high=tilt.high, tilt_direction=degrees(one.tilt.direction),
        taper=None if one.taper is None else estimate_entry(one.taper, 100.0),
    )  # fmt: skip


def _jaw(one: JawHigh | None) -> JawEntry | None:
    return None if one is None else JawEntry(jaw=one.jaw, by=one.by, high=one.high, by_jaw=list(one.by_jaw))


def _test(one: NextTest | None) -> NextTestEntry | None:
    if one is None:
        return None
    outcomes = [OutcomeEntry(cause=cause, means=means) for cause, means in one.outcomes]
    return NextTestEntry(name=one.name, how=one.how, outcomes=outcomes, bits=one.bits)


def _comparison(state: str, one: LobeComparison) -> LobeComparisonEntry:
    return LobeComparisonEntry(
        order=one.order, state=state, measured=estimate_entry(one.measured), predicted=one.predicted,
        predicted_low=one.predicted_low, predicted_high=one.predicted_high, verdict=one.verdict,
        halved_at=one.halved_at, words=one.words,
    )  # fmt: skip

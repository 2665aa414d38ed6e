"""Drift, next taper and what was learned as JSON documents, and their JSON Schemas.  Lengths in mm, parts from 1."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Literal

from pydantic import Field

from heldtrue.inspection.chart import ALARM
from heldtrue.inspection.document import CAUTIONS_NOTE, EstimateEntry, estimate_entry, finite
from heldtrue.inspection.drift import Drift, Piece
from heldtrue.inspection.learning import Learned
from heldtrue.inspection.taper import NextTaper
from heldtrue.json_document import FORMAT, Entry, schema_of

MOST_PLACES = 1000
"""Parts named for one rule; a longer list says nothing more than its length."""


class SignalEntry(Entry):
    """One run rule that is met."""

    rule: str = Field(description="in words")
    times: int = Field(description="how often")
    parts: list[int] = Field(description=f"the last {MOST_PLACES} parts that complete it")


class PieceEntry(Entry):
    """The parts between two events. [mm]"""

    first: int = Field(description="part it begins with")
    last: int = Field(description="part it ends with")
    after: str = Field(description="event before it")
    centre: float | None = Field(description="mean; null with one part")
    lower_control: float | None = Field(description="limit of the published chart about the mean; decides nothing")
    upper_control: float | None = Field(description="limit of the published chart about the mean; decides nothing")
    level: float | None = Field(description="trend at the last part")
    lower_about_trend: float | None = Field(description="limit about the trend at the last part; null: too few parts")
    upper_about_trend: float | None = Field(description="limit about the trend at the last part; null: too few parts")
    false_alarms: float = Field(description="share of sound series in which a part is outside by chance")
    sigma: float | None = Field(description="standard deviation, from the mean moving range")
    in_control: bool | None = Field(description="no part is outside the limits about the trend")
    signals: list[SignalEntry] = Field(description="rules that are met")
    ranges_over: int = Field(description="moving ranges over their limit")
    trend: EstimateEntry | None = Field(description="a part; null with fewer than 5 parts")
    step: EstimateEntry | None = Field(description="change of level across the event; null where it cannot be told")


class CapabilityEntry(Entry):
    """Capability of the parts since the last event, from the deviation of all of them (ISO 22514)."""

    pp: EstimateEntry | None = Field(description="null with one limit")
    ppk: EstimateEntry = Field(description="of the nearer limit")
    one_sided: bool = Field(description="reckoned as a size that ends at zero, by its quantiles")
    cp: EstimateEntry | None = Field(description="the same as pp, by its earlier name")
    cpk: EstimateEntry = Field(description="the same as ppk, by its earlier name")
    sigma: float = Field(description="standard deviation of all values [mm]")


class SeriesEntry(Entry):
    """One characteristic of one jaw set."""

    name: str = Field(description="as its column is called")
    jaw: str = Field(description="jaw set or jaw, where the file has one")
    parts: int = Field(description="how many")
    lower: float | None = Field(description="limit [mm]")
    upper: float | None = Field(description="limit [mm]")
    words: list[str] = Field(description="the answer")
    drifting: bool = Field(description="is it sure that there is a trend, whatever its form?")
    slope: EstimateEntry | None = Field(description="of late, mm a part; null: too few parts")
    stepped: bool = Field(description="is it sure that the level stepped without an event?")
    step_chance: float | None = Field(description="that it did; null: too few parts")
    step_at: int | None = Field(description="first part after the likeliest step, from 1; null: no room for one")
    step_by: EstimateEntry | None = Field(description="how much it would be [mm]")
    parts_left: EstimateEntry | None = Field(
        description="until the trend meets its limit, lower end for the earliest form of wear; null: none in sight"
    )
    recut_in: int | None = Field(description="parts until single ones reach it, early end; null: none in sight")
    capability: CapabilityEntry | None = Field(description="null without limits, or where all values are alike")
    pieces: list[PieceEntry] = Field(description="in order; the last one is now")


class DriftDocument(Entry):
    """What the sizes of part after part say."""

    format: Annotated[int, Field(description="of this document")] = FORMAT
    series: list[SeriesEntry] = Field(description="one for each characteristic and jaw set")
    cautions: list[str] = Field(description=CAUTIONS_NOTE)


class PartTaperEntry(Entry):
    """Why finished parts are tapered. [mm on diameter; front less back]"""

    surface: str = Field(description="that was read")
    over: float = Field(description="distance from front to back")
    pressure: float = Field(description="gauge pressure it is told for [MPa]")
    told: Literal["jaws", "machine", "both", "none", "open"] = Field(
        description="the cause, 95 % sure; none: no taper stands out; open: cannot be told"
    )
    parted: bool = Field(description="can these readings part jaws from machine at all")
    total: EstimateEntry = Field(description="taper after release")
    jaws: EstimateEntry = Field(description="share that goes with the pressure")
    machine: EstimateEntry = Field(description="share that stays whatever the pressure")
    angle_deg: float = Field(description="of one flank against the axis")
    by_model: EstimateEntry = Field(description="what the contact model lets the jaws leave")
    by_cut: float = Field(description="what the finishing force may leave at the most; 0 where it was not asked")
    program: float | None = Field(description="make the front smaller by that in the program; null: would not help")
    lower_pressure: float | None = Field(description="least pressure of the finish [MPa]; null: would not help")
    left_at_lower: float | None = Field(description="share of the jaws there")
    left_as_bored: float | None = Field(description="by the model, jaws as they are; null: boring anew would not help")
    left_rebored: float | None = Field(description="by the model, jaws bored at the running pressure")
    words: list[str] = Field(description="the answer, then what to do")


class TaperDocument(Entry):
    """The next taper cut. [mm]"""

    format: Annotated[int, Field(description="of this document")] = FORMAT
    title: str = Field(description="title of the setup")
    words: str = Field(description="the answer")
    stop: bool = Field(description="no further cut is worth making")
    taper_now: float = Field(description="of the jaws, per side over the grip; positive: the tip stands closer")
    change: EstimateEntry = Field(description="to cut, per side")
    change_on_diameter: float = Field(description="to cut, on diameter")
    per_side: float = Field(description="taper in all, after the cut")
    on_diameter: float = Field(description="the same on diameter")
    from_gap: bool = Field(description="a feeler was tried")
    expected: str = Field(description="print to expect then")
    by_plan: float = Field(description="taper per side that the plan alone would cut")
    by_contact: float = Field(
        description="change per side that makes the contact model show this reading on its likeliest base"
    )
    plan_print: str = Field(description="print that the plan computes with that taper in all")
    grip_length: float = Field(description="over which the taper runs")
    force: float = Field(description="of one jaw while finishing [N]")
    stiffness: float = Field(description="of jaw and part together, per area [MPa/mm]")
    base_from: str = Field(description="where the stiffness of what the jaws stand on comes from")
    part: PartTaperEntry | None = Field(description="why finished parts are tapered; null: none was read")
    notes: list[str] = Field(description="what to know")
    cautions: list[str] = Field(description=CAUTIONS_NOTE)


class FlaggedEntry(Entry):
    """A reading that contradicts: kept, not averaged in."""

    reading: int = Field(description="which one, from 1")
    value: float = Field(description="what it says")
    expected: float = Field(description="what prior and other readings expect")
    sigmas: float = Field(description="standard uncertainties off")
    words: str = Field(description="in words")


class KnowledgeEntry(Entry):
    """What is now known of one quantity."""

    name: str = Field(description="what was learned")
    unit: str = Field(description="of the figures; empty: a share")
    median: float = Field(description="middle of what is known")
    low: float = Field(description="lower end of the 95 % interval, flagged readings taken in")
    high: float = Field(description="upper end")
    readings: int = Field(description="used")
    source: str = Field(description="assumed, or measured and by how many readings")
    flagged: list[FlaggedEntry] = Field(description="those set aside")
    words: str = Field(description="in words")


class LearnedDocument(Entry):
    """What the shop's readings say of one chuck."""

    format: Annotated[int, Field(description="of this document")] = FORMAT
    chuck: str = Field(description="its number")
    stored: list[str] = Field(description="what was entered now, in words; empty: nothing, this only tells")
    known: list[KnowledgeEntry] = Field(description="one for each quantity")
    cautions: list[str] = Field(description=CAUTIONS_NOTE)


def drift_document(found: Sequence[Drift], cautions: Sequence[str]) -> DriftDocument:
    """The document of every series."""
    return DriftDocument(series=[_series(one) for one in found], cautions=list(cautions))


def taper_document(
    found: NextTaper, *, title: str, taper_now: float, by_plan: float, by_contact: float, plan_print: str,
    grip_length: float, force: float, stiffness: float, base_from: str, notes: Sequence[str], cautions: Sequence[str],
    part: PartTaperEntry | None = None,
) -> TaperDocument:  # fmt: skip
    """The document of a next cut."""
    change = EstimateEntry(value=found.change, uncertainty=None, low=found.low, high=found.high)
    return TaperDocument(
        title=title, words=found.words, stop=found.stop, taper_now=taper_now, change=change, by_contact=by_contact,
        change_on_diameter=found.change_on_diameter, per_side=found.per_side, on_diameter=found.on_diameter,
        from_gap=found.from_gap, expected=found.expected, by_plan=by_plan, plan_print=plan_print,
        grip_length=grip_length, force=force, stiffness=stiffness, base_from=base_from, part=part, notes=list(notes),
        cautions=list(cautions),
    )  # fmt: skip


def learned_document(
    chuck: str, stored: Sequence[str], known: Sequence[tuple[Learned, str, str, Sequence[str]]], cautions: Sequence[str]
) -> LearnedDocument:
    """The document of a chuck; ``known``: each quantity, its unit, its words and those of every flagged reading."""
    return LearnedDocument(
        chuck=chuck, stored=list(stored), known=[_knowledge(*one) for one in known], cautions=list(cautions)
    )


def drift_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the drift document."""
    return schema_of(DriftDocument)


def taper_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the taper document."""
    return schema_of(TaperDocument)


def learned_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the learned document."""
    return schema_of(LearnedDocument)


def _series(one: Drift) -> SeriesEntry:
    series, able = one.series, one.capability
    return SeriesEntry(
        name=series.name, jaw=series.jaw, parts=series.values.size, lower=series.lower, upper=series.upper,
        words=[*one.changes, *one.words], drifting=one.drifting, recut_in=one.recut_in, stepped=one.stepped,
        slope=None if one.slope is None else estimate_entry(one.slope),
        step_chance=None if one.ahead is None else one.ahead.stepped,
        step_at=None if one.ahead is None or one.ahead.at is None else one.pieces[-1].first + one.ahead.at + 1,
        step_by=None if one.ahead is None or one.ahead.by is None else estimate_entry(one.ahead.by),
        parts_left=None if one.parts_left is None else estimate_entry(one.parts_left),
        capability=None if able is None else CapabilityEntry(
            pp=None if able.pp is None else estimate_entry(able.pp), ppk=estimate_entry(able.ppk),
            cp=None if able.pp is None else estimate_entry(able.pp), cpk=estimate_entry(able.ppk),
            one_sided=able.one_sided, sigma=able.sigma,
        ),
        pieces=[_piece(piece) for piece in one.pieces],
    )  # fmt: skip


def _piece(one: Piece) -> PieceEntry:
    chart = one.chart
    return PieceEntry(
        first=one.first + 1, last=one.last + 1, after=one.after, centre=chart.centre if chart else None,
        lower_control=chart.lower if chart else None, upper_control=chart.upper if chart else None,
        level=float(chart.level[-1]) if chart else None,
        lower_about_trend=finite(chart.below[-1]) if chart else None,
        upper_about_trend=finite(chart.above[-1]) if chart else None, false_alarms=ALARM,
        sigma=chart.sigma if chart else None, in_control=chart.in_control if chart else None,
        signals=[
            SignalEntry(rule=s.rule, times=s.places.size, parts=[int(p) + 1 for p in s.places[-MOST_PLACES:]])
            for s in chart.signals
        ] if chart else [],
        ranges_over=chart.range_places.size if chart else 0,
        trend=None if one.trend is None else estimate_entry(one.trend.slope),
        step=None if one.step is None else estimate_entry(one.step),
    )  # fmt: skip


def _knowledge(found: Learned, unit: str, words: str, flagged: Sequence[str]) -> KnowledgeEntry:
    return KnowledgeEntry(
        name=found.name, unit=unit, median=found.median, low=found.low, high=found.high, readings=found.count,
        source=found.source, words=words, flagged=[
            FlaggedEntry(reading=f.index + 1, value=f.value, expected=f.expected, sigmas=f.sigmas, words=said)
            for f, said in zip(found.flagged, flagged, strict=True)
        ],
    )  # fmt: skip

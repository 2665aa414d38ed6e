"""The figures of a reading as rows of words, for screen and paper alike."""

from __future__ import annotations

from math import degrees, isfinite
from typing import TYPE_CHECKING

from heldtrue.drawing.wording import small_length
from heldtrue.inspection.budget import Budget
from heldtrue.inspection.chart import ALARM, Chart
from heldtrue.inspection.drift import Drift
from heldtrue.inspection.estimate import Estimate
from heldtrue.inspection.indicator import IndicatorResult, Wave
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.sentences import in_units, sentence

if TYPE_CHECKING:  # readings alone must not wait for the finite element kernel
    from heldtrue.shop.against_plan import AgainstPlan
    from heldtrue.shop.next_cut import NextCut
    from heldtrue.shop.part_cause import PartCause

Rows = list[tuple[str, str]]


def between(one: Estimate, system: UnitSystem, *, signed: bool = False) -> str:
    """A figure [mm] with its 95 % interval."""
    show = _signed if signed else small_length
    return f"{show(one.value, system)} ({show(one.low, system)} to {show(one.high, system)})"


def signed_length(value: float, system: UnitSystem) -> str:
    """A small length [mm] with its sign."""
    return _signed(value, system)


def direction(one: Wave) -> str:
    """Where the first high spot is, and how sure that is."""
    if not one.whole:
        return "direction not seen"
    half = degrees(one.phase.high - one.phase.value) / one.order
    sure = half < 180 / one.order - 0.5
    return f"{degrees(one.direction):.0f}° ± {half:.0f}°" if sure else "no direction stands out"


def trace_name(one: IndicatorResult, system: UnitSystem) -> str:
    """What was read, in words."""
    trace = one.trace
    state = "" if trace.state == "not said" else f", {trace.state}"
    turned = f", part turned {degrees(trace.turned):.0f}°" if trace.turned else ""
    planes = trace.planes
    places = sentence(", {} planes from {:g mm} to {:g mm}", len(planes), planes[0], planes[-1])
    read = f"{len(trace.reading)} readings, {trace.side}{state}{turned}"
    return in_units(read + places if len(planes) > 1 else read, system)


def tir_words(one: IndicatorResult, system: UnitSystem) -> str:
    """Run-out as it was read; what it is without readings that were left out stands beside it, never instead."""
    found = small_length(one.tir_of_all, system)
    return f"{found}; {without_words(one, system)}" if one.outliers else found


def without_words(one: IndicatorResult, system: UnitSystem) -> str:
    """Run-out without the readings that do not belong to the others."""
    left = f"{len(one.outliers)} reading{'s' if len(one.outliers) > 1 else ''}"
    return f"{small_length(one.tir, system)} without {left} that {'do' if len(one.outliers) > 1 else 'does'} not belong"


def indicator_rows(one: IndicatorResult, system: UnitSystem) -> Rows:
    """Every figure of one trace with its uncertainty."""
    offset = between(one.eccentricity.amplitude, system)
    rows = [
        ("run-out as read (TIR)", tir_words(one, system)),
        ("run-out of the fitted shape", between(one.runout, system)),
        ("offset of the centre", f"{offset}, towards {direction(one.eccentricity)}"),
    ]
    for wave in one.lobes:
        least = "" if wave.whole else "at least "
        rows.append((
            f"{wave.order} lobes, half the swing",
            f"{least}{between(wave.amplitude, system)}, first high spot {direction(wave)}",
        ))  # fmt: skip
    if not one.lobes:
        rows.append(("lobes", f"none stands out, up to {one.highest} looked for"))
    if one.tilt is not None:
        lean = between(_per_hundred(one.tilt.amplitude, system), system)
        rows.append((f"tilt in {_hundred(system)}", f"{lean}, {direction(one.tilt)}"))
    if one.taper is not None:
        per = between(_per_hundred(one.taper, system), system, signed=True)
        rows.append((f"change of radius in {_hundred(system)}", per))
    if one.roundness_mz is not None and one.roundness_ls is not None:
        zone, least_squares = (small_length(r.peak_to_valley, system) for r in (one.roundness_mz, one.roundness_ls))
        rows.append(("roundness, minimum zone", f"{zone}; {least_squares} about the least-squares circle"))
    rows.append(("scatter of one reading", f"{between(one.noise, system)}; one division "
                 f"{small_length(one.resolution, system)} {_parted(one.resolution_from)}"))  # fmt: skip
    return rows


def gauge_rows(one: IndicatorResult, system: UnitSystem) -> Rows:
    """What other gauges would show."""
    if not one.lobes:
        return [("micrometer, vee block", "nothing: they see lobes only, and none stands out")]
    seen = one.gauges
    vees = (("60°", seen.vee_60), ("90°", seen.vee_90), ("120°", seen.vee_120))
    return [
        ("two-point micrometer", f"{small_length(seen.micrometer, system)} between diameters"),
        ("indicator over a vee block", ", ".join(f"{name} {small_length(size, system)}" for name, size in vees)),
    ]


def drift_rows(one: Drift, system: UnitSystem) -> Rows:
    """Every figure of the parts since the last event."""
    series, last = one.series, one.pieces[-1]
    rows = [("parts", f"{series.values.size}, of them {last.last - last.first + 1} since the last event")]
    if series.lower is not None or series.upper is not None:
        names = [(word, v) for word, v in (("least", series.lower), ("most", series.upper)) if v is not None]
        rows.append(("limits", ", ".join(f"{word} {size(v, system)}" for word, v in names)))
    if last.chart is not None:
        chart = last.chart
        rows += [
            ("mean", size(chart.centre, system)),
            ("trend at the last part", size(float(chart.level[-1]), system)),
            ("limits about it there", _limits(chart, system)),
            ("from part to part (sigma)", small_length(chart.sigma, system)),
            ("parts outside", ", ".join(f"{s.places.size}" for s in chart.signals) or "none"),
        ]
    if last.trend is not None:
        rows.append(("trend in 100 parts", between(last.trend.slope.scaled(100.0), system, signed=True)))
    if one.capability is not None:
        able = one.capability
        pp = "" if able.pp is None else f"Pp {_ratio(able.pp)}; "
        how = ", as a size that ends at zero" if able.one_sided else ""
        rows.append(("capability of all these parts", f"{pp}Ppk {_ratio(able.ppk)}{how}"))
    if one.parts_left is not None:
        rows.append(("parts until the trend meets the limit", _parts(one.parts_left)))
    if one.recut_in is not None:
        rows.append(("re-cut due within", f"{one.recut_in} parts"))
    return rows


def _limits(chart: Chart, system: UnitSystem) -> str:
    low, high = float(chart.below[-1]), float(chart.above[-1])
    if not isfinite(high):
        return "too few parts"
    return f"{size(low, system)} to {size(high, system)}; 1 sound series in {1 / ALARM:.0f} has a part outside"


def taper_rows(cut: NextCut, units: UnitSystem, gauge: str) -> Rows:
    """Every figure of the next taper cut; pressures in ``gauge``."""
    found = cut.found
    change = (f"{signed_length(found.change, units)} per side "
              f"({signed_length(found.low, units)} to {signed_length(found.high, units)})")  # fmt: skip
    return [
        ("taper now", f"{signed_length(cut.taper_now, units)} per side"),
        ("change", f"{change}, {signed_length(found.change_on_diameter, units)} on diameter"),
        ("taper after it", f"{signed_length(found.per_side, units)} per side, "
                           f"{signed_length(found.on_diameter, units)} on diameter"),
        ("print to expect", in_units(found.expected, units)),
        ("print by the plan then", in_units(cut.plan_print, units)),
        ("by the contact model", f"{signed_length(cut.by_contact, units)} per side makes the plan show this reading"),
        ("the plan alone would cut", f"{signed_length(cut.by_plan, units)} per side in all"),
        ("at", f"{pressure_text(cut.pressure, gauge)} ({cut.pressure_from}), "
               f"{format_quantity(cut.force, 'force', units)} on each jaw"),
        ("what the jaws stand on", cut.base_from),
    ]  # fmt: skip


def part_taper_rows(one: PartCause, units: UnitSystem) -> Rows:
    """Every figure of a part's taper, front less back, on diameter."""
    split = one.split
    return [
        ("taper after release", between(split.total, units, signed=True)),
        ("of it by the jaws", between(split.jaws, units, signed=True)),
        ("of it by machine and cut", between(split.machine, units, signed=True)),
        ("angle of one flank", f"{degrees(split.angle):.4f}°"),
        ("by the contact model, the jaws leave", between(one.by_model, units, signed=True)),
        ("one taper repeats to", f"±{small_length(2 * split.repeat, units)}"),
    ]  # fmt: skip


def size(value: float, system: UnitSystem) -> str:
    """A size or a deviation [mm], to the places a shop can measure."""
    if system == "inch":
        text = f"{value / 25.4:.5f}".rstrip("0")
        text = text + "0" * max(0, 4 - len(text.partition(".")[2]))
        return f"{text.replace('0.', '.', 1) if abs(value) < 25.4 else text} in"
    text = f"{value:.4f}"
    return f"{text.removesuffix('0')} mm"


def comparison_rows(beside: AgainstPlan, gauge: str, system: UnitSystem) -> Rows:
    """Each lobe beside the plan's, for screen and paper."""
    rows = []
    for state, one in beside.comparisons:
        half = "" if one.halved_at is None else f"; half of it at {pressure_text(one.halved_at, gauge)}"
        low, high = (small_length(v, system) for v in (one.predicted_low, one.predicted_high))
        rows.append((
            f"{one.order} lobes, {state}",
            f"{one.verdict}: read {between(one.measured, system)}, planned {small_length(one.predicted, system)} "
            f"({low} to {high}); {one.words}{half}",
        ))  # fmt: skip
    return rows


def plan_answer(beside: AgainstPlan, gauge: str) -> list[str]:
    """The lobes the plan has a word for, in short; not those that are neither read nor expected."""
    found = []
    for state, one in beside.comparisons:
        if one.measured.value > 0 or one.verdict not in ("explained", "cannot tell"):
            half = "" if one.halved_at is None else f"; half of them at {pressure_text(one.halved_at, gauge)}"
            found.append(f"the {one.order} lobes, {state}, beside the plan: {one.verdict}{half}")
    return found


def budget_words(spent: Budget, system: UnitSystem) -> list[str]:
    """The run-out tolerance and who spends it."""
    sizes = [small_length(v, system) for v in (spent.tolerance, spent.worst, spent.likely)]
    head = f"run-out tolerance {sizes[0]}: {sizes[1]} if all causes add up, {sizes[2]} likely"
    return [head, *(in_units(words, system) for words in spent.words)]


def event_rows(one: Drift, system: UnitSystem) -> Rows:
    """Every event, and by how much the level changed across it."""
    rows = []
    for piece in one.pieces:
        if piece.after:
            step = "too few parts to tell"
            if piece.step is not None:
                step = f"level {between(piece.step, system, signed=True)}"
            rows.append((f"{piece.after}, before part {piece.first + 1}", step))
    return rows


def drift_name(one: Drift) -> str:
    """Characteristic and jaw set."""
    return one.series.name + (f", jaws {one.series.jaw}" if one.series.jaw else "")


def _per_hundred(one: Estimate, system: UnitSystem) -> Estimate:
    return one.scaled(100.0 if system == "metric" else 101.6)


def _hundred(system: UnitSystem) -> str:
    return "100 mm" if system == "metric" else "4 in"


def _parted(source: str) -> str:
    return f"({source})"


def _signed(value: float, system: UnitSystem) -> str:
    text = small_length(value, system)
    return text if text.startswith("<") or float(text.split()[0]) == 0 else f"{'−' if value < 0 else '+'}{text}"


def _ratio(one: Estimate) -> str:
    return f"{one.value:.2f} ({one.low:.2f} to {one.high:.2f})"


def _parts(one: Estimate) -> str:
    high = f"{one.high:.0f}" if isfinite(one.high) else "no end in sight"
    return f"{max(one.value, 0):.0f} ({max(one.low, 0):.0f} to {high})"

"""A plan and a comparison on the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from math import isfinite

from rich.console import Console, Group, RenderableType
from rich.markup import escape
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from heldtrue.mechanics.materials import Datum, JawMaterial, WorkMaterial
from heldtrue.planning.caveats import caveat_words
from heldtrue.planning.compare import Way
from heldtrue.planning.known import Known
from heldtrue.planning.odds.odds_words import is_seen, odds_words, part_words
from heldtrue.planning.phrases import (
    FAR,
    SEEN_MM,
    ceiling_text,
    floor_text,
    lead_words,
    measure_words,
    named_end,
    off_scale,
    remedy_words,
    spare_words,
    step_windows,
    window_words,
)
from heldtrue.planning.result import FAILS, NOT_PROVEN, PASSES, Check, Plan, PressureStep, SurfaceResult
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.sentences import in_units
from heldtrue.terminal.lines import cautions as show_cautions

MARKS = {
    PASSES: ("passes", "green"),
    FAILS: ("FAILS", "bold red"),
    NOT_PROVEN: ("NOT PROVEN", "bold yellow"),
}


def show_plan(console: Console, plan: Plan, units: UnitSystem) -> None:
    """Print a plan: verdict and pressure first, then why."""
    setup = plan.setup
    part = " ".join(filter(None, [setup.part.number, setup.part.revision and f"rev {setup.part.revision}"]))
    console.print(Text(f"{setup.title or 'Setup'}: {part}, {setup.part.material}", style="bold"))
    grip = setup.grip
    console.print(
        f"{grip.side} grip Ø{show_value(grip.diameter, 'length', units)}, {setup.jaws.count or setup.chuck.jaws} "
        f"{setup.jaws.style} jaws of {escape(setup.jaws.material)}, {escape(setup.chuck.name)}"
    )
    console.print()
    console.print(_answer(plan, units))
    console.print(_checks(plan.checks, units))
    if any(check.odds is not None for check in plan.checks):
        console.print(odds_words(plan), highlight=False, markup=False)
    console.print(_rules(plan.checks, units))
    if plan.surfaces:
        console.print(_surfaces(plan, units))
    for one in plan.prints:
        part, bore = (show_value(d, "length", units) for d in (one.part_diameter, one.bore_diameter))
        peak = show_value(one.peak, "stress", units)
        console.print(
            f"Contact while finishing, {one.fit} part Ø{part} in jaws Ø{bore}: "
            f"{in_units(one.words, units)}; peak {peak}",
            highlight=False,
            markup=False,
        )
    console.print(_assumed(plan.answer.open_inputs, units))
    for note in plan.notes:
        console.print(f"- {escape(note)}")
    show_cautions(console, plan.cautions)


def _answer(plan: Plan, units: UnitSystem) -> Panel:
    words, style = MARKS[plan.verdict]
    lines: list[RenderableType] = [Text(f"{words}", style=style), Text(lead_words(plan, units))]
    lines += [Text(f"! {one}", style="bold") for one in caveat_words(plan.setup)]
    if plan.verdict != PASSES and (first := measure_words(plan.answer.measure_first)):
        lines.append(f"Measure first: {escape(first)}")
    for step in plan.pressure.steps:
        lines.append(Text(_pressure_line(plan, step, units), style="bold"))
    lines.append(f"  {escape(window_words(plan.pressure, gauge_unit_of(plan.setup)))}")
    if plan.setup.stated_pressure is not None:
        stated = show_gauge(plan.setup.stated_pressure, gauge_unit_of(plan.setup))
        lines.append(Text(f"Everything below is checked at the stated {stated}", style="bold"))
    lines += [f"  would help: {escape(remedy_words(one, units))}" for one in plan.answer.remedies]
    lines.append(
        Text(f"Spindle limit {plan.speed.limit:.0f} rev/min", style="bold")
        + Text(f" ({plan.speed.reason}); top speed {plan.speed.top:.0f} ({plan.speed.top_reason})", style="")
    )
    grip = plan.grip_force
    lines.append(
        f"Grip at least {show_value(grip.static_total, 'force', units)} at rest, "
        f"{show_value(grip.dynamic_total, 'force', units)} at speed, all jaws; "
        f"{show_value(grip.per_jaw, 'force', units)} per jaw at rest; "
        f"at most {show_value(grip.dynamic_most, 'force', units)}"
    )
    lines.append("Read the gauge before the start: below the floor the part must not turn.")
    return Panel(Group(*lines), border_style=style.split()[-1])


def _pressure_line(plan: Plan, step: PressureStep, units: UnitSystem) -> str:
    gauge = gauge_unit_of(plan.setup)
    name = "Pressure" if len(plan.pressure.steps) == 1 else f"Pressure, {step.name}"
    window = (
        f"floor {floor_text(step.floor, gauge)} ({step.floor_by}), ceiling {ceiling_text(step.ceiling, gauge)} "
        f"({step.ceiling_by})"
    )
    if step.recommended is None:
        return f"{name}: NO WINDOW: {window}"
    other = "psi" if gauge != "psi" else "bar"
    return f"{name}: {show_gauge(step.recommended, gauge)} ({show_gauge(step.recommended, other)}); {window}"


def _checks(checks: Iterable[Check], units: UnitSystem) -> Table:
    table = Table(title="Checks", title_justify="left", box=None, pad_edge=False, header_style="bold")
    checks = list(checks)
    with_odds = any(is_seen(check.odds) for check in checks)
    odds = ("goes wrong",) if with_odds else ()
    for column in ("check", "state", "value", "limit", "to spare", *odds, "decided by", "from"):
        table.add_column(column, justify="right" if column in ("value", "limit", "to spare") else "left")
    for check in checks:
        words, style = MARKS[check.state]
        table.add_row(
            escape(check.name), Text(words, style=style),
            show_form(check.value, units) if check.kind == "length" else show_value(check.value, check.kind, units),
            show_value(check.limit, check.kind, units), spare(check), *_odds_cells(check, shown=with_odds),
            escape(check.decided_by), check.source,
        )  # fmt: skip
    return table


def _odds_cells(check: Check, *, shown: bool) -> list[str]:
    """The class of a check's odds, where any check of the table has them."""
    if not shown:
        return []
    return ["" if check.odds is None else part_words(check.odds)]


def _rules(checks: Iterable[Check], units: UnitSystem) -> Table:
    """Both rules of every check that has two: what was found, and what is asked."""
    title = "Two rules, both must hold"
    table = Table(title=title, title_justify="left", box=None, pad_edge=False, header_style="bold")
    for column in ("check", "rule", "found", "asked", "rule", "found", "asked"):
        table.add_column(column, justify="right" if column in ("found", "asked") else "left")
    for check in checks:
        show = show_form if check.kind == "length" else partial(show_value, kind=check.kind)
        cells = [[rule.name, show(rule.value, units=units), show(rule.limit, units=units)] for rule in check.rules]
        if cells:
            table.add_row(escape(check.name), *(cell for row in cells for cell in row))
    return table


def _surfaces(plan: Plan, units: UnitSystem) -> Table:
    table = Table(title="Surfaces", title_justify="left", box=None, pad_edge=False, header_style="bold")
    cut = any(s.cut_size > CUT_SEEN_MM for s in plan.surfaces)
    columns = ["surface", "reads clamped", "roundness free", "flatness free", "Ø after release"]
    for column in [*columns, *(["force of the cut leaves, on Ø"] if cut else []), "lobes"]:
        table.add_column(column, justify="right" if column in columns[1:] else "left")
    for s in plan.surfaces:
        lobes = ", ".join(f"{lobe.order}: {show_form(lobe.amplitude, units)}" for lobe in s.lobes[:3])
        face = s.side == "face"
        table.add_row(
            escape(s.name), show_form(s.clamped_runout, units),
            "" if face else show_form(s.released_roundness, units),
            show_form(s.released_flatness, units) if face else "",
            "" if face else _shift(s.size_shift, units), *([_left_by_cut(s, units)] if cut else []), lobes,
        )  # fmt: skip
    return table


def _left_by_cut(result: SurfaceResult, units: UnitSystem) -> str:
    """What the finishing force leaves on a surface, where it can be seen."""
    if result.cut_size <= CUT_SEEN_MM:
        return ""
    sign = "+" if result.side == "outside" else "-"
    words = f"up to {sign}{show_form(result.cut_size, units)}"
    return words + (f", taper {show_form(result.cut_taper, units)}" if result.cut_taper > CUT_SEEN_MM else "")


def _assumed(assumed: Sequence[Known], units: UnitSystem) -> RenderableType:
    if not assumed:
        return Text("Nothing assumed.")
    table = Table(
        title="Assumed, taken at the worst",
        title_justify="left",
        box=None,
        pad_edge=False,
        header_style="bold",
    )
    for column in ("input", "worst", "best", "measure"):
        table.add_column(column)
    for known in assumed:
        table.add_row(
            escape(known.label), named_end(known, known.worst) or show_value(known.worst, known.kind, units),
            (named_end(known, known.best) or show_value(known.best, known.kind, units)) if known.is_open else "",
            escape(known.measure),
        )  # fmt: skip
    return table


def show_comparison(console: Console, ways: Sequence[Way], units: UnitSystem) -> None:
    """Print the ways to hold, best first."""
    table = Table(box=None, pad_edge=False, header_style="bold")
    for column in ("", "way", "verdict", "form error", "pressure", "why"):
        table.add_column(column, justify="right" if column == "form error" else "left")
    for place, way in enumerate(ways, start=1):
        if way.plan is None:
            table.add_row(str(place), way.name, "cannot be", "", "", escape(way.why))
            continue
        words, style = MARKS[way.plan.verdict]
        why = way.why + (f"; needs {way.needs}" if way.needs else "")
        table.add_row(
            str(place),
            way.name,
            Text(words, style=style),
            show_form(way.form_error, units),
            step_windows(way.plan),
            escape(why),
        )
    console.print(table)
    for way in ways:
        for one in way.plan.answer.remedies if way.plan is not None else ():
            console.print(f"{way.name}: would help: {remedy_words(one, units)}", highlight=False, markup=False)
    if ways and ways[0].plan is not None:
        console.print(Panel("\n".join(ways[0].plan.cautions), title="Cautions", border_style="dim"))


def show_materials(
    console: Console, work: Iterable[WorkMaterial], jaws: Iterable[JawMaterial], units: UnitSystem
) -> None:
    """Print the material data; the sources of each number stand below each table."""
    for title, materials in (("Part materials", tuple(work)), ("Jaw materials", tuple(jaws))):
        table = Table(title=title, title_justify="left", box=None, pad_edge=False, header_style="bold")
        shown = [
            name
            for name in ("young", "poisson", "density", "yield_strength", "kc11", "mc")
            if hasattr(materials[0], name)
        ]
        for column in ("material", "name", *shown):
            table.add_column(column.replace("_", " "))
        for material in materials:
            cells = [_datum(getattr(material, name), MATERIAL_KINDS[name], units) for name in shown]
            table.add_row(escape(material.key), escape(material.name), *cells)
        console.print(table)
        for material in materials:
            data = [(name, getattr(material, name)) for name in shown]
            console.print(f"{material.key}: " + "; ".join(f"{n.replace('_', ' ')}: {d.source}" for n, d in data),
                          style="dim", highlight=False, markup=False)  # fmt: skip


MATERIAL_KINDS = {
    "young": "stress",
    "poisson": "ratio",
    "density": "",
    "yield_strength": "stress",
    "kc11": "stress",
    "mc": "ratio",
}


def _datum(datum: Datum, kind: str, units: UnitSystem) -> str:
    def show(value: float) -> str:
        return f"{value * 1e6:.3g} g/cm³" if not kind else show_value(value, kind, units)

    text = show(datum.value)
    return text if datum.least == datum.most else f"{text} ({show(datum.least)} to {show(datum.most)})"


def spare(check: Check) -> str:
    """A margin as a setter reads it, in a column of its own."""
    if not isfinite(check.margin) or abs(check.margin) > FAR:
        return spare_words(check)
    return f"{check.margin:+.0%}"


def show_gauge(pressure: float, unit: str) -> str:
    """A gauge pressure [MPa] in the unit of the gauge."""
    return format_quantity(pressure, "pressure", unit=unit) if isfinite(pressure) else "none"


CUT_SEEN_MM = 1e-3
"""What the force of a cut leaves is shown from here on."""


def show_form(value: float, units: UnitSystem) -> str:
    """A form error without digits that mean nothing."""
    return off_scale(value, units) or show_value(value, "length", units)


def _shift(value: float, units: UnitSystem) -> str:
    return f"{'+' if value >= SEEN_MM else ''}{show_form(value, units)}"


def show_value(value: float, kind: str, units: UnitSystem) -> str:
    """A value [core] with its unit."""
    return format_quantity(value, kind, units) if isfinite(value) else "no limit"

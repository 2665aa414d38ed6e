"""What the readings say, on the terminal: words first, then figures, then a plot in plain letters."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.console import Console
from rich.table import Table
from rich.text import Text

from heldtrue.drawing.letters import drift_letters, indicator_letters
from heldtrue.drawing.readings_rows import (
    budget_words,
    comparison_rows,
    drift_name,
    drift_rows,
    event_rows,
    gauge_rows,
    indicator_rows,
    part_taper_rows,
    plan_answer,
    taper_rows,
    trace_name,
)
from heldtrue.drawing.wording import small_length
from heldtrue.inspection.budget import Budget
from heldtrue.inspection.causes import Cause, Diagnosis, NextTest
from heldtrue.inspection.drift import Drift
from heldtrue.inspection.indicator import IndicatorResult
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.quantities import UnitSystem
from heldtrue.sentences import in_units, joined
from heldtrue.terminal.lines import cautions as show_cautions
from heldtrue.terminal.lines import heading, named_rows, say

if TYPE_CHECKING:  # readings alone must not wait for the finite element kernel
    from heldtrue.shop.against_plan import AgainstPlan
    from heldtrue.shop.learned import Knowledge
    from heldtrue.shop.next_cut import NextCut


def show_indicator(
    console: Console, results: Sequence[IndicatorResult], found: Diagnosis, cautions: Sequence[str],
    units: UnitSystem, *, beside: AgainstPlan | None = None, gauge: str = "bar", title: str = "",
    budget: Budget | None = None,
) -> None:  # fmt: skip
    """Print what one or more traces say; ``beside``: what the plan expects, pressures in ``gauge``."""
    console.print(Text(title or "Indicator readings", style="bold"))
    for words in found.words:
        say(console, in_units(words, units), bold=words is found.words[0])
    for words in plan_answer(beside, gauge) if beside is not None else ():
        say(console, words)
    if found.next_test is not None:
        _next_test(console, found.next_test)
    if found.causes:
        heading(console, "Causes, largest first")
        console.print(_causes(found.causes, units))
    if beside is not None:
        _beside(console, beside, gauge, units)
    if budget is not None:
        heading(console, "Where the run-out tolerance goes")
        for words in budget_words(budget, units):
            say(console, f"- {words}")
    for one in results:
        heading(console, trace_name(one, units))
        console.print(named_rows(indicator_rows(one, units)))
        if one.trace.side != "face":
            say(console, "what other gauges would show of it, offset and tilt left out:")
            console.print(named_rows(gauge_rows(one, units)))
    heading(console, "Readings (o), left out (x) and the fitted shape (.) from jaw 1"
                      + (", first plane" if len(results[0].trace.planes) > 1 else ""))  # fmt: skip
    _letters(console, indicator_letters(results[0], units))
    _notes(console, [note for one in results for note in one.notes], units)
    console.print()
    show_cautions(console, cautions)


def _next_test(console: Console, test: NextTest) -> None:
    heading(console, f"Next test: {test.name}")
    say(console, test.how)
    for cause, means in test.outcomes:
        say(console, f"- {cause}, if {means}")


def _causes(causes: Sequence[Cause], units: UnitSystem) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in ("cause", "run-out it explains", "at least", "at most", "evidence"):
        table.add_column(name, justify="left" if name in ("cause", "evidence") else "right")
    for one in causes:
        sizes = [small_length(v, units) for v in (one.expected, one.least, one.most)]
        table.add_row(Text(one.name), *sizes, Text(in_units(joined("; ", one.evidence), units)))
    return table


def _beside(console: Console, beside: AgainstPlan, gauge: str, units: UnitSystem) -> None:
    heading(console, f"Beside the plan, {beside.surface.name}, at {pressure_text(beside.pressure, gauge)} "
                      f"({beside.pressure_from}); half the swing of each lobe")  # fmt: skip
    console.print(named_rows(comparison_rows(beside, gauge, units) or [("lobes", "nothing to compare")]))
    for words in beside.words:
        say(console, f"- {in_units(words, units)}")


def show_drift(console: Console, found: Sequence[Drift], cautions: Sequence[str], units: UnitSystem) -> None:
    """Print what each series says."""
    for one in found:
        console.print(Text(drift_name(one), style="bold"))
        for number, words in enumerate(one.words):
            say(console, in_units(words, units), bold=number == 0)
        say(console, "sizes (o), drawing limits (=), limits about the trend (-), trend (.), events (|)")
        _letters(console, drift_letters(one, units))
        console.print(named_rows(drift_rows(one, units)))
        for name, words in event_rows(one, units):
            say(console, f"- {name}: {words}")
        console.print()
    console.print()
    show_cautions(console, cautions)


def show_taper(console: Console, cut: NextCut, units: UnitSystem, gauge: str) -> None:
    """Print the next taper cut; pressures in ``gauge``."""
    found = cut.found
    console.print(Text(f"{cut.setup.title or 'Setup'}: next taper cut", style="bold"))
    if cut.part is not None:
        heading(console, f"Why the part is tapered: {cut.part.surface.name}")
        for number, words in enumerate(cut.part.words):
            head = "" if number == 0 else "- "
            say(console, head + in_units(words, units), bold=number == 0)
        console.print(named_rows(part_taper_rows(cut.part, units)))
        heading(console, "Next taper cut of the jaws")
    say(console, in_units(found.words, units), bold=True)
    console.print(named_rows(taper_rows(cut, units, gauge)))
    _notes(console, cut.notes, units)
    console.print()
    show_cautions(console, cut.cautions)


def show_learned(
    console: Console, known: Sequence[Knowledge], words: Sequence[str], cautions: Sequence[str], units: UnitSystem
) -> None:
    """Print what was stored, and what is known now."""
    for one in words:
        say(console, in_units(one, units))
    for item in known:
        say(console, item.words(units), bold=True)
        for flag in item.learned.flagged:
            say(console, f"- {item.flag_words(flag, units)}")
    console.print()
    show_cautions(console, cautions)


def _letters(console: Console, lines: Sequence[str]) -> None:
    for line in lines:
        console.print(Text(line, no_wrap=True, overflow="crop"))


def _notes(console: Console, notes: Sequence[str], units: UnitSystem) -> None:
    for note in dict.fromkeys(notes):
        say(console, f"- {in_units(note, units)}")

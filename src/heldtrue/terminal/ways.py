"""The ways to hold a part, for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from heldtrue.planning.other_holding_words import other_words
from heldtrue.planning.phrases import needs_words, step_windows
from heldtrue.planning.result import CAUTIONS, PASSES
from heldtrue.planning.way_words import (
    cost_words,
    drop_name,
    drop_words,
    share_words,
    way_name,
    what_first,
    why_words,
)
from heldtrue.planning.ways import RankedWay, Ways
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem
from heldtrue.terminal.lines import cautions, heading, say
from heldtrue.terminal.plan import MARKS


def show_ways(console: Console, found: Ways, units: UnitSystem) -> None:
    """Print the short list first, then what each way rests on, then why the others lose."""
    if found.stopped:
        say(console, "Stopped: what was found until then.", bold=True)
    say(console, f"{found.looked_at} ways looked at, {found.planned} worked out in full, {found.seconds:.1f} s")
    if found.best:
        if found.best[0].plan.verdict != PASSES:
            say(console, "No way passes as things stand; what comes nearest stands first.", bold=True)
        console.print(_table(found.best, 1))
        for number, way in enumerate(found.best, start=1):
            say(console, f"{number}. {why_words(way, units)}")
            if first := what_first(way):
                say(console, f"   Measure first: {first}")
            if needs := needs_words(way.candidate):
                say(console, f"   Needs {needs}")
    elif not found.stopped:
        say(console, "No jaws hold this part: every way and why not stands below.", bold=True)
    if found.beaten:
        heading(console, "Worked out, and another is as good or better in everything")
        console.print(_table(found.beaten, len(found.best) + 1))
    if found.others:
        heading(console, "Not jaws alone")
        for other in found.others:
            first, *more = other_words(other, units)
            say(console, first, bold=True)
            for line in more:
                say(console, f"  {line}")
    heading(console, "Not worked out in full")
    console.print(_dropped(found, units))
    say(console, "Take a way over with heldtrue ways SETUP --take NUMBER --setup NEW.toml, and plan that file.")
    cautions(console, CAUTIONS)


def _table(ways: Sequence[RankedWay], start: int) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for column in ("", "way", "verdict", "spare: hold", "form", "pressure", "jaws"):
        table.add_column(column, justify="right" if column in ("spare: hold", "form") else "left")
    for number, way in enumerate(ways, start=start):
        words, style = MARKS[way.plan.verdict]
        units = way.setup.units
        table.add_row(str(number), way_name(way.candidate, units), Text(words, style=style), share_words(way.hold),
                      share_words(way.form), step_windows(way.plan), cost_words(way))  # fmt: skip
    return table


def _dropped(found: Ways, units: UnitSystem) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("ways", justify="right")
    table.add_column("surface")
    table.add_column("why")
    gauge = gauge_unit_of(found.setup)
    for one in found.dropped:
        table.add_row(str(one.count), drop_name(one, units), Text(drop_words(one, units, gauge)))
    return table

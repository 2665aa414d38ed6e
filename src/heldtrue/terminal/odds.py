"""Which measurement pays, and what is assumed, for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from heldtrue.planning.odds.assumptions import AssumptionRow
from heldtrue.planning.odds.measurements import Measurement, Pair
from heldtrue.planning.odds.odds_words import (
    ODDS_NOTE,
    chance_words,
    changes_something,
    odds_words,
    pair_words,
    room_words,
    share_words,
)
from heldtrue.planning.odds.shares import Decides
from heldtrue.planning.phrases import lead_words, named_end
from heldtrue.planning.result import CAUTIONS, PASSES, Plan
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem
from heldtrue.terminal.lines import cautions, heading, say
from heldtrue.terminal.plan import MARKS, show_value


def show_measurements(
    console: Console,
    plan: Plan,
    found: Sequence[Measurement],
    pair: Pair | None,
    decided: Decides | None,
    units: UnitSystem,
) -> None:
    """Print what pays first, then what decides."""
    gauge = gauge_unit_of(plan.setup)
    say(console, f"{MARKS[plan.verdict][0]}. {lead_words(plan, units)}", bold=True)
    say(console, odds_words(plan))
    if decided is not None:
        heading(console, f"What spreads '{decided.check}'")
        for line in share_words(decided):
            say(console, f"  {line}")
    heading(console, "What to measure, the one that pays most first")
    pays = [one for one in found if changes_something(one)]
    if pays:
        console.print(_table(pays, gauge, passes=plan.verdict == PASSES))
    for number, one in enumerate(pays, start=1):
        if one.guessed:
            say(console, f"{number}. A yes or no that nobody can put odds on: counted as one in two.")
    if pair is not None:
        say(console, pair_words(pair, found), bold=True)
    idle = "; ".join(one.ask.what for one in found if not changes_something(one))
    if idle:
        say(console, f"Change nothing here: {idle}.")
    if not found:
        say(console, "Nothing is left to measure: every input is stated or measured.")
    say(console, "What you find goes into the key named; then plan again: the worst case decides as before.")
    cautions(console, CAUTIONS)


def _table(found: Sequence[Measurement], gauge: str, *, passes: bool) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    turns = () if passes else ("turns it into a pass",)
    for column in ("", "what", "min", *turns, "window now", "expected after", "key"):
        table.add_column(column, justify="right" if column in ("", "min") else "left")
    for number, one in enumerate(found, start=1):
        cells = [] if passes else [chance_words(one.chance)]
        table.add_row(str(number), escape(one.ask.what), f"{one.ask.minutes:g}", *cells, room_words(one.now, gauge),
                      room_words(one.after, gauge), escape(", ".join(one.keys)))  # fmt: skip
    return table


def show_assumptions(console: Console, rows: Sequence[AssumptionRow], units: UnitSystem) -> None:
    """Print every input with its range, its spread and the key that changes it."""
    table = Table(title="Inputs", title_justify="left", box=None, pad_edge=False, header_style="bold")
    for column in ("input", "low", "likely", "high", "from", "spread", "of", "change the range", "why this spread"):
        table.add_column(column, justify="right" if column in ("low", "likely", "high") else "left")
    for row in rows:
        known, spread = row.known, row.spread
        ends = [named_end(known, value) or show_value(value, known.kind, units)
                for value in (known.low, known.likely, known.high)]  # fmt: skip
        table.add_row(escape(known.label), *ends, known.source, "" if spread is None else spread.kind,
                      "" if spread is None else spread.scope, escape(", ".join(row.change)),
                      "" if spread is None else escape(spread.reason))  # fmt: skip
    console.print(table)
    say(console, "The worst case takes the bad end of each range; the spread is for the odds alone.")
    say(console, "Change a spread with [assumptions.NAME] spread and reason in the setup file, NAME with _ for spaces.")
    say(console, ODDS_NOTE)

"""A re-plan on the terminal: what may no longer start comes first."""

from __future__ import annotations

from rich.console import Console
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from heldtrue.planning.gauge_words import pressure_text
from heldtrue.planning.result import IN_SHORT
from heldtrue.shop.replanning.compare import Turned
from heldtrue.shop.replanning.run import Progress, Report
from heldtrue.terminal.lines import say

MOST_SHOWN = 20
"""Of the setups that do not pass, as before."""


def show_replan(console: Console, report: Report) -> None:
    """The whole report."""
    stopped = len(report.stopped)
    words, style = f"{stopped:,} of {report.looked_at:,} may no longer start as they did", "green"
    if stopped:
        style = "bold red"
    elif not report.looked_at:
        words, style = "no setup was looked at: none is in the records, or none is what was asked for", "yellow"
    elif report.failed:
        style = "yellow"
    console.print(Panel(Text(words, "bold"), border_style=style, expand=False))
    if report.turned:
        table = Table("setup", "chuck", "was", "now", "pressure now", "reason", box=None, pad_edge=False)
        for one in sorted(report.turned, key=lambda one: (not one.stops, one.setup)):
            table.add_row(one.setup, one.chuck, one.was, one.now, pressure_words(one), one.reason)
        console.print(table)
    if report.failed:
        say(console, f"{len(report.failed):,} cannot be planned:", bold=True)
        for failed in report.failed:
            say(console, f"- {failed.setup}: {failed.reason}")
    if report.refused:
        say(
            console, f"{len(report.refused):,} do not pass, and did not before or were never planned before:", bold=True
        )
        for refused in report.refused[:MOST_SHOWN]:
            say(console, f"- {refused.setup}: {refused.verdict}, {refused.reason}")
        if len(report.refused) > MOST_SHOWN:
            say(console, f"- and {len(report.refused) - MOST_SHOWN:,} more (--json has all)")
    say(console, _counts(report))
    if report.turned:
        say(console, "print their floor sheets again (--sheets FOLDER), look at each (--seen SETUP), then start")
    say(console, IN_SHORT)


def pressure_words(one: Turned) -> str:
    """The pressures to set now, by step; empty where there are none."""
    return ", ".join(f"{name} {pressure_text(value, one.unit)}" for name, value in one.pressures.items())


def progress_words(at: Progress) -> str:
    """How far it is, the rate and the time left."""
    rate = f", {at.rate:.1f} setups/s" if at.done else ""
    left = "" if at.left is None else f", {_time(at.left)} left"
    return f"{at.done:,} of {at.all:,}{rate}{left}"


def _counts(report: Report) -> str:
    first = f", {report.first:,} for the first time" if report.first else ""
    return (f"{report.looked_at:,} setups in {report.seconds:.1f} s{first}: {report.unchanged:,} unchanged, "
            f"{report.known:,} known before, {report.shortened:,} by kept limits, "
            f"{report.planned:,} planned in full")  # fmt: skip


def _time(seconds: float) -> str:
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"

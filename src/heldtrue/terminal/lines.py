"""Lines, headings, tables and the cautions, as every answer prints them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.panel import Panel
from rich.table import Table
from rich.text import Text


def say(console: Console, words: str, *, bold: bool = False) -> None:
    """A line as it is, without markup."""
    console.print(words, highlight=False, markup=False, style="bold" if bold else None)


def heading(console: Console, words: str) -> None:
    """A heading with room above it."""
    console.print()
    console.print(Text(words, style="bold"))


def named_rows(rows: Iterable[tuple[str, str]]) -> Table:
    """Figures by their names."""
    table = Table(box=None, pad_edge=False, show_header=False, padding=(0, 2, 0, 0))
    table.add_column(style="bold", no_wrap=True)
    table.add_column()
    for name, words in rows:
        table.add_row(Text(name), Text(words))
    return table


def cautions(console: Console, words: Sequence[str]) -> None:
    """The cautions that close every answer."""
    console.print(Panel(Text("\n".join(words)), title="Cautions", border_style="dim"))

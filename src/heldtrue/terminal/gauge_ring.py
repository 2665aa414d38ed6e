"""Gauge rings and friction trials on the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table

from heldtrue.drawing.gauge_ring_words import (
    design_words,
    engraved,
    force,
    friction_words,
    lost_words,
    ring_title,
    trial_words,
    uneven_words,
    untold_words,
)
from heldtrue.inspection.friction_reading import FrictionFound
from heldtrue.inspection.ring_design import RingDesign
from heldtrue.inspection.ring_reading import RingAnswer
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.quantities import UnitSystem
from heldtrue.shop.friction_log import Pairing
from heldtrue.shop.gauge_rings import CAUTIONS
from heldtrue.terminal.lines import cautions, say


def show_design(console: Console, made: RingDesign, system: UnitSystem, gauge: str) -> None:
    """A ring to make."""
    say(console, ring_title(made, system), bold=True)
    for words in design_words(made, system):
        say(console, f"- {words}")
    if most := engraved(made, gauge):
        say(console, f"- {most}", bold=True)
    for miss in made.misses:
        say(console, f"- not reached: {miss}")
    cautions(console, CAUTIONS)


def show_answer(console: Console, answer: RingAnswer, system: UnitSystem, gauge: str) -> None:
    """What a ring said."""
    table = Table(
        "pressure", "grip of all jaws", "95 %", *(f"jaw {n}" for n in _jaws(answer)), box=None, pad_edge=False
    )
    for one in answer.clamped:
        low, likely, high = (force(end, system) for end in one.total)
        each = [force(jaw[1], system) for jaw in one.by_jaw]
        table.add_row(pressure_text(one.pressure, gauge), likely, f"{low} to {high}", *each)
    console.print(table)
    if lost := lost_words(answer, gauge):
        say(console, lost)
    if uneven := uneven_words(answer):
        say(console, uneven, bold=True)
    for words in untold_words(answer):
        say(console, words)
    cautions(console, CAUTIONS)


def show_friction(
    console: Console, found: FrictionFound, grip: tuple[float, float, float], of: Pairing, system: UnitSystem, *,
    oiled: bool,
) -> None:  # fmt: skip
    """What slips said."""
    say(console, friction_words(found), bold=True)
    for words in trial_words(found, grip, of, system, oiled=oiled):
        say(console, f"- {words}")
    cautions(console, CAUTIONS)


def _jaws(answer: RingAnswer) -> range:
    return range(1, len(answer.clamped[0].by_jaw) + 1)

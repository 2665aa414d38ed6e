"""Gauge rings and friction trials on the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table

from heldtrue.inspection.friction_reading import FrictionFound
from heldtrue.inspection.ring_design import RingDesign
from heldtrue.inspection.ring_reading import RingAnswer
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.shop.friction_log import Pairing
from heldtrue.shop.gauge_rings import CAUTIONS
from heldtrue.terminal.lines import cautions, say


def show_design(console: Console, made: RingDesign, system: UnitSystem, gauge: str) -> None:
    """A ring to make."""
    ring = made.gauge.ring
    outer, inner, width = (format_quantity(v, "length", system) for v in (2 * ring.outer, 2 * ring.inner, ring.width))
    say(console, f"gauge ring Ø{outer} / Ø{inner} x {width}, {made.material.name}", bold=True)
    on = "outside" if ring.side == "outside" else "bore"
    between = (
        f"pads {format_quantity(2 * made.gauge.half_angle * ring.gripped, 'length', system)} wide, fitted to the ring"
        if made.roller is None
        else f"dowel pins Ø{format_quantity(made.roller, 'length', system)}"
    )
    say(console, f"- the jaws press on its {on} over {made.gauge.jaws} {between}, one at the middle of each jaw")
    read = "bore" if ring.side == "outside" else "outside"
    say(console, f"- read its {read} at half width, at the jaws and between them: {made.per_kn * 1e3:.3g} µm high to "
        "low for 1 kN of all jaws")  # fmt: skip
    say(console, f"- stress {made.stress:.0f} MPa at {_force(made.most_grip, system)}, "
        f"{made.factor:.2f} times below the {made.strength:.0f} MPa its certificate must show")  # fmt: skip
    say(console, f"- a 0.001 mm dial reads half of that to {made.fine:.1%}, a 0.01 mm dial to {made.coarse:.0%}; "
        f"with material, size and contact {made.with_common:.1%} and more")  # fmt: skip
    if made.most_pressure is not None:
        say(console, f"- engrave: at most {pressure_text(made.most_pressure, gauge, 'down')}", bold=True)
    for miss in made.misses:
        say(console, f"- not reached: {miss}")
    cautions(console, CAUTIONS)


def show_answer(console: Console, answer: RingAnswer, system: UnitSystem, gauge: str) -> None:
    """What a ring said."""
    table = Table(
        "pressure", "grip of all jaws", "95 %", *(f"jaw {n}" for n in _jaws(answer)), box=None, pad_edge=False
    )
    for one in answer.clamped:
        low, likely, high = (_force(end, system) for end in one.total)
        each = [_force(jaw[1], system) for jaw in one.by_jaw]
        table.add_row(pressure_text(one.pressure, gauge), likely, f"{low} to {high}", *each)
    console.print(table)
    if answer.slope is not None and answer.threshold is not None:
        ends = [pressure_text(end, gauge) for end in answer.threshold]
        say(console, f"{ends[1]} is lost before the jaws grip ({ends[0]} to {ends[2]})")
    if answer.uneven is not None:
        jaw, share = answer.uneven
        say(console, f"jaw {jaw + 1} presses {share:.0%} of the mean: clean its guide and its bolts", bold=True)
    elif not answer.apart:
        say(console, "these readings cannot tell the jaws apart: without friction three jaws are only in balance where "
            "they press alike")  # fmt: skip
    if not answer.free:
        say(console, "the ring was not read free: its own shape counts against the forces")
    say(console, f"of the ranges {answer.common:.1%} come from material, size and contact of the ring, for all alike")
    cautions(console, CAUTIONS)


def show_friction(
    console: Console, found: FrictionFound, grip: tuple[float, float, float], of: Pairing, system: UnitSystem, *,
    oiled: bool,
) -> None:  # fmt: skip
    """What slips said."""
    ends = f"in one clamping {found.low:.3f} to {found.high:.3f} (95 %)"
    say(console, f"friction {found.likely:.3f}; {ends}", bold=True)
    wet = "as wet as it runs" if oiled else "dry"
    say(console, f"- {of.face} jaws of {of.jaw_material} on {of.surface} {of.material}, {wet}")
    say(console, f"- {found.slips} slips, {found.scatter:.1%} from one to the next")
    say(console, f"- grip while it was tried {_force(grip[1], system)} ({_force(grip[0], system)} to "
        f"{_force(grip[2], system)})")  # fmt: skip
    if not oiled:
        say(console, "- tried dry: it counts fully only for a part that is stated dry (oily = false)")
    cautions(console, CAUTIONS)


def _jaws(answer: RingAnswer) -> range:
    return range(1, len(answer.clamped[0].by_jaw) + 1)


def _force(value: float, system: UnitSystem) -> str:
    return format_quantity(value, "force", system)

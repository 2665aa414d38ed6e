"""What is said of a gauge ring, of its readings, and of a friction trial: for the terminal and the pages."""

from __future__ import annotations

from heldtrue.inspection.friction_reading import FrictionFound
from heldtrue.inspection.ring_design import RingDesign
from heldtrue.inspection.ring_reading import RingAnswer
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.shop.friction_log import Pairing


def ring_title(made: RingDesign, system: UnitSystem) -> str:
    """A ring to make, with its sizes."""
    ring = made.gauge.ring
    outer, inner, width = (format_quantity(v, "length", system) for v in (2 * ring.outer, 2 * ring.inner, ring.width))
    return f"gauge ring Ø{outer} / Ø{inner} x {width}, {made.material.name}"


def design_words(made: RingDesign, system: UnitSystem) -> tuple[str, ...]:
    """How it is pressed and read, how strong it is, how well it reads."""
    ring = made.gauge.ring
    on, read = ("outside", "bore") if ring.side == "outside" else ("bore", "outside")
    between = (
        f"pads {format_quantity(2 * made.gauge.half_angle * ring.gripped, 'length', system)} wide, fitted to the ring"
        if made.roller is None
        else f"dowel pins Ø{format_quantity(made.roller, 'length', system)}"
    )
    return (
        f"the jaws press on its {on} over {made.gauge.jaws} {between}, one at the middle of each jaw",
        f"read its {read} at half width, at the jaws and between them: {made.per_kn * 1e3:.3g} µm high to low for 1 kN "
        "of all jaws",
        f"stress {made.stress:.0f} MPa at {force(made.most_grip, system)}, {made.factor:.2f} times below the "
        f"{made.strength:.0f} MPa its certificate must show",
        f"a 0.001 mm dial reads half of that to {made.fine:.1%}, a 0.01 mm dial to {made.coarse:.0%}; with material, "
        f"size and contact {made.with_common:.1%} and more",
    )


def engraved(made: RingDesign, gauge: str) -> str:
    """The largest pressure, to be engraved; empty where none is known."""
    return "" if made.most_pressure is None else f"engrave: at most {pressure_text(made.most_pressure, gauge, 'down')}"


def uneven_words(answer: RingAnswer) -> str:
    """The jaw that presses otherwise than the others; empty where none does beyond doubt."""
    if answer.uneven is None:
        return ""
    jaw, share = answer.uneven
    return f"jaw {jaw + 1} presses {share:.0%} of the mean: clean its guide and its bolts"


def lost_words(answer: RingAnswer, gauge: str) -> str:
    """The pressure that is lost before the jaws grip; empty from one pressure alone."""
    if answer.threshold is None:
        return ""
    low, likely, high = (pressure_text(end, gauge) for end in answer.threshold)
    return f"{likely} is lost before the jaws grip ({low} to {high})"


def untold_words(answer: RingAnswer) -> tuple[str, ...]:
    """What the readings cannot tell, and what makes them wide."""
    found = []
    if answer.uneven is None and not answer.apart:
        found.append(
            "these readings cannot tell the jaws apart: without friction three jaws are only in balance where they "
            "press alike"
        )
    if not answer.free:
        found.append("the ring was not read free: its own shape counts against the forces")
    found.append(f"of the ranges {answer.common:.1%} come from material, size and contact of the ring, for all alike")
    return tuple(found)


def friction_words(found: FrictionFound) -> str:
    """Friction of one clamping to come, with its range."""
    return f"friction {found.likely:.3f}; in one clamping {found.low:.3f} to {found.high:.3f} (95 %)"


def trial_words(
    found: FrictionFound, grip: tuple[float, float, float], of: Pairing, system: UnitSystem, *, oiled: bool
) -> tuple[str, ...]:
    """What rubbed on what, how the slips scatter, and the grip while it was tried."""
    low, likely, high = (force(end, system) for end in grip)
    dry = "tried dry: it counts fully only for a part that is stated dry (oily = false)"
    return (
        f"{of.face} jaws of {of.jaw_material} on {of.surface} {of.material}, {'as wet as it runs' if oiled else 'dry'}",
        f"{found.slips} slips, {found.scatter:.1%} from one to the next",
        f"grip while it was tried {likely} ({low} to {high})",
        *(() if oiled else (dry,)),
    )


def force(value: float, system: UnitSystem) -> str:
    """A force [N] as it is said."""
    return format_quantity(value, "force", system)

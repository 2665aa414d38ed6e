"""A part as its drawing file has it, on the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from heldtrue.drawing.wording import deviation, dimension, length_unit, small_length
from heldtrue.mechanics.materials import WorkMaterial
from heldtrue.part_file.outline import Arc
from heldtrue.part_file.turned_part import FORMS, Tolerances, TurnedPart
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.sentences import in_units, joined
from heldtrue.terminal.lines import heading, named_rows, say

MOST_ROWS = 60
"""Rows of the half section that are shown; the JSON has them all."""


def show_part(console: Console, part: TurnedPart, material: WorkMaterial | None, units: UnitSystem) -> None:
    """Print axis, volume, half section, surfaces, what is not turned, and notes."""
    console.print(Text(f"{part.source}: turned part", style="bold"))
    console.print(named_rows(_figures(part, material, units)))
    _section(console, part, units)
    _surfaces(console, part, units)
    _not_turned(console, part, units)
    if part.notes:
        heading(console, "Notes")
        for words in part.notes:
            say(console, f"- {in_units(words, units)}", bold=words.startswith("CAUTION"))


def _figures(part: TurnedPart, material: WorkMaterial | None, units: UnitSystem) -> list[tuple[str, str]]:
    low, high = part.outline.z
    most = 2 * max(r for r, _ in part.outline.polygon())
    unit = length_unit(units)
    origin = ", ".join(dimension(c, units) for c in part.axis_origin)
    way = ", ".join(f"{c:.6g}" for c in part.axis_direction)
    rows = [
        ("axis", f"through {origin} {unit}, direction {way}"),
        ("size", f"Ø{dimension(most, units)}, z {dimension(low, units)} to {dimension(high, units)} {unit}"),
        ("volume turned full round", _volume(part.outline.volume, units)),
        ("volume of the solid", "not measured" if part.solid_volume is None else _volume(part.solid_volume, units)),
    ]
    if material is not None:
        both = [("mass turned full round", part.outline.volume)]
        both += [] if part.solid_volume is None else [("mass of the solid", part.solid_volume)]
        density = material.density.value
        rows += [
            (name, f"{format_quantity(v * density, 'mass', units, figures=4)} ({material.name})") for name, v in both
        ]
    return rows


def _volume(volume: float, units: UnitSystem) -> str:
    return f"{volume / 25.4**3:.6g} in3" if units == "inch" else f"{volume:.8g} mm3"


def _section(console: Console, part: TurnedPart, units: UnitSystem) -> None:
    pieces = part.outline.pieces
    heading(console, f"Half section, {len(pieces)} lines and arcs, [diameter, z] in {length_unit(units)}")
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in ("from", "", "to", "", ""):
        table.add_column(name, justify="right")
    for piece in pieces[:MOST_ROWS]:
        ends = [
            text for r, z in (piece.start, piece.end) for text in (f"Ø{dimension(2 * r, units)}", dimension(z, units))
        ]
        table.add_row(*ends, f"R{dimension(piece.radius, units)}" if isinstance(piece, Arc) else "")
    console.print(table)
    if len(pieces) > MOST_ROWS:
        say(console, f"and {len(pieces) - MOST_ROWS} more; --json has them all")


def _surfaces(console: Console, part: TurnedPart, units: UnitSystem) -> None:
    heading(console, "Surfaces")
    if not part.surfaces:
        say(console, "no cylinder and no flat face")
        return
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in ("", "surface", "side", "diameter", "z", "tolerances"):
        table.add_column(name)
    for number, one in enumerate(part.surfaces, 1):
        ends = dict.fromkeys(dimension(d, units) for d in one.diameters)
        zs = dict.fromkeys(dimension(z, units) for z in one.z)
        row = (str(number), one.name, one.side, " to ".join(ends), " to ".join(zs), _asked(one.tolerances, units))
        table.add_row(*(Text(text) for text in row))
    console.print(table)


def _asked(asked: Tolerances, units: UnitSystem) -> str:
    said = []
    if asked.size is not None:
        said.append("size " + "/".join(deviation(end, units) for end in reversed(asked.size)))
    said += [f"{'run-out' if key == 'runout' else key} {small_length(value, units)}"
             for key in FORMS if (value := getattr(asked, key)) is not None]  # fmt: skip
    return ", ".join(said)


def _not_turned(console: Console, part: TurnedPart, units: UnitSystem) -> None:
    heading(console, "Not turned")
    if not part.not_turned:
        say(console, "nothing")
    for one in part.not_turned:
        say(console, f"- {one.kind}: {in_units(joined('; ', (one.size, one.at)), units)}")

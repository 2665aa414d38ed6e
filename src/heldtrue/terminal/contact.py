"""The contact of part and jaws on the terminal: prints as maps of letters, then what another taper or bore would do."""

from __future__ import annotations

from collections.abc import Sequence
from math import degrees

import numpy as np
from rich.columns import Columns
from rich.console import Console
from rich.markup import escape
from rich.table import Table
from rich.text import Text

from heldtrue.drawing.all_pictures import distinct_bores, taper_words
from heldtrue.planning.jaw_contact import JawContact, peak_over_mean
from heldtrue.planning.phrases import SEEN_MM
from heldtrue.planning.result import ContactPrint
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem
from heldtrue.sentences import in_units
from heldtrue.terminal.lines import cautions as show_cautions
from heldtrue.terminal.lines import heading, say
from heldtrue.terminal.plan import show_form, show_gauge, show_value

SHADES = ".:-=+*#%@"
"""Plain letters, denser for more pressure, so that neither colour nor a special font is needed."""
OPEN_SHARE = 1e-3
"""A cell below this share of the scale's end does not touch."""
MAP_WIDTH = 30


def show_contact(console: Console, contact: JawContact, units: UnitSystem) -> None:
    """Print how the jaws bear: as set up, by taper, by bore."""
    setup, gauge = contact.setup, gauge_unit_of(contact.setup)
    jaws = setup.jaws.count or setup.chuck.jaws
    console.print(Text(f"{setup.title or 'Setup'}: contact of part and jaws", style="bold"))
    at = f"at {show_gauge(contact.pressure, gauge)} ({contact.pressure_from}), likely "
    say(console, f"{at}{show_value(contact.grip / jaws, 'force', units)} on each of {jaws} jaws while finishing")

    heading(console, "As set up")
    heads = [f"{p.fit} part Ø{show_value(p.part_diameter, 'length', units)}" for p in contact.prints]
    _maps(console, contact.prints, heads, units)
    for one, head in zip(contact.prints, heads, strict=True):
        say(console, f"{head}: {in_units(one.words, units)}")

    taper = contact.taper
    heading(console, "Taper of the jaws over the grip")
    say(console, in_units(taper.words, units), bold=True)
    say(console, f"the {contact.prints[len(contact.prints) // 2].fit} part by taper:")
    names = [taper_words(taper, cut, units) for cut, _ in taper.prints]
    tapers = [one for _, one in taper.prints]
    heads = [f"{name}: {_signed(one.taper, units)} a side" for name, one in zip(names, tapers, strict=True)]
    _maps(console, tapers, heads, units)
    for name, one in zip(names, tapers, strict=True):
        say(console, f"{name}: {in_units(one.words, units)}")

    heading(console, "Bore of the jaws")
    console.print(_bores(contact, units))
    seen = max(b.form_error for b in (contact.bores.nominal, contact.bores.truest, contact.bores.most_even)) > SEEN_MM
    say(console, "The shop chooses: a truer part, a more even contact, or the jaws as they are."
                  if seen else "No indicator sees these form errors: go by the contact.")  # fmt: skip

    _show_friction(console, contact, units)
    console.print()
    for known in contact.rests_on:
        taken = show_value(known.likely, known.kind, units)
        ends = (show_value(end, known.kind, units) for end in (known.low, known.high))
        other = f" ({' to '.join(ends)})" if known.is_open else ""
        say(console, f"Rests on an assumed input: {known.label}, taken as {taken}{other}; {known.note}; "
                      f"to settle it: {known.measure}")  # fmt: skip
    for note in contact.notes:
        say(console, f"- {note}")
    show_cautions(console, contact.cautions)


def face_map(one: ContactPrint, scale: float, width: int = MAP_WIDTH) -> list[str]:
    """The whole gripping face unrolled, tip up, as lines of ``width`` letters; ``scale``: pressure of the densest."""
    edges = np.asarray(one.angle_edges)
    across = np.abs((np.arange(width) + 0.5) / width * 2 - 1) * edges[-1]
    sector = np.clip(np.searchsorted(edges, across, side="right") - 1, 0, len(edges) - 2)
    lines = []
    for row in np.asarray(one.pressure)[::-1]:
        if not np.isfinite(row).any():
            lines.append("groove".center(width))
        else:
            lines.append("".join(_letter(float(row[i]) / scale) for i in sector))
    return lines


def _letter(share: float) -> str:
    if not share > OPEN_SHARE:
        return " "
    return SHADES[min(int(share * len(SHADES)), len(SHADES) - 1)]


def _maps(console: Console, prints: Sequence[ContactPrint], heads: Sequence[str], units: UnitSystem) -> None:
    """Prints side by side as far as the screen reaches, all to one scale."""
    scale = max(p.peak for p in prints)
    console.print(Columns([_map(p, head, scale, units) for p, head in zip(prints, heads, strict=True)], padding=(0, 2)))
    say(console, f"scale: {SHADES[0]} next to nothing ... {SHADES[-1]} {show_value(scale, 'stress', units)}; "
                  "blank: open; up is away from the chuck")  # fmt: skip


def _map(one: ContactPrint, head: str, scale: float, units: UnitSystem) -> Text:
    peak = f"peak {show_value(one.peak, 'stress', units)}, {peak_over_mean(one):.1f} times the mean"
    rows = face_map(one, scale)
    side = ["tip", *[""] * (len(rows) - 2), "seat"] if len(rows) > 1 else ["seat"]
    lines = [f"{name:>4}|{row}|" for name, row in zip(side, rows, strict=True)]
    reach = f"{degrees(one.angle_edges[-1]):.0f}°"
    angles = " " * 5 + f"-{reach}".ljust(MAP_WIDTH - len(reach)) + reach
    return Text("\n".join([head, *lines, angles, peak]), no_wrap=True)


def _show_friction(console: Console, contact: JawContact, units: UnitSystem) -> None:
    """Form by the friction in the jaws, where an indicator would see it."""
    seen = [one for one in contact.friction if max(form for _, form in one.by_friction) > SEEN_MM]
    if seen:
        heading(console, "Friction in the jaws while clamping: form by coefficient of friction")
    for one in seen:
        forms = ", ".join(f"{show_form(form, units)} at {friction:.2f}" for friction, form in one.by_friction)
        say(console, f"{one.surface}: {forms}")


def _bores(contact: JawContact, units: UnitSystem) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for column in ("choice", "bored to", "form error", "peak over mean, worst part", "how the middle part bears"):
        table.add_column(column, justify="right" if column in ("bored to", "form error") else "left")
    for choice in distinct_bores(contact):
        middle = choice.prints[len(choice.prints) // 2]
        table.add_row(
            choice.name, f"Ø{show_value(choice.bore_diameter, 'length', units)}",
            show_form(choice.form_error, units) if contact.setup.surfaces else "",
            f"{choice.unevenness:.1f}", escape(in_units(middle.words, units)),
        )  # fmt: skip
    return table


def _signed(value: float, units: UnitSystem) -> str:
    return ("+" if value > 0 else "") + show_value(value, "length", units)

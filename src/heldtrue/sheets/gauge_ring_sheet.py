"""What goes with a gauge ring: its file, its drawing, and a page to write the readings on."""

from __future__ import annotations

from pathlib import Path

from heldtrue.drawing.gauge_ring_drawing import ring_dxf, ring_svg
from heldtrue.inspection.ring_design import RingDesign, places_for
from heldtrue.inspection.ring_file import ring_text
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.quantities import UnitSystem
from heldtrue.sheets.paper import paper_size, pdf_of
from heldtrue.shop.gauge_rings import CAUTIONS

TEMPLATE = Path(__file__).with_name("gauge_ring_sheet.typ")
ROUNDS = 3
SHARES = (0.3, 0.6, 0.9)
"""Pressures to read at, as shares of the largest."""


def ring_folder(
    made: RingDesign, system: UnitSystem = "metric", paper: str = "a4", gauge: str = "bar"
) -> dict[str, bytes | str]:
    """The files of a designed ring, by their names."""
    return {
        "gauge-ring.toml": ring_text(made),
        "gauge-ring.pdf": ring_pdf(made, system, paper, gauge),
        "gauge-ring.dxf": ring_dxf(made, system, gauge),
        "readings.toml": readings_form(made, gauge),
    }


def ring_pdf(made: RingDesign, system: UnitSystem = "metric", paper: str = "a4", gauge: str = "bar") -> bytes:
    """The drawing, the steps, and a table for the readings. Raises: ``InputError`` for a paper it does not know."""
    ring = made.gauge.ring
    read = "bore" if ring.side == "outside" else "outside"
    content = {
        "title": f"Gauge ring {made.gauge.number}".strip(),
        "paper": paper_size(paper),
        "steps": [
            "Spindle locked, drive off, gauge turned down below the largest pressure of the ring.",
            f"Dial 0.001 mm on the {read}, at half width, plunger square to it; plus is the plunger pushed in. "
            "Jaws and ring clean and dry.",
            "Lay the ring free in its place (or in a fixture), mark at jaw 1. Read all places: round FREE.",
            "Clamp with the first pressure, coming from below. Read all places. The same with the next pressures.",
            "Type the readings into readings.toml. Then: heldtrue ring read CHUCK --ring gauge-ring.toml "
            "--readings readings.toml --enter",
        ],
        "places": places_for(made.gauge.jaws),
        "rounds": ["free", *(_pressure(made, share, gauge) for share in SHARES)],
        "cautions": list(CAUTIONS),
    }
    return pdf_of(TEMPLATE, content, made.gauge.number, {"drawing": ring_svg(made, system, gauge)})


def readings_form(made: RingDesign, gauge: str = "bar") -> str:
    """A file to put the readings in."""
    places = places_for(made.gauge.jaws)
    empty = "[" + ", ".join(["0"] * places) + "]"
    lines = [
        "# Readings of the gauge ring, mm. Plus: plunger pushed in. The first place is the middle of jaw 1, then",
        "# clockwise as seen from the tail, towards jaw 2.",
        'units = "metric"',
        'gauge = "dial"              # or "two-point", "three-point" for a bore gauge',
        "division = 0.001",
        f"places = {places}",
        "",
        "[[round]]                   # free: no pressure",
        f"values = {empty}",
    ]
    for share in SHARES:
        lines += ["", "[[round]]", f'pressure = "{_pressure(made, share, gauge)}"', f"values = {empty}"]
    return "\n".join(lines) + "\n"


def _pressure(made: RingDesign, share: float, gauge: str) -> str:
    return "______" if made.most_pressure is None else pressure_text(share * made.most_pressure, gauge, "down")

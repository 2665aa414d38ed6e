"""A page to try friction with: what to clamp with, what it should take, and a table for the slips."""

from __future__ import annotations

from pathlib import Path

from heldtrue.planning.gauge_words import pressure_text
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.sheets.paper import paper_size, pdf_of
from heldtrue.shop.friction_log import pairing
from heldtrue.shop.gauge_rings import CAUTIONS, trial_for

TEMPLATE = Path(__file__).with_name("friction_sheet.typ")
SLIPS = 5


def friction_pdf(setup: Setup, system: UnitSystem = "metric", paper: str = "a4") -> bytes:
    """The page as PDF.  Raises: ``InputError`` for a paper it does not know, or a setup that cannot be tried."""
    trial, of = trial_for(setup), pairing(setup)
    gauge = gauge_unit_of(setup)

    def ends(values: tuple[float, float], kind: str) -> str:
        return " to ".join(format_quantity(one, kind, system) for one in values)

    content = {
        "title": f"Friction: {setup.title or setup.part.number}",
        "paper": paper_size(paper),
        "fields": [
            ["part", f"{setup.part.number}, {of.surface} {of.material}"],
            ["jaws", f"{of.face}, {of.jaw_material}" + (f", set {setup.jaws.number}" if setup.jaws.number else "")],
            ["chuck", setup.chuck.number or setup.chuck.name],
            ["gripped", f"{setup.grip.side} Ø{format_quantity(trial.diameter, 'length', system)}"],
            ["clamp with", pressure_text(trial.pressure, gauge)],
            ["grip there", ends((trial.grip[0], trial.grip[2]), "force")],
            ["slips by torque at", ends(trial.torque, "torque")],
            ["or by a pull at", ends(trial.pull, "force")],
        ],
        "steps": [
            "Spindle locked, drive off. Part and jaws as wet as they run.",
            f"Clamp with {pressure_text(trial.pressure, gauge)}, coming from below.",
            "Turn the part slowly with the wrench square to the axis, or pull it along the axis with the scale. Note "
            "where it slips; if it does not, write held, and take less pressure.",
            f"Unclamp, turn the part a little, clamp anew: {SLIPS} times.",
            "heldtrue friction read SETUP --pressure ... --torque ... (once for each slip) --wet --enter (or --dry)",
        ],
        "slips": SLIPS,
        "cautions": list(CAUTIONS),
    }
    return pdf_of(TEMPLATE, content, setup.model_dump_json(), {})

"""The floor sheet: one page at the machine, whatever the plan holds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from heldtrue.drawing.section import draw_section
from heldtrue.drawing.window import draw_window
from heldtrue.planning.result import Plan
from heldtrue.quantities import UnitSystem
from heldtrue.sheets.content import floor_content
from heldtrue.sheets.paper import paper_size, pdf_of

TEMPLATE = Path(__file__).with_name("floor_sheet.typ")
MARGIN_X, MARGIN_Y = 9.0, 8.0
TEXT_BANDS = 197.4
"""Height of everything on the sheet but its pictures, which take what the paper leaves. [mm]"""
SECTION_SHARE = 0.59
BETWEEN = 3.0


def floor_sheet(plan: Plan, system: UnitSystem = "metric", paper: str = "a4", *, changes: Sequence[str] = ()) -> bytes:
    """The floor sheet of a plan as a PDF of exactly one page, in the units of ``system``, the others small.

    ``changes``: since the last run of this setup, in words.

    Needs no network and no fonts but its own.  Raises: ``InputError`` for a paper it does not know.
    """
    size = paper_size(paper)
    width, height = size["width"], size["height"]
    inner = width - 2 * MARGIN_X
    picture_height = math.floor(height - 2 * MARGIN_Y - TEXT_BANDS)
    section_width = math.floor(SECTION_SHARE * (inner - BETWEEN))
    window_width = math.floor(inner - BETWEEN - section_width)
    content = floor_content(plan, system, changes) | {
        "paper": {**size, "x": MARGIN_X, "y": MARGIN_Y},
        "pictures": {"height": picture_height, "section": section_width, "window": window_width},
    }
    pictures = {
        "section": draw_section(plan, system, width=section_width, height=picture_height),
        "window": draw_window(plan, system, width=window_width, height=picture_height),
    }
    return pdf_of(TEMPLATE, content, plan.setup.model_dump_json(), pictures)

"""The floor sheet: one page at the machine, whatever the plan holds."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path

from heldtrue.drawing.section import draw_section
from heldtrue.drawing.window import draw_window
from heldtrue.errors import InputError
from heldtrue.planning.result import Plan
from heldtrue.quantities import UnitSystem
from heldtrue.sheets.content import floor_content

TEMPLATE = Path(__file__).with_name("floor_sheet.typ")
PAPERS: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}
MARGIN_X, MARGIN_Y = 9.0, 8.0
TEXT_BANDS = 197.4
"""Height of everything on the sheet but its pictures, which take what the paper leaves. [mm]"""
SECTION_SHARE = 0.59
BETWEEN = 3.0
KNOWN_LETTERS = 0x52F
"""The sheet's own typeface covers Latin, Greek and Cyrillic; beyond, the machine's fonts are asked."""


def floor_sheet(plan: Plan, system: UnitSystem = "metric", paper: str = "a4", *, changes: Sequence[str] = ()) -> bytes:
    """The floor sheet of a plan as a PDF of exactly one page, in the units of ``system``, the others small.

    ``changes``: since the last run of this setup, in words.

    Needs no network and no fonts but its own.  Raises: ``InputError`` for a paper it does not know.
    """
    import typst

    if paper not in PAPERS:
        raise InputError(f"paper {paper!r} is not known; known are {', '.join(PAPERS)}")
    width, height = PAPERS[paper]
    inner = width - 2 * MARGIN_X
    picture_height = math.floor(height - 2 * MARGIN_Y - TEXT_BANDS)
    section_width = math.floor(SECTION_SHARE * (inner - BETWEEN))
    window_width = math.floor(inner - BETWEEN - section_width)
    content = json.dumps(
        floor_content(plan, system, changes)
        | {
            "paper": {"width": width, "height": height, "x": MARGIN_X, "y": MARGIN_Y},
            "pictures": {"height": picture_height, "section": section_width, "window": window_width},
        }
    )
    pictures = {
        "section": draw_section(plan, system, width=section_width, height=picture_height),
        "window": draw_window(plan, system, width=window_width, height=picture_height),
    }
    made = typst.compile(
        TEMPLATE.read_bytes(),
        format="pdf",
        ignore_system_fonts=not _needs_other_letters(plan),
        sys_inputs={"content": content, **pictures},
        timestamp=0,
    )
    return bytes(made)


def _needs_other_letters(plan: Plan) -> bool:
    """Does what the user wrote hold letters that the sheet's own typeface lacks?"""
    return any(ord(letter) > KNOWN_LETTERS for letter in plan.setup.model_dump_json().replace("\\u", ""))

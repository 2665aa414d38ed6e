"""The floor sheet: the whole record of a setup for the machine, on one side where it fits."""

from __future__ import annotations

import math
from datetime import date
from pathlib import Path

from heldtrue.drawing.section import draw_section
from heldtrue.drawing.window import draw_window
from heldtrue.planning.result import Plan
from heldtrue.quantities import UnitSystem
from heldtrue.sheets.content import NEVER_RUN, Content, floor_content
from heldtrue.sheets.paper import paper_size, pdf_of, places_of
from heldtrue.shop.repeat import Repeat

TEMPLATE = Path(__file__).with_name("floor_sheet.typ")
MARGIN_X, MARGIN_Y = 9.0, 8.0
PICTURES_MM = (56.0, 84.0)
"""Least and greatest height of the pictures, which take what the texts leave. [mm]"""
HAND_HEAD_MM, HAND_LINE_MM = 9.0, 6.0
"""What the heading of the lines for handwriting takes, and each line: where room is left. [mm]"""
SECTION_SHARE = 0.59
BETWEEN = 3.0


def floor_sheet(
    plan: Plan, system: UnitSystem = "metric", paper: str = "a4", *, repeat: Repeat | None = None,
    printed: date | None = None,
) -> bytes:  # fmt: skip
    """The floor sheet of a plan as a PDF in the units of ``system``, the others small.

    One side where all of it fits; else the front is to work by and the back says why. Nothing is cut.
    ``repeat``: what the records know of the setup; ``printed``: the day, a line to write it on where it is not given.

    Needs no network and no fonts but its own.  Raises: ``InputError`` for a paper it does not know.
    """
    size = paper_size(paper)
    inner = size["width"] - 2 * MARGIN_X
    wide = (math.floor(SECTION_SHARE * (inner - BETWEEN)), math.floor((1 - SECTION_SHARE) * (inner - BETWEEN)))
    content = floor_content(plan, system, repeat or NEVER_RUN, printed) | {
        "paper": {**size, "x": MARGIN_X, "y": MARGIN_Y}
    }
    letters = plan.setup.model_dump_json()
    content |= _laid_out(content, letters, wide)
    tall = content["pictures"]["height"]
    pictures = {
        "section": draw_section(plan, system, width=wide[0], height=tall),
        "window": draw_window(plan, system, width=wide[1], height=tall),
    }
    return pdf_of(TEMPLATE, content, letters, pictures)


def _laid_out(content: Content, letters: str, wide: tuple[int, int]) -> Content:
    """One side where everything fits on it, else two; and how high the pictures can be then."""
    least, most = PICTURES_MM
    found: Content = {"hand-lines": 0}
    for sides in (1, 2):
        found |= {"sides": sides, "pictures": {"drawn": False, "height": least, "section": wide[0], "window": wide[1]}}
        ends, foot = places_of(TEMPLATE, content | found, letters, ("text-ends", "foot-begins"))
        if ends["page"] == foot["page"] == 1:
            left = foot["y"] - ends["y"]
            tall = math.floor(min(least + left, most))
            found["pictures"]["height"] = tall
            found["hand-lines"] = max(math.floor((left - (tall - least) - HAND_HEAD_MM) / HAND_LINE_MM), 0)
            break
    found["pictures"]["drawn"] = True
    return found

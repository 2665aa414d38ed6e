"""Pictures of a plan, as SVG text in millimetres of paper.

Each ``draw_...`` takes a plan and gives one picture; ``write_drawings`` writes them all.  Ink on paper: what
a colour says, a hatch, a dash or a word says too.
"""

from __future__ import annotations

import re
from pathlib import Path

from heldtrue.drawing.chuck_face import draw_chuck_face
from heldtrue.drawing.contact_print import draw_contact_print
from heldtrue.drawing.polar import draw_polar
from heldtrue.drawing.section import draw_section
from heldtrue.drawing.window import draw_window
from heldtrue.files import write_all
from heldtrue.planning.result import Plan
from heldtrue.quantities import UnitSystem

__all__ = [
    "all_drawings",
    "draw_chuck_face",
    "draw_contact_print",
    "draw_polar",
    "draw_section",
    "draw_window",
    "write_drawings",
]


def all_drawings(plan: Plan, system: UnitSystem = "metric") -> dict[str, str]:
    """Every picture of a plan by its file name."""
    found = {
        "section.svg": draw_section(plan, system),
        "chuck-face.svg": draw_chuck_face(plan, system),
    }
    for shape in plan.shapes:
        name = stem = f"polar-{_file_word(shape.surface)}"
        count = 1
        while f"{name}.svg" in found:
            count += 1
            name = f"{stem}-{count}"
        found[f"{name}.svg"] = draw_polar(plan, shape.surface, system)
    found["contact-print.svg"] = draw_contact_print(plan, system)
    found["window.svg"] = draw_window(plan, system)
    return found


def write_drawings(plan: Plan, folder: str | Path, system: UnitSystem = "metric") -> list[Path]:
    """Write every picture into ``folder`` (made if missing) and return their paths.

    None is put in place before all are complete.  Raises: ``InputError`` where the folder may not be written.
    """
    place = Path(folder)
    place.mkdir(parents=True, exist_ok=True)
    files = {place / name: svg for name, svg in all_drawings(plan, system).items()}
    write_all(files)
    return list(files)


def _file_word(name: str) -> str:
    """A surface's name as part of a file name on every system."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or "surface"

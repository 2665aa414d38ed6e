"""Every picture of a plan or a contact, by the name of its file."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from heldtrue.drawing.chuck_face import draw_chuck_face
from heldtrue.drawing.contact_print import draw_contact_print, draw_contact_prints
from heldtrue.drawing.polar import draw_polar
from heldtrue.drawing.section import draw_section
from heldtrue.drawing.window import draw_window
from heldtrue.drawing.wording import dimension
from heldtrue.files import write_all
from heldtrue.planning.fitting import TAPER_STEP_MM, BoreChoice, TaperAdvice
from heldtrue.planning.jaw_contact import JawContact
from heldtrue.planning.result import Plan
from heldtrue.quantities import UnitSystem


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


def contact_drawings(contact: JawContact, system: UnitSystem = "metric") -> dict[str, str]:
    """The contact prints of the fits as set up, of the tapers and of the bores, by their file names."""
    taper, bores = contact.taper, distinct_bores(contact)
    return {
        "contact-fits.svg": draw_contact_prints(contact.prints, system, title="Contact print of one jaw, as set up"),
        "contact-tapers.svg": draw_contact_prints(
            [one for _, one in taper.prints],
            system,
            title="Contact print of one jaw, by taper",
            heads=[taper_words(taper, cut, system) for cut, _ in taper.prints],
        ),
        "contact-bores.svg": draw_contact_prints(
            [one for choice in bores for one in choice.prints],
            system,
            title="Contact print of one jaw, by bore",
            heads=[f"{choice.name}, {one.fit}" for choice in bores for one in choice.prints],
            columns=len(contact.prints),
        ),
    }


def distinct_bores(contact: JawContact) -> list[BoreChoice]:
    """The bores to choose from, those of the same diameter as one."""
    found: list[BoreChoice] = []
    for choice in (contact.bores.nominal, contact.bores.truest, contact.bores.most_even):
        same = next((i for i, one in enumerate(found) if abs(one.bore_diameter - choice.bore_diameter) < 1e-6), None)
        if same is None:
            found.append(choice)
        else:
            found[same] = replace(found[same], name=f"{found[same].name} = {choice.name}")
    return found


def taper_words(advice: TaperAdvice, taper: float, system: UnitSystem) -> str:
    """What one of the tapers tried is."""
    if taper == 0.0:
        return "no taper"
    if taper == advice.per_side:
        return "advised taper" if advice.needed else "most even"
    return f"{dimension(TAPER_STEP_MM, system)} {'less' if taper < advice.per_side else 'more'}"


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

"""What a part's drawing says, in words and pictures of the page."""

from __future__ import annotations

from html import escape

from heldtrue.drawing.wording import deviation, dimension, length_unit
from heldtrue.part_file.turned_part import FORMS, TurnedPart, TurnedSurface
from heldtrue.quantities import UnitSystem
from heldtrue.sentences import in_units, joined
from heldtrue.web.part import words
from heldtrue.web.render import bullets, facts, heading, paragraph, picture_source


def image(svg: str, said: str) -> str:
    """A picture without buttons of its own."""
    return f'<figure class="picture"><img alt="{escape(said)}" src="{picture_source(svg)}"></figure>'


def row(number: int, surface: TurnedSurface, system: UnitSystem) -> str:
    """A surface in the list: its number in the section, its name, where it is and what is asked of it."""
    said = f'<b>{escape(surface.name)}</b><div class="hint">{escape(place(surface, system))}</div>'
    return f'<div class="part-surface"><span class="n">{number}</span><div>{said}</div></div>'


def place(surface: TurnedSurface, system: UnitSystem) -> str:
    """Where a surface is, and what the drawing asks of it."""
    asked = surface.tolerances
    found = [f"Ø {span(*surface.diameters, system)}, z {span(*surface.z, system)}"]
    if asked.size is not None:
        found.append(f"{words.TOLERANCES['size']} {' / '.join(deviation(one, system) for one in asked.size)}")
    for key in FORMS:
        if (value := getattr(asked, key)) is not None:
            found.append(f"{words.TOLERANCES[key]} {length(value, system)}")
    return "; ".join(found)


def length(value: float, system: UnitSystem) -> str:
    """A length with its unit, without needless places."""
    return f"{dimension(value, system)} {length_unit(system)}"


def span(low: float, high: float, system: UnitSystem) -> str:
    """From, to; once where both are the same."""
    both = dict.fromkeys((dimension(low, system), dimension(high, system)))
    return f"{' – '.join(both)} {length_unit(system)}"


def facts_of(part: TurnedPart, system: UnitSystem) -> str:
    """Size, place and volume, what is not turned, and the notes of the reader."""
    low, high = part.outline.z
    widest = 2 * max(r for r, _ in part.outline.polygon(0.1))
    rows = [
        (words.SIZE, words.SIZE_WORDS.format(length=length(high - low, system), diameter=length(widest, system))),
        (words.VOLUME, f"{part.outline.volume / 1000:.4g} cm³"),
    ]
    if part.solid_volume is not None:
        rows.append((words.SOLID_VOLUME, f"{part.solid_volume / 1000:.4g} cm³"))
    if part.digest:  # it lies somewhere in a file
        at = words.AXIS_WORDS.format(origin=_triple(part.axis_origin), direction=_triple(part.axis_direction))
        rows.append((words.AXIS, at))
    said = heading(words.SAID if part.digest else words.SHAPE_SAYS) + facts(rows)
    if part.not_turned:
        lines = [in_units(joined(", ", filter(None, (one.kind, one.size, one.at))), system) for one in part.not_turned]
        said += heading(words.NOT_TURNED) + bullets(lines) + paragraph(words.NOT_TURNED_WORDS)
    return said + (heading(words.NOTES) + bullets(in_units(one, system) for one in part.notes) if part.notes else "")


def _triple(values: tuple[float, float, float]) -> str:
    return "(" + ", ".join(f"{value + 0.0:.4g}" for value in values) + ")"

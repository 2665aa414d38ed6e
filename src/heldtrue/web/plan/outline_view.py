"""The half section drawn while it is typed, also while nothing can be planned yet."""

from __future__ import annotations

from typing import Any

from heldtrue.drawing.outline import MOST_WORDS, Typed, draw_outline, outline_faults
from heldtrue.drawing.svg import Point
from heldtrue.errors import InputError
from heldtrue.quantities import UnitSystem, parse_quantity
from heldtrue.web import texts
from heldtrue.web.desk import Live
from heldtrue.web.drafts import Draft
from heldtrue.web.fields import bare, get
from heldtrue.web.frame import html
from heldtrue.web.render import bullets, paragraph, picture

PROFILE, BLANK = "part.profile", "part.blank"
FACE_ENDS = ("diameter.0", "diameter.1")


class OutlineView:
    """The picture in the part section; it follows the draft."""

    def __init__(self, live: Live) -> None:
        self.live = live
        self._picked: tuple[bool, int] | None = None
        self._drawn: Typed | None = None
        self._place = html("").classes("outline-now").mark("outline")
        self.refresh()

    def pick(self, path: str) -> None:
        """The field at a path is being typed in: its corner stands out."""
        outline, _, rest = path.rpartition(".")[0].rpartition(".")
        if outline in (PROFILE, BLANK) and rest.isdecimal():
            self._picked = (outline == BLANK, int(rest))
            self.refresh()

    def refresh(self) -> None:
        """Draw what the draft has now, if that is anything new."""
        typed = typed_so_far(self.live.draft, self._picked)
        if typed == self._drawn:
            return
        self._drawn = typed
        self._place.content = outline_html(typed, self.live.draft.system)


def outline_html(typed: Typed, system: UnitSystem) -> str:
    """The picture, and in words what is wrong with it; nothing without a corner."""
    if not typed.corners and not typed.blank:
        return ""
    faults = [*outline_faults(typed.corners), *outline_faults(typed.blank, "blank: ")]
    more = [texts.OUTLINE_MORE.format(count=len(faults) - MOST_WORDS)] if len(faults) > MOST_WORDS else []
    words = bullets((*faults[:MOST_WORDS], *more)) if faults else paragraph(texts.OUTLINE_GOOD)
    return picture(draw_outline(typed, system), texts.OUTLINE) + words


def typed_so_far(draft: Draft, picked: tuple[bool, int] | None = None) -> Typed:
    """What of the part can be drawn: typed text that could not be taken in counts, if it can be read."""
    grip = None
    side = _text(draft, "grip.side")
    values = [length_of(draft, path) for path in ("grip.diameter", "grip.z.0", "grip.z.1")]
    if side in ("outside", "inside") and None not in values:
        diameter, low, high = (value for value in values if value is not None)
        grip = (side, diameter / 2, low, high)
    count = len(bare(get(draft.table, "surface")) or ())
    surfaces = [one for number in range(count) if (one := _surface(draft, number)) is not None]
    return Typed(_corners(draft, PROFILE), _corners(draft, BLANK), grip, tuple(surfaces), picked)


def _corners(draft: Draft, outline: str) -> tuple[Point | None, ...]:
    found: list[Point | None] = []
    for number in range(len(bare(get(draft.table, outline)) or ())):
        diameter, z = (length_of(draft, f"{outline}.{number}.{axis}") for axis in (0, 1))
        found.append(None if diameter is None or z is None else (diameter / 2, z))
    return tuple(found)


def _surface(draft: Draft, number: int) -> tuple[str, Point, Point] | None:
    at = f"surface.{number}"
    name = str(_text(draft, f"{at}.name") or number + 1)
    if _text(draft, f"{at}.side") == "face":
        inner, outer = (length_of(draft, f"{at}.{end}") for end in FACE_ENDS)
        z = length_of(draft, f"{at}.z")
        if inner is None or outer is None or z is None:
            return None
        return name, (inner / 2, z), (outer / 2, z)
    diameter, low, high = (length_of(draft, f"{at}.{end}") for end in ("diameter", "z.0", "z.1"))
    if diameter is None or low is None or high is None:
        return None
    return name, (diameter / 2, low), (diameter / 2, high)


def _text(draft: Draft, path: str) -> Any:
    return draft.pending.get(path, bare(get(draft.table, path)))


def length_of(draft: Draft, path: str) -> float | None:
    """A length as typed [mm]; None where there is none, or none that can be read."""
    value = _text(draft, path)
    if value is None or isinstance(value, bool) or not isinstance(value, str | int | float) or not str(value).strip():
        return None
    try:
        return float(parse_quantity(str(value), "length", draft.system))
    except InputError:
        return None

"""The next taper cut from what a feeler or bluing shows.

Taper is per side over the gripped length, positive where the tip stands closer to the part.  Units: mm, N, MPa/mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from heldtrue.errors import InputError

Where: TypeAlias = Literal["base", "tip", "all along"]

LEAST_CUT_MM = 0.01
"""A change of taper per side that a cut in soft jaws can just repeat: common practice, no source."""
FEELER_MM = 0.01
"""Step between feeler leaves; a gap lies between the leaf that goes and the next: common practice, no source."""
PRINT_MM = 1.0
"""How sharply the end of a print can be read: common practice, no source."""


@dataclass(frozen=True)
class Bearing:
    """What the feeler or the bluing showed while clamped.

    ``touch``: where part and jaw touch; ``gap``: at the other end, by feeler [mm], None where it was not taken;
    ``touch_length``: how far the print runs from the touching end [mm], None where it was not taken.
    """

    touch: Where
    gap: float | None = None
    touch_length: float | None = None


@dataclass(frozen=True)
class NextTaper:
    """The next taper cut.

    ``change`` per side, with the interval ``low`` to ``high``, and ``change_on_diameter``; ``per_side`` and
    ``on_diameter``: the taper to cut in all [mm]; ``stop``: no further cut is worth making; ``from_gap``: read by
    feeler, else from the stiffness; ``expected``: the print to expect, in words.
    """

    change: float
    low: float
    high: float
    change_on_diameter: float
    per_side: float
    on_diameter: float
    stop: bool
    from_gap: bool
    expected: str
    words: str


def next_taper(
    seen: Bearing, grip_length: float, *, taper: float = 0.0, force: float | None = None, width: float | None = None,
    stiffness: float | None = None, least: float = LEAST_CUT_MM,
) -> NextTaper:  # fmt: skip
    """The taper to cut next over ``grip_length`` [mm], the jaws now having ``taper`` per side [mm].

    ``force`` of one jaw [N], ``width`` of its face [mm] and ``stiffness`` of jaw and part together per area [MPa/mm]
    are needed where a print was taken and no gap; ``least``: change that a cut can do [mm].
    Notes: jaw and part are straight, and lean by m.  A gap g beyond a print of length a gives m = g / (L - a).
    Without a gap, a bed of springs under a triangle of pressure carries F = stiffness width m a^2 / 2.  The change is
    m L.
    Source: geometry and a Winkler bed, derived here.
    Raises: ``InputError`` for figures that cannot be, or too few of them.
    """
    _check(seen, grip_length, width, stiffness, force, least)
    length = grip_length
    if seen.touch == "all along":
        lean = 0.0
        unseen = _lean(force, width, stiffness, length) if force and width and stiffness else 0.0
        # A print all along looks alike until the far end lets go: any lean up to that one is hidden in it.
        return _result(0.0, -unseen * length, unseen * length, taper, least, False, seen, length, lean)
    print_length = seen.touch_length or 0.0
    if seen.gap is not None:
        open_length = length - print_length
        least_open = max(open_length - (PRINT_MM if seen.touch_length else 0.0), 0.2 * length)
        size = seen.gap * length / open_length
        low, high = max(seen.gap - FEELER_MM, 0.0) * length / open_length, (seen.gap + FEELER_MM) * length / least_open
    else:
        assert force is not None  # all three checked above
        assert width is not None
        assert stiffness is not None
        size = _lean(force, width, stiffness, print_length) * length
        low = _lean(force, width, stiffness, print_length + PRINT_MM) * length
        high = _lean(force, width, stiffness, max(print_length - PRINT_MM, 0.5 * print_length)) * length
    sign = 1.0 if seen.touch == "base" else -1.0
    ends = sorted((sign * low, sign * high))
    return _result(sign * size, ends[0], ends[1], taper, least, seen.gap is not None, seen, length, size / length)


def _lean(force: float, width: float, stiffness: float, print_length: float) -> float:
    """Lean of jaw against part at which the print is so long."""
    return 2.0 * force / (width * stiffness * print_length**2)


def _result(
    change: float, low: float, high: float, taper: float, least: float, from_gap: bool, seen: Bearing, length: float,
    lean: float,
) -> NextTaper:  # fmt: skip
    stop = abs(change) < least
    total = taper if stop else taper + change
    if stop and seen.touch == "all along":
        words = "stop: the jaw bears all along"
    elif stop:
        words = f"stop: a change of {abs(change):.3f} mm per side is less than the {least:g} mm that a cut can do"
    else:
        end, off = ("tip", "base") if change > 0 else ("base", "tip")
        size, left = abs(change), abs(total)
        words = (
            f"take {size:.3f} mm per side ({2 * size:.3f} mm on diameter) off at the {off}, running out to nothing at "
            f"the {end} over {length:g} mm: the {end} comes closer to the part; the taper is then {left:.3f} mm per "
            f"side ({2 * left:.3f} mm on diameter)"
        )
        if left >= 0.0005:
            words += f", the {'tip' if total > 0 else 'base'} closer"
    left = max(high - change, change - low)
    expected = (
        f"bears all along, or opens {left:.3f} mm at one end at the most"
        if not stop or seen.touch == "all along"
        else f"as now: touches at the {seen.touch}, open {lean * length:.3f} mm at most at the other end"
    )
    return NextTaper(change, low, high, 2 * change, total, 2 * total, stop, from_gap, expected, words)


def _check(
    seen: Bearing, length: float, width: float | None, stiffness: float | None, force: float | None, least: float
) -> None:
    problems = []
    if seen.touch not in ("base", "tip", "all along"):
        problems.append(f'touch: found "{seen.touch}"; expected base, tip or all along')
    if not length > 0.0:
        problems.append(f"grip length: found {length:g} mm; expected more than 0")
    if not least > 0.0:
        problems.append(f"least cut: found {least:g} mm; expected more than 0")
    if seen.gap is not None and not 0.0 <= seen.gap <= 2.0:
        problems.append(f"gap: found {seen.gap:g} mm; expected 0 to 2 mm, as a feeler reads it")
    if seen.touch_length is not None and not 0.0 < seen.touch_length < length:
        problems.append(
            f"touch length: found {seen.touch_length:g} mm; expected above 0 and less than the grip of {length:g} mm"
        )
    if seen.touch != "all along" and seen.gap is None:
        missing = [
            name for name, value in (("touch length", seen.touch_length), ("force", force), ("width", width),
                                     ("stiffness", stiffness)) if not value or value <= 0.0
        ]  # fmt: skip
        if missing:
            problems.append(f"no gap was taken: then {', '.join(missing)} must be given; or take the gap with a feeler")
    if seen.touch == "all along" and (seen.gap or 0.0) > FEELER_MM:
        problems.append(f"gap: found {seen.gap:g} mm though the jaw touches all along; say which end touches")
    if problems:
        raise InputError(*problems)

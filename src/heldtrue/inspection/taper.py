"""The next taper cut from what a feeler or bluing shows.

Taper is per side over the gripped length, positive where the tip stands closer to the part.  Units: mm, N, MPa/mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import Estimate
from heldtrue.sentences import sentence

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
    ``on_diameter``: the taper to cut in all [mm]; ``stop``: no further cut is worth making; ``from_gap``: a feeler was
    tried; ``expected``: the print to expect, in words.
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
    seen: Bearing | None, grip_length: float, change: Estimate, *, taper: float = 0.0, least: float = LEAST_CUT_MM
) -> NextTaper:
    """The taper to cut next over ``grip_length`` [mm], the jaws now having ``taper`` per side [mm].

    ``change``: what is known of the change that lets the jaw bear evenly [mm]; ``least``: change that a cut can do
    [mm]; ``seen``: None where nobody looked.
    Raises: ``InputError`` for figures that cannot be.
    """
    check_seen(seen, grip_length, least)
    size, stop = abs(change.value), abs(change.value) < least
    total = taper if stop else taper + change.value
    if stop:
        bears = "the jaw bears all along; " if seen is not None and seen.touch == "all along" else ""
        words = sentence(
            "stop: {}a change of {:.3f mm} per side is less than the {:g mm} that a cut can do", bears, size, least
        )
    else:
        end, off = ("tip", "base") if change.value > 0 else ("base", "tip")
        left = abs(total)
        words = sentence(
            "take {:.3f mm} per side ({:.3f mm} on diameter) off at the {}, running out to nothing at "
            "the {} over {:g mm}: the {} comes closer to the part; the taper is then {:.3f mm} per side "
            "({:.3f mm} on diameter)",
            size,
            2 * size,
            off,
            end,
            grip_length,
            end,
            left,
            2 * left,
        )
        if left >= 0.0005:
            words += f", the {'tip' if total > 0 else 'base'} closer"
    if seen is None:
        words = sentence("by the plan, before anybody looked at the jaws: {}", words)
    cut = 0.0 if stop else change.value
    open_by = max(change.high - cut, cut - change.low)
    return NextTaper(
        change.value,
        change.low,
        change.high,
        2 * change.value,
        total,
        2 * total,
        stop,
        seen is not None and seen.gap is not None,
        sentence("bears all along, or leans by {:.3f mm} over the grip at the most", open_by),
        words,
    )


def check_seen(seen: Bearing | None, length: float, least: float = LEAST_CUT_MM) -> None:
    """Refuse what a feeler or a print over a grip of ``length`` [mm] cannot be. Raises: ``InputError``."""
    problems = []
    if not length > 0.0:
        problems.append(f"grip length: found {length:g} mm; expected more than 0")
    if not least > 0.0:
        problems.append(f"least cut: found {least:g} mm; expected more than 0")
    if seen is not None:
        problems += _wrong(seen, length)
    if problems:
        raise InputError(*problems)


def _wrong(seen: Bearing, length: float) -> list[str]:
    problems = []
    if seen.touch not in ("base", "tip", "all along"):
        problems.append(f'touch: found "{seen.touch}"; expected base, tip or all along')
    if seen.gap is not None and not 0.0 <= seen.gap <= 2.0:
        problems.append(f"gap: found {seen.gap:g} mm; expected 0 to 2 mm, as a feeler reads it")
    if seen.touch_length is not None and not 0.0 < seen.touch_length < length:
        problems.append(
            f"touch length: found {seen.touch_length:g} mm; expected above 0 and less than the grip of {length:g} mm"
        )
    if seen.touch != "all along" and seen.gap is None and not seen.touch_length:
        problems.append("give the gap by feeler, or how far the print runs")
    if seen.touch == "all along" and (seen.gap or 0.0) > FEELER_MM:
        problems.append(f"gap: found {seen.gap:g} mm though the jaw touches all along; say which end touches")
    return problems

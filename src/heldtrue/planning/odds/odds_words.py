"""Odds in words: classes that can be defended, never more digits than the error allows."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, log10

from heldtrue.planning.odds.measurements import Measurement, Pair, Window
from heldtrue.planning.odds.shares import Decides
from heldtrue.planning.phrases import ceiling_text, floor_text
from heldtrue.planning.result import Odds, Plan

ODDS_NOTE = "Inputs are drawn from their ranges, without a safety factor. Odds decide nothing: the worst case does."
RARE = "under 1 in 10,000"
RAREST = 1e-4
"""Below this the spreads themselves are a guess: no model of them says how rare."""
SAME_MPA = 0.005
"""A window that moves by less is the same on a gauge."""
SURE = 0.25
"""A class of one figure stands where the error is under this share of the probability; else a range of two."""


def is_seen(odds: Odds | None) -> bool:
    """Is it likelier than the rarest class, for one part?"""
    return odds is not None and odds.part + odds.error > RAREST


def odds_words(plan: Plan) -> str:
    """The odds of a plan with what they are worth; empty where none are known."""
    said = likeliest_words(plan)
    return f"{said}. {ODDS_NOTE}" if said else ""


def likeliest_words(plan: Plan) -> str:
    """The check that most likely goes wrong, for one part and for the batch; ``ODDS_NOTE`` belongs beside it."""
    asked = [(check, check.odds) for check in plan.checks if check.odds is not None]
    if not asked:
        return ""
    check, odds = max(asked, key=lambda pair: (pair[1].batch or 0.0, pair[1].part))
    parts = plan.setup.part.quantity
    if not is_seen(odds) and class_words(odds.batch or 0.0, odds.error) == RARE:
        return f"Odds that a check goes wrong: {RARE} each, for one part" + (f" and for all {parts}" if parts else "")
    of_all = f"; for any of {parts} parts {batch_words(odds)}" if parts else ""
    return f"Most likely to go wrong: '{check.name}', for one part {part_words(odds)}{of_all}"


def part_words(odds: Odds) -> str:
    """How likely it goes wrong for one part."""
    return class_words(odds.part, odds.error)


def batch_words(odds: Odds) -> str:
    """How likely it goes wrong for any part of the batch; empty where nobody stated how many there are."""
    if odds.batch is None:
        return ""
    return class_words(odds.batch, odds.error / odds.part * odds.batch if odds.part else odds.error)


def class_words(probability: float, error: float) -> str:
    """The class of a probability with half its 95 % interval.

    >>> class_words(0.0248, 0.003), class_words(2e-7, 1e-6), class_words(0.004, 0.003), class_words(0.76, 0.01)
    ('about 1 in 40', 'under 1 in 10,000', '1 in 1,000 to 1 in 100', 'about 3 in 4')
    """
    if probability + error <= RAREST:
        return RARE
    least, most = max(probability - error, 0.0), min(probability + error, 1.0)
    if least > 1 - RAREST:
        return "nearly certain"
    if probability > 0.3:
        return _often(probability)
    if error <= SURE * probability:
        return f"about 1 in {_round(1 / probability):,}"
    if least <= RAREST:
        return f"under 1 in {_round(1 / most, down=True):,}"
    return f"1 in {_round(1 / least, up=True):,} to 1 in {_round(1 / most, down=True):,}"


def _often(probability: float) -> str:
    shares = ((0.4, "about 1 in 3"), (0.6, "about 1 in 2"), (0.7, "about 2 in 3"), (0.85, "about 3 in 4"),
              (0.97, "about 9 in 10"))  # fmt: skip
    return next((words for most, words in shares if probability <= most), "nearly certain")


def _round(number: float, *, up: bool = False, down: bool = False) -> int:
    """To one figure, or the next one up or down."""
    unit = 10 ** floor(log10(number))
    shares = number / unit
    figure = -int(-shares // 1) if up else int(shares) if down else round(shares)
    return max(figure * unit, 1) if unit >= 1 else 1


def chance_words(chance: float) -> str:
    """The chance that a measurement turns a plan into a pass; no finer than the findings that were tried."""
    if chance <= 0.0:
        return "no"
    if chance >= 0.97:
        return "yes"
    return f"about {max(round(20 * chance), 1) * 5} %"


def room_words(window: Window, gauge: str) -> str:
    """A pressure window in the unit of its gauge, or what is needed and what is allowed where there is none."""
    low, high = floor_text(window.floor, gauge), ceiling_text(window.ceiling, gauge)
    several = f", {window.steps} pressures" if window.steps > 1 else ""
    return (f"{low} to {high}" if window.width >= 0 else f"none: {low} needed, {high} allowed") + several


def changes_something(one: Measurement) -> bool:
    """Does a measurement move the window as far as a gauge shows, or turn the plan?"""
    moved = max(abs(one.after.floor - one.now.floor), abs(one.after.ceiling - one.now.ceiling))
    return one.chance > 0 or one.after.steps != one.now.steps or moved >= SAME_MPA


def pair_words(pair: Pair, found: Sequence[Measurement]) -> str:
    """Two measurements that together do more than one."""
    asks = {one.name: one.ask for one in found}
    first, second = (asks[name] for name in pair.names)
    minutes = first.minutes + second.minutes
    return (f"Together: {first.what}, and {second.what}: {chance_words(pair.chance)} that it passes then, "
            f"{minutes:g} min.")  # fmt: skip


def share_rows(decided: Decides) -> list[tuple[str, str, float]]:
    """Each input's share of what spreads a check, largest first: its name, what it is called, and the share.

    What several do only together comes last, under no name.
    """
    rows = [(one.name, one.label, one.share) for one in decided.shares]
    return [*rows, ("", "several of them together", decided.together)] if decided.together > 0.02 else rows


def share_words(decided: Decides) -> list[str]:
    """The same in words."""
    return [f"{label}: {share:.0%}" for _, label, share in share_rows(decided)]

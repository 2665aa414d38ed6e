"""What spreads the check that decides: its margin as it is drawn, the limit, and each input's share.

The verdict stands above it and is the largest: the picture shows how near, and permits nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil, floor, log10

from heldtrue.drawing.svg import (
    ACCENT,
    GREY,
    HAIR,
    INK,
    LEAST,
    LETTER,
    MEDIUM,
    NARROW,
    PAPER,
    TITLE,
    WIDE,
    Picture,
    hatch,
    shorten,
    text_width,
    wrap,
)
from heldtrue.planning.known import ASSUMED, Known
from heldtrue.planning.odds.odds_words import odds_words, share_rows
from heldtrue.planning.odds.shares import Decides
from heldtrue.planning.phrases import lead_words
from heldtrue.planning.result import CUT, FORM, HOLD, LEFT, MARK, PLATE, STEADY, YIELD, Plan
from heldtrue.quantities import UnitSystem

MARGIN = 4.0
PALE = "#c9cdd2"
NAMES = 62.0
"""Room for the name of an input beside its bar. [mm]"""
SLACK = 0.87
"""Of its room that a line is given, for a reader's screen with a wider face."""
FIGURES = 11.0
"""Room for a share behind the longest bar. [mm]"""
TALL = 34.0
"""Height of the axes of the spread. [mm]"""
LINE, SIZE, SMALL = 3.7, LETTER, LEAST
LIMITS = {
    HOLD: ("lets go", "grip to spare, of the usual grip"),
    LEFT: ("under a third left", "grip left to spare, of a third"),
    PLATE: ("over the plate", "to spare, of the plate"),
    STEADY: ("below steady pressure", "to spare, of the lowest steady pressure"),
    FORM: ("over its share of the tolerance", "to spare, of its share of the tolerance"),
    CUT: ("over its share of the tolerance", "to spare, of its share of the tolerance"),
    MARK: ("marks", "to spare, of what marks"),
    YIELD: ("yields", "to spare, of the strength"),
}
"""By group of checks: what it is to be beyond the limit, and what the margin is a share of."""


def draw_odds(
    plan: Plan,
    decided: Decides,
    known: Mapping[str, Known],
    system: UnitSystem = "metric",
    *,
    width: float = 130.0,
) -> str:
    """How the leading check's margin is spread and what spreads it, as SVG ``width`` mm wide.

    ``known``: every input by name, for where it came from.
    """
    room = width - 2 * MARGIN
    verdict, lead = plan.verdict.upper(), wrap(lead_words(plan, system), SLACK * room, SIZE, lines=4)
    rows = [(wrap(_named(name, label, known), SLACK * NAMES, SIZE, lines=3), share, _fill(name, known))
            for name, label, share in share_rows(decided)]  # fmt: skip
    foot = wrap(odds_words(plan), SLACK * room, SMALL, lines=6)
    heights = [max(len(lines) * LINE, 4.4) + 1.4 for lines, _, _ in rows]
    head = 9.5 + len(lead) * LINE
    chart = head + 6.0
    bars = chart + TALL + 27.0
    height = bars + sum(heights) + 9.0 + len(foot) * 3.5 + 1.0
    picture = Picture(width, height, f"What spreads '{decided.check}'", _describe(plan, decided))
    picture.text((MARGIN, 7.0), verdict, size=TITLE, bold=True)
    for number, line in enumerate(lead):
        picture.text((MARGIN, 11.4 + number * LINE), line, size=SIZE)
    _spread(picture, decided, plan.check(decided.check).group, (MARGIN, chart + 5.0, room))
    picture.text((MARGIN, bars - 3.2), "Share of that spread, by input", bold=True, size=SIZE)
    _key(picture, width - MARGIN, bars - 3.2)
    level = bars
    for (lines, share, fill), tall in zip(rows, heights, strict=True):
        _bar(picture, lines, share, (level, tall, width), fill)
        level += tall
    picture.line((MARGIN, level + 2.5), (width - MARGIN, level + 2.5), width=HAIR)
    for number, line in enumerate(foot):
        picture.text((MARGIN, level + 6.6 + number * 3.5), line, size=SMALL, colour=GREY)
    return picture.svg()


def _named(name: str, label: str, known: Mapping[str, Known]) -> str:
    return f"{label} ({known[name].source})" if name in known else label


def _fill(name: str, known: Mapping[str, Known]) -> str:
    """How the bar of an input is filled: of what nobody stated with paper, under hatching."""
    return PALE if name not in known else PAPER if known[name].source == ASSUMED else ACCENT


def _describe(plan: Plan, decided: Decides) -> str:
    shares = "; ".join(f"{label} {share:.0%}" for _, label, share in share_rows(decided))
    below = sum(c for c, edge in zip(decided.counts, decided.edges[1:], strict=True) if edge <= 1e-12)
    return (f"{plan.verdict.upper()}. '{decided.check}': {below / max(decided.counts.sum(), 1.0):.0%} of the draws are "
            f"beyond the limit. Shares: {shares}")  # fmt: skip


def _spread(picture: Picture, decided: Decides, group: str, place: tuple[float, float, float]) -> None:
    """The draws by margin; those beyond the limit are black.  ``place``: left, top and width. [mm]"""
    left, top, wide = place
    beyond, axis = LIMITS[group]
    low, high = float(decided.edges[0]), float(decided.edges[-1])
    edge = 0.04 * (high - low)
    low, high = low - edge, high + edge
    base, most = top + TALL, max(float(decided.counts.max()), 1.0)

    def x(margin: float) -> float:
        return left + (margin - low) / (high - low) * wide

    title = shorten(f"How '{decided.check}' comes out", SLACK * wide, SIZE)
    picture.text((left, top - 3.4), title, bold=True, size=SIZE)
    for count, begin, end in zip(decided.counts, decided.edges[:-1], decided.edges[1:], strict=True):
        if count <= 0.0:
            continue
        # A bin that the limit parts is drawn in two.
        parts = [(begin, min(end, 0.0)), (max(begin, 0.0), end)]
        for a, b in ((float(a), float(b)) for a, b in parts if b - a > 1e-12):
            tall = count / most * (TALL - 7.0)
            box = [(x(a), base), (x(b), base), (x(b), base - tall), (x(a), base - tall)]
            picture.polyline(box, width=HAIR, fill=INK if a < 0.0 else PALE, colour=GREY, closed=True)
    picture.line((left, base), (left + wide, base), width=MEDIUM)
    picture.line((x(0.0), base), (x(0.0), top), width=WIDE)
    _sides(picture, (x(0.0), top + 2.6), beyond, left)
    for tick in _ticks(low + edge / 2, high - edge / 2):
        picture.line((x(tick), base), (x(tick), base + 1.3), width=NARROW)
        picture.text((x(tick), base + 4.4), f"{100 * tick:.4g} %", size=SMALL, anchor="middle", bold=tick == 0.0)
    picture.text((left + wide / 2, base + 8.6), axis, size=SIZE, anchor="middle")
    picture.text((left + wide / 2, base + 12.4), "0 % is where it goes wrong, without a safety factor", size=SMALL,
                 anchor="middle", colour=GREY)  # fmt: skip


def _sides(picture: Picture, at: tuple[float, float], beyond: str, left: float) -> None:
    """What lies beyond the limit, on that side of the line if it fits there."""
    x, y = at
    words = f"← {beyond}"
    if x - 1.0 - text_width(words, SIZE, bold=True) / SLACK >= left:
        picture.text((x - 1.0, y), words, size=SIZE, anchor="end", bold=True)
    else:
        picture.text((x + 1.0, y), words, size=SIZE, bold=True)


def _key(picture: Picture, right: float, y: float) -> None:
    """Which bars are of inputs that nobody stated."""
    left = right - 33.0
    picture.text((left + 7.5, y), "hatched: assumed", size=SMALL, colour=GREY)
    box = [(left, y), (left + 6.0, y), (left + 6.0, y - 2.2), (left, y - 2.2)]
    picture.segments(hatch([box], spacing=1.1), width=0.16)
    picture.polyline(box, width=HAIR, closed=True)


def _bar(picture: Picture, lines: list[str], share: float, place: tuple[float, float, float], fill: str) -> None:
    """One input: its name on a line or more, its bar and its figure.  ``place``: top, height and paper width. [mm]"""
    top, tall, width = place
    middle = top + (tall - 1.4) / 2
    first = middle - (len(lines) - 1) * LINE / 2 + 0.95
    for number, line in enumerate(lines):
        picture.text((MARGIN, first + number * LINE), line, size=SIZE)
    left = MARGIN + NAMES + 2.0
    wide = share * (width - MARGIN - FIGURES - left)
    box = [(left, middle - 1.9), (left + wide, middle - 1.9), (left + wide, middle + 1.9), (left, middle + 1.9)]
    picture.polyline(box, width=NARROW, fill=fill, closed=True)
    if fill == PAPER:
        picture.segments(hatch([box], spacing=1.1), width=0.16)
    picture.line((left, middle - 2.6), (left, middle + 2.6), width=NARROW, colour=INK)
    picture.text((left + wide + 1.4, middle + 0.95), f"{share:.0%}", size=SIZE, bold=True)


def _ticks(low: float, high: float) -> list[float]:
    """Round shares from ``low`` to ``high``, about seven of them, 0 among them."""
    raw = (high - low) / 7
    power = 10.0 ** floor(log10(raw))
    step = next(s for s in (1, 2, 5, 10) if s * power >= raw * 0.999) * power
    return [round(k * step, 10) + 0.0 for k in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1)]

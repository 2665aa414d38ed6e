"""Small drawings of the answer: a pressure step on a ruler, a form against its tolerance. Plain SVG in page colours."""

from __future__ import annotations

from html import escape
from math import floor, log10

from heldtrue.web.answer import Scale

WIDTH, LEFT, RIGHT = 400.0, 12.0, 388.0
LINE, NUMBERS, LABELS = 42.0, 66.0, 14.0
"""Heights of the ruler's line, of the numbers below it, and of the labels above it."""
NEAR = 56.0
"""Labels nearer than that share one."""


def ruler(scale: Scale, words: str) -> str:
    """Floor and ceiling, the pressure that is judged (filled) and the advised one where it is another (hollow)."""
    step = _step(scale.top)
    top = step * -(-scale.top // step)

    def at(value: float) -> float:
        return LEFT + (RIGHT - LEFT) * min(max(value / top, 0.0), 1.0)

    count = round(top / step)
    parts = [f'<path d="M{LEFT} {LINE}H{RIGHT}"/>']
    for number in range(count * 5 + 1):
        x = LEFT + (RIGHT - LEFT) * number / (count * 5)
        parts.append(f'<path d="M{x:.1f} {LINE}v{8 if number % 5 == 0 else 4}"/>')
    for number in range(count + 1):
        x, end = LEFT + (RIGHT - LEFT) * number / count, number in (0, count)
        anchor = ("start", "end")[number == count] if end else "middle"
        place = (0.0, WIDTH)[number == count] if end else x
        parts.append(f'<text x="{place:.1f}" y="{NUMBERS}" text-anchor="{anchor}">{number * step:g}</text>')
    low, high = scale.low, scale.high
    if low is not None and high is not None and low < high:
        parts.insert(0, f'<rect class="band" x="{at(low):.1f}" y="{LINE - 14}" '
                        f'width="{max(at(high) - at(low), 1.0):.1f}" height="14"/>')  # fmt: skip
    ends = [(one, said) for one, said in zip((low, high), scale.said, strict=True) if one is not None]
    parts += [f'<path d="M{at(one):.1f} {LINE}V{LABELS + 4}"/>' for one, _ in ends]
    for x, said in _labels([(at(one), said) for one, said in ends]):
        parts.append(f'<text x="{min(max(x, 22.0), WIDTH - 22.0):.1f}" y="{LABELS}" text-anchor="middle">{said}</text>')
    if scale.advised is not None and scale.advised != scale.judged:
        parts.append(_mark(at(scale.advised), "hollow"))
    if scale.judged is not None:
        parts.append(_mark(at(scale.judged), "full"))
    return (f'<svg class="ruler" viewBox="0 0 {WIDTH:g} 70" role="img" aria-label="{escape(words)}">'
            f"{''.join(parts)}</svg>")  # fmt: skip


def bar(share: float) -> str:
    """A form as a share of its tolerance, which is the mark."""
    whole = max(1.25, min(share, 2.0))
    return (f'<svg viewBox="0 0 {100 * whole:.1f} 12" preserveAspectRatio="none" aria-hidden="true">'
            f'<rect y="2" width="{100 * min(share, whole):.1f}" height="8"/>'
            f'<path d="M100 -1V13M0 0V12M0 10H100M0 2H100"/></svg>')  # fmt: skip


def _mark(x: float, kind: str) -> str:
    return f'<path class="{kind}" d="M{x:.1f} {LINE}l-8 -15h16z"/>'


def _labels(ends: list[tuple[float, str]]) -> list[tuple[float, str]]:
    """Labels that would run into each other share one."""
    if len(ends) == 2 and abs(ends[1][0] - ends[0][0]) < NEAR:
        (left, first), (right, second) = sorted(ends)
        return [((left + right) / 2, f"{first} – {second}")]
    return ends


def _step(top: float) -> float:
    """Between numbers: 1, 2 or 5 times a power of ten, for four to eight of them."""
    size = 10.0 ** floor(log10(top / 4.0))
    return max((one * size for one in (1.0, 2.0, 5.0) if one * size <= top / 4.0), default=size)

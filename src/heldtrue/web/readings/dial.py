"""The part from the front with its places, jaws and readings, as SVG: angles from jaw 1 at the top, anticlockwise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import pi

import numpy as np

from heldtrue.drawing.svg import on_circle
from heldtrue.drawing.wording import small_length
from heldtrue.inspection.indicator import IndicatorResult
from heldtrue.quantities import UnitSystem
from heldtrue.web import texts

INK, BLUE, SHEET, ON_INK = "var(--ink)", "var(--blue)", "var(--sheet)", "var(--on-ink)"
"""Colours of the page, so that the dial follows a dark one."""
SIZE = 600
MIDDLE = (SIZE / 2, SIZE / 2)
PART, SWING, VALUES, CROWDED, JAWS = 150.0, 34.0, 212.0, 24, (258.0, 290.0)
INSIDE_JAWS = (54.0, 92.0)
"""Radii in px: mean of the readings and how far the largest swings, the typed values, the jaws; from ``CROWDED`` places
on, the values stand in two rows."""


@dataclass(frozen=True)
class Dial:
    """What the dial shows: ``texts`` as typed by place, ``selected`` place, ``wrong`` places; ``deviations`` from the
    axis [mm]; ``result`` of the trace with its plane ``z``, None before there is one."""

    texts: Sequence[str]
    selected: int
    wrong: frozenset[int]
    jaws: int
    inside_grip: bool
    deviations: Sequence[float | None]
    result: IndicatorResult | None = None
    z: float = 0.0
    jaw_high: int | None = None
    system: UnitSystem = "metric"


def draw_dial(one: Dial) -> str:
    """The picture; it says in words what it shows."""
    count = len(one.texts)
    known = [v for v in one.deviations if v is not None]
    mean = float(np.mean(known)) if known else 0.0
    curve = np.zeros(0) if one.result is None else one.result.shape_at(np.linspace(0, 2 * pi, 181), one.z)
    largest = max([abs(v - mean) for v in known] + [float(np.abs(curve).max()) if curve.size else 0.0, 1e-7])
    per_mm = SWING / largest
    body = [_jaws(one), _rings(), _shape(curve, per_mm)]
    for place in range(count):
        body.append(_place(one, place, count, mean, per_mm))
    body.append(_arrow(one, per_mm))
    body.append(_corner(texts.DIAL_WAY, left=True, top=True))
    if known and largest > 1e-7:
        body.append(_corner(texts.DIAL_SCALE.format(size=small_length(largest, one.system)), left=True))
    if one.jaw_high is not None:
        body.append(_corner(texts.DIAL_JAW, left=False))
    said = ", ".join(f"{360 * p / count:g}° {t}" for p, t in enumerate(one.texts) if t) or texts.DIAL_EMPTY
    label = escape(f"{texts.DIAL_LABEL}: {said}", quote=True)
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIZE} {SIZE}" role="img" aria-label="{label}" '
            f'class="dial-svg">{"".join(body)}</svg>')  # fmt: skip


def _jaws(one: Dial) -> str:
    half = min(0.26, 0.75 * pi / one.jaws)
    inner, outer = INSIDE_JAWS if one.inside_grip else JAWS
    parts = []
    for k in range(one.jaws):
        middle = 2 * pi * k / one.jaws
        high = one.jaw_high == k + 1
        angles = [middle + half * i / 8 for i in range(-8, 9)]
        loop = [on_circle(MIDDLE, outer, a) for a in angles] + [on_circle(MIDDLE, inner, a) for a in reversed(angles)]
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in loop)
        fill, ink = (INK, ON_INK) if high else ("var(--faint)", INK)
        parts.append(f'<polygon points="{points}" fill="{fill}" stroke="{INK}" stroke-width="2"/>')
        x, y = on_circle(MIDDLE, (inner + outer) / 2, middle)
        parts.append(_text((x, y + 7), f"{k + 1}", 20, ink, bold=True))
    return "".join(parts)


def _rings() -> str:
    x, y = MIDDLE
    dash = 'stroke-dasharray="16 4 3 4"'
    return (f'<circle cx="{x}" cy="{y}" r="{PART}" fill="none" stroke="{INK}" stroke-width="1" {dash}/>'
            f'<path d="M{x - 16} {y}h32M{x} {y - 16}v32" stroke="{INK}" stroke-width="1"/>')  # fmt: skip


def _shape(curve: np.ndarray[tuple[int, ...], np.dtype[np.float64]], per_mm: float) -> str:
    """The fitted shape."""
    if not curve.size:
        return ""
    at = [on_circle(MIDDLE, PART + float(d) * per_mm, 2 * pi * i / (curve.size - 1)) for i, d in enumerate(curve)]
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in at)
    return f'<polygon points="{points}" fill="none" stroke="{BLUE}" stroke-width="2.5"/>'


def _place(one: Dial, place: int, count: int, mean: float, per_mm: float) -> str:
    """The reading, its dot, and the mark of the place that is typed into."""
    angle = 2 * pi * place / count
    value, typed, chosen = one.deviations[place], one.texts[place], place == one.selected
    radius = PART if value is None else PART + (value - mean) * per_mm
    x, y = on_circle(MIDDLE, radius, angle)
    fill = SHEET if value is None else INK
    dot = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="{fill}" stroke="{INK}" stroke-width="1.5"/>'
    if one.result is not None and any(abs(o.angle % (2 * pi) - angle) < 1e-6 and abs(o.z - one.z) < 1e-9
                                      for o in one.result.outliers):  # fmt: skip
        dot = (f'<path d="M{x - 6:.1f} {y - 6:.1f}l12 12m0 -12l-12 12" stroke="{INK}" stroke-width="2.5" '
               f'fill="none"/>')  # fmt: skip
    out = VALUES + (16 if count >= CROWDED and place % 2 else -12 if count >= CROWDED else 0)
    tx, ty = on_circle(MIDDLE, out, angle)
    size = 22 if count <= 12 else 18 if count <= 16 else 14
    words = typed.replace("-", "−") or ("–" if not chosen else "")
    box = ""
    if chosen:
        wide, high = max(len(words), 2) * size * 0.62 + 14, size + 12
        a, b = on_circle(MIDDLE, PART + SWING + 4, angle), on_circle(MIDDLE, 20, angle)
        box = (f'<path d="M{b[0]:.1f} {b[1]:.1f}L{a[0]:.1f} {a[1]:.1f}" stroke="{INK}" stroke-width="1.5" '
               f'stroke-dasharray="3 5"/><rect x="{tx - wide / 2:.1f}" y="{ty - high / 2:.1f}" width="{wide:.1f}" '
               f'height="{high}" fill="{INK}" stroke="{INK}" stroke-width="3"/>')  # fmt: skip
    mark = "! " if place in one.wrong else ""
    colour = ON_INK if chosen else INK
    return dot + box + _text((tx, ty + size * 0.36), f"{mark}{words}", size, colour, bold=bool(typed))


def _arrow(one: Dial, per_mm: float) -> str:
    """Which way the surface stands off; longer than on the scale of the readings, the size stands in words."""
    if one.result is None or one.result.trace.side == "face":
        return ""
    wave = one.result.eccentricity
    length = wave.amplitude.value * per_mm * 2.2
    if length < 8:
        return ""
    tip = on_circle(MIDDLE, length, wave.direction)
    (x, y), (cx, cy) = tip, MIDDLE
    ux, uy = (x - cx) / length, (y - cy) / length
    wings = [(x - 15 * ux + 6 * sign * uy, y - 15 * uy - 6 * sign * ux) for sign in (-1, 1)]
    head = " ".join(f"{px:.1f},{py:.1f}" for px, py in (tip, *wings))
    return (f'<path d="M{cx} {cy}L{x - 10 * ux:.1f} {y - 10 * uy:.1f}" stroke="{BLUE}" stroke-width="5"/>'
            f'<polygon points="{head}" fill="{BLUE}" stroke="{BLUE}" stroke-width="2"/>')  # fmt: skip


def _corner(words: str, *, left: bool, top: bool = False) -> str:
    """Lines in a corner, where no jaw stands."""
    lines = words.split("|")
    x, anchor = (8, "start") if left else (SIZE - 8, "end")
    first = 22 if top else SIZE - 10 - 20 * (len(lines) - 1)
    return "".join(
        f'<text x="{x}" y="{first + 20 * n}" font-size="16" text-anchor="{anchor}" fill="{INK}">{escape(line)}</text>'
        for n, line in enumerate(lines)
    )


def _text(at: tuple[float, float], words: str, size: float, colour: str = INK, *, bold: bool = False) -> str:
    weight = ' font-weight="700"' if bold else ""
    return (f'<text x="{at[0]:.1f}" y="{at[1]:.1f}" font-size="{size:g}" text-anchor="middle" fill="{colour}"{weight}>'
            f"{escape(words)}</text>")  # fmt: skip

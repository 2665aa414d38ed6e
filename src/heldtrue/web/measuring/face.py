"""The face of a gauge ring as its drawing shows it: from the tail, jaw 1 up, places clockwise; the place to be read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import cos, pi, sin

from heldtrue.inspection.ring_reading import Touch
from heldtrue.web.measuring import words

INK, SHEET, ON_INK, FAINT = "var(--ink)", "var(--sheet)", "var(--on-ink)", "var(--faint)"
SIZE, MIDDLE = 600, 300.0
CROWDED = 16


@dataclass(frozen=True)
class _Radii:
    """Of the ring, the typed values, what presses on it, the jaws. [px]"""

    inner: float
    outer: float
    values: float
    contact: tuple[float, float]
    jaw: tuple[float, float]


RADII = {
    "outside": _Radii(168.0, 206.0, 132.0, (206.0, 224.0), (224.0, 288.0)),
    "inside": _Radii(118.0, 150.0, 200.0, (100.0, 118.0), (36.0, 100.0)),
}
"""By the side of the grip."""


@dataclass(frozen=True)
class Face:
    """``values`` as typed at each place; ``place`` to be read now; ``wrong`` places; ``clamped``: do jaws press?"""

    side: str
    jaws: int
    contact: Touch
    values: Sequence[str]
    place: int
    round: str
    clamped: bool
    wrong: frozenset[int] = frozenset()


def draw_face(one: Face) -> str:
    """The picture; it says in words what it shows."""
    at, count = RADII[one.side], len(one.values)
    body = [_circle(at.outer, FAINT), _circle(at.inner, SHEET)]
    body += [_jaw(one, jaw, at) for jaw in range(one.jaws)]
    body += [_place(one, place, count, at) for place in range(count)]
    body += [_words((14, 30 + 24 * n), line, 19, INK, anchor="start") for n, line in enumerate(words.CLOCKWISE)]
    label = words.PICTURE.format(jaws=one.jaws, round=one.round, place=one.place + 1, count=count)
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIZE} {SIZE}" role="img" '
            f'aria-label="{escape(label, quote=True)}" class="dial-svg">{"".join(body)}</svg>')  # fmt: skip


def _point(radius: float, angle: float) -> tuple[float, float]:
    """Angles from jaw 1 at the top, clockwise."""
    return MIDDLE + radius * sin(angle), MIDDLE - radius * cos(angle)


def _circle(radius: float, fill: str) -> str:
    return f'<circle cx="{MIDDLE}" cy="{MIDDLE}" r="{radius}" fill="{fill}" stroke="{INK}" stroke-width="2.5"/>'


def _arc(radii: tuple[float, float], middle: float, half: float, fill: str, dash: str = "") -> str:
    """A piece of a ring between two radii."""
    angles = [middle + half * i / 8 for i in range(-8, 9)]
    loop = [_point(radii[1], a) for a in angles] + [_point(radii[0], a) for a in reversed(angles)]
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in loop)
    return f'<polygon points="{points}" fill="{fill}" stroke="{INK}" stroke-width="2" {dash}/>'


def _jaw(one: Face, jaw: int, at: _Radii) -> str:
    """A jaw and what it presses with; dashed while the ring is free."""
    angle, contact, body = 2 * pi * jaw / one.jaws, at.contact, at.jaw
    dash = "" if one.clamped else 'stroke-dasharray="7 6"'
    parts = []
    if one.contact == "rollers":
        x, y = _point((contact[0] + contact[1]) / 2, angle)
        radius = (contact[1] - contact[0]) / 2
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="{SHEET}" stroke="{INK}" '
                     f'stroke-width="2" {dash}/>')  # fmt: skip
    elif one.contact == "pads":
        parts.append(_arc(contact, angle, 8.0 / contact[0], SHEET, dash))
    else:
        body = (min(contact[0], body[0]), max(contact[1], body[1]))
    parts.append(_arc(body, angle, min(0.2, 0.6 * pi / one.jaws), SHEET, dash))
    x, y = _point((body[0] + body[1]) / 2, angle)
    parts.append(_words((x, y + 8), str(jaw + 1), 24, INK, bold=True))
    return "".join(parts)


def _place(one: Face, place: int, count: int, at: _Radii) -> str:
    """What was read at a place, or its number; the place to be read now is dark, with the plunger on the surface."""
    angle, chosen = 2 * pi * place / count, place == one.place
    read, reach = at.inner if one.side == "outside" else at.outer, at.values
    if count > CROWDED and place % 2:
        reach += -34.0 if one.side == "outside" else 34.0
    x, y = _point(read, angle)
    typed = one.values[place]
    size = 21 if count <= 12 else 17
    text = typed.replace("-", "−") or str(place + 1)
    tx, ty = _point(reach, angle)
    parts = [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="{INK if typed else SHEET}" stroke="{INK}" '
             f'stroke-width="1.5"/>']  # fmt: skip
    ink, weight = INK, bool(typed)
    if chosen:
        wide, high = max(len(text), 2) * size * 0.62 + 16, size + 14
        parts.append(f'<path d="M{tx:.1f} {ty:.1f}L{x:.1f} {y:.1f}" stroke="{INK}" stroke-width="4"/>'
                     f'<rect x="{tx - wide / 2:.1f}" y="{ty - high / 2:.1f}" width="{wide:.1f}" height="{high}" '
                     f'fill="{INK}"/>')  # fmt: skip
        ink, weight = ON_INK, True
    elif place in one.wrong:
        parts.append(_words((tx, ty - size * 0.7), "!", size, "var(--bad)", bold=True))
    parts.append(_words((tx, ty + size * 0.35), text, size if typed or chosen else size - 5, ink, bold=weight))
    return "".join(parts)


def _words(at: tuple[float, float], text: str, size: float, fill: str, *, bold: bool = False,
           anchor: str = "middle") -> str:  # fmt: skip
    weight = ' font-weight="700"' if bold else ""
    return (f'<text x="{at[0]:.1f}" y="{at[1]:.1f}" font-size="{size:g}" text-anchor="{anchor}" fill="{fill}"{weight}>'
            f"{escape(text)}</text>")  # fmt: skip

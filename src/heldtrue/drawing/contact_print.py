"""The contact print: the face of one jaw unrolled, as bluing would show it, with the pressure in figures."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, degrees

import numpy as np
from numpy.typing import NDArray

from heldtrue.drawing.svg import (
    FAINT,
    GREY,
    HAIR,
    INK,
    LEAST,
    LETTER,
    MEDIUM,
    NARROW,
    PAPER,
    STRONG,
    Picture,
    Point,
    hatch,
    shorten,
    text_width,
    wrap,
)
from heldtrue.drawing.wording import contact_number, contact_unit, dimension, fit_words, length_unit
from heldtrue.planning.result import ContactPrint, Plan
from heldtrue.quantities import UnitSystem
from heldtrue.sentences import in_units

SHADES = ("#e3edf6", "#c2d8ec", "#9fc0de", "#7da5cb", "#5e89b3", "#436d98", "#2d527b", "#1c3a5c", "#0f243c")
"""Evenly spaced in lightness, from nearly paper to Prussian blue: a grey print keeps the order."""
LEFT, RIGHT, TOP, BELOW, BETWEEN, BAR = 10.0, 3.0, 11.5, 19.5, 7.0, 17.0
OPEN_SHARE = 1e-3
"""A cell below this share of the peak does not touch."""


def draw_contact_print(plan: Plan, system: UnitSystem = "metric", *, width: float = 190.0, height: float = 80.0) -> str:
    """The prints of all fits side by side with one scale, as SVG of ``width`` by ``height`` mm."""
    return draw_contact_prints(plan.prints, system, width=width, height=height)


def draw_contact_prints(
    prints: Sequence[ContactPrint],
    system: UnitSystem = "metric",
    *,
    title: str = "Contact print of one jaw",
    heads: Sequence[str] = (),
    columns: int = 4,
    width: float = 190.0,
    height: float = 80.0,
) -> str:
    """Any prints with one scale, ``columns`` side by side in rows of ``height`` mm, as SVG of ``width`` mm.

    ``heads``: what stands over each print; its fit if left out.
    """
    peak = max((p.peak for p in prints), default=0.0)
    names = list(heads) or [fit_words(p.fit) for p in prints]
    rows = max(1, ceil(len(prints) / columns))
    picture = Picture(width, height * rows, title, _describe(prints, names, system))
    if not prints or peak <= 0:
        picture.text((width / 2, height / 2), "no contact to show", anchor="middle", italic=True)
        return picture.svg()
    side = min(columns, len(prints))
    panel = (width - LEFT - RIGHT - BAR - BETWEEN * (side - 1)) / side
    tall = height - TOP - BELOW
    for number, (one, name) in enumerate(zip(prints, names, strict=True)):
        row, column = divmod(number, columns)
        corner = (LEFT + column * (panel + BETWEEN), row * height + TOP)
        _print(picture, one, name, corner, panel, tall, peak, system, labelled=column == 0)
    for row in range(rows):
        _scale(picture, (width - BAR - RIGHT + 5.5, row * height + TOP), tall, peak, system)
    return picture.svg()


def _describe(prints: Sequence[ContactPrint], names: Sequence[str], system: UnitSystem) -> str:
    unit = contact_unit(system)
    return "; ".join(
        f"{name}: peak {contact_number(p.peak, system)} {unit}, {in_units(p.words, system)}"
        for p, name in zip(prints, names, strict=True)
    )


def shade(share: float) -> str:
    """The colour of a pressure that is ``share`` of the scale's end."""
    return SHADES[min(int(share * len(SHADES)), len(SHADES) - 1)]


def _whole_face(one: ContactPrint) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Edges [rad] and pressures over the whole face: the half that is computed and its mirror."""
    edges = np.asarray(one.angle_edges, float)
    if edges[0] > 1e-9:
        return edges, one.pressure
    return np.concatenate([-edges[:0:-1], edges]), np.concatenate([one.pressure[:, ::-1], one.pressure], axis=1)


def _print(
    picture: Picture,
    one: ContactPrint,
    name: str,
    corner: Point,
    wide: float,
    tall: float,
    peak: float,
    system: UnitSystem,
    *,
    labelled: bool,
) -> None:
    edges, pressure = _whole_face(one)
    z = np.asarray(one.z_edges, float)
    xs = corner[0] + (edges - edges[0]) / (edges[-1] - edges[0]) * wide
    ys = corner[1] + (z[-1] - z) / (z[-1] - z[0]) * tall
    middle = corner[0] + wide / 2
    head = f"{name}, Ø{dimension(one.part_diameter, system)}"
    picture.text((middle, corner[1] - 6.2), shorten(head, wide + 5, STRONG), size=STRONG, anchor="middle", bold=True)
    bored = _bored(one, system)
    if text_width(bored, 2.6) > wide + 6:
        bored = bored.removeprefix("in jaws ")
    picture.text((middle, corner[1] - 2.2), shorten(bored, wide + 6, LEAST), size=LEAST, anchor="middle", colour=GREY)

    for i in range(len(z) - 1):
        if not np.isfinite(pressure[i]).any():
            continue
        for j in range(len(edges) - 1):
            box = [(xs[j], ys[i]), (xs[j + 1], ys[i]), (xs[j + 1], ys[i + 1]), (xs[j], ys[i + 1])]
            if not pressure[i, j] > OPEN_SHARE * peak:
                picture.segments(hatch([box], spacing=1.5, angle=-45), colour=FAINT, width=0.13)
            else:
                picture.polyline(
                    box, width=0.13, colour="#ffffff", closed=True, fill=shade(float(pressure[i, j]) / peak)
                )
    picture.rect((xs[0], ys[-1]), wide, tall, line=MEDIUM)
    picture.line((middle, corner[1] - 1.0), (middle, corner[1] + tall + 1.5), width=0.18, dash="5 0.8 0.6 0.8")
    for i in range(len(z) - 1):
        if not np.isfinite(pressure[i]).any():
            _groove(picture, (float(xs[0]), float(ys[i + 1])), wide, float(ys[i] - ys[i + 1]))
    _peak(picture, one, xs, ys, pressure, system)

    base = corner[1] + tall
    reach = f"{degrees(edges[-1]):.0f}°"
    for x, words, anchor in ((xs[0], f"−{reach}", "start"), (xs[-1], reach, "end")):
        picture.line((x, base), (x, base + 1.2), width=NARROW)
        picture.text((x, base + 4.0), words, size=LEAST, anchor=anchor)
    round_ = float(edges[-1] - edges[0]) * one.part_diameter / 2
    across = f"{dimension(round(round_, 1), system)} {length_unit(system)} round"
    picture.text((middle, base + 4.0), across, size=LEAST, anchor="middle", plate=True)
    for number, line in enumerate(wrap(in_units(one.words, system), wide + 4, 2.6, lines=4)):
        picture.text((middle, base + 8.2 + 3.2 * number), line, size=LEAST, anchor="middle", italic=True)
    if labelled:
        for level in (z[0], z[-1]):
            y = ys[0] if level == z[0] else ys[-1]
            picture.line((xs[0] - 1.2, y), (xs[0], y), width=NARROW)
            picture.text((xs[0] - 1.8, y + 0.9), dimension(float(level), system), size=LEAST, anchor="end")
        picture.text(
            (xs[0] - 6.0, corner[1] + tall / 2),
            f"z, {length_unit(system)}, tailstock up",
            size=LEAST,
            anchor="middle",
            turn=-90,
        )


def _bored(one: ContactPrint, system: UnitSystem) -> str:
    """What the jaws were bored to."""
    words = f"in jaws bored Ø{dimension(one.bore_diameter, system)}"
    taper = dimension(abs(one.taper), system)
    if not taper.strip(".0"):
        return words
    return f"{words}, taper {'−' if one.taper < 0 else ''}{taper} a side"


def _groove(picture: Picture, corner: Point, wide: float, tall: float) -> None:
    """A break in the face: the part has no surface there."""
    picture.rect(corner, wide, tall, line=HAIR, fill=PAPER)
    size = LEAST
    at = (corner[0] + wide / 2, corner[1] + tall / 2 + 0.32 * size)
    picture.text(at, "groove", size=size, anchor="middle", italic=True, plate=tall < size)


def _peak(
    picture: Picture,
    one: ContactPrint,
    xs: NDArray[np.float64],
    ys: NDArray[np.float64],
    pressure: NDArray[np.float64],
    system: UnitSystem,
) -> None:
    """A cross where the pressure is highest, with its value."""
    i, j = (int(k) for k in np.unravel_index(int(np.nanargmax(pressure)), pressure.shape))
    x, y = float(xs[j] + xs[j + 1]) / 2, float(ys[i] + ys[i + 1]) / 2
    for way in (-1, 1):
        for colour, pen in (("#ffffff", 0.9), (INK, 0.3)):
            picture.line((x - 1.3, y - way * 1.3), (x + 1.3, y + way * 1.3), width=pen, colour=colour)
    words = f"peak {contact_number(one.peak, system)}"
    near_right = x > float(xs[-1]) - 20
    low = y - 2.4 if y - 5 > float(ys[-1]) else y + 4.6
    picture.text(
        (x - 0.8 if near_right else x + 0.8, low),
        words,
        anchor="end" if near_right else "start",
        bold=True,
        size=LETTER,
        plate=True,
    )


def _scale(picture: Picture, corner: Point, tall: float, peak: float, system: UnitSystem) -> None:
    """The shades with their pressures, and how an open cell looks."""
    x, y = corner
    wide, open_tall = 4.5, 4.5
    steps = tall - open_tall - 3.0
    picture.text((x, y - 2.2), contact_unit(system), size=LETTER)
    for number in range(len(SHADES)):
        top = y + steps * (1 - (number + 1) / len(SHADES))
        picture.rect((x, top), wide, steps / len(SHADES), line=0, fill=SHADES[number])
    picture.rect((x, y), wide, steps, line=NARROW)
    for share in (0.0, 1 / 3, 2 / 3, 1.0):
        level = y + steps * (1 - share)
        picture.line((x + wide, level), (x + wide + 1.0, level), width=NARROW)
        picture.text((x + wide + 1.6, level + 0.9), contact_number(peak * share, system) if share else "0", size=LEAST)
    box = [(x, y + tall - open_tall), (x + wide, y + tall - open_tall), (x + wide, y + tall), (x, y + tall)]
    picture.segments(hatch([box], spacing=1.5, angle=-45), colour=FAINT, width=0.13)
    picture.rect(box[0], wide, open_tall, line=NARROW)
    picture.text((x + wide + 1.6, y + tall - open_tall / 2 + 0.9), "open", size=LEAST, italic=True)

"""Polar plot of one surface: its shape while clamped and after release, the deviation enlarged."""

from __future__ import annotations

from math import ceil, floor, log10, pi

import numpy as np
from numpy.typing import NDArray

from heldtrue.drawing.jaw_shape import JawShape
from heldtrue.drawing.svg import (
    ACCENT,
    CENTRE_LINE,
    DASHED,
    FAINT,
    GREY,
    LEAST,
    NARROW,
    STRONG,
    Picture,
    Point,
    on_circle,
    shorten,
)
from heldtrue.drawing.wording import form_length, small_length
from heldtrue.planning.result import Plan, Shape, SurfaceResult
from heldtrue.planning.setup import Surface
from heldtrue.quantities import UnitSystem

BAND_FILL = "#e4e5e3"
JAW_MARK = "#cfd1d0"
SWING = 0.24
"""Share of the plotted radius that the largest deviation may take."""
ROW = 4.2


def draw_polar(
    plan: Plan, surface: str, system: UnitSystem = "metric", *, width: float = 90.0, height: float = 110.0
) -> str:
    """Polar plot of ``surface``, as SVG of ``width`` by ``height`` mm.

    Raises: ``KeyError`` where the plan has no shape of that surface.
    """
    shape = next((s for s in plan.shapes if s.surface == surface), None)
    if shape is None:
        raise KeyError(f"the plan has no shape of surface {surface!r}")
    asked = next((s for s in plan.setup.surfaces if s.name == surface), None)
    result = next((s for s in plan.surfaces if s.name == surface), None)
    jaw = JawShape.of(plan.setup)
    clamped, released = _about_mean(shape.clamped), _about_mean(shape.released)
    tolerance = asked.roundness if asked is not None else None
    legend = 4 * ROW + 5.0
    radius = min(width / 2, (height - legend) / 2 - 1.5) - 8.5
    base = radius * (1 - SWING) / 1.0
    largest = max(np.abs(clamped).max(), np.abs(released).max(), (tolerance or 0.0) / 2, 1e-7)
    per_mm = _round_down(SWING * radius / float(largest))
    centre = (width / 2, (height - legend) / 2 + 1.5)
    picture = Picture(width, height, f"Shape of {surface}, clamped and released", _describe(shape, system))

    if tolerance:
        half = tolerance / 2 * per_mm
        rings = [[on_circle(centre, base + side * half, 2 * pi * i / 180) for i in range(180)] for side in (-1, 1)]
        picture.area(rings, BAND_FILL)
        for side in (-1, 1):
            picture.circle(centre, base + side * half, width=0.18, colour=GREY)
    picture.circle(centre, base, width=0.18, dash=CENTRE_LINE)
    for a, b in (((-3.0, 0.0), (3.0, 0.0)), ((0.0, -3.0), (0.0, 3.0))):
        picture.line((centre[0] + a[0], centre[1] + a[1]), (centre[0] + b[0], centre[1] + b[1]), width=0.18)
    _jaws(picture, jaw, centre, radius)
    picture.polyline(_curve(shape.angle, clamped, base, per_mm, centre), width=0.4, dash=DASHED)
    picture.polyline(_curve(shape.angle, released, base, per_mm, centre), width=0.65, colour=ACCENT)
    _scale_bar(picture, centre, per_mm, base, system)
    _legend(
        picture,
        clamped,
        released,
        asked,
        result,
        system,
        per_mm * _radius_of(plan, asked) / base,
        height - legend + 4.5,
    )
    return picture.svg()


def _about_mean(deviation: NDArray[np.float64]) -> NDArray[np.float64]:
    """The form alone: the last point repeats the first, and the mean is a change of size."""
    return np.asarray(deviation - deviation[:-1].mean())


def _describe(shape: Shape, system: UnitSystem) -> str:
    clamped, released = (float(np.ptp(d)) for d in (shape.clamped, shape.released))
    words = f"clamped {form_length(clamped, system)}, released {form_length(released, system)}"
    return f"{words}, highest to lowest"


def _round_down(factor: float) -> float:
    """To 1, 2 or 5 times a power of ten."""
    power = 10.0 ** floor(log10(factor))
    return next(step for step in (5, 2, 1) if step * power <= factor * 1.0001) * power


def _radius_of(plan: Plan, surface: Surface | None) -> float:
    if surface is not None and surface.diameter:
        return surface.diameter / 2
    return plan.setup.grip.diameter / 2


def _curve(
    angle: NDArray[np.float64], deviation: NDArray[np.float64], base: float, per_mm: float, centre: Point
) -> list[Point]:
    return [on_circle(centre, base + float(d) * per_mm, float(a)) for a, d in zip(angle, deviation, strict=True)]


def _jaws(picture: Picture, jaw: JawShape, centre: Point, radius: float) -> None:
    """Every jaw as a wedge on the side it presses from, with its number outside."""
    inner, outer = (radius + 1.2, radius + 3.2) if jaw.outside else (radius * 0.36, radius * 0.36 + 2.0)
    for k in range(jaw.count):
        middle = 2 * pi * k / jaw.count
        angles = [middle + jaw.half_angle * i / 16 for i in range(-16, 17)]
        loop = [on_circle(centre, outer, a) for a in angles] + [on_circle(centre, inner, a) for a in reversed(angles)]
        picture.polyline(loop, width=NARROW, closed=True, fill=JAW_MARK)
        way = -1 if jaw.outside else 1
        edge = inner if jaw.outside else outer
        tip = on_circle(centre, edge + way * 3.4, middle)
        tail = on_circle(centre, edge, middle)
        picture.line(tail, on_circle(centre, edge + way * 1.5, middle), width=NARROW)
        picture.arrow_head(tip, (tip[0] - tail[0], tip[1] - tail[1]))
        x, y = on_circle(centre, radius + (6.2 if jaw.outside else 3.6), middle)
        picture.text((x, y + 1.0), str(k + 1), size=STRONG, anchor="middle", bold=True)
        if not jaw.outside:
            a, b = on_circle(centre, edge + way * 3.4, middle), on_circle(centre, radius + 1.2, middle)
            picture.line(a, b, width=0.13, colour=FAINT)


def _scale_bar(picture: Picture, centre: Point, per_mm: float, base: float, system: UnitSystem) -> None:
    """A radial bar of a round length, so that the plot can be measured."""
    unit = 25.4 if system == "inch" else 1.0
    length = _round_down(0.2 * base / (per_mm * unit)) * unit
    words = small_length(length, system)
    size = length * per_mm
    x, y = centre[0] - size / 2, centre[1] + 7.0
    picture.line((x, y), (x + size, y), width=0.5)
    for end in (x, x + size):
        picture.line((end, y - 0.9), (end, y + 0.9), width=NARROW)
    picture.text((centre[0], y + 3.4), words, size=LEAST, anchor="middle", plate=True)


def _legend(
    picture: Picture,
    clamped: NDArray[np.float64],
    released: NDArray[np.float64],
    asked: Surface | None,
    result: SurfaceResult | None,
    system: UnitSystem,
    enlarged: float,
    top: float,
) -> None:
    x, start = 1.0, 13.0
    rows = [
        ("released", f"released, likely: {form_length(float(np.ptp(released)), system)} highest to lowest"),
        ("clamped", f"clamped, likely: {form_length(float(np.ptp(clamped)), system)} on an indicator"),
    ]
    if asked is not None and asked.roundness:
        rows.append(("band", f"drawing allows roundness {small_length(asked.roundness, system)}"))
    for number, (kind, words) in enumerate(rows):
        y = top + ROW * number
        if kind == "band":
            picture.rect((x, y - 2.2), 10, 2.4, line=0.18, colour=GREY, fill=BAND_FILL)
        elif kind == "clamped":
            picture.line((x, y - 1.0), (x + 10, y - 1.0), width=0.4, dash=DASHED)
        else:
            picture.line((x, y - 1.0), (x + 10, y - 1.0), width=0.65, colour=ACCENT)
        picture.text((start, y), shorten(words, picture.width - start - 0.5))
    last = f"deviation enlarged {_figures(enlarged)} times against the part"
    if result is not None and result.side != "face" and abs(result.size_shift) > 5e-5:
        last += f"; size change {form_length(result.size_shift, system)} on Ø not drawn"
    size = LEAST
    picture.text((x, top + ROW * len(rows)), shorten(last, picture.width - 1.5, size), size=size, colour=GREY)


def _figures(number: float) -> str:
    """Two figures, grouped: an enlargement is read, not computed with."""
    digits = max(0, ceil(log10(number)) - 2)
    return f"{round(number, -digits):,.0f}".replace(",", " ")

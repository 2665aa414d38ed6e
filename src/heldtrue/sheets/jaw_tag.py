"""Labels for jaw sets: a code to scan, the number large, and as much of how the set stands as the label holds."""

from __future__ import annotations

import json
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

import segno

from heldtrue.drawing.wording import dimension, length_unit
from heldtrue.errors import InputError
from heldtrue.planning.result import IN_SHORT
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.records import Standing
from heldtrue.sheets.paper import pdf_of

TEMPLATE = Path(__file__).with_name("jaw_tag.typ")
LEAST_MM, MOST_MM = 20.0, 120.0
LINE_MM = 2.2
"""Height of one small line on a label."""
HEAD_MM, TALL_HEAD_MM = 8.6, 8.5
"""What number and jaw take of its height; of a tall label, which has its code below, besides half its width."""
FOOT_MM = 1.8
"""What the caution takes at the bottom."""
WIDE = 1.4
"""A label wider than this many heights has its code at the left, else below the number."""


def jaw_tags(
    stands: Standing, system: UnitSystem = "metric", size: tuple[float, float] = (50.0, 25.0), *,
    pressure: float | None = None, gauge: str = "bar", speed_rpm: float | None = None, part: str = "",
) -> bytes:  # fmt: skip
    """A label for the set and one for each of its jaws, a page each, as PDF.

    ``size``: width and height [mm]; ``pressure`` [MPa] and ``speed_rpm``: the most this set may see, where known;
    ``part`` it is for, with its revision.
    Raises: ``InputError`` for a size no label has.
    """
    lines = _lines(stands, system, pressure, gauge, speed_rpm, part)
    labels = [{"id": stands.jaw_set, "jaw": f"all {stands.jaws}", "lines": lines, "code": 0}]
    labels += [
        {"id": stands.jaw_set, "jaw": f"jaw {number} of {stands.jaws}", "lines": lines, "code": 0}
        for number in range(1, stands.jaws + 1)
    ]
    return _print(f"Jaw tag {stands.jaw_set}", labels, [stands.jaw_set], size)


def blank_tags(ids: Sequence[str], size: tuple[float, float] = (50.0, 25.0)) -> bytes:
    """Labels that only carry a number, to be stuck on first and linked to a set later. Raises: as ``jaw_tags``."""
    labels = [{"id": id, "jaw": "", "lines": ["set ____________", "jaw ____"], "code": n} for n, id in enumerate(ids)]
    return _print("Blank jaw tags", labels, ids, size)


def _print(title: str, labels: Sequence[dict[str, object]], codes: Sequence[str], size: tuple[float, float]) -> bytes:
    width, height = size
    if not (LEAST_MM <= width <= MOST_MM and LEAST_MM <= height <= MOST_MM):
        raise InputError(f"a label is {LEAST_MM:g} to {MOST_MM:g} mm wide and high; found {width:g} x {height:g}")
    head = HEAD_MM if width > WIDE * height else TALL_HEAD_MM + (width - 2.8) / 2
    room = max(int((height - 2.8 - head - FOOT_MM) / LINE_MM), 0)
    fitted = [{**label, "lines": list(label["lines"])[:room]} for label in labels]  # type: ignore[call-overload]
    content = {
        "title": title,
        "caution": IN_SHORT,
        "width": width,
        "height": height,
        "labels": fitted,
        "codes": [_code(one) for one in codes],
    }
    return pdf_of(TEMPLATE, content, json.dumps(content, ensure_ascii=False), {})


def _code(words: str) -> str:
    """A code that still reads with a quarter of it gone: labels live in coolant."""
    out = BytesIO()
    segno.make(words, error="q", micro=False).save(out, kind="svg", border=1, xmldecl=False, svgns=True, unit="mm")
    return out.getvalue().decode()


def _lines(
    one: Standing, system: UnitSystem, pressure: float | None, gauge: str, speed_rpm: float | None, part: str
) -> list[str]:
    """What to know of the set, the most needed first; the label shows as many as it holds."""
    unit = length_unit(system)
    depth = "" if one.depth is None else f", {dimension(one.depth, system)} deep"
    read = " planned" if one.diameter_error is None else f" ±{dimension(one.diameter_error, system)}"
    bored = (
        "not cut yet" if one.diameter is None else f"Ø{dimension(one.diameter, system)} {unit}{read} {one.side}{depth}"
    )
    where = ", ".join(filter(None, [one.chuck, "" if one.tooth is None else f"tooth {one.tooth}"]))
    limits = [
        "pressure: see the plan"
        if pressure is None
        else f"at most {format_quantity(pressure, 'pressure', unit=gauge)}",
        "speed: see the plan" if speed_rpm is None else f"{speed_rpm:.0f} rev/min",
    ]
    left = "" if one.cuts_left is None else f", {one.cuts_left} left"
    web = "" if one.web_left is None else f", web {dimension(round(one.web_left, 1), system)} {unit}"
    cut_at = f"cut {one.last_cut_at:%Y-%m-%d}" if one.last_cut_at else ""
    found = [
        bored,
        ", ".join(limits),
        ", ".join(filter(None, [where, part or one.part])),
        ", ".join(filter(None, [cut_at, "run-out ______"])),
        ", ".join(filter(None, [one.place or "place ______", one.condition])),
        f"{one.material}, {one.style}, {one.serration}; cut {one.cuts_done}{left}{web}",
    ]
    return [words for words in found if words.strip(", ")]

"""Sizes as people type them in a search: fractions of an inch, about so much, with or without a unit."""

from __future__ import annotations

import re

INCH_MM = 25.4
UNITS = r"mm|inches|inch|in|\""
ABOUT = ("about", "around", "roughly", "some", "ca.", "ca", "circa", "~", "≈")
_FRACTION = re.compile(
    r"(?<![\w.,/-])(?:(\d{1,3})[\s-]+)?(\d{1,2})/(2|4|8|16|32|64)(?=\s*(?:inches|inch|in|\")(?![\w-]))"
)
"""3 1/4 inch, 7/8 in: only with its unit, else it may be a part number."""


def with_decimals(text: str) -> str:
    """The text with fractions of an inch as decimal numbers."""
    return _FRACTION.sub(lambda one: f"{int(one[1] or 0) + int(one[2]) / int(one[3]):.4f}", text)


def in_mm(number: str, unit: str | None) -> float:
    """A number with a decimal point or comma, in mm where no unit was typed. [mm]"""
    value = float(number.replace(",", "."))
    return value if unit in (None, "mm") else value * INCH_MM

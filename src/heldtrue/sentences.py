"""Sentences that keep the lengths in them as values, so that each reader gets them in his own units.

A sentence is a ``str`` with its lengths in mm.  It also keeps the template and the values it was made of, so it can be
said again in inches.  ``+`` and ``joined`` keep them; a slice, a ``join`` or an f-string leaves a plain ``str``, in mm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from string import Formatter
from typing import Any

from heldtrue.quantities import UnitSystem

UNIT_SYSTEMS: tuple[UnitSystem, UnitSystem] = ("metric", "inch")
_WITH_UNIT, _IN_A_ROW = " mm", "[mm]"


class Sentence(str):
    """Words made of a ``template`` and its ``values``; the text itself is the one in mm."""

    template: str
    values: tuple[Any, ...]

    def __reduce__(self) -> tuple[Any, tuple[Any, ...]]:
        return _made, (str(self), self.template, self.values)

    def __add__(self, other: str) -> Sentence:
        return joined("", (self, other))

    def __radd__(self, other: str) -> Sentence:
        return joined("", (other, self))

    def in_units(self, system: UnitSystem) -> str:
        """The same words with every length in ``system``."""
        if self.values and not self.template:
            return str(self.values[system == "inch"])
        return _rendered(self.template, self.values, system)


def sentence(template: str, *values: Any) -> Sentence:
    """Words with lengths in them.

    Fields are those of ``str.format``, one after the other.  A length [mm], a number or its text, ends its format with
    its unit: ``{:.3f mm}`` reads "0.012 mm", in inches ".0005 in".  ``{:g [mm]}`` is one whose unit is not said in mm:
    it stands in a row ("2 to 14 mm"), after Ø or after z.  Values may be sentences.
    Raises: ``IndexError`` for a field without a value.
    """
    return _made(_rendered(template, values, None), template, values)


def in_both(metric: str, inch: str, written: UnitSystem) -> Sentence:
    """Words that differ in more than their lengths by units; the text is in those of who wrote them."""
    return _made(inch if written == "inch" else metric, "", (metric, inch))


def in_both_units(make: Callable[[UnitSystem], Iterable[str]], written: UnitSystem) -> tuple[Sentence, ...]:
    """Sentences that ``make`` says in either units; their texts are in those of who wrote them."""
    return tuple(in_both(metric, inch, written) for metric, inch in zip(*map(make, UNIT_SYSTEMS), strict=True))


def joined(separator: str, parts: Iterable[str]) -> Sentence:
    """Sentences one after the other as one."""
    values = tuple(parts)
    return sentence(separator.replace("{", "{{").replace("}", "}}").join("{}" for _ in values), *values)


def capitalised(words: str) -> str:
    """The same with a capital first letter."""
    if not isinstance(words, Sentence):
        return words[:1].upper() + words[1:]
    metric, inch = (capitalised(words.in_units(system)) for system in UNIT_SYSTEMS)
    return _made(capitalised(str(words)), "", (metric, inch))


def in_units(words: str, system: UnitSystem) -> str:
    """Words with every length that is kept as a value in ``system``; words without any as they are."""
    return words.in_units(system) if isinstance(words, Sentence) else words


def _made(text: str, template: str, values: tuple[Any, ...]) -> Sentence:
    made = Sentence(text)
    made.template, made.values = template, values
    return made


def _rendered(template: str, values: tuple[Any, ...], system: UnitSystem | None) -> str:
    """``system``: None for the text as it is written."""
    text, left = [], iter(values)
    for literal, field, spec, conversion in Formatter().parse(template):
        text.append(literal)
        if field is None:
            continue
        try:
            value = next(left)
        except StopIteration:
            raise IndexError(f"a field of {template!r} has no value") from None
        text.append(_field(repr(value) if conversion == "r" else value, spec or "", system))
    return "".join(text)


def _field(value: Any, spec: str, system: UnitSystem | None) -> str:
    for unit in (_WITH_UNIT, _IN_A_ROW):
        if spec.endswith(unit):
            number = value if isinstance(value, str) else format(value, spec.removesuffix(unit).rstrip())
            if system == "inch":
                return _inch(number)
            return f"{number} mm" if unit == _WITH_UNIT else number
    if system is not None and isinstance(value, Sentence):
        return value.in_units(system)
    return format(value, spec)


def _inch(metric: str) -> str:
    """A number of mm as text, in inches to as many places as it had."""
    sign = metric[0].replace("-", "−") if metric[0] in "+-" else ""
    size = metric.lstrip("+-")
    number = float(size) / 25.4
    if not number:
        return "0 in"
    fine = len(size.partition(".")[2]) > 2  # a thousandth of a millimetre was said
    text = f"{number:.{5 if 0 < number < 0.001 else 4 if fine or number < 0.05 else 3}f}"
    return f"{sign}{text.removeprefix('0') if number < 1 else text} in"

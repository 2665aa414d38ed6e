"""What can be edited on the plan page: where it stands in the setup file, and how typed text goes in and comes out.

Nothing is parsed here: text goes into the table as it was typed, and ``Setup.from_dict`` reads it.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from heldtrue.errors import InputError
from heldtrue.quantities import KINDS, UnitSystem, bare_unit, format_quantity, parse_quantity

Table = dict[str, Any]


@dataclass(frozen=True)
class Field:
    """One field: ``path`` in the shape of the setup file (``cut.0.feed``); ``kind`` of ``heldtrue.quantities``.

    ``kind`` is empty for words, ``choice`` for one of ``choices``, ``whole`` for a whole number, ``yes`` for yes or no.
    """

    path: str
    label: str
    kind: str = ""
    choices: tuple[str, ...] = ()
    hint: str = ""

    @property
    def is_quantity(self) -> bool:
        """Is it a number with a unit?"""
        return self.kind in KINDS


def bare(value: Any) -> Any:
    """A value of a setup file without the word where it came from."""
    if isinstance(value, dict) and set(value) == {"value", "from"}:
        return value["value"]
    return value


def source_of(value: Any) -> str:
    """Where a value of a setup file says it came from; empty where it does not say."""
    return str(value["from"]) if isinstance(value, dict) and set(value) == {"value", "from"} else ""


def get(table: Table, path: str) -> Any:
    """The raw value at a path, None where there is none."""
    here: Any = table
    for step in path.split("."):
        here = bare(here)
        if isinstance(here, dict):
            here = here.get(step)
        elif isinstance(here, list | tuple) and step.isdecimal() and int(step) < len(here):
            here = here[int(step)]
        else:
            return None
    return here


def put(table: Table, path: str, value: Any) -> Table:
    """A copy with one value set, or with None taken away; tables and pairs that are missing are made."""
    result = deepcopy(table)
    *outer, last = path.split(".")
    here: Any = result
    for position, step in enumerate(outer):
        following = (*outer, last)[position + 1]
        inner = bare(get(here, step))
        if inner is None:
            inner = [0, 0] if following.isdecimal() else {}
        # A list that is changed loses the word where it came from: the new value is stated by whoever typed it.
        inner = list(inner) if isinstance(inner, list | tuple) else inner
        _set(here, step, inner)
        here = inner
    _set(here, last, value)
    return result


def _set(container: Any, step: str, value: Any) -> None:
    if isinstance(container, list):
        position = int(step)
        if value is None and position < len(container):
            del container[position]
        elif position < len(container):
            container[position] = value
        else:
            container.append(value)
    elif value is None:
        container.pop(step, None)
    else:
        container[step] = value


def typed_value(field: Field, text: str) -> Any:
    """What typed text puts into the table; None takes the value away.  Quantities stay text: the setup reads them."""
    words = text.strip()
    if not words:
        return None
    if field.kind == "whole" and words.isdecimal():
        return int(words)
    if field.kind == "yes":
        return words == "yes"
    return words


def shown(field: Field, table: Table) -> str:
    """The text of a field as it was typed, or as the file has it."""
    value = bare(get(table, field.path))
    if value is None:
        return ""
    if field.kind == "yes":
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.12g}"
    return str(value)


def unit_of(field: Field, text: str, system: UnitSystem) -> str:
    """The unit shown in the box: that of a bare number; empty where the text brings its own."""
    if not field.is_quantity or any(letter.isalpha() or letter in "\"'%°" for letter in text):
        return ""
    return bare_unit(field.kind, system)


def echo(field: Field, text: str, system: UnitSystem) -> str:
    """The same value in both unit systems; empty where there is nothing to convert or it cannot be read."""
    if not field.is_quantity or field.kind == "ratio" or not text.strip():
        return ""
    try:
        value = parse_quantity(text, field.kind, system)
    except InputError:
        return ""
    other: UnitSystem = "inch" if system == "metric" else "metric"
    first, second = format_quantity(value, field.kind, system), format_quantity(value, field.kind, other)
    return first if first == second else f"{first} = {second}"

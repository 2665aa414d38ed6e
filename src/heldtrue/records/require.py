"""What a record must hold to be kept: said once, in words, before any database sees it."""

from __future__ import annotations

import re
from datetime import datetime
from math import isfinite
from typing import Any

from heldtrue.errors import InputError

_NAME = re.compile(r"[^\s\x00-\x1f\x7f](?:[^\x00-\x1f\x7f]{0,98}[^\s\x00-\x1f\x7f])?")


def card_name(record: Any) -> None:
    """An id that can be printed, typed and found again: 1 to 100 characters, no space at the ends."""
    if not isinstance(record.id, str) or not _NAME.fullmatch(record.id):
        raise InputError(f"{_what(record)}: id {record.id!r} must have 1 to 100 printable characters")


def moment(record: Any, name: str) -> None:
    """A time with its zone: without it two sites disagree on what came first."""
    value = getattr(record, name)
    if not isinstance(value, datetime) or value.utcoffset() is None:
        raise InputError(f"{_what(record)}: {name} {value!r} must be a time with its time zone")


def positive(record: Any, *names: str) -> None:
    """Numbers over 0, where the record has them."""
    _numbers(record, names, lambda value: value > 0, "more than 0")


def not_negative(record: Any, *names: str) -> None:
    """Numbers from 0 up, where the record has them."""
    _numbers(record, names, lambda value: value >= 0, "0 or more")


def bore_steps(record: Any, steps: Any) -> tuple[tuple[float, float], ...] | None:
    """Diameters and heights of the steps of a bore as pairs of numbers; None: not known. Refuses what is none. [mm]"""
    if steps is None:
        return None
    found = []
    for one in steps:
        pair = tuple(one) if isinstance(one, list | tuple) else ()
        good = len(pair) == 2 and all(isinstance(n, int | float) and not isinstance(n, bool) for n in pair)
        if not good or not all(map(isfinite, pair)) or pair[0] <= 0:
            raise InputError(f"{_what(record)}: bore_steps {one!r} must be a diameter, more than 0, and a height")
        found.append((float(pair[0]), pair[1] + 0.0))
    return tuple(found)


def one_of(record: Any, **allowed: tuple[str, ...]) -> None:
    """Words out of a list."""
    for name, words in allowed.items():
        if getattr(record, name) not in words:
            choices = ", ".join(repr(word) for word in words)
            raise InputError(f"{_what(record)}: {name} {getattr(record, name)!r} must be one of {choices}")


def keepable(value: Any, where: str) -> None:
    """What both databases and a plain file hold alike: no NUL, no half characters, no number without a value."""
    if isinstance(value, str):
        if "\0" in value:
            raise InputError(f"{where}: the text holds a NUL character, which no database keeps")
        try:
            value.encode()
        except UnicodeEncodeError as error:
            raise InputError(f"{where}: the text holds half a character at place {error.start + 1}") from error
    elif isinstance(value, float):
        if not isfinite(value):
            raise InputError(f"{where}: {value} is not a number that can be kept")
    elif isinstance(value, dict):
        for key, inner in value.items():
            if not isinstance(key, str):
                raise InputError(f"{where}: the key {key!r} must be a text")
            keepable(key, where)
            keepable(inner, f"{where}.{key}")
    elif isinstance(value, list | tuple):
        for inner in value:
            keepable(inner, where)
    elif isinstance(value, int):
        if not -(2**63) <= value < 2**63:
            raise InputError(f"{where}: {value} is too large to be kept")
    elif not (value is None or isinstance(value, datetime | bytes)):
        raise InputError(f"{where}: a {type(value).__name__} cannot be kept")


def _numbers(record: Any, names: tuple[str, ...], good: Any, words: str) -> None:
    for name in names:
        value = getattr(record, name, None)
        if value is None:
            continue
        if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value) or not good(value):
            raise InputError(f"{_what(record)}: {name} {value!r} must be a number, {words}")


def _what(record: Any) -> str:
    return type(record).__name__.removesuffix("Record").lower()

"""One value of a row in a plain file, and back. The words for both forms stand in ``plain_files``."""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Callable
from datetime import UTC, datetime
from math import isfinite
from typing import Any

from sqlalchemy import BigInteger, Boolean, Column, Double, LargeBinary

from heldtrue.errors import InputError
from heldtrue.records.columns import Json, Moment, to_text
from heldtrue.records.require import keepable

FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What makes a spreadsheet take a text for a formula."""
MARK = "'"


def plain_json(value: Any) -> Any:
    """A value as JSON has it."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, bytes):
        return base64.b64encode(value).decode("ascii")
    return value


def parsed_json(value: Any, column: Column[Any], where: str) -> Any:
    """The value back.

    Raises: ``InputError`` where it is none of its column.
    """
    if value is None:
        return _nothing(column, where)
    if isinstance(column.type, Json):
        keepable(value, where)
        return value
    if isinstance(column.type, Moment | LargeBinary):
        if not isinstance(value, str):
            raise InputError(f"{where}: {value!r} must be a text")
        return _parsed(value, column, where)
    good: tuple[type, ...] = (str,)
    if isinstance(column.type, Boolean):
        good = (bool,)
    elif isinstance(column.type, BigInteger):
        good = (int,)
    elif isinstance(column.type, Double):
        good = (float, int)
    if not isinstance(value, good) or (isinstance(value, bool) and bool not in good):
        raise InputError(f"{where}: {value!r} must be a {good[0].__name__}")
    keepable(value, where)
    return float(value) if isinstance(value, int) and isinstance(column.type, Double) else value


def cell_of(value: Any, column: Column[Any]) -> str:
    """A value as a cell of CSV that no spreadsheet runs."""
    if value is None:
        return ""
    if isinstance(column.type, Json):
        return guarded(to_text(value))
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return MARK if value == "" and column.nullable else guarded(value)
    return str(plain_json(value))


def parsed_cell(cell: str, column: Column[Any], where: str) -> Any:
    """The value back.

    Raises: ``InputError`` for a formula, or where it is no value of its column.
    """
    if isinstance(column.type, Boolean | BigInteger | Double | Moment | LargeBinary):
        return _nothing(column, where) if cell == "" else _parsed(cell, column, where)
    if cell == "" and column.nullable:
        return None
    if cell.startswith(FORMULA):
        raise InputError(f"{where}: the cell begins like a formula ({cell[:20]!r}); a text begins with ' there")
    text = cell.removeprefix(MARK)
    return _parsed(text, column, where) if isinstance(column.type, Json) else text


def guarded(text: str) -> str:
    """A text with a mark before it where a spreadsheet would run it, or where it begins with one."""
    return MARK + text if text.startswith((*FORMULA, MARK)) else text


def _nothing(column: Column[Any], where: str) -> None:
    if not column.nullable:
        raise InputError(f"{where}: must be given")


def _parsed(text: str, column: Column[Any], where: str) -> Any:
    kind = type(column.type)
    read, words = _READERS[kind]
    try:
        value = read(text)
    except (ValueError, binascii.Error, RecursionError) as error:
        raise InputError(f"{where}: {text[:40]!r} is not {words}") from error
    keepable(value, where)
    return value


def _moment(text: str) -> datetime:
    value = datetime.fromisoformat(text)
    if value.utcoffset() is None:
        raise ValueError("no time zone")
    return value.astimezone(UTC)


def _yes_no(text: str) -> bool:
    if text not in ("true", "false"):
        raise ValueError("neither")
    return text == "true"


def _number(text: str) -> float:
    value = float(text)
    if not isfinite(value):
        raise ValueError("not finite")
    return value


def _bytes(text: str) -> bytes:
    return base64.b64decode(text.encode("ascii"), validate=True)


_READERS: dict[type, tuple[Callable[[str], Any], str]] = {
    Moment: (_moment, "a time with its zone"),
    Boolean: (_yes_no, "true or false"),
    BigInteger: (int, "a whole number"),
    Double: (_number, "a number"),
    LargeBinary: (_bytes, "base64"),
    Json: (json.loads, "JSON"),
}

"""Column types that hold the same value, and sort the same way, in both databases.

Migrations use them: a changed meaning is a new type.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, TypeVar

from sqlalchemy import (
    ARRAY,
    BigInteger,
    Boolean,
    ColumnElement,
    Connection,
    DateTime,
    Dialect,
    Double,
    LargeBinary,
    Text,
    any_,
    bindparam,
    func,
    select,
)
from sqlalchemy.types import TypeDecorator

T = TypeVar("T")
Words = Text().with_variant(Text(collation="C"), "postgresql")
"""Text in the order of its bytes, whatever language the server was set up for: SQLite knows no other."""
Whole = BigInteger()
Number: Double[float] = Double()
YesNo = Boolean()
Bytes = LargeBinary()


@dataclass(frozen=True)
class Damaged:
    """What stands in the file where a value should be: whoever knows the row says so, and no value is made up."""

    found: str


class _Careful(TypeDecorator[T]):
    """A type whose damaged values are given back as ``Damaged``: an error on the way out would name no row."""

    __abstract__ = True

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], Any] | None:
        """From what stands in the database."""
        process = super().result_processor(dialect, coltype)

        def careful(value: Any) -> Any:
            try:
                return value if process is None else process(value)
            except (ValueError, TypeError, AttributeError, OverflowError, RecursionError):
                return Damaged(repr(value)[:60])

        return careful


class Moment(_Careful[datetime]):
    """A time with its zone; kept and given back in UTC to the microsecond."""

    impl = DateTime(timezone=True)
    cache_ok = True

    @property
    def python_type(self) -> type[datetime]:
        """What it gives back."""
        return datetime

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """To UTC; SQLite has no zones, so it is left out there."""
        if value is None:
            return None
        if value.utcoffset() is None:
            raise ValueError(f"{value!r} has no time zone")
        value = value.astimezone(UTC)
        return value.replace(tzinfo=None) if dialect.name == "sqlite" else value

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Back to a time with its zone."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Json(_Careful[Any]):
    """A document as text: kept to the letter, where a database's own JSON type would order and round it."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:
        """To text."""
        return None if value is None else to_text(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:
        """Back."""
        return None if value is None else json.loads(value)


def to_text(value: Any) -> str:
    """JSON on one line; a number JSON has no word for is refused."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def among(connection: Connection, column: ColumnElement[str], values: Collection[str]) -> ColumnElement[bool]:
    """Is a text one of many? They go to the database as one value: thousands of parameters take longer than rows."""
    many = sorted(values)
    if connection.dialect.name == "sqlite":
        return column.in_(select(func.json_each(json.dumps(many)).table_valued("value").c.value))
    return column == any_(bindparam(None, many, type_=ARRAY(Words)))

"""How migrations build tables: cards, history and the rest, with what each sort always has."""

from typing import Any

import sqlalchemy as sa
from alembic import op

from heldtrue.records.columns import Json, Moment, Whole, Words, YesNo
from heldtrue.records.migrations.guards import only_added


def has(name: str, kind: Any) -> sa.Column[Any]:
    """A column that is always filled."""
    return sa.Column(name, kind, nullable=False)


def maybe(name: str, kind: Any) -> sa.Column[Any]:
    """A column that may be empty."""
    return sa.Column(name, kind, nullable=True)


def refers(name: str, table: str, *, nullable: bool = True, primary_key: bool = False) -> sa.Column[Any]:
    """A column with the id of a row of ``table``."""
    return sa.Column(name, Words, sa.ForeignKey(f"{table}.id"), nullable=nullable, primary_key=primary_key)


def key(name: str, kind: Any) -> sa.Column[Any]:
    """A column of the primary key."""
    return sa.Column(name, kind, primary_key=True)


def card(table: str, *columns: sa.Column[Any]) -> None:
    """A table of cards."""
    op.create_table(
        table, key("id", Words), has("version", Whole), has("retired", YesNo), has("remark", Words),
        has("data", Json()), *columns,
    )  # fmt: skip


def history(table: str, *columns: sa.Column[Any]) -> None:
    """A table of history, guarded."""
    own = sa.ForeignKey(f"{table}.id", deferrable=True, initially="DEFERRED")
    op.create_table(
        table, key("id", Words), refers("action", "actions", nullable=False), has("at", Moment()), has("by", Words),
        has("withdrawn", YesNo), has("remark", Words), sa.Column("corrects", Words, own, unique=True), *columns,
    )  # fmt: skip
    only_added(table)


def index(table: str, *columns: str) -> None:
    """An index, by the name the models give it."""
    op.create_index(f"ix_{table}_{'_'.join(columns)}", table, list(columns))

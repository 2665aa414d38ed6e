"""Triggers that refuse to change or delete a row of history, whoever asks."""

from collections.abc import Iterator
from contextlib import contextmanager

from alembic import op
from sqlalchemy import Connection, text

WORDS = "history is only added to: put a mistake right with a new row"


def make_guard() -> None:
    """What the triggers of PostgreSQL call."""
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            "CREATE FUNCTION heldtrue_only_added() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{WORDS}'; END $$"
        )


def only_added(table: str) -> None:
    """Refuse to change or delete a row of ``table``."""
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            f"CREATE TRIGGER only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION heldtrue_only_added()"
        )
        return
    for change in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER {table}_no_{change.lower()} BEFORE {change} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{WORDS}'); END"
        )


@contextmanager
def unguarded(connection: Connection) -> Iterator[None]:
    """Without the triggers meanwhile, for a migration that must fill a new column of rows that are there."""
    if connection.dialect.name == "postgresql":
        found = "SELECT tgrelid::regclass::text FROM pg_trigger WHERE tgname = 'only_added'"
        tables = connection.execute(text(found)).scalars().all()
        for table in tables:
            connection.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER only_added"))
        yield
        connection.execute(text("SET CONSTRAINTS ALL IMMEDIATE"))  # what waits would forbid the change of the table
        for table in tables:
            connection.execute(text(f"ALTER TABLE {table} ENABLE TRIGGER only_added"))
        return
    found = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE '%!_no!_%' ESCAPE '!'"
    triggers = connection.exec_driver_sql(found).all()
    for name, _ in triggers:
        connection.exec_driver_sql(f"DROP TRIGGER {name}")
    yield
    for _, made in triggers:
        connection.exec_driver_sql(made)

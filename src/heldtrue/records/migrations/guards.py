"""Triggers that refuse to change or delete a row of history, whoever asks."""

from alembic import op

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

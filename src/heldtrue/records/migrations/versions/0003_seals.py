"""A seal in every row and a chain over all actions; ``schema.migrate`` fills them in after the last step."""

import sqlalchemy as sa
from alembic import op

from heldtrue.records.columns import Whole, Words
from heldtrue.records.migrations.building import has
from heldtrue.records.migrations.guards import only_added

revision = "0003"
down_revision = "0002"

TABLES = (
    "actions", "versions", "machines", "actuators", "chucks", "blanks", "rings", "tools", "parts", "photos",
    "revisions", "jaw_sets", "setups", "tags", "set_cuts", "set_moves", "start_decisions", "runs",
    "indicator_readings", "gauge_readings", "greasings", "standings",
)  # fmt: skip


def upgrade() -> None:
    """One more column everywhere, one more table."""
    for table in TABLES:
        op.add_column(table, sa.Column("seal", Words, nullable=False, server_default=""))
    op.create_table(
        "links", sa.Column("number", Whole, primary_key=True, autoincrement=False),
        sa.Column("action", Words, sa.ForeignKey("actions.id"), nullable=False, unique=True),
        has("link", Words), has("seal", Words),
    )  # fmt: skip
    only_added("links")

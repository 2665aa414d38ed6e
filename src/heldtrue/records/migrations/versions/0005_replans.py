"""What re-planning a setup gave in each state of what it rests on; and who looked at an outcome that had turned."""

import sqlalchemy as sa
from alembic import op

from heldtrue.records.columns import Json, Moment, Whole, Words
from heldtrue.records.migrations.building import has, history, index, key, refers

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Two more tables, one more index."""
    op.create_table(
        "replans", refers("setup", "setups", nullable=False, primary_key=True), key("state", Words),
        has("rest", Words), has("version", Whole), has("content", Words), has("key", Words), has("verdict", Words),
        has("reason", Words), has("how", Words), has("base", Words), has("names", Json()), has("planned", Json()),
        has("steps", Json()), has("limits", Words), has("first_at", Moment()), has("last_at", Moment()),
        has("seal", Words),
    )  # fmt: skip
    index("replans", "setup", "last_at")
    index("replans", "content")
    index("replans", "key")
    history(
        "replans_seen", sa.Column("setup", Words, sa.ForeignKey("setups.id"), nullable=False), has("version", Whole),
        has("verdict", Words), has("steps", Json()), has("seal", Words),
    )  # fmt: skip
    index("replans_seen", "setup", "at")
    index("runs", "chuck", "at")  # what was clamped in a chuck is asked for every setup on it

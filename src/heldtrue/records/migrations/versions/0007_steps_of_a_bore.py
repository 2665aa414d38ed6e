"""The further diameters that a cut left in a jaw set; of the cuts before it, nobody wrote down whether they had any."""

from alembic import op

from heldtrue.records.columns import Json
from heldtrue.records.migrations.building import maybe

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """One more column of a cut, and of how a set stands."""
    for table in ("set_cuts", "standings"):
        op.add_column(table, maybe("bore_steps", Json()))

"""How far diameter and depth of a cut may be off as measured, and the shape of its relief and seat."""

from alembic import op

from heldtrue.records.columns import Number
from heldtrue.records.migrations.building import maybe

revision = "0006"
down_revision = "0005"

COLUMNS = ("diameter_error", "depth_error", "relief_width", "relief_depth", "seat_land", "seat_relief")


def upgrade() -> None:
    """Six more columns of a cut, and of how a set stands."""
    for table in ("set_cuts", "standings"):
        for name in COLUMNS:
            op.add_column(table, maybe(name, Number))

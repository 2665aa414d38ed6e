"""Labels printed ahead, to be linked to a set later."""

from heldtrue.records.columns import Moment
from heldtrue.records.migrations.building import card, maybe, refers

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """One more sort of card."""
    card("tags", refers("jaw_set", "jaw_sets"), maybe("printed_at", Moment()))

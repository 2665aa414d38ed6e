"""The error of a grip gauge, for readings of a ring; and friction as it was tried."""

from alembic import op

from heldtrue.records.columns import Number, Whole, Words, YesNo
from heldtrue.records.migrations.building import has, history, index, maybe

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """One more column, one more table."""
    op.add_column("gauge_readings", maybe("error", Number))
    history(
        "friction_readings",
        has("material", Words), has("surface", Words), has("jaw_material", Words), has("face", Words),
        has("oiled", YesNo), has("low", Number), has("likely", Number), has("high", Number), has("slips", Whole),
        has("setup", Words), has("jaw_set", Words), has("seal", Words),
    )  # fmt: skip
    index("friction_readings", "material", "at")

"""The tables, as SQLAlchemy models. The migrations make them; a test holds the two alike.

Three sorts.  *Cards* (``Thing``): one row for each thing, as it is now; ``versions`` keeps every one as it was.
*History* (``Event``): rows that are added; a trigger refuses to change or delete one.  *Derived*: ``standings``, how
every jaw set stands after its history, which can be made anew from it at any time.  ``actions`` has one row for each
transaction: who entered it, when and why; ``links`` chains them.  ``replans`` is derived too, by planning: it is not
exported, and ``heldtrue replan`` makes it anew.  The ``seal`` of a row is a digest of the rest of it.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar

from sqlalchemy import ForeignKey, Index, MetaData, Table
from sqlalchemy.orm import DeclarativeBase, Mapped, declared_attr, mapped_column

from heldtrue.records.columns import Bytes, Json, Moment, Number, Whole, Words, YesNo


class Base(DeclarativeBase):
    """All tables."""

    metadata = MetaData(
        naming_convention={
            "pk": "pk_%(table_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        }
    )
    type_annotation_map: ClassVar[dict[Any, Any]] = {
        str: Words, int: Whole, float: Number, bool: YesNo, datetime: Moment(), bytes: Bytes,
    }  # fmt: skip


def plain(model: type[Base]) -> Table:
    """The table of a model, for statements without objects."""
    table = model.__table__
    assert isinstance(table, Table)
    return table


def refers(table: str, *, nullable: bool = True) -> Mapped[Any]:
    """A column with the id of a row of another table."""
    return mapped_column(Words, ForeignKey(f"{table}.id"), nullable=nullable)


def as_json(*, nullable: bool = False) -> Mapped[Any]:
    """A column with a JSON document."""
    return mapped_column(Json(), nullable=nullable)


class Action(Base):
    """One transaction: who entered it, when and why, with which version of the program."""

    __tablename__ = "actions"
    id: Mapped[str] = mapped_column(primary_key=True)
    at: Mapped[datetime]
    by: Mapped[str]
    why: Mapped[str]
    program: Mapped[str]
    seal: Mapped[str]


class Versions(Base):
    """Every version of every card, whole."""

    __tablename__ = "versions"
    kind: Mapped[str] = mapped_column(primary_key=True)
    thing: Mapped[str] = mapped_column(primary_key=True)
    version: Mapped[int] = mapped_column(primary_key=True)
    action: Mapped[str] = refers("actions", nullable=False)
    document: Mapped[Any] = as_json()
    seal: Mapped[str]


class Link(Base):
    """The chain over all actions: see ``seals``."""

    __tablename__ = "links"
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    action: Mapped[str] = mapped_column(Words, ForeignKey("actions.id"), unique=True, nullable=False)
    link: Mapped[str]
    seal: Mapped[str]


class Card:
    """What every card has."""

    id: Mapped[str] = mapped_column(primary_key=True)
    version: Mapped[int]
    retired: Mapped[bool]
    remark: Mapped[str]
    data: Mapped[Any] = as_json()
    seal: Mapped[str]


class Row:
    """What every row of history has."""

    id: Mapped[str] = mapped_column(primary_key=True)
    action: Mapped[str] = refers("actions", nullable=False)
    at: Mapped[datetime]
    by: Mapped[str]
    withdrawn: Mapped[bool]
    remark: Mapped[str]
    seal: Mapped[str]

    @declared_attr
    def corrects(cls) -> Mapped[str | None]:
        """The row this one puts right; at most one does. Checked at the end, for rows come in any order on import."""
        own = ForeignKey(f"{cls.__tablename__}.id", deferrable=True, initially="DEFERRED")  # type: ignore[attr-defined]
        return mapped_column(Words, own, unique=True)


class Machine(Card, Base):
    """Lathes."""

    __tablename__ = "machines"
    name: Mapped[str]
    max_speed_rpm: Mapped[float | None]
    max_swing: Mapped[float | None]


class Actuator(Card, Base):
    """Cylinders."""

    __tablename__ = "actuators"
    name: Mapped[str]
    pull_area: Mapped[float | None]
    push_area: Mapped[float | None]
    max_pressure: Mapped[float | None]
    gauge: Mapped[str]


class Chuck(Card, Base):
    """Chucks."""

    __tablename__ = "chucks"
    name: Mapped[str]
    machine: Mapped[str | None] = refers("machines")
    actuator: Mapped[str | None] = refers("actuators")
    serration: Mapped[str]
    jaws: Mapped[int]
    gauge: Mapped[str]
    grease_days: Mapped[int | None]


class Blank(Card, Base):
    """Uncut jaws."""

    __tablename__ = "blanks"
    name: Mapped[str]
    style: Mapped[str]
    material: Mapped[str]
    serration: Mapped[str]
    width: Mapped[float | None]
    length: Mapped[float | None]
    height: Mapped[float | None]
    in_stock: Mapped[int]
    place: Mapped[str]


class Ring(Card, Base):
    """Boring rings."""

    __tablename__ = "rings"
    name: Mapped[str]
    kind: Mapped[str]
    outside: Mapped[float]
    inside: Mapped[float | None]
    width: Mapped[float]
    place: Mapped[str]


class Tool(Card, Base):
    """Tools that cut jaws."""

    __tablename__ = "tools"
    name: Mapped[str]
    nose_radius: Mapped[float | None]
    place: Mapped[str]


class Part(Card, Base):
    """Parts."""

    __tablename__ = "parts"
    name: Mapped[str]
    material: Mapped[str]


class JawSetCard(Card, Base):
    """Jaw sets."""

    __tablename__ = "jaw_sets"
    name: Mapped[str]
    style: Mapped[str]
    material: Mapped[str]
    serration: Mapped[str]
    jaws: Mapped[int]
    blank: Mapped[str | None] = refers("blanks")
    part: Mapped[str | None] = refers("parts")


class SetupCard(Card, Base):
    """Setups."""

    __tablename__ = "setups"
    title: Mapped[str]
    part: Mapped[str | None] = refers("parts")
    revision: Mapped[str]
    operation: Mapped[str]
    machine: Mapped[str | None] = refers("machines")
    chuck: Mapped[str | None] = refers("chucks")
    jaw_set: Mapped[str | None] = refers("jaw_sets")
    document: Mapped[Any] = as_json()
    plan: Mapped[Any] = as_json(nullable=True)


class TagCard(Card, Base):
    """Labels printed ahead."""

    __tablename__ = "tags"
    jaw_set: Mapped[str | None] = refers("jaw_sets")
    printed_at: Mapped[datetime | None]


class PhotoRow(Row, Base):
    """Pictures."""

    __tablename__ = "photos"
    name: Mapped[str]
    content: Mapped[bytes]


class RevisionRow(Row, Base):
    """Revisions of drawings."""

    __tablename__ = "revisions"
    __table_args__ = (Index(None, "part", "at"),)
    part: Mapped[str] = refers("parts", nullable=False)
    revision: Mapped[str]
    changes: Mapped[str]


class SetCutRow(Row, Base):
    """Cuts of jaw sets."""

    __tablename__ = "set_cuts"
    __table_args__ = (
        Index(None, "jaw_set", "at"),
        Index(None, "diameter", "at", "machine", "chuck", "jaw_set"),
        Index(None, "machine", "at"),
        Index(None, "at"),
    )
    jaw_set: Mapped[str] = refers("jaw_sets", nullable=False)
    kind: Mapped[str]
    side: Mapped[str]
    diameter: Mapped[float]
    depth: Mapped[float | None]
    machine: Mapped[str | None] = refers("machines")
    chuck: Mapped[str | None] = refers("chucks")
    tooth: Mapped[int | None]
    jaw_order: Mapped[Any] = as_json()
    pressure: Mapped[float | None]
    taper: Mapped[float | None]
    web_left: Mapped[float | None]
    cuts_left: Mapped[int | None]
    ring: Mapped[str | None] = refers("rings")
    tool: Mapped[str | None] = refers("tools")
    setup: Mapped[str | None] = refers("setups")
    photo: Mapped[str | None] = refers("photos")
    diameter_error: Mapped[float | None]
    depth_error: Mapped[float | None]
    relief_width: Mapped[float | None]
    relief_depth: Mapped[float | None]
    seat_land: Mapped[float | None]
    seat_relief: Mapped[float | None]
    bore_steps: Mapped[Any | None] = as_json(nullable=True)


class SetMoveRow(Row, Base):
    """Where jaw sets went, and what state they were found in."""

    __tablename__ = "set_moves"
    __table_args__ = (Index(None, "jaw_set", "at"),)
    jaw_set: Mapped[str] = refers("jaw_sets", nullable=False)
    kind: Mapped[str]
    place: Mapped[str]
    holder: Mapped[str]
    condition: Mapped[str]
    missing: Mapped[Any] = as_json()
    photo: Mapped[str | None] = refers("photos")


class StartDecisionRow(Row, Base):
    """Answers of the gate before a start."""

    __tablename__ = "start_decisions"
    __table_args__ = (Index(None, "setup", "at"),)
    setup: Mapped[str] = refers("setups", nullable=False)
    setup_version: Mapped[int]
    gauge_pressure: Mapped[float]
    gauge_text: Mapped[str]
    verdict: Mapped[str]
    reason: Mapped[str]
    override_reason: Mapped[str]


class RunRow(Row, Base):
    """Runs of parts."""

    __tablename__ = "runs"
    __table_args__ = (Index(None, "setup", "at"), Index(None, "jaw_set", "at"), Index(None, "chuck", "at"))
    setup: Mapped[str] = refers("setups", nullable=False)
    setup_version: Mapped[int]
    machine: Mapped[str | None] = refers("machines")
    chuck: Mapped[str | None] = refers("chucks")
    jaw_set: Mapped[str | None] = refers("jaw_sets")
    decision: Mapped[str | None] = refers("start_decisions")
    rough_pressure: Mapped[float | None]
    finish_pressure: Mapped[float | None]
    speed_rpm: Mapped[float | None]
    quantity: Mapped[int]
    scrap: Mapped[int]
    lot: Mapped[str]
    readings: Mapped[Any] = as_json()
    changed: Mapped[Any] = as_json()


class IndicatorReadingRow(Row, Base):
    """Turns of an indicator."""

    __tablename__ = "indicator_readings"
    __table_args__ = (Index(None, "run", "at"), Index(None, "jaw_set", "at"))
    run: Mapped[str | None] = refers("runs")
    jaw_set: Mapped[str | None] = refers("jaw_sets")
    surface: Mapped[str]
    z: Mapped[float | None]
    clamped: Mapped[bool]
    angles: Mapped[Any] = as_json()
    deviations: Mapped[Any] = as_json()


class GaugeReadingRow(Row, Base):
    """Readings of a grip gauge."""

    __tablename__ = "gauge_readings"
    __table_args__ = (Index(None, "chuck", "at"),)
    chuck: Mapped[str] = refers("chucks", nullable=False)
    pressure: Mapped[float]
    force: Mapped[float]
    speed_rpm: Mapped[float]
    device: Mapped[str]
    error: Mapped[float | None]


class FrictionReadingRow(Row, Base):
    """Friction as it was tried."""

    __tablename__ = "friction_readings"
    __table_args__ = (Index(None, "material", "at"),)
    material: Mapped[str]
    surface: Mapped[str]
    jaw_material: Mapped[str]
    face: Mapped[str]
    oiled: Mapped[bool]
    low: Mapped[float]
    likely: Mapped[float]
    high: Mapped[float]
    slips: Mapped[int]
    setup: Mapped[str]
    jaw_set: Mapped[str]


class GreasingRow(Row, Base):
    """Greasings of chucks."""

    __tablename__ = "greasings"
    __table_args__ = (Index(None, "chuck", "at"),)
    chuck: Mapped[str] = refers("chucks", nullable=False)
    grease: Mapped[str]


class ReplanSeenRow(Row, Base):
    """Outcomes of a re-plan that somebody looked at."""

    __tablename__ = "replans_seen"
    __table_args__ = (Index(None, "setup", "at"),)
    setup: Mapped[str] = refers("setups", nullable=False)
    version: Mapped[int]
    verdict: Mapped[str]
    steps: Mapped[Any] = as_json()


class ReplanRow(Base):
    """What re-planning a setup gave in one state of all that it rests on: see ``replans``."""

    __tablename__ = "replans"
    __table_args__ = (Index(None, "setup", "last_at"), Index(None, "content"), Index(None, "key"))
    setup: Mapped[str] = mapped_column(Words, ForeignKey("setups.id"), primary_key=True)
    state: Mapped[str] = mapped_column(primary_key=True)
    rest: Mapped[str]
    version: Mapped[int]
    content: Mapped[str]
    key: Mapped[str]
    verdict: Mapped[str]
    reason: Mapped[str]
    how: Mapped[str]
    base: Mapped[str]
    names: Mapped[Any] = as_json()
    planned: Mapped[Any] = as_json()
    steps: Mapped[Any] = as_json()
    limits: Mapped[str]
    first_at: Mapped[datetime]
    last_at: Mapped[datetime]
    seal: Mapped[str]


class StandingRow(Base):
    """How every jaw set stands: derived from its card and history.

    ``latest`` is what lists are ordered by: ``last_cut_at``, or 1970, for databases sort what is not known differently.
    """

    __tablename__ = "standings"
    __table_args__ = (
        Index(None, "side", "diameter"),
        Index(None, "material", "latest"),
        Index(None, "latest"),
    )
    jaw_set: Mapped[str] = mapped_column(Words, ForeignKey("jaw_sets.id"), primary_key=True)
    retired: Mapped[bool]
    words: Mapped[str]
    style: Mapped[str]
    material: Mapped[str]
    serration: Mapped[str]
    jaws: Mapped[int]
    part: Mapped[str | None]
    last_cut: Mapped[str | None]
    last_cut_at: Mapped[datetime | None]
    latest: Mapped[datetime]
    side: Mapped[str]
    diameter: Mapped[float | None]
    depth: Mapped[float | None]
    machine: Mapped[str | None]
    chuck: Mapped[str | None]
    tooth: Mapped[int | None]
    jaw_order: Mapped[Any] = as_json()
    web_left: Mapped[float | None]
    cuts_left: Mapped[int | None]
    cuts_done: Mapped[int]
    place: Mapped[str]
    holder: Mapped[str]
    condition: Mapped[str]
    missing: Mapped[Any] = as_json()
    diameter_error: Mapped[float | None]
    depth_error: Mapped[float | None]
    relief_width: Mapped[float | None]
    relief_depth: Mapped[float | None]
    seat_land: Mapped[float | None]
    seat_relief: Mapped[float | None]
    bore_steps: Mapped[Any | None] = as_json(nullable=True)
    seal: Mapped[str]


DERIVED = ("standings", "replans")
"""Tables that are made from the others: not exported, made anew on import."""

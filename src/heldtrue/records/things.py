"""What the shop owns and plans: cards that are edited, every version of them kept.

Core units (mm, N, MPa; speeds in rev/min).  ``data`` holds the rest of a card as a table in the shape of the setup
file: the plate of a chuck, the outline of a tool.  A reference holds the id of another card; None is not known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

from heldtrue.records.require import card_name, not_negative, positive

Style = Literal["standard", "wide", "pie"]
Table = Mapping[str, Any]


@dataclass(frozen=True, kw_only=True)
class Thing:
    """One card.

    ``id``: what is stamped or stuck on it; ``version``: of the card as it was read, 0 for a new one; writing a card
    somebody else has written since is refused; ``retired``: kept, no longer offered.
    """

    id: str
    version: int = 0
    retired: bool = False
    remark: str = ""
    data: Table = field(default_factory=dict)

    def __post_init__(self) -> None:
        card_name(self)
        positive(self, "outside", "width", "length", "height", "max_swing", "max_speed_rpm", "jaws")
        not_negative(self, "version", "in_stock", "inside", "nose_radius")


@dataclass(frozen=True, kw_only=True)
class MachineRecord(Thing):
    """A lathe: highest spindle speed [rev/min], largest diameter it turns [mm]."""

    name: str = ""
    max_speed_rpm: float | None = None
    max_swing: float | None = None


@dataclass(frozen=True, kw_only=True)
class ActuatorRecord(Thing):
    """A cylinder: piston areas [mm2], highest pressure [MPa], unit on its gauge."""

    name: str = ""
    pull_area: float | None = None
    push_area: float | None = None
    max_pressure: float | None = None
    gauge: str = ""


@dataclass(frozen=True, kw_only=True)
class ChuckRecord(Thing):
    """A chuck.

    ``machine`` it stands on; its ``actuator``; ``serration``: teeth of its master jaws, by the name the setup file has
    for them; ``gauge``: unit of the gauge the setter reads; ``grease_days``: days between two greasings; ``data``: its
    plate.
    """

    name: str = ""
    machine: str | None = None
    actuator: str | None = None
    serration: str = ""
    jaws: int = 3
    gauge: str = ""
    grease_days: int | None = None


@dataclass(frozen=True, kw_only=True)
class BlankRecord(Thing):
    """A kind of uncut jaw: size of one [mm], how many complete sets of it lie there, and where."""

    name: str = ""
    style: Style = "standard"
    material: str = ""
    serration: str = ""
    width: float | None = None
    length: float | None = None
    height: float | None = None
    in_stock: int = 0
    place: str = ""


@dataclass(frozen=True, kw_only=True)
class RingRecord(Thing):
    """A boring ring: diameters and width [mm]."""

    name: str = ""
    kind: Literal["ring", "plug", "spider"] = "ring"
    outside: float
    inside: float | None = None
    width: float
    place: str = ""


@dataclass(frozen=True, kw_only=True)
class ToolRecord(Thing):
    """A tool that cuts jaws: radius of its nose [mm]; ``data`` has its outline."""

    name: str = ""
    nose_radius: float | None = None
    place: str = ""


@dataclass(frozen=True, kw_only=True)
class PartRecord(Thing):
    """A part by its number; its revisions are in the history (``Revision``)."""

    name: str = ""
    material: str = ""


@dataclass(frozen=True, kw_only=True)
class JawSet(Thing):
    """A set of top jaws. What was done with it, and so how it stands, is in its history."""

    name: str = ""
    style: Style = "standard"
    material: str = ""
    serration: str = ""
    jaws: int = 3
    blank: str | None = None
    part: str | None = None


@dataclass(frozen=True, kw_only=True)
class SetupRecord(Thing):
    """A setup: the documents of setup and plan as ``records.documents`` makes them, and what it is looked up by."""

    title: str = ""
    part: str | None = None
    revision: str = ""
    operation: str = ""
    machine: str | None = None
    chuck: str | None = None
    jaw_set: str | None = None
    document: Table
    plan: Table | None = None


@dataclass(frozen=True, kw_only=True)
class Tag(Thing):
    """A label printed ahead; ``jaw_set`` once it is stuck on one."""

    jaw_set: str | None = None
    printed_at: datetime | None = None

"""What happened, as it happened: rows that are added and never changed.

A mistake is put right by a new row whose ``corrects`` names the wrong one; ``withdrawn`` with it says that nothing
takes its place.  Core units (mm, N, MPa, rad; speeds in rev/min); None or an empty text is not known.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal, Self

from heldtrue.errors import InputError
from heldtrue.records.ids import new_id
from heldtrue.records.require import bore_steps, card_name, moment, not_negative, one_of, positive

LARGEST_PHOTO = 8_000_000
"""Bytes; what a shop camera gives at its middle setting, and the whole store stays a file one can copy."""


FRICTION = (0.02, 1.0)
"""What friction of jaws on a part may be; a setup takes no other."""


@dataclass(frozen=True, kw_only=True)
class Event:
    """One row of history: when it happened (with its time zone), and who did it."""

    id: str = field(default_factory=new_id)
    at: datetime
    by: str
    corrects: str | None = None
    withdrawn: bool = False
    remark: str = ""

    def __post_init__(self) -> None:
        card_name(self)
        moment(self, "at")
        if not self.by.strip():
            raise InputError(f"{type(self).__name__}: by is empty: give the name of who did it")
        if self.withdrawn and self.corrects is None:
            raise InputError(f"{type(self).__name__}: withdrawn without corrects: name the row that is taken back")
        positive(self, "diameter", "depth", "tooth", "force")
        not_negative(self, "pressure", "rough_pressure", "finish_pressure", "gauge_pressure", "web_left", "cuts_left",
                     "quantity", "scrap", "speed_rpm")  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class SetCut(Event):
    """A jaw set was cut.

    ``diameter`` it was bored or turned to, ``depth`` front to seat, ``taper`` per side, ``web_left`` to the bolt
    pockets [mm]; ``diameter_error``, ``depth_error``: how far these may be off as they were measured, None where they
    are only planned; ``relief`` and ``seat`` of it, as ``JawCut`` of the setup has them; ``bore_steps``: diameter and
    height above the seat of every further diameter that stands in the jaws after it [mm], what earlier cuts left of
    theirs included; empty: none, None: nobody recorded whether there is one; ``pressure`` at the gauge
    [MPa]; ``tooth`` from 1 at the axis; ``jaw_order``: number of the jaw on master jaw 1, 2, ...; ``cuts_left`` as
    planned.
    """

    jaw_set: str
    kind: Literal["bore", "skim", "re-cut"] = "bore"
    side: Literal["outside", "inside"] = "outside"
    diameter: float
    depth: float | None = None
    machine: str | None = None
    chuck: str | None = None
    tooth: int | None = None
    jaw_order: tuple[int, ...] = ()
    pressure: float | None = None
    taper: float | None = None
    web_left: float | None = None
    cuts_left: int | None = None
    ring: str | None = None
    tool: str | None = None
    setup: str | None = None
    photo: str | None = None
    diameter_error: float | None = None
    depth_error: float | None = None
    relief_width: float | None = None
    relief_depth: float | None = None
    seat_land: float | None = None
    seat_relief: float | None = None
    bore_steps: tuple[tuple[float, float], ...] | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        one_of(self, kind=("bore", "skim", "re-cut"), side=("outside", "inside"))
        object.__setattr__(self, "bore_steps", bore_steps(self, self.bore_steps))


Condition = Literal["", "good", "skim first", "scrap"]


@dataclass(frozen=True, kw_only=True)
class SetMove(Event):
    """A jaw set was checked out, checked in, moved or looked at.

    ``holder``: who has it (``out``); ``place``: where it lies; ``condition``: empty leaves it as it was; ``missing``:
    numbers of the jaws that are not there.
    """

    jaw_set: str
    kind: Literal["out", "in", "moved", "condition"]
    place: str = ""
    holder: str = ""
    condition: Condition = ""
    missing: tuple[int, ...] = ()
    photo: str | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        one_of(self, kind=("out", "in", "moved", "condition"), condition=("", "good", "skim first", "scrap"))


@dataclass(frozen=True, kw_only=True)
class StartDecision(Event):
    """The gate before a start: the gauge read, the answer, and why.

    ``gauge_pressure`` [MPa], ``gauge_text`` as typed; ``override_reason``: why it was started all the same.
    ``setup_version`` 0 is the newest.
    """

    setup: str
    setup_version: int = 0
    gauge_pressure: float
    gauge_text: str = ""
    verdict: Literal["may start", "must not start"]
    reason: str = ""
    override_reason: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        one_of(self, verdict=("may start", "must not start"))


@dataclass(frozen=True, kw_only=True)
class RunRecord(Event):
    """A run of parts.

    Pressures set [MPa]; ``readings``: what was measured, by name with its unit in the name (``runout_mm``);
    ``quantity`` good and ``scrap``; ``lot`` of the material; ``changed``: what was different from the run before, in
    words; ``decision``: the gate it passed.  ``setup_version`` 0 is the newest.
    """

    setup: str
    setup_version: int = 0
    machine: str | None = None
    chuck: str | None = None
    jaw_set: str | None = None
    decision: str | None = None
    rough_pressure: float | None = None
    finish_pressure: float | None = None
    speed_rpm: float | None = None
    quantity: int = 0
    scrap: int = 0
    lot: str = ""
    readings: Mapping[str, float] = field(default_factory=dict)
    changed: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class IndicatorReading(Event):
    """One turn of an indicator: ``deviations`` [mm] at ``angles`` from jaw 1 [rad], on ``surface`` at ``z`` [mm]."""

    run: str | None = None
    jaw_set: str | None = None
    surface: str = ""
    z: float | None = None
    clamped: bool = True
    angles: tuple[float, ...]
    deviations: tuple[float, ...]

    def __post_init__(self) -> None:
        super().__post_init__()
        if len(self.angles) != len(self.deviations):
            raise InputError(f"indicator: {len(self.angles)} angles but {len(self.deviations)} deviations")


@dataclass(frozen=True, kw_only=True)
class GaugeReading(Event):
    """A grip gauge in a chuck: ``force`` of all jaws together [N] at ``pressure`` [MPa], at rest if no speed.

    ``error`` of the gauge, 95 %, relative; None: that of a usual one.
    """

    chuck: str
    pressure: float
    force: float
    speed_rpm: float = 0.0
    device: str = ""
    error: float | None = None


@dataclass(frozen=True, kw_only=True)
class Greasing(Event):
    """A chuck was greased."""

    chuck: str
    grease: str = ""


@dataclass(frozen=True, kw_only=True)
class FrictionReading(Event):
    """Friction of jaws on a part, as it was pulled or turned until it slipped: least, likely and greatest.

    ``material`` of the part and ``jaw_material`` by their keys, ``surface`` of the part and ``face`` of the jaws;
    ``oiled``: was the part as wet as it runs; ``slips``: how often it slipped; ``setup`` and ``jaw_set`` it was tried
    with, where they were known.
    """

    material: str
    surface: str
    jaw_material: str
    face: str
    oiled: bool
    low: float
    likely: float
    high: float
    slips: int
    setup: str = ""
    jaw_set: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        least, most = FRICTION
        if not least <= self.low <= self.likely <= self.high <= most:
            raise InputError(
                f"FrictionReading: friction {self.low:g}, {self.likely:g}, {self.high:g}: they lie "
                f"between {least:g} and {most:g}"
            )


@dataclass(frozen=True, kw_only=True)
class ReplanSeen(Event):
    """Somebody looked at what a re-plan found of a setup that may no longer start as it did.

    ``version`` of the setup; ``verdict`` and ``steps`` (see ``replans``) as they were looked at.
    """

    setup: str
    version: int
    verdict: str
    steps: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Revision(Event):
    """A revision of a part's drawing came in, and what it changes."""

    part: str
    revision: str
    changes: str = ""


@dataclass(frozen=True, kw_only=True)
class Photo(Event):
    """A picture; its id is the SHA-256 of its bytes, so the same picture is kept once."""

    name: str = ""
    content: bytes

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.id != hashlib.sha256(self.content).hexdigest():
            raise InputError(f"photo {self.name}: its id is not the SHA-256 of its bytes; make it with Photo.of")
        if len(self.content) > LARGEST_PHOTO:
            raise InputError(
                f"photo {self.name}: {len(self.content):,} bytes, at most {LARGEST_PHOTO:,}; save it smaller"
            )

    @classmethod
    def of(cls, content: bytes, *, at: datetime, by: str, name: str = "") -> Self:
        """A picture with the id its bytes ask for."""
        return cls(id=hashlib.sha256(content).hexdigest(), at=at, by=by, name=name, content=content)

"""What is so in the shop, in plain fields: it imports nothing of what it judges."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

GREASE_EVERY = timedelta(days=7)
WANTED_BORE, WANTED_SIDE, CHUCK, REVISION = 59.985, "outside", "CH-02", "C"


@dataclass
class Floor:
    """The job's jaws, chuck, part and clock.

    ``give``: share of the plate that the chuck gives freshly greased; ``out_of_order``: was something written down by a
    clock that was behind? Then more may be held against a job; ``readings``: when, and how many times too high.
    """

    now: datetime
    give: float = 1.0
    greased: datetime | None = None
    newest: datetime | None = None
    cut_diameter: float | None = None
    cut_side: str = WANTED_SIDE
    cut_chuck: str = CHUCK
    condition: str = ""
    missing: bool = False
    holder: str = ""
    retired: bool = False
    plate_differs: bool = False
    revision: str = REVISION
    chuck_as_typed: str = CHUCK
    jaws_as_typed: str = "J-031"
    out_of_order: bool = False
    readings: list[tuple[datetime, float]] = field(default_factory=list)

    def happened(self) -> None:
        """Something was written down just now."""
        self.out_of_order = self.out_of_order or (self.newest is not None and self.newest > self.now)
        self.newest = self.now if self.newest is None else max(self.newest, self.now)

    def share(self, when: datetime) -> float:
        """What the chuck gives of its plate: the worst that its grease allows."""
        if self.greased is not None and when - self.greased <= GREASE_EVERY:
            return 0.85 * self.give
        return 0.6 * self.give

    def stands_against(self, who: str) -> set[str]:
        """What the job must not start for."""
        found = set()
        typed_right = self.chuck_as_typed == CHUCK
        if not typed_right or self.retired or self.plate_differs:
            found.add("chuck")
        if self.jaws_as_typed != "J-031":
            found.add("jaws")
        else:
            if self.cut_diameter is not None and (
                abs(self.cut_diameter - WANTED_BORE) > 0.1 or self.cut_side != WANTED_SIDE
            ):
                found.add("jaws")
            if self.cut_diameter is not None and self.chuck_as_typed and self.cut_chuck != CHUCK:
                found.add("jaws")
            if self.condition in ("scrap", "skim first") or self.missing:
                found.add("jaws")
            if self.holder and self.holder != who:
                found.add("jaws")
        if self.revision != REVISION:
            found.add("part")
        if self.newest is not None and self.newest > self.now + timedelta(minutes=10):
            found.add("clock")
        return found

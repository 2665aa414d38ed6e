"""What is so in the shop, in plain fields: it imports nothing of what it judges."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

GREASE_EVERY = timedelta(days=7)
WANTED_BORE, WANTED_SIDE, CHUCK, JAWS, REVISION, MACHINE = 59.985, "outside", "CH-02", "J-031", "C", "lathe 1"


@dataclass
class Deed:
    """One thing done with the jaws: ``kind`` is cut, look, out or in; the rest as it was said."""

    kind: str
    at: datetime
    diameter: float = 0.0
    side: str = WANTED_SIDE
    chuck: str = CHUCK
    condition: str = ""
    missing: bool = False
    holder: str = ""
    taken_back: bool = False


@dataclass
class Jaws:
    """How the jaws stand after some deeds."""

    cut: Deed | None = None
    condition: str = ""
    missing: bool = False
    holder: str = ""

    def after(self, deed: Deed) -> None:
        """One deed more."""
        if deed.kind == "cut":
            self.cut, self.condition = deed, "good"
        elif deed.kind == "look":
            self.condition, self.missing = deed.condition, deed.missing
        elif deed.kind == "out":
            self.holder = deed.holder
        else:
            self.holder, self.missing = "", False


@dataclass
class Floor:
    """The job's jaws, chuck, part and clock.

    ``give``: share of the plate that the chuck gives freshly greased; ``deeds``: what was done with the jaws, in the
    order it was entered; ``revisions``: when a drawing came, and which; ``readings``: when, how many times too high.
    """

    now: datetime
    give: float = 1.0
    greased: datetime | None = None
    newest: datetime | None = None
    deeds: list[Deed] = field(default_factory=list)
    revisions: list[tuple[datetime, str]] = field(default_factory=list)
    jaws_retired: bool = False
    retired: bool = False
    plate_differs: bool = False
    stands_on: str = MACHINE
    chuck_as_typed: str = CHUCK
    jaws_as_typed: str = JAWS
    readings: list[tuple[datetime, float]] = field(default_factory=list)

    def happened(self) -> None:
        """Something was written down just now."""
        self.newest = self.now if self.newest is None else max(self.newest, self.now)

    def share(self, when: datetime) -> float:
        """What the chuck gives of its plate: the worst that its grease allows."""
        if self.greased is not None and when - self.greased <= GREASE_EVERY:
            return 0.85 * self.give
        return 0.6 * self.give

    def jaws(self) -> list[Jaws]:
        """How the jaws stand, by the times that were typed and by the order of entry: a clock may have been wrong."""
        done = [deed for deed in self.deeds if not deed.taken_back]
        stands = []
        for order in (sorted(done, key=lambda deed: deed.at), done):
            one = Jaws()
            for deed in order:
                one.after(deed)
            stands.append(one)
        return stands

    def drawings(self) -> set[str]:
        """The newest drawing, by time and by entry."""
        if not self.revisions:
            return {REVISION}
        return {sorted(self.revisions, key=lambda one: one[0])[-1][1], self.revisions[-1][1]}

    def stands_against(self, who: str) -> set[str]:
        """What the job must not start for."""
        found = set()
        if self.chuck_as_typed != CHUCK or self.retired or self.plate_differs or self.stands_on != MACHINE:
            found.add("chuck")
        if self.jaws_as_typed != JAWS or self.jaws_retired:
            found.add("jaws")
        if self.jaws_as_typed == JAWS:
            for one in self.jaws():
                cut = one.cut
                if cut is not None and (abs(cut.diameter - WANTED_BORE) > 0.1 or cut.side != WANTED_SIDE):
                    found.add("jaws")
                if cut is not None and self.chuck_as_typed and cut.chuck != CHUCK:
                    found.add("jaws")
                if one.condition in ("scrap", "skim first") or one.missing:
                    found.add("jaws")
                if one.holder and one.holder != who:
                    found.add("jaws")
        if self.drawings() != {REVISION}:
            found.add("part")
        if self.newest is not None and self.newest > self.now + timedelta(minutes=10):
            found.add("clock")
        return found

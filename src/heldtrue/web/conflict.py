"""Two that typed into one field."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from heldtrue.web import texts


@dataclass(frozen=True)
class Conflict:
    """What the draft has in place of what this page had last shown: the text, when it came, from whom if known."""

    theirs: str
    when: datetime | None
    who: str

    def words(self, mine: str) -> str:
        """What is said at the field."""
        when = texts.CONFLICT_WHEN.format(when=self.when) if self.when else ""
        theirs, own = (f'"{one}"' if one else texts.CONFLICT_NOTHING for one in (self.theirs, mine))
        return texts.CONFLICT.format(who=self.who or texts.CONFLICT_SOMEBODY, theirs=theirs, when=when, mine=own)

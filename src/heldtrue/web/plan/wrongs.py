"""What is missing or wrong in a setup that is being typed, looked up once for each state of it."""

from __future__ import annotations

from heldtrue.web.desk import Live
from heldtrue.web.places import Point, said_of_it


class Wrongs:
    """Of one draft."""

    def __init__(self, live: Live) -> None:
        self.live = live
        self._looked: tuple[object, list[Point]] | None = None

    def points(self) -> list[Point]:
        """What is missing or to be put right."""
        table = self.live.draft.table
        if self._looked is None or self._looked[0] is not table:
            self._looked = (table, self.live.draft.points())
        return self._looked[1]

    def at(self, path: str) -> list[str]:
        """What is wrong with the value at a path, in words."""
        waiting = self.live.draft.problems.get(path)
        found = waiting or [one.problem for one in self.points() if one.path == path and not one.missing]
        return [said_of_it(self.live.draft.table, one) for one in found]

"""What the jaws of a way to hold would cost the shop, by its shelf."""

from __future__ import annotations

from heldtrue.errors import HeldtrueError
from heldtrue.planning.setup import Setup
from heldtrue.planning.way_space import WayToTry
from heldtrue.planning.ways import RECUT, REFIT, SKIM, Cost, cost_of
from heldtrue.records import Store
from heldtrue.shop.shelf import wanted_of

_COSTS = {"re-fit": REFIT, "skim": SKIM, "re-cut": RECUT}


def costs_on(store: Store) -> Cost:
    """What a way costs with the sets of these records: one that nobody has, and no jaw of which is missing."""

    def cost(way: WayToTry, setup: Setup) -> tuple[str, str]:
        known = cost_of(way, setup)
        if way.is_stated or way.needs_chuck or way.chuck:
            return known
        try:
            matches = store.find(wanted_of(setup)).matches
        except HeldtrueError:
            return known
        free = next((one for one in matches if not one.standing.holder and not one.standing.missing), None)
        return known if free is None else (_COSTS[free.cost], free.standing.jaw_set)

    return cost

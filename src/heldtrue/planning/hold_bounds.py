"""Both ends of the grip that every load needs at a spindle limit, from what is solved already and nothing new.

Most speeds that are tried while the highest one is looked for are plainly held or plainly not.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import inf

import numpy as np

from heldtrue.mechanics.holding import ALMOST, Holding, most_needed, unit_needs
from heldtrue.planning.holds import Case, HeldLoad, Holds, Rule
from heldtrue.planning.loads import Load, loads

NO_LIMIT = Holding(inf, "none", 0.0)
"""Of a bound nothing is known but its size."""
Bounds = tuple[tuple[HeldLoad, ...], tuple[HeldLoad, ...]]


def hold_bounds(holds: Holds, limit: float) -> Bounds | None:
    """Every load with at most what it needs by each rule, and with at least that; None where nothing is solved yet.

    ``limit``: spindle limit [rev/min].  From below: power on a motion that the grip allows is grip that is needed.
    From above: ``most_needed``, from the solved cases of the same load.
    """
    by_rule = [_ends(holds, rule, loads(holds.job, rule.values, limit), limit) for rule in holds.rules]
    if any(ends is None for ends in by_rule):
        return None
    published, worst = (ends for ends in by_rule if ends is not None)
    low, high = (tuple(HeldLoad(name, published[name][end], worst[name][end]) for name in worst) for end in (0, 1))
    return low, high


def _ends(holds: Holds, rule: Rule, every: Iterable[Load], limit: float) -> dict[str, tuple[Case, Case]] | None:
    """Least and most that each load needs by one rule, by name."""
    by_name: dict[str, list[Load]] = {}
    for load in every:
        by_name.setdefault(load.name, []).append(load)
    motions = holds.motions(rule)
    found = {}
    for name, cases in by_name.items():
        solved = holds.solved.get((rule.grip, name))
        if solved is None or not motions:
            return None
        spread = holds.spread(rule, cases)
        # A motion is right to the accuracy that is asked of the solver, and an end must not cross what it bounds.
        at_least = (1 - 10 * ALMOST) * np.maximum((spread.vectors @ np.array(motions).T).max(axis=1), 0.0)
        vectors, needs = np.array(list(solved)), np.array(list(solved.values()))
        at_most = most_needed(spread.vectors, vectors, needs, unit_needs(rule.grip))
        ends = (float(rule.needs_of(one, spread.lost).max()) for one in (at_least, at_most))
        least, most = (Case(cases[0], NO_LIMIT, need, limit) for need in ends)
        found[name] = (least, most)
    return found

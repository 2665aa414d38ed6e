"""How unlike the jaws of a chuck centre one part twice: from parts clamped again, used for causes.  mm, rad."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from math import exp, log, sqrt

import numpy as np

from heldtrue.errors import InputError
from heldtrue.inspection.indicator import IndicatorResult, read_indicator
from heldtrue.inspection.learning import Accepted, Prior
from heldtrue.inspection.readings import Trace
from heldtrue.planning.setup import Setup
from heldtrue.records import ChuckRecord, Store
from heldtrue.sentences import sentence
from heldtrue.shop.enter import chuck_in_use
from heldtrue.shop.learned import NEAREST, Knowledge, accept, agrees, learned_of

PRIOR = Prior(0.0015, 4.0)
"""What is assumed of a chuck nobody read: our own judgement, no source."""
UNLIKE = 3.0
"""Factor by which two chucks of one shop differ, 95 %: our own judgement, no source."""
FEWEST = 3
"""Clampings of one part that make a reading."""
LEAST_MM = 0.0002
"""No chuck is said to centre better."""


def centring_reading(results: Sequence[IndicatorResult], what: str = "") -> Accepted:
    """Scatter of the centre from clamping to clamping, a standard deviation in each direction [mm].

    ``results``: traces of one part, clamped anew for each at the same turn and pressure.
    Raises: ``InputError`` for fewer than ``FEWEST`` such traces.
    """
    held = [one for one in results if _is_held(one.trace)]
    squares, freedom, noise = 0.0, 0, []
    for _, some in groupby(sorted(held, key=lambda r: _alike(r.trace)), lambda r: _alike(r.trace)):
        alike = list(some)
        centre = np.array([[one.eccentricity.cosine, one.eccentricity.sine] for one in alike])
        squares += float(((centre - centre.mean(axis=0)) ** 2).sum())
        freedom += 2 * (len(alike) - 1)
        noise += [one.eccentricity.uncertainty for one in alike]
    if freedom < 2 * (FEWEST - 1):
        raise InputError(f"found {len(held)} clampings; at least {FEWEST} of one part at the same turn and pressure "
                         "say how it is centred: clamp again, read, number them in a column clamping")  # fmt: skip
    spread = squares / freedom - float(np.mean(np.square(noise)))
    # Of a standard deviation with so many degrees of freedom: any textbook.
    return Accepted(sqrt(max(spread, LEAST_MM**2)), 1.0 / sqrt(2 * freedom), what)


def _is_held(one: Trace) -> bool:
    return one.state in ("clamped", "not said")


def _held(traces: Sequence[Trace]) -> list[Trace]:
    return [one for one in traces if _is_held(one)]


def _alike(one: Trace) -> tuple[float, float, tuple[float, ...]]:
    return round(one.turned, 6), one.pressure or 0.0, one.planes


def is_clamped_again(traces: Sequence[Trace]) -> bool:
    """Are there so many clampings of one part in these traces that they make a reading?"""
    return any(count >= FEWEST for count in Counter(map(_alike, _held(traces))).values())


def accept_centring(
    store: Store, card: ChuckRecord, setup: Setup, traces: Sequence[Trace], by: str, at: datetime
) -> list[str]:
    """Keep what a part clamped again says with the chuck; in words what was kept."""
    results = [read_indicator(one, jaws=setup.jaws.count or setup.chuck.jaws) for one in _held(traces)]
    reading = centring_reading(results, f"{len(results)} clampings, {at:%Y-%m-%d} {by}")
    accept(store, card, "centring", reading, by, at, style=setup.jaws.style)
    return [
        sentence(
            "accepted for {} jaws on chuck {}: a part clamped {} times is centred within {:.4f mm} "
            "(standard deviation)",
            setup.jaws.style,
            card.id,
            len(results),
            reading.value,
        )
    ]


def learned_centring(store: Store, card: ChuckRecord, style: str, *, alone: bool = False) -> Knowledge:
    """What is known of the centring of jaws of a style on a chuck; ``alone``: as in ``learned_of``."""
    name = f"centring of {style} jaws on chuck {card.id}, part clamped again"
    return learned_of(store, card, "centring", style, name, PRIOR, UNLIKE, alone=alone)


@dataclass(frozen=True)
class Centring:
    """Two scatters that stand for what is known of a chuck [mm], and in words what that is."""

    scatters: tuple[float, float]
    words: str


def known_centring(store: Store, setup: Setup) -> Centring | None:
    """What the records know of the centring of this chuck; None where readings that agree are missing.

    Never nearer than a factor of ``NEAREST`` either way, at 95 %.
    """
    card = chuck_in_use(store, setup)
    if card is None:
        return None
    known = learned_centring(store, card, setup.jaws.style, alone=True)
    one = known.learned
    if not agrees(one):
        return None
    half = max(log(one.high / one.median), log(one.median / one.low), log(NEAREST)) / 1.96
    return Centring((one.median * exp(-half), one.median * exp(half)), known.sentence(setup.units))

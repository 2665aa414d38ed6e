"""What decides a check: how its margin is spread, and each input's share of that spread.

Shares are first-order Sobol indices, from the means over slices of one input: I. M. Sobol, "Sensitivity estimates for
nonlinear mathematical models", Mathematical Modelling and Computational Experiments 1 (1993) 407-414 (from memory).
Inputs are drawn independently of each other; share and pressure lost before the grip of a chuck that was read go
through one point and are nearly so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heldtrue.planning.judge import Setting
from heldtrue.planning.odds.odds import LimitStates
from heldtrue.planning.odds.reliability import DRAWS, normals
from heldtrue.planning.result import Check
from heldtrue.planning.study import Study

Array = NDArray[np.float64]

SLICES = 64
LEAST_SHARE = 0.01
BINS = 40


@dataclass(frozen=True)
class InputShare:
    """One input: its ``name`` and ``label``, and its share of the spread of a margin."""

    name: str
    label: str
    share: float


@dataclass(frozen=True)
class Decides:
    """How the margin of one check is spread.

    ``edges`` (bins + 1) and ``counts`` (bins) of the margin, as a share of what is usual; 0 is the limit.  ``shares``:
    largest first, those over 1 %; ``together``: what inputs do only together.
    """

    check: str
    edges: Array
    counts: Array
    shares: tuple[InputShare, ...]
    together: float


def decides(study: Study, setting: Setting, check: Check) -> Decides | None:
    """What decides a check; None where nothing that is drawn moves it."""
    found = LimitStates(study, setting).margin(check)
    if found is None:
        return None
    draws, margin = found
    points = normals(DRAWS, draws.dimension)
    values = margin(draws.values(points))
    whole = float(values.var())
    if not draws.names or whole < 1e-18:
        return None
    shares = []
    for column, name in enumerate(draws.names):
        order = np.argsort(points[:, column])
        means = values[order].reshape(SLICES, -1).mean(axis=1)
        # Means over few draws spread by themselves.
        own = max(float(means.var()) - whole * (SLICES - 1) / len(values), 0.0) / whole
        shares.append(InputShare(name, study.job.known[name].label, own))
    low, high = np.quantile(values, [0.001, 0.999])
    counts, edges = np.histogram(np.clip(values, low, high), bins=BINS, range=(min(low, 0.0), max(high, 0.0)))
    seen = sorted((one for one in shares if one.share >= LEAST_SHARE), key=lambda one: -one.share)
    together = max(1 - sum(one.share for one in shares), 0.0)
    return Decides(check.name, edges, counts.astype(float), tuple(seen), together)

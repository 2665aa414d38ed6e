"""The steps of the last cut of a set against those that a setup asks for."""

from __future__ import annotations

from collections.abc import Sequence

from heldtrue.planning.entries import BoreStep
from heldtrue.planning.inputs import prepare
from heldtrue.planning.jaw_layout import nest_of, seat_reach
from heldtrue.planning.setup import Setup
from heldtrue.tooling.old_steps import run_as_they_are

Pair = tuple[float, float]


def pairs_of(steps: Sequence[BoreStep] | None) -> tuple[Pair, ...] | None:
    """Diameter and height above the seat of every step; None: not known. [mm]"""
    return None if steps is None else tuple((one.diameter, one.z) for one in steps)


def steps_fit(setup: Setup, stand: Sequence[Pair]) -> bool:
    """Does the bore that a setup asks for find these steps where it has its own, and metal where the part bears?

    ``stand``: diameter and height above the seat of every step in the jaws, bored to the diameter that is asked. [mm]
    """
    nest = nest_of(setup)
    if not stand and not nest.steps:
        return True
    job = prepare(setup)
    out = 1.0 if job.grip_is_outside else -1.0
    there = [(diameter / 2, z) for diameter, z in stand]
    return run_as_they_are(there, nest, job.bore_radius, out, seat_reach(job))

"""The last cut of a set, its steps and its depth, against what a setup asks for."""

from __future__ import annotations

from collections.abc import Sequence

from heldtrue.planning.entries import BoreStep
from heldtrue.planning.hardware import gripped_surface, planned_depth
from heldtrue.planning.inputs import prepare
from heldtrue.planning.jaw_layout import nest_of, seat_reach
from heldtrue.planning.setup import Setup
from heldtrue.tooling.bore import FREE_SURFACE_MM
from heldtrue.tooling.old_steps import run_as_they_are

Pair = tuple[float, float]
DEPTH_OFF_MM = 0.3
"""So much shallower or deeper than wanted a bore still does: common practice, no source (a skim of the seat)."""


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


def depth_fits(setup: Setup, depth: float | None) -> bool:
    """Does the part stand in a bore so deep as its plan counts on: gripped over its length, clear of the fronts?

    ``depth``: of the last cut, front to seat [mm]; None, not known, is for others to say.
    """
    if depth is None:
        return True
    job = prepare(setup)
    planned = planned_depth(job)
    if depth < planned - DEPTH_OFF_MM:
        return False
    # Every skim of the seat goes deeper, up to where the jaws would reach past the gripped surface.
    most = max(planned, gripped_surface(job)[1] - FREE_SURFACE_MM) + DEPTH_OFF_MM
    return depth <= most or bool(nest_of(setup).before)


def planned_depth_of(setup: Setup) -> float:
    """Front of the jaws to the seat as the plan of a setup has it. [mm]"""
    return planned_depth(prepare(setup))

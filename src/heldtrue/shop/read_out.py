"""All that is shown of indicator readings, whatever it is shown on.  Units: mm, MPa, rad."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heldtrue.inspection import rank_causes, read_indicator, runout_budget
from heldtrue.inspection.budget import Budget
from heldtrue.inspection.causes import Diagnosis, Made
from heldtrue.inspection.indicator import IndicatorResult
from heldtrue.inspection.readings import Trace
from heldtrue.planning.setup import Setup, Surface
from heldtrue.shop.against_plan import AgainstPlan, Expected, beside, grip_middle


@dataclass(frozen=True)
class ReadOut:
    """What each trace says, what they say together, and what the plan says to that where there is one."""

    results: tuple[IndicatorResult, ...]
    found: Diagnosis
    beside: AgainstPlan | None = None
    budget: Budget | None = None


def read_out(
    traces: Sequence[Trace], jaws: int, *, resolution: float | None = None, grip_side: str | None = None,
    tolerance: float | None = None, setup: Setup | None = None, surface: Surface | None = None,
    plan: Expected | None = None, made: Made = "",
) -> ReadOut:  # fmt: skip
    """Read the traces of one part in one set of jaws.  This solves nothing: it takes milliseconds.

    ``resolution``: one division of the dial [mm]; ``grip_side``: that of the setup, or outside, if left out;
    ``tolerance`` of the run-out, that of the surface if left out [mm]; ``plan``: what it expects of the surface;
    ``made``: was the surface turned ``here``, in the clamping of the first trace, or ``before``.
    Raises: ``InputError`` for readings that cannot be.
    """
    radius = surface.diameter / 2 if surface is not None and surface.diameter else None
    results = tuple(read_indicator(one, jaws=jaws, resolution=resolution, radius=radius) for one in traces)
    if setup is None:
        found = rank_causes(results, grip_side=grip_side or "outside", made=made)
    else:
        found = rank_causes(results, grip_side=grip_side or setup.grip.side, grip_z=grip_middle(setup), made=made)
    if plan is not None:
        compared = beside(plan, results, found, tolerance)
        return ReadOut(results, found, compared, compared.budget)
    asked = tolerance if tolerance is not None or surface is None else surface.runout
    return ReadOut(results, found, budget=None if asked is None else runout_budget(found, asked))

"""All that is shown of indicator readings, whatever it is shown on.  Units: mm, MPa, rad."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from heldtrue.inspection import rank_causes, read_indicator, runout_budget
from heldtrue.inspection.budget import Budget
from heldtrue.inspection.causes import Diagnosis, Made
from heldtrue.inspection.indicator import IndicatorResult
from heldtrue.inspection.readings import Trace
from heldtrue.planning.setup import Setup, Surface
from heldtrue.sentences import sentence
from heldtrue.shop.against_plan import AgainstPlan, Expected, beside, grip_middle
from heldtrue.shop.learned_repeat import repeat_of
from heldtrue.shop.taught import Taught


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
    plan: Expected | None = None, made: Made = "", taught: Taught | None = None, dial: str = "",
) -> ReadOut:  # fmt: skip
    """Read the traces of one part in one set of jaws.  This solves nothing: it takes milliseconds.

    ``resolution``: one division of the dial [mm]; ``grip_side``: that of the setup, or outside, if left out;
    ``tolerance`` of the run-out, that of the surface if left out [mm]; ``plan``: what it expects of the surface;
    ``made``: was the surface turned ``here``, in the clamping of the first trace, or ``before``; ``taught``: what the
    records know of this chuck; ``dial``: the number of the dial that was read, '' where nobody said.
    Raises: ``InputError`` for readings that cannot be.
    """
    radius = surface.diameter / 2 if surface is not None and surface.diameter else None
    results = tuple(read_indicator(one, jaws=jaws, resolution=resolution, radius=radius) for one in traces)
    side, middle = ("outside", 0.0) if setup is None else (setup.grip.side, grip_middle(setup))
    centring = None if taught is None or len(results) < 2 else taught.centring
    repeat = None if taught is None else repeat_of(taught.repeats, dial, results)
    found = rank_causes(results, grip_side=grip_side or side, grip_z=middle, made=made,
                        centring=None if centring is None else centring.scatters,
                        repeat=None if repeat is None else (repeat.scatter, repeat.factor))  # fmt: skip
    rests = [sentence("this rests on the {}", one.words) for one in (centring, repeat) if one is not None]
    found = replace(found, words=(*found.words, *rests))
    if plan is not None:
        compared = beside(plan, results, found, tolerance)
        return ReadOut(results, found, compared, compared.budget)
    asked = tolerance if tolerance is not None or surface is None else surface.runout
    return ReadOut(results, found, budget=None if asked is None else runout_budget(found, asked))

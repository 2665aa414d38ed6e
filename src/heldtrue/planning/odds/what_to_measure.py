"""One answer to "what should I measure": the plan, what decides its leading check, and every measurement ranked."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from heldtrue.planning.known import Known
from heldtrue.planning.odds.measurements import Measurement, Pair, best_pair, measurements
from heldtrue.planning.odds.odds import with_odds
from heldtrue.planning.odds.shares import Decides, decides
from heldtrue.planning.plan import plan_study
from heldtrue.planning.result import PASSES, Plan
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.window import setting_of


@dataclass(frozen=True)
class WhatToMeasure:
    """``found``: the measurement that pays most first; ``pair``: two that together do more, if any do.

    ``decided``: None where nothing that is drawn moves the leading check; ``known``: every input by name.
    """

    plan: Plan
    found: tuple[Measurement, ...]
    pair: Pair | None
    decided: Decides | None
    known: Mapping[str, Known]


def what_to_measure(setup: Setup, *, progress: Callable[[str], None] = lambda _: None) -> WhatToMeasure:
    """What to measure for one setup.  Raises: as ``plan``."""
    study = Study.of(setup)
    # No remedies: they take longer than the plan, and nobody shows them here.
    made = plan_study(study, helped=False)
    setting, leading = setting_of(study, made.pressure), made.answer.leading
    made = replace(made, checks=with_odds(study, setting, made.checks))
    decided = None if leading is None else decides(study, setting, leading)
    found = measurements(study, made.pressure, progress=progress)
    pair = None if made.verdict == PASSES else best_pair(study, found)
    return WhatToMeasure(made, found, pair, decided, study.job.known)

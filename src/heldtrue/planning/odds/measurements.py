"""Which one measurement pays: what each would do to the window and to the verdict, before anybody makes it.

What a measurement may find is drawn from what is known of the input (preposterior analysis: H. Raiffa, R. Schlaifer,
Applied Statistical Decision Theory, 1961, from memory).  Each finding is put in the setup as a user would enter it,
and the judge decides; only the loads are held by the motions that are known already, as for a knob.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from heldtrue.errors import HeldtrueError
from heldtrue.planning.caveats import caveats_of
from heldtrue.planning.judge import is_passed, judge, plates, under_cut
from heldtrue.planning.odds.assumptions import keys_of
from heldtrue.planning.odds.measuring_table import Ask, asks_of
from heldtrue.planning.odds.spreads import spread_of
from heldtrue.planning.result import PressureAdvice
from heldtrue.planning.study import Study
from heldtrue.planning.window import advise_pressure, highest_pressure, setting_of, steady_floor

SHARES, PASSING_SHARES = (0.05, 0.35, 0.65, 0.95), (0.25, 0.75)
"""Shares of a spread at which a finding is tried first; where the plan passes only its window can still move."""
HALVINGS = 3
"""Between two findings of another verdict the change is closed in on so often: to 3 % of the spread."""

OF_FORM = ("jaw base", "jaw bore", "part size", "part roundness", "part yield", "jaw yield")
"""Inputs that neither a load nor a plate depends on."""
OF_LOADS = ("wear", "interruption", "cutting data", "off centre", "spin-up", "part mass", "seat")
"""Inputs that only loads depend on."""
SAME = 1e-6
ENOUGH, PAIRED, PAIR_FINDINGS = 0.9, 4, 8
"""Two together are looked for where no single one is as good as this; among so many, with so many findings of each."""


@dataclass(frozen=True)
class Window:
    """Floor and ceiling of the step that has least room [MPa], floor above ceiling where there is none; ``steps``: how
    many pressures the job needs."""

    floor: float
    ceiling: float
    steps: int = 1

    @property
    def width(self) -> float:
        """How much room there is; negative where it lacks. [MPa]"""
        return self.ceiling - self.floor


@dataclass(frozen=True)
class Measurement:
    """One measurement: ``chance`` that it turns the plan into a pass (0 where it passes already), the window now and
    expected after it; ``ask``: what it is and how long it takes, ``keys`` of the setup file where it is entered;
    ``guessed``: a yes or no that nobody can put odds on, counted as one in two."""

    name: str
    label: str
    ask: Ask
    keys: tuple[str, ...]
    chance: float
    now: Window
    after: Window
    guessed: bool


@dataclass(frozen=True)
class Pair:
    """Two measurements made together, and the chance that both turn the plan into a pass."""

    names: tuple[str, str]
    chance: float


@dataclass(frozen=True)
class Found:
    """What the plan would be after one finding."""

    passes: bool
    window: Window


def measurements(
    study: Study, advice: PressureAdvice, *, progress: Callable[[str], None] = lambda _: None
) -> tuple[Measurement, ...]:
    """The measurements a shop could make, the one that pays most first; ``advice``: the window of the plan."""
    quick_study = study.again({}, by_motions=True)
    now, quick = _window(advice), _state(quick_study)
    top = highest_pressure(study)[0]
    # Where plates end every step, what only form and strength depend on cannot open it any further.
    by_plates = all(step.ceiling >= top * (1 - SAME) for step in advice.steps)
    # Where the cylinder alone asks for more pressure, what only loads depend on cannot lower the floor.
    by_cylinder = all(step.floor <= steady_floor(study.job) * (1 + SAME) for step in advice.steps)
    found = []
    for name, ask in asks_of(study.job).items():
        progress(ask.what)
        if (name in OF_FORM and by_plates) or (name in OF_LOADS and by_cylinder and quick.passes):
            found.append(
                Measurement(
                    name, study.job.known[name].label, ask, keys_of(name, study.job), 0.0, now, now, guessed=False
                )
            )
            continue
        one = _worth(study, name, ask, now, quick, quick_study)
        if one is not None:
            found.append(one)
    return tuple(sorted(found, key=_rank))


def best_pair(study: Study, found: Sequence[Measurement]) -> Pair | None:
    """The two measurements that together most likely turn the plan into a pass; None where no two do, or one does."""
    if not found or found[0].chance >= ENOUGH:
        return None
    moving = [one for one in found if one.after != one.now][:PAIRED]
    shares = np.array([(place + 0.5) / PAIR_FINDINGS for place in range(PAIR_FINDINGS)])
    pairs = []
    for first, second in combinations(moving, 2):
        # Every share of the one with a share of the other, each once (a Latin square's diagonal, shuffled alike).
        others = np.random.default_rng(PAIR_FINDINGS).permutation(shares)
        tried = [_together(study, (first, float(a)), (second, float(b))) for a, b in zip(shares, others, strict=True)]
        planned = [one for one in tried if one is not None]
        if planned:
            pairs.append(Pair((first.name, second.name), sum(one.passes for one in planned) / len(planned)))
    best = max(pairs, key=lambda pair: pair.chance, default=None)
    return best if best is not None and best.chance > found[0].chance else None


def _together(study: Study, *asked: tuple[Measurement, float]) -> Found | None:
    job = study.job
    try:
        changes = [one.ask.found(job, _value(study, one.name, one.ask, share)) for one, share in asked]
        return _state(study.again({key: value for change in changes for key, value in change.items()},
                                  by_motions=True))  # fmt: skip
    except HeldtrueError:
        return None


def _value(study: Study, name: str, ask: Ask, share: float) -> float:
    """What a measurement finds at a share of all that it may find."""
    if ask.values is not None:
        return ask.values[min(int(share * len(ask.values)), len(ask.values) - 1)]
    return float(spread_of(study.job.known[name], study.job).at(np.array([share]))[0])


def _rank(one: Measurement) -> tuple[float, int, float, float]:
    gain = one.after.width - one.now.width
    return -round(one.chance, 2), one.after.steps, -round(gain, 4), one.ask.minutes


def _worth(study: Study, name: str, ask: Ask, now: Window, quick: Found, quick_study: Study) -> Measurement | None:
    """What one measurement is worth; None where none of its findings can be planned.

    ``quick``, ``quick_study``: what the same quick look says of the plan as it is.
    """

    def after(share: float) -> Found | None:
        try:
            found = study.again(ask.found(study.job, _value(study, name, ask, share)), by_motions=True)
            if found.presses_as(quick_study):
                found.crossings = quick_study.crossings
            return _state(found)
        except HeldtrueError:
            return None  # a finding that contradicts what is stated is none

    count = 0 if ask.values is None else len(ask.values)
    few = PASSING_SHARES if quick.passes else SHARES
    shares = few if ask.values is None else tuple((i + 0.5) / count for i in range(count))
    tried = [(share, one) for share in shares if (one := after(share)) is not None]
    if not tried:
        return None
    if ask.values is None:
        tried = _closed_in(tried, after)
    weights = _weights([share for share, _ in tried], even=ask.values is not None)
    weighted = [(weight, one) for weight, (_, one) in zip(weights, tried, strict=True)]
    chance = 0.0 if quick.passes else float(sum(weight for weight, one in weighted if one.passes))
    return _of(study, name, ask, chance, now, _expected(weighted, now, quick.window))


def _of(study: Study, name: str, ask: Ask, chance: float, now: Window, after: Window) -> Measurement:
    job, guessed = study.job, ask.values is not None and len(ask.values) > 1
    return Measurement(name, job.known[name].label, ask, keys_of(name, job), chance, now, after, guessed)


def _expected(weighted: Sequence[tuple[float, Found]], now: Window, quick: Window) -> Window:
    """The mean of the windows found, of the more frequent number of pressures, by how far they are from that of now."""
    by_steps: dict[int, float] = {}
    for weight, one in weighted:
        by_steps[one.window.steps] = by_steps.get(one.window.steps, 0.0) + weight
    steps = max(by_steps, key=lambda count: by_steps[count])
    some = [(weight / by_steps[steps], one.window) for weight, one in weighted if one.window.steps == steps]
    floor, ceiling = (sum(weight * getattr(window, end) for weight, window in some) for end in ("floor", "ceiling"))
    if steps == now.steps:
        # The quick look rounds both ends alike, before and after.
        floor, ceiling = now.floor + floor - quick.floor, now.ceiling + ceiling - quick.ceiling
    return Window(floor, ceiling, steps)


def _closed_in(tried: list[tuple[float, Found]], after: Callable[[float], Found | None]) -> list[tuple[float, Found]]:
    """More findings where the verdict changes."""
    found = list(tried)
    for (low, at_low), (high, at_high) in itertools.pairwise(tried):
        if at_low.passes == at_high.passes:
            continue
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            one = after(middle)
            if one is None:
                break
            found.append((middle, one))
            low, high = (middle, high) if one.passes == at_low.passes else (low, middle)
    return sorted(found, key=lambda pair: pair[0])


def _weights(shares: Sequence[float], *, even: bool) -> list[float]:
    """The share of all findings that each one stands for: as far as half way to its neighbours."""
    if even or len(shares) == 1:
        return [1 / len(shares)] * len(shares)
    middles = [0.0, *((a + b) / 2 for a, b in itertools.pairwise(shares)), 1.0]
    return [b - a for a, b in itertools.pairwise(middles)]


def _state(study: Study) -> Found:
    """Verdict and window of a study, by the judge's checks."""
    advice = advise_pressure(study)
    passes = advice.has_window and not caveats_of(study.job.setup)
    if study.job.setup.stated_pressure is not None:
        passes = passes and is_passed(judge(study, setting_of(study, advice)))
    else:
        # A window is where all checks pass but these, which no pressure moves.
        passes = passes and is_passed([*plates(study.job, advice.used, study.speed), *under_cut(study)])
    return Found(passes, _window(advice))


def _window(advice: PressureAdvice) -> Window:
    tight = min(advice.steps, key=lambda step: step.ceiling - step.floor)
    return Window(tight.floor, tight.ceiling, len(advice.steps))

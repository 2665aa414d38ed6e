"""How should this part be held: every way that jaws could take it, the best few worked out in full.

Ways are dropped by geometry, then by bounds on the safe side (``way_bounds``): what cannot be held at any pressure,
what cannot come off round, and what another way beats in everything even if all went as well as the bound allows.  What
is left is planned in full, the most promising of every surface first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from math import inf
from multiprocessing import get_context
from time import perf_counter
from typing import Any

from heldtrue.errors import HeldtrueError
from heldtrue.planning.inputs import prepare
from heldtrue.planning.plan import plan_study
from heldtrue.planning.result import CUT, FAILS, FORM, HOLD, LEFT, NOT_PROVEN, PASSES, Plan
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.way_bounds import Bound, bound_of
from heldtrue.planning.way_space import Candidate, candidates, places
from heldtrue.tooling.jaws import STYLES

MOST_PLANNED = 12
AT_ONCE = 4
"""Ways planned between two looks at what is beaten: the same number whatever machine this is."""
ALIKE = 0.02
"""Measures this near are the same."""
AMPLE = 9.99
"""More to spare than this is as good."""
AS_STATED, REFIT, SKIM, RECUT, NEW, OTHER_CHUCK = "as stated", "re-fit", "skim", "re-cut", "new jaws", "another chuck"
COSTS = (AS_STATED, REFIT, SKIM, RECUT, NEW, OTHER_CHUCK)
"""What a way costs, the least first."""
NOT_HELD, NOT_ROUND, CANNOT_BE, BEATEN, LEFT_OUT = "not held", "not round", "cannot be", "beaten", "left out"
"""Why a way is dropped, besides the reasons of ``way_space``."""
RANK = {PASSES: 0, NOT_PROVEN: 1, FAILS: 2}
Measures = tuple[float, float, float, int]


@dataclass(frozen=True)
class RankedWay:
    """One way that was planned in full.

    ``hold``, ``form``: least margin of holding and of form, as shares of the limit; ``window``: highest over lowest
    pressure of the narrowest step, 0 where a step has none; ``cost``: one of ``COSTS``, ``jaw_set``: number of the set
    of the shelf that it takes.
    """

    candidate: Candidate
    setup: Setup
    plan: Plan
    hold: float
    form: float
    window: float
    cost: str
    jaw_set: str = ""

    @property
    def measures(self) -> Measures:
        """What ways are compared by: more is better, but for the place in ``COSTS``."""
        return self.hold, min(self.form, 1.0), self.window, COSTS.index(self.cost)


@dataclass(frozen=True)
class Drop:
    """Ways that were dropped for one reason: ``at_best``, of them the one that came nearest.

    ``need``, ``limit``: what it would need, against what there is: pressures [MPa], or shares of the allowed form; of a
    surface that is blocked, the diameter in the way [mm].
    """

    reason: str
    side: str
    diameter: float
    count: int
    at_best: Candidate | None = None
    need: float = 0.0
    limit: float = 0.0
    what: str = ""


@dataclass(frozen=True)
class Ways:
    """The answer: ``best`` first; ``beaten``: planned in full, and another is better in everything; ``dropped`` before
    that; ``looked_at``: number of ways; ``stopped``: did somebody stop the search?"""

    setup: Setup
    best: tuple[RankedWay, ...]
    beaten: tuple[RankedWay, ...]
    dropped: tuple[Drop, ...]
    looked_at: int
    planned: int
    seconds: float
    stopped: bool = False


Cost = Callable[[Candidate, Setup], tuple[str, str]]
"""What the jaws of a way cost, and the set of the shelf that serves."""


def ways(
    setup: Setup, styles: Sequence[str] = STYLES, *, cost: Cost | None = None, most: int = MOST_PLANNED,
    processes: int = 1, progress: Callable[[str], None] | None = None,
) -> Ways:  # fmt: skip
    """Every way to hold the part of a setup with jaws, ranked.

    ``cost``: what the shelf has, else everything but the stated jaws is new; ``most``: ways planned in full;
    ``processes`` side by side (the answer is the same); ``progress`` is told how far it is.  Stopped by Ctrl-C, it
    gives what is there.
    Raises: ``InputError`` for a setup that cannot be planned.
    """
    return _Search(setup, styles, cost or cost_of, most, progress or (lambda _: None)).run(processes)


def cost_of(candidate: Candidate, _: Setup) -> tuple[str, str]:
    """What a way costs where nothing is known of the shelf."""
    if candidate.is_stated:
        return AS_STATED, ""
    return (OTHER_CHUCK if candidate.needs_chuck else NEW), ""


@dataclass
class _Search:
    setup: Setup
    styles: Sequence[str]
    cost: Cost
    most: int
    progress: Callable[[str], None]
    planned: list[RankedWay] = field(default_factory=list)
    dropped: list[Drop] = field(default_factory=list)
    open: list[tuple[Candidate, Bound]] = field(default_factory=list)

    def run(self, processes: int) -> Ways:
        began = perf_counter()
        job = prepare(self.setup)
        where, none = places(job)
        tried = tuple(candidates(self.setup, job, where, self.styles))
        self.dropped = [
            Drop(one.reason, one.side, one.diameter, 1, limit=one.blocking or 0.0, what=one.cut) for one in none
        ]
        stopped = False
        with _pool(processes) as each:
            try:
                self._bound(tried, each)
                self._plan(each)
            except KeyboardInterrupt:
                stopped = True
        best, beaten = _front(self.planned)
        dropped = (*self.dropped, *self._beaten_drops(), *self._left_drops())
        return Ways(self.setup, best, beaten, dropped, len(tried) + len(none), len(self.planned),
                    perf_counter() - began, stopped)  # fmt: skip

    # Bounds

    def _bound(self, tried: Sequence[Candidate], each: _Each) -> None:
        """The bound of every way; what cannot be, is not held or is not round goes."""
        gone: dict[tuple[str, str, float], list[tuple[Candidate, float, float, str]]] = {}
        for number, (one, bound) in enumerate(zip(tried, each(_bounded, ((self.setup, one) for one in tried)),
                                                  strict=True)):  # fmt: skip
            if number % 10 == 0:
                self.progress(f"way {number + 1} of {len(tried)}")
            why = _why_not(bound)
            if why is None:
                assert isinstance(bound, Bound)
                self.open.append((one, bound))
            else:
                reason, need, limit, what = why
                key = reason, one.place.side, one.place.diameter
                gone.setdefault(key, []).append((one, need, limit, what))
        for (reason, side, diameter), of in gone.items():
            one, need, limit, what = min(of, key=lambda found: found[1] / found[2] if found[2] > 0 else inf)
            self.dropped.append(Drop(reason, side, diameter, len(of), one, need, limit, what))

    # Full plans

    def _plan(self, each: _Each) -> None:
        """Plan the most promising, until every way left is beaten or enough are planned."""
        while self.open and len(self.planned) < self.most:
            self._drop_beaten()
            taken = self._next(min(AT_ONCE, self.most - len(self.planned)))
            for pair in taken:
                self.open.remove(pair)
            self.progress(f"planning {len(self.planned) + 1} to {len(self.planned) + len(taken)}, "
                          f"{len(self.open)} more may be as good")  # fmt: skip
            for (one, _), found in zip(taken, each(_planned, ((self.setup, one) for one, _ in taken)), strict=True):
                if isinstance(found, str):
                    self.dropped.append(Drop(CANNOT_BE, one.place.side, one.place.diameter, 1, one, what=found))
                else:
                    cost, jaw_set = self.cost(one, found[0])
                    self.planned.append(replace(_measured(one, *found), cost=cost, jaw_set=jaw_set))
        self._drop_beaten()

    def _next(self, count: int) -> list[tuple[Candidate, Bound]]:
        """The stated way, then the most promising of each surface that was looked at least."""
        seen: dict[tuple[str, float], int] = {}
        for way in self.planned:
            seen[_surface(way.candidate)] = seen.get(_surface(way.candidate), 0) + 1
        left, taken = list(self.open), []
        for _ in range(min(count, len(left))):
            found = min(left, key=lambda pair: _order(pair[0], pair[1], seen))
            left.remove(found)
            taken.append(found)
            seen[_surface(found[0])] = seen.get(_surface(found[0]), 0) + 1
        return taken

    def _drop_beaten(self) -> None:
        """Take out what a planned way that passes beats even at its best."""
        passing = [way for way in self.planned if way.plan.verdict == PASSES]
        for one, bound in list(self.open):
            hoped = (min(bound.hold, AMPLE), 1 - bound.form, min(bound.window, AMPLE), COSTS.index(AS_STATED))
            by = next((way for way in passing if beats(way.measures, hoped)), None)
            if by is not None:
                self.open.remove((one, bound))
                self._beaten.append((one, by))

    _beaten: list[tuple[Candidate, RankedWay]] = field(default_factory=list)

    def _beaten_drops(self) -> Iterator[Drop]:
        by_surface: dict[tuple[str, float], int] = {}
        for one, _ in self._beaten:
            by_surface[_surface(one)] = by_surface.get(_surface(one), 0) + 1
        yield from (Drop(BEATEN, side, diameter, count) for (side, diameter), count in by_surface.items())

    def _left_drops(self) -> Iterator[Drop]:
        by_kind: dict[tuple[str, float, bool], list[tuple[Candidate, Bound]]] = {}
        for one, bound in self.open:
            by_kind.setdefault((*_surface(one), one.needs_chuck > 0), []).append((one, bound))
        for (side, diameter, _), of in by_kind.items():
            yield Drop(LEFT_OUT, side, diameter, len(of), max(of, key=lambda pair: _promise(pair[1]))[0])


def beats(one: Measures, other: Measures) -> bool:
    """Is one way as good as another in everything?"""
    return all(a >= b - ALIKE for a, b in zip(one[:3], other[:3], strict=True)) and one[3] <= other[3]


def _front(planned: Sequence[RankedWay]) -> tuple[tuple[RankedWay, ...], tuple[RankedWay, ...]]:
    """The ways that no other beats, and the rest, each best first: by verdict, then by the thinnest margin."""
    ranked = sorted(planned, key=lambda way: (RANK[way.plan.verdict], -min(way.hold, way.form), COSTS.index(way.cost)))
    best: list[RankedWay] = []
    beaten = []
    for way in ranked:
        rivals = [one for one in best if RANK[one.plan.verdict] <= RANK[way.plan.verdict]]
        if any(beats(one.measures, way.measures) for one in rivals) or (best and way.plan.verdict == FAILS):
            beaten.append(way)
        else:
            best.append(way)
    return tuple(best), tuple(beaten)


def _measured(one: Candidate, setup: Setup, made: Plan) -> RankedWay:
    """The measures of a planned way."""

    def least(groups: Sequence[str]) -> float:
        return min((min(check.margin, AMPLE) for check in made.checks if check.group in groups), default=AMPLE)

    form = least((FORM, CUT))
    steps = made.pressure.steps
    closed = any(step.recommended is None for step in steps)
    window = 0.0 if closed else min(min(step.ceiling / max(step.floor, 1e-9), AMPLE) for step in steps)
    return RankedWay(one, setup, made, least((HOLD, LEFT)), form, window, NEW)


def _promise(bound: Bound) -> float:
    """What may be hoped for: the smaller of what pressure and form leave."""
    return min(bound.window - 1, AMPLE) * max(1 - bound.form, 0.0)


def _order(one: Candidate, bound: Bound, seen: Mapping[tuple[str, float], int]) -> tuple[bool, bool, int, float]:
    """What is planned next comes first: the stated way, jaws for this chuck, surfaces looked at least, promise."""
    return not one.is_stated, one.needs_chuck > 0, seen.get(_surface(one), 0), -_promise(bound)


def _surface(one: Candidate) -> tuple[str, float]:
    return one.place.side, one.place.diameter


def _why_not(bound: Bound | str) -> tuple[str, float, float, str] | None:
    """Why a way is out, with what it would need against what there is; None where it may do."""
    if isinstance(bound, str):
        return CANNOT_BE, 1.0, 1.0, bound
    if not bound.is_held:
        return NOT_HELD, bound.floor, bound.top, bound.floor_by
    if not bound.is_round:
        return NOT_ROUND, bound.form, 1.0, bound.surface
    return None


# Work that any process may do


def _bounded(asked: tuple[Setup, Candidate]) -> Bound | str:
    setup, one = asked
    try:
        return bound_of(Study.of(one.setup_of(setup)))
    except HeldtrueError as error:
        return str(error)


def _planned(asked: tuple[Setup, Candidate]) -> tuple[Setup, Plan] | str:
    setup, one = asked
    try:
        taken = one.setup_of(setup)
        return taken, plan_study(Study.of(taken), helped=False)
    except HeldtrueError as error:
        return str(error)


_Each = Callable[[Callable[[Any], Any], Iterable[Any]], Iterable[Any]]


@contextmanager
def _pool(processes: int) -> Iterator[_Each]:
    """How work is done on every one of many, in order: here, or by some processes side by side."""
    if processes < 2:
        yield map
        return
    # Spawned, not forked: whoever asks may have threads, and a fork copies their locks.
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        try:
            yield lambda work, asked: pool.map(work, asked, chunksize=1)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise

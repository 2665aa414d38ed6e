"""How should this part be held: every way that jaws could take it, the best few worked out in full.

Ways are dropped by geometry, then by bounds on the safe side (``way_bounds``): what cannot be held at any pressure,
what cannot come off round, and what another way beats in everything even if all went as well as the bound allows.  What
is left is planned in full, the most promising of every surface first.
"""

from __future__ import annotations

import signal
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from math import inf
from multiprocessing import get_context
from time import perf_counter
from typing import Any

from heldtrue.errors import HeldtrueError
from heldtrue.planning.compare import RANK
from heldtrue.planning.inputs import prepare
from heldtrue.planning.other_holding import other_ways
from heldtrue.planning.other_way import OtherWay
from heldtrue.planning.plan import plan_study
from heldtrue.planning.result import CUT, FAILS, FORM, HOLD, LEFT, PASSES, Plan
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.way_bounds import Bound, bound_of
from heldtrue.planning.way_space import WayToTry, candidates, places
from heldtrue.tooling.jaws import STYLES

MOST_PLANNED = 12
"""Ways planned in full, if nobody asks for more."""
BOUNDED_AT_ONCE, AT_ONCE = 12, 4
"""Ways bounded, and planned, between two looks at what is known: the same number whatever machine this is."""
ALIKE = 0.02
"""Measures this near are the same."""
AMPLE = 9.99
"""More to spare than this is as good."""
AS_STATED, REFIT, SKIM, RECUT, NEW = "as stated", "re-fit", "skim", "re-cut", "new jaws"
SHOP_CHUCK, OTHER_CHUCK = "chuck of the shop", "another chuck"
COSTS = (AS_STATED, REFIT, SKIM, RECUT, NEW, SHOP_CHUCK, OTHER_CHUCK)
"""What a way costs, the least first; the last: a chuck that the shop has not."""
NOT_HELD, NOT_ROUND, CANNOT_BE, BEATEN, LEFT_OUT = "not held", "not round", "cannot be", "beaten", "left out"
"""Why a way is dropped, besides the reasons of ``way_space``."""
Measures = tuple[float, float, float, int]


@dataclass(frozen=True)
class RankedWay:
    """One way that was planned in full.

    ``hold``, ``form``: least margin of holding and of form, as shares of the limit; ``window``: highest over lowest
    pressure of the narrowest step, 0 where a step has none; ``cost``: one of ``COSTS``, ``jaw_set``: number of the set
    of the shelf that it takes.
    """

    candidate: WayToTry
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


Surface = tuple[str, float, str]
"""Side and diameter that are gripped, and the chuck of the shop; empty for the stated one."""


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
    at_best: WayToTry | None = None
    need: float = 0.0
    limit: float = 0.0
    what: str = ""

    @property
    def chuck(self) -> str:
        """The chuck of the shop that they were for; empty for the stated one."""
        return "" if self.at_best is None else self.at_best.chuck


@dataclass(frozen=True)
class Ways:
    """The answer: ``best`` first; ``beaten``: planned in full, and another is better in everything; ``dropped`` before
    that; ``others``: ways that are not jaws alone, looked for where no jaw passes; ``looked_at``: number of ways;
    ``stopped``: did somebody stop the search?"""

    setup: Setup
    best: tuple[RankedWay, ...]
    beaten: tuple[RankedWay, ...]
    dropped: tuple[Drop, ...]
    looked_at: int
    planned: int
    seconds: float
    stopped: bool = False
    others: tuple[OtherWay, ...] = ()


Cost = Callable[[WayToTry, Setup], tuple[str, str]]
"""What the jaws of a way cost, and the set of the shelf that serves."""
Chucks = Mapping[str, Setup | str]
"""The job on each other chuck of the shop, by its number; in words why it is none for this job."""


def ways(
    setup: Setup, styles: Sequence[str] = STYLES, *, cost: Cost | None = None, chucks: Chucks | None = None,
    most: int = MOST_PLANNED, processes: int = 1, progress: Callable[[str], None] | None = None,
) -> Ways:  # fmt: skip
    """Every way to hold the part of a setup with jaws, ranked.

    ``cost``: what the shelf has, else everything but the stated jaws is new; ``chucks``: the job on the other chucks of
    the shop, by their number, with what is known of each and without jaws of its own, or why it is none; ``most``: ways
    planned in full; ``processes`` side by side (the answer is the same); ``progress`` is told how far it is.  Stopped
    by Ctrl-C, it gives what is there.
    Raises: ``InputError`` for a setup that cannot be planned.
    """
    search = Search(setup, cost or cost_of, most, chucks or {})
    stopped = False
    with _pool(processes) as each:
        try:
            search.begin(styles)
            while ask := search.next_ask():
                if progress is not None:
                    progress(search.doing)
                search.take(list(each(ask.work, ask.items)))
        except KeyboardInterrupt:
            stopped = True
    return search.answer(stopped=stopped)


def cost_of(candidate: WayToTry, _: Setup) -> tuple[str, str]:
    """What a way costs where nothing is known of the shelf."""
    if candidate.is_stated:
        return AS_STATED, ""
    return OTHER_CHUCK if candidate.needs_chuck else SHOP_CHUCK if candidate.chuck else NEW, ""


@dataclass(frozen=True)
class Ask:
    """Work that may be done anywhere, on each of some: a step of the search waits for the answers, in order."""

    work: Callable[[Any], Any]
    items: tuple[Any, ...]


@dataclass
class Search:
    """A search for ways, step by step, by whoever does the work; ``ways`` does it here.

    ``begin`` once; then what ``next_ask`` gives is done and handed to ``take``, until there is nothing to do.
    ``answer`` may be asked for at any step.
    """

    setup: Setup
    cost: Cost = cost_of
    most: int = MOST_PLANNED
    chucks: Chucks = field(default_factory=dict)
    first: WayToTry | None = None
    waiting: list[WayToTry] = field(default_factory=list)
    open: list[tuple[WayToTry, Bound]] = field(default_factory=list)
    taken: tuple[tuple[WayToTry, Bound], ...] = ()
    planned: list[RankedWay] = field(default_factory=list)
    beaten: list[WayToTry] = field(default_factory=list)
    dropped: list[Drop] = field(default_factory=list)
    others: tuple[OtherWay, ...] | None = None
    looked_at: int = 0
    began: float = field(default_factory=perf_counter)

    def begin(self, styles: Sequence[str] = STYLES) -> None:
        """What can be tried, by geometry. Raises: ``InputError`` for a setup that cannot be planned."""
        job = prepare(self.setup)
        where, none = places(job)
        # The stated way is planned whatever its bound: it is what the others are measured by.
        stated, *others = candidates(self.setup, job, where, styles)
        self.first = stated
        self.looked_at = len(none)
        self.dropped = [Drop(one.reason, one.side, one.diameter, 1, limit=one.blocking or 0.0, what=one.cut)
                        for one in none]  # fmt: skip
        counts = {self.setup.chuck.jaws}
        elsewhere: list[WayToTry] = []
        for number, there in self.chucks.items():
            if isinstance(there, str):
                self.dropped.append(_drop(CANNOT_BE, replace(stated, chuck=number), what=there))
                self.looked_at += 1
            else:
                elsewhere += _on_chuck(number, there, self.setup, styles)
                counts.add(there.chuck.jaws)
        # A chuck that nobody has is of use only where none of the shop's has jaws for it.
        self.waiting = [one for one in others
                        if not one.needs_chuck or all(count % one.needs_chuck for count in counts)]  # fmt: skip
        self.waiting += elsewhere

    @property
    def doing(self) -> str:
        """What is being done, in words."""
        if self.first is not None:
            return "the way as stated"
        if self.waiting:
            return f"{self.looked_at} ways looked at, {len(self.waiting)} to come"
        if not self.taken:
            return "what holds it without jaws alone"
        return f"planning {len(self.planned) + 1} to {len(self.planned) + len(self.taken)}, " \
               f"{len(self.open) - len(self.taken)} more may be as good"  # fmt: skip

    def next_ask(self) -> Ask | None:
        """What is to be done next; None where nothing is."""
        if self.first is not None:
            return Ask(planned, ((self.setup, self.first),))
        if self.waiting:
            return Ask(bounded, tuple((self._base(one), one) for one in self.waiting[:BOUNDED_AT_ONCE]))
        count = min(AT_ONCE, self.most - len(self.planned))
        self.taken = tuple(self._next(count)) if self.open and count > 0 else ()
        if self.taken:
            return Ask(planned, tuple((self._base(one), one) for one, _ in self.taken))
        passes = any(way.plan.verdict == PASSES for way in self.planned)
        return Ask(others, (self.setup,)) if self.others is None and not passes else None

    def take(self, answers: Sequence[Any]) -> None:
        """The answers to what was asked, in order."""
        if self.first is not None:
            self.looked_at += 1
            self._keep([self.first], answers)
            self.first = None
        elif self.waiting:
            self._sort(zip(self.waiting[: len(answers)], answers, strict=True))
            self.waiting = self.waiting[len(answers) :]
        elif self.taken:
            for pair in self.taken:
                self.open.remove(pair)
            self._keep([one for one, _ in self.taken], answers)
        else:
            (self.others,) = answers

    def answer(self, *, stopped: bool = False) -> Ways:
        """What is known by now."""
        best, beaten = _front(self.planned)
        dropped = (*_joined(self.dropped), *self._beaten_drops(), *self._left_drops())
        return Ways(self.setup, best, beaten, dropped, self.looked_at, len(self.planned),
                    perf_counter() - self.began, stopped, self.others or ())  # fmt: skip

    def _base(self, one: WayToTry) -> Setup:
        """The setup that a way changes."""
        there = self.chucks[one.chuck] if one.chuck else self.setup
        assert isinstance(there, Setup)
        return there

    def _sort(self, found: Iterable[tuple[WayToTry, Bound | str]]) -> None:
        """By the bound of each: what cannot be, is not held or is not round goes."""
        for one, bound in found:
            self.looked_at += 1
            if isinstance(bound, str):
                self.dropped.append(_drop(CANNOT_BE, one, what=bound))
            elif not bound.is_held:
                self.dropped.append(_drop(NOT_HELD, one, bound.floor, bound.top, bound.floor_by))
            elif not bound.is_round:
                self.dropped.append(_drop(NOT_ROUND, one, bound.form, 1.0, bound.surface))
            else:
                self.open.append((one, bound))

    def _keep(self, tried: Sequence[WayToTry], plans: Iterable[tuple[Setup, Plan] | str]) -> None:
        for one, found in zip(tried, plans, strict=True):
            if isinstance(found, str):
                self.dropped.append(_drop(CANNOT_BE, one, what=found))
            else:
                cost, jaw_set = self.cost(one, found[0])
                self.planned.append(replace(measured(one, *found), cost=cost, jaw_set=jaw_set))
        self._drop_beaten()

    def _next(self, count: int) -> list[tuple[WayToTry, Bound]]:
        """The most promising of each surface that was looked at least."""
        seen = Counter(_surface(way.candidate) for way in self.planned)
        left, taken = list(self.open), []
        for _ in range(min(count, len(left))):
            found = min(left, key=lambda pair: _order(pair[0], pair[1], seen))
            left.remove(found)
            taken.append(found)
            seen[_surface(found[0])] += 1
        return taken

    def _drop_beaten(self) -> None:
        """Take out what a planned way that passes beats even at its best."""
        passing = [way for way in self.planned if way.plan.verdict == PASSES]
        for one, bound in list(self.open):
            hoped = (min(bound.hold, AMPLE), 1 - bound.form, min(bound.window, AMPLE), COSTS.index(AS_STATED))
            if any(beats(way.measures, hoped) for way in passing):
                self.open.remove((one, bound))
                self.beaten.append(one)

    def _beaten_drops(self) -> Iterator[Drop]:
        first = {_surface(one): one for one in reversed(self.beaten)}
        for surface, count in Counter(map(_surface, self.beaten)).items():
            yield Drop(BEATEN, surface[0], surface[1], count, first[surface])

    def _left_drops(self) -> Iterator[Drop]:
        by_kind: dict[tuple[Surface, bool], list[tuple[WayToTry, Bound]]] = {}
        for one, bound in self.open:
            by_kind.setdefault((_surface(one), one.needs_chuck > 0), []).append((one, bound))
        for ((side, diameter, _), _), of in by_kind.items():
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


def measured(one: WayToTry, setup: Setup, made: Plan) -> RankedWay:
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


def _on_chuck(number: str, there: Setup, stated: Setup, styles: Sequence[str]) -> Iterator[WayToTry]:
    """The ways for one of the shop's chucks."""
    job = prepare(there)
    machine = there.machine.name if there.machine and there.machine != stated.machine else ""
    for one in candidates(there, job, places(job)[0], styles):
        if not one.needs_chuck:
            yield replace(one, chuck=number, machine=machine)


def _order(one: WayToTry, bound: Bound, seen: Counter[Surface]) -> tuple[bool, int, bool, float]:
    """What is planned next comes first: jaws for chucks of the shop, surfaces looked at least, this chuck, promise."""
    return one.needs_chuck > 0, seen[_surface(one)], one.chuck != "", -_promise(bound)


def _surface(one: WayToTry) -> Surface:
    return one.place.side, one.place.diameter, one.chuck


def _drop(reason: str, one: WayToTry, need: float = 0.0, limit: float = 0.0, what: str = "") -> Drop:
    return Drop(reason, one.place.side, one.place.diameter, 1, one, need, limit, what)


def _joined(drops: Iterable[Drop]) -> Iterator[Drop]:
    """One for each reason and surface, the nearest to doing; a reason of its own for each that cannot be."""
    joined: dict[tuple[str, ...], list[Drop]] = {}
    for one in drops:
        what = "" if one.reason in (NOT_HELD, NOT_ROUND) else one.what
        key = (one.reason, one.side, f"{one.diameter}", one.chuck, what)
        joined.setdefault(key, []).append(one)
    for of in joined.values():
        nearest = min(of, key=lambda one: one.need / one.limit if one.limit > 0 else inf)
        yield replace(nearest, count=len(of))


# Work that any process may do


def bounded(asked: tuple[Setup, WayToTry]) -> Bound | str:
    """The bound of a way; in words why it cannot be."""
    setup, one = asked
    try:
        return bound_of(Study.of(one.setup_of(setup, as_if_read=True)))
    except HeldtrueError as error:
        return str(error)


def planned(asked: tuple[Setup, WayToTry]) -> tuple[Setup, Plan] | str:
    """A way planned in full; in words why it cannot be."""
    setup, one = asked
    try:
        taken = one.setup_of(setup)
        return taken, plan_study(Study.of(taken), helped=False)
    except HeldtrueError as error:
        return str(error)


def others(setup: Setup) -> tuple[OtherWay, ...]:
    """Ways that are not jaws alone; none for a setup that cannot be planned."""
    try:
        return other_ways(setup)
    except HeldtrueError:
        return ()


_Each = Callable[[Callable[[Any], Any], Iterable[Any]], Iterable[Any]]


@contextmanager
def _pool(processes: int) -> Iterator[_Each]:
    """How work is done on every one of many, in order: here, or by some processes side by side."""
    if processes < 2:
        yield map
        return
    # Spawned, not forked: whoever asks may have threads, and a fork copies their locks.
    with ProcessPoolExecutor(processes, get_context("spawn"), initializer=_heeds_no_stop) as pool:
        try:
            yield lambda work, asked: pool.map(work, asked, chunksize=1)
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _heeds_no_stop() -> None:
    """Ctrl-C is for the process that asked: it ends the others after what they are at."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)

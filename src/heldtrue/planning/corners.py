"""The worst of everything between jaws and part at once: size, bore, bored pressure, base, out-of-round, friction.

Each of these inputs is a range.  Every measure of the pressed part (form of a surface, stress, marking) is taken at all
combinations of their ends, at a few grips; the one that makes it worst is its corner.  Corners are found once for a
setup and do not depend on the pressure that is asked about.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from functools import cached_property
from itertools import product
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from heldtrue.mechanics.contact import Contact
from heldtrue.planning.elastic import LEAST_GRIP_N, Bore, Fit, Meeting, PartInJaws, meet_together
from heldtrue.planning.form_measures import TOLERANCES

if TYPE_CHECKING:
    from heldtrue.planning.inputs import Job

Array = NDArray[np.float64]
Levels = tuple[float, float, float, float, float, float]

AXES = ("part size", "jaw bore", "bored pressure", "jaw base", "part roundness", "friction")
LIKELY: Levels = (0, 0, 0, 0, 0, 0)
BORED = "bored pressure"
SIZE, BORE, FORCE, BASE, ROUND, FRICTION = range(len(AXES))
MOVES_SHARE, SMALL_SHARE = 0.005, 0.05
"""A range that moves every measure by less than this share, from end to end, is not combined with the others; a measure
under this share of the largest counts as that large."""
INNER = (-0.67, -0.33, 0.0, 0.33, 0.67)
"""Fits tried between the ends, where strength is asked for."""
SIZES = ("smallest", "middle", "largest")
POINTS_WITHIN = 48
"""Points between the ends at which the least form is looked for, before a plan says that none comes off round."""
FORMS, STRENGTHS = "forms", "strengths"
ALLOWANCE = {FORMS: 1.02, STRENGTHS: 1.1}
"""What the worst is raised by, since it may lie between the corners tried: own rule, from what the falsifier found
(docs/falsifier.md)."""


class Pressed(NamedTuple):
    """What presses: total grip [N], and the force of the boring ring on each jaw, at the low end of its range, likely,
    and at the high end [N]."""

    grip: float
    bored: tuple[float, float, float]


class Corners:
    """One part in its jaws with every range between them.

    Two kinds of measures: ``FORMS``, every tolerance that the drawing asks, in order [mm], and ``STRENGTHS``: mean
    pressure at the edge of a jaw, stress in the part, stress in the jaw [MPa].
    """

    def __init__(self, job: Job, part: PartInJaws, references: Sequence[Pressed], follows: Corners | None) -> None:
        self.job, self.part, self.references = job, part, tuple(references)
        self._follows = follows
        self._worst: dict[str, tuple[Levels, ...]] = {}
        self._values: dict[tuple[str, Levels, Pressed], Array] = {}
        self._meetings: dict[tuple[Levels, tuple[float, float, float]], Meeting] = {}

    @cached_property
    def _asked(self) -> tuple[tuple[int, str], ...]:
        """Number of the surface, and tolerance, of everything that the drawing asks."""
        return tuple((number, tolerance) for number, surface in enumerate(self.part.surfaces)
                     for tolerance in TOLERANCES if getattr(surface, tolerance) is not None)  # fmt: skip

    def meeting(self, levels: Levels, pressed: Pressed) -> Meeting:
        """How part and jaws meet at a corner; a level is -1 for the low end of a range, 0 for likely, 1 for high."""
        key = levels, pressed.bored
        if key not in self._meetings:
            self._meetings[key] = self._meeting(levels, pressed)
        return self._meetings[key]

    def _meeting(self, levels: Levels, pressed: Pressed) -> Meeting:
        ranges = self._ranges
        size, bore, base, friction = (_between(*ranges[axis], levels[axis]) for axis in (SIZE, BORE, BASE, FRICTION))
        lobes = levels[ROUND] * ranges[ROUND][2] / 2
        bored = Bore(bore / 2, self.part.bore.taper, _between(*pressed.bored, levels[FORCE]))
        return Meeting(Fit(_size(levels), size / 2, lobes), bored, base, friction)

    @cached_property
    def _ranges(self) -> dict[int, tuple[float, float, float]]:
        """Low end, likely value and high end by number of the axis; the bored pressure's go with what presses."""
        known = {axis: self.job.known[name] for axis, name in enumerate(AXES) if name != BORED}
        return {axis: (one.low, one.likely, one.high) for axis, one in known.items()}

    def contact(self, levels: Levels, pressed: Pressed) -> Contact:
        """The contact at a corner."""
        return self.part.meet(self.meeting(levels, pressed), pressed.grip)

    def measure(self, kind: str, levels: Levels, pressed: Pressed) -> Array:
        """What a corner does: nothing where there is no grip."""
        return np.asarray(self.measures(kind, [(levels, pressed)])[0])

    def measures(self, kind: str, asked: Sequence[tuple[Levels, Pressed]]) -> Array:
        """The same for many corners, whose contacts are solved together, shape (corners, measures)."""
        new = [one for one in dict.fromkeys(asked) if (kind, *one) not in self._values]
        if new:
            self._values |= {(kind, *one): values for one, values in zip(new, self._measured(kind, new), strict=True)}
        return np.array([self._values[kind, *one] for one in asked])

    def _measured(self, kind: str, asked: Sequence[tuple[Levels, Pressed]]) -> list[Array]:
        part = self.part
        keys = [(kind, self.meeting(levels, pressed), pressed.grip) for levels, pressed in asked]
        # Taken out before any contact is solved: a part that keeps too many drops them all.
        values = {key: part.measured[key] for key in keys if key in part.measured}
        nothing = np.zeros(len(self._asked) if kind == FORMS else 3)
        values |= {key: nothing for key in keys if key[2] < LEAST_GRIP_N}
        new = [i for i, key in enumerate(keys) if key not in values]
        contacts = part.meet_each([keys[i][1:] for i in new])
        if new:
            found = self._forms(contacts) if kind == FORMS else part.strengths(contacts)
            for i, measured in zip(new, found, strict=True):
                part.measured[keys[i]] = values[keys[i]] = measured
        return [values[key] for key in keys]

    def _forms(self, contacts: Sequence[Contact]) -> Array:
        numbers = [number for number, _ in self._asked]
        return self.part.form_measures.of(contacts)[:, numbers, [TOLERANCES.index(name) for _, name in self._asked]]

    def unmet(self, kind: str, asked: Sequence[tuple[Levels, Pressed]]) -> list[tuple[Meeting, float]]:
        """The ways to meet, with their grips, whose contacts ``measures`` would have to solve."""
        new = [(self.meeting(levels, pressed), pressed.grip) for levels, pressed in dict.fromkeys(asked)
               if pressed.grip >= LEAST_GRIP_N and (kind, levels, pressed) not in self._values]  # fmt: skip
        return [key for key in new if (kind, *key) not in self.part.measured]

    def worst(self, kind: str) -> tuple[Levels, ...]:
        """The corners at which some measure is worst at one of the reference grips."""
        if self._follows is not None:
            return self._follows.worst(kind)
        if kind not in self._worst:
            find_worst([(self, kind)])
        return self._worst[kind]

    def take_worst(self, kind: str, found: Sequence[Levels]) -> None:
        """The corners that a search has found."""
        self._worst[kind] = tuple(dict.fromkeys(found))

    def is_searched(self, kind: str) -> bool:
        """Are the worst corners known?"""
        return self._follows is not None or kind in self._worst

    def search(self, kind: str, *, largest: bool) -> Generator[list[Levels], Array, list[Levels]]:
        """For every measure the corner that makes it largest (or least): all ends of all ranges, together.

        Yields corners, is sent what they measure, and returns those found.
        """

        def best_of(tried: list[Levels]) -> Generator[list[Levels], Array, list[Levels]]:
            values = yield tried
            return [tried[i] for i in (values.argmax(axis=0) if largest else values.argmin(axis=0))]

        (middle,) = yield [LIKELY]
        if not middle.any():
            return [LIKELY]
        ends = yield [_at(LIKELY, axis, end) for axis in self._moved for end in (-1, 1)]
        tried, free = self._combined(middle, ends, largest=largest)
        found = yield from best_of(tried)
        # What moves nothing at likely values may move the worst.
        for axis in self._moved:
            if axis not in (*free, BORE):
                others = [_at(one, axis, -one[axis]) for one in dict.fromkeys(found)]
                found = yield from best_of([*found, *others])
        # The worst may lie between the ends: a round part, middling friction, and, for strength, a fit at which a jaw
        # bears on part of its face.
        for axis in (ROUND, FRICTION):
            if axis in self._moved:
                inner = [_at(one, axis, 0) for one in dict.fromkeys(found)]
                found = yield from best_of([*found, *inner])
        if kind == STRENGTHS and largest and SIZE in free:
            inner = [_fitted(one, level) for one in dict.fromkeys(found) for level in INNER]
            found = yield from best_of([*found, *inner])
        return found

    def _combined(self, middle: Array, ends: Array, *, largest: bool) -> tuple[list[Levels], list[int]]:
        """All combinations of the ends of those ranges that move something, and the axes that are combined.

        ``middle``: what the likely corner measures; ``ends``: what the ends of each range that moves do, the others
        likely.
        """
        # A range that moves nothing by much stays at the end that is worse for the sum of all measures.
        fixed, moving = list(LIKELY), []
        for axis, (low, high) in zip(self._moved, ends.reshape(-1, 2, len(middle)), strict=True):
            shares = (high - low) / np.maximum(middle, SMALL_SHARE * middle.max())
            # Size, bore and out-of-round decide together where a jaw bears: alone each may move next to nothing.
            if axis in (SIZE, BORE, ROUND) or np.abs(shares).max() > MOVES_SHARE:
                moving.append(axis)
            else:
                fixed[axis] = 1 if (shares.sum() >= 0) == largest else -1
        free = [axis for axis in moving if axis != BORE]
        if BORE in moving and SIZE not in moving:
            free.append(SIZE)
        tried: list[Levels] = [*self.likely_corners]
        for combined in product((-1, 1), repeat=len(free)):
            levels = list(fixed)
            for axis, end in zip(free, combined, strict=True):
                levels[axis] = end
            if BORE in moving:
                # What counts is the part's size over the bore's: the largest part in the smallest bore, or the reverse.
                levels[BORE] = -levels[SIZE]
            tried.append(tuple(levels))  # type: ignore[arg-type]
            if BORE in moving and not largest:
                tried.append(_at(tried[-1], BORE, levels[SIZE]))
        return tried, free

    @cached_property
    def _moved(self) -> tuple[int, ...]:
        """Numbers of the axes that have a range."""
        return tuple(i for i, name in enumerate(AXES) if self.job.known[self._input(name)].is_open)

    def _input(self, axis: str) -> str:
        """Name of the input behind an axis."""
        return "bored share" if axis == BORED and axis not in self.job.known else axis

    @cached_property
    def likely_corners(self) -> tuple[Levels, ...]:
        """Likely values with the smallest, middle and largest part: all of them come in one batch."""
        if not self.job.known["part size"].is_open:
            return (LIKELY,)
        return tuple(_at(LIKELY, 0, end) for end in (-1, 0, 1))

    def worst_of(self, kind: str, pressed: Pressed) -> Array:
        """Every measure at the corner that is worst for it, with the allowance for what lies between corners."""
        found = self.measures(kind, [(one, pressed) for one in self.worst(kind)]).max(axis=0)
        return np.asarray(ALLOWANCE[kind] * found)

    def worst_over(self, kind: str, presses: Sequence[Pressed]) -> Array:
        """The same over several that may press."""
        asked = [(one, pressed) for pressed in presses for one in self.worst(kind)]
        return np.asarray(ALLOWANCE[kind] * self.measures(kind, asked).max(axis=0))

    def best_of(self, kind: str, pressed: Pressed) -> Array:
        """Every measure at the corner that is best for it, or at a point between that is better: form may pass through
        nothing there."""
        tried = [
            LIKELY,
            *_searched([(self, kind, pressed)], largest=False)[0],
            *(self._within if kind == FORMS else ()),
        ]
        return np.asarray(self.measures(kind, [(one, pressed) for one in tried]).min(axis=0))

    @cached_property
    def _within(self) -> tuple[Levels, ...]:
        """Points anywhere between the ends, the base at an end or likely: another needs its own compliance."""
        rng = np.random.default_rng(POINTS_WITHIN)
        levels = rng.uniform(-1.0, 1.0, (POINTS_WITHIN, len(AXES)))
        levels[:, BASE] = np.rint(levels[:, BASE])
        still = [axis for axis in range(len(AXES)) if axis not in self._moved]
        levels[:, still] = 0.0
        return tuple(dict.fromkeys(tuple(row) for row in levels.tolist()))

    def likely_of(self, kind: str, pressed: Pressed) -> Array:
        """Every measure at likely values, over the sizes of the part."""
        return np.asarray(self.measures(kind, [(one, pressed) for one in self.likely_corners]).max(axis=0))

    def gains(self, kind: str, place: int, pressed: Pressed) -> dict[str, float]:
        """By how much the worst of one measure falls when one input alone is likely instead, by name of the input."""
        corners = self.worst(kind)
        worst = corners[self.measures(kind, [(one, pressed) for one in corners])[:, place].argmax()]
        tried = [worst, *(_at(worst, axis, 0) for axis in self._moved)]
        here, *without = self.measures(kind, [(one, pressed) for one in tried])[:, place]
        names = [self._input(AXES[axis]) for axis in self._moved]
        return {name: float(here - less) for name, less in zip(names, without, strict=True)}


def find_worst(wanted: Sequence[tuple[Corners, str]]) -> None:
    """Find the worst corners of some kinds of measures; the searches run side by side."""
    new = [(corners, kind) for corners, kind in wanted if not corners.is_searched(kind)]
    at = [(corners, kind, pressed) for corners, kind in new for pressed in corners.references]
    found = iter(_searched(at, largest=True))
    for corners, kind in new:
        corners.take_worst(kind, [one for _ in corners.references for one in next(found)])


def meet_for(asked: Sequence[tuple[Corners, str, Sequence[tuple[Levels, Pressed]]]]) -> None:
    """Solve the contacts that ``measures`` will ask for, of all parts together."""
    parts = {id(corners.part): corners.part for corners, _, _ in asked}
    wanted: dict[int, list[tuple[Meeting, float]]] = {one: [] for one in parts}
    for corners, kind, pairs in asked:
        wanted[id(corners.part)] += corners.unmet(kind, pairs)
    meet_together([(parts[one], keys) for one, keys in wanted.items()])


def _searched(at: Sequence[tuple[Corners, str, Pressed]], *, largest: bool) -> list[list[Levels]]:
    """For every measure the corner that makes it largest (or least), of each search; their contacts solved together."""
    searches = [corners.search(kind, largest=largest) for corners, kind, _ in at]
    asked = {place: next(search) for place, search in enumerate(searches)}
    found: list[list[Levels]] = [[] for _ in at]
    while asked:
        meet_for([(*at[place][:2], [(one, at[place][2]) for one in tried]) for place, tried in asked.items()])
        further = {}
        for place, tried in asked.items():
            corners, kind, pressed = at[place]
            try:
                further[place] = searches[place].send(corners.measures(kind, [(one, pressed) for one in tried]))
            except StopIteration as ended:
                found[place] = ended.value
        asked = further
    return found


def _at(levels: Levels, axis: int, level: float) -> Levels:
    return (*levels[:axis], level, *levels[axis + 1 :])  # type: ignore[return-value]


def _fitted(levels: Levels, level: float) -> Levels:
    """The same with another fit: size of the part and bore of the jaws moved against each other."""
    return _at(_at(levels, SIZE, level), BORE, -level if levels[BORE] else 0.0)


def _between(low: float, likely: float, high: float, level: float) -> float:
    """A value by its level: -1 low, 0 likely, 1 high, straight between."""
    return likely + level * ((high - likely) if level > 0 else (likely - low))


def _size(levels: Levels) -> str:
    """Name of the part's size."""
    return SIZES[1 + (levels[SIZE] > 0) - (levels[SIZE] < 0)]

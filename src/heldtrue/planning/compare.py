"""The same operation held in every way the part allows, side by side."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.planning.answer import gravity
from heldtrue.planning.caveats import caveat_words
from heldtrue.planning.phrases import needs_words, spare_words, window_words
from heldtrue.planning.plan import plan
from heldtrue.planning.result import FAILS, NOT_PROVEN, PASSES, STEADY, Check, Plan
from heldtrue.planning.setup import Setup
from heldtrue.planning.way_space import GripPlace, WayToTry, candidate, grips
from heldtrue.planning.window import gauge_unit_of
from heldtrue.tooling.jaws import STYLES

JAW_COUNTS = (3, 6)
RANK = {PASSES: 0, NOT_PROVEN: 1, FAILS: 2}


@dataclass(frozen=True)
class Way:
    """One way to hold the part, and its plan.

    ``why``: what puts it behind the best way (or what decides the best); ``needs``: what the shop must have for it;
    ``setup``: as it is taken over.  What the shop lacks is assumed in it, so the verdict here is the one it will have.
    The plan of the stated way, and of the best, has what would make it pass in its answer.
    """

    name: str
    style: str
    side: str
    jaws: int
    plan: Plan | None
    why: str
    needs: str = ""
    setup: Setup | None = None

    @property
    def form_error(self) -> float:
        """Largest released run-out, roundness or flatness over the machined surfaces. [mm]"""
        if self.plan is None:
            return float("inf")
        return max((max(s.released_roundness, s.released_flatness) for s in self.plan.surfaces), default=0.0)


def compare(
    setup: Setup, styles: Sequence[str] = STYLES, *, progress: Callable[[str], None] | None = None
) -> tuple[Way, ...]:
    """Plans of one operation with every jaw style, side and jaw count, best first.

    ``progress`` is told the name of each way before it is planned.
    Raises: ``InputError`` for a jaw style that is not known.
    """
    unknown = [style for style in styles if style not in STYLES]
    if unknown:
        raise InputError(f"jaw style '{unknown[0]}' is not known; there are {', '.join(STYLES)}")
    ways = []
    for one, way in _variants(setup, styles):
        if progress is not None:
            progress(way.name)
        try:
            taken = one.setup_of(setup)
            ways.append(replace(way, plan=plan(taken, helped=False), setup=taken))
        except HeldtrueError as error:
            ways.append(replace(way, why=str(error)))
    ways.sort(key=_rank)
    # What would help is worth its time for the way somebody has in mind, and for the best where none passes.
    asked = {0, *(place for place, way in enumerate(ways) if way.setup is not None and way.setup == setup)}
    for place in asked:
        way = ways[place]
        if way.plan is not None and way.setup is not None and way.plan.verdict != PASSES:
            if progress is not None:
                progress(f"what would help: {way.name}")
            ways[place] = replace(way, plan=plan(way.setup))
    return tuple(_with_reason(way, ways[0]) for way in ways)


def _rank(way: Way) -> tuple[float, float]:
    """Verdict first, then the thinnest margin of everything that is not a plate."""
    if way.plan is None:
        return 9.0, 0.0
    window = 0.0 if way.plan.pressure.has_window else 0.5
    return RANK[way.plan.verdict] + window, -_thinnest(way.plan).margin


def _thinnest(plan_: Plan) -> Check:
    """The check that passes with the least to spare, or fails by most; no plate of speed, no steady pressure."""
    asked = [check for check in plan_.checks if check.group != STEADY and check.subject != "speed"]
    return min(asked, key=gravity)


def _with_reason(way: Way, best: Way) -> Way:
    if way.plan is None:
        return way
    thinnest = _thinnest(way.plan)
    if not way.plan.pressure.has_window:
        why = window_words(way.plan.pressure, gauge_unit_of(way.plan.setup))
    elif way.plan.verdict != PASSES:
        leading = way.plan.answer.leading
        if leading is not None and leading.state != PASSES:
            why = f"'{leading.name}' {leading.state}, decided by {leading.decided_by}"
        else:  # every check passes, and nobody read what all of them rest on
            why = "; ".join(caveat_words(way.plan.setup))
    else:
        pressures = "two pressures; " if len(way.plan.pressure.steps) > 1 else ""
        what = "least" if way is best else "less"
        why = f"{pressures}{what} to spare: '{thinnest.name}', {spare_words(thinnest)}"
    if way is best and way.plan.verdict == PASSES:
        why = f"best; {why}"
    return replace(way, why=why)


def _variants(setup: Setup, styles: Sequence[str]) -> Iterator[tuple[WayToTry, Way]]:
    """Every way as the changes that make it and a way without a plan; the stated way needs no change."""
    count = setup.jaws.count or setup.chuck.jaws
    for side, diameter, z in grips(setup):
        for jaws in sorted({*JAW_COUNTS, count}):
            for style in styles:
                place = GripPlace(side, diameter, z, stated=side == setup.grip.side)
                one = candidate(setup, count, place, style, jaws)
                name = f"{side}, {jaws} {style} jaws" + (" (as stated)" if one.is_stated else "")
                yield one, Way(name, style, side, jaws, None, "", needs_words(one))

"""Where on the master jaws a set stands: which tooth, and at which point of the stroke it is cut.

Radii and lengths in mm.  Stroke is counted from the middle of the jaw travel, outwards positive.  A top jaw is placed
by its zero mark: the blank reaches from ``ends[0]`` to ``ends[1]`` of it, outwards positive.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import floor, hypot, pi, sin, tan

from heldtrue.tooling.serration import runout_of_a_shifted_jaw

Say = Callable[[float], str]
"""How a length is said in messages."""

MIDDLE_SHARE = 1 / 6
"""Jaws are cut and grip within this share of the travel from mid-stroke (its middle third): common practice, no
source."""
LEAST_STROKE_MM = 0.5
"""Stroke that must be left past the part in the gripping direction: common practice, no source."""
ENTRY_MM = 0.25
"""Room per side for the part to go in between open jaws: common practice, no source."""
BEHIND_BORE_MM = 8.0
"""Least metal behind a bore where no bolt limits it: common practice, no source."""
WEB_LIMIT_MM = 7.0
"""Least metal between bore and bolt pocket, or over a bolt head: common practice, no source (6 to 8)."""
SKIM_MM = 0.2
"""Least skim that cleans a used bore, per side: common practice, no source (0.15 to 0.25)."""
OVER_HEAD_MM = 1.0
"""A bolt head under the seat lies at least this much below it: common practice, no source."""
CUT_COST_MM = 0.5
"""What a later cut takes off the web, reckoned on the high side: common practice, no source (0.15 to 0.5)."""
SEAT_COST_MM = 0.25
"""What a later cut takes off the seat: common practice, no source."""
MOST_CUTS = 25
"""More cuts than this are not promised: common practice, no source (8 to 25)."""


def in_mm(value: float) -> str:
    """A length in mm, to a hundredth."""
    return f"{round(value, 2) + 0.0:g} mm"


@dataclass(frozen=True)
class Master:
    """The master jaws of a chuck.

    ``zeros``: radius of a top jaw's zero mark at mid-stroke, by tooth or position from the axis outwards; ``pitch`` of
    the teeth, None for tongue and groove; ``slot``: ends of the T-slot at mid-stroke; the rest as in the setup file.
    """

    jaws: int
    zeros: tuple[float, ...]
    pitch: float | None
    travel: float
    top_height: float = 0.0
    slot: tuple[float, float] | None = None
    nut_length: float = 0.0
    body_radius: float | None = None
    through_radius: float = 0.0

    @property
    def word(self) -> str:
        """What a place is called."""
        return "tooth" if self.pitch is not None else "position"


@dataclass(frozen=True)
class Bored:
    """How a set was cut last: ``radius`` at mid-stroke on ``tooth``, ``depth`` of its seat from the front."""

    radius: float
    depth: float
    tooth: int


@dataclass(frozen=True)
class Blank:
    """A top jaw before it is cut.

    ``pocket``: diameter and depth of the bolt head's counterbore; ``head``: height of a bolt head; ``gap``: between
    pie segments where they grip; ``bored``: None for a fresh blank.
    """

    style: str
    width: float
    ends: tuple[float, float]
    height: float
    holes: tuple[float, ...] = ()
    pocket: tuple[float, float] = (0.0, 0.0)
    head: float = 0.0
    gap: float = 0.0
    web_limit: float = WEB_LIMIT_MM
    bored: Bored | None = None


@dataclass(frozen=True)
class Wanted:
    """What the set is to be cut to.

    ``radius``: of the bore at mid-stroke; ``relief``: how far the corner relief goes into the wall; ``ledge``: how far
    the seat must reach past the bore; ``depth`` of the seat from the front; ``entering``: radius of the part that must
    pass the open jaws, None if it need not; ``spread``: of the part's radius; ``swings``: name and radius of what turns
    clear; ``skim``: least to take off a used bore.
    """

    side: str
    radius: float
    relief: float
    ledge: float
    depth: float
    entering: float | None = None
    spread: float = 0.0
    swings: tuple[tuple[str, float], ...] = ()
    skim: float = SKIM_MM

    @property
    def outward(self) -> float:
        """Direction in which the metal of the jaw lies: +1 for an outside grip, -1 for an inside grip."""
        return 1.0 if self.side == "outside" else -1.0


@dataclass(frozen=True)
class Way:
    """One way that works.

    ``tooth`` from 1 at the axis; ``zero``: radius of the zero marks and ``stroke`` when the jaws are cut; ``opening``
    and ``closing``: stroke left; ``web``: least metal between bore and bolt pocket, None without bolts; ``cuts_left``
    after this cut; ``metal``: to cut off per side at the mouth; ``turning``: radius the jaws turn in, fully open;
    ``nut_margin``: T-nut to the rim of the body at full opening; ``gap``: of pie segments at full closing.
    """

    tooth: int
    zero: float
    stroke: float
    opening: float
    closing: float
    web: float | None
    cuts_left: int
    metal: float
    turning: float
    nut_margin: float | None
    gap: float | None
    notes: tuple[str, ...] = ()

    @property
    def cuts_words(self) -> str:
        """How many cuts are left, as it is said: more than a set ever sees are not counted."""
        return f"at least {MOST_CUTS}" if self.cuts_left >= MOST_CUTS else str(self.cuts_left)

    @property
    def stroke_left(self) -> float:
        """The lesser of opening and closing."""
        return min(self.opening, self.closing)


@dataclass(frozen=True)
class Refused:
    """One tooth that does not work, and why."""

    tooth: int
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Placing:
    """Every tooth, best first where it works.

    ``a_tooth_off``: run-out if one jaw stands one tooth off the others, None for tongue and groove; ``words``: of it.
    """

    word: str
    ways: tuple[Way, ...]
    refused: tuple[Refused, ...]
    a_tooth_off: float | None
    words: tuple[str, ...]

    @property
    def best(self) -> Way | None:
        """The way to take."""
        return self.ways[0] if self.ways else None


def place(master: Master, blank: Blank, wanted: Wanted, say: Say = in_mm) -> Placing:
    """Every place the jaws could stand, judged.

    Ranked by stroke left both ways, then by cuts left and web.  A used set is offered at mid-stroke, and where less
    metal need be cut within the middle third of the travel.
    """
    ways: list[Way] = []
    refused: list[Refused] = []
    for tooth in range(1, len(master.zeros) + 1):
        found = [judge(master, blank, wanted, tooth, stroke, say) for stroke in _strokes(master, blank, wanted, tooth)]
        good = [one for one in found if isinstance(one, Way)]
        ways += good
        if not good:
            refused.append(next(one for one in found if isinstance(one, Refused)))
    ways.sort(key=lambda way: _rank(way, master.travel))
    shift = None if master.pitch is None else runout_of_a_shifted_jaw(master.jaws, master.pitch)
    return Placing(master.word, tuple(ways), tuple(refused), shift, _words(master, ways, refused, shift, say))


def _rank(way: Way, travel: float) -> tuple[float, float, float]:
    return (
        -round(way.stroke_left / (travel / 12)),
        -way.cuts_left,
        -(way.web if way.web is not None else -way.metal),
    )


def _strokes(master: Master, blank: Blank, wanted: Wanted, tooth: int) -> list[float]:
    """Where in the stroke to cut: in the middle, and for a used set where the least metal goes."""
    if blank.bored is None:
        return [0.0]
    reach = MIDDLE_SHARE * master.travel
    best = wanted.radius - wanted.outward * wanted.skim - bored_radius(master, blank.bored, tooth)
    least = max(-reach, min(reach, best))
    return [0.0] if abs(least) < 0.05 else [0.0, least]


def bored_radius(master: Master, bored: Bored, tooth: int) -> float:
    """Radius of a used bore at mid-stroke when the set stands on another tooth. [mm]"""
    there, here = (min(max(one, 1), len(master.zeros)) for one in (bored.tooth, tooth))
    return bored.radius + master.zeros[here - 1] - master.zeros[there - 1]


def judge(master: Master, blank: Blank, wanted: Wanted, tooth: int, stroke: float, say: Say = in_mm) -> Way | Refused:
    """One tooth at one point of the stroke: a way, or why not."""
    zero = master.zeros[tooth - 1] + stroke
    inner, outer = (zero + end for end in blank.ends)
    opening, closing = master.travel / 2 - stroke, master.travel / 2 + stroke
    notes: list[str] = []
    closing, gap = _closing(master, blank, inner, closing, notes, say)
    # Each of these names what is wrong and with which numbers; none of them knows of the others.
    web, webs = _web(blank, wanted, zero, say)
    turning = _turning(blank, outer, opening)
    nut_margin, nuts = _nuts(master, blank, zero, opening, say)
    metal, metals = _metal(master, blank, wanted, tooth, stroke, inner, outer, say)
    problems = [
        *metals,
        *webs,
        *nuts,
        *_swings(wanted, turning, say),
        *_strokes_left(wanted, opening, closing, say),
    ]
    if problems:
        return Refused(tooth, tuple(problems))
    back = inner if wanted.outward < 0 else outer
    cuts = _cuts_left(blank, wanted, web, wanted.outward * (back - wanted.radius) - wanted.relief)
    return Way(tooth, zero, stroke, opening, closing, web, cuts, metal, turning, nut_margin, gap, tuple(notes))


def _closing(
    master: Master, blank: Blank, inner: float, closing: float, notes: list[str], say: Say
) -> tuple[float, float | None]:
    """Closing stroke before neighbouring jaws meet, and the gap of pie segments at its end."""
    if blank.style == "pie":
        by_step = 2 * sin(pi / master.jaws)
        meet = blank.gap / by_step
        if meet < closing:
            notes.append(
                f"the segments meet {say(closing - meet)} before the end of the stroke; "
                f"a gap of {say(closing * by_step)} would use all of it"
            )
            closing = meet
        return closing, blank.gap - closing * by_step
    meet = inner - blank.width / 2 / tan(pi / master.jaws) if master.jaws > 2 else inner
    if 0 < meet < closing:
        notes.append(f"the noses of the jaws meet {say(closing - meet)} before the end of the stroke")
        closing = meet
    return closing, None


def _metal(
    master: Master, blank: Blank, wanted: Wanted, tooth: int, stroke: float, inner: float, outer: float, say: Say
) -> tuple[float, list[str]]:
    """Metal to cut off per side, and whether the blank has what the bore needs."""
    out, problems = wanted.outward, []
    front, back = (inner, outer) if out > 0 else (outer, inner)
    meet = blank.width / 2 / tan(pi / master.jaws) if blank.style != "pie" and master.jaws > 2 else 0.0
    if inner <= meet:
        problems.append(f"the noses of the jaws would run into each other: they start at radius {say(inner)}")
    if blank.bored is None:
        metal = out * (wanted.radius - front)
    else:
        metal = out * (wanted.radius - bored_radius(master, blank.bored, tooth) - stroke)
        if metal < wanted.skim - 1e-9:
            which = "large" if out > 0 else "small"
            now = 2 * (bored_radius(master, blank.bored, tooth) + stroke)
            problems.append(
                f"the set is bored too {which} for it: Ø{say(now)} there, and {say(wanted.skim)} per side must come off"
            )
    ledge = out * (wanted.radius - front)
    if ledge < wanted.ledge:
        problems.append(f"the blank reaches {say(max(ledge, 0.0))} past the bore; the seat needs {say(wanted.ledge)}")
    behind = out * (back - wanted.radius) - wanted.relief
    if behind < BEHIND_BORE_MM:
        problems.append(
            f"{say(max(behind, 0.0))} of metal would be left behind the bore; {say(BEHIND_BORE_MM)} is least"
        )
    if wanted.depth >= blank.height - WEB_LIMIT_MM:
        problems.append(f"a bore {say(wanted.depth)} deep leaves too little of a jaw {say(blank.height)} tall")
    return metal, problems


def _web(blank: Blank, wanted: Wanted, zero: float, say: Say) -> tuple[float | None, list[str]]:
    """Least metal between the bore and the pocket of any bolt behind it; a bolt under the seat must lie deep enough."""
    out, problems = wanted.outward, []
    webs = []
    for number, hole in enumerate(blank.holes, 1):
        to_wall = out * (zero + hole - wanted.radius)
        half = blank.pocket[0] / 2
        if to_wall > half + wanted.relief:
            webs.append(to_wall - half - wanted.relief)
        elif to_wall < -half:
            over = blank.pocket[1] - blank.head - wanted.depth
            if over < OVER_HEAD_MM:
                high = say(OVER_HEAD_MM - over)
                problems.append(f"the head of bolt {number} would stand {high} too high under the seat")
        else:
            problems.append(f"the bore would open the pocket of bolt {number}")
    web = min(webs, default=None)
    if web is not None and web < blank.web_limit:
        problems.append(f"{say(web)} of web to the bolt pocket is under {say(blank.web_limit)}")
    return web, problems


def _cuts_left(blank: Blank, wanted: Wanted, web: float | None, behind: float) -> int:
    """Cuts that are still in the set after this one: as web, metal behind the bore, and metal under the seat allow."""
    budgets = [
        (behind - BEHIND_BORE_MM) / CUT_COST_MM if web is None else (web - blank.web_limit) / CUT_COST_MM,
        (blank.height - WEB_LIMIT_MM - wanted.depth) / SEAT_COST_MM,
    ]
    if web is None and blank.holes:
        budgets.append((blank.pocket[1] - blank.head - wanted.depth - OVER_HEAD_MM) / SEAT_COST_MM)
    return max(0, min(MOST_CUTS, floor(min(budgets) + 1e-9)))


def _turning(blank: Blank, outer: float, opening: float) -> float:
    """Radius the outer corners of the jaws turn in, fully open."""
    if blank.style == "pie":
        return outer + opening
    return hypot(outer + opening, blank.width / 2)


def _nuts(master: Master, blank: Blank, zero: float, opening: float, say: Say) -> tuple[float | None, list[str]]:
    """T-nuts stay inside the body at full opening, and inside their slot."""
    if not blank.holes:
        return None, []
    problems = []
    half = master.nut_length / 2
    first, last = zero + min(blank.holes) - half, zero + max(blank.holes) + half
    margin = None
    if master.body_radius is not None:
        margin = master.body_radius - last - opening
        if margin < 0:
            problems.append(f"the outer T-nut would stand {say(-margin)} past the rim of the chuck, jaws open")
    if master.slot is not None:
        stroke = master.travel / 2 - opening
        low, high = (end + stroke for end in master.slot)
        if first < low or last > high:
            where = "inner" if first < low else "outer"
            problems.append(
                f"a T-nut would stand {say(max(low - first, last - high))} past the {where} end of its slot"
            )
    return margin, problems


def _swings(wanted: Wanted, turning: float, say: Say) -> list[str]:
    return [
        f"the open jaws turn in Ø{say(2 * turning)}; {name} clears Ø{say(2 * swing)}"
        for name, swing in wanted.swings
        if turning > swing
    ]


def _strokes_left(wanted: Wanted, opening: float, closing: float, say: Say) -> list[str]:
    """The part goes in, and the jaws have stroke left when they hold it."""
    outside, problems = wanted.side == "outside", []
    gripping, releasing = (closing, opening) if outside else (opening, closing)
    if gripping < LEAST_STROKE_MM + wanted.spread:
        problems.append(f"only {say(max(gripping, 0.0))} of stroke is left in the gripping direction")
    if wanted.entering is not None:
        needed = (wanted.entering - wanted.radius) * (1 if outside else -1) + ENTRY_MM
        if releasing < needed - 1e-9:
            verb = "open" if outside else "close"
            problems.append(f"the jaws {verb} {say(releasing)} per side; the part needs {say(needed)} to go in")
    return problems


def _words(
    master: Master, ways: Sequence[Way], refused: Sequence[Refused], shift: float | None, say: Say
) -> tuple[str, ...]:
    words = []
    if ways:
        words.append(way_words(master.word, ways[0], say))
    else:
        words.append(f"no {master.word} puts that diameter at mid-stroke with this set: {common_reason(refused)}")
    if shift is not None and master.pitch is not None:
        words.append(f"one jaw one tooth off makes a run-out of about {say(shift)}: count the teeth on every jaw")
    return tuple(words)


def way_words(word: str, way: Way, say: Say = in_mm) -> str:
    """Where the jaws stand, as a setter says it."""
    return (
        f"{word} {way.tooth} on every jaw, cut {stroke_words(way.stroke, say)}: "
        f"{say(way.opening)} left to open, {say(way.closing)} to close"
    )


def stroke_words(stroke: float, say: Say = in_mm) -> str:
    """A point of the stroke in words."""
    if abs(stroke) < 0.005:
        return "at mid-stroke"
    return f"{say(abs(stroke))} {'out from' if stroke > 0 else 'in from'} mid-stroke"


def common_reason(refused: Sequence[Refused]) -> str:
    """The refusal of the tooth that comes nearest: the one with the fewest reasons, the middle one of those."""
    if not refused:
        return "the master jaws have none"
    fewest = min(len(one.reasons) for one in refused)
    nearest = [one for one in refused if len(one.reasons) == fewest]
    one = nearest[len(nearest) // 2]
    return f"on {one.tooth}, {'; '.join(one.reasons)}"

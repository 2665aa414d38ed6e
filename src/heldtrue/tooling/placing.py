"""Where on the master jaws a set stands: which tooth, and at which point of the stroke it is cut.

Radii and lengths in mm.  Stroke is counted from the middle of the jaw travel, outwards positive.  A top jaw is placed
by its zero mark: the blank reaches from ``ends[0]`` to ``ends[1]`` of it, outwards positive.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import floor, pi, sin

from heldtrue.errors import GeometryError
from heldtrue.mechanics.jaw_outline import Outline
from heldtrue.sentences import joined, sentence
from heldtrue.tooling.blank import WEB_LIMIT_MM, Blank, Master, Say, Wanted, in_mm, old_bore
from heldtrue.tooling.old_steps import Taken, taken
from heldtrue.tooling.serration import runout_of_a_shifted_jaw

MIDDLE_SHARE = 1 / 6
"""Jaws are cut and grip within this share of the travel from mid-stroke (its middle third): common practice, no
source."""
LEAST_STROKE_MM = 0.5
"""Stroke that must be left past the part in the gripping direction: common practice, no source."""
ENTRY_MM = 0.25
"""Room per side for the part to go in between open jaws: common practice, no source."""
POCKET_WALL_MM = 1.0
"""Least wall beside a bolt pocket in plan; common practice, no source."""
BEHIND_BORE_MM = 8.0
"""Least metal behind a bore where no bolt limits it: common practice, no source."""
OVER_HEAD_MM = 1.0
"""A bolt head under the seat lies at least this much below it: common practice, no source."""
BEARS_LESS_MM = 0.5
"""A jaw may bear over this much less round the part than planned: so far are stated widths and gaps rounded."""
CUT_COST_MM = 0.5
"""What a later cut takes off the web, reckoned on the high side: common practice, no source (0.15 to 0.5)."""
SEAT_COST_MM = 0.25
"""What a later cut takes off the seat: common practice, no source."""
MOST_CUTS = 25
"""More cuts than this are not promised: common practice, no source (8 to 25)."""


@dataclass(frozen=True)
class Way:
    """One way that works.

    ``tooth`` from 1 at the axis; ``zero``: radius of the zero marks and ``stroke`` when the jaws are cut; ``opening``
    and ``closing``: stroke left; ``web``: least metal between bore and bolt pocket, None without bolts; ``cuts_left``
    after this cut; ``metal``: to cut off per side at the mouth, most over the width; ``turning``: radius the jaws turn
    in, fully open; ``nut_margin``: T-nut to the rim of the body at full opening; ``gap``: of pie segments at full
    closing; ``outline``: of a jaw as it stands when it is cut.
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
    outline: Outline
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
    reach, stroke = MIDDLE_SHARE * master.travel, 0.0
    for _ in range(4):  # off the axis an old bore turns on more than one radius, which the stroke changes a little
        try:
            far = old_bore(master, blank, blank.bored, tooth, stroke).far(wanted.outward)
        except GeometryError:
            return [0.0]
        stroke = max(-reach, min(reach, stroke + wanted.radius - wanted.outward * wanted.skim - far))
    return [0.0] if abs(stroke) < 0.05 else [0.0, stroke]


def judge(master: Master, blank: Blank, wanted: Wanted, tooth: int, stroke: float, say: Say = in_mm) -> Way | Refused:
    """One tooth at one point of the stroke: a way, or why not."""
    zero = master.zeros[tooth - 1] + stroke
    try:
        jaw = blank.outline(zero, master.jaws)
    except GeometryError as error:
        return Refused(tooth, (str(error),))
    wanted = _with_old_steps(wanted, taken(master, blank, tooth, stroke, wanted.outward))
    opening, closing = master.travel / 2 - stroke, master.travel / 2 + stroke
    notes: list[str] = []
    closing, gap = _closing(master, blank, jaw, closing, notes, say)
    # Each of these names what is wrong and with which numbers; none of them knows of the others.
    web, webs = _web(blank, wanted, zero, jaw, say)
    turning = jaw.moved(opening).greatest_radius
    nut_margin, nuts = _nuts(master, blank, zero, opening, say)
    metal, metals = _metal(master, blank, wanted, tooth, stroke, jaw, say)
    problems = [
        *metals,
        *_bears(wanted, jaw, say),
        *webs,
        *nuts,
        *_swings(wanted, turning, say),
        *_strokes_left(wanted, opening, closing, say),
    ]
    if problems:
        return Refused(tooth, tuple(problems))
    cuts = _cuts_left(blank, wanted, web, jaw.behind(wanted.radius, wanted.outward) - wanted.relief)
    return Way(tooth, zero, stroke, opening, closing, web, cuts, metal, turning, nut_margin, gap, jaw, tuple(notes))


def _with_old_steps(wanted: Wanted, bands: Sequence[Taken]) -> Wanted:
    """A cut with the steps of the last one that reach further into the metal: what is left behind them counts."""
    out = wanted.outward
    reach = max([wanted.relief, *(out * (one.radius - wanted.radius) for one in bands)])
    return replace(wanted, relief=reach, depth=max([wanted.depth, *(-one.low for one in bands)]))


def _closing(
    master: Master, blank: Blank, jaw: Outline, closing: float, notes: list[str], say: Say
) -> tuple[float, float | None]:
    """Closing stroke before neighbouring jaws meet, and the gap of pie segments at its end."""
    meet, by_step = jaw.room_to_neighbours(master.jaws), 2 * sin(pi / master.jaws)
    if 0 < meet < closing:
        notes.append(
            sentence(
                "the segments meet {} before the end of the stroke; a gap of {} would use all of it",
                say(closing - meet),
                say(closing * by_step),
            )
            if blank.style == "pie"
            else sentence("the noses of the jaws meet {} before the end of the stroke", say(closing - meet))
        )
        closing = meet
    return closing, blank.gap - closing * by_step if blank.style == "pie" else None


def _metal(
    master: Master, blank: Blank, wanted: Wanted, tooth: int, stroke: float, jaw: Outline, say: Say
) -> tuple[float, list[str]]:
    """Metal to cut off per side, most over the width, and whether the blank has what the bore needs."""
    out = wanted.outward
    problems: list[str] = []
    inner, outer = jaw.ends
    if inner <= 0 or jaw.room_to_neighbours(master.jaws) <= 0:
        problems.append(
            sentence("the noses of the jaws would run into each other: they start at radius {}", say(inner))
        )
    if blank.bored is None:
        metal = out * (wanted.radius - (jaw.least_radius if out > 0 else jaw.greatest_radius))
    else:
        old = old_bore(master, blank, blank.bored, tooth, stroke)
        metal = out * (wanted.radius - old.near(out))
        if out * (wanted.radius - old.far(out)) < wanted.skim - 1e-9:
            which = "large" if out > 0 else "small"
            problems.append(
                sentence(
                    "the set is bored too {} for it: Ø{} there, and {} per side must come off",
                    which,
                    say(2 * old.far(out)),
                    say(wanted.skim),
                )
            )
    ledge = out * (wanted.radius - (inner if out > 0 else outer))
    if ledge < wanted.ledge:
        problems.append(
            sentence("the blank reaches {} past the bore; the seat needs {}", say(max(ledge, 0.0)), say(wanted.ledge))
        )
    behind = jaw.behind(wanted.radius, out) - wanted.relief
    if behind < BEHIND_BORE_MM:
        problems.append(
            sentence(
                "{} of metal would be left behind the bore; {} is least", say(max(behind, 0.0)), say(BEHIND_BORE_MM)
            )
        )
    if wanted.depth >= blank.height - WEB_LIMIT_MM:
        problems.append(
            sentence("a bore {} deep leaves too little of a jaw {} tall", say(wanted.depth), say(blank.height))
        )
    return metal, problems


def _bears(wanted: Wanted, jaw: Outline, say: Say) -> list[str]:
    """The bore reaches as far round each jaw as the plan of the part counts on."""
    if wanted.half_angle is None:
        return []
    planned, found = (2 * wanted.radius * angle for angle in (wanted.half_angle, jaw.half_angle_at(wanted.radius)))
    if found >= planned - BEARS_LESS_MM:
        return []
    return [
        sentence(
            "each jaw would bear over {} round the part, the plan counts {}: use jaws that reach further in, "
            "pointed ones for a small part, or state the gap there is between them",
            say(found),
            say(planned),
        )
        if wanted.outward > 0 or jaw.is_round
        else sentence(
            "each jaw would bear over {} round the part, the plan counts {}: state its width", say(found), say(planned)
        )
    ]


def _web(blank: Blank, wanted: Wanted, zero: float, jaw: Outline, say: Say) -> tuple[float | None, list[str]]:
    """Least metal between the bore and the pocket of any bolt behind it; a bolt under the seat must lie deep enough.

    A pocket that leaves no wall to the sides or ends of the jaw cuts off what lies beyond it.
    """
    out = wanted.outward
    problems: list[str] = []
    webs = []
    for number, hole in enumerate(blank.holes, 1):
        to_wall = out * (zero + hole - wanted.radius)
        half = blank.pocket[0] / 2
        if (wall := jaw.wall_round(zero + hole) - half) < POCKET_WALL_MM:
            problems.append(
                sentence(
                    "the pocket of bolt {} leaves {} of wall to the side or end of the jaw; {} is least",
                    number,
                    say(wall),
                    say(POCKET_WALL_MM),
                )
                if wall > 0
                else sentence(
                    "the pocket of bolt {} breaks out of the side or end of the jaw by {}", number, say(-wall)
                )
            )
        if to_wall > half + wanted.relief:
            webs.append(to_wall - half - wanted.relief)
        elif to_wall < -half:
            over = blank.pocket[1] - blank.head - wanted.depth
            if over < OVER_HEAD_MM:
                high = say(OVER_HEAD_MM - over)
                problems.append(sentence("the head of bolt {} would stand {} too high under the seat", number, high))
        else:
            problems.append(f"the bore would open the pocket of bolt {number}")
    web = min(webs, default=None)
    if web is not None and web < blank.web_limit:
        problems.append(sentence("{} of web to the bolt pocket is under {}", say(web), say(blank.web_limit)))
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


def _nuts(master: Master, blank: Blank, zero: float, opening: float, say: Say) -> tuple[float | None, list[str]]:
    """T-nuts stay inside the body at full opening, and inside their slot."""
    if not blank.holes:
        return None, []
    problems: list[str] = []
    half = master.nut_length / 2
    first, last = zero + min(blank.holes) - half, zero + max(blank.holes) + half
    margin = None
    if master.body_radius is not None:
        margin = master.body_radius - last - opening
        if margin < 0:
            problems.append(
                sentence("the outer T-nut would stand {} past the rim of the chuck, jaws open", say(-margin))
            )
    if master.slot is not None:
        stroke = master.travel / 2 - opening
        low, high = (end + stroke for end in master.slot)
        if first < low or last > high:
            where = "inner" if first < low else "outer"
            problems.append(
                sentence(
                    "a T-nut would stand {} past the {} end of its slot", say(max(low - first, last - high)), where
                )
            )
    return margin, problems


def _swings(wanted: Wanted, turning: float, say: Say) -> list[str]:
    return [
        sentence("the open jaws turn in Ø{}; {} clears Ø{}", say(2 * turning), name, say(2 * swing))
        for name, swing in wanted.swings
        if turning > swing
    ]


def _strokes_left(wanted: Wanted, opening: float, closing: float, say: Say) -> list[str]:
    """The part goes in, and the jaws have stroke left when they hold it."""
    outside = wanted.side == "outside"
    problems: list[str] = []
    gripping, releasing = (closing, opening) if outside else (opening, closing)
    if gripping < LEAST_STROKE_MM + wanted.spread:
        problems.append(sentence("only {} of stroke is left in the gripping direction", say(max(gripping, 0.0))))
    if wanted.entering is not None:
        needed = (wanted.entering - wanted.radius) * (1 if outside else -1) + ENTRY_MM
        if releasing < needed - 1e-9:
            verb = "open" if outside else "close"
            problems.append(
                sentence("the jaws {} {} per side; the part needs {} to go in", verb, say(releasing), say(needed))
            )
    return problems


def _words(
    master: Master, ways: Sequence[Way], refused: Sequence[Refused], shift: float | None, say: Say
) -> tuple[str, ...]:
    words: list[str] = []
    if ways:
        words.append(way_words(master.word, ways[0], say))
    else:
        why = common_reason(refused)
        words.append(sentence("no {} puts that diameter at mid-stroke with this set: {}", master.word, why))
    if shift is not None and master.pitch is not None:
        words.append(
            sentence("one jaw one tooth off makes a run-out of about {}: count the teeth on every jaw", say(shift))
        )
    return tuple(words)


def way_words(word: str, way: Way, say: Say = in_mm) -> str:
    """Where the jaws stand, as a setter says it."""
    return sentence(
        "{} {} on every jaw, cut {}: {} left to open, {} to close",
        word,
        way.tooth,
        stroke_words(way.stroke, say),
        say(way.opening),
        say(way.closing),
    )


def stroke_words(stroke: float, say: Say = in_mm) -> str:
    """A point of the stroke in words."""
    if abs(stroke) < 0.005:
        return "at mid-stroke"
    return sentence("{} {} mid-stroke", say(abs(stroke)), "out from" if stroke > 0 else "in from")


def common_reason(refused: Sequence[Refused]) -> str:
    """The refusal of the tooth that comes nearest: the one with the fewest reasons, the middle one of those."""
    if not refused:
        return "the master jaws have none"
    fewest = min(len(one.reasons) for one in refused)
    nearest = [one for one in refused if len(one.reasons) == fewest]
    one = nearest[len(nearest) // 2]
    return sentence("on {}, {}", one.tooth, joined("; ", one.reasons))

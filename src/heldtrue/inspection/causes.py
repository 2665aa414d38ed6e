"""Why it runs out: causes ranked with their evidence, which jaw is high, and the one test that comes next.

Lengths mm (total indicator reading unless said), angles rad from jaw 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, degrees, pi

from heldtrue.errors import InputError
from heldtrue.inspection.indicator import IndicatorResult
from heldtrue.inspection.parts import CAUSES, POSSIBLE, SURE, CauseName, Piece, resolved, take_apart

CANNOT_TELL = "cannot tell"
NOTHING = "nothing to find"
LEAST_MM = 0.002
"""Run-out below this is not worth a cause: common practice, no source."""


@dataclass(frozen=True)
class Cause:
    """One cause: how much run-out it explains, ``expected`` by our judgement, at ``least`` and at ``most`` [mm], and
    why.
    """

    name: CauseName
    expected: float
    least: float
    most: float
    evidence: tuple[str, ...]


@dataclass(frozen=True)
class NextTest:
    """The one test that separates the two leading causes: ``how`` to do it, and what each outcome means."""

    name: str
    how: str
    separates: tuple[CauseName, CauseName]
    outcomes: tuple[tuple[CauseName, str], ...]


@dataclass(frozen=True)
class JawHigh:
    """The jaw that would explain the whole offset alone: it stands in by ``by`` [mm] (``high``), or back by that (not).

    ``by_jaw``: how far each jaw stands in, with the pattern that no two of them can be told from [mm]; positive
    pushes the part.
    """

    jaw: int
    by: float
    high: bool
    by_jaw: tuple[float, ...]
    words: str


@dataclass(frozen=True)
class Diagnosis:
    """What the traces say together.

    ``answer``: the first cause, or that the readings cannot tell, or that there is nothing to find; ``told``: is it
    sure; ``causes`` by expected size; ``pieces`` they were read from; ``jaw``: None where no offset stays with the
    chuck.
    """

    answer: str
    told: bool
    causes: tuple[Cause, ...]
    pieces: tuple[Piece, ...]
    jaw: JawHigh | None
    next_test: NextTest | None
    words: tuple[str, ...]


def rank_causes(
    results: Sequence[IndicatorResult], *, grip_side: str = "outside", grip_z: float = 0.0, least: float = LEAST_MM
) -> Diagnosis:
    """Causes of what one or more traces show, of one part in one set of jaws.

    ``grip_side``: outside or inside; ``grip_z``: middle of the grip along the part [mm]; ``least``: run-out that is
    worth a cause [mm].  The first cause is told when the least it explains is more than the most that any other
    could; a piece that may come from several causes counts for none of them at the least and for each of them at the
    most.
    Raises: ``InputError`` for no traces, or traces with different numbers of jaws.
    """
    if not results:
        raise InputError("no readings to find a cause in")
    if len({r.jaws for r in results}) > 1:
        raise InputError("the traces are of chucks with different numbers of jaws; compare like with like")
    if grip_side not in ("outside", "inside"):
        raise InputError(f'grip_side: found "{grip_side}"; expected outside or inside')
    pieces = take_apart(results, grip_z, least)
    causes = tuple(sorted((_cause(name, pieces) for name in CAUSES), key=lambda c: -c.expected))
    shown = tuple(c for c in causes if c.expected > 0.0)
    if not shown:
        alone = [o.off for r in results for o in r.outliers]
        if alone:  # what hits the eye of whoever turned the part must not end in "nothing"
            words = (f"{len(alone)} of the readings {'stands' if len(alone) == 1 else 'stand'} off the rest by up to "
                     f"{max(map(abs, alone)):.3f} mm, beside that nothing stands out: look there for a chip, a burr or "
                     "a nick, clean, and read again")  # fmt: skip
            return Diagnosis(CANNOT_TELL, False, (), (), None, None, (words, *_left_out(results)))
        words = f"nothing stands out of the noise and is {least:.3f} mm or more"
        return Diagnosis(NOTHING, True, (), (), None, None, (words,))
    first, rest = shown[0], shown[1:]
    told = first.least > max((c.most for c in rest), default=0.0)
    jaw = _jaw(pieces, results[0].jaws, grip_side)
    test = _next_test(shown, results, told)
    return Diagnosis(
        first.name if told else CANNOT_TELL, told, shown, pieces, jaw, test, _words(shown, told, jaw, results)
    )


def jaw_high(offset: complex, jaws: int, grip_side: str = "outside") -> JawHigh:
    """Which jaw stands high for the part's centre to stand off by ``offset`` (amplitude and direction) [mm].

    Jaws that close together by the same amount, jaw k standing in by d_k, put the centre where offset . u_k = mean -
    d_k for an outside grip, and the other way for an inside one: d_k = -/+ |offset| cos(t_k - direction).  One jaw
    alone, off by d, moves the centre by 2 d / jaws.  Source: geometry, derived here; rigid jaws and part.
    """
    sign = -1.0 if grip_side == "outside" else 1.0
    size, turn = abs(offset), _angle(offset)
    by_jaw = tuple(sign * size * cos(2 * pi * k / jaws - turn) for k in range(jaws))
    k = max(range(jaws), key=lambda i: abs(by_jaw[i]))
    by, high = 0.5 * jaws * size, by_jaw[k] > 0.0
    words = (
        f"the surface stands off {size:.4f} mm towards {degrees(turn):.0f}° from jaw 1; jaw {k + 1} alone "
        f"{'high' if high else 'low'} by about {by:.3f} mm would do that"
    )
    return JawHigh(k + 1, by, high, by_jaw, words)


def turn_by(jaws: int) -> float:
    """The turn [rad] that tells chuck from part in the offset and in the lobes of the jaws alike.

    An odd multiple of half a jaw spacing turns the lobes over; the one nearest to half a turn moves the offset most.
    """
    half = pi / jaws
    return min((half * k for k in range(1, 2 * jaws, 2)), key=lambda w: round(abs(w - pi), 9))


def _angle(vector: complex) -> float:
    from cmath import phase

    return phase(vector) % (2 * pi)


def _cause(name: CauseName, pieces: Sequence[Piece]) -> Cause:
    mine = sorted((p for p in pieces if p.share(name) > 0.0), key=lambda p: -p.size * p.share(name))
    expected = sum(p.size * p.share(name) for p in mine)
    least = sum(max(p.size - 2 * p.uncertainty, 0.0) for p in mine if p.share(name) >= SURE)
    most = sum(p.size + 2 * p.uncertainty for p in mine if p.share(name) >= POSSIBLE)
    evidence = tuple(f"{p.evidence}: {p.size:.3f} mm" for p in mine)
    return Cause(name, expected, least, most, evidence)


def _jaw(pieces: Sequence[Piece], jaws: int, grip_side: str) -> JawHigh | None:
    """From the offset that stays; from the offset as read where it could not be parted."""
    found = next((p for p in pieces if p.name in ("offset that stays", "offset")), None)
    return None if found is None else jaw_high(found.vector, jaws, grip_side)


# --- the next test ------------------------------------------------------------------------------------------------

_SAYS: dict[str, dict[CauseName, str]] = {
    "turn the part": {
        "jaws": "the high spot stays at the same jaw",
        "seat or chip": "the high spot stays at the same jaw",
        "clamp": "the lobes stay at the jaws",
        "part": "the high spot, or the lobes, go round with the part",
        "cut": "the lobes go round with the part",
        "spindle or measuring": "the readings come out in another pattern",
    },
    "release the part": {
        "clamp": "the lobes change: they go, or they come",
        "cut": "the lobes are still there as they were",
        "part": "the lobes are still there as they were",
        "spindle or measuring": "the lobes are gone with another spindle or stand",
    },
    "read a second plane": {
        "jaws": "the same run-out in both planes",
        "part": "the same run-out in both planes, or a bend",
        "seat or chip": "the run-out grows away from the grip",
        "cut": "the diameter differs between the planes",
        "clamp": "the lobes are largest near the jaws",
    },
    "read again": {
        **dict.fromkeys(CAUSES, "the same pattern comes back"),
        "spindle or measuring": "the pattern does not come back",
    },
}  # fmt: skip
_USUAL_RIVAL: dict[CauseName, CauseName] = {
    "jaws": "part", "part": "jaws", "clamp": "cut", "cut": "clamp", "seat or chip": "jaws",
    "spindle or measuring": "jaws",
}  # fmt: skip


def _next_test(causes: Sequence[Cause], results: Sequence[IndicatorResult], told: bool) -> NextTest | None:
    """The first test, not yet done, whose outcome differs between the two leading causes."""
    first = causes[0].name
    rivals = [c.name for c in causes[1:]] or [_USUAL_RIVAL[first]]
    pair = (first, rivals[0])
    jaws = results[0].jaws
    states = {r.trace.state for r in results}
    done = {
        "turn the part": resolved(results) and resolved(results, jaws),
        "release the part": {"clamped", "free"} <= states,
        "read a second plane": any(r.tilt is not None for r in results),
        "read again": False,
    }
    how = {
        "turn the part": f"mark the part at jaw 1, turn it {degrees(turn_by(jaws)):.0f}° in the jaws, clamp "
        "at the same pressure, read the same places",
        "release the part": "release the part and read the same places free, on a centre, a vee block or a table",
        "read a second plane": "leave the part clamped and read the same places further from the jaws",
        "read again": "leave the part clamped and read the same places again, then with the indicator set anew",
    }
    shown = {}
    if states == {"free"}:
        shown["release the part"] = "read it clamped"
        how["release the part"] = "clamp the part at the pressure it was turned at and read the same places in the jaws"
    prefer = ["read again"] if "spindle or measuring" in pair else []
    if set(pair) <= {"clamp", "cut", "part"} and "clamp" in pair:
        prefer = ["release the part"]
    if "seat or chip" in pair and "part" not in pair:
        prefer = ["read a second plane"]
    for name in dict.fromkeys([*prefer, *_SAYS]):
        says = _SAYS[name]
        outcomes = [says.get(c, "") for c in pair]
        if not done[name] and all(outcomes) and outcomes[0] != outcomes[1]:
            return NextTest(shown.get(name, name), how[name], pair, tuple((c, f"{says[c]}: {_then(c)}") for c in pair))
    if told:
        return None
    again = _SAYS["read again"][first]
    return NextTest("read again", how["read again"], pair, tuple((c, again) for c in pair))


def _then(cause: CauseName) -> str:
    """What to do when it is this cause."""
    return {
        "jaws": "clean the serrations and check every tooth and bolt, then skim the bore",
        "part": "the part brings it along: look at the surface it is gripped on",
        "clamp": "less pressure down to the floor of the plan, more wrap or more jaws",
        "seat or chip": "clean seat and part, check the seat with an indicator, skim it",
        "spindle or measuring": "check stand, indicator and spindle before anything else",
        "cut": "a lighter finishing cut, a sharper tool, a shorter overhang or a centre",
    }[cause]


def _words(
    causes: Sequence[Cause], told: bool, jaw: JawHigh | None, results: Sequence[IndicatorResult]
) -> tuple[str, ...]:
    first = causes[0]
    if told:
        found = [f"{first.name}: explains {first.expected:.3f} mm; {_then(first.name)}"]
    else:
        # Only causes that could be the largest stand beside the first.
        could = [c.name for c in causes if c is first or c.most > first.least]
        found = [f"{CANNOT_TELL}: {' or '.join(could)}"]
    if jaw is not None and any(c.name == "jaws" for c in causes):
        found.append(jaw.words)
    return (*found, *_left_out(results))


def _left_out(results: Sequence[IndicatorResult]) -> list[str]:
    return [
        f"reading {o.row + 1} at {degrees(o.angle):.0f}° is {o.off:+.3f} mm off the rest and was left out"
        for r in results for o in r.outliers
    ]  # fmt: skip

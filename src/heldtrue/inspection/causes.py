"""Why it runs out: the cause where the readings tell it, else those that fit as well, and what would part them.

Lengths mm (total indicator reading unless said), angles rad from jaw 1.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import cos, degrees, pi, sqrt
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import InputError
from heldtrue.inspection.elements import (
    CAUSES,
    FEW_PLACES,
    Array,
    CauseName,
    Element,
    Seen,
    columns,
    elements,
    seen,
    visible,
)
from heldtrue.inspection.evidence import CLAMPING_MM, NOISE_MM, Posterior, of_clamping, posterior
from heldtrue.inspection.indicator import IndicatorResult
from heldtrue.inspection.next_reading import (
    AGAIN,
    ASK,
    BAR,
    LEAST_BITS,
    PLANE,
    RELEASE,
    TURN,
    TURN_BY,
    TURN_HALF,
    informative,
    said,
    unread,
)
from heldtrue.sentences import joined, sentence

CANNOT_TELL = "cannot tell"
NOTHING = "nothing to find"
LEAST_MM = 0.002
"""Run-out below this is not worth a cause: common practice, no source."""
SURE = 0.95
"""A cause is told when it is the largest with this probability, and then makes at least ``MAIN`` of the run-out."""
MAIN = 0.6
CONTRADICTS = 0.3
"""A trace that is with this probability not what was said of it is asked about, and no cause is told."""
MOST_MM, MOST_APART = 3.0, 20.0
"""Readings that swing more are not taken apart; nor are pressures that differ by more than so many times."""
ALIKE = 0.5
"""Correlation from which what two traces leave over is the same again, and no scatter: our judgement."""
COULD = 0.05
"""A cause that may be the largest with this probability fits too."""
ROUND = 144
"""Places round that a run-out is taken from."""
Made: TypeAlias = Literal["", "here", "before"]


@dataclass(frozen=True)
class Cause:
    """One cause: the run-out it makes, ``expected`` on average over all that is possible, ``least`` and ``most`` the
    ends of its 95 % interval [mm]; ``chance`` that it is the largest; why.
    """

    name: CauseName
    expected: float
    least: float
    most: float
    chance: float
    evidence: tuple[str, ...]


@dataclass(frozen=True)
class NextTest:
    """The one test that tells most of what is open: ``how`` to do it, and what each outcome means; ``bits`` it is
    expected to tell.
    """

    name: str
    how: str
    separates: tuple[CauseName, CauseName]
    outcomes: tuple[tuple[CauseName, str], ...]
    bits: float


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
class Slip:
    """A trace that contradicts the others: ``trace`` from 0, ``what`` seems to have gone wrong, how likely."""

    trace: int
    what: str
    chance: float


@dataclass(frozen=True)
class Diagnosis:
    """What the traces say together.

    ``answer``: the cause, or that the readings cannot tell, or that there is nothing to find; ``told``: is it sure;
    ``there``: what the first trace shows before any cause, (name, run-out); ``causes`` by expected size; ``could``:
    those that may be the largest, likeliest first; ``jaw``: None where no offset need stay with the chuck, or no jaw
    could make it; ``slip``: None where no trace contradicts.
    """

    answer: str
    told: bool
    there: tuple[tuple[str, float], ...]
    causes: tuple[Cause, ...]
    could: tuple[CauseName, ...]
    jaw: JawHigh | None
    next_test: NextTest | None
    slip: Slip | None
    words: tuple[str, ...]


def rank_causes(
    results: Sequence[IndicatorResult], *, grip_side: str = "outside", grip_z: float = 0.0, least: float = LEAST_MM,
    made: Made = "", centring: tuple[float, float] | None = None, repeat: tuple[float, float] | None = None,
) -> Diagnosis:  # fmt: skip
    """Causes of what one or more traces show, of one part in one set of jaws, from one model of all of them.

    ``grip_side``: outside or inside; ``grip_z``: middle of the grip along the part [mm]; ``least``: run-out that is
    worth a cause [mm]; ``made``: was the surface turned ``here``, in the clamping of the first trace, or ``before``;
    ``centring``: two scatters of the centre from clamping to clamping that stand for what is known of this chuck [mm];
    ``repeat``: what the dial repeats to [mm], and the factor within which that is known.
    Raises: ``InputError`` for no traces, traces with different numbers of jaws, of surfaces that look different ways,
    or with pressures too far apart.
    """
    if not results:
        raise InputError("no readings to find a cause in")
    if len({r.jaws for r in results}) > 1:
        raise InputError("the traces are of chucks with different numbers of jaws; compare like with like")
    if len({r.trace.side for r in results}) > 1:
        raise InputError("the traces are of surfaces that look different ways; ask for the causes of each by itself")
    if grip_side not in ("outside", "inside"):
        raise InputError(f'grip_side: found "{grip_side}"; expected outside or inside')
    pressures = [r.trace.pressure for r in results if r.trace.pressure]
    if pressures and max(pressures) > MOST_APART * min(pressures):
        raise InputError(f"pressures of {min(pressures):.3g} and {max(pressures):.3g} MPa: expected at most "
                         f"{MOST_APART:g} times apart; check their unit")  # fmt: skip
    there = _there(results, least)
    swing = max(float(np.ptp(r.trace.reading)) for r in results)
    if swing > MOST_MM:
        words = sentence(
            "{}: readings that swing by {:.2f mm} are far more than a cause leaves in a set-up that "
            "was done with care; check the unit, set the part true, read again",
            CANNOT_TELL,
            swing,
        )
        return Diagnosis(CANNOT_TELL, False, there, (), (), None, None, None, (words, *_left_out(results)))
    if not there and not _scatters(results):
        return _nothing(results, least)
    rows = seen(results, grip_z)
    jaws, face = results[0].jaws, results[0].trace.side == "face"
    places = max(len(np.unique(np.round(np.mod(r.trace.angle, 2 * pi), 4))) for r in results)
    waves = visible(rows, elements(jaws, places, face))
    found = posterior(rows, waves, np.array([said(e, made) for e in waves]), centring or CLAMPING_MM, repeat)
    return _diagnosis(found, _sizes(found, results), there, results, grip_side, least, made)


@dataclass(frozen=True)
class _Sizes:
    """Run-out by draw [mm]: of each cause, of its faults alone, of everything together, and of how the part happened to
    sit in this clamping."""

    whole: Mapping[CauseName, Array]
    faults: Mapping[CauseName, Array]
    together: Array
    sits: Array


def _diagnosis(
    made: Posterior, sizes: _Sizes, there: tuple[tuple[str, float], ...], results: Sequence[IndicatorResult],
    grip_side: str, least: float, where: Made,
) -> Diagnosis:  # fmt: skip
    table = np.stack([sizes.whole[name] for name in CAUSES])
    first = table.argmax(axis=0)
    label: list[CauseName] = [CAUSES[k] for k in first]
    mainly = table.max(axis=0) >= MAIN * sizes.together
    worth = table.max(axis=0) >= least
    sits = float(np.mean(sizes.sits > table.max(axis=0)))
    chance = {name: float(np.mean((first == k) & worth)) for k, name in enumerate(CAUSES)}
    main = {name: float(np.mean((first == k) & mainly)) for k, name in enumerate(CAUSES)}
    slip = _slip(made)
    best = max(CAUSES, key=lambda name: main[name])
    told = slip is None and main[best] >= SURE
    likeness = _likeness(results)
    if told and best == "spindle or measuring" and (likeness is None or likeness >= ALIKE):
        # What is in no pattern may be a keyway, a flat or dents as well: those come back when it is read again.
        at = CAUSES.index(best)
        told = float(np.mean((first == at) & mainly & ~_scattered(made))) >= SURE
    could = tuple(sorted((n for n in CAUSES if chance[n] >= COULD), key=lambda n: -chance[n])) or (best,)
    resolved = len({round(r.trace.turned, 3) for r in results}) > 1
    every = np.ones(len(first), bool)
    causes = tuple(sorted(
        (_cause(name, sizes, first == CAUSES.index(name) if told and name == best else every, chance[name], made,
                resolved, least)
         for name in CAUSES if chance[name] >= COULD or float(np.median(sizes.whole[name])) >= least),
        key=lambda c: -c.expected,
    ))  # fmt: skip
    jaw = _jaw(made, results[0].jaws, grip_side) if "jaws" in could or any(c.name == "jaws" for c in causes) else None
    test = None if told and slip is None else _next_test(made, label, could, slip, where, sits)
    words = _words(best if told else None, could, causes, there, jaw, slip, made, results, sits)
    return Diagnosis(best if told else CANNOT_TELL, told, there, causes, could, jaw, test, slip, words)


# --- what is there, before any cause --------------------------------------------------------------------------------


def _there(results: Sequence[IndicatorResult], least: float) -> tuple[tuple[str, float], ...]:
    """What stands out of the noise in any trace, as run-out; of each kind where it is largest."""
    found: dict[str, float] = {}
    for one in results:
        offset = one.eccentricity.amplitude
        waves = [("offset" if one.trace.side != "face" else "tilt of the face", offset.value, offset.low)]
        if one.tilt is not None:
            arm = 0.5 * (one.trace.planes[-1] - one.trace.planes[0])
            waves.append(("lean along the part", arm * one.tilt.amplitude.value, arm * one.tilt.amplitude.low))
        waves += [(f"{w.order} lobes", w.amplitude.value, w.amplitude.low) for w in one.lobes]
        arm = 0.5 * (one.trace.planes[-1] - one.trace.planes[0])
        waves += [(f"{w.order} lobes", arm * w.amplitude.value, arm * w.amplitude.low) for w in one.growth]
        for name, size, low in waves:
            if low > 0.0 and 2 * size >= least:
                found[name] = max(found.get(name, 0.0), 2 * size)
    return tuple(sorted(found.items(), key=lambda pair: -pair[1]))


def _scatters(results: Sequence[IndicatorResult]) -> bool:
    """Do the readings scatter more than the dial's divisions make them?"""
    return any(r.noise.low > 1.5 * max(r.resolution / sqrt(12), NOISE_MM[1]) for r in results)


def _nothing(results: Sequence[IndicatorResult], least: float) -> Diagnosis:
    alone = [o.off for r in results for o in r.outliers]
    if alone:  # what hits the eye of whoever turned the part must not end in "nothing"
        words = sentence(
            "{} of the readings {} off the rest by up to {:.3f mm}, beside that nothing stands out: "
            "look there for a chip, a burr or a nick, clean, and read again",
            len(alone),
            "stands" if len(alone) == 1 else "stand",
            max(map(abs, alone)),
        )
        return Diagnosis(CANNOT_TELL, False, (), (), (), None, None, None, (words, *_left_out(results)))
    places = len(np.unique(np.round(np.mod(np.concatenate([r.trace.angle for r in results]), 2 * pi), 4)))
    words = sentence("nothing stands out of the noise and is {:.3f mm} or more", least)
    hidden = places % 2 == 0 and places <= FEW_PLACES
    if hidden:  # so it is not sure, however still the dial stood
        words += f"; {places // 2} lobes that stand between the {places} places are not seen"
    return Diagnosis(NOTHING, not hidden, (), (), (), None, None, None, (words,))


# --- sizes of the causes --------------------------------------------------------------------------------------------


def _sizes(made: Posterior, results: Sequence[IndicatorResult]) -> _Sizes:
    """Run-out in every draw, in the worst plane, as clamped first."""
    rows = made.worlds[0].rows
    heights = np.array([rows.height[rows.plane == plane][0] for plane in np.unique(rows.plane)])
    angle = 2 * pi * np.arange(ROUND) / ROUND
    count = len(heights) * ROUND
    full, none = np.ones(count), np.zeros(count, np.int64)
    fine = Seen(np.tile(angle, len(heights)), 0 * full, np.repeat(heights, ROUND), none, none, none, full, full, full,
                0 * full, full)  # fmt: skip
    clamped, free = columns(fine, made.elements), columns(replace(fine, grip=0 * full), made.elements)
    everything = made.coefficient + made.along  # by plane
    is_fault = np.zeros(made.coefficient.shape, bool)
    for k, faults in enumerate(made.faults):
        for one in faults:
            is_fault[2 * one : 2 * one + 2, k] = True
    large = np.where(is_fault, everything, 0.0)

    def shape_of(name: CauseName, coefficient: Array) -> Array:
        of_it = [k for k, one in enumerate(made.elements) if one.cause == name]
        at = [column for k in of_it for column in (2 * k, 2 * k + 1)]
        round_ = np.repeat([made.elements[k].kind == "lobes, cut round" for k in of_it], 2)
        shape = np.where(round_, free[:, at], clamped[:, at])
        return (shape.reshape(len(heights), ROUND, -1) @ coefficient[:, at]).reshape(count, -1)

    def swing(shape: Array) -> Array:
        return np.asarray(np.ptp(shape.reshape(len(heights), ROUND, -1), axis=1).max(axis=0), float)

    shapes = {name: shape_of(name, everything) for name in CAUSES}
    whole = {name: swing(shape) for name, shape in shapes.items()}
    alone = {name: swing(shape_of(name, large)) for name in CAUSES}
    sits = of_clamping(fine) @ made.clamping[:4]
    together = swing(sum(shapes.values(), sits))
    most = max(float(np.ptp(r.trace.reading)) for r in results)
    noisy = np.where(_scattered(made), np.minimum(4 * made.noise, most), 0.0)
    whole["spindle or measuring"] = whole["spindle or measuring"] + noisy
    alone["spindle or measuring"] = alone["spindle or measuring"] + noisy
    return _Sizes(whole, alone, np.maximum(together + noisy, np.sqrt(sum(s**2 for s in whole.values()))), swing(sits))


_WHY: dict[tuple[CauseName, str], tuple[str, str]] = {
    ("jaws", "offset"): ("once per turn, and stays at the same jaw when the part is turned",
                         "once per turn; one clamping cannot say whether it stays or turns"),
    ("part", "offset"): ("once per turn, and goes round with the part",
                         "once per turn; one clamping cannot say whether it stays or turns"),
    ("part", "tilt"): ("the run-out grows away from the grip, and turns with the part",
                       "the run-out may grow away from the grip, and turn with the part"),
    ("seat or chip", "tilt"): ("the run-out grows away from the grip, and stays",
                               "the run-out may grow away from the grip, and stay"),
    ("part", "lobes"): ("{} lobes that go round with the part", "{} lobes the part may have brought along"),
    ("cut", "lobes"): ("{} lobes that go round with the part", "{} lobes that may have been cut"),
    ("clamp", "lobes"): ("{} lobes that stay at the jaws", "{} lobes, as many as the jaws or a multiple"),
    ("clamp", "lobes, cut round"): ("{} lobes: cut round while clamped, sprung when released",
                                    "{} lobes: cut round while clamped, sprung when released"),
    ("spindle or measuring", "lobes"): ("{} lobes that stay with the spindle", "{} lobes that may be the spindle's"),
}  # fmt: skip
"""What is seen of each wave: with the part turned in the jaws, and without."""


def _scattered(made: Posterior) -> NDArray[np.bool_]:
    """Draws in which the readings scatter by more than any sound dial does."""
    return np.asarray(made.noise >= NOISE_MM[3] - 1e-12)


def _likeness(results: Sequence[IndicatorResult]) -> float | None:
    """Correlation of what no wave explains between two traces of the same surface read alike, the least of all pairs;
    None where nothing was read twice."""
    found = []
    for one, other in combinations(results, 2):
        a, b = one.trace, other.trace
        alike = (a.state, round(a.turned, 6), a.pressure) == (b.state, round(b.turned, 6), b.pressure)
        if alike and a.angle.shape == b.angle.shape and np.allclose((a.angle, a.z), (b.angle, b.z), atol=1e-3):
            size = float(np.linalg.norm(one.residual) * np.linalg.norm(other.residual))
            found.append(float(one.residual @ other.residual) / size if size > 0.0 else 1.0)
    return min(found, default=None)


def _cause(
    name: CauseName, sizes: _Sizes, draws: NDArray[np.bool_], chance: float, made: Posterior, resolved: bool,
    least: float,
) -> Cause:  # fmt: skip
    """The figures of one cause over ``draws``.  At the least it makes what its faults make: a wave that is no fault is
    taken as anything from nothing to what it may be."""
    low = float(np.quantile(sizes.faults[name][draws], 0.025))
    high = float(np.quantile(sizes.whole[name][draws], 0.975))
    mean = min(max(float(sizes.whole[name][draws].mean()), low), high)
    waves = []
    for k, one in enumerate(made.elements):
        if one.cause == name:
            with_it = [f for f in made.faults if k in f]
            swing = 2 * float(np.mean(np.hypot(made.coefficient[2 * k], made.coefficient[2 * k + 1])))
            if len(with_it) >= COULD * len(made.faults) or swing >= least:
                waves.append((swing, _why(one, resolved)))
    evidence: list[str] = [sentence("{}: {:.3f mm}", why, swing) for swing, why in sorted(waves, key=lambda w: -w[0])]
    if name == "spindle or measuring" and np.mean(_scattered(made)) >= COULD:
        evidence.append("readings scatter more than the dial's divisions, in no pattern round the part")
    return Cause(name, mean, low, high, chance, tuple(dict.fromkeys(evidence)))


def _why(one: Element, resolved: bool) -> str:
    return _WHY[(one.cause, one.kind)][0 if resolved else 1].format(one.order)


def _slip(made: Posterior) -> Slip | None:
    wrong = [(c, w) for w, c in zip(made.worlds, made.chance, strict=True) if w.slip not in (None, "one reading off")]
    if sum(c for c, _ in wrong) < CONTRADICTS:
        return None
    chance, world = max(wrong, key=lambda pair: pair[0])
    return Slip(world.trace, str(world.slip), chance)


# --- which jaw ------------------------------------------------------------------------------------------------------


def _jaw(made: Posterior, jaws: int, grip_side: str) -> JawHigh | None:
    """From the offset that stays, on average over the draws that have one."""
    at = next((k for k, e in enumerate(made.elements) if e.cause == "jaws"), None)
    if at is None:
        return None
    mine = [k for k, f in enumerate(made.faults) if at in f]
    if not mine:
        return None
    x, y = (float(made.coefficient[2 * at + i, mine].mean()) for i in (0, 1))
    return jaw_high(complex(x, y), jaws, grip_side)


def jaw_high(offset: complex, jaws: int, grip_side: str = "outside") -> JawHigh | None:
    """Which jaw stands high for the part's centre to stand off by ``offset`` (amplitude and direction) [mm].

    Jaws that close together by the same amount, jaw k standing in by d_k, put the centre where offset . u_k = mean -
    d_k for an outside grip, and the other way for an inside one: d_k = -/+ |offset| cos(t_k - direction).  One jaw
    alone, off by d, moves the centre by 2 d / jaws.  Source: geometry, derived here; rigid jaws and part.  None for
    two jaws and an offset across them: no jaw moves the part that way.
    """
    sign = -1.0 if grip_side == "outside" else 1.0
    size, turn = abs(offset), _angle(offset)
    by_jaw = tuple(sign * size * cos(2 * pi * k / jaws - turn) for k in range(jaws))
    k = max(range(jaws), key=lambda i: abs(by_jaw[i]))
    if jaws == 2 and abs(by_jaw[k]) < size * cos(pi / 6):
        return None
    by, high = 0.5 * jaws * size, by_jaw[k] > 0.0
    words = sentence(
        "the surface stands off {:.4f mm} towards {:.0f}° from jaw 1; jaw {} alone {} by about {:.3f mm} would do that",
        size,
        degrees(turn),
        k + 1,
        "high" if high else "low",
        by,
    )
    return JawHigh(k + 1, by, high, by_jaw, words)


def _angle(vector: complex) -> float:
    from cmath import phase

    return phase(vector) % (2 * pi)


# --- the next test --------------------------------------------------------------------------------------------------

_TURNED = {
    "jaws": "the high spot stays at the same jaw",
    "seat or chip": "the high spot stays at the same jaw, and the run-out grows away from the grip",
    "clamp": "the lobes stay at the jaws",
    "part": "the high spot, or the lobes, go round with the part",
    "cut": "the lobes go round with the part",
    "spindle or measuring": "the lobes stay, or the readings come out in another pattern",
}
_SAYS: dict[str, dict[str, str]] = {
    TURN.name: _TURNED,
    TURN_HALF.name: {**_TURNED, "clamp": "the lobes stay at the jaws, and are half as high",
                     "spindle or measuring": "the lobes stay as high as they were"},
    RELEASE.name: {
        "clamp": "the lobes change: they go, or they come",
        "cut": "the lobes are still there as they were",
        "part": "the lobes are still there as they were",
        "spindle or measuring": "the lobes are gone, and come back when clamped again at half the pressure",
        "jaws": "nothing of it is left when it is read free",
        "seat or chip": "nothing of it is left when it is read free",
    },
    PLANE.name: {
        "jaws": "the same run-out in both planes",
        "part": "the same run-out in both planes, or a bend",
        "seat or chip": "the run-out grows away from the grip",
        "cut": "the lobes are the same in both planes",
        "clamp": "the lobes are largest near the jaws",
        "spindle or measuring": "the lobes are the same in both planes",
    },
    AGAIN.name: {
        **dict.fromkeys(CAUSES, "the same pattern comes back"),
        "spindle or measuring": "the pattern does not come back",
    },
    BAR.name: {
        **dict.fromkeys(CAUSES, "the bar shows no lobes"),
        "spindle or measuring": "the bar shows the same lobes",
    },
    ASK.name: {
        "cut": "turned in this clamping", "part": "brought along",
        "clamp": "turned in this clamping, round until released",
        "jaws": "either", "seat or chip": "either", "spindle or measuring": "either",
    },
}  # fmt: skip


def _how(name: str, free_only: bool) -> str:
    turn = f"{degrees(TURN_BY):.0f}°"
    if free_only:
        return "clamp the part at the pressure it was turned at and read the same places in the jaws"
    return {
        TURN.name: f"mark the part at jaw 1, turn it {turn} in the jaws, clamp at the same pressure, see that the mark "
                   f"stands at {turn}, read the same places",
        TURN_HALF.name: f"mark the part at jaw 1, turn it {turn} in the jaws, clamp at half the pressure, see that the "
                        f"mark stands at {turn}, read the same places and say the pressure of each trace; spindle "
                        "locked, nothing is cut",
        RELEASE.name: "release the part and read the same places free, on a centre, a vee block or a table",
        PLANE.name: "leave the part clamped and read the same places further from the jaws",
        AGAIN.name: "unclamp, clamp again the same way, read the same places again with the indicator set anew",
        BAR.name: "read a round test bar in the spindle, state: spindle; it shows the spindle's own lobes alone",
        ASK.name: "say whether this surface was turned in this clamping, or brought along from another",
    }[name]  # fmt: skip


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


def _next_test(
    made: Posterior, label: Sequence[CauseName], could: Sequence[CauseName], slip: Slip | None,
    where: Made, sits: float,
) -> NextTest:  # fmt: skip
    """The reading that tells most; of it, the likeliest pair of causes it parts."""
    rows = made.worlds[0].rows
    free_only = not (rows.grip > 0).any()
    pair_of = tuple(could) if len(could) > 1 else (*could, next(n for n in CAUSES if n not in could))
    if slip is not None:
        how = (f"read trace {slip.trace + 1} again, and look where the mark on the part stands: it seems to have been "
               f"{slip.what}")  # fmt: skip
        return NextTest("read again", how, (pair_of[0], pair_of[1]), (), 0.0)
    if free_only:
        says = _SAYS[RELEASE.name]
        pair = _parted(pair_of, says)
        return NextTest(
            "read it clamped", _how("", True), pair, tuple((c, f"{says[c]}: {_then(c)}") for c in pair), 0.0
        )
    ranked = informative(made, label, unread(rows, where))
    one, bits = ranked[0]
    if bits < LEAST_BITS or sits >= 0.5:
        one, bits = next(pair for pair in ranked if pair[0] is AGAIN)
    says = _SAYS[one.name]
    pair = _parted(pair_of, says)
    return NextTest(one.name, _how(one.name, False), pair, tuple((c, f"{says[c]}: {_then(c)}") for c in pair), bits)


def _parted(could: Sequence[CauseName], says: Mapping[str, str]) -> tuple[CauseName, CauseName]:
    """The two likeliest causes whose outcomes differ."""
    first = could[0]
    other = next((c for c in could[1:] if says[c] != says[first]), could[1])
    return first, other


# --- words ----------------------------------------------------------------------------------------------------------


def _words(
    told: CauseName | None, could: Sequence[CauseName], causes: Sequence[Cause],
    there: Sequence[tuple[str, float]], jaw: JawHigh | None, slip: Slip | None, made: Posterior,
    results: Sequence[IndicatorResult], sits: float,
) -> tuple[str, ...]:  # fmt: skip
    if slip is not None:
        found = [f"{CANNOT_TELL}: trace {slip.trace + 1} contradicts the others; it looks {slip.what}: was it?"]
    elif told is not None:
        size = next(c.expected for c in causes if c.name == told)
        found = [sentence("{}: explains {:.3f mm}; {}", told, size, _then(told))]
    elif len(could) == 1:
        size = next(c.expected for c in causes if c.name == could[0])
        found = [sentence("{} for sure: {} is the likeliest and explains {:.3f mm}", CANNOT_TELL, could[0], size)]
    else:
        found = [f"{CANNOT_TELL}: {' or '.join(could)}"]
    if there:
        count = "is one error" if len(there) == 1 else f"are {len(there)} errors"
        found.append(f"there {count}: " + joined(", ", (sentence("{} {:.3f mm}", name, size) for name, size in there)))
    if told is None and sits >= COULD:
        found.append(
            "a part does not sit twice alike: so much may also come from this one clamping; clamp it again, read"
        )
    likeness = _likeness(results)
    if likeness is not None and likeness >= ALIKE and np.mean(_scattered(made)) >= 0.5:
        found.append("what is in no pattern came back at the same places: look for a keyway, a flat or dents there")
    if jaw is not None:
        found.append(jaw.words)
    if told in ("jaws", "seat or chip", "clamp", "spindle or measuring") and len(results) > 1 and any(
        r.trace.turned for r in results
    ):  # fmt: skip
        found.append("this rests on the part having been turned as said: the mark on it must stand there")
    rows, wrong = made.worlds[0].rows, [(w.off, c) for w, c in zip(made.worlds, made.chance, strict=True) if w.off]
    for row in dict.fromkeys(row for off, _ in wrong for row in off):
        if sum(chance for off, chance in wrong if row in off) >= 0.5:
            found.append(f"the reading at {degrees(float(rows.angle[row])):.0f}° of trace {int(rows.of[row]) + 1} does "
                         "not fit the others: read that place again")  # fmt: skip
    return (*found, *_left_out(results))


def _left_out(results: Sequence[IndicatorResult]) -> list[str]:
    return [
        sentence(
            "reading {} at {:.0f}° is {:+.3f mm} off the rest and was left out", o.row + 1, degrees(o.angle), o.off
        )
        for r in results
        for o in r.outliers
    ]

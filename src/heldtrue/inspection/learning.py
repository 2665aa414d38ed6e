"""What a shop's own readings say about jaw stiffness, grip and friction: a prior, sharpened by each accepted reading.

A quantity that is above zero is estimated on the log scale: prior and readings are log-normal, so that the answer is
again log-normal (the conjugate normal on logs).  Source: any textbook on Bayesian estimates; the check for
contradiction is derived here.  Units are those of the quantity.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, isfinite, log, log1p, sqrt

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import student

DISAGREES = 3.0
"""A reading this many standard uncertainties from what prior and other readings expect contradicts them."""


@dataclass(frozen=True)
class Prior:
    """What was assumed: ``median``, and the ``factor`` within which the true value lies, up or down, in 95 % of
    cases.
    """

    median: float
    factor: float


@dataclass(frozen=True)
class Accepted:
    """One accepted reading of the quantity: ``value`` and its ``relative`` standard uncertainty; ``what`` it was."""

    value: float
    relative: float
    what: str = ""


@dataclass(frozen=True)
class Flagged:
    """A reading that contradicts: which one from 0, its value, what was ``expected``, and how many ``sigmas`` off."""

    index: int
    value: float
    expected: float
    sigmas: float
    words: str


@dataclass(frozen=True)
class Learned:
    """What is now known.

    ``mean`` and ``median``; the 95 % interval ``low`` to ``high``, stretched so that it takes in every flagged reading;
    ``count``: readings used; ``flagged``: those kept and not used; ``source``: "assumed" or "measured (4 readings)".
    """

    name: str
    mean: float
    median: float
    low: float
    high: float
    count: int
    flagged: tuple[Flagged, ...]
    source: str
    words: str


def learn(name: str, prior: Prior, readings: Sequence[Accepted] = ()) -> Learned:
    """The quantity ``name`` from a stated prior and accepted readings, in any order.

    Each reading is compared with what prior and all others expect; the one that disagrees most, by more than
    ``DISAGREES``, is set aside, until none does.  Set aside, it is not averaged in: it stretches the interval instead,
    because nobody knows yet which side is right.
    Raises: ``InputError`` for values that are not above zero.
    """
    _check(name, prior, readings)
    centre, width = log(prior.median), log(prior.factor) / student(float("inf"))
    logs = [(log(r.value), sqrt(log1p(r.relative**2))) for r in readings]
    used = list(range(len(logs)))
    flagged: list[Flagged] = []
    while used:
        off = {i: _disagreement(logs[i], _posterior(centre, width, [logs[j] for j in used if j != i])) for i in used}
        worst = max(used, key=lambda i: abs(off[i]))
        if abs(off[worst]) <= DISAGREES:
            break
        used.remove(worst)
        flagged.append(_flag(worst, readings[worst], _posterior(centre, width, [logs[j] for j in used])[0], off[worst]))
    middle, sd = _posterior(centre, width, [logs[i] for i in used])
    half = student(float("inf")) * sd
    seen = [f.value for f in flagged]
    low, high = min([exp(middle - half), *seen]), max([exp(middle + half), *seen])
    source = f"measured ({len(used)} reading{'s' if len(used) != 1 else ''})" if used else "assumed"
    words = f"{name}: {exp(middle):.3g}, {low:.3g} to {high:.3g}, {source}"
    if flagged:
        words += f"; set aside because it contradicts, and taken into the interval: {len(flagged)}"
    if len(flagged) > len(used) and len(readings) > 1:
        words += "; the readings do not agree with each other: find out why before using any"
    return Learned(
        name, exp(middle + sd**2 / 2), exp(middle), low, high, len(used), tuple(sorted(flagged, key=lambda f: f.index)),
        source, words,
    )  # fmt: skip


def stiffness_reading(
    opened: float, uncertainty: float, *, elastic: float, base: float, stiffness: float, what: str = ""
) -> Accepted:
    """A stiffness of what the jaw stands on, from how far the jaw was seen to open at the tip.

    ``opened`` and its standard ``uncertainty`` [mm]; what the model says of the same reading: ``elastic`` part of jaw
    and part alone, and ``base`` part at ``stiffness`` [mm, any unit].  Only the base part goes with 1 / stiffness:
    stiffness base / (opened - elastic).
    Raises: ``InputError`` where nothing is left for the base.
    """
    left = opened - elastic
    if not (left > 0.0 and base > 0.0 and stiffness > 0.0 and uncertainty > 0.0):
        raise InputError(
            f"opened {opened:.3f} mm with {elastic:.3f} mm from jaw and part alone: nothing is left for what the jaw "
            f"stands on; check the gap and the pressure, or that the jaw was bored without taper"
        )
    return Accepted(stiffness * base / left, uncertainty / left, what)


def _posterior(centre: float, width: float, logs: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Mean and standard deviation on the log scale: precisions add, means are weighted by them."""
    weights = [1.0 / width**2, *(1.0 / sd**2 for _, sd in logs)]
    total = sum(weights)
    mean = sum(w * v for w, v in zip(weights, [centre, *(v for v, _ in logs)], strict=True)) / total
    return mean, 1.0 / sqrt(total)


def _disagreement(reading: tuple[float, float], expected: tuple[float, float]) -> float:
    """Distance from what the rest expect of a new reading, in standard uncertainties."""
    return (reading[0] - expected[0]) / sqrt(reading[1] ** 2 + expected[1] ** 2)


def _flag(index: int, reading: Accepted, expected: float, sigmas: float) -> Flagged:
    what = f" ({reading.what})" if reading.what else ""
    words = (
        f"reading {index + 1}{what}: {reading.value:.3g} where {exp(expected):.3g} was expected, {abs(sigmas):.1f} "
        "standard uncertainties off; kept, not averaged in: read it again"
    )
    return Flagged(index, reading.value, exp(expected), sigmas, words)


def _check(name: str, prior: Prior, readings: Sequence[Accepted]) -> None:
    problems = []
    if not (isfinite(prior.median) and prior.median > 0.0 and isfinite(prior.factor) and prior.factor > 1.0):
        problems.append(f"{name}: the prior needs a median above 0 and a factor above 1")
    for i, r in enumerate(readings, 1):
        if not (isfinite(r.value) and r.value > 0.0):
            problems.append(f"{name}, reading {i}: found {r.value:g}; expected more than 0")
        if not 0.0 < r.relative <= 2.0:
            problems.append(f"{name}, reading {i}: relative uncertainty {r.relative:g}; expected above 0, at most 2")
    if problems:
        raise InputError(*problems)

"""The readings of one or more traces taken apart: what stays with the chuck, what turns with the part, what differs
between clamped and free.  Every piece is a vector with its uncertainty and the causes it can come from.

A wave A cos(n t - phase) is the complex number A exp(i phase); a part turned by w carries its own waves along, which
multiplies them by exp(i n w), and leaves those of the chuck.  Lengths mm, angles rad; sizes are total indicator
readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, pi, sqrt
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import special

from heldtrue.inspection.indicator import IndicatorResult, Wave

ComplexArray: TypeAlias = NDArray[np.complex128]
CauseName: TypeAlias = Literal["jaws", "part", "clamp", "seat or chip", "spindle or measuring", "cut"]
CAUSES: tuple[CauseName, ...] = ("jaws", "part", "clamp", "seat or chip", "spindle or measuring", "cut")

SURE = 0.8
"""A piece belongs to a cause when that cause has at least this share of it."""
POSSIBLE = 0.2
"""A piece can still come from a cause that has at least this share of it."""
CHANCE = 0.01
"""Of taking noise for a piece."""
APART = 0.4
"""Least length of exp(i n w1) - exp(i n w2) for two turns to tell chuck from part: 23 degrees for once per turn."""
SETTING_RAD = 5 * pi / 180
"""How well a setter puts the indicator at a jaw: common practice, no source."""


@dataclass(frozen=True)
class Piece:
    """One piece of what was read.

    ``size``: as a total indicator reading [mm], ``uncertainty`` of it; ``shares``: how likely each cause is, adding
    up to 1, our own judgement, no source; ``vector`` [mm] once per turn, else 0; ``evidence`` in words without numbers.
    """

    name: str
    size: float
    uncertainty: float
    shares: tuple[tuple[CauseName, float], ...]
    evidence: str
    vector: complex = 0.0

    def share(self, cause: CauseName) -> float:
        """How likely the piece comes from ``cause``."""
        return dict(self.shares).get(cause, 0.0)


@dataclass(frozen=True)
class _Seen:
    """One vector of one trace."""

    vector: complex
    sd: float
    turned: float
    freedom: float


def take_apart(results: Sequence[IndicatorResult], grip_z: float, least: float) -> tuple[Piece, ...]:
    """Every piece that stands out of the noise and is at least ``least`` [mm] of total indicator reading.

    ``grip_z``: middle of the grip along the part [mm], where a tilted part still runs true.
    """
    held = [r for r in results if r.trace.state != "free"]
    pieces = [*_once(held, grip_z), *_faces(held), *_lobes(results), *_taper(results), *_noise(results)]
    return tuple(p for p in pieces if p.size >= least)


def resolved(results: Sequence[IndicatorResult], order: int = 1) -> bool:
    """Were traces taken with the part turned far enough to part chuck and part in this order?"""
    turns = np.exp(1j * order * np.array([r.trace.turned for r in results if r.trace.state != "free"]))
    return bool(len(turns) > 1 and np.abs(turns[:, None] - turns).max() >= APART)


def _stands_out(vector: complex, sd: float, freedom: float) -> bool:
    """Is the vector longer than noise makes one, but for ``CHANCE``?  F with 2 degrees, both components alike."""
    if sd <= 0.0:
        return abs(vector) > 0.0
    bound = float(special.chdtri(2, CHANCE) / 2 if freedom == inf else special.fdtri(2, freedom, 1 - CHANCE))
    return 0.5 * (abs(vector) / sd) ** 2 > bound


def _parted(seen: Sequence[_Seen], first: ComplexArray, second: ComplexArray) -> tuple[_Seen, _Seen]:
    """Two vectors p, q by weighted least squares: each vector seen = p first + q second."""
    weight = 1.0 / np.array([max(s.sd, 1e-9) for s in seen])
    matrix = np.column_stack((first, second)) * weight[:, None]
    value = np.array([s.vector for s in seen]) * weight
    inverse = np.linalg.inv(matrix.conj().T @ matrix)
    found = inverse @ (matrix.conj().T @ value)
    left = value - matrix @ found
    free = len(seen) - 2
    # Clamping anew does not repeat exactly; with more than two traces their own disagreement is seen and counts.
    growth = max(1.0, sqrt(float(np.vdot(left, left).real) / (2 * free))) if free > 0 else 1.0
    sd = growth * np.sqrt(np.diag(inverse).real)
    freedom = min(s.freedom for s in seen)
    one, two = (_Seen(complex(v), float(u), 0.0, freedom) for v, u in zip(found, sd, strict=True))
    return one, two


def _split(seen: Sequence[_Seen], order: int) -> tuple[_Seen, _Seen]:
    """What stays and what turns: vector = stays + turns exp(i order turned)."""
    return _parted(seen, np.ones(len(seen), complex), _turns(seen, order))


def _turns(seen: Sequence[_Seen], order: int) -> ComplexArray:
    found: ComplexArray = np.exp(1j * order * np.array([s.turned for s in seen]))
    return found


def _mean(seen: Sequence[_Seen]) -> _Seen:
    weight = np.array([1.0 / max(s.sd, 1e-9) ** 2 for s in seen])
    vector = complex((weight * np.array([s.vector for s in seen])).sum() / weight.sum())
    return _Seen(vector, float(1.0 / np.sqrt(weight.sum())), seen[0].turned, min(s.freedom for s in seen))


def _piece(
    name: str, seen: _Seen, shares: dict[CauseName, float], evidence: str, reach: float = 1.0, once: bool = True
) -> list[Piece]:
    if not _stands_out(seen.vector, seen.sd, seen.freedom):
        return []
    size, sd = 2.0 * abs(seen.vector) * reach, 2.0 * seen.sd * reach
    return [Piece(name, size, sd, tuple(shares.items()), evidence, seen.vector if once else 0.0)]


def _of(wave: Wave, result: IndicatorResult) -> _Seen:
    return _Seen(wave.vector, wave.uncertainty, result.trace.turned, result.freedom)


def _once(held: Sequence[IndicatorResult], grip_z: float) -> list[Piece]:
    """Offset at the grip, and tilt, of round surfaces."""
    round_ = [r for r in held if r.trace.side != "face"]
    tilted = [r for r in round_ if r.tilt is not None]
    offsets = [_at_grip(r, grip_z) for r in (tilted or round_)]
    found: list[Piece] = []
    if offsets and resolved(tilted or round_):
        stays, turns = _split(offsets, 1)
        other: dict[CauseName, float] = {"jaws": 1.0} if tilted else {"jaws": 0.85, "seat or chip": 0.15}
        found += _piece(
            "offset that stays", stays, other, "once per turn, and stays at the same jaw when the part is turned"
        )
        found += _piece("offset that turns", turns, {"part": 1.0}, "once per turn, and goes round with the part")
    elif offsets:
        both: dict[CauseName, float] = (
            {"jaws": 0.5, "part": 0.5} if tilted else {"jaws": 0.4, "part": 0.35, "seat or chip": 0.25}
        )
        found += _piece(
            "offset", _mean(offsets), both, "once per turn; one clamping cannot say whether it stays or turns"
        )
    if not tilted:
        return found
    leans = [_of(r.tilt, r) for r in tilted if r.tilt is not None]
    reach = max(abs(z - grip_z) for r in tilted for z in r.trace.planes)
    if resolved(tilted):
        stays, turns = _split(leans, 1)
        found += _piece(
            "tilt that stays",
            stays,
            {"seat or chip": 1.0},
            "the run-out grows away from the grip, and stays",
            reach,
            False,
        )
        found += _piece(
            "tilt that turns",
            turns,
            {"part": 1.0},
            "the run-out grows away from the grip, and turns with the part",
            reach,
            False,
        )
    else:
        may: dict[CauseName, float] = {"seat or chip": 0.7, "part": 0.3}
        found += _piece("tilt", _mean(leans), may, "the run-out grows away from the grip", reach, False)
    return found


def _at_grip(result: IndicatorResult, grip_z: float) -> _Seen:
    """Offset carried back along the tilt to the grip; at the one plane read where there is no tilt."""
    offset = result.eccentricity
    if result.tilt is None:
        return _of(offset, result)
    planes = result.trace.planes
    arm = grip_z - 0.5 * (planes[0] + planes[-1])
    sd = sqrt(offset.uncertainty**2 + (arm * result.tilt.uncertainty) ** 2)
    return _Seen(offset.vector + arm * result.tilt.vector, sd, result.trace.turned, result.freedom)


def _faces(held: Sequence[IndicatorResult]) -> list[Piece]:
    """Once per turn on a face is tilt."""
    faces = [r for r in held if r.trace.side == "face"]
    seen = [_of(r.eccentricity, r) for r in faces]
    if seen and resolved(faces):
        stays, turns = _split(seen, 1)
        return [
            *_piece("face that stays", stays, {"seat or chip": 1.0}, "the face tilts, and stays", once=False),
            *_piece("face that turns", turns, {"part": 1.0}, "the face tilts, and turns with the part", once=False),
        ]
    if not seen:
        return []
    return _piece("face", _mean(seen), {"seat or chip": 0.7, "part": 0.3}, "the face tilts once per turn", once=False)


# --- lobes --------------------------------------------------------------------------------------------------------


def _lobes(results: Sequence[IndicatorResult]) -> list[Piece]:
    found: list[Piece] = []
    for order in sorted({w.order for r in results for w in r.lobes}):
        able = [r for r in results if r.highest >= order]
        clamped = [_lobe(r, order) for r in able if r.trace.state == "clamped"]
        free = [_lobe(r, order) for r in able if r.trace.state == "free"]
        of_jaws = order % results[0].jaws == 0
        if clamped and free:
            found += _released(order, clamped, free, of_jaws)
            continue
        seen = [_lobe(r, order) for r in able]
        held = [r for r in able if r.trace.state != "free"]
        if len(held) == len(able) and resolved(held, order):
            stays, turns = _split(seen, order)
            cause: CauseName = "clamp" if of_jaws else "spindle or measuring"
            made: dict[CauseName, float] = {"part": 0.85, "cut": 0.15}
            found += _piece(
                f"{order} lobes that stay", stays, {cause: 1.0}, f"{order} lobes that stay at the jaws", once=False
            )
            found += _piece(
                f"{order} lobes that turn", turns, made, f"{order} lobes that turn with the part", once=False
            )
        else:
            found += _alone(order, _mean(seen), of_jaws)
    return found


def _lobe(result: IndicatorResult, order: int) -> _Seen:
    """The lobe of this order; none found is zero within the noise, not unknown."""
    wave = result.lobe(order)
    if wave is not None:
        return _of(wave, result)
    sd = result.noise.value * sqrt(2.0 / max(len(result.trace.angle) - len(result.outliers), 1))
    return _Seen(0.0, sd, result.trace.turned, result.freedom)


def _released(order: int, clamped: Sequence[_Seen], free: Sequence[_Seen], of_jaws: bool) -> list[Piece]:
    """Clamped and free side by side: the difference is the clamp's, what both have was cut or brought along.

    What the part has when free it carries along when it is turned in the jaws; what the clamp adds stays.
    """
    both = [*clamped, *free]
    held = np.array([1.0] * len(clamped) + [0.0] * len(free), complex)
    added, own = _parted(both, held, _turns(both, order))
    found = _piece(
        f"{order} lobes that differ",
        added,
        {"clamp": 1.0},
        f"{order} lobes differ between clamped and free",
        once=False,
    )
    freedom = own.freedom
    shut = _Seen(added.vector + own.vector, min(s.sd for s in clamped), 0.0, freedom)
    short, long = sorted((shut, own), key=lambda s: abs(s.vector))
    if _stands_out(short.vector, short.sd, freedom) and abs(long.vector) > 0.0:
        alike = (short.vector.conjugate() * long.vector).real / abs(long.vector)
        shares: dict[CauseName, float] = {"cut": 0.85, "part": 0.15} if of_jaws else {"cut": 0.6, "part": 0.4}
        common = _Seen(complex(max(alike, 0.0)), short.sd, 0.0, freedom)
        found += _piece(
            f"{order} lobes in both", common, shares, f"{order} lobes are the same clamped and free", once=False
        )
    return found


def _alone(order: int, seen: _Seen, of_jaws: bool) -> list[Piece]:
    """Lobes seen in one state only: at most their phase says something."""
    shares: dict[CauseName, float]
    if not of_jaws:
        shares, words = {"part": 0.5, "spindle or measuring": 0.3, "cut": 0.2}, "not a multiple of the jaws"
    else:
        off = abs(np.angle(seen.vector**2)) / 2  # to the nearer of high and low at the jaws, in the phase of the lobe
        room = 2 * seen.sd / max(abs(seen.vector), 1e-12) + order * SETTING_RAD
        if off <= room:
            shares, words = (
                {"clamp": 0.6, "cut": 0.25, "part": 0.15},
                "as many as the jaws, or a multiple, and in step with them",
            )
        else:
            shares, words = (
                {"part": 0.45, "cut": 0.35, "clamp": 0.2},
                "as many as the jaws, or a multiple, but out of step with them",
            )
    return _piece(f"{order} lobes", seen, shares, f"{order} lobes: {words}", once=False)


# --- what is no wave ------------------------------------------------------------------------------------------------


def _taper(results: Sequence[IndicatorResult]) -> list[Piece]:
    for r in results:
        if r.taper is None or r.trace.side == "face":
            continue
        if abs(r.taper.value) > r.taper.uncertainty * float(special.stdtrit(min(r.freedom, 1e9), 1 - CHANCE / 2)):
            span = r.trace.planes[-1] - r.trace.planes[0]
            size, sd = 2 * abs(r.taper.value) * span, 2 * r.taper.uncertainty * span
            return [Piece("taper", size, sd, (("cut", 0.85), ("part", 0.15)), "the diameter changes along the part")]
    return []


def _noise(results: Sequence[IndicatorResult]) -> list[Piece]:
    """Scatter beyond what the dial's divisions make; four standard deviations is what it adds to a reading round."""
    worst = max(results, key=lambda r: r.noise.value)
    if worst.noise.low <= 1.5 * worst.resolution / sqrt(12) and worst.noise.value <= worst.resolution:
        return []
    words = "readings scatter more than the dial's divisions, in no pattern round the part"
    return [
        Piece("scatter", 4 * worst.noise.value, 4 * worst.noise.uncertainty, (("spindle or measuring", 1.0),), words)
    ]

"""Taper of finished parts, split: what goes with the grip of the jaws, and what does not.

Taper is Ø at the front less Ø at the back, the front being the end away from the chuck: positive where the front is
larger.  A part comes off its tool straight or as the machine leaves it; what the jaws pressed out of shape shows only
after release.  So a part read in the chuck has the machine's share alone, a released one both, and at another pressure
another share of the jaws.  Units: mm, N, rad.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, sqrt
from typing import Literal, TypeAlias, get_args

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import Estimate, student

Array: TypeAlias = NDArray[np.float64]
State: TypeAlias = Literal["free", "clamped"]
Told: TypeAlias = Literal["jaws", "machine", "both", "none", "open"]
STATES: tuple[State, ...] = get_args(State)

SIZE_MM = 0.002
"""Standard uncertainty of one Ø with an outside micrometer, part to part: our own judgement, no source."""
SIZE_FREEDOM = 4.0
"""How firmly that is believed against repeated readings, in degrees of freedom: our own judgement, no source."""
LIKELY_MM = 0.1
"""Tapers before any reading, standard: wider than any that is measured."""
LAWS, LAW_ODDS = (0.7, 1.0, 1.3), (0.25, 0.5, 0.25)
"""The jaws' share goes with the grip to one of these powers: a contact that spreads is not straight in the force; our
own judgement, no source."""
SURE = 0.95
LARGER = 1.5
"""A share is the cause where it is this many times the other, 0.6 of both together, with ``SURE``."""
DRAWS = 4000
MOST_TAPER_MM = 2.0


@dataclass(frozen=True)
class PartSize:
    """Ø of one part at the ``front`` and the ``back`` [mm], finished under ``grip`` of all jaws [N]; ``state`` it was
    read in."""

    front: float
    back: float
    grip: float
    state: State = "free"

    @property
    def taper(self) -> float:
        """Front less back. [mm]"""
        return self.front - self.back


@dataclass(frozen=True)
class TaperSplit:
    """What a part's taper is made of, under ``grip`` [N] after release, over ``over`` [mm].

    ``total``, ``jaws`` and ``machine`` share, on diameter [mm]; ``told``: which it is, 95 % sure; "none": no taper
    stands out; "open": cannot be told; ``parted``: can these readings part the shares at all; ``power``: the jaws'
    share goes with the grip to this power; ``repeat``: standard uncertainty of one taper [mm].
    """

    grip: float
    over: float
    total: Estimate
    jaws: Estimate
    machine: Estimate
    told: Told
    parted: bool
    power: float
    repeat: float

    @property
    def angle(self) -> float:
        """Of one flank against the axis. [rad]"""
        return atan(self.total.value / (2 * self.over))

    def jaws_at(self, grip: float) -> float:
        """The jaws' share at another grip [N], on diameter. [mm]"""
        return float(self.jaws.value * (grip / self.grip) ** self.power)


def split_taper(sizes: Sequence[PartSize], over: float) -> TaperSplit:
    """Split the taper over ``over`` [mm] between jaws and machine.

    Two unknowns with wide normal priors, by each of a few laws of the grip, weighted by how well they fit.
    Source: linear Gaussian model, any textbook; odds and sizes as named above.
    Raises: ``InputError`` for sizes that cannot be.
    """
    _check(sizes, over)
    grip = max((one.grip for one in sizes if one.state == "free"), default=max(one.grip for one in sizes))
    drive = np.array([one.grip / grip if one.state == "free" else 0.0 for one in sizes])
    taper = np.array([one.taper for one in sizes])
    repeat, freedom = _repeat(drive, taper)
    sd = repeat * student(freedom) / student(float("inf"))
    rng = np.random.default_rng(18)
    found = [_fit(np.column_stack([np.ones_like(drive), np.power(drive, law)]), taper, sd) for law in LAWS]
    odds = np.array([log + np.log(prior) for (_, _, log), prior in zip(found, LAW_ODDS, strict=True)])
    odds = np.exp(odds - odds.max())
    odds /= odds.sum()
    counts = np.round(odds * DRAWS).astype(int)
    draws = np.vstack([rng.multivariate_normal(m, c, n) for (m, c, _), n in zip(found, counts, strict=True)])
    machine, jaws = draws[:, 0], draws[:, 1]
    parted = bool(np.ptp(drive) > 0.1)
    return TaperSplit(
        grip, over, _of(machine + jaws), _of(jaws), _of(machine), _told(machine, jaws, parted=parted), parted,
        float(odds @ np.array(LAWS)), repeat,
    )  # fmt: skip


def _told(machine: Array, jaws: Array, *, parted: bool) -> Told:
    """Which it is."""
    total, sizes = _of(machine + jaws), (_of(machine), _of(jaws))
    stands = [one.low > 0.0 or one.high < 0.0 for one in sizes]
    if not any(stands) and total.low <= 0.0 <= total.high:
        return "none" if parted or total.high - total.low < LIKELY_MM else "open"
    if not parted:
        return "open"
    if float(np.mean(np.abs(jaws) >= LARGER * np.abs(machine))) >= SURE:
        return "jaws"
    if float(np.mean(np.abs(machine) >= LARGER * np.abs(jaws))) >= SURE:
        return "machine"
    return "both" if all(stands) else "open"


def _repeat(drive: Array, taper: Array) -> tuple[float, float]:
    """Standard uncertainty of one taper [mm] with its degrees of freedom: what is assumed, and repeated readings."""
    assumed = 2 * SIZE_MM**2
    squares, freedom = 0.0, 0
    for value in np.unique(drive):
        same = taper[drive == value]
        squares += float(((same - same.mean()) ** 2).sum())
        freedom += same.size - 1
    both = SIZE_FREEDOM + freedom
    return sqrt((SIZE_FREEDOM * assumed + squares) / both), both


def _fit(x: Array, y: Array, sd: float) -> tuple[Array, Array, float]:
    """Mean and covariance of both shares, and the log evidence of the law."""
    covariance = np.linalg.inv(x.T @ x / sd**2 + np.eye(2) / LIKELY_MM**2)
    mean = covariance @ x.T @ y / sd**2
    spread = sd**2 * np.eye(y.size) + LIKELY_MM**2 * x @ x.T
    _, size = np.linalg.slogdet(spread)
    return np.asarray(mean, float), np.asarray(covariance, float), float(-0.5 * (size + y @ np.linalg.solve(spread, y)))


def _of(draws: Array) -> Estimate:
    low, middle, high = np.quantile(draws, [0.025, 0.5, 0.975])
    return Estimate(float(middle), float(draws.std()), float(low), float(high))


def _check(sizes: Sequence[PartSize], over: float) -> None:
    problems = []
    if not sizes:
        problems.append("no part was given: Ø at the front, Ø at the back, and the pressure it was clamped at")
    if not over > 0.0:
        problems.append(f"distance between front and back: found {over:g} mm; expected more than 0")
    for number, one in enumerate(sizes, 1):
        name = f"part {number}"
        if one.state not in STATES:
            problems.append(f'{name}: found "{one.state}"; expected {" or ".join(STATES)}')
        if not (np.isfinite([one.front, one.back, one.grip]).all() and min(one.front, one.back) > 0.0):
            problems.append(f"{name}: found Ø{one.front:g} and Ø{one.back:g}; expected sizes above 0")
        elif abs(one.taper) > MOST_TAPER_MM:
            problems.append(
                f"{name}: found Ø{one.front:g} at the front and Ø{one.back:g} at the back, {abs(one.taper):g} mm "
                f"apart; a taper over {MOST_TAPER_MM:g} mm was not meant to be straight: check the sizes"
            )
        if not one.grip > 0.0:
            problems.append(f"{name}: the jaws do not grip at that pressure; expected one above what is lost before")
    if problems:
        raise InputError(*problems)

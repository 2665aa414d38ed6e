"""Taper of finished parts, split: what goes with the grip of the jaws, and what does not.

Taper is Ø at the front less Ø at the back, the front being the end away from the chuck: positive where the front is
larger.  A part comes off its tool straight or as the machine leaves it; what the jaws pressed out of shape shows only
after release.  So a part read in the chuck has the machine's share alone, a released one both, and at another pressure
another share of the jaws.  Units: mm, N, rad.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import atan
from typing import Literal, TypeAlias, get_args

import numpy as np
from numpy.typing import NDArray
from scipy import special

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import Estimate

Array: TypeAlias = NDArray[np.float64]
State: TypeAlias = Literal["free", "clamped"]
Told: TypeAlias = Literal["jaws", "machine", "both", "none", "open"]
STATES: tuple[State, ...] = get_args(State)

SIZE_MM = 0.002
"""Standard uncertainty of one Ø with an outside micrometer, part to part: our own judgement, no source."""
SIZE_FREEDOM = 4.0
"""How firmly that is believed against repeated readings, in degrees of freedom: our own judgement, no source."""
NOISES = (0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0)
"""Times that uncertainty: what is averaged over."""
SCALES_MM = (0.001, 0.003, 0.01, 0.03, 0.1)
"""Either share is about one of these, each as likely, whatever the other is: nobody says how large a fault is."""
LAWS, LAW_ODDS = (0.7, 0.85, 1.0, 1.15, 1.3), (0.15, 0.2, 0.3, 0.2, 0.15)
"""The jaws' share goes with the grip to one of these powers: a contact that spreads is not straight in the force; our
own judgement, no source."""
SURE = 0.95
LARGER = 1.5
"""A share is the cause where it is this many times the other, 0.6 of both together, with ``SURE``."""
WORTH_MM = 0.003
"""A share below that on diameter is not one of "both": our own judgement, no source."""
NO_TAPER_MM = 0.01
"""No taper is told where neither share may reach that on diameter, with ``SURE``: common practice, no source."""
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


def split_taper(
    sizes: Sequence[PartSize], over: float, repeat: tuple[float, float] | None = None
) -> TaperSplit:  # fmt: skip
    """Split the taper over ``over`` [mm] between jaws and machine.

    Two unknowns of a size that nobody knows, a scatter that is about ``SIZE_MM``, and a law of the grip: averaged over
    all, each weighted by how well it fits.
    ``repeat``: what the micrometer repeats to [mm], and the factor within which that is known, 95 %: parts differ by
    that at the least, and by more as they are not one part.
    Source: linear Gaussian model, any textbook; odds and sizes as named above.
    Raises: ``InputError`` for sizes that cannot be.
    """
    _check(sizes, over)
    grip = max((one.grip for one in sizes if one.state == "free"), default=max(one.grip for one in sizes))
    drive = np.array([one.grip / grip if one.state == "free" else 0.0 for one in sizes])
    fit = _fits(drive, np.array([one.taper for one in sizes]), repeat)
    rng = np.random.default_rng(18)
    picked = rng.choice(fit.odds.size, DRAWS, p=fit.odds)
    normal = rng.standard_normal((DRAWS, 2))
    machine, jaws = (fit.mean[picked] + np.einsum("kij,kj->ki", fit.root[picked], normal)).T
    parted = bool(np.ptp(drive) > 0.1)
    return TaperSplit(
        grip, over, _of(machine + jaws), _of(jaws), _of(machine), _told(machine, jaws, parted=parted), parted,
        float(fit.odds @ fit.law), float(fit.odds @ fit.noise),
    )  # fmt: skip


def _told(machine: Array, jaws: Array, *, parted: bool) -> Told:
    """Which it is."""

    def sure(true: NDArray[np.bool_]) -> bool:
        return float(np.mean(true)) >= SURE

    if not parted:
        return "none" if sure(np.abs(machine + jaws) < NO_TAPER_MM) else "open"
    larger, smaller = np.maximum(np.abs(machine), np.abs(jaws)), np.minimum(np.abs(machine), np.abs(jaws))
    if sure(larger < NO_TAPER_MM):
        return "none"
    if sure(np.abs(jaws) >= LARGER * np.abs(machine)):
        return "jaws"
    if sure(np.abs(machine) >= LARGER * np.abs(jaws)):
        return "machine"
    return "both" if sure(smaller >= WORTH_MM) else "open"


@dataclass(frozen=True)
class _Fits:
    """Every case, row by row: ``mean`` of machine and jaws [mm] with ``root`` of the covariance; ``law``; ``noise`` of
    one taper [mm]; ``odds`` after the readings."""

    mean: Array
    root: Array
    law: Array
    noise: Array
    odds: Array


def _fits(drive: Array, taper: Array, repeat: tuple[float, float] | None) -> _Fits:
    """All laws, scatters and scales of both shares."""
    law, law_odds, times, *scales = np.array(
        [(*law, *rest) for law, *rest in product(zip(LAWS, LAW_ODDS, strict=True), NOISES, SCALES_MM, SCALES_MM)]
    ).T
    noise = times * np.sqrt(2) * SIZE_MM
    x = np.stack([np.ones((law.size, drive.size)), drive ** law[:, None]], axis=2)
    inner = np.einsum("kni,knj->kij", x, x) / noise[:, None, None] ** 2
    inner[:, 0, 0] += scales[0] ** -2
    inner[:, 1, 1] += scales[1] ** -2
    right = np.einsum("kni,n->ki", x, taper) / noise[:, None] ** 2
    cover = np.linalg.inv(inner)
    mean = np.einsum("kij,kj->ki", cover, right)
    rest = taper @ taper / noise**2 - np.einsum("ki,ki->k", right, mean)
    log = -drive.size * np.log(noise) - np.log(scales[0] * scales[1]) - 0.5 * (np.linalg.slogdet(inner)[1] + rest)
    log -= SIZE_FREEDOM * (np.log(times) + 0.5 / times**2)  # the scatter before: of 1 / chi squared
    if repeat is not None:  # the chance that the micrometer repeats to no more than this scatter
        log += special.log_ndtr(np.log(times * SIZE_MM / repeat[0]) * special.ndtri(0.975) / np.log(repeat[1]))
    odds = law_odds * np.exp(log - log.max())
    return _Fits(mean, np.linalg.cholesky(cover), law, noise, odds / odds.sum())


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

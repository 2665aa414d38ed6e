"""How far jaws lean against the part, and what they stand on, from all that was seen of them at once.

Unknown are the stiffness of the base, log-normal about what is known of it, and the lean.  The lean is the taper that
the jaws need on that base less the taper they have; both have an error: the bore comes out of the machine a little
tapered, the model is off by a share, and now and then a jaw is something else altogether.  What feeler, bluing and part
would show at each base and lean is the contact model's; what was seen weighs them.  Units: mm, N, N mm/rad.
Source: Bayes on a grid; sizes of the errors are our own judgement, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from math import exp, hypot, log

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import Estimate, student
from heldtrue.inspection.learning import Accepted, Learned, Prior
from heldtrue.inspection.taper import FEELER_MM, PRINT_MM, Bearing
from heldtrue.shop.jaw_base import OnBase, end_gap, print_length
from heldtrue.tooling.jaws import BASE

Array = NDArray[np.float64]

TAPER_ERROR_MM = 0.006
"""Taper per side that a bore may have without anybody knowing, one standard uncertainty."""
MODEL_SHARE = 0.2
"""How far the taper that the model asks for may be off beside the base, one standard uncertainty."""
STRANGE_ODDS, STRANGE_MM = 0.1, 0.15
"""Odds that the jaws are nothing like that (another taper than was said, dirt, a bruise), and how far off then."""
FEEL_MM = 0.003
"""How sharply a leaf goes or does not, one standard uncertainty."""
GIVE_SHARE = 0.2
"""How far the model's give of part and jaw, which hides a part of the gap, may be off, one standard uncertainty."""
PRINT_SHARE, PRINT_MOST = 0.25, 0.15
"""How far its prints may be off, as a share of what was seen and at the most of the grip, one standard uncertainty."""
LEAST_SEEN = 1e-6
"""Less likely than that under every base and lean is a reading that cannot be."""
SOFTNESS = np.linspace(-2.8, 2.8, 13)
"""Bases looked at, in standard uncertainties of the log."""
REACH = 100.0
"""Without anything known of it, a base is looked for up to this many times softer and stiffer."""
MOST_LEAN = 2.0
"""No jaw is out by more over its grip. [mm]"""
KEPT = 4
"""Answers of the contact model that are kept: the next reading of the same jaws asks for the same."""
COARSE, FINE = 61, 1601
"""Leans at which the contact is worked out, and at which it is weighed."""
BEND_MM = 0.005
"""Leans are taken closely up to here, then by ever larger steps."""
LEAST_BANDS = 1.5
"""A print must run over more than that many bands of the model to say how long it is."""


@dataclass(frozen=True)
class BaseKnown:
    """What is known of the stiffness of the base: ``median`` [N mm/rad] and ``spread``, standard, of its log."""

    median: float
    spread: float

    @classmethod
    def of_prior(cls, prior: Prior) -> BaseKnown:
        """What is assumed."""
        return cls(prior.median, log(prior.factor) / student(float("inf")))

    @classmethod
    def of_learned(cls, learned: Learned) -> BaseKnown:
        """What readings taught; readings that contradict stretch it."""
        return cls(learned.median, log(learned.high / learned.low) / (2 * student(float("inf"))))


@dataclass(frozen=True)
class PartShare:
    """What readings of finished parts say the jaws alone do to the taper of a ``surface``, by number of the study.

    ``taper``: Ø at the front less Ø at the back after release, over the whole surface, with its interval [mm].
    """

    surface: int
    taper: Estimate


@dataclass(frozen=True)
class Lean:
    """What is known of the jaws after looking at them.

    ``change``: of their taper, per side, that lets them bear evenly [mm]; ``tilt``: middle of what the base may be
    [N mm/rad]; ``by_contact``: the lean that shows this reading best on that base [mm]; ``by_jaws``: taper that the
    jaws leave on each surface of the part after release, front less back, on diameter [mm].
    """

    change: Estimate
    tilt: float
    by_contact: float
    by_jaws: tuple[Estimate, ...]


@dataclass(frozen=True, eq=False)
class Shown:
    """What the contact model shows, rows by base, columns by ``lean``: gaps and prints at both ends, and the taper left
    on each surface. [mm]"""

    tilts: Array
    needed: Array
    lean: Array
    gap: dict[str, Array]
    print: dict[str, Array]
    left: tuple[Array, ...] = field(default=())

    @classmethod
    @lru_cache(maxsize=KEPT)
    def of(cls, model: OnBase, tilts: tuple[float, ...], force: float) -> Shown:
        """Work it out, one jaw pressed with ``force``."""
        ends = np.arcsinh(MOST_LEAN / BEND_MM)
        coarse, fine = (BEND_MM * np.sinh(np.linspace(-ends, ends, n)) for n in (COARSE, FINE))
        needed = np.array([model.needed(tilt, force) for tilt in tilts])
        asked = [(tilt, float(need - lean)) for tilt, need in zip(tilts, needed, strict=True) for lean in coarse]
        contacts = model.contacts(asked, force)
        surfaces = len(model.part.surfaces)

        def over(values: list[float]) -> Array:
            rows = np.array(values).reshape(len(tilts), COARSE)
            return np.array([np.interp(fine, coarse, row) for row in rows])

        def touching(runs: list[float]) -> Array:
            # Between a print and none there is no short one: the end lets go at once.
            return np.where(over([float(run <= 0.0) for run in runs]) > 0.0, 0.0, over(runs))

        left = [model.part.tapers_left(one) for one in contacts] if surfaces else []
        return cls(
            np.array(tilts), needed, fine,
            {end: over([end_gap(one, end == "tip") for one in contacts]) for end in ("tip", "base")},
            {end: touching([print_length(one, end == "tip") for one in contacts]) for end in ("tip", "base")},
            tuple(over([one[number] for one in left]) for number in range(surfaces)),
        )  # fmt: skip


def lean_of(
    model: OnBase, seen: Bearing | None, force: float, taper: float, base: BaseKnown, part: PartShare | None = None
) -> Lean:
    """How far jaws with ``taper`` per side lean, by all that was seen of them. ``seen``: None where nobody looked.

    Raises: ``InputError`` for what no base and no lean shows.
    """
    shown = Shown.of(model, tuple((base.median * np.exp(base.spread * SOFTNESS)).tolist()), force)
    prior = np.exp(-0.5 * SOFTNESS**2)[:, None] * _leans(shown, taper, strange=True)
    likely = np.ones_like(prior)
    if seen is not None:
        likely = _seen(shown, seen, model)
    if part is not None:
        likely = likely * _left(shown, part)
    if not likely.max() > LEAST_SEEN:
        raise InputError(_cannot_be(seen))
    weights = prior * likely
    weights = weights / weights.sum()
    tilts = base.median * np.exp(base.spread * _middle(SOFTNESS, weights.sum(axis=1)))
    near = int(np.argmin(np.abs(np.log(shown.tilts / tilts))))
    best = 0.0 if seen is None or seen.touch == "all along" else float(shown.lean[likely[near].argmax()])
    return Lean(
        _estimate(np.broadcast_to(shown.lean, weights.shape), weights), float(tilts), best,
        tuple(_estimate(one, weights) for one in shown.left),
    )  # fmt: skip


def base_reading(model: OnBase, seen: Bearing, force: float, taper: float, what: str) -> Accepted:
    """What a feeler or a print alone says of the base, with its relative standard uncertainty.

    The error of the bore's taper and of the model is in it: not all that was seen is the base's.
    Raises: ``InputError`` where no base shows that, or where the reading hardly depends on the base.
    """
    if seen.touch == "all along" or (seen.gap is None and seen.touch_length is None):
        raise InputError("a jaw that bears all along says nothing of what it stands on: take a gap with a feeler, or "
                         "the length of a print that ends before the grip does")  # fmt: skip
    least = LEAST_BANDS * model.band
    if seen.gap is None and (seen.touch_length or 0.0) < least:
        raise InputError(
            f"a print shorter than {least:.1f} mm cannot be told from a still shorter one: take the gap with a feeler"
        )
    logs = np.linspace(-log(REACH), log(REACH), 41)
    shown = Shown.of(model, tuple((BASE.tilt * np.exp(logs)).tolist()), force)
    by_base = (_leans(shown, taper, strange=False) * _seen(shown, seen, model)).sum(axis=1)
    if not by_base.max() > LEAST_SEEN * len(shown.lean):
        found = f"gap of {seen.gap:.3f} mm" if seen.gap is not None else f"print of {seen.touch_length or 0.0:.1f} mm"
        raise InputError(f"found a {found}; with {force:.0f} N on each jaw and a taper of {taper:.3f} mm no base shows "
                         "that: check reading, pressure and taper")  # fmt: skip
    share = by_base / by_base.sum()
    middle = float(share @ logs)
    relative = hypot(float(np.sqrt(share @ (logs - middle) ** 2)), logs[1] - logs[0])
    if relative > 1.5 or share[0] + share[-1] > 0.05:
        raise InputError("this reading hardly depends on what the jaws stand on: taller jaws, more pressure tell more")
    return Accepted(BASE.tilt * exp(middle), relative, what)


def _leans(shown: Shown, taper: float, *, strange: bool) -> Array:
    """Weight of each lean on each base before anything is seen; each row sums to one."""
    off = shown.lean[None, :] - (shown.needed[:, None] - taper)
    sd = np.hypot(TAPER_ERROR_MM, MODEL_SHARE * shown.needed)[:, None]
    weights = np.exp(-0.5 * (off / sd) ** 2) / sd
    if strange:
        weights = (1 - STRANGE_ODDS) * weights + STRANGE_ODDS * np.exp(-0.5 * (off / STRANGE_MM) ** 2) / STRANGE_MM
    weights = weights * np.gradient(shown.lean)
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))


def _seen(shown: Shown, seen: Bearing, model: OnBase) -> Array:
    """How likely the reading is at each base and lean."""
    if seen.touch == "all along":
        closed = [ndtr((FEELER_MM - gap) / FEEL_MM) for gap in shown.gap.values()]
        ends = [ndtr((run - (model.length - model.band / 2)) / PRINT_MM + 1.0) for run in shown.print.values()]
        return np.asarray(np.prod([*closed, *ends], axis=0))
    far = "tip" if seen.touch == "base" else "base"
    likely = np.ones_like(shown.gap[far])
    if seen.gap is not None:
        # The leaf goes, the next does not.
        hidden = np.maximum(np.abs(shown.lean) - shown.gap[far], 0.0)
        sharp = np.hypot(FEEL_MM, GIVE_SHARE * hidden)
        likely = ndtr((seen.gap + FEELER_MM - shown.gap[far]) / sharp) - ndtr((seen.gap - shown.gap[far]) / sharp)
    if seen.touch_length is not None:
        fine = hypot(PRINT_MM, model.band / 4, min(PRINT_SHARE * seen.touch_length, PRINT_MOST * model.length))
        likely = likely * np.exp(-0.5 * ((shown.print[seen.touch] - seen.touch_length) / fine) ** 2)
    # The end that touches does touch.
    return np.asarray(likely * ndtr((FEELER_MM - shown.gap[seen.touch]) / FEEL_MM))


def _left(shown: Shown, part: PartShare) -> Array:
    """How likely the taper that the jaws leave on a finished part is."""
    by_model = shown.left[part.surface]
    sd = np.hypot(part.taper.uncertainty, MODEL_SHARE * by_model)
    return np.asarray(np.exp(-0.5 * ((by_model - part.taper.value) / sd) ** 2) / (sd / sd.min()))


def _estimate(values: Array, weights: Array) -> Estimate:
    """Median and 95 % interval of values with weights."""
    flat, share = values.ravel(), weights.ravel()
    order = np.argsort(flat)
    so_far = np.cumsum(share[order])
    low, middle, high = (float(flat[order[np.searchsorted(so_far, p)]]) for p in (0.025, 0.5, 0.975))
    return Estimate(middle, float(np.sqrt(share @ (flat - share @ flat) ** 2)), low, high)


def _middle(at: Array, weights: Array) -> float:
    """Median of values in order, between them where it falls there."""
    so_far = np.cumsum(weights) - 0.5 * weights
    return float(np.interp(0.5, so_far, at))


def _cannot_be(seen: Bearing | None) -> str:
    if seen is not None and seen.gap is not None and seen.touch_length is not None:
        return (f"found a gap of {seen.gap:.3f} mm and a print of {seen.touch_length:.1f} mm: no jaw shows both; check "
                "which end each was read at")  # fmt: skip
    if seen is not None and seen.gap is not None:
        return f"found a gap of {seen.gap:.3f} mm; no jaw leans enough for that: check it"
    if seen is not None and seen.touch_length is not None:
        return f"touch length: found {seen.touch_length:.1f} mm; no jaw leans enough for so short a print: check it"
    return "no jaw shows that: check the readings"

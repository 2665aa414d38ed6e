"""Measured lobes against those a plan predicts, the pressure that would halve them, and where a run-out tolerance goes.

A plan comes in as plain numbers.  Lengths mm, pressures MPa.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot

from heldtrue.errors import InputError
from heldtrue.inspection.causes import Diagnosis
from heldtrue.inspection.estimate import Estimate
from heldtrue.inspection.indicator import IndicatorResult
from heldtrue.sentences import sentence

MODEL_SHARE = 0.3
"""How far a predicted lobe may be off, 95 %: our own judgement of jaws and friction nobody measured, no source."""
HOLDING_SHARE = 1 / 3
"""Share of the run-out tolerance that holding may use: common practice, no source."""


@dataclass(frozen=True)
class LobeComparison:
    """One lobe, measured against predicted [mm].

    ``verdict``: "explained", "more than the pressure explains" or "less than the pressure explains"; ``halved_at``:
    pressure [MPa] at which the lobe would be half, None where that is below ``floor`` or the pressure is not known.
    """

    order: int
    measured: Estimate
    predicted: float
    predicted_low: float
    predicted_high: float
    verdict: str
    halved_at: float | None
    words: str


@dataclass(frozen=True)
class Spent:
    """One item of the budget: its ``size`` as total indicator reading [mm] and its ``share`` of the tolerance."""

    name: str
    size: float
    share: float


@dataclass(frozen=True)
class Budget:
    """Where the run-out tolerance goes.

    ``items``, largest first; ``worst``: if all add up [mm]; ``likely``: root of the sum of squares [mm]; ``holding``:
    what jaws, seat and clamp use of the share that holding may use.
    """

    tolerance: float
    items: tuple[Spent, ...]
    worst: float
    likely: float
    holding: float
    words: tuple[str, ...]


def compare_lobes(
    found: IndicatorResult, predicted: Mapping[int, float], *, pressure: float | None = None, threshold: float = 0.0,
    floor: float | None = None, model_share: float = MODEL_SHARE,
) -> tuple[LobeComparison, ...]:  # fmt: skip
    """Each predicted lobe {order: amplitude [mm]} beside the measured one.

    ``pressure`` of the clamping, ``threshold`` lost before the jaws grip, ``floor``: least that holds [MPa];
    ``model_share``: how far the prediction may be off.  The lobe is proportional to the grip, and the grip to pressure
    less threshold: half of it needs threshold + (pressure - threshold) / 2.
    Raises: ``InputError`` for a prediction below zero or a pressure not above the threshold.
    """
    if any(v < 0.0 for v in predicted.values()):
        raise InputError("a predicted lobe is an amplitude; expected 0 or more")
    if pressure is not None and pressure <= threshold:
        raise InputError(f"pressure: found {pressure:g} MPa; the jaws do not grip at {threshold:g} MPa and below")
    return tuple(
        _compare(found, order, size, pressure, threshold, floor, model_share)
        for order, size in sorted(predicted.items())
    )


def _compare(
    found: IndicatorResult, order: int, size: float, pressure: float | None, threshold: float, floor: float | None,
    share: float,
) -> LobeComparison:  # fmt: skip
    wave = found.lobe(order)
    noise = found.noise.value * (2.0 / len(found.trace.angle)) ** 0.5
    # A lobe that does not count is anything up to what could have hidden: 2.5 standard uncertainties of an amplitude.
    measured = wave.amplitude if wave is not None else Estimate(0.0, noise, 0.0, 2.5 * noise)
    low, high = size * (1 - share), size * (1 + share)
    half = None if pressure is None else threshold + (pressure - threshold) / 2
    held = half is None or floor is None or half >= floor
    if order > found.highest:
        verdict, words = "cannot tell", f"{len(found.trace.angle)} readings cannot show {order} lobes"
    elif measured.low > high:
        verdict, words = "more than the pressure explains", "look for another cause beside the clamp"
    elif measured.high < low:
        verdict, words = (
            "less than the pressure explains",
            "check the gauge, the grease and that the jaws bear all over",
        )
    else:
        verdict, words = "explained", "the clamp is the cause; less pressure or more wrap brings it down"
    if verdict == "explained" and wave is None:
        held, words = False, "no lobe stands out, and the plan expects none that these readings would show"
    elif verdict == "explained" and not held:
        words = "the clamp is the cause; half the lobe needs less than the pressure that holds: more wrap or more jaws"
    return LobeComparison(
        order, measured, size, low, high, verdict, half if held and verdict == "explained" else None, words
    )


def runout_budget(diagnosis: Diagnosis, tolerance: float) -> Budget:
    """How much of a run-out ``tolerance`` [mm] each cause spends.

    Raises: ``InputError`` for a tolerance that is not above zero.
    """
    if not tolerance > 0.0:
        raise InputError(f"run-out tolerance: found {tolerance:g} mm; expected more than 0")
    spent = [Spent(c.name, c.expected, c.expected / tolerance) for c in diagnosis.causes]
    worst = sum(s.size for s in spent)
    likely = hypot(*(s.size for s in spent))
    of_holding = sum(s.size for s in spent if s.name in ("jaws", "seat or chip", "clamp"))
    holding = of_holding / (HOLDING_SHARE * tolerance)
    words = [f"{s.name}: {s.share:.0%} of the tolerance" for s in spent]
    words.append(
        sentence(
            "holding uses {:.3f mm}; common practice gives it a third of the tolerance, {:.3f mm}: {}",
            of_holding,
            HOLDING_SHARE * tolerance,
            "too much" if holding > 1 else "within it",
        )
    )
    return Budget(tolerance, tuple(spent), worst, likely, holding, tuple(words))

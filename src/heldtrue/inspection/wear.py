"""Where a series of parts is heading: level, straight, curved or stepped, with parts that resemble their neighbours.

Nobody knows which of them it is: each is weighed by how well it explains the parts, and what is drawn out ahead is
drawn from all of them.  A quantity is in the unit of the values, a place is a number of parts.

Source: linear regression with first-order autocorrelated errors, restricted likelihood, and Schwarz's criterion, any
textbook; the prior weights are our own judgement, no source, tried on drawn wear in ``bench/wear.py``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, inf, log
from typing import TypeAlias

import numpy as np

from heldtrue.inspection.estimate import Array, Estimate

ALIKE = (0.0, 0.2, 0.4, 0.6, 0.75, 0.88)
"""Correlation of a part with the one before it."""
ALIKE_PRIOR = (0.30, 0.25, 0.20, 0.15, 0.07, 0.03)
"""Chance of each of these before any part is seen: own judgement, no source."""
PRIOR = {"level": 0.15, "straight": 0.3, "curved": 0.15, "faster": 0.15, "step": 0.1, "step and slope": 0.15}
"""Chance of each form of wear before any part is seen: own judgement, no source."""
TERMS = {"level": 1, "straight": 2, "curved": 3, "faster": 3, "step": 2, "step and slope": 3}
DOUBLES = (0.2, 0.4, 0.8)
"""Wear that feeds itself: grows e times as fast in this share of the parts seen."""
STEPS = ("step", "step and slope")
"""The forms that have a step in them."""
COUNTS = 0.005
"""A form of wear that is at least so likely counts: the earliest of them says when something is due."""
LEAST_BESIDE = 3
"""Parts on each side of a step."""
MOST_STEPS, MOST_BLOCKS = 40, 240
"""Places a step is looked for; means that a longer series is looked at by."""
DRAWS, FORM_DRAWS = 2000, 800


@dataclass(frozen=True)
class Wear:
    """Draws of what is possible, one each.

    ``level`` at the last part, ``slope`` a part, ``curve`` (a part and part), ``grows``: parts in which the slope grows
    e times, inf for none, ``spread`` of single parts about the trend; ``count`` of the parts; ``forms``: the same for
    each form of wear that counts, alone; ``stepped``: chance that the level stepped without an event, ``at``: the first
    part after the likeliest step, ``by`` how much; None where there is no room for one.
    """

    level: Array
    slope: Array
    curve: Array
    grows: Array
    spread: Array
    count: int
    forms: tuple[Wear, ...]
    stepped: float
    at: int | None
    by: Estimate | None

    def reaches(self, limit: float, rising: bool, spreads: float = 0.0) -> Array:
        """Parts from the last one until the trend, ``spreads`` spreads ahead of itself, meets ``limit``; inf: never."""
        sign = 1.0 if rising else -1.0
        room = sign * (limit - self.level) - spreads * self.spread
        slope, curve = sign * self.slope, sign * self.curve
        # room = slope x + curve x^2; the first x above 0
        root = slope**2 + 4 * curve * room
        with np.errstate(divide="ignore", invalid="ignore"):
            found = 2 * room / (slope + np.sqrt(np.maximum(root, 0.0)))
            by_growth = self.grows * np.log1p(room / (slope * self.grows))
        found = np.where(np.isfinite(self.grows), np.where(slope > 0.0, by_growth, inf), found)
        found = np.where((root < 0.0) & ~np.isfinite(self.grows) | ~np.isfinite(found) | (found < 0.0), inf, found)
        return np.where(room <= 0.0, 0.0, found)

    def early(self, limit: float, rising: bool, spreads: float = 0.0) -> float:
        """The early end of that: of 40, one is earlier, in the form of wear that says it first."""
        return min(quantiles(one.reaches(limit, rising, spreads), (0.025,))[0] for one in (self, *self.forms))

    def recent(self) -> Array:
        """Mean slope over the later half of the parts, a part."""
        back = 0.5 * self.count
        with np.errstate(invalid="ignore"):
            grown = self.slope * self.grows * -np.expm1(-back / self.grows) / back
        return np.where(np.isfinite(self.grows), grown, self.slope - self.curve * back)

    def slopes(self) -> Estimate:
        """That slope with its interval."""
        found = self.recent()
        low, high = np.quantile(found, (0.025, 0.975))
        return Estimate(float(found.mean()), float(found.std()), float(low), float(high))

    def rises(self) -> float:
        """Chance that the trend rises; a level that stays does not."""
        return float(np.mean(self.recent() > 0.0))

    def falls(self) -> float:
        """Chance that it falls."""
        return float(np.mean(self.recent() < 0.0))


_Draws: TypeAlias = tuple[Array, Array, Array, Array, Array]


@dataclass(frozen=True)
class _Way:
    name: str
    at: int
    grows: float
    alike: float
    columns: Array
    root: Array
    best: Array
    rss: float
    weight: float


def wear(values: Array) -> Wear:
    """Where ``values``, in order and without an event, are heading.  The same values give the same draws."""
    block = -(-values.size // MOST_BLOCKS)
    first = values.size % block
    means = values[first:].reshape(-1, block).mean(axis=1)
    ways = _ways(means, block)
    weight = np.array([w.weight for w in ways])
    weight /= weight.sum()
    random = np.random.default_rng(5)
    counts = random.multinomial(DRAWS, weight)
    span = means.size * block
    end = (block - 1) / 2 / span  # the last part stands so far behind the middle of the last block
    best = max(ways, key=lambda w: w.weight)
    # Means hide how single parts scatter.
    scatter = None if block == 1 else float(np.std(values[first:] - np.repeat(best.columns @ best.best, block)))

    def drawn(some: Sequence[_Way], counts: Sequence[int]) -> _Draws:
        parts = [_drawn(w, n, means.size, span, end, random) for w, n in zip(some, counts, strict=True) if n]
        level, slope, curve, grows, spread = (np.concatenate([p[k] for p in parts]) for k in range(5))
        return level, slope, curve, grows, spread if scatter is None else np.full_like(spread, scatter)

    forms = []
    for name in ("straight", "curved", "faster", "step and slope"):
        mine = [(w, p) for w, p in zip(ways, weight.tolist(), strict=True) if w.name == name]
        share = sum(p for _, p in mine)
        if share >= COUNTS:
            some = random.multinomial(FORM_DRAWS, [p / share for _, p in mine]).tolist()
            forms.append(Wear(*drawn([w for w, _ in mine], some), values.size, (), 0.0, None, None))
    steps = [(w, p) for w, p in zip(ways, weight.tolist(), strict=True) if w.name in STEPS]
    stepped = float(sum(p for _, p in steps))
    at, by = None, None
    if steps:
        likeliest = max(steps, key=lambda pair: pair[1])[0]
        at = first + likeliest.at * block
        sd = float(
            np.sqrt(likeliest.rss / (means.size - likeliest.best.size)) * np.linalg.norm(_inverse(likeliest)[-1])
        )
        value = float(likeliest.best[-1])
        by = Estimate(value, sd, value - 2 * sd, value + 2 * sd)
    return Wear(*drawn(ways, counts.tolist()), values.size, tuple(forms), stepped, at, by)


def _inverse(way: _Way) -> Array:
    return np.asarray(np.linalg.inv(way.root), float)


def _ways(values: Array, block: int) -> list[_Way]:
    """Every model at every correlation, with its weight."""
    count = values.size
    x = (np.arange(count) - (count - 1)) / count  # -1 to 0 at the last block
    one = np.ones(count)
    tried: list[tuple[str, int, float, Array]] = [
        ("level", 0, 0.0, one[:, None]), ("straight", 0, 0.0, np.column_stack((one, x))),
    ]  # fmt: skip
    if count >= 6:
        tried.append(("curved", 0, 0.0, np.column_stack((one, x, x**2))))
        tried += [("faster", 0, share, np.column_stack((one, np.expm1(x / share)))) for share in DOUBLES]
    places = range(LEAST_BESIDE, count - LEAST_BESIDE + 1, max(1, count // MOST_STEPS))
    if count >= 2 * LEAST_BESIDE + 2:
        for at in places:
            after = (np.arange(count) >= at).astype(float)
            tried.append(("step", at, 0.0, np.column_stack((one, after))))
            tried.append(("step and slope", at, 0.0, np.column_stack((one, x, after))))
    alikes = ALIKE if block == 1 else ALIKE[:-1]
    least = 1e-20 + 1e-18 * float(values @ values)  # values that fit exactly
    found: list[_Way] = []
    for name, at, grows, columns in tried:
        rows: list[tuple[float, float, _Way]] = []
        for alike, odds in zip(alikes, ALIKE_PRIOR, strict=False):
            y, whole = _whitened(values, alike), _whitened(columns, alike)
            q, root = np.linalg.qr(whole)
            best = np.linalg.solve(root, q.T @ y)
            left = y - whole @ best
            rss = max(float(left @ left), least)
            free = count - columns.shape[1]
            likely = -0.5 * count * log(rss / count) + 0.5 * log(1 - alike**2) + log(odds)
            determinant = float(np.log(np.abs(np.diag(root))).sum())
            restricted = -0.5 * free * log(rss / free) + 0.5 * log(1 - alike**2) - determinant + log(odds)
            rows.append((likely, restricted, _Way(name, at, grows, alike, columns, root, best, rss, 0.0)))
        top, peak = max(r[0] for r in rows), max(r[1] for r in rows)
        shares: list[float] = np.exp([r[1] - peak for r in rows]).tolist()
        score = (
            top
            - 0.5 * TERMS[name] * log(count)
            + log(PRIOR[name] / (len(places) if name in STEPS else len(DOUBLES) if name == "faster" else 1))
        )
        for (_, _, way), share in zip(rows, shares, strict=True):
            found.append(replace(way, weight=score + log(max(share / sum(shares), 1e-300))))
    highest = max(w.weight for w in found)
    return [replace(w, weight=exp(w.weight - highest)) for w in found]


def _whitened(rows: Array, alike: float) -> Array:
    """Rows less what they owe to the one before."""
    if alike == 0.0:
        return rows
    found = rows.copy()
    found[1:] -= alike * rows[:-1]
    found[0] *= np.sqrt(1 - alike**2)
    return found


def _drawn(way: _Way, draws: int, count: int, span: int, end: float, random: np.random.Generator) -> _Draws:
    """Level and slope at the last part, curve, growth, and spread of single parts."""
    sd = np.sqrt(way.rss / random.chisquare(count - way.best.size, draws))
    made = way.best[:, None] + _inverse(way) @ random.standard_normal((way.best.size, draws)) * sd
    level, slope, curve = made[0].copy(), np.zeros(draws), np.zeros(draws)
    if way.name in STEPS:
        level += made[-1]
    if way.name in ("straight", "curved", "step and slope"):
        slope = made[1].copy()
    if way.name == "faster":
        slope = made[1] / way.grows
    if way.name == "curved":
        curve = made[2].copy()
    level += slope * end + curve * end**2
    slope += 2 * curve * end
    grows = np.full(draws, way.grows * span if way.name == "faster" else inf)
    return level, slope / span, curve / span**2, grows, sd / np.sqrt(1 - way.alike**2)


def quantiles(draws: Array, shares: Sequence[float]) -> tuple[float, ...]:
    """Of draws some of which are never."""
    ordered = np.sort(draws)
    return tuple(float(ordered[min(int(share * ordered.size), ordered.size - 1)]) for share in shares)

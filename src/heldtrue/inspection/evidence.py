"""How likely every set of causes is after the readings, and how large each cause then is.

A linear Gaussian model: up to ``MOST`` waves are large, all others small; zero of the indicator, scatter between
clampings, noise and division of the dial, small errors of every angle stand in the covariance.  What is not known of
scales is averaged over, never chosen.  Lengths mm, angles rad.

Source: evidence of a linear model with Gaussian priors, any textbook of Bayesian statistics; the scales are our own
judgement, no source, tried on drawn parts in ``bench/causes.py``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import inf, log, pi

import numpy as np
from numpy.typing import NDArray
from scipy import special

from heldtrue.inspection.elements import Array, Element, Rows, Seen, columns, slopes

NOISE_MM = (0.0004, 0.0009, 0.002, 0.004, 0.012)
"""Scatter of a reading, beside the division of the dial."""
ELSE = 0.3
"""Share of the odds of the scatter that what a dial repeats to leaves as it was: the surface itself, a chip and a stand
that gives way scatter too, and a place read again shows none of it.  Our judgement."""
CLAMPING_MM = (0.001, 0.003)
"""Scatter of the centre from clamping to clamping."""
SMALL_MM = ((0.0002, 0.0002), (0.0002, 0.0012), (0.0012, 0.0002), (0.0012, 0.0012))
"""Every wave is there with about this amplitude, as nothing is perfect: those that turn with the part, and the rest."""
LARGE_MM = (0.005, 0.020)
"""Amplitude of a wave that is a fault; larger ones join where the readings swing more."""
MIDDLE = ((0.0015,), ((0.0007, 0.0007),))
ODDS = 0.2
"""That a cause is at work, before any reading."""
MOST = 3
"""Faults at work at once."""
BEAM = 8
"""Sets of each size that are built on."""
START_RAD, TURN_RAD = 2 * pi / 180, 3 * pi / 180
"""How well a place is found again, and the part turned by what was said: common practice, no source."""
ALONG, PRESSED, BY_LAW = 0.25, 0.05, 0.2
"""How far lobes differ from plane to plane; repeat from clamping to clamping; and stray from going with the pressure,
at no pressure at all.  Shares of themselves, our judgement."""
ODDS_SLIP = {"read the other way round": 0.006, "not turned": 0.004, "one reading off": 0.02}
"""That a trace is not what was said of it: our judgement."""
NEGLIGIBLE = 12.0
"""Logarithm of odds below which a slip is not followed up."""
DRAWS = 400
FIRST_DRAWS = 128
GROSS_MM, GROSS_SPREADS, MOST_GROSS = 0.05, 3.0, 2
"""Readings that may be wrong: by about so much; looked at from so many standard deviations on, so many at most."""


@dataclass(frozen=True)
class World:
    """One way the readings may have come about: ``slip``: None as said, else what went wrong with ``trace``."""

    rows: Seen
    slip: str | None = None
    trace: int = 0
    off: tuple[int, ...] = ()


@dataclass(frozen=True)
class Posterior:
    """Draws from what is possible after the readings, one a column.

    ``coefficient`` [mm] of every element, two rows each, ``along``: what each plane has more of it, plane by plane; and
    ``clamping`` of each clamping; ``noise`` [mm]; ``faults``:
    indices of the elements that are large; ``slip``: index of the world it is drawn from; ``chance`` of each world;
    ``most_scatter``: of the centre from clamping to clamping, the largest that was averaged over [mm].
    """

    elements: tuple[Element, ...]
    worlds: tuple[World, ...]
    chance: tuple[float, ...]
    coefficient: Array
    along: Array
    clamping: Array
    noise: Array
    faults: tuple[tuple[int, ...], ...]
    slip: Rows
    most_scatter: float


@dataclass(frozen=True)
class _Fit:
    """One world under every scale: log weights by (scale, set)."""

    columns: Array
    scatter: Array
    extra: Array
    value: Array
    small: Array
    turns: NDArray[np.bool_]
    grid: list[tuple[float, float, tuple[float, float]]]
    large: tuple[float, ...]
    inverse: Array
    step: float
    gram: Array
    right: Array
    sets: list[tuple[int, ...]]
    weight: Array  # (grid, large, set)

    @property
    def evidence(self) -> float:
        """Log of the whole evidence."""
        top = float(self.weight.max())
        return top + log(float(np.exp(self.weight - top).sum()))


def noise_odds(repeat: tuple[float, float] | None) -> Array:
    """Log odds of each of ``NOISE_MM`` before the readings.

    ``repeat``: what the dial repeats to [mm] and the factor within which that is known, 95 %, each way; None where
    nothing is known, and every scatter is as likely.
    """
    count = len(NOISE_MM)
    if repeat is None:
        return np.full(count, -log(count))
    middle, factor = repeat
    between = 0.5 * (np.log(NOISE_MM[1:]) + np.log(NOISE_MM[:-1]))
    ends = (np.concatenate([[-inf], between, [inf]]) - log(middle)) / (log(factor) / special.ndtri(0.975))
    made: Array = np.log((1 - ELSE) * np.diff(special.ndtr(ends)) + ELSE / count)
    return made


def posterior(
    rows: Seen, elements: tuple[Element, ...], factors: Array, clampings: Sequence[float] = CLAMPING_MM,
    repeat: tuple[float, float] | None = None,
) -> Posterior:  # fmt: skip
    """Everything that may be, drawn ``DRAWS`` times; the same readings give the same draws.

    ``factors``: on the odds of each element, from what was said of the surface; ``clampings``: scatters of the centre
    from clamping to clamping that are averaged over [mm]; ``repeat``: as in ``noise_odds``.
    """
    random = np.random.default_rng(7)
    quiet = dict(zip(NOISE_MM, noise_odds(repeat).tolist(), strict=True))
    odds = np.log(ODDS * np.array([e.share for e in elements]) * factors)
    worlds = [World(rows)]
    for trace in range(1, int(rows.of.max()) + 1):
        mine = rows.of == trace
        if not rows.on_part[mine].any():
            continue
        if rows.held[mine].any():
            worlds.append(World(rows.reversed_trace(trace), "read the other way round", trace))
        if rows.turned[mine].any():
            worlds.append(World(rows.unturned_trace(trace), "not turned", trace))
    first: list[tuple[World, _Fit]] = []
    for world in worlds:
        bare = np.zeros((len(rows.value), 0))
        first.append((world, _fit(world, elements, odds, bare, quiet, *MIDDLE, beam=4)))
    best = first[0][1].evidence
    finals: list[tuple[World, _Fit, Array]] = []
    for world, rough in first:
        if world.slip is not None and rough.evidence + log(ODDS_SLIP[world.slip]) < best - NEGLIGIBLE:
            continue
        coefficient, *_ = _draws(rough, FIRST_DRAWS, random)
        extra, along = _angle_errors(world.rows, elements, coefficient)
        full = _fit(world, elements, odds, extra, quiet, clampings, SMALL_MM)
        finals.append((world, full, along))
        if world.slip is None:
            off = _far_off(world.rows, elements, coefficient)
            for count in range(1, len(off) + 1):
                wrong = replace(world, slip="one reading off", off=off[:count])
                finals.append((wrong, _fit(wrong, elements, odds, extra, quiet, clampings, SMALL_MM), along))
    logs = np.array(
        [f.evidence + (0.0 if w.slip is None else log(ODDS_SLIP[w.slip]) * max(len(w.off), 1)) for w, f, _ in finals]
    )
    chance = np.exp(logs - logs.max())
    chance /= chance.sum()
    counts = random.multinomial(DRAWS, chance)
    made = [(_draws(f, int(n), random), k) for k, ((_, f, _), n) in enumerate(zip(finals, counts, strict=True)) if n]
    free = _free_columns(rows).shape[1]
    along = np.concatenate([finals[k][2] @ m[4][free : free + finals[k][2].shape[2]] for m, k in made], axis=2)
    return Posterior(
        elements, tuple(w for w, _, _ in finals), tuple(float(c) for c in chance),
        np.hstack([m[0] for m, _ in made]), along, np.hstack([m[1] for m, _ in made]),
        np.concatenate([m[2] for m, _ in made]), tuple(s for m, _ in made for s in m[3]),
        np.concatenate([np.full(len(m[3]), k) for m, k in made]), max(clampings),
    )  # fmt: skip


def of_clamping(rows: Seen) -> Array:
    """Columns of the centre's scatter from clamping to clamping: two at the grip, two for the lean, each clamping."""
    found = []
    turn = (np.cos(rows.angle), np.sin(rows.angle))
    for trace in range(int(rows.of.max()) + 1):
        held = (rows.of == trace) * rows.held * rows.on_part
        found += [held * wave * arm for arm in (np.ones_like(turn[0]), rows.height) for wave in turn]
    return np.column_stack(found)


def _free_columns(rows: Seen) -> Array:
    """What any reading may be off by, without limit: the zero of each plane, and how a free part or bar was laid."""
    reach = 0.2 + 3.0 * float(np.ptp(rows.value))
    turn = (np.cos(rows.angle), np.sin(rows.angle))
    found = [reach * (rows.zero == k) for k in range(int(rows.zero.max()) + 1)]
    for k in range(int(rows.zero.max()) + 1):
        mine = rows.zero == k
        if not (rows.held * rows.on_part)[mine].any():
            found += [reach * mine * wave for wave in turn]
    return np.column_stack(found)


def _fit(
    world: World, elements: Sequence[Element], odds: Array, extra: Array, noises: Mapping[float, float],
    clampings: Sequence[float], smalls: Sequence[tuple[float, float]], beam: int = BEAM,
) -> _Fit:  # fmt: skip
    """``noises``: scatters of a reading [mm] with their log odds."""
    rows = world.rows
    value = rows.value - np.median(rows.value)
    waves, scatter = columns(rows, elements), of_clamping(rows)
    gross = GROSS_MM * np.eye(len(value))[:, list(world.off)]
    fixed = np.hstack([_free_columns(rows), extra, gross])
    rss, spare = 0.0, 0
    span = np.hstack([waves, scatter, fixed])
    if len(value) > span.shape[1]:  # what no column reaches is noise alone
        q, _ = np.linalg.qr(span)
        spare = len(value) - q.shape[1]
        short = q.T @ value
        rss = max(float(value @ value - short @ short), 0.0)
        waves, scatter, fixed, value = q.T @ waves, q.T @ scatter, q.T @ fixed, short
    small = np.repeat([1.0 / max(e.order, 1) for e in elements], 2)
    step = float(rows.step.max())
    swing = float(np.ptp(rows.value))
    large = (*LARGE_MM, *(v for v in (0.08, 0.3, 1.0) if swing > 0.75 * v))
    grid = list(product(noises, clampings, smalls))
    base = fixed @ fixed.T
    turns = np.repeat([e.turns for e in elements], 2)
    own, other = ((waves[:, some] * small[some]) @ waves[:, some].T for some in (turns, ~turns))
    scattered = scatter @ scatter.T
    eye = np.eye(len(value))
    variance = np.array([s**2 + step**2 / 12 for s, _, _ in grid])
    cover = (variance[:, None, None] * eye + base
             + np.array([r**2 for _, r, _ in grid])[:, None, None] * scattered
             + np.array([m[0] ** 2 for _, _, m in grid])[:, None, None] * own
             + np.array([m[1] ** 2 for _, _, m in grid])[:, None, None] * other)  # fmt: skip
    root = np.linalg.cholesky(cover)
    inverse = np.linalg.inv(cover)
    whole = np.array([noises[s] for s, _, _ in grid])
    whole -= np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1) + 0.5 * (spare * np.log(variance) + rss / variance)
    pulled = inverse @ value
    whole -= 0.5 * (pulled @ value)
    left = waves.T @ inverse
    gram, right = left @ waves, left @ value
    sets, weight = _search(gram, right, whole, large, odds, beam)
    return _Fit(waves, scatter, fixed, value, small, turns, grid, large, inverse, step, gram, right, sets, weight)


def _search(
    gram: Array, right: Array, whole: Array, large: Sequence[float], odds: Array, beam: int
) -> tuple[list[tuple[int, ...]], Array]:
    """Sets of elements with their log weights by scale: all single ones, the best ones with every other."""
    sets: list[tuple[int, ...]] = [()]
    level, found = sets, np.repeat(whole[:, None], len(large), axis=1)[None]  # (set, grid, large)
    weights = [found]
    for _ in range(MOST):
        weight = found[..., None] + _gains(gram, right, np.array(large), np.array(level, np.int64)) + odds
        top = weight.max(axis=(1, 2))
        score = top + np.log(np.exp(weight - top[:, None, None]).sum(axis=(1, 2)))
        coming: dict[tuple[int, ...], tuple[int, int]] = {}
        for row, chosen in enumerate(level):
            for k in range(len(odds)):
                if k not in chosen:
                    coming.setdefault(tuple(sorted((*chosen, k))), (row, k))
        made, (rows, more) = list(coming), np.array(list(coming.values())).T
        best = np.argsort(-score[rows, more], kind="stable")[:beam]
        sets, weights = [*sets, *made], [*weights, weight[rows, :, :, more]]
        level, found = [made[k] for k in best.tolist()], weights[-1][best]
    return sets, np.ascontiguousarray(np.moveaxis(np.concatenate(weights), 0, 2))


def _gains(gram: Array, right: Array, large: Array, chosen: Rows) -> Array:
    """Log evidence that each element adds beside each set of ``chosen``, all of one length: by set, scale, size and
    element."""
    a, b, c = (gram[None, :, None, i::2, j::2].diagonal(axis1=3, axis2=4) for i, j in ((0, 0), (0, 1), (1, 1)))
    p, q = right[None, :, None, ::2], right[None, :, None, 1::2]
    if chosen.shape[1]:
        at = (2 * chosen[:, :, None] + np.arange(2)).reshape(len(chosen), -1)
        across = np.ascontiguousarray(gram[:, :, at].transpose(2, 0, 1, 3))  # (set, grid, all, chosen)
        inner = gram[:, at[:, :, None], at[:, None, :]].swapaxes(0, 1)[:, :, None]
        solved = np.linalg.inv(inner + np.eye(at.shape[1]) / large[:, None, None] ** 2)  # (set, grid, large, ...)
        reach = across[:, :, None] @ solved
        even, odd = reach[..., ::2, :], reach[..., 1::2, :]
        own_even, own_odd = across[:, :, ::2], across[:, :, 1::2]
        a = a - np.einsum("sglec,sgec->sgle", even, own_even)
        b = b - np.einsum("sglec,sgec->sgle", even, own_odd)
        c = c - np.einsum("sglec,sgec->sgle", odd, own_odd)
        drawn = (reach @ right[:, at].swapaxes(0, 1)[:, :, None, :, None])[..., 0]
        p, q = p - drawn[..., ::2], q - drawn[..., 1::2]
    var = large[:, None] ** 2
    i, j, k = 1 + var * a, var * b, 1 + var * c
    det = np.maximum(i * k - j * j, 1e-300)
    made: Array = -0.5 * np.log(det) + 0.5 * var * (k * p * p - 2 * j * p * q + i * q * q) / det
    return made


def _draws(
    fit: _Fit, count: int, random: np.random.Generator
) -> tuple[Array, Array, Array, list[tuple[int, ...]], Array]:
    """Coefficients, clampings, noise, sets, and sizes of the extra columns: a draw from before the readings, moved by
    what they say against it."""
    flat = np.exp(fit.weight - fit.weight.max()).ravel()
    picked = np.sort(random.choice(flat.size, count, p=flat / flat.sum()))
    scale, size, chosen = np.unravel_index(picked, fit.weight.shape)
    noise = np.array([fit.grid[g][0] for g in scale.tolist()])
    spread = np.array([fit.grid[g][1] for g in scale.tolist()])
    alike = np.split(np.arange(count), np.flatnonzero(np.diff(picked)) + 1) if count else []
    variance = np.empty((fit.columns.shape[1], count))
    for draws in alike:  # of one scale, one size and one set
        own, other = fit.grid[scale[draws[0]]][2]
        prior = np.where(fit.turns, own, other) ** 2 * fit.small
        prior[_pairs(fit.sets[chosen[draws[0]]])] += fit.large[size[draws[0]]] ** 2
        variance[:, draws] = prior[:, None]
    before = random.standard_normal(variance.shape) * np.sqrt(variance)
    shift = random.standard_normal((fit.scatter.shape[1], count)) * spread
    dial = np.sqrt(noise**2 + fit.step**2 / 12)
    errors = random.standard_normal((fit.extra.shape[1], count))
    made = (fit.columns @ before + fit.scatter @ shift + fit.extra @ errors
            + dial * random.standard_normal((len(fit.value), count)))  # fmt: skip
    off = fit.value[:, None] - made
    for draws in alike:
        inverse, some = fit.inverse[scale[draws[0]]], _pairs(fit.sets[chosen[draws[0]]])
        pulled = inverse @ off[:, draws]
        if some:
            columns_of = fit.columns[:, some]
            inner = fit.gram[scale[draws[0]]][np.ix_(some, some)] + np.eye(len(some)) / fit.large[size[draws[0]]] ** 2
            pulled -= inverse @ (columns_of @ np.linalg.solve(inner, columns_of.T @ pulled))
        off[:, draws] = pulled
    coefficient = before + variance * (fit.columns.T @ off)
    clamping = shift + spread**2 * (fit.scatter.T @ off)
    errors = errors + fit.extra.T @ off
    return coefficient, clamping, noise, [fit.sets[s] for s in chosen.tolist()], errors


def _pairs(faults: Sequence[int]) -> list[int]:
    """The two columns of each element."""
    return [column for one in faults for column in (2 * one, 2 * one + 1)]


def _angle_errors(rows: Seen, elements: Sequence[Element], coefficient: Array) -> tuple[Array, Array]:
    """Columns for what no wave explains: places found and parts turned a little wrong, lobes that differ along the
    part and from clamping to clamping; from the shapes that the first look finds likely.  Also how much more of each
    wave every plane has with 1 of a column: by plane, wave and column."""
    by_start, by_turn = (one @ coefficient for one in slopes(rows, elements))
    waves = columns(rows, elements)
    clamp = np.zeros_like(coefficient)
    lobes = np.zeros_like(coefficient)
    for k, one in enumerate(elements):
        if one.cause == "clamp":
            clamp[2 * k : 2 * k + 2] = coefficient[2 * k : 2 * k + 2]
        if one.order > 1 and one.cause != "spindle or measuring":
            lobes[2 * k : 2 * k + 2] = coefficient[2 * k : 2 * k + 2]
    pressed, found = waves @ clamp, []
    for k in range(int(rows.zero.max()) + 1):
        found.append(START_RAD * by_start * (rows.zero == k)[:, None])
    for trace in range(int(rows.of.max()) + 1):
        mine = rows.of == trace
        if trace and rows.on_part[mine].any():
            found.append(TURN_RAD * by_turn * mine[:, None])
            share = float(rows.grip[mine].max())
            if share > 0.0:
                found.append(float(np.hypot(PRESSED, BY_LAW * (1.0 - share))) / share * pressed * mine[:, None])
    extra = np.hstack([one @ _main_directions(one) for one in found])
    planes = np.unique(rows.plane)
    along = np.zeros((len(planes), len(coefficient), extra.shape[1]))
    if len(planes) > 1:
        seen_lobes = waves @ lobes
        for p in planes:
            # Only how planes differ: what all of them have in common is the lobe itself, and no error of it.
            shape = ALONG * seen_lobes * ((rows.plane == p) - 1.0 / len(planes))[:, None]
            main = _main_directions(shape)
            more = ALONG * ((planes == p) - 1.0 / len(planes))[:, None, None] * (lobes @ main)
            extra, along = np.hstack([extra, shape @ main]), np.concatenate([along, more], axis=2)
    return extra, along


def _main_directions(shape: Array, most: int = 2) -> Array:
    """Weights of the columns of ``shape`` that make the few which carry its mean square over its columns."""
    some = shape[shape.any(axis=1)]  # a shape of one plane or trace: most rows are nothing
    squares, across = np.linalg.eigh(some @ some.T / shape.shape[1])
    size = np.sqrt(np.maximum(squares[::-1][:most], 0.0))
    main = across[:, ::-1][:, :most][:, size > 1e-6] / size[size > 1e-6]
    made: Array = some.T @ main / shape.shape[1]
    return made


def _far_off(rows: Seen, elements: Sequence[Element], coefficient: Array) -> tuple[int, ...]:
    """The worst readings, where they stand off the shape by far; the worst first."""
    shape = (columns(rows, elements) @ coefficient).mean(axis=1)
    nuisance, found = np.hstack([_free_columns(rows), of_clamping(rows)]), list[int]()
    while len(found) < MOST_GROSS:
        left = rows.value - shape
        rest = np.setdiff1d(np.arange(len(left)), found)
        left = left - nuisance @ np.linalg.lstsq(nuisance[rest], left[rest], rcond=None)[0]
        spread = max(1.4826 * float(np.median(np.abs(left[rest]))), rows.step.max() / 3.4, 2e-4)
        worst = int(rest[np.abs(left[rest]).argmax()])
        if abs(left[worst]) <= GROSS_SPREADS * spread:
            break
        found.append(worst)
    return tuple(found)

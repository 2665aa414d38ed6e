"""Which reading would tell most of what the readings so far leave open: expected information, less what it costs.

Every set of causes that is still possible foretells the next trace, as a Gaussian; readings are drawn from them, and
what would then still be open is averaged.  Lengths mm, angles rad, information in bits.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, radians

import numpy as np

from heldtrue.inspection.elements import ARM_MM, Array, CauseName, Element, Seen, columns, slopes
from heldtrue.inspection.evidence import NOISE_MM, START_RAD, TURN_RAD, Posterior, of_clamping

TURN_BY = radians(108)
"""Turns of 180 degrees leave every even order where it was; 103 moves orders 1 to 6, and falls between the places."""
ALIKE = 10
"""Sets of causes that are told apart."""
TRIES = 48
LEAST_BITS = 0.1
"""Information that is worth a reading."""
PLACES = 12


@dataclass(frozen=True)
class Candidate:
    """One reading that could be next: ``cost`` in bits that it must tell to be worth its work, our judgement."""

    name: str
    cost: float


TURN, TURN_HALF, RELEASE, PLANE, AGAIN, BAR, ASK = (
    Candidate("turn the part", 0.10), Candidate("turn the part, half the pressure", 0.12),
    Candidate("release the part", 0.12), Candidate("read a second plane", 0.05), Candidate("read again", 0.10),
    Candidate("read a test bar", 0.20), Candidate("say where it was turned", 0.0),
)  # fmt: skip


def informative(
    made: Posterior, label: Sequence[CauseName], candidates: Sequence[Candidate]
) -> list[tuple[Candidate, float]]:
    """The candidates with the bits each is expected to tell of the largest cause; best first, cost taken off.

    ``label``: the largest cause of each draw.
    """
    random = np.random.default_rng(11)
    common = [one for one, n in Counter(made.faults).most_common(ALIKE) if n >= 4]
    draws = [[k for k, f in enumerate(made.faults) if f == one] for one in common]
    names = [Counter(label[k] for k in some).most_common(1)[0][0] for some in draws]
    weight = np.array([len(some) for some in draws], float)
    if len(set(names)) < 2:
        return [(one, 0.0) for one in candidates]
    weight /= weight.sum()
    found = []
    for one in candidates:
        if one is ASK:
            bits = _of_question(made.elements, common, names, weight)
        else:
            bits = _of_reading(made, one, common, draws, names, weight, random)
        found.append((one, bits))
    return sorted(found, key=lambda pair: pair[0].cost - pair[1])


def next_rows(rows: Seen, one: Candidate) -> Seen:
    """Where the candidate is read: 12 places, at the planes read so far or, for a second plane, further out."""
    angle = 2 * pi * np.arange(PLACES) / PLACES
    heights = np.unique(rows.height)
    if one is PLANE:
        heights = np.array([heights[-1] + 40.0 / ARM_MM])
    last = float(rows.turned[-1])
    turned = last + TURN_BY if one in (TURN, TURN_HALF) else last
    share = {TURN_HALF: 0.5, RELEASE: 0.0, BAR: 0.0}.get(one, 1.0)
    count = len(heights) * PLACES
    full = np.ones(count)
    planes = np.repeat(np.arange(len(heights)), PLACES)
    return Seen(
        np.tile(angle, len(heights)), np.zeros(count), np.repeat(heights, PLACES), np.zeros(count, np.int64), planes,
        planes, share * full, (one is not BAR) * full, (one is not RELEASE) * full, turned * full,
        rows.step.max() * full,
    )  # fmt: skip


def _of_reading(
    made: Posterior, one: Candidate, common: Sequence[tuple[int, ...]], draws: Sequence[Sequence[int]],
    names: Sequence[str], weight: Array, random: np.random.Generator,
) -> float:  # fmt: skip
    rows = next_rows(made.worlds[0].rows, one)
    foretold = columns(rows, made.elements) @ made.coefficient
    noise = float(np.median(made.noise)) or NOISE_MM[1]
    same_clamping = one is PLANE
    scatter = of_clamping(rows)
    cover = noise**2 * np.eye(len(rows.angle)) + rows.step[0] ** 2 / 12 * np.eye(len(rows.angle))
    cover += (0.0 if same_clamping else made.most_scatter**2) * scatter @ scatter.T
    if same_clamping:
        foretold = foretold + scatter @ made.clamping[: scatter.shape[1]]
    by_start, by_turn = (s @ made.coefficient for s in slopes(rows, made.elements))
    cover += START_RAD**2 * by_start @ by_start.T / by_start.shape[1]
    cover += TURN_RAD**2 * by_turn @ by_turn.T / by_turn.shape[1]
    free = [np.asarray(rows.plane == p, float) for p in np.unique(rows.plane)]
    if one in (RELEASE, BAR):
        free += [f * wave for f in free for wave in (np.cos(rows.angle), np.sin(rows.angle))]
    span, _ = np.linalg.qr(np.column_stack(free))  # what a zero may be off by says nothing
    keep = np.linalg.svd(np.eye(len(rows.angle)) - span @ span.T)[0][:, : len(rows.angle) - span.shape[1]]
    foretold, cover = keep.T @ foretold, keep.T @ cover @ keep
    means, roots = [], []
    for some in draws:
        mine = foretold[:, some]
        mean = mine.mean(axis=1)
        spread = (mine - mean[:, None]) / np.sqrt(max(len(some) - 1, 1))
        means.append(mean)
        roots.append(np.linalg.cholesky(cover + spread @ spread.T))
    picked = random.choice(len(common), TRIES, p=weight)
    drawn = np.stack([means[k] + roots[k] @ random.standard_normal(len(means[k])) for k in picked], axis=1)
    logs = np.empty((len(common), TRIES))
    for k, (mean, root) in enumerate(zip(means, roots, strict=True)):
        off = np.linalg.solve(root, drawn - mean[:, None])
        logs[k] = -0.5 * (off**2).sum(axis=0) - np.log(np.diag(root)).sum() + np.log(weight[k])
    after = np.exp(logs - logs.max(axis=0))
    after /= after.sum(axis=0)
    return _entropy(_by_name(weight[:, None], names)) - _entropy(_by_name(after, names))


def _of_question(
    elements: Sequence[Element], common: Sequence[tuple[int, ...]], names: Sequence[str], weight: Array
) -> float:
    """Was the surface turned in this clamping, or brought along?  Believed but for 1 in 100."""
    here = np.array([np.prod([said(elements[k], "here") for k in one]) for one in common])
    before = np.array([np.prod([said(elements[k], "before") for k in one]) for one in common])
    after = np.stack([weight * here, weight * before], axis=1)
    total = after.sum(axis=0)
    told = _by_name(after / total, names)
    left = sum(share / total.sum() * _entropy(told[:, k : k + 1]) for k, share in enumerate(total))
    return _entropy(_by_name(weight[:, None], names)) - float(left)


DOUBT = 0.01
"""How far an answer to the question is disbelieved."""


def said(one: Element, where: str) -> float:
    """Factor on the odds of an element by what was said of the surface: turned ``here``, or ``before``."""
    if where == "here":
        against = one.cause == "part" or (one.cause == "clamp" and one.kind == "lobes")
    else:
        against = one.cause == "cut" or one.kind == "lobes, cut round"
    return DOUBT if where and against else 1.0


def _by_name(share: Array, names: Sequence[str]) -> Array:
    return np.stack([share[[n == name for n in names]].sum(axis=0) for name in sorted(set(names))])


def _entropy(share: Array) -> float:
    """Mean over the columns of what is open. [bit]"""
    safe = np.clip(share, 1e-12, 1.0)
    return float(-(safe * np.log2(safe)).sum(axis=0).mean())


def unread(rows: Seen, made: str) -> list[Candidate]:
    """What could be read next; ``made``: what was said of where the surface was turned."""
    found = [AGAIN]
    free_only = not (rows.grip > 0).any()
    if not free_only:
        found += [TURN, TURN_HALF]
        if rows.on_part.all() and rows.held.all():
            found.append(RELEASE)
        if len(np.unique(rows.height)) < 2:
            found.append(PLANE)
    if rows.on_part.all():
        found.append(BAR)
    if not made:
        found.append(ASK)
    return found

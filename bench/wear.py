"""How often the parts left, the step and the drift that are told are right, on wear drawn in ways the program does not
know.

Run by hand: ``python bench/wear.py [series of each kind]``; 1,000 if left out.
"""

from __future__ import annotations

import sys

import numpy as np

LIMIT, SPREAD = 0.020, 0.0006


def drawn(kind: str, random: np.random.Generator, parts: int = 3000) -> tuple[np.ndarray, np.ndarray]:
    """Trend and single parts [mm]; the limit is 0.020."""
    t = np.arange(parts, dtype=float)
    rate = random.uniform(1.0e-4, 4.0e-4)
    start = random.uniform(0.0, 0.004)
    scatter = random.normal(0.0, SPREAD, parts)
    trend = start + rate * t
    if kind == "curved":
        trend = start + 0.3 * rate * t + 0.016 * (t / random.uniform(60, 140)) ** 2
    elif kind == "faster and faster":
        trend = start + 0.001 * np.expm1(t / random.uniform(20, 45))
    elif kind == "slower and slower":
        trend = start + 0.024 * (1 - np.exp(-t / random.uniform(60, 140)))
    elif kind == "stepped":
        trend = start + rate * t + random.uniform(0.003, 0.006) * (t >= random.integers(8, 35))
    elif kind == "step alone":
        trend = start + random.uniform(0.003, 0.008) * (t >= random.integers(10, 35)) + 0.0 * t
    elif kind == "still":
        trend = start + 0.0 * t
    if kind in ("alike", "still and alike"):
        trend = start + (rate if kind == "alike" else 0.0) * t
        for k in range(1, parts):
            scatter[k] = 0.6 * scatter[k - 1] + random.normal(0.0, SPREAD * np.sqrt(1 - 0.36))
    return trend, np.round(trend + scatter, 4)


KINDS = ("straight", "curved", "faster and faster", "slower and slower", "stepped", "alike", "step alone", "still",
         "still and alike")  # fmt: skip


def campaign(kind: str, count: int, seed: int = 1) -> dict[str, float]:
    """Shares over series of 30 to 60 parts, none of them bad yet."""
    from heldtrue.inspection.drift import Series, read_drift

    told = lower = inside = early = announced = drifts = steps = alarms = 0
    for k in range(count):
        random = np.random.default_rng([seed, k])
        trend, values = drawn(kind, random)
        meets = int(np.argmax(trend >= LIMIT)) if (trend >= LIMIT).any() else 10**9
        bad = int(np.argmax(values > LIMIT)) if (values > LIMIT).any() else 10**9
        seen = int(min(random.integers(30, 61), 0.75 * meets))
        if seen < 12 or bad < seen:
            continue
        found = read_drift(Series("od", values[:seen], upper=LIMIT))[0]
        drifts += found.drifting
        steps += found.stepped
        alarms += not found.pieces[-1].chart.in_control
        told += 1
        if found.parts_left is not None:
            announced += 1
            lower += found.parts_left.low <= meets - (seen - 1)
            inside += found.parts_left.low <= meets - (seen - 1) <= found.parts_left.high
            early += seen - 1 + found.recut_in < bad
    share = lambda n, of: n / of if of else float("nan")  # noqa: E731
    return {"series": told, "announced": share(announced, told), "lower": share(lower, announced),
            "inside": share(inside, announced), "before a bad part": share(early, announced),
            "drift": share(drifts, told), "step": share(steps, told), "chart": share(alarms, told)}  # fmt: skip


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    for kind in KINDS:
        print(f"{kind:20}", " ".join(f"{name} {v:.3f}" for name, v in campaign(kind, count).items()), flush=True)


if __name__ == "__main__":
    main()

"""How well gauge rings read: drawn rings, read by the program, beside the forces they were drawn with.

``python bench/gauge_ring.py --write`` puts the table into docs/measuring.md.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "tests"))

import numpy as np  # noqa: E402
from ring_world import World, rounds  # noqa: E402

from heldtrue.errors import InputError  # noqa: E402
from heldtrue.inspection.ring_design import Asked, design_ring  # noqa: E402
from heldtrue.inspection.ring_reading import ROLLING, RingGauge, RingReadings, RingTrace, read_ring  # noqa: E402
from heldtrue.mechanics.gauge_ring import Ring  # noqa: E402

PRESSURES = (0.6, 1.2, 1.8)
CASES = (
    ("3 jaws, 12 places, 0.001 mm", 3, 12, 0.001, 0.0, True),
    ("3 jaws, 6 places, 0.001 mm", 3, 6, 0.001, 0.0, True),
    ("3 jaws, 12 places, 0.01 mm", 3, 12, 0.01, 0.0, True),
    ("3 jaws, 12 places, 0.001 mm, no free round", 3, 12, 0.001, 0.0, False),
    ("4 jaws that differ, 12 places, 0.001 mm", 4, 12, 0.001, 0.1, True),
    ("6 jaws that differ, 24 places, 0.001 mm", 6, 24, 0.001, 0.1, True),
)
INNER, OUTER, WIDTH = 63.0, 75.0, 10.0


def table(count: int) -> list[str]:
    """One row a case."""
    lines = [
        "| case | force of all jaws in its range | of each jaw | slope | pressure lost | error, median | 95 % | "
        "no answer | ms |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for name, jaws, places, division, spread, free in CASES:
        lines.append(row(name, jaws, places, division, spread, free, count))
    return lines


def row(name: str, jaws: int, places: int, division: float, spread: float, free: bool, count: int) -> str:
    rng = np.random.default_rng(11)
    gauge = RingGauge(Ring("outside", INNER, OUTER, WIDTH, 210_000.0, 0.3), "", jaws)
    hits, of_jaw, lines, lost, errors, refused = 0, 0, 0, 0, [], 0
    start = time.perf_counter()
    for _ in range(count):
        # Modulus, wall, and what rollers or pads add to all forces alike.
        young = 210_000.0 * (1 + rng.normal(0, 0.015)) * (1 + rng.normal(0, ROLLING))
        world = World(INNER + rng.normal(0, 0.01), OUTER, WIDTH, young)
        # Six lobes are a tenth of three: such rings are drawn under the larger grips that they are made for.
        slope, least = 2000.0 * jaws**2 * rng.uniform(0.6, 1.0), rng.uniform(0.0, 0.2)
        grips = [slope * (p - least) for p in PRESSURES]
        angles, found, _, pattern = rounds(rng, world, jaws, grips, places, division, spread=spread, free=free)
        pressures = [*([None] if free else []), *PRESSURES]
        traces = tuple(RingTrace(p, v) for p, v in zip(pressures, found, strict=True))
        try:
            answer = read_ring(replace(gauge), RingReadings(traces, angles, division))
        except InputError:
            refused += 1
            continue
        last, true = answer.clamped[-1], grips[-1]
        hits += last.total[0] <= true <= last.total[2]
        errors.append(abs(last.total[1] / true - 1))
        of_jaw += sum(low <= true / jaws * p <= high for p, (low, _, high) in zip(pattern, last.by_jaw, strict=True))
        assert answer.slope is not None
        assert answer.threshold is not None
        lines += answer.slope[0] <= slope <= answer.slope[2]
        lost += answer.threshold[0] <= least <= answer.threshold[2]
    seconds = time.perf_counter() - start
    told = count - refused
    shares = " | ".join(f"{100 * one / told:.1f} %" for one in (hits, of_jaw / jaws, lines, lost))
    error = f"{100 * np.median(errors):.1f} % | {100 * np.quantile(errors, 0.95):.1f} %"
    return f"| {name} | {shares} | {error} | {refused} | {1e3 * seconds / count:.0f} |"


def designs() -> list[str]:
    """Rings of three chucks, and how long they take."""
    lines = [
        "",
        "| ring for | size | reads half its grip, 0.001 mm | 0.01 mm | strength over stress | s |",
        "|---|---|---|---|---|---|",
    ]
    for side, jaws, gripped, grip in (
        ("outside", 3, 150.0, 111e3),
        ("inside", 3, 120.0, 60e3),
        ("outside", 6, 200.0, 90e3),
    ):
        start = time.perf_counter()
        made = design_ring(Asked(side, jaws, gripped, grip, 3.0))
        seconds = time.perf_counter() - start
        ring = made.gauge.ring
        size = f"Ø{2 * ring.outer:g} / Ø{2 * ring.inner:g} x {ring.width:g}"
        lines.append(f"| {jaws} jaws, {side}, {grip / 1e3:g} kN | {size} | {made.fine:.1%} | {made.coarse:.1%} | "
                     f"{made.factor:.2f} | {seconds:.1f} |")  # fmt: skip
    return lines


def main() -> None:
    """Print the tables, or put them into the docs."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rings", type=int, default=1000)
    asked.add_argument("--write", action="store_true")
    options = asked.parse_args()
    text = "\n".join([*table(options.rings), *designs()])
    print(text)
    if options.write:
        page = ROOT / "docs" / "measuring.md"
        begin, end = "<!-- rings: begin -->", "<!-- rings: end -->"
        before, rest = page.read_text("utf-8").split(begin)
        page.write_text(f"{before}{begin}\n\n{text}\n\n{end}{rest.split(end)[1]}", "utf-8")


if __name__ == "__main__":
    main()

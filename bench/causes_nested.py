"""Does another reading ever make a cause told as sure wrong?  The same parts, read more and more.

Run by hand: ``python bench/causes_nested.py``; ``--help`` says what can be chosen, Ctrl-C ends it and shows what is
there.  Every step of a chain holds all
readings of the step before and more; the parts are drawn by ``tests/run_out_world.py``, which shares no line with the
program.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from causes import diagnose, is_wrong
from scipy import stats

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from run_out_world import HALF, MORE, TWO, Ask, RunOutWorld, every_other_place, read_all

WORLDS = {
    "one large cause": {},
    "small causes": {"size": (6.0, 12.0), "scatter": 2.0},
    "slips": {"slips": 0.15},
}
"""One cause of 10 to 40 um; of 6 to 12 um in a chuck whose centre repeats to 2 um; and with traces that were read the
other way round, or of a part that was not turned though it was said to be."""


@dataclass(frozen=True)
class Step:
    """What has been read by then; ``coarse``: at every other place alone; ``asked``: it was said where the surface was
    turned."""

    name: str
    asks: tuple[Ask, ...]
    coarse: bool = False
    asked: bool = False


ONE = (TWO[0],)
FINE = (Ask(TWO, places=24), Ask(TWO, MORE, places=24))
CHAINS: dict[str, tuple[Step, ...]] = {
    "turned and turned again": (
        Step("one plane", (Ask(ONE),)),
        Step("two planes", (Ask(TWO),)),
        Step("and turned 108", (Ask(TWO), Ask(TWO, MORE))),
        Step("and 216", (Ask(TWO), Ask(TWO, MORE), Ask(TWO, 2 * MORE))),
        Step("and free", (Ask(TWO), Ask(TWO, MORE), Ask(TWO, 2 * MORE), Ask(TWO, state="free"))),
    ),
    "half the pressure": (
        Step("turned 108, half the pressure", (Ask(TWO), Ask(TWO, MORE, share=0.5))),
        Step("and a test bar", (Ask(TWO), Ask(TWO, MORE, share=0.5), Ask(TWO, state="spindle"))),
        Step("and where it was turned", (Ask(TWO), Ask(TWO, MORE, share=0.5), Ask(TWO, state="spindle")), asked=True),
    ),
    "released, then turned": (
        Step("clamped and free", (Ask(ONE), Ask(ONE, state="free"))),
        Step("and turned 180", (Ask(ONE), Ask(ONE, state="free"), Ask(ONE, HALF))),
        Step("and a second plane", (Ask(ONE), Ask(ONE, state="free"), Ask(TWO, HALF))),
    ),
    "clamped again": (
        Step("turned 180, two planes", (Ask(TWO), Ask(TWO, HALF))),
        Step("and clamped again", (Ask(TWO), Ask(TWO, HALF), Ask(TWO, HALF))),
        Step("and once more", (Ask(TWO), Ask(TWO, HALF), Ask(TWO, HALF), Ask(TWO, HALF))),
    ),
    "more places": (Step("turned 108, 12 places", FINE, coarse=True), Step("24 places", FINE)),
}


@dataclass(frozen=True)
class Told:
    """What was told of one part after one step; ``wrong``: told as sure and not so."""

    world: str
    chain: str
    step: str
    part: int
    answer: str
    truth: str
    told: bool
    wrong: bool


def read_step(step: Step, seed: int, part: int, more: dict):
    """The part drawn anew, and its readings of this step: the same part and readings for every step."""
    world = RunOutWorld(np.random.default_rng([seed, part]), **more)
    readings = read_all(world, step.asks)
    return world, [every_other_place(r) for r in readings] if step.coarse else readings


def rows_of(readings) -> Counter:
    """Every reading with its place, turn and state, counted."""
    return Counter(
        (k, round(float(a), 6), float(z), float(v), r.ask.state, r.ask.turned, r.ask.share)
        for k, r in enumerate(readings)
        for a, z, v in zip(r.angle, r.z, r.value, strict=True)
    )


def one_part(world_name: str, chain: str, seed: int, part: int) -> list[Told]:
    """What is told of one part, step by step.

    Raises: ``AssertionError`` where a step lacks a reading of the step before.
    """
    made, before = [], Counter()
    for step in CHAINS[chain]:
        world, readings = read_step(step, seed, part, WORLDS[world_name])
        rows = rows_of(readings)
        assert rows >= before, f"{chain}, {step.name}: not all readings of the step before"
        before = rows
        found = diagnose(world, readings, step.asked)
        made.append(
            Told(
                world_name,
                chain,
                step.name,
                part,
                found.answer,
                world.truth()[0],
                found.told,
                found.told and is_wrong(world, found),
            )
        )
    return made


def growth_by_chance(before: Sequence[Told], after: Sequence[Told]) -> float:
    """How often chance alone makes the share of wrong among told grow by so much or more: Fisher's exact test."""
    wrong, told = (sum(c.wrong for c in after), sum(c.wrong for c in before)), (len(_told(after)), len(_told(before)))
    return float(stats.hypergeom.sf(wrong[0] - 1, sum(told), sum(wrong), told[0]))


def _told(cases: Sequence[Told]) -> list[Told]:
    return [c for c in cases if c.told]


def summary(chain: str, parts: Sequence[Sequence[Told]]) -> list[str]:
    """A line for each step: shares, what became of the answers of the step before."""
    lines, before = [], None
    for k, step in enumerate(CHAINS[chain]):
        cases = [one[k] for one in parts]
        wrong, told = sum(c.wrong for c in cases), len(_told(cases))
        high = float(stats.beta.ppf(0.975, wrong + 1, told - wrong)) if wrong < told else 1.0
        line = (f"{chain:24} {step.name:32} {len(cases):5} right {sum(c.told and not c.wrong for c in cases):4} "
                f"wrong {wrong:3}/{told:4} {wrong / max(told, 1):5.2%} at most {high:5.2%}")  # fmt: skip
        if before is not None:
            pairs = Counter((_name(a), _name(b)) for a, b in zip(before, cases, strict=True))
            line += (f" | right to wrong {pairs['right', 'wrong']}, open to wrong {pairs['open', 'wrong']}, "
                     f"wrong to right {pairs['wrong', 'right']}, wrong to open {pairs['wrong', 'open']}, "
                     f"right to open {pairs['right', 'open']}, open to right {pairs['open', 'right']}; "
                     f"growth by chance {growth_by_chance(before, cases):.2f}")  # fmt: skip
        lines.append(line)
        before = cases
    return lines


def _name(one: Told) -> str:
    return "wrong" if one.wrong else "right" if one.told else "open"


def main() -> None:
    asks = argparse.ArgumentParser(description=__doc__)
    asks.add_argument("--parts", type=int, default=300, help="parts of each chain")
    asks.add_argument("--chain", action="append", choices=CHAINS, help="only this chain; may be said more than once")
    asks.add_argument("--world", action="append", choices=WORLDS, help="only this world; may be said more than once")
    asks.add_argument("--seed", type=int, default=1)
    asks.add_argument("--out", type=Path, help="file for every answer, a line of JSON each; adds to what is there")
    asked = asks.parse_args()
    found = {(world, chain): [] for world in asked.world or WORLDS for chain in asked.chain or CHAINS}
    try:
        for part in range(asked.parts):
            for world, chain in found:
                found[world, chain].append(one_part(world, chain, asked.seed, part))
                if asked.out is not None:
                    with asked.out.open("a") as file:
                        file.writelines(json.dumps(asdict(c)) + "\n" for c in found[world, chain][-1])
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
    for (world, chain), parts in found.items():
        print(world)
        print("\n".join(summary(chain, parts)), flush=True)


if __name__ == "__main__":
    main()

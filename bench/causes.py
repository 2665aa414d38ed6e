"""How often a cause told as sure is wrong, and how often the interval of a cause holds the truth.

Run by hand: ``python bench/causes.py``; ``--help`` says what can be chosen, Ctrl-C ends it and shows what is there.
The parts are drawn by ``tests/run_out_world.py``, which shares no line with the program.  Part k of a seed is the same
part in every plan.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from dataclasses import asdict, dataclass
from pathlib import Path
from time import process_time

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

WORTH_MM = 0.005
"""A part that runs out by more and is told "nothing to find" counts as told wrong."""


@dataclass(frozen=True)
class Case:
    """One part read by one plan: what was told, what was true, and (name, true size, least, most) of each cause shown
    [mm]; ``told`` with "nothing to find", ``wrong`` of it."""

    plan: str
    seed: int
    part: int
    answer: str
    truth: str
    told: bool
    wrong: bool
    asked: bool
    causes: tuple[tuple[str, float, float, float], ...]
    next_test: str
    seconds: float


def diagnose(world, readings, asked: bool = False):
    """What the program says of readings of a world; ``asked``: the setter also said where the surface was turned."""
    from heldtrue.inspection.causes import rank_causes
    from heldtrue.inspection.indicator import read_indicator
    from heldtrue.inspection.readings import trace

    results = [
        read_indicator(
            trace(r.angle, r.value, r.z, "outside", r.ask.state, r.ask.turned,
                  2.0 * r.ask.share if r.ask.state == "clamped" else None),
            jaws=world.jaws, resolution=world.dial,
        )
        for r in readings
    ]  # fmt: skip
    where = "" if not asked else "here" if world.turned_here else "before"
    return rank_causes(results, made=where)


def is_wrong(world, found) -> bool:
    """Was a cause told as sure that is not the one that shows most, or nothing found where much is?"""
    from heldtrue.inspection.causes import NOTHING

    if found.answer == NOTHING:
        return max(world.contribution.values()) > WORTH_MM
    return found.told and found.answer != world.truth()[0]


def one_case(plan: str, seed: int, part: int, **world_more) -> Case:
    """A part drawn, read and told."""
    from run_out_world import ASKED, RunOutWorld, readings_of

    began = process_time()
    world = RunOutWorld(np.random.default_rng([seed, part]), **world_more)
    found = diagnose(world, readings_of(world, plan), plan in ASKED)
    truth, sizes = world.truth()
    return Case(
        plan, seed, part, found.answer, truth, found.told, is_wrong(world, found), found.slip is not None,
        tuple((c.name, sizes[c.name], c.least, c.most) for c in found.causes),
        "" if found.next_test is None else found.next_test.name, process_time() - began,
    )  # fmt: skip


def summary(cases: list[Case]) -> str:
    """Shares of one plan: told and right, told and wrong; how often the intervals hold the truth."""
    count, told = len(cases), sum(c.told for c in cases)
    wrong = [c for c in cases if c.wrong]
    right = sum(c.told and not c.wrong and c.answer == c.truth for c in cases)
    mine = [low <= size <= high for c in cases if c.told and not c.wrong
            for name, size, low, high in c.causes if name == c.answer]  # fmt: skip
    ends = [(size < low, size > high) for c in cases for _, size, low, high in c.causes]
    under, over = np.mean(ends, axis=0) if ends else (0.0, 0.0)
    return (f"{cases[0].plan:46} {count:5} right {right / count:5.1%} wrong {len(wrong):3}/{told:4} "
            f"{len(wrong) / max(told, 1):5.1%} open {1 - told / count:5.1%} asked {sum(c.asked for c in cases):3} "
            f"cover told {np.mean(mine) if mine else float('nan'):.3f} all {1 - under - over:.3f} "
            f"(truth under {under:.3f}, over {over:.3f}) {1000 * float(np.median([c.seconds for c in cases])):4.0f} ms "
            f"next {dict(Counter(c.next_test for c in cases if c.next_test).most_common(3))} "
            f"wrong {dict(Counter((c.answer, c.truth) for c in wrong))}")  # fmt: skip


def main() -> None:
    from run_out_world import PLANS

    asks = argparse.ArgumentParser(description=__doc__)
    asks.add_argument("--parts", type=int, default=1000, help="parts in each plan")
    asks.add_argument("--plan", action="append", choices=PLANS, help="only this plan; may be said more than once")
    asks.add_argument("--seed", type=int, default=1)
    asks.add_argument("--out", type=Path, help="file for every case, a line of JSON each; adds to what is there")
    asked = asks.parse_args()
    found: dict[str, list[Case]] = {plan: [] for plan in asked.plan or PLANS}
    try:
        for part in range(asked.parts):
            for plan, cases in found.items():
                cases.append(one_case(plan, asked.seed, part))
                if asked.out is not None:
                    with asked.out.open("a") as file:
                        file.write(json.dumps(asdict(cases[-1])) + "\n")
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
    for cases in found.values():
        if cases:
            print(summary(cases))


if __name__ == "__main__":
    main()

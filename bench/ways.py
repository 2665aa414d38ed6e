"""The ways to hold against all of them planned in full: is anything dropped that is better, and how long it takes.

    .venv/bin/python bench/ways.py [--markdown] [--every] [--random N --sample K] [EXAMPLE ...]

``--every``: plan every way of each example, some minutes each.  ``--random``: the same with so many random parts in
place of the examples, and ``--sample`` ways of each that the search did not plan, drawn at random; their loads are then
held twice, by the bound and in full.  What is then found:

``dropped``: ways that a bound dropped; of them ``pass``: that pass all the same (must be 0).
``left out``: ways not planned for want of time; of them ``beat``: that no listed way equals in everything.
``loads``: loads whose need was found by the bound and in full; of them ``over``: the bound asked for more (must be 0).
"""

import argparse
import os
import random
import shutil
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from time import perf_counter

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1]))
os.environ["HELDTRUE_CACHE"] = tempfile.mkdtemp(prefix="heldtrue-bench-jaws-")

from heldtrue.errors import HeldtrueError
from heldtrue.planning import ways as module
from heldtrue.planning.inputs import prepare
from heldtrue.planning.result import PASSES
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.way_space import candidates, places
from heldtrue.planning.ways import beats, ways
from tests.falsifier.setups import KNOWLEDGE, random_setup

EXAMPLES = Path(__file__).parents[1] / "examples"
COLUMNS = ("part", "ways", "planned", "first, s", "again, s", "dropped", "pass", "left out", "beat", "loads", "over")
SAME = 1e-6


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--markdown", action="store_true")
    parser.add_argument("--every", action="store_true")
    parser.add_argument("--random", type=int, default=0)
    parser.add_argument("--sample", type=int, default=15)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("examples", nargs="*", default=sorted(path.stem for path in EXAMPLES.glob("*.toml")))
    asked = parser.parse_args()
    print(("| " + " | ".join(COLUMNS) + " |\n" + "|---" * len(COLUMNS) + "|") if asked.markdown else "\t".join(COLUMNS))
    if asked.random:
        parts = [(f"random {seed}", Setup.from_dict(random_setup(seed, KNOWLEDGE[-1]))) for seed in range(asked.random)]
    else:
        parts = [(name, Setup.from_toml(EXAMPLES / f"{name}.toml")) for name in asked.examples]
    most = asked.sample if asked.random else None if asked.every else 0
    for name, setup in parts:
        row = [str(one) for one in measured(name, setup, most, asked.processes)]
        print(("| " + " | ".join(row) + " |") if asked.markdown else "\t".join(row), flush=True)
    shutil.rmtree(os.environ["HELDTRUE_CACHE"], ignore_errors=True)


def measured(name, setup, most, processes):
    """One row; ``most``: ways planned besides those that the search planned, None for every one."""
    times = []
    for _ in range(2):
        began = perf_counter()
        found = ways(setup, processes=processes)
        times.append(f"{perf_counter() - began:.1f}")
    row = [name, found.looked_at, found.planned, *times]
    if most == 0:
        return [*row, *[""] * (len(COLUMNS) - len(row))]
    job = prepare(setup)
    tried = list(candidates(setup, job, places(job)[0]))
    listed = {(way.candidate.place, way.candidate.style, way.candidate.jaws) for way in (*found.best, *found.beaten)}
    dropped, left_out = [], []
    with module._pool(processes) as each:
        asked = [one for one in tried if (one.place, one.style, one.jaws) not in listed]
        asked = asked if most is None else random.Random(name).sample(asked, min(most, len(asked)))
        bounds = list(each(module.bounded, ((setup, one) for one in asked)))
        plans = list(each(module.planned, ((setup, one) for one in asked)))
        needs = [one for of in each(held_twice, ((setup, one) for one in asked)) for one in of]
    for one, bound, made in zip(asked, bounds, plans, strict=True):
        if isinstance(made, str):
            continue
        cost, _ = module.cost_of(one, made[0])
        way = replace(module.measured(one, *made), cost=cost)
        (left_out if bound.is_held and bound.is_round else dropped).append(way)
    wrong = [way for way in dropped if way.plan.verdict == PASSES]
    passing = [way for way in found.best if way.plan.verdict == PASSES]
    better = [way for way in left_out if way.plan.verdict == PASSES
              and not any(beats(one.measures, way.measures) for one in passing)]  # fmt: skip
    for way in (*wrong, *better):
        print("#", name, way.candidate.place, way.candidate.style, way.candidate.jaws, way.measures)
    over = sum(bound > full * (1 + SAME) for bound, full in needs)
    return [*row, len(dropped), len(wrong), len(left_out), len(better), len(needs), over]


def held_twice(asked):
    """Grip that each load of a way needs, by the bound and in full, by both rules [N]; nothing where it cannot be."""
    setup, one = asked
    try:
        study = Study.of(one.setup_of(setup))
        pairs = list(zip(study.holds.least(study.speed), study.held, strict=True))
    except HeldtrueError:
        return []
    return [(getattr(least, rule).needs, getattr(held, rule).needs) for least, held in pairs
            for rule in ("published", "worst")]  # fmt: skip


if __name__ == "__main__":
    main()

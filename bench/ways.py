"""The ways to hold against all of them planned in full: is anything dropped that is better, and how long it takes.

    .venv/bin/python bench/ways.py [--markdown] [--every] [EXAMPLE ...]

``--every``: plan every way of each example, some minutes each.  What is then found:

``dropped``: ways that a bound dropped; of them ``pass``: that pass all the same (must be 0).
``left out``: ways not planned for want of time; of them ``beat``: that no listed way equals in everything.
"""

import argparse
import os
import shutil
import tempfile
from dataclasses import replace
from pathlib import Path
from time import perf_counter

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ["HELDTRUE_CACHE"] = tempfile.mkdtemp(prefix="heldtrue-bench-jaws-")

from heldtrue.planning import ways as module
from heldtrue.planning.inputs import prepare
from heldtrue.planning.result import PASSES
from heldtrue.planning.setup import Setup
from heldtrue.planning.way_space import candidates, places
from heldtrue.planning.ways import beats, ways

EXAMPLES = Path(__file__).parents[1] / "examples"
COLUMNS = ("example", "ways", "planned", "first, s", "again, s", "dropped", "pass", "left out", "beat")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--markdown", action="store_true")
    parser.add_argument("--every", action="store_true")
    parser.add_argument("examples", nargs="*", default=sorted(path.stem for path in EXAMPLES.glob("*.toml")))
    asked = parser.parse_args()
    print(("| " + " | ".join(COLUMNS) + " |\n" + "|---" * len(COLUMNS) + "|") if asked.markdown else "\t".join(COLUMNS))
    for name in asked.examples:
        row = [str(one) for one in measured(name, asked.every)]
        print(("| " + " | ".join(row) + " |") if asked.markdown else "\t".join(row), flush=True)
    shutil.rmtree(os.environ["HELDTRUE_CACHE"], ignore_errors=True)


def measured(name, every):
    """One row."""
    setup = Setup.from_toml(EXAMPLES / f"{name}.toml")
    times = []
    for _ in range(2):
        began = perf_counter()
        found = ways(setup, processes=os.cpu_count() or 1)
        times.append(f"{perf_counter() - began:.1f}")
    row = [name, found.looked_at, found.planned, *times]
    if not every:
        return [*row, "", "", "", ""]
    job = prepare(setup)
    tried = list(candidates(setup, job, places(job)[0]))
    listed = {(way.candidate.place, way.candidate.style, way.candidate.jaws) for way in (*found.best, *found.beaten)}
    dropped, left_out = [], []
    with module._pool(os.cpu_count() or 1) as each:
        asked = [one for one in tried if (one.place, one.style, one.jaws) not in listed]
        bounds = list(each(module.bounded, ((setup, one) for one in asked)))
        plans = list(each(module.planned, ((setup, one) for one in asked)))
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
    return [*row, len(dropped), len(wrong), len(left_out), len(better)]


if __name__ == "__main__":
    main()

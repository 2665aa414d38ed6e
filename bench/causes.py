"""How often a cause told as sure is wrong, and how often the interval of a cause holds the truth.

Run by hand: ``python bench/causes.py [parts in each plan]``; 1,000 if left out.  The parts are drawn by
``tests/run_out_world.py``, which shares no line with the program.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import process_time

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))


def diagnose(world, plan: str):
    """What the program says of a world read by a plan."""
    from run_out_world import ASKED, readings_of

    from heldtrue.inspection.causes import rank_causes
    from heldtrue.inspection.indicator import read_indicator
    from heldtrue.inspection.readings import trace

    results = [
        read_indicator(
            trace(r.angle, r.value, r.z, "outside", r.ask.state, r.ask.turned,
                  2.0 * r.ask.share if r.ask.state == "clamped" else None),
            jaws=world.jaws, resolution=world.dial,
        )
        for r in readings_of(world, plan)
    ]  # fmt: skip
    where = "" if plan not in ASKED else "here" if world.turned_here else "before"
    return rank_causes(results, made=where)


def campaign(plan: str, count: int, seed: int = 1, **world_more):
    """Shares of a plan: told and right, told and wrong, not told; cover of the told cause's and of every interval."""
    from run_out_world import RunOutWorld

    right = wrong = nothing = asked = 0
    cover: list[bool] = []
    cover_all: list[bool] = []
    next_tests: dict[str, int] = {}
    mistakes: dict[tuple[str, str], int] = {}
    began = process_time()
    for k in range(count):
        world = RunOutWorld(np.random.default_rng([seed, k]), **world_more)
        found = diagnose(world, plan)
        truth, sizes = world.truth()
        cover_all += [c.least <= sizes[c.name] <= c.most for c in found.causes]
        asked += found.slip is not None
        if found.answer == "nothing to find":
            nothing += 1
            if max(world.contribution.values()) > 0.005:
                wrong += 1
                mistakes[("nothing", truth)] = mistakes.get(("nothing", truth), 0) + 1
        elif found.told:
            good = found.answer == truth
            right, wrong = right + good, wrong + (not good)
            if not good:
                mistakes[(found.answer, truth)] = mistakes.get((found.answer, truth), 0) + 1
            else:
                cover += [c.least <= sizes[c.name] <= c.most for c in found.causes if c.name == truth]
        if found.next_test is not None:
            next_tests[found.next_test.name] = next_tests.get(found.next_test.name, 0) + 1
    told = right + wrong + nothing - sum(n for (answer, _), n in mistakes.items() if answer == "nothing")
    return {
        "right": right / count, "wrong": wrong, "told": told, "nothing": nothing, "asked": asked,
        "cover": float(np.mean(cover)) if cover else float("nan"),
        "cover_all": float(np.mean(cover_all)) if cover_all else float("nan"),
        "next": dict(sorted(next_tests.items(), key=lambda i: -i[1])), "mistakes": mistakes,
        "ms": 1000 * (process_time() - began) / count,
    }  # fmt: skip


def main() -> None:
    from run_out_world import PLANS

    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    only = sys.argv[2] if len(sys.argv) > 2 else ""
    for plan in PLANS:
        if only and only != plan:
            continue
        one = campaign(plan, count)
        share = one["wrong"] / max(one["told"], 1)
        print(f"{plan:46} right {one['right']:5.1%} wrong {one['wrong']:3}/{one['told']:4} {share:5.1%} "
              f"asked {one['asked']:3} cover {one['cover']:.3f} all {one['cover_all']:.3f} {one['ms']:4.0f} ms "
              f"{one['next']} {one['mistakes']}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()

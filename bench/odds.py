"""Are the odds right? Against plain draws with the exact programs, in a simulated shop, and against a general library.

Run by hand: ``python bench/odds.py``.  ``--brute N`` points for each example, ``--setups N`` of the simulated shop.
A setup's truth is one draw from the spreads, held and pressed by the exact programs: so this tests how the odds are
worked out, not whether the spreads are those of a shop.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise
from math import pi
from pathlib import Path
from statistics import median
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does
ROOT = Path(__file__).parent.parent

import numpy as np  # noqa: E402
from scipy.special import ndtr  # noqa: E402

from heldtrue.errors import HeldtrueError  # noqa: E402
from heldtrue.mechanics.holding import limit_at  # noqa: E402
from heldtrue.planning.judge import Setting, Step, judge  # noqa: E402
from heldtrue.planning.loads import loads_of  # noqa: E402
from heldtrue.planning.odds.measurements import best_pair, measurements  # noqa: E402
from heldtrue.planning.odds.odds import LimitStates, with_odds  # noqa: E402
from heldtrue.planning.odds.odds_words import part_words  # noqa: E402
from heldtrue.planning.odds.reliability import chance, design_points  # noqa: E402
from heldtrue.planning.plan import plan_study  # noqa: E402
from heldtrue.planning.result import FORM, HOLD  # noqa: E402
from heldtrue.planning.setup import Setup  # noqa: E402
from heldtrue.planning.study import Study  # noqa: E402
from heldtrue.planning.window import highest_pressure, setting_of  # noqa: E402

EXAMPLES = ("wear-ring", "winch-shaft", "pump-sleeve-inch", "gland-flange", "valve-stem", "float-ring")
BRUTE: tuple[tuple[str, dict[str, Any]], ...] = (
    ("valve-stem", {}),
    ("winch-shaft", {"jaws.friction": None, "run.pressure": 1.2}),
    ("gland-flange", {"run.pressure": 0.35}),
    ("pump-sleeve-inch", {"run.pressure": 0.6}),
)
NEAR, SOLVED = 0.02, 1000
"""Points whose estimate leaves less than this share of the grip are held by the exact program at every case and angle,
up to so many of them; an estimate is never above the exact need, so what it lets go is let go."""
BINS = (0.0, 1e-4, 1e-3, 0.01, 0.05, 0.15, 0.35, 0.65, 0.85, 0.95, 0.99, 1.0)


def example(name: str, changes: dict[str, Any]) -> Study:
    return Study.of(Setup.from_toml(ROOT / "examples" / f"{name}.toml").with_(changes))


def exact_hold(states: LimitStates, name: str, here: dict[str, float]) -> float:
    """Share of the grip to spare in one world: every case and angle of the load by the exact program."""
    holds, job = states.study.holds, states.study.job
    grip = holds.grip(here["friction"], holds.worst["seat"] > 0)
    needs = 0.0
    for load in loads_of(job, name, here, states.setting.speed_rpm):
        for turn in 2 * pi / grip.jaws * np.arange(8) / 8:
            factor = limit_at(grip, load.wrench, float(turn)).factor
            needs = max(needs, (1 / factor if factor > 0 else 1e15) + holds.lost(here, load.speed_rpm))
    static = job.static_grip(here, states.setting.pressure(name))
    return 1 - needs / max(static, 1.0)


def brute(points: int) -> Iterator[list[str]]:
    """Said odds of letting go beside those of plain draws with the exact program."""
    for name, changes in BRUTE:
        study = example(name, changes)
        made = plan_study(study, helped=False)
        states = LimitStates(study, setting_of(study, made.pressure))
        rng = np.random.default_rng(1)
        for check in made.checks:
            if check.group != HOLD:
                continue
            said = states.odds(check)
            if said.part < 2e-5:
                continue
            state = states._hold(check)
            values = states.hold_draws.values(rng.standard_normal((points, states.hold_draws.dimension)))
            margins = state.margin(values)
            fails = margins < 0
            near = np.flatnonzero((margins >= 0) & (margins < NEAR))
            solved = rng.permutation(near)[:SOLVED]
            let_go = [exact_hold(states, check.subject, {key: float(value[point]) for key, value in values.items()}) < 0
                      for point in solved]  # fmt: skip
            share = float(fails.mean()) + (float(np.mean(let_go)) * len(near) / points if let_go else 0.0)
            error = 1.96 * np.sqrt(max(share * (1 - share), 1e-12) / points)
            yield [
                name,
                check.name,
                f"{said.part:g} ± {said.error:.1g}",
                f"{share:.3g} ± {error:.1g}",
                part_words(said),
            ]


def shop(setups: int) -> list[tuple[str, float, bool]]:
    """Group of check, odds said and what happened, in setups nobody chose: one world each."""
    rng = np.random.default_rng(7)
    found: list[tuple[str, float, bool]] = []
    for number in range(setups):
        try:
            found += one_setup(rng, number)
        except HeldtrueError:
            continue
        if number % 100 == 99:
            print(f"{number + 1} setups, {len(found)} checks", file=sys.stderr)
    return found


def one_setup(rng: np.random.Generator, number: int) -> Iterator[tuple[str, float, bool]]:
    name = EXAMPLES[number % len(EXAMPLES)]
    changes: dict[str, Any] = {}
    if rng.random() < 0.5:
        changes["jaws.friction"] = None
    if rng.random() < 0.5:
        changes |= {"chuck.grip_readings": None, "chuck.grease": [None, "poor"][int(rng.integers(2))]}
    setup = Setup.from_toml(ROOT / "examples" / f"{name}.toml").with_(changes)
    for place, cut in enumerate(setup.cuts):
        if cut.feed is not None:
            changes[f"cuts.{place}.feed"] = float(cut.feed * rng.uniform(0.6, 2.2))
    study = Study.of(setup.with_(changes))
    pressure = float(rng.uniform(0.04, 0.7)) * highest_pressure(study)[0]
    step = Step("all cuts", tuple(cut.name for cut in setup.cuts), True)
    setting = Setting(((step, pressure),), study.speed)
    states = LimitStates(study, setting)
    hold, press = states.hold_draws, states.press_draws
    world = hold.values(rng.standard_normal((1, hold.dimension)))
    here = {key: float(value[0]) for key, value in world.items()}
    checks = judge(study, setting)
    for check in checks:
        if check.group == HOLD:
            yield "hold", states.odds(check).part, exact_hold(states, check.subject, here) < 0
    forms = [check for check in checks if check.group == FORM and not states._cannot(check)]
    if forms and number % 3 == 0:
        check = forms[int(rng.integers(len(forms)))]
        said = states.odds(check).part
        one = states._measured(check)
        values = press.values(rng.standard_normal((1, press.dimension)))
        state = one.states[0]
        exact = state._solved(state._coordinates(values))[:, one.place]
        yield "form", said, bool((exact > one.limit(values))[0])


def calibration(found: list[tuple[str, float, bool]]) -> Iterator[list[str]]:
    """Of all checks whose odds fall in a class: how many went wrong, and how many should have."""
    for group in ("hold", "form"):
        by_bin: dict[int, list[tuple[float, bool]]] = defaultdict(list)
        for what, said, went in found:
            if what == group:
                by_bin[int(np.searchsorted(BINS, said, side="right"))].append((said, went))
        for place, (low, high) in enumerate(pairwise(BINS), start=1):
            some = by_bin.get(place, []) + (by_bin.get(len(BINS), []) if place == len(BINS) - 1 else [])
            if not some:
                continue
            should, was = sum(said for said, _ in some), sum(went for _, went in some)
            spread = 1.96 * np.sqrt(sum(said * (1 - said) for said, _ in some))
            yield [group, f"{low:g} to {high:g}", str(len(some)), f"{should:.1f} ± {spread:.1f}", str(was),
                   "yes" if abs(was - should) <= spread + 0.5 else "NO"]  # fmt: skip


def coverage() -> tuple[int, int]:
    """How often the stated 95 % interval has the truth: straight failure regions in 2 to 12 dimensions."""
    rng = np.random.default_rng(3)
    inside = every = 0
    for _ in range(400):
        dimension = int(rng.integers(2, 13))
        index = float(rng.uniform(0.2, 4.0))
        way = rng.standard_normal(dimension)
        way /= np.linalg.norm(way)
        said = chance(lambda u, way=way, index=index: index - u @ way, dimension)  # type: ignore[misc]
        inside += abs(said.value - float(ndtr(-index))) <= said.error
        every += 1
    return inside, every


def against_library() -> Iterator[list[str]]:
    """Design points of the same margins by OpenTURNS, where it is installed (extra ``reference``)."""
    try:
        import openturns as ot
    except ImportError:
        return
    for name, changes in BRUTE[:3]:
        study = example(name, changes)
        made = plan_study(study, helped=False)
        states = LimitStates(study, setting_of(study, made.pressure))
        for check in made.checks:
            if check.group != HOLD or not 1e-5 < states.odds(check).part < 0.3:
                continue
            draws, margin = states.margin(check)  # type: ignore[misc]
            over = draws.over(margin)
            function = ot.PythonFunction(
                draws.dimension, 1, func_sample=lambda x, over=over: over(np.array(x))[:, None]
            )
            vector = ot.RandomVector(ot.Normal(draws.dimension))
            event = ot.ThresholdEvent(ot.CompositeRandomVector(function, vector), ot.Less(), 0.0)
            start = design_points(over, draws.dimension)[0]
            solver = ot.Cobyla()
            solver.setMaximumCallsNumber(20000)
            form = ot.FORM(solver, event, ot.Point(start * 0.9))
            form.run()
            ours = float(np.linalg.norm(start))
            yield [name, check.name, f"{form.getResult().getHasoferReliabilityIndex():.4f}", f"{ours:.4f}"]


def speeds() -> Iterator[list[str]]:
    """Odds of all checks after a plan, and measurements ranked, in processor time."""
    for name in EXAMPLES:
        study = example(name, {"part.quantity": 50})
        made = plan_study(study, helped=False)
        setting = setting_of(study, made.pressure)
        odds = [timed(lambda study=study, setting=setting, made=made: with_odds(study, setting, made.checks))
                for _ in range(5)]  # fmt: skip
        ranked = timed(lambda study=study, made=made: measurements(study, made.pressure))
        found = measurements(study, made.pressure)
        pair = timed(lambda study=study, found=found: best_pair(study, found)) if made.verdict != "passes" else 0.0
        yield [name, made.verdict, f"{median(odds):.0f} ms", f"{ranked:.0f} ms", f"{pair:.0f} ms"]


def timed(work: Any) -> float:
    started = time.process_time()
    work()
    return 1000 * (time.process_time() - started)


def table(header: list[str], rows: list[list[str]]) -> None:
    print("| " + " | ".join(header) + " |")
    print("|" + "---|" * len(header))
    for row in rows:
        print("| " + " | ".join(row) + " |")
    print()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--brute", type=int, default=100_000)
    parser.add_argument("--setups", type=int, default=1000)
    asked = parser.parse_args()
    table(["example", "check", "said", "plain draws, exact", "class"], list(brute(asked.brute)))
    table(["example", "check", "index by OpenTURNS", "ours"], list(against_library()))
    inside, every = coverage()
    print(f"The 95 % interval has the truth in {inside} of {every} cases of known probability.\n")
    table(["checks", "said", "how many", "should go wrong", "went wrong", "within 95 %"],
          list(calibration(shop(asked.setups))))  # fmt: skip
    table(["example", "verdict", "odds of all checks", "measurements ranked", "best pair"], list(speeds()))


if __name__ == "__main__":
    main()

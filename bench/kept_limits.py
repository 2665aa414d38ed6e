"""Kept limits beside full plans: in many states of a chuck, does what they say to stand really pass?

    .venv/bin/python bench/kept_limits.py [--markdown] [--states 1588]

Examples that pass, and variants of them (wider tolerances, jaws bored at a stated pressure, an inside grip, a threshold
nobody read), each with its chuck greased and read in seeded random ways.  Each state is planned in full, and the limits
that the plan of the case itself left are asked about it.  ``wrong``: said to stand, but the full plan does not pass, or
a pressure that was set lies outside its window.
"""

from __future__ import annotations

import argparse
import os
import random
import tempfile
from pathlib import Path
from time import process_time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("HELDTRUE_CACHE", tempfile.mkdtemp(prefix="heldtrue-bench-jaws-"))

EXAMPLES = Path(__file__).parents[1] / "examples"
SEED = 24
WIDER = {"surfaces.0.roundness": 0.06, "surfaces.0.runout": 0.06}
CASES = {
    "gland-flange": ("gland-flange", {}),
    "pump-sleeve-inch": ("pump-sleeve-inch", {}),
    "winch-shaft": ("winch-shaft", {}),
    "gland-flange-repeat": ("gland-flange-repeat", {}),
    "gland flange, form twice as wide": ("gland-flange", {"surfaces.0.roundness": 2.0}),
    "gland flange, jaws bored at 7 bar": ("gland-flange", {"jaws.bored_pressure": 0.7}),
    "gland flange, threshold not read": ("gland-flange", {"chuck.actuator.threshold_pressure": None}),
    "pump sleeve, form twice as wide": ("pump-sleeve-inch", {"surfaces.0.roundness": 2.0}),
    "pump sleeve, threshold not read": ("pump-sleeve-inch", {"chuck.actuator.threshold_pressure": None}),
    "winch shaft, form twice as wide": ("winch-shaft", {"surfaces.0.roundness": 2.0}),
    "winch shaft, lighter cut": ("winch-shaft", {"cuts.0.feed": 0.12}),
    "winch shaft, threshold not read": ("winch-shaft", {"chuck.actuator.threshold_pressure": None}),
    "wear ring, an inside grip, wider": ("wear-ring", WIDER),
    "wear ring, wider, jaws bored at 7 bar": ("wear-ring", {**WIDER, "jaws.bored_pressure": 0.7}),
    "wear ring, wider, threshold not read": ("wear-ring", {**WIDER, "chuck.actuator.threshold_pressure": None}),
}
"""An example and what is changed in it; a form is a share of its own."""


def case(name: str):
    """A setup of the table."""
    from heldtrue.planning.setup import Setup

    example, changes = CASES[name]
    setup = Setup.from_toml(EXAMPLES / f"{example}.toml")
    if changes.get("surfaces.0.roundness") == 2.0:
        surface = setup.surfaces[0]
        changes = {f"surfaces.0.{form}": 2.0 * value for form in ("roundness", "cylindricity", "runout", "flatness")
                   if (value := getattr(surface, form, None)) is not None}  # fmt: skip
    return setup.with_(changes)


def in_some_state(setup, dice: random.Random):
    """The setup with its chuck greased and read in one of the ways that a log may have it."""
    count = dice.choice([0, 1, 2, 2, 3])
    changes = {"chuck.grease": dice.choice(["good", "good", "poor", None]), "chuck.grip_readings": None}
    if count:
        actuator, chuck = setup.chuck.actuator, setup.chuck
        area = actuator.pull_area if setup.grip.side == "outside" else actuator.push_area
        slope = dice.uniform(0.55, 1.0) * chuck.max_grip_force / chuck.max_draw_force * area
        lost, days = actuator.threshold_pressure or dice.uniform(0.0, 0.08), dice.choice([0, 5, 40, 200])
        changes["chuck.grip_readings"] = [
            {"pressure": one, "force": slope * (one - lost) * dice.gauss(1, 0.02), "days": days}
            for one in (dice.uniform(0.5, 2.2) for _ in range(count))
        ]
    return setup.with_(changes)


def beside(name: str, count: int, dice: random.Random) -> list[int]:
    """States, said to stand, wrong among them, left to a plan that would have stood, left to one that does not."""
    from heldtrue.errors import HeldtrueError
    from heldtrue.planning.inputs import readings_of
    from heldtrue.planning.kept_limits import KeptLimits, limits_of, still_hold, today
    from heldtrue.planning.plan import judged
    from heldtrue.planning.result import PASSES
    from heldtrue.planning.study import Study
    from heldtrue.planning.window import every_step

    own = case(name)
    study = Study.of(own)
    _, setting, _, verdict = judged(study)
    text = limits_of(study, setting, own.chuck) if verdict == PASSES else None
    if text is None:
        return [0] * 5
    limits = KeptLimits.read([text])
    found = [0] * 5
    while found[0] < count:
        try:
            setup = in_some_state(own, dice)
            study = Study.of(setup)
            advice, _, _, verdict = judged(study)
        except HeldtrueError:
            continue
        steps = {step.name: step for step in every_step(study, advice)}
        passes = verdict == PASSES and all(steps[step.name].floor <= pressure <= steps[step.name].ceiling
                                           for step, pressure in setting.steps)  # fmt: skip
        chuck = today(limits.chuck(0), readings_of(setup.chuck), setup.chuck.grease)
        said = bool(still_hold(limits, [chuck], [0])[0][0])
        found[0] += 1
        found[1 if said else 3 if passes else 4] += 1
        found[2] += said and not passes
    return found


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--markdown", action="store_true")
    parser.add_argument("--states", type=int, default=1588)
    asked = parser.parse_args()
    heads = ("case", "states", "said to stand", "wrong", "left, would have stood", "left, do not stand", "processor s")
    edge = "| " if asked.markdown else ""
    print(edge + " | ".join(heads) + (" |\n" + "|---" * len(heads) + "|" if asked.markdown else ""))
    total, dice = [0] * 5, random.Random(SEED)
    for number, name in enumerate(CASES):
        count = asked.states * (number + 1) // len(CASES) - asked.states * number // len(CASES)
        began = process_time()
        found = beside(name, count, dice)
        total = [one + more for one, more in zip(total, found, strict=True)]
        row = [name, *map(str, found), f"{process_time() - began:.0f}"]
        print(edge + " | ".join(row) + (" |" if asked.markdown else ""), flush=True)
    print(edge + " | ".join(["all", *map(str, total), f"{process_time():.0f}"]) + (" |" if asked.markdown else ""))


if __name__ == "__main__":
    main()

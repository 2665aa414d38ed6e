"""How often the taper of a part is laid at the wrong door, and how often the intervals of both shares hold the truth.

Run by hand: ``python bench/part_taper.py [parts in each plan] [seed]``.  The parts are drawn by
``tests/part_taper_world.py``, which shares no line with the program.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

WORLDS = {
    "10 to 30 um, Ø to 1 to 2.5 um, power 0.7 to 1.3": {},
    "4 to 80 um": {"large": (0.004, 0.08)},
    "Ø to 2.5 to 4 um": {"noise": (0.0025, 0.004)},
    "Ø to 2.5 to 4 um, and the micrometer known to repeat to 3.2": {"noise": (0.0025, 0.004), "repeat": (0.0032, 1.5)},
    "Ø to 1 to 2.5 um, and the micrometer taken to repeat to 0.5": {"repeat": (0.0005, 1.5)},
    "power 0.5 to 1.6": {"law": (0.5, 1.6)},
}
"""The first is what the model says of itself; the others are not."""


def campaign(plan: str, count: int, seed: int, repeat=None, **world) -> str:
    """One line of a plan in a world; ``repeat``: what is known of the micrometer."""
    from part_taper_world import TaperedPart

    from heldtrue.inspection.part_taper import PartSize, split_taper

    said, wrong, held = Counter(), Counter(), np.zeros(2)
    for k in range(count):
        part = TaperedPart(np.random.default_rng([seed, k]), **world)
        found = split_taper([PartSize(f, b, 20_000.0 * s, state) for f, b, s, state in part.read(plan)], 50.0,
                            repeat)  # fmt: skip
        said[found.told] += 1
        wrong[found.told] += bool(part.is_wrong(found.told, found.parted))
        pairs = ((found.jaws, part.jaws), (found.machine, part.machine))
        held += [one.low <= true <= one.high for one, true in pairs]
    told = count - said["open"]
    return (f"{plan:44} wrong {wrong.total():3} of {told:4} {wrong.total() / max(told, 1):5.1%} "
            f"open {said['open'] / count:4.0%} cover jaws {held[0] / count:.3f} machine {held[1] / count:.3f} "
            f"wrong {dict(+wrong)} of {dict(said)}")  # fmt: skip


def main() -> None:
    from part_taper_world import PLANS

    count, seed = (int(sys.argv[k]) if len(sys.argv) > k else default for k, default in ((1, 1000), (2, 1)))
    for name, world in WORLDS.items():
        print(name)
        for plan in PLANS:
            print(" ", campaign(plan, count, seed, **world), flush=True)


if __name__ == "__main__":
    main()

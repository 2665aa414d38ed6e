"""Tells the gate long stories at random and counts where it and a plain model of the shop differ.

Run by hand: ``python bench/gate.py --steps 20000``.  One story has up to 60 steps; each step is judged by both.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT))

from heldtrue.planning.setup import Setup  # noqa: E402
from tests.gate.story import Story  # noqa: E402

STORY = 60


def main() -> None:
    """Tell stories until the steps are used up."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=20_000)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    asked = parser.parse_args()
    setup = Setup.from_toml(ROOT / "examples" / "winch-shaft.toml").with_({"chuck.grease": None})
    steps, seed, end, found, free = 0, 1000, time.monotonic() + asked.seconds, Counter[str](), 0
    while steps < asked.steps and time.monotonic() < end:
        with tempfile.TemporaryDirectory() as folder:
            story = Story(setup, Path(folder) / "records", seed)
            for _ in range(STORY):
                story.step()
                steps += 1
                wrong = story.disagreement()
                free += not story.floor.stands_against("Noor")
                if wrong:
                    found[wrong] += 1
                    print(f"seed {seed}, after {len(story.told)}: {wrong}", file=sys.stderr)
                    break
            story.close()
        seed += 1
    print(f"{steps} steps in {seed - 1000} stories, {free} with nothing against the job; {sum(found.values())} differ")
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    main()

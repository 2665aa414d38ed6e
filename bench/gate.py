"""Tells the gate long stories at random and counts where it and a plain model of the shop differ.

Run by hand: ``python bench/gate.py --steps 20000``.  One story has up to 100 steps; each step is judged by both.  In
memory, where there is a folder for that: what is tried is the gate, not the disk.  A line after every 10 stories.
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
from tests.gate.story import Story, campaign_setup, needs_of  # noqa: E402

STORY = 100


def main() -> None:
    """Tell stories until the steps are used up."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=20_000)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    parser.add_argument("--first", type=int, default=1000, help="number of the first story")
    parser.add_argument("--ask", type=float, default=0.004, help="chance of a step at which the gate itself is asked")
    asked = parser.parse_args()
    setup = campaign_setup(Setup.from_toml(ROOT / "examples" / "winch-shaft.toml"))
    needs, memory = needs_of(setup), "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    seen, end, seed = Counter[str](), time.monotonic() + asked.seconds, asked.first
    while seen["steps"] < asked.steps and time.monotonic() < end:
        with tempfile.TemporaryDirectory(dir=memory) as folder:
            story = Story(setup, needs, Path(folder) / "records", seed, asked.ask)
            if wrong := told(story, seen):
                print(f"seed {seed}, after {len(story.told)}: {wrong}; {story.told[-8:]}", file=sys.stderr, flush=True)
            seen += story.seen
            story.close()
        seed += 1
        if (seed - asked.first) % 10 == 0:
            print(words(seen, seed - asked.first), flush=True)
    print(words(seen, seed - asked.first))
    sys.exit(1 if seen["differ"] else 0)


def told(story: Story, seen: Counter[str]) -> str:
    """One story up to its end or to where the two differ, counted; where they differ."""
    for _ in range(STORY):
        try:
            story.step()
            wrong = story.disagreement()
        except AssertionError as error:
            wrong = str(error)
        seen["steps"] += 1
        seen["free"] += not story.floor.stands_against("Noor")
        if wrong:
            seen["differ"] += 1
            return wrong
    return ""


def words(seen: Counter[str], stories: int) -> str:
    """What was seen so far."""
    return (f"{seen['steps']} steps in {stories} stories, {seen['free']} with nothing against the job; the gate asked "
            f"{seen['asked']} times, {seen['may start']} may start; {seen['differ']} differ")  # fmt: skip


if __name__ == "__main__":
    main()

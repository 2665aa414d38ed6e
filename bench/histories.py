"""Random shop histories: what re-planning says after every entry beside a fresh full plan of every setup.

    .venv/bin/python bench/histories.py [--steps 400] [--history 40] [--first 1]

Grip readings, grease, time, re-cuts, plates, drawings, runs, what is taken back, changed setups, versions of the
program with another safety factor, and somebody who looks.  ``stand as passing where the plan does not`` and ``start
as before where they must not`` must be 0, and so must every difference.  A line after each history.
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

from tests.replanning.history import KEPT, History, jobs  # noqa: E402


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=400)
    parser.add_argument("--history", type=int, default=40, help="steps of one history")
    parser.add_argument("--seconds", type=float, default=float("inf"))
    parser.add_argument("--first", type=int, default=1, help="number of the first history")
    asked = parser.parse_args()
    setups, memory = jobs(), "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    seen, end, seed, differs = Counter[str](), time.monotonic() + asked.seconds, asked.first, False
    while seen["steps"] < asked.steps and time.monotonic() < end:
        with tempfile.TemporaryDirectory(dir=memory) as folder:
            history = History(setups, Path(folder) / "records", seed, KEPT)
            try:
                for _ in range(asked.history):
                    if wrong := history.step():
                        differs = True
                        print(f"history {seed}: {wrong}; {history.told}", file=sys.stderr, flush=True)
                        break
                    if time.monotonic() > end:
                        break
            finally:
                history.close()
            seen += history.seen
        print(f"history {seed}, {time.process_time():.0f} s of processor: {dict(sorted(seen.items()))}", flush=True)
        seed += 1
    sys.exit(1 if differs else 0)


if __name__ == "__main__":
    main()

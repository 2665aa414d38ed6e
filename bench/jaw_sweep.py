"""Draws sets of jaws at random and counts where the answers and a plain model of turning jaws differ.

Run by hand: ``python bench/jaw_sweep.py --sets 2400``.  Every third set was cut before; every third gets its program.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parent.parent))

from tests.jaws.compare import Looked, look_at


def main() -> None:
    """Draw sets and say what became of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=2400)
    parser.add_argument("--first", type=int, default=10_000)
    asked = parser.parse_args()
    looked, start = Looked(), time.monotonic()
    for seed in range(asked.first, asked.first + asked.sets):
        look_at(seed, looked, used=seed % 3 == 2, proved=seed % 4 == 0)
    for what, count in looked.outcomes.most_common():
        print(f"{what:20} {count:6}")
    print(f"{asked.sets} sets in {time.monotonic() - start:.0f} s; {len(looked.wrong)} differ")
    print("\n".join(looked.wrong), file=sys.stderr)
    sys.exit(1 if looked.wrong else 0)


if __name__ == "__main__":
    main()

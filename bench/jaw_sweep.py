"""Draws sets of jaws at random and counts where the answers and a plain model of turning jaws differ.

Run by hand: ``python bench/jaw_sweep.py --sets 25000 --kept sweep.jsonl``.  Every third set was cut before; every set
that can be cut gets its program, and every proved program is swept in 3-D by the plain model.  With ``--kept`` each
seed is a line of that file, and a run that was cut off goes on where it ended.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections import Counter
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parent.parent))

from tests.jaws.compare import Looked, look_at


def found_of(seed: int) -> dict[str, object]:
    """What became of one seed."""
    looked = Looked()
    look_at(seed, looked, used=seed % 3 == 2, proved=True)
    return {"seed": seed, "outcomes": dict(looked.outcomes), "wrong": looked.wrong}


def kept_before(kept: Path | None) -> dict[int, dict[str, object]]:
    """What an earlier run found, by seed; a line that was cut off is looked at again."""
    found: dict[int, dict[str, object]] = {}
    for line in kept.read_text("utf-8").splitlines() if kept is not None and kept.exists() else ():
        try:
            one = json.loads(line)
        except json.JSONDecodeError:
            continue
        found[one["seed"]] = one
    return found


def main() -> None:
    """Draw sets and say what became of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=2400)
    parser.add_argument("--first", type=int, default=10_000)
    parser.add_argument("--kept", type=Path, default=None, help="file with a line for each seed, to go on with")
    parser.add_argument("--minutes", type=float, default=float("inf"), help="by the clock, then it stops")
    asked = parser.parse_args()
    found, start, clock = kept_before(asked.kept), time.process_time(), time.monotonic()
    seeds = range(asked.first, asked.first + asked.sets)
    for seed in seeds:
        if time.monotonic() - clock > 60 * asked.minutes:
            break
        if seed in found:
            continue
        found[seed] = found_of(seed)
        if asked.kept is not None:
            with asked.kept.open("a", encoding="utf-8") as file:
                file.write(json.dumps(found[seed]) + "\n")
    mine = [found[seed] for seed in seeds if seed in found]
    outcomes, wrong = Counter[str](), [words for one in mine for words in one["wrong"]]
    for one in mine:
        outcomes.update(one["outcomes"])
    for what, count in outcomes.most_common():
        print(f"{what:20} {count:6}")
    seconds = time.process_time() - start
    print(f"{len(mine)} of {asked.sets} sets, {seconds:.0f} s of processor in this run; {len(wrong)} differ")
    print("\n".join(wrong), file=sys.stderr)
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()

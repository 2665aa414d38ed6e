"""Boring programs spoilt on purpose, many of every kind: ``python bench/spoil.py --most 12 --markdown``.

Every example with a boring job is written in one template after the other and spoilt in every way of
``tests/unit/spoilt.py``, at ``--most`` places of each kind.  A spoilt program may be proved only if the second reader
(``tests/unit/second_reader.py``) finds nothing unsafe in it and the same metal left.  Every program that is proved and
should not be is printed, and the run ends with status 1.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests" / "unit"), str(ROOT / "tests")]

import second_reader  # noqa: E402
import spoilt  # noqa: E402
from test_program_jobs import EXAMPLES, example_job  # noqa: E402

from heldtrue.program.dialect import load_dialect, parse_dialect, shipped  # noqa: E402
from heldtrue.program.front import program  # noqa: E402
from heldtrue.program.prove import prove  # noqa: E402

OTHERS = ("faced gland-flange", "stepped wear-ring", "nest")
"""What no shipped setup asks for."""


PROBE = parse_dialect('name = "probe"\n[words]\nprobe_bore = "G65 P9120 D$size A$z Q$most H$offset"\n')
"""A template with a probing cycle: none comes along, for its call is the shop's own."""


@dataclass
class Count:
    """Programs spoilt in one template, those proved, those of them that are unsafe."""

    spoilt: int = 0
    proved: int = 0
    unsafe: int = 0


def spoil(name: str, control: str, most: int, first: int) -> Count:
    """Every kind of spoilt program of one example in one template."""
    job = example_job(name)
    job = replace(job, cutting=replace(job.cutting, spring_passes=1))
    dialect = PROBE if control == PROBE.name else load_dialect(control)
    text, count = program(job, dialect).text, Count()
    for kind, make in spoilt.KINDS.items():
        found = [(line, one) for line, one in make(text) if one != text]
        for line, one in spoilt.spread(found[first % max(len(found), 1) :], most):
            count.spoilt += 1
            if not prove(one, job, dialect).passed:
                continue
            count.proved += 1
            wrong = second_reader.judge(one, control, job)
            same = second_reader.same_shape(text, one, control, job)
            if kind in spoilt.NEVER or wrong or not same:
                count.unsafe += 1
                where = f"{name}, {control}, {kind}, line {line + 1}: {one.splitlines()[line]!r}"
                print(f"PROVED: {where}; {wrong[:2]}, the same metal: {same}")
    return count


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=6, help="places of each kind, example and template")
    parser.add_argument("--first", type=int, default=0, help="from which place on")
    parser.add_argument("--templates", default=",".join((*shipped(), PROBE.name)), help="names, with commas")
    parser.add_argument("--examples", default=",".join((*EXAMPLES, *OTHERS)), help="names, with commas")
    parser.add_argument("--markdown", action="store_true", help="a table for the docs")
    asked = parser.parse_args()
    total, start = Count(), time.process_time()
    for control in asked.templates.split(","):
        mine = Count()
        for name in asked.examples.split(","):
            one = spoil(name, control, asked.most, asked.first)
            mine = Count(mine.spoilt + one.spoilt, mine.proved + one.proved, mine.unsafe + one.unsafe)
        line = (control, f"{mine.spoilt}", f"{mine.proved}", f"{mine.unsafe}")
        plain = f"{line[0]:14}" + "".join(f"{cell:>8}" for cell in line[1:])
        print(f"| {' | '.join(line)} |" if asked.markdown else plain, flush=True)
        total = Count(total.spoilt + mine.spoilt, total.proved + mine.proved, total.unsafe + mine.unsafe)
    kinds, seconds = len(spoilt.KINDS), time.process_time() - start
    print(f"{total.spoilt} programs of {kinds} kinds, {total.proved} proved, {total.unsafe} unsafe; {seconds:.0f} s")
    return 1 if total.unsafe else 0


if __name__ == "__main__":
    raise SystemExit(main())

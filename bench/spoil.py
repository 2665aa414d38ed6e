"""Boring programs spoilt on purpose, many of every kind: ``python bench/spoil.py --most 20 --kept spoilt.jsonl``.

Every example with a boring job is written in one template after the other and spoilt in every way of
``tests/unit/spoilt.py``, at ``--most`` places of each kind.  A spoilt program may be proved only if the second reader
(``tests/unit/second_reader.py``) finds nothing unsafe in it and the same metal left.  Every program that is proved and
should not be is printed, and the run ends with status 1.  With ``--kept`` every kind of an example is a line of that
file, and a run that was cut off goes on where it ended.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import asdict, dataclass, field, replace
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests" / "unit"), str(ROOT / "tests")]

import second_reader  # noqa: E402
import spoilt  # noqa: E402
from test_program_jobs import EXAMPLES, example_job  # noqa: E402

from heldtrue.program.dialect import Dialect, load_dialect, parse_dialect, shipped  # noqa: E402
from heldtrue.program.front import program  # noqa: E402
from heldtrue.program.job import BoringJob  # noqa: E402
from heldtrue.program.prove import prove  # noqa: E402

OTHERS = ("faced gland-flange", "stepped wear-ring", "nest")
"""What no shipped setup asks for."""


PROBE = parse_dialect('name = "probe"\n[words]\nprobe_bore = "G65 P9120 D$size A$z Q$most H$offset"\n')
"""A template with a probing cycle: none comes along, for its call is the shop's own."""


@dataclass
class Count:
    """Programs spoilt, those proved, and in words those of them that are unsafe."""

    spoilt: int = 0
    proved: int = 0
    unsafe: list[str] = field(default_factory=list)

    def add(self, other: Count) -> None:
        self.spoilt, self.proved = self.spoilt + other.spoilt, self.proved + other.proved
        self.unsafe += other.unsafe


class Judge:
    """The second reader's word on spoilt programs of one text; what moves alike is cut once."""

    def __init__(self, text: str, control: str, job: BoringJob) -> None:
        self.text, self.control, self.job = text, control, job
        self.known: dict[tuple[object, ...], tuple[list[str], bool]] = {}

    def wrong(self, one: str) -> list[str]:
        """What is unsafe about a text, or different about what it leaves."""
        read = second_reader.read(one, self.control, self.job)
        if read.wrong:
            return list(read.wrong)
        ways = tuple((move.rapid, tuple(map(tuple, move.points))) for move in read.moves)
        if ways not in self.known:
            same = second_reader.same_shape(self.text, one, self.control, self.job)
            self.known[ways] = (second_reader.crashes(read, self.job), same)
        crashes, same = self.known[ways]
        found = [*second_reader.heights(read, self.job), *second_reader.halts(read, self.job), *crashes]
        return found if same else [*found, "other metal is left"]


@cache
def made(name: str, control: str) -> tuple[BoringJob, Dialect, str, Judge]:
    """The job of an example, the template, the program, and who judges it."""
    job = example_job(name)
    job = replace(job, cutting=replace(job.cutting, spring_passes=1))
    dialect = PROBE if control == PROBE.name else load_dialect(control)
    text = program(job, dialect).text
    return job, dialect, text, Judge(text, control, job)


def spoil(name: str, control: str, kind: str, most: int, first: int) -> Count:
    """One kind of spoilt program of one example in one template."""
    job, dialect, text, judge = made(name, control)
    count = Count()
    found = [(line, one) for line, one in spoilt.KINDS[kind](text) if one != text]
    for line, one in spoilt.spread(found[first % max(len(found), 1) :], most):
        count.spoilt += 1
        if not prove(one, job, dialect).passed:
            continue
        count.proved += 1
        wrong = ["is wrong wherever it strikes"] if kind in spoilt.NEVER else judge.wrong(one)
        if wrong:
            count.unsafe.append(f"{name}, {control}, {kind}, line {line + 1}: {one.splitlines()[line]!r}; {wrong[:2]}")
            print(f"PROVED: {count.unsafe[-1]}", flush=True)
    return count


def kept_before(kept: Path | None) -> dict[str, Count]:
    """What an earlier run found; a line that was cut off is done again."""
    found = {}
    for line in kept.read_text("utf-8").splitlines() if kept is not None and kept.exists() else ():
        try:
            one = json.loads(line)
        except json.JSONDecodeError:
            continue
        found[one.pop("what")] = Count(**one)
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=6, help="places of each kind, example and template")
    parser.add_argument("--first", type=int, default=0, help="from which place on")
    parser.add_argument("--templates", default=",".join((*shipped(), PROBE.name)), help="names, with commas")
    parser.add_argument("--examples", default=",".join((*EXAMPLES, *OTHERS)), help="names, with commas")
    parser.add_argument("--kept", type=Path, default=None, help="file with a line for each kind, to go on with")
    parser.add_argument("--minutes", type=float, default=float("inf"), help="by the clock, then it stops")
    asked = parser.parse_args()
    start, kept, total = time.monotonic(), kept_before(asked.kept), Count()
    print("| template, run | spoilt programs | proved, harmless by the second reader | unsafe |\n|---|---|---|---|")
    for control in asked.templates.split(","):
        for name in asked.examples.split(","):
            mine, done = Count(), 0
            for kind in spoilt.KINDS:
                what = f"{name}, {control}, {kind}, {asked.most} from {asked.first}"
                if what not in kept:
                    if time.monotonic() - start > 60 * asked.minutes:
                        continue
                    kept[what] = spoil(name, control, kind, asked.most, asked.first)
                    if asked.kept is not None:
                        with asked.kept.open("a", encoding="utf-8") as file:
                            file.write(json.dumps({"what": what, **asdict(kept[what])}) + "\n")
                mine.add(kept[what])
                done += 1
            kinds = "" if done == len(spoilt.KINDS) else f", {done} of {len(spoilt.KINDS)} kinds"
            print(f"| `{control}`, {name}{kinds} | {mine.spoilt} | {mine.proved} | {len(mine.unsafe)} |", flush=True)
            total.add(mine)
    print(f"{total.spoilt} programs of {len(spoilt.KINDS)} kinds, {total.proved} proved, {len(total.unsafe)} unsafe")
    return 1 if total.unsafe else 0


if __name__ == "__main__":
    raise SystemExit(main())

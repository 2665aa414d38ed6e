"""How long it takes to write and prove a program, and how the proof grows with its moves.

Run by hand: ``python bench/program.py``.  Medians after one warm-up; long programs are the short one with its straight
moves in many pieces, timed once.
"""

from __future__ import annotations

import time
from dataclasses import replace
from math import ceil
from typing import TYPE_CHECKING

from run import ROOT, median_seconds, ms

if TYPE_CHECKING:
    from heldtrue.program.job import BoringJob

MOVES = (1_000, 10_000, 100_000)


def example_job(passes: int) -> BoringJob:
    """The job of an example, its metal cut in about so many passes along z."""
    from heldtrue.planning.boring import bore
    from heldtrue.planning.setup import Setup

    job = bore(Setup.from_toml(ROOT / "examples" / "winch-shaft.toml")).job
    assert job is not None
    width = max(x for x, _ in job.finished) - min(x for x, _ in job.finished)
    depth = width / (passes - 3)
    left = min(0.1, depth / 2)
    return replace(job, cutting=replace(job.cutting, pass_depth=depth, finish_allowance=left, semi_allowance=left / 2))


def in_pieces(text: str, moves: int, waver: float = 0.0) -> str:
    """The same program with its moves along x or z alone in pieces: about ``moves`` of them.

    ``waver``: every other end of a piece lies so far off the way, in the program's numbers, so that no two pieces are
    one way of the tool; where the metal that must stay is near, none does.
    """
    lines = text.splitlines()
    straight = sum(line.startswith(("G0 ", "G1 ")) and ("X" in line) != ("Z" in line) for line in lines)
    pieces = ceil(moves / straight)
    at: dict[str, float] = {}
    found = []
    rough = False
    for line in lines:
        if line.endswith(("(ROUGHING)", "(ALONG THE LINE)", "(CORNER RELIEF)")):
            rough = line.endswith("(ROUGHING)")
        words = {word[0]: float(word[1:]) for word in line.split() if word[0] in "XZ" and not line.startswith("(")}
        at = {} if line.startswith("G28") else at
        if line.startswith(("G0 ", "G1 ")) and len(words) == 1 and len(at) == 2:
            ((letter, end),) = words.items()
            start, old = at[letter], f"{letter}{end:.3f}"
            other = "Z" if letter == "X" else "X"
            for i in range(1, pieces):
                off = f" {other}{at[other] - waver * (i % 2):.3f}" if waver and rough else ""
                found.append(line.replace(old, f"{letter}{start + (end - start) * i / pieces:.3f}{off}"))
            if waver and rough and pieces > 1:
                line += f" {other}{at[other]:.3f}"
        found.append(line)
        at |= words if line.startswith("G") else {}
    return "\n".join(found) + "\n"


def rows() -> list[tuple[str, str, str]]:
    from heldtrue.program.front import program
    from heldtrue.program.path import tool_path
    from heldtrue.program.prove import prove

    job = example_job(60)
    made = program(job)
    passes = sum(made.passes.values())
    found = [
        (f"program and proof, {passes} passes", ms(median_seconds(lambda: program(job))), "500 ms"),
        (f"the way of the tool alone, {passes} passes", ms(median_seconds(lambda: tool_path(job))), ""),
        (f"the proof alone, {made.proof.moves} moves", ms(median_seconds(lambda: prove(made.text, job))), ""),
    ]
    for moves, waver in (*((moves, 0.0) for moves in MOVES), (MOVES[-1], 0.002)):
        text = in_pieces(made.text, moves, waver)
        start = time.process_time()
        proof = prove(text, job)
        seconds = time.process_time() - start
        assert proof.passed, proof.sentences()
        what = f"proof of {proof.moves} moves{', no two along one way' if waver else ''}"
        target = "10000 ms" if moves == MOVES[-1] else ""
        found.append((what, f"{ms(seconds)}, {1e6 * seconds / proof.moves:.0f} µs each", target))
    return found


def main() -> None:
    for what, measured, target in rows():
        print(f"{what:60} {measured:>24} {target:>8}")


if __name__ == "__main__":
    main()

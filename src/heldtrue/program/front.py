"""One call from a boring job to a proved program."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from heldtrue.errors import InputError, ProofError
from heldtrue.program.dialect import Dialect, load_dialect
from heldtrue.program.job import BoringJob
from heldtrue.program.path import ToolPath, tool_path
from heldtrue.program.proof import Proof
from heldtrue.program.prove import prove
from heldtrue.program.read import ReadMove, read_program
from heldtrue.program.write import write_program


@dataclass(frozen=True)
class Program:
    """A program that passed its proof: the text, the proof, the moves as read back, passes, cut length [mm].

    ``dialect``: name of its template; ``unit``: mm or inch, of its words.
    """

    text: str
    proof: Proof
    moves: tuple[ReadMove, ...]
    passes: dict[str, int]
    cut_length: float
    minutes: float
    dialect: str
    unit: str


def program(job: BoringJob, template: Dialect | str | Path | None = None) -> Program:
    """The program of a boring job in the words of a shop's control, written only if it is proved.

    ``template`` is a TOML file or a dialect already read; None takes the neutral one.  Raises GeometryError where the
    tool cannot cut the shape, InputError where the template is wrong, and ProofError, without a text, where the
    finished program does not cut what it should.
    """
    dialect = template if isinstance(template, Dialect) else load_dialect(template)
    path = tool_path(job)
    text = write_program(job, path, dialect)
    return proved(job, text, path, dialect)


def proved(job: BoringJob, text: str, path: ToolPath, dialect: Dialect) -> Program:
    """``text`` with its proof, or the error that says why there is none."""
    return proved_by(lambda: prove(text, job, dialect), text, path, dialect)


def proved_by(proving: Callable[[], Proof], text: str, path: ToolPath, dialect: Dialect) -> Program:
    """The same, proved as the job of the text asks."""
    proof = proving()
    if not proof.passed:
        unreadable = [f for f in proof.findings if f.code == "unreadable"]
        if unreadable:
            raise InputError(
                f'the program made with the template "{dialect.name}" cannot be read back, so it is not written',
                *proof.sentences(),
            )
        first = proof.sentences()[0]
        more = len(proof.findings) - 1
        rest = f" ({more} more finding{'s' if more > 1 else ''})" if more else ""
        moves = read_program(text, dialect).moves
        raise ProofError(f"the program is not written: its proof failed. {first}{rest}", proof, moves)
    passes = {str(kind): number for kind, number in path.passes.items()}
    return Program(text, proof, read_program(text, dialect).moves, passes, path.cut_length, proof.minutes, dialect.name,
                   dialect.numbers.unit)  # fmt: skip

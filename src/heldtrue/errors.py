"""Every error heldtrue raises on purpose.

HeldtrueError
├── InputError      a file, value or combination the user can put right
│   └── StorageError   what should be kept could not be written: a full disk, no right to write
├── GeometryError   a shape that cannot exist or does not meet the part (also a ValueError)
├── SolverError     a computation that did not reach its stated accuracy; never a number in its place
└── ProofError      a lathe program that does not cut what it should; ``proof`` says where, and there is no text
"""

from __future__ import annotations

from typing import Any


class HeldtrueError(Exception):
    """Base of every error raised on purpose; its text is meant for the user."""


class InputError(HeldtrueError):
    """Something in the input is wrong. ``problems`` holds one plain sentence each."""

    def __init__(self, *problems: str) -> None:
        self.problems = problems
        super().__init__("\n".join(problems))


class StorageError(InputError):
    """What should be kept could not be written or read; nothing was changed, and what only looks goes on."""


class GeometryError(HeldtrueError, ValueError):
    """A profile, patch or face that cannot exist or does not meet the part."""


class SolverError(HeldtrueError, RuntimeError):
    """A computation failed to converge or to reach its accuracy."""


class ProofError(HeldtrueError):
    """A lathe program failed its proof.

    ``proof`` is the ``heldtrue.program.proof.Proof`` with every finding; ``moves``: every ``ReadMove`` of the program,
    which was not written, for a picture.
    """

    def __init__(self, message: str, proof: Any, moves: tuple[Any, ...] = ()) -> None:
        self.proof = proof
        self.moves = moves
        super().__init__(message)

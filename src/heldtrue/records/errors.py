"""What the records raise on purpose.

HeldtrueError
└── RecordsError          the records cannot be opened, read or written; nothing was changed
    ├── DamagedError      a row is not as it was written: the file or its disk is damaged
    ├── ConflictError     somebody else was first; ``theirs`` is what stands now, ``mine`` what was not written
    └── StoreVersionError the records have another schema than this program

A value the user can put right is an ``InputError``, here as everywhere.
"""

from __future__ import annotations

from heldtrue.errors import HeldtrueError


class RecordsError(HeldtrueError):
    """The records cannot be opened, read or written. Nothing was changed, or the text says that it is not sure."""


class DamagedError(RecordsError):
    """What was read is not as it was written."""

    def __init__(self, message: str) -> None:
        super().__init__(
            f"{message}: the file or its disk is damaged; keep it as it is, restore a back-up into another folder, "
            "and look with heldtrue check what else is wrong"
        )


class ConflictError(RecordsError):
    """Somebody else was first: ``mine`` was not written, ``theirs`` is what stands now."""

    def __init__(self, message: str, mine: object = None, theirs: object = None) -> None:
        self.mine, self.theirs = mine, theirs
        super().__init__(message)


class StoreVersionError(RecordsError):
    """The records have another schema than this program; the text says what to do."""

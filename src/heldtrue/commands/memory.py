"""What the commands of the shop's memory share: where it is, who is asking, what time it is."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from heldtrue.commands.common import error_screen
from heldtrue.errors import InputError

if TYPE_CHECKING:
    from heldtrue.planning.setup import Setup
    from heldtrue.planning.ways import Chucks, Cost
    from heldtrue.records import Store
    from heldtrue.shop.repeat import Repeat

PLACE = "HELDTRUE_RECORDS"
NAME = "HELDTRUE_BY"

Records = Annotated[
    str | None,
    typer.Option(
        "--records",
        help=f"Folder of the records, or postgresql:// address; else {PLACE}, else heldtrue-records in your home.",
    ),
]  # fmt: skip
By = Annotated[str | None, typer.Option("--by", help=f"Your name or initials, kept with the entry; else {NAME}.")]
Yes = Annotated[bool, typer.Option("--yes", help="Do not ask.")]


def place(records: str | None) -> str:
    """Where the records are: as said, as the environment says, or in the home folder."""
    return records or os.environ.get(PLACE) or str(Path.home() / "heldtrue-records")


def memory(records: str | None, *, create: bool = True, patience: float = 30.0) -> Store:
    """The records, made where there are none if an entry is to be made; ``patience`` as ``open_store`` has it [s]."""
    from heldtrue.records import open_store

    where = place(records)
    if not create and not _is_there(where):
        raise InputError(f"there are no records in {where} yet: the first entry makes them; --records says where")
    return open_store(where, create=create, patience=patience)


def _is_there(where: str) -> bool:
    try:
        return "://" in where or (Path(where) / "records.db").exists()
    except OSError as error:
        raise InputError(f"the records in {where} cannot be read: {(error.strerror or str(error)).lower()}") from error


def name_of(by: str | None) -> str:
    """Who enters it. Raises: ``InputError`` without a name."""
    by = by or os.environ.get(NAME)
    if by is None or not by.strip():
        raise InputError(f"give your name or initials with --by, or set {NAME}: every entry is kept with one")
    return by.strip()


def now() -> datetime:
    """This moment, with the zone of this machine."""
    return datetime.now().astimezone()


def ask(question: str, yes: bool) -> None:
    """Go on only if somebody says so."""
    if not yes and not typer.confirm(question, err=True):
        raise InputError("nothing changed")


def remembered(setup: Setup, records: str | None, *, silent: bool = False) -> Setup:
    """The setup with what the records know of its chuck and its jaws, said on stderr if not ``silent``.

    Without records it is as it was: a plan from a file alone makes no folder.
    """
    where = place(records)
    if not _is_there(where):
        if records is not None and not silent:
            error_screen().print(f"no records in {where} yet: from the file alone", highlight=False, markup=False)
        return setup
    from heldtrue.records import open_store
    from heldtrue.shop.from_records import with_records

    with open_store(where, create=False) as store:
        setup, known = with_records(setup, store, now())
    for words in () if silent else known:
        error_screen().print(words, highlight=False, markup=False, soft_wrap=True)
    return setup


@contextmanager
def shop_of(records: str | None, setup: Setup) -> Iterator[tuple[Cost | None, Chucks]]:
    """What the jaws of a way to hold cost by the shelf, and the job on the shop's other chucks by their number.

    None and nothing where there are no records.
    """
    where = place(records)
    if not _is_there(where):
        yield None, {}
        return
    from heldtrue.records import open_store
    from heldtrue.shop.other_chucks import on_other_chucks
    from heldtrue.shop.way_costs import costs_on

    with open_store(where, create=False) as store:
        yield costs_on(store), on_other_chucks(setup, store, now())


def repeat_of_file(setup_file: Path, setup: Setup, records: str | None) -> Repeat | None:
    """What the records know of a setup file for a job that is done again; None where there are no records.

    ``setup``: as the file has it, without what the records add.
    """
    where = place(records)
    if not _is_there(where):
        return None
    from heldtrue.records import open_store
    from heldtrue.shop.enter import setup_id
    from heldtrue.shop.repeat import repeat_of

    with open_store(where, create=False) as store:
        return repeat_of(store, setup_id(setup, setup_file), setup)

"""Look after the records: back up, restore, check, export, import, copy to another place."""

# The database is imported inside the commands: help must not wait for it.
from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from heldtrue.commands.common import DOES_NOT_PASS, said
from heldtrue.commands.memory import Records, Yes, ask, memory, place
from heldtrue.errors import InputError


def backup(
    folder: Annotated[Path, typer.Argument(help="Where the copy goes, under a name with the date.")],
    records: Records = None,
) -> None:
    """Copy all records of one moment; others may go on writing."""
    from heldtrue.records import backup as make

    with memory(records, create=False) as store:
        made = make(store, folder)
    said(f"copied to {made}", wrapped=False)


def restore(
    copy: Annotated[Path, typer.Argument(help="A back-up or an export.")], yes: Yes = False, records: Records = None
) -> None:
    """Bring a back-up back; what is there is set aside under a new name, never deleted."""
    from heldtrue.records import restore as bring

    where = place(records)
    is_there = not where.startswith("postgresql") and (Path(where) / "records.db").exists()
    if is_there:
        ask(f"Replace the records in {where}? They are kept under a new name.", yes)
    aside = bring(copy, where, replace=is_there)
    said(f"restored to {where}" + (f"; what was there is in {aside}" if aside else ""), wrapped=False)


def check(records: Records = None) -> None:
    """Is every record as it must be? Names what is not."""
    with memory(records, create=False) as store:
        findings = store.check()
    for one in findings:
        said(f"{one.where}: {one.words}", wrapped=False)
    said(f"{len(findings)} finding{'s' if len(findings) != 1 else ''}" if findings else "sound", wrapped=False)
    raise typer.Exit(DOES_NOT_PASS if findings else 0)


def export(
    folder: Annotated[Path, typer.Argument(help="A new folder.")],
    form: Annotated[Literal["jsonl", "csv"], typer.Option(help="JSON lines or CSV.")] = "jsonl",
    records: Records = None,
) -> None:
    """Write everything to plain files, one for each kind."""
    from heldtrue.records import export_to

    with memory(records, create=False) as store:
        made = export_to(store, folder, form)
    said(f"exported to {made}", wrapped=False)


def import_(folder: Annotated[Path, typer.Argument(help="An export.")], records: Records = None) -> None:
    """Fill empty records from an export: all of it or nothing."""
    from heldtrue.records import import_from

    with memory(records) as store:
        rows = import_from(store, folder)
    said(f"{rows} rows imported", wrapped=False)


def copy(
    target: Annotated[str, typer.Argument(help="Folder or postgresql:// address that holds nothing yet.")],
    records: Records = None,
) -> None:
    """Copy all records to another place, such as from a folder to PostgreSQL."""
    from heldtrue.records import copy_store

    source = place(records)
    if source == target:
        raise InputError("source and target are the same")
    said(f"{copy_store(source, target)} rows copied to {target.split('@')[-1]}", wrapped=False)


def upgrade(yes: Yes = False, records: Records = None) -> None:
    """Bring the records on a server up to this program; a folder is brought up to date when it is opened."""
    from heldtrue.records import open_store

    where = place(records)
    ask(f"Bring the records in {where.split('@')[-1]} up to date? Back the server up first.", yes)
    open_store(where, create=False, upgrade=True).close()
    said("up to date", wrapped=False)

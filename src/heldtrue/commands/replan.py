"""Every setup of the records planned again: which may no longer start, and why."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from heldtrue.commands.common import (
    DOES_NOT_PASS,
    STOPPED,
    AsJson,
    Paper,
    check_file,
    check_folder,
    complain,
    print_json,
    said,
    screen,
    working,
    write,
)
from heldtrue.commands.memory import By, Records, memory, name_of, now
from heldtrue.errors import InputError

if TYPE_CHECKING:
    from heldtrue.records import Store
    from heldtrue.shop.replanning.run import Report, Runner, Which


def replan(
    chuck: Annotated[str, typer.Option(help="Only setups of this chuck.")] = "",
    machine: Annotated[str, typer.Option(help="Only setups of this machine.")] = "",
    jaws: Annotated[str, typer.Option("--jaws", help="Only setups of this jaw set.")] = "",
    part: Annotated[str, typer.Option(help="Only setups of this part.")] = "",
    revision: Annotated[str, typer.Option(help="Only setups of this revision of their part.")] = "",
    material: Annotated[str, typer.Option(help="Only setups whose part is of this material.")] = "",
    csv: Annotated[Path | None, typer.Option(help="Write what turned, cannot be planned or does not pass to this CSV "
                                             "file.")] = None,
    sheets: Annotated[Path | None, typer.Option(help="Print the floor sheet of each that turned again, as a PDF in "
                                                "this folder.")] = None,
    paper: Annotated[Paper, typer.Option(help="Paper of the floor sheets.")] = "a4",
    seen: Annotated[list[str] | None, typer.Option(help="Write down that you looked at this setup as it stands now; "
                                                   "more than one by repeating it.")] = None,
    workers: Annotated[int | None, typer.Option(help="Processes that plan; all cores if left out, 1 plans in this "
                                                "one.", min=1)] = None,
    scheduler: Annotated[str, typer.Option(help="Plan on a cluster: the address of its dask scheduler, such as "
                                           "tls://10.0.0.5:8786 (docs/plant.md).")] = "",
    as_json: AsJson = False, by: By = None, records: Records = None,
) -> None:  # fmt: skip
    """Plan every setup of the records again: which may no longer start, and why.

    Only what has changed is planned. Stopped with Ctrl-C, it goes on where it was when it is run again. Exit status 1
    where a setup may no longer start as it did, or cannot be planned.
    """
    from heldtrue.shop.replanning.look import AWAY_S
    from heldtrue.shop.replanning.run import Which, collect_rarely
    from heldtrue.terminal.replan import show_replan

    which = Which(chuck, machine, jaws, part, revision, material)
    if csv is not None:
        check_file(csv)
    if sheets is not None:
        check_folder(sheets, "floor sheets")
    if seen:
        _looked_at(seen, name_of(by), records)
        return
    collect_rarely()
    with memory(records, create=False, patience=AWAY_S) as store:
        report = _run(store, which, _runner(store, workers, scheduler))
        outputs: dict[Path, bytes | str] = {}
        if csv is not None:
            from heldtrue.shop.replanning.document import replan_csv

            outputs[csv] = replan_csv(report)
        if sheets is not None:
            outputs |= _sheets(store, report, sheets, paper)
    write(outputs)
    if as_json:
        from heldtrue.shop.replanning.document import replan_json

        print_json(replan_json(report))
    else:
        show_replan(screen(), report)
    raise typer.Exit(DOES_NOT_PASS if report.stopped or report.failed else 0)


def _runner(store: Store, workers: int | None, scheduler: str) -> Runner:
    """Who plans: this process, others of this machine, or a cluster. Raises: ``InputError`` for both at once."""
    from heldtrue.shop.replanning.run import in_this_process
    from heldtrue.shop.replanning.workers import cores, few_here, in_processes, on_cluster

    if scheduler:
        if workers is not None:
            raise InputError("--workers and --scheduler: give one of them; a cluster has its own workers")
        return on_cluster(store.where, scheduler)
    count = cores() if workers is None else workers
    here = in_this_process(store)
    return here if count == 1 else few_here(here, in_processes(store.where, count))


def _run(store: Store, which: Which, runner: Runner) -> Report:
    from heldtrue.shop.replanning.run import Progress
    from heldtrue.shop.replanning.run import replan as work
    from heldtrue.terminal.replan import progress_words

    at = Progress(0, 0, 0, 0.0)
    with working("re-planning") as say:

        def watch(progress: Progress) -> None:
            nonlocal at
            at = progress
            say(progress_words(progress))

        try:
            return work(store, which, runner=runner, watch=watch)
        except KeyboardInterrupt as error:
            complain(f"stopped: {at.done:,} of {at.all:,} are written; run it again, and it goes on from there")
            raise typer.Exit(STOPPED) from error


def _looked_at(ids: list[str], by: str, records: str | None) -> None:
    from heldtrue.shop.replanning.run import see

    with memory(records, create=False) as store:
        for id in ids:
            row = see(store, id, by, now())
            said(f"{id}: looked at by {row.by}: {row.verdict}")


def _sheets(store: Store, report: Report, folder: Path, paper: Paper) -> dict[Path, bytes | str]:
    """The floor sheet of each setup that turned, as it stands now."""
    from heldtrue.planning.plan import plan
    from heldtrue.records import SetupRecord, open_setup
    from heldtrue.sheets.floor_sheet import floor_sheet
    from heldtrue.shop.from_records import with_records
    from heldtrue.shop.repeat import repeat_of

    found: dict[Path, bytes | str] = {}
    for one in report.turned:
        kept = open_setup(store.get(SetupRecord, one.setup).document)
        setup, _ = with_records(kept, store, now())
        name = "".join(letter if letter.isalnum() or letter in "-_." else "-" for letter in one.setup)
        found[folder / f"{name}.pdf"] = floor_sheet(
            plan(setup), setup.units, paper, repeat=repeat_of(store, one.setup, kept), printed=now().date()
        )
    return found

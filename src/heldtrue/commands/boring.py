"""Cut the jaws of a setup, new or used."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from heldtrue.commands.common import (
    DOES_NOT_PASS,
    AsJson,
    InUnits,
    Paper,
    SetupFile,
    check_folder,
    complain,
    error_screen,
    print_json,
    screen,
    typed_diameter,
    typed_quantity,
    working,
    write,
)
from heldtrue.commands.memory import Records, now, remembered

if TYPE_CHECKING:
    from heldtrue.planning.boring import BorePlan
    from heldtrue.planning.boring_program import Attempt
    from heldtrue.quantities import UnitSystem

OutFolder = Annotated[
    Path | None,
    typer.Option("--out", help="Write drawing, steps, proved program and its proof into this folder."),
]
OnPaper = Annotated[Paper, typer.Option(help="Paper of the jaw sheet.")]


def bore(
    setup_file: SetupFile,
    out: OutFolder = None,
    as_json: AsJson = False,
    units: InUnits = None,
    paper: OnPaper = "a4",
    records: Records = None,
) -> None:
    """Where do the jaws stand, on which ring, what do I bore, and with which proved program?"""
    from heldtrue.planning.setup import Setup

    setup = remembered(Setup.from_toml(setup_file), records)
    system = units or setup.units
    if out is not None:
        check_folder(out, "files")
    with working("boring") as say:
        from heldtrue.planning.boring import bore as make_bore
        from heldtrue.planning.boring_program import attempt

        say("placing, ring and bore")
        plan = make_bore(setup)
        say("writing the program and reading it back")
        made = attempt(plan, setup_file.parent)
    if out is not None:
        _write_folder(out, plan, made, system, paper, "Cutting the jaws")
    if as_json:
        from heldtrue.json_document import to_json
        from heldtrue.planning.boring_document import bore_document

        print_json(to_json(bore_document(plan, made.program, made.proof)))
    else:
        from heldtrue.terminal.boring import show_bore

        show_bore(screen(), plan, made.program, system)
    if plan.can_be_cut and made.program is None:
        complain(made.why)
    raise typer.Exit(0 if made.program else DOES_NOT_PASS)


def recut(
    setup_file: SetupFile,
    measured: Annotated[
        str | None, typer.Option(help='Diameter touched off with the jaws on the ring, such as "Ø97.55".')
    ] = None,
    runout: Annotated[str | None, typer.Option(help='Run-out found on the used bore, such as "0.03 mm".')] = None,
    out: OutFolder = None,
    as_json: AsJson = False,
    units: InUnits = None,
    paper: OnPaper = "a4",
    records: Records = None,
) -> None:
    """What is the least to cut off a used jaw set, and what is left of it then?"""
    from heldtrue.planning.setup import Setup

    setup = remembered(Setup.from_toml(setup_file), records)
    system = units or setup.units
    diameter = None if measured is None else typed_diameter("--measured", measured, setup.units)
    swing = None if runout is None else typed_quantity("--runout", runout, "length", setup.units)
    if out is not None:
        check_folder(out, "files")
    with working("re-cut") as say:
        from heldtrue.planning.boring import recut as make_recut
        from heldtrue.planning.boring_program import Attempt, attempt

        say("what the jaws have left")
        plan = make_recut(setup, diameter, runout=swing)
        made = Attempt(None)
        if plan.bore is not None and plan.can_be_cut:
            say("writing the program and reading it back")
            made = attempt(plan.bore, setup_file.parent)
    if out is not None and plan.bore is not None:
        _write_folder(out, plan.bore, made, system, paper, "Cutting the jaws again")
    if as_json:
        from heldtrue.json_document import to_json
        from heldtrue.planning.boring_document import recut_document

        print_json(to_json(recut_document(plan, made.program, made.proof)))
    else:
        from heldtrue.terminal.boring import show_recut

        show_recut(screen(), plan, made.program, system)
    if plan.can_be_cut and made.program is None:
        complain(made.why)
    raise typer.Exit(0 if made.program or not plan.needed else DOES_NOT_PASS)


def _write_folder(out: Path, plan: BorePlan, made: Attempt, system: UnitSystem, paper: Paper, heading: str) -> None:
    """All files or none; what an earlier run left for the machine goes when it is no longer true."""
    from heldtrue.sheets.boring_folder import boring_files, outdated

    files = boring_files(plan, made, system, paper, heading=heading, printed=now().date())
    write({out / name: content for name, content in files.items()})
    for name in outdated(plan, made):
        path = out / name
        if path.is_file():
            path.unlink()
            error_screen().print(f"removed {path}: of an earlier run, no longer true", highlight=False, markup=False)

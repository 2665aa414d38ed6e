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
)
from heldtrue.commands.memory import Records, now, remembered
from heldtrue.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from heldtrue.drawing.solids import MadeSolids
    from heldtrue.planning.boring import BorePlan
    from heldtrue.planning.boring_program import Attempt
    from heldtrue.quantities import UnitSystem

OutFolder = Annotated[
    Path | None,
    typer.Option(
        "--out", help="Write drawing, steps, proved program, its proof and the jaws as solids into this folder."
    ),
]
Chord = Annotated[
    str | None,
    typer.Option("--chord", help='With --out: how far the triangles of the STL may lie from the jaw, "0.01 mm".'),
]
OnPaper = Annotated[Paper, typer.Option(help="Paper of the jaw sheet.")]


def bore(
    setup_file: SetupFile,
    out: OutFolder = None,
    chord: Chord = None,
    as_json: AsJson = False,
    units: InUnits = None,
    paper: OnPaper = "a4",
    records: Records = None,
) -> None:
    """Where do the jaws stand, on which ring, what do I bore, and with which proved program?"""
    from heldtrue.planning.setup import Setup

    setup = remembered(Setup.from_toml(setup_file), records)
    system = units or setup.units
    height = _chord(chord, out, setup.units)
    if out is not None:
        _check_out(out)
    solids = None
    with working("boring") as say:
        from heldtrue.planning.boring import bore as make_bore
        from heldtrue.planning.boring_program import attempt

        say("placing, ring and bore")
        plan = make_bore(setup)
        say("writing the program and reading it back")
        made = attempt(plan, setup_file.parent)
        if out is not None:
            say("the jaws as solids")
            solids = _solids(plan, made, height)
    if out is not None:
        _write_folder(out, plan, made, system, paper, "Cutting the jaws", solids)
    if as_json:
        from heldtrue.json_document import to_json
        from heldtrue.planning.boring_document import bore_document

        print_json(to_json(bore_document(plan, made.program, made.proof, solids.told if solids else None, made.groove)))
    else:
        from heldtrue.terminal.boring import show_bore

        show_bore(screen(), plan, made.program, system, solids.told if solids else None, made.groove)
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
    chord: Chord = None,
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
    height = _chord(chord, out, setup.units)
    if out is not None:
        _check_out(out)
    solids = None
    with working("re-cut") as say:
        from heldtrue.planning.boring import recut as make_recut
        from heldtrue.planning.boring_program import Attempt, attempt

        say("what the jaws have left")
        plan = make_recut(setup, diameter, runout=swing)
        made = Attempt(None)
        if plan.bore is not None and plan.can_be_cut:
            say("writing the program and reading it back")
            made = attempt(plan.bore, setup_file.parent)
            if out is not None:
                say("the jaws as solids")
                solids = _solids(plan.bore, made, height)
    if out is not None and plan.bore is not None:
        _write_folder(out, plan.bore, made, system, paper, "Cutting the jaws again", solids)
    elif out is not None:
        _clear_folder(out)
    if as_json:
        from heldtrue.json_document import to_json
        from heldtrue.planning.boring_document import recut_document

        print_json(
            to_json(recut_document(plan, made.program, made.proof, solids.told if solids else None, made.groove))
        )
    else:
        from heldtrue.terminal.boring import show_recut

        show_recut(screen(), plan, made.program, system, solids.told if solids else None, made.groove)
    if plan.can_be_cut and made.program is None:
        complain(made.why)
    raise typer.Exit(0 if made.program or not plan.needed else DOES_NOT_PASS)


def folder(path: Annotated[Path, typer.Argument(help="Folder that bore or recut wrote.")]) -> None:
    """Is what lies in a folder of a jaw cut one whole set, as it was written?"""
    from heldtrue.file_sets import MANIFEST, standing

    found, say = standing(path), screen()
    lines = [f"changed since it was written: {name}" for name in found.changed]
    lines += [f"missing: {name}" for name in found.missing]
    if not found.is_set:
        lines.append(f"there is no {MANIFEST}: heldtrue wrote no set here")
    elif not found.complete:
        lines.append("its writing stopped half-way: run the command again, take nothing of it to the machine")
    lines += [f"not of the set: {name}" for name in found.others]
    for words in (*lines, f"{path}: {'whole, as it was written' if found.whole else 'NOT one whole set'}"):
        say.print(words, highlight=False, markup=False, soft_wrap=True)
    raise typer.Exit(0 if found.whole else DOES_NOT_PASS)


def _check_out(out: Path) -> None:
    """Refuse early, before anything is computed, a folder that could not be written."""
    from heldtrue.file_sets import standing

    check_folder(out, "files")
    standing(out)


def _chord(typed: str | None, out: Path | None, system: UnitSystem) -> float:
    """How far the triangles may lie from the jaw. [mm]"""
    from heldtrue.planning.jaw_solid import CHORD_MM, CHORD_RANGE_MM

    if typed is None:
        return CHORD_MM
    if out is None:
        raise InputError("--chord: it is of the STL file, and without --out none is written")
    low, high = CHORD_RANGE_MM
    chord = typed_quantity("--chord", typed, "length", system)
    if not low <= chord <= high:
        raise InputError(f"--chord: found {typed}; {low:g} to {high:g} mm")
    return chord


def _solids(plan: BorePlan, made: Attempt, chord: float) -> MadeSolids | None:
    from heldtrue.sheets.boring_folder import solids_of

    return solids_of(plan, made, chord, now().date())


def _write_folder(
    out: Path, plan: BorePlan, made: Attempt, system: UnitSystem, paper: Paper, heading: str,
    solids: MadeSolids | None,
) -> None:  # fmt: skip
    """All files or none, in place of the set that stands there."""
    from heldtrue.sheets.boring_folder import boring_files

    _replace(out, boring_files(plan, made, system, paper, heading=heading, printed=now().date(), solids=solids))


def _clear_folder(out: Path) -> None:
    """There is nothing to cut: what an earlier run left for the machine is not of today's answer."""
    _replace(out, {})


def _replace(out: Path, files: Mapping[str, bytes | str]) -> None:
    from heldtrue.file_sets import replace_set
    from heldtrue.sheets.boring_folder import is_program

    done = replace_set(out, files, is_program=is_program)
    lines = [f"wrote {out / name}" for name in done.written]
    lines += [f"removed {out / name}: of an earlier set, no longer true" for name in done.removed]
    lines += [f"kept {out / name} as {new}: it was changed by hand; the new set does not have that change"
              for name, new in done.kept]  # fmt: skip
    lines += [f"left {out / name}: not written by heldtrue, or changed by hand" for name in done.left]
    if done.was_incomplete:
        lines.append(f"an earlier writing into {out} had stopped half-way; it is whole now")
    for words in lines:
        error_screen().print(words, highlight=False, markup=False, soft_wrap=True)

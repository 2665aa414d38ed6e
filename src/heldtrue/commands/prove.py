"""Prove a boring program that comes back from the machine."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from heldtrue.commands.common import (
    DOES_NOT_PASS,
    AsJson,
    InUnits,
    print_json,
    screen,
    typed_diameter,
    working,
)
from heldtrue.commands.memory import Records, remembered
from heldtrue.errors import InputError

LARGEST_PROGRAM = 20_000_000
"""Bytes of a program: more than a control keeps."""


def prove(
    program_file: Annotated[Path, typer.Argument(help="The program (NC text).", show_default=False)],
    setup_file: Annotated[Path, typer.Option("--setup", help="The setup file whose jaws it cuts.")],
    measured: Annotated[
        str | None, typer.Option(help='Of a used set: the diameter touched off, as it was given to "recut".')
    ] = None,
    groove: Annotated[
        bool, typer.Option("--groove", help="It is the program of the groove for the ring, not that of the bore.")
    ] = False,
    as_json: AsJson = False,
    units: InUnits = None,
    records: Records = None,
) -> None:
    """Does this program, edited or not, still cut these jaws and nothing else?"""
    from heldtrue.planning.setup import Setup

    text = _text(program_file)
    setup = remembered(Setup.from_toml(setup_file), records)
    system = units or setup.units
    diameter = None if measured is None else typed_diameter("--measured", measured, setup.units)
    with working("proof") as say:
        from heldtrue.planning.boring import bore, recut
        from heldtrue.planning.boring_program import template_of
        from heldtrue.program.dialect import load_dialect
        from heldtrue.program.groove import prove_groove
        from heldtrue.program.prove import prove as prove_text

        dialect = load_dialect(template_of(setup, setup_file.parent))
        say("what the jaws need")
        plan = bore(setup) if diameter is None else recut(setup, diameter).bore
        if plan is None or plan.job is None or not plan.can_be_cut:
            why = "; ".join(plan.refusals) if plan is not None else "these jaws need no cut"
            raise InputError(f"there is no cut to prove a program against: {why}")
        say("reading the program and cutting with it")
        if not groove:
            proof = prove_text(text, plan.job, dialect)
        elif plan.groove is None or plan.groove.work is None:
            raise InputError(
                "there is no groove to prove a program against: the ring needs none, or no blade is stated"
            )
        else:
            proof = prove_groove(text, plan.groove.work, dialect)
    if as_json:
        from heldtrue.json_document import to_json
        from heldtrue.planning.boring_document import proof_entry

        print_json(to_json(proof_entry(proof)))
    else:
        from heldtrue.terminal.boring import show_proof

        show_proof(screen(), program_file.name, proof, dialect.name, system, plan)
    raise typer.Exit(0 if proof.passed else DOES_NOT_PASS)


def _text(path: Path) -> str:
    """The program as it stands: every byte becomes a letter, so that the proof can refuse what is none.

    Raises: ``InputError`` where it cannot be read.
    """
    try:
        if path.stat().st_size > LARGEST_PROGRAM:
            raise InputError(f"{path}: {path.stat().st_size} bytes are no program; {LARGEST_PROGRAM} at most")
        content = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path}: {error.strerror or error}") from error
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return content.decode("latin-1")

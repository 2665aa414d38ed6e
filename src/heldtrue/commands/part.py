"""The part from its drawing."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from heldtrue.commands.common import AsJson, InUnits, check_file, check_new_file, print_json, screen, working, write
from heldtrue.errors import InputError

DrawingFile = Annotated[
    Path, typer.Argument(help="The drawing: a STEP file (.step, .stp) or a DXF file.", show_default=False)
]


def part(
    file: DrawingFile,
    as_json: AsJson = False,
    setup: Annotated[Path | None, typer.Option(help="Write a setup file (TOML) to go on with; needs --seat.")] = None,
    seat: Annotated[
        Literal["low", "high"] | None, typer.Option(help="Which end sits on the jaws: of low z, or of high.")
    ] = None,
    picture: Annotated[Path | None, typer.Option(help="Write the section with its surfaces as SVG.")] = None,
    body: Annotated[str | None, typer.Option(help="Which body of the file, by its number.")] = None,
    axis: Annotated[str | None, typer.Option(help="Which axis, by its number.")] = None,
    file_units: Annotated[Literal["mm", "inch"] | None, typer.Option(help="Unit of a file that names none.")] = None,
    material: Annotated[str | None, typer.Option(help="Work material, for the mass and the setup.")] = None,
    units: InUnits = None,
) -> None:  # fmt: skip
    """What does the drawing say of the turned part: axis, half section, surfaces, tolerances, what is not turned?"""
    from heldtrue.part_file.choices import Choices
    from heldtrue.part_file.read import read_part_file

    _check(setup, seat, picture)
    known = None
    if material is not None:
        from heldtrue.mechanics.materials import work_material

        known = work_material(material)
    with working("part"):
        choices = Choices(body, axis, file_units)
        found = read_part_file(file, choices, asked=OPTIONS)
    system = units or "metric"
    outputs: dict[Path, bytes | str] = {}
    if picture is not None:
        from heldtrue.drawing.part_section import draw_part

        outputs[picture] = draw_part(found, system)
    if setup is not None:
        from heldtrue.planning.part_setup import Seating, setup_text

        seating = Seating(seat == "low", choices, _named_from(setup, file))
        outputs[setup] = setup_text(found, seating, material=material, system=system)
    write(outputs)
    if as_json:
        from heldtrue.json_document import to_json
        from heldtrue.part_file.document import part_document

        print_json(to_json(part_document(found)))
        return
    from heldtrue.terminal.part import show_part

    show_part(screen(), found, known, system)


OPTIONS = {"body": "--body", "axis": "--axis", "units": "--file-units"}
"""The option that answers each question."""


def _named_from(setup: Path, drawing: Path) -> str | None:
    """The drawing as the setup can name it: in its own folder or below, else not at all."""
    folder, drawing = setup.resolve().parent, drawing.resolve()
    return drawing.relative_to(folder).as_posix() if drawing.is_relative_to(folder) else None


def _check(setup: Path | None, seat: str | None, picture: Path | None) -> None:
    """Refuse early what could not be written."""
    if picture is not None:
        check_file(picture)
    if setup is None:
        return
    check_new_file(setup)
    if seat is None:
        raise InputError("say which end sits on the jaws: --seat low or --seat high (--picture shows both ends)")

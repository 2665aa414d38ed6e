"""Measure with a turned ring, a dial and a torque wrench: grip of a chuck, friction of jaws on a part."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from heldtrue.commands.common import (
    AsJson,
    InUnits,
    Paper,
    SetupFile,
    Units,
    print_json,
    said,
    screen,
    typed_diameter,
    typed_gauge,
    typed_quantity,
    write,
)
from heldtrue.commands.memory import By, Records, memory, name_of, now, remembered
from heldtrue.errors import InputError

if TYPE_CHECKING:
    from heldtrue.inspection.friction_reading import Way
    from heldtrue.planning.entries import Chuck
    from heldtrue.records import ChuckRecord

ring = typer.Typer(help="A turned ring as a gauge of a chuck's grip: design it, read it.", no_args_is_help=True)
friction = typer.Typer(help="Friction of jaws on a part, by torque wrench or scale.", no_args_is_help=True)
ChuckName = Annotated[
    str, typer.Argument(metavar="CHUCK", help="Inventory number of the chuck in the records, or its file (TOML).")
]
Enter = Annotated[bool, typer.Option("--enter", help="Enter what was found in the records.")]


@ring.command()
def design(
    chuck_name: ChuckName,
    diameter: Annotated[
        str | None, typer.Option(help="Diameter the jaws press on; 0.6 of the chuck's body if left out.")
    ] = None,
    side: Annotated[Literal["outside", "inside"], typer.Option(help="Grip on its outside, or inside.")] = "outside",
    widest: Annotated[str | None, typer.Option(help="The ring is no wider along the axis; 40 mm if left out.")] = None,
    most_pressure: Annotated[
        str | None, typer.Option(help="Largest pressure it will be used at; that of the plate if left out.")
    ] = None,
    number: Annotated[str, typer.Option(help="Number to engrave on it.")] = "",
    out: Annotated[
        Path | None, typer.Option(help="Write its file and its drawing (PDF, DXF) into this folder.")
    ] = None,
    as_json: AsJson = False,
    units: InUnits = None,
    paper: Annotated[Paper, typer.Option(help="Paper of the drawing.")] = "a4",
    records: Records = None,
) -> None:
    """A gauge ring for a chuck: strong enough for its full grip, soft enough for a dial."""
    from heldtrue.inspection.ring_design import design_ring
    from heldtrue.shop.gauge_rings import gauge_of, ring_for

    chuck, card = _chuck(chuck_name, records)
    system: Units = units or "metric"
    gauge = gauge_of(chuck, card)
    wanted = None if diameter is None else typed_diameter("--diameter", diameter, system)
    width = None if widest is None else typed_quantity("--widest", widest, "length", system)
    pressure = None if most_pressure is None else typed_gauge("--most-pressure", most_pressure, gauge)
    made = design_ring(ring_for(chuck, side, wanted, width, pressure, number))
    if out is not None:
        from heldtrue.sheets.gauge_ring_sheet import ring_folder

        write({out / name: content for name, content in ring_folder(made, system, paper, gauge).items()})
    if as_json:
        from heldtrue.inspection.ring_document import design_document
        from heldtrue.json_document import to_json

        print_json(to_json(design_document(made)))
        return
    from heldtrue.terminal.gauge_ring import show_design

    show_design(screen(), made, system, gauge)


@ring.command()
def read(
    chuck_name: ChuckName,
    ring_file: Annotated[Path, typer.Option("--ring", help="File of the gauge ring (TOML).")],
    readings_file: Annotated[Path, typer.Option("--readings", help="File of the readings (TOML).")],
    enter: Enter = False,
    by: By = None,
    as_json: AsJson = False,
    units: InUnits = None,
    records: Records = None,
) -> None:
    """What the readings of a gauge ring say: the force of every jaw, the line of grip against pressure."""
    from heldtrue.inspection.ring_file import gauge_ring, ring_rounds
    from heldtrue.inspection.ring_reading import read_ring
    from heldtrue.shop.gauge_rings import check_fits, enter_once, gauge_of, rows_of

    chuck, card = _chuck(chuck_name, records)
    gauge, made = gauge_ring(ring_file)
    rounds = ring_rounds(readings_file)
    check_fits(made, rounds, chuck)
    answer = read_ring(gauge, rounds, chuck.max_grip_force)
    entered: list[str] = []
    if enter:
        if card is None:
            raise InputError(f"--enter needs the chuck in the records: heldtrue chuck add {chuck_name}")
        who = name_of(by)
        rows = rows_of(answer, made, card, now(), who)
        with memory(records) as store:
            entered = list(enter_once(store, rows, who))
    if as_json:
        from heldtrue.inspection.ring_document import answer_document
        from heldtrue.json_document import to_json

        print_json(to_json(answer_document(answer, entered)))
        return
    from heldtrue.terminal.gauge_ring import show_answer

    show_answer(screen(), answer, units or "metric", gauge_of(chuck, card))
    if entered:
        said(f"{len(entered)} reading{'s are' if len(entered) > 1 else ' is'} in the log of {chuck_name}")


@friction.command("read")
def read_friction(
    setup_file: SetupFile,
    pressure: Annotated[str, typer.Option(help="Low gauge pressure it was clamped with.")],
    torque: Annotated[
        list[str] | None, typer.Option(help='Torque at which it slipped, once for each clamping, such as "35 N m".')
    ] = None,
    pull: Annotated[
        list[str] | None, typer.Option(help='Or the pull along the axis at which it slipped, such as "900 N".')
    ] = None,
    wet: Annotated[
        bool | None, typer.Option("--wet/--dry", help="Was it tried as wet as it runs, or dry? Must be said.")
    ] = None,
    error: Annotated[float | None, typer.Option(help="Error of wrench or scale in percent, 95 %.")] = None,
    enter: Enter = False,
    by: By = None,
    as_json: AsJson = False,
    units: InUnits = None,
    records: Records = None,
) -> None:
    """Friction of these jaws on this part, from what it took to make it slip, three to five times."""
    from heldtrue.planning.setup import Setup
    from heldtrue.planning.window import gauge_unit_of
    from heldtrue.shop.enter import setup_id
    from heldtrue.shop.gauge_rings import enter_once, friction_row, friction_tried

    if wet is None:
        raise InputError("say --wet or --dry: a dry trial says nothing good of a part that may be wet")
    typed_in = Setup.from_toml(setup_file)
    system: Units = units or typed_in.units
    way, values = _slips(torque, pull, system)
    setup = remembered(typed_in, records, silent=as_json)
    tried = typed_gauge("--pressure", pressure, gauge_unit_of(setup), setup.chuck.plate_pressure)
    trial = friction_tried(setup, tried, way, values, None if error is None else error / 100)
    entered = None
    if enter:
        who = name_of(by)
        row = friction_row(trial.found, setup, now(), who, oiled=wet, setup_id=setup_id(setup, setup_file))
        with memory(records) as store:
            (entered,) = enter_once(store, [row], who)
    if as_json:
        from heldtrue.inspection.ring_document import friction_document
        from heldtrue.json_document import to_json

        print_json(to_json(friction_document(trial.found, trial.grip, asdict(trial.of), oiled=wet, entered=entered)))
        return
    from heldtrue.terminal.gauge_ring import show_friction

    show_friction(screen(), trial.found, trial.grip, trial.of, system, oiled=wet)
    if entered:
        said("it is in the records: plans of this material and surface in jaws like these use it")


@friction.command("sheet")
def friction_sheet(
    setup_file: SetupFile,
    out: Annotated[Path, typer.Option(help="Write the page to this PDF.")],
    units: InUnits = None,
    paper: Annotated[Paper, typer.Option(help="Paper of the page.")] = "a4",
    records: Records = None,
) -> None:
    """A page to try friction with: pressure, what it should take, steps, and a table for the slips."""
    from heldtrue.planning.setup import Setup
    from heldtrue.sheets.friction_sheet import friction_pdf

    typed_in = Setup.from_toml(setup_file)
    write({out: friction_pdf(remembered(typed_in, records), units or typed_in.units, paper)})


def _slips(torque: list[str] | None, pull: list[str] | None, system: Units) -> tuple[Way, tuple[float, ...]]:
    """What was typed of the slips. [N mm or N]"""
    from heldtrue.inspection.friction_reading import slip_values

    if bool(torque) == bool(pull):
        raise InputError("give --torque or --pull, once for every slip")
    way: Way = "torque" if torque else "pull"
    kind = "torque" if torque else "force"
    return way, slip_values(torque or pull or [], lambda one: typed_quantity(f"--{way}", one, kind, system))


def _chuck(name: str, records: str | None) -> tuple[Chuck, ChuckRecord | None]:
    """The chuck of a file, or of the records with its card."""
    from heldtrue.planning.hardware_file import chuck_from
    from heldtrue.planning.toml_file import read_toml
    from heldtrue.records import ChuckRecord
    from heldtrue.shop.enter import card_of
    from heldtrue.shop.gauge_rings import chuck_of

    if name.endswith(".toml"):
        return chuck_from(read_toml(name), name)[0], None
    with memory(records, create=False) as store:
        card = card_of(store, ChuckRecord, name, "chuck")
    return chuck_of(card), card

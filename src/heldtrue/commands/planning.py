"""Plan a setup, look for ways to hold it, compare jaws, look at the contact."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

import os
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from heldtrue.commands.common import (
    DOES_NOT_PASS,
    STOPPED,
    AsJson,
    InUnits,
    Paper,
    SetupFile,
    check_file,
    check_folder,
    check_new_file,
    gauge_pressure,
    print_json,
    screen,
    working,
    write,
)
from heldtrue.commands.memory import Records, remembered, repeat_of_file, shop_of
from heldtrue.errors import InputError


def plan(
    setup_file: SetupFile,
    as_json: AsJson = False,
    sheet: Annotated[Path | None, typer.Option(help="Write the floor sheet to this PDF file.")] = None,
    drawings: Annotated[Path | None, typer.Option(help="Write the drawings (SVG) into this folder.")] = None,
    units: InUnits = None,
    paper: Annotated[Paper, typer.Option(help="Paper of the floor sheet.")] = "a4",
    records: Records = None,
) -> None:
    """Does the part stay in, at what pressure, how fast, and how round does it come off?"""
    from heldtrue.planning.setup import Setup

    from_file = Setup.from_toml(setup_file)
    setup = remembered(from_file, records)
    system = units or setup.units
    if sheet is not None:
        check_file(sheet, setup_file)
    if drawings is not None:
        check_folder(drawings)
    outputs: dict[Path, bytes | str] = {}
    with working("planning") as say:
        from heldtrue.planning.plan import plan as make_plan

        say("solving part, contact and grip")
        made = make_plan(setup)
        if sheet is not None:
            from heldtrue.sheets.floor_sheet import floor_sheet

            say("setting the floor sheet")
            repeat = repeat_of_file(setup_file, from_file, records)
            outputs[sheet] = floor_sheet(made, system, paper, repeat=repeat, printed=date.today())
        if drawings is not None:
            from heldtrue.drawing.all_pictures import all_drawings

            say("drawing")
            outputs |= {drawings / name: svg for name, svg in all_drawings(made, system).items()}
    write(outputs)
    if as_json:
        from heldtrue.planning.document import to_json

        print_json(to_json(made))
    else:
        from heldtrue.terminal.plan import show_plan

        show_plan(screen(), made, system)
    raise typer.Exit(0 if made.verdict == "passes" else DOES_NOT_PASS)


def measure(
    setup_file: SetupFile,
    as_json: AsJson = False,
    drawings: Annotated[Path | None, typer.Option(help="Write the picture of what decides into this folder.")] = None,
    units: InUnits = None,
    records: Records = None,
) -> None:
    """Which one measurement pays: what each would do to the window, and the chance that the plan then passes."""
    from heldtrue.planning.setup import Setup

    setup = remembered(Setup.from_toml(setup_file), records)
    system = units or setup.units
    if drawings is not None:
        check_folder(drawings)
    outputs: dict[Path, bytes | str] = {}
    with working("measurements") as say:
        from heldtrue.planning.odds.what_to_measure import what_to_measure

        made = what_to_measure(setup, progress=say)
        if drawings is not None and made.decided is not None:
            from heldtrue.drawing.odds import draw_odds

            say("drawing")
            outputs[drawings / "odds.svg"] = draw_odds(made.plan, made.decided, made.known, system)
    write(outputs)
    if as_json:
        from heldtrue.planning.odds.odds_document import measurements_json

        print_json(measurements_json(made.plan, made.found, made.pair, made.decided))
    else:
        from heldtrue.terminal.odds import show_measurements

        show_measurements(screen(), made.plan, made.found, made.pair, made.decided, system)


def assumptions(
    setup_file: SetupFile,
    as_json: AsJson = False,
    units: InUnits = None,
    records: Records = None,
) -> None:
    """Every input with its range, its spread, where both come from, and the key that changes it."""
    from heldtrue.planning.inputs import prepare
    from heldtrue.planning.odds.assumptions import assumptions_of
    from heldtrue.planning.setup import Setup
    from heldtrue.planning.window import gauge_unit_of

    setup = remembered(Setup.from_toml(setup_file), records)
    rows = assumptions_of(prepare(setup))
    if as_json:
        from heldtrue.planning.odds.odds_document import assumptions_json

        print_json(assumptions_json(setup.title, rows, gauge_unit_of(setup)))
    else:
        from heldtrue.terminal.odds import show_assumptions

        show_assumptions(screen(), rows, units or setup.units)


def ways(
    setup_file: SetupFile,
    as_json: AsJson = False,
    most: Annotated[int, typer.Option(min=1, max=1000, help="Work out so many ways in full, at the most.")] = 12,
    drawings: Annotated[Path | None, typer.Option(help="Write the section of each way (SVG) into this folder.")] = None,
    take: Annotated[int | None, typer.Option(min=1, help="Take over the way of this number; needs --setup.")] = None,
    setup: Annotated[Path | None, typer.Option(help="Write the way taken over to this setup file (TOML).")] = None,
    units: InUnits = None,
    records: Records = None,
) -> None:
    """How should I hold this part: every surface and every jaw, the best few worked out, and why the rest lose.

    Stopped with Ctrl-C, it shows what it has found by then.
    """
    from heldtrue.planning.setup import Setup

    if (take is None) != (setup is None):
        raise InputError("--take NUMBER and --setup NEW.toml go together")
    as_written = Setup.from_toml(setup_file)
    stated = remembered(as_written, records)
    if setup is not None:
        check_new_file(setup, setup_file)
    if drawings is not None:
        check_folder(drawings)
    with working("ways") as say, shop_of(records, as_written) as (cost, chucks):
        from heldtrue.planning.ways import ways as find_ways

        found = find_ways(
            stated, cost=cost, chucks=chucks, most=most, processes=min(os.cpu_count() or 1, 4), progress=say
        )
        listed = (*found.best, *found.beaten)
        outputs: dict[Path, bytes | str] = {}
        if setup is not None and take is not None:
            if take > len(listed):
                raise InputError(f"--take {take}: there are {len(listed)} ways that were worked out")
            from heldtrue.planning.toml_text import toml_of

            outputs[setup] = toml_of(listed[take - 1].setup.to_dict())
        if drawings is not None:
            from heldtrue.drawing.section import draw_section

            say("drawing")
            for number, way in enumerate(listed, start=1):
                outputs[drawings / f"way-{number}.svg"] = draw_section(way.plan, units or stated.units)
    write(outputs)
    if as_json:
        from heldtrue.planning.way_document import ways_json

        print_json(ways_json(found))
    else:
        from heldtrue.terminal.ways import show_ways

        show_ways(screen(), found, units or stated.units)
    if found.stopped:
        raise typer.Exit(STOPPED)
    raise typer.Exit(0 if any(way.plan.verdict == "passes" for way in found.best) else DOES_NOT_PASS)


def compare(setup_file: SetupFile, as_json: AsJson = False, units: InUnits = None, records: Records = None) -> None:
    """The same operation with other jaws, the other side, more jaws: which holds truest, and why the rest lose."""
    from heldtrue.planning.setup import Setup

    setup = remembered(Setup.from_toml(setup_file), records)
    with working("comparing") as say:
        from heldtrue.planning.compare import compare as make_comparison

        ways = make_comparison(setup, progress=say)
    if as_json:
        from heldtrue.planning.document import comparison_json

        print_json(comparison_json(ways, setup))
    else:
        from heldtrue.terminal.plan import show_comparison

        show_comparison(screen(), ways, units or setup.units)
    passes = any(way.plan is not None and way.plan.verdict == "passes" for way in ways)
    raise typer.Exit(0 if passes else DOES_NOT_PASS)


def contact(
    setup_file: SetupFile,
    pressure: Annotated[
        str | None, typer.Option(help='Gauge pressure, such as "18 bar"; that of the finish if left out.')
    ] = None,
    as_json: AsJson = False,
    drawings: Annotated[Path | None, typer.Option(help="Write the contact prints (SVG) into this folder.")] = None,
    units: InUnits = None,
    records: Records = None,
) -> None:
    """How do the jaws bear on the part, what taper do I cut, what do I bore them to?"""
    from heldtrue.planning.setup import Setup

    setup = remembered(Setup.from_toml(setup_file), records)
    system = units or setup.units
    if pressure is not None:
        setup = setup.with_({"run.pressure": gauge_pressure(pressure, setup.units)})
    if drawings is not None:
        check_folder(drawings)
    with working("contact") as say:
        from heldtrue.planning.jaw_contact import contact as make_contact

        say("pressing part and jaws together")
        made = make_contact(setup)
        outputs: dict[Path, bytes | str] = {}
        if drawings is not None:
            from heldtrue.drawing.all_pictures import contact_drawings

            say("drawing")
            outputs = {drawings / name: svg for name, svg in contact_drawings(made, system).items()}
    write(outputs)
    if as_json:
        from heldtrue.planning.contact_document import contact_json

        print_json(contact_json(made))
    else:
        from heldtrue.terminal.contact import show_contact

        show_contact(screen(), made, system)

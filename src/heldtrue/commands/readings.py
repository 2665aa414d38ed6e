"""What the shop measures: an indicator, a feeler or a print, sizes part after part; and what is learned from it."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from heldtrue.commands.common import (
    AsJson,
    InUnits,
    Paper,
    SetupFile,
    gauge_pressure,
    print_json,
    screen,
    typed_quantity,
    working,
    write,
)
from heldtrue.commands.memory import By, Records, memory, name_of, now
from heldtrue.commands.readings_typed import (
    Side,
    Touch,
    Unit,
    bearing,
    check_outputs,
    cut_read,
    known_base,
    limit,
    parts_read,
    read_text,
    setup_at,
    surface_read,
    taught_for_causes,
    title_of,
    traces_of,
)
from heldtrue.errors import InputError

if TYPE_CHECKING:
    from heldtrue.inspection.readings import Trace
    from heldtrue.planning.setup import Setup, Surface
    from heldtrue.quantities import UnitSystem
    from heldtrue.shop.learned import Knowledge
    from heldtrue.shop.read_out import ReadOut
    from heldtrue.shop.taught import Taught

GripSide = Literal["outside", "inside"]
Made = Literal["here", "before"]

Sheet = Annotated[Path | None, typer.Option(help="Write one page for the file to this PDF.")]
Drawings = Annotated[Path | None, typer.Option(help="Write the drawings (SVG) into this folder.")]
OnPaper = Annotated[Paper, typer.Option(help="Paper of the page.")]
Pressure = Annotated[
    str | None, typer.Option(help='Gauge pressure it was clamped at, such as "18 bar"; that of the finish if left out.')
]
Gap = Annotated[str | None, typer.Option(help='Gap by feeler, and where: "0.10 mm at tip" or "0.05 mm at base".')]
Touches = Annotated[Touch | None, typer.Option(help="Which end of the grip touches, by bluing.")]
Length = Annotated[str | None, typer.Option(help='How far the print runs from that end, such as "8 mm".')]
Dial = Annotated[str, typer.Option(help="Number of the dial; any of its division if left out.")]
Taper = Annotated[
    str | None, typer.Option("--taper", help='Taper the jaws have now, per side; that of the setup if left out.')
]  # fmt: skip


def indicator(
    readings_file: Annotated[
        Path | None, typer.Argument(metavar="[READINGS]", help="Readings (CSV): angle from jaw 1, reading.")
    ] = None,
    typed: Annotated[
        str | None, typer.Option(help='Readings typed: "0:5 60:7 120:4 ..." in degrees, or "jaw1:5 jaw2:7 ...".')
    ] = None,
    unit: Annotated[Unit | None, typer.Option(help="Unit of typed readings; mm or in if left out.")] = None,
    setup_file: Annotated[Path | None, typer.Option("--setup", help="Compare with the plan of this setup.")] = None,
    surface: Annotated[str | None, typer.Option(help="Surface of the setup that was read.")] = None,
    side: Annotated[Side | None, typer.Option(help="Surface read; of the setup, or outside, if left out.")] = None,
    grip: Annotated[GripSide | None, typer.Option(help="Grip; of the setup, or outside, if left out.")] = None,
    jaws: Annotated[int | None, typer.Option(help="Number of jaws; of the setup, or 3, if left out.")] = None,
    resolution: Annotated[
        str | None, typer.Option(help='One division of the dial, such as "0.001 mm"; from the digits if left out.')
    ] = None,
    dial: Dial = "",
    tolerance: Annotated[str | None, typer.Option(help="Run-out tolerance; that of the surface if left out.")] = None,
    pressure: Pressure = None,
    made: Annotated[
        Made | None, typer.Option(help="Was the surface turned here, in the clamping read first, or before?")
    ] = None,
    as_json: AsJson = False,
    sheet: Sheet = None,
    drawings: Drawings = None,
    units: InUnits = None,
    paper: OnPaper = "a4",
    records: Records = None,
) -> None:
    """What do these indicator readings say: which jaw, which cause, and what is the next test?"""
    from heldtrue.planning.result import CAUTIONS

    if (readings_file is None) == (typed is None):
        raise InputError("give either a file of readings or --typed readings")
    if setup_file is None and (surface is not None or pressure is not None):
        raise InputError("--surface and --pressure need --setup: the plan is what they are compared with")
    if setup_file is None and dial:
        raise InputError("--dial needs --setup: what a dial repeats to is kept with the chuck")
    setup = setup_at(setup_file, pressure, records) if setup_file is not None else None
    system: UnitSystem = units or (setup.units if setup else "metric")
    chosen = surface_read(setup, surface, side)
    count = jaws or ((setup.jaws.count or setup.chuck.jaws) if setup else 3)
    looks: Side = chosen.side if chosen else side or "outside"
    traces = traces_of(readings_file, typed, unit, setup.units if setup else system, looks, count)
    asked = None if tolerance is None else typed_quantity("--tolerance", tolerance, "length", system)
    step = None if resolution is None else typed_quantity("--resolution", resolution, "length", system)
    check_outputs(sheet, drawings, readings_file, setup_file)
    taught = None if setup is None else taught_for_causes(setup, records)
    answer = _answer(
        traces, count, step, setup, chosen, grip, asked, title_of(readings_file, setup, chosen), made or "", taught,
        dial,
    )  # fmt: skip
    write(_papers(answer, sheet, drawings, system, paper))
    if as_json:
        from heldtrue.inspection.document import indicator_document
        from heldtrue.json_document import to_json

        read, beside = answer.read, answer.read.beside
        print_json(to_json(indicator_document(
            read.results, read.found, CAUTIONS, surface=chosen.name if chosen else None, budget=read.budget,
            comparisons=beside.comparisons if beside else (), plan_words=beside.words if beside else (),
        )))  # fmt: skip
        return
    from heldtrue.terminal.readings import show_indicator

    read = answer.read
    show_indicator(screen(), read.results, read.found, CAUTIONS, system, beside=read.beside, gauge=answer.gauge,
                   title=answer.title, budget=read.budget)  # fmt: skip


@dataclass(frozen=True)
class _Answer:
    """All that is shown of indicator readings, and how."""

    read: ReadOut
    title: str
    gauge: str = "bar"


def _answer(
    traces: Sequence[Trace], jaws: int, resolution: float | None, setup: Setup | None, surface: Surface | None,
    grip: GripSide | None, tolerance: float | None, title: str,
    where: Literal["", "here", "before"], taught: Taught | None = None, dial: str = "",
) -> _Answer:  # fmt: skip
    from heldtrue.shop.read_out import read_out

    if setup is None or surface is None:
        made = read_out(traces, jaws, resolution=resolution, grip_side=grip, tolerance=tolerance, made=where)
        return _Answer(made, title)
    from heldtrue.planning.window import gauge_unit_of
    from heldtrue.shop.against_plan import expected

    alone = read_out(traces, jaws, resolution=resolution, grip_side=grip, setup=setup, surface=surface)
    states = {"free" if one.trace.state == "free" else "clamped" for one in alone.results}
    with working("indicator") as say:
        say("planning the setup to compare with")
        plan = expected(setup, surface, sorted(states, reverse=True))
    made = read_out(traces, jaws, resolution=resolution, grip_side=grip, tolerance=tolerance, setup=setup,
                    surface=surface, plan=plan, made=where, taught=taught, dial=dial)  # fmt: skip
    return _Answer(made, title, gauge_unit_of(setup))


def _papers(
    made: _Answer, sheet: Path | None, drawings: Path | None, system: UnitSystem, paper: Paper
) -> dict[Path, bytes | str]:
    """What is to be written of it."""
    from heldtrue.planning.result import CAUTIONS

    read = made.read
    outputs: dict[Path, bytes | str] = {}
    if sheet is not None:
        from heldtrue.sheets.readings_sheet import indicator_sheet

        outputs[sheet] = indicator_sheet(read.results, read.found, CAUTIONS, system, paper, title=made.title,
                                         beside=read.beside, gauge=made.gauge, budget=read.budget)  # fmt: skip
    if drawings is not None:
        from heldtrue.drawing.readings import draw_indicator

        outputs |= {drawings / f"indicator-{n}.svg": draw_indicator(one, system, jaw=read.found.jaw)
                    for n, one in enumerate(read.results, 1)}  # fmt: skip
    return outputs


def taper(
    setup_file: SetupFile,
    gap: Gap = None,
    touch: Touches = None,
    length: Length = None,
    now_taper: Taper = None,
    pressure: Pressure = None,
    part: Annotated[
        list[str] | None,
        typer.Option(
            help='A finished part: Ø front, Ø back, pressure, "free" or "clamped" when read, such as '
            '"50.012 50.004 25 bar free"; repeat.'
        ),
    ] = None,
    parts_file: Annotated[
        Path | None, typer.Option("--parts", help="Finished parts, one a line as with --part.")
    ] = None,
    surface: Annotated[str | None, typer.Option(help="Surface of the setup that the parts were read on.")] = None,
    over: Annotated[
        str | None, typer.Option(help="From front to back where the parts were read; the whole surface if left out.")
    ] = None,
    dial: Annotated[str, typer.Option(help="Number of the micrometer that read the parts.")] = "",
    as_json: AsJson = False,
    units: InUnits = None,
    records: Records = None,
) -> None:
    """What feeler, bluing or tapered parts showed: what taper do I cut next, when do I stop, is it the jaws at all?"""
    setup = setup_at(setup_file, pressure, records)
    system = units or setup.units
    parts = parts_read(part, parts_file, surface, over, setup, dial=dial, records=records)
    looked = bool(gap or touch or length) or parts is None
    seen = bearing(gap, touch, length, setup.units) if looked else None
    has = None if now_taper is None else typed_quantity("--taper", now_taper, "length", setup.units)
    with working("taper") as say:
        from heldtrue.planning.window import gauge_unit_of
        from heldtrue.shop.next_cut import next_cut

        say("pressing part and jaws together")
        cut = next_cut(setup, seen, has, known_base(setup, records), parts)
    if as_json:
        from heldtrue.shop.taper_document import taper_text

        print_json(taper_text(cut))
        return
    from heldtrue.terminal.readings import show_taper

    show_taper(screen(), cut, system, gauge_unit_of(setup))


def drift(
    measurements_file: Annotated[
        Path,
        typer.Argument(metavar="MEASUREMENTS", help="Measurements (CSV), one row for each part.", show_default=False),
    ],
    limits: Annotated[
        list[str] | None, typer.Option(help='Limits of a column, as "bore_mm=59.98..60.02" or "runout=..0.03"; repeat.')
    ] = None,
    as_json: AsJson = False,
    sheet: Annotated[Path | None, typer.Option(help="Write a page for each characteristic to this PDF.")] = None,
    drawings: Drawings = None,
    units: InUnits = None,
    paper: OnPaper = "a4",
) -> None:
    """Do the sizes drift, what changed them, and how many parts are left before the limit?"""
    from heldtrue.inspection import read_drift, read_measurements
    from heldtrue.planning.result import CAUTIONS

    system: UnitSystem = units or "metric"
    check_outputs(sheet, drawings, measurements_file, None)
    asked = dict(limit(text, system) for text in limits or ())
    found = read_drift(read_measurements(read_text(measurements_file), system, asked))
    outputs: dict[Path, bytes | str] = {}
    if sheet is not None:
        from heldtrue.sheets.readings_sheet import drift_sheet

        outputs[sheet] = drift_sheet(found, CAUTIONS, system, paper, title=measurements_file.stem)
    if drawings is not None:
        from heldtrue.drawing.readings import draw_drift

        outputs |= {
            drawings / f"drift-{n}-{re.sub(r'[^a-z0-9]+', '-', one.series.name)}.svg": draw_drift(one, system)
            for n, one in enumerate(found, 1)
        }
    write(outputs)
    if as_json:
        from heldtrue.inspection.shop_documents import drift_document
        from heldtrue.json_document import to_json

        print_json(to_json(drift_document(found, CAUTIONS)))
        return
    from heldtrue.terminal.readings import show_drift

    show_drift(screen(), found, CAUTIONS, system)


def learn(
    setup_file: SetupFile,
    gap: Gap = None,
    touch: Touches = None,
    length: Length = None,
    now_taper: Taper = None,
    force: Annotated[str | None, typer.Option(help='Grip gauge: grip of all jaws together, such as "62 kN".')] = None,
    pressure: Pressure = None,
    cut: Annotated[
        str | None, typer.Option(help="Cut of the setup in which the power of the spindle was read.")
    ] = None,
    power: Annotated[str | None, typer.Option(help='Power of the spindle in that cut, such as "4.3 kW".')] = None,
    idle: Annotated[str | None, typer.Option(help="The same turning free at that speed.")] = None,
    speed: Annotated[str | None, typer.Option(help="Spindle speed of both, per minute.")] = None,
    diameter: Annotated[
        str | None, typer.Option(help="Diameter that was turned, where the cut works on several.")
    ] = None,
    readings_file: Annotated[
        Path | None,
        typer.Option("--indicator", help="Indicator readings (CSV) to keep with the jaw set and its last run."),
    ] = None,
    surface: Annotated[str | None, typer.Option(help="Surface of the setup that was read.")] = None,
    again: Annotated[
        str | None,
        typer.Option(help='Places read again with one dial: "5.1 5.2 5.1; 7.0 7.1 7.1", a semicolon between places.'),
    ] = None,
    unit: Annotated[Unit | None, typer.Option(help="Unit of --again; mm or in if left out.")] = None,
    dial: Dial = "",
    remark: Annotated[str, typer.Option(help="Anything to know later.")] = "",
    as_json: AsJson = False,
    units: InUnits = None,
    by: By = None,
    records: Records = None,
) -> None:
    """Accept a reading for this chuck and these jaws, and say what is known of them; without a reading only say it."""
    from heldtrue.inspection.repeats import typed_repeats
    from heldtrue.planning.setup import Setup
    from heldtrue.shop.against_plan import surface_of

    given = bool(gap or touch or length or force or readings_file or cut or power or idle or speed or diameter or again)
    setup = Setup.from_toml(setup_file)
    system, bare = units or setup.units, setup.units
    who = name_of(by) if given else ""
    if force is not None and pressure is None:
        raise InputError("--force needs --pressure: what the pressure gauge showed")
    if dial and readings_file is None and again is None:
        raise InputError("--dial needs --indicator or --again: the readings that were taken with it")
    from heldtrue.shop.accepting import accept_bearing, accept_grip, accept_traces, chuck_card, knowledge_of
    from heldtrue.shop.enter import setup_id
    from heldtrue.shop.learned_force import accept_force
    from heldtrue.shop.learned_repeat import accept_study, dial_key

    at = None if pressure is None else gauge_pressure(pressure, bare)
    cut_seen = cut_read(cut, power, idle, speed, diameter, bare)
    study = None if again is None else typed_repeats(again, unit or ("mm" if bare == "metric" else "in"))
    with memory(records, create=given) as store:
        card = chuck_card(store, setup)
        stored: list[str] = []
        if gap or touch or length:
            has = None if now_taper is None else typed_quantity("--taper", now_taper, "length", bare)
            seen = bearing(gap, touch, length, bare)
            with working("learning"):
                stored += accept_bearing(store, card, setup, seen, who, now(), pressure=at, taper=has, remark=remark)
        if force is not None and at is not None:
            total = typed_quantity("--force", force, "force", bare)
            stored += accept_grip(store, card, total, at, who, now(), remark=remark)
        if cut_seen is not None:
            stored += accept_force(store, chuck_card(store, setup), setup, cut_seen, who, now())
        if study is not None:
            found, division = study
            stored += accept_study(store, chuck_card(store, setup), found, dial_key(dial, division), who, now())
        if readings_file is not None:
            id, read, count = setup_id(setup, setup_file), surface_of(setup, surface), setup.jaws.count
            traces = traces_of(readings_file, None, None, bare, read.side, count or setup.chuck.jaws)
            stored += accept_traces(store, setup, id, read, traces, who, now(), remark=remark, dial=dial)
        known = knowledge_of(store, chuck_card(store, setup), setup, now())
    _show_known(card.id, stored, known, system, as_json=as_json)


def _show_known(
    chuck: str, stored: Sequence[str], known: Sequence[Knowledge], system: UnitSystem, *, as_json: bool
) -> None:
    from heldtrue.planning.result import CAUTIONS

    if as_json:
        from heldtrue.inspection.shop_documents import learned_document
        from heldtrue.json_document import to_json

        rows = [(one.learned, one.unit, one.words(system), [one.flag_words(f, system) for f in one.learned.flagged])
                for one in known]  # fmt: skip
        print_json(to_json(learned_document(chuck, stored, rows, CAUTIONS)))
        return
    from heldtrue.terminal.readings import show_learned

    show_learned(screen(), known, stored, CAUTIONS, system)

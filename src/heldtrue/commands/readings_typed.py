"""What is typed for readings: gaps, limits, tables; the setup, surface and chuck they belong to."""

# Heavy modules are imported inside the functions: help and errors must not wait for the finite element kernel.
from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Literal, TypeVar

from heldtrue.commands.common import check_file, check_folder, gauge_pressure, typed_diameter, typed_quantity
from heldtrue.commands.memory import memory, remembered
from heldtrue.errors import InputError

if TYPE_CHECKING:
    from heldtrue.inspection.readings import Trace
    from heldtrue.inspection.taper import Bearing
    from heldtrue.planning.setup import Setup, Surface
    from heldtrue.quantities import UnitSystem
    from heldtrue.records import Store
    from heldtrue.shop.learned import Knowledge
    from heldtrue.shop.learned_force import CutRead
    from heldtrue.shop.part_cause import Parts
    from heldtrue.shop.taught import Taught

Side = Literal["outside", "inside", "face"]
Touch = Literal["base", "tip", "all"]
Unit = Literal["mm", "um", "in", "thou"]
Known = TypeVar("Known")


def bearing(gap: str | None, touch: Touch | None, length: str | None, system: UnitSystem) -> Bearing:
    """What a feeler or the bluing showed, as typed.

    Raises: ``InputError`` where nothing was given, or both ends are said to touch.
    """
    from heldtrue.inspection.taper import Bearing

    size: float | None = None
    where: Literal["base", "tip"] | None = None
    if gap is not None:
        match = re.fullmatch(r"(.+?)\s*(?:\bat\b|@)?\s*\b(?:the\s+)?(tip|base|seat)", gap.strip(), re.IGNORECASE)
        if match is None:
            raise InputError(f'--gap: found "{gap}"; expected a gap and where: "0.10 mm at tip" or "0.10 mm at base"')
        size = typed_quantity("--gap", match[1], "length", system)
        where = "base" if match[2].lower() == "tip" else "tip"
    if touch is None and where is None:
        raise InputError('say what was seen: --gap "0.10 mm at tip", or --touch base --length "8 mm"')
    if touch is not None and where is not None and touch != where:
        raise InputError(f"--gap at the {'tip' if where == 'base' else 'base'} and --touch {touch} do not go together")
    run = None if length is None else typed_quantity("--length", length, "length", system)
    if touch in ("base", "tip") and size is None and run is None:
        raise InputError(f'--touch {touch}: give --length "8 mm", how far the print runs, or the gap with --gap')
    if touch == "all" and run is not None:
        raise InputError("--length: a print all along has no end to measure to; leave it out")
    return Bearing("all along" if touch == "all" else touch or where or "base", size, run)


def parts_read(
    typed: list[str] | None, path: Path | None, surface: str | None, over: str | None, setup: Setup, *,
    dial: str = "", records: str | None = None,
) -> Parts | None:  # fmt: skip
    """Finished parts, typed or from a file; None where there are none.

    ``dial``: number of the micrometer, looked up in the records.
    Raises: ``InputError`` for lines nobody can read, or a surface without parts.
    """
    from heldtrue.inspection.part_sizes import typed_parts
    from heldtrue.planning.window import gauge_unit_of
    from heldtrue.shop.part_cause import Parts

    gauge = gauge_unit_of(setup)
    rows = typed_parts("\n".join(typed or ()), setup.units, gauge)
    if path is not None:
        rows += typed_parts(read_text(path), setup.units, gauge)
    if not rows:
        if path is not None or typed or surface or over or dial:
            raise InputError('no part was given; --part "50.012 50.004 25 bar free": Ø front, Ø back, pressure, state')
        return None
    from heldtrue.shop.learned_repeat import known_repeat

    far = None if over is None else typed_quantity("--over", over, "length", setup.units)
    repeat = _of_records(records, lambda store: known_repeat(store, setup, dial)) if dial else None
    return Parts(rows, surface or "", far, repeat)


def limit(text: str, system: UnitSystem) -> tuple[str, tuple[float | None, float | None]]:
    """Name of a column and its limits [mm], as typed after --limits.

    Raises: ``InputError`` where it cannot be read.
    """
    from heldtrue.inspection.table import column

    name, sign, values = text.partition("=")
    low, dots, high = values.partition("..")
    if not (sign and dots and name.strip() and (low.strip() or high.strip())):
        raise InputError(f'--limits: found "{text}"; expected a column and its limits: bore_mm=59.98..60.02')
    head = column(name)
    found = []
    for end in (low.strip(), high.strip()):
        bare = re.fullmatch(r"[-+−]?[\d.,]+", end) is not None
        typed = f"{end} {head.unit}" if bare and head.unit else end
        found.append(typed_quantity("--limits", typed.replace("−", "-"), "length", system) if end else None)
    return head.name, (found[0], found[1])


def read_text(path: Path) -> str:
    """A text file as people save it.

    Raises: ``InputError`` where it cannot be read.
    """
    from heldtrue.inspection.table import text_of

    try:
        raw = path.read_bytes()
    except OSError as error:
        raise InputError(f"cannot read {path}: {(error.strerror or str(error)).lower()}") from error
    return text_of(raw, str(path))


def traces_of(
    path: Path | None, typed: str | None, unit: Unit | None, system: UnitSystem, side: Side, jaws: int
) -> tuple[Trace, ...]:
    """Traces of a file or typed in one line."""
    from heldtrue.inspection import read_readings, typed_readings

    if path is None:
        bare: Unit = "mm" if system == "metric" else "in"
        return (typed_readings(typed or "", unit or bare, side, jaws),)
    if unit is not None:
        raise InputError("--unit is for typed readings; a file says its units in the header, as reading_um")
    return read_readings(read_text(path), system, side, jaws)


def setup_at(path: Path, pressure: str | None, records: str | None) -> Setup:
    """The setup with what the records know, at the pressure typed."""
    from heldtrue.planning.setup import Setup

    setup = remembered(Setup.from_toml(path), records)
    return setup if pressure is None else setup.with_({"run.pressure": gauge_pressure(pressure, setup.units)})


def surface_read(setup: Setup | None, name: str | None, side: Side | None) -> Surface | None:
    """The surface that was read; None without a setup."""
    if setup is None:
        return None
    from heldtrue.shop.against_plan import surface_of

    return surface_of(setup, name, side)


def title_of(path: Path | None, setup: Setup | None, surface: Surface | None) -> str:
    """What stands over the answer."""
    what = path.stem if path is not None else "typed readings"
    return f"{setup.title or 'Setup'}, {surface.name}: {what}" if setup and surface else f"Indicator: {what}"


def check_outputs(sheet: Path | None, drawings: Path | None, source: Path | None, setup_file: Path | None) -> None:
    """Refuse early what could not be written or would destroy what was read."""
    if sheet is not None:
        check_file(sheet, setup_file)
        if source is not None and sheet.exists() and source.exists() and sheet.samefile(source):
            raise InputError(f"cannot write {sheet}: it holds the readings themselves")
    if drawings is not None:
        check_folder(drawings)


def cut_read(
    cut: str | None, power: str | None, idle: str | None, speed: str | None, diameter: str | None, system: UnitSystem
) -> CutRead | None:
    """Power of the spindle in a cut, as typed; None where none was given.

    Raises: ``InputError`` where a part of it is missing.
    """
    if not (cut or power or idle or speed or diameter):
        return None
    if cut is None or power is None or idle is None or speed is None:
        raise InputError("the power of a cut: give --cut, --power, --idle and --speed together")
    from heldtrue.shop.learned_force import CutRead

    turned = None if diameter is None else typed_diameter("--diameter", diameter, system)
    return CutRead(
        cut, typed_quantity("--power", power, "power", system), typed_quantity("--idle", idle, "power", system),
        typed_quantity("--speed", speed, "speed_rpm", system), turned,
    )  # fmt: skip


def known_base(setup: Setup, records: str | None) -> Knowledge | None:
    """What the records know of the base of these jaws on this chuck; None without records or card."""
    from heldtrue.shop import accepting

    return _of_records(records, lambda store: accepting.known_base(store, setup))


def taught_for_causes(setup: Setup, records: str | None) -> Taught | None:
    """What the records know of this chuck that causes rest on; None without records or card."""
    from heldtrue.shop import taught

    return _of_records(records, lambda store: taught.taught_for_causes(store, setup))


def _of_records(records: str | None, asked: Callable[[Store], Known]) -> Known | None:
    """What the records say; None where there are none."""
    try:
        store = memory(records, create=False)
    except InputError:
        return None
    with store:
        return asked(store)

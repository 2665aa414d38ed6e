"""What was typed on the pad, understood: readings in mm, what is wrong with which, and whether to ask back."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, pi, radians
from types import MappingProxyType
from typing import Literal, cast

import numpy as np

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.inspection.causes import Made
from heldtrue.inspection.readings import Side, State, Trace, trace
from heldtrue.inspection.slips import Question, unit_slip
from heldtrue.planning.setup import Setup, Surface
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, names_unit, parse_quantity, to_core
from heldtrue.shop.against_plan import Expected, surface_of
from heldtrue.shop.read_out import ReadOut, read_out
from heldtrue.shop.taught import Taught
from heldtrue.web import texts
from heldtrue.web.fields import Table
from heldtrue.web.trouble import problems_of

UNITS = MappingProxyType({
    "um": to_core(0.001, "length", "mm"), "mm": 1.0, "thou": to_core(0.001, "length", "in"),
    "tenth": to_core(0.0001, "length", "in"), "in": to_core(1.0, "length", "in"),
})  # fmt: skip
"""Units of a dial, mm in one of each."""
PLACES = (6, 8, 12, 16, 24, 36)
LEAST = 6
"""Readings from which something can be said."""
STATES: tuple[State, ...] = ("not said", "clamped", "free", "spindle")
MADE: tuple[Made, ...] = ("", "here", "before")


@dataclass(frozen=True)
class Read:
    """What was typed, and what it says.

    ``values``: of every trace, by place, None where nothing (good) stands [mm]; ``wrong``: what is wrong, by path in
    the table; ``traces`` that can be read, ``of_typed``: into which of them a typed trace went, by number; ``short``:
    number and count of readings of those with too few; ``question`` asked back, of trace ``question_at``: then there is
    no answer; ``out``: the answer; ``problems`` of the whole.
    """

    values: tuple[tuple[float | None, ...], ...]
    wrong: dict[str, str]
    traces: tuple[Trace, ...] = ()
    of_typed: dict[int, int] | None = None
    short: tuple[tuple[int, int], ...] = ()
    question: Question | None = None
    question_at: int = 0
    out: ReadOut | None = None
    problems: tuple[str, ...] = ()


def blank(units: UnitSystem, jaws: int = 3) -> Table:
    """Nothing typed yet."""
    return {
        "unit": "um" if units == "metric" else "thou", "places": 12, "side": "outside", "grip": "outside",
        "jaws": str(jaws), "division": "", "dial": "", "tolerance": "", "surface": "", "pressure": "", "made": "",
        "sure": "",
        "traces": [blank_trace(12)],
        "seen": blank_seen(),
    }  # fmt: skip


def blank_seen() -> Table:
    """Nothing seen of the jaws, no part read."""
    return {"what": "", "gap": "", "length": "", "taper": "", "parts": "", "surface": "", "over": ""}


def blank_trace(places: int) -> Table:
    """One trace with nothing in it."""
    return {"z": "", "state": "not said", "turned": "", "clamped_at": "", "values": [""] * places}


def system_of(table: Table) -> UnitSystem:
    """The unit system of the dial."""
    return "metric" if table["unit"] in ("um", "mm") else "inch"


def number(text: str, unit: str) -> float:
    """A reading as typed, in mm. Raises: ``InputError``."""
    try:
        value = parse_quantity(text, "ratio") * UNITS[unit]
    except InputError as error:
        if "two ways" in str(error):
            raise
        raise InputError(texts.NO_NUMBER.format(found=text)) from error
    if not isfinite(value):
        raise InputError(texts.NO_NUMBER.format(found=text))
    return value


def surface_read(setup: Setup | None, table: Table) -> Surface | None:
    """The surface of the setup that was read; None where nobody said, or there is none."""
    if setup is None:
        return None
    try:
        return surface_of(setup, table["surface"] or None)
    except InputError:
        return None


def read_typed(
    table: Table, setup: Setup | None = None, plan: Expected | None = None, taught: Taught | None = None
) -> Read:
    """Understand the table and read it out.  Solves nothing: milliseconds."""
    wrong: dict[str, str] = {}
    values = tuple(
        tuple(
            _value(text, table["unit"], f"traces.{at}.values.{place}", wrong)
            for place, text in enumerate(one["values"])
        )
        for at, one in enumerate(table["traces"])
    )  # fmt: skip
    unit = gauge_unit_of(setup) if setup is not None else "bar"
    where = [_where(one, at, system_of(table), unit, wrong) for at, one in enumerate(table["traces"])]
    jaws = _jaws(table, setup, wrong)
    division = _length(table, "division", wrong)
    tolerance = _length(table, "tolerance", wrong)
    surface = surface_read(setup, table)
    short = tuple((at, len(found)) for at, one in enumerate(values) if (found := [v for v in one if v is not None])
                  and len(found) < LEAST)  # fmt: skip
    if wrong:
        return Read(values, wrong, short=short)
    side = surface.side if surface is not None else cast(Side, table["side"])
    try:
        traces, of_typed = _traced(values, where, side)
        asked = _asked(table, values, tolerance if tolerance or surface is None else surface.runout)
        if not traces or asked is not None:
            question, at = asked or (None, 0)
            return Read(values, wrong, tuple(traces), of_typed, short, question, at)
        grip = None if setup is not None else str(table["grip"])
        out = read_out(traces, jaws, resolution=division, grip_side=grip, tolerance=tolerance, setup=setup,
                       surface=surface, plan=plan, made=cast(Made, table.get("made", "")),
                       taught=taught, dial=str(table.get("dial", "")))  # fmt: skip
    except HeldtrueError as error:
        return Read(values, wrong, short=short, problems=problems_of(error))
    return Read(values, wrong, tuple(traces), of_typed, short, out=out)


def _value(text: str, unit: str, path: str, wrong: dict[str, str]) -> float | None:
    if not text.strip():
        return None
    try:
        return number(text, unit)
    except InputError as error:
        wrong[path] = str(error)
        return None


def _where(
    one: Table, at: int, system: UnitSystem, gauge: str, wrong: dict[str, str]
) -> tuple[float, State, float, float | None]:
    """Place along the part [mm], state, turn in the jaws [rad], and pressure [MPa] or None, of one trace."""
    found = []
    for name, kind in (("z", "length"), ("turned", "angle")):
        try:
            found.append(parse_quantity(one[name], kind, system) if one[name].strip() else 0.0)
        except InputError as error:
            wrong[f"traces.{at}.{name}"] = str(error)
            found.append(0.0)
    if abs(found[1]) > 2 * pi:
        wrong[f"traces.{at}.turned"] = texts.TURNED_FAR.format(found=one["turned"])
    text, pressure = str(one.get("clamped_at", "")).strip(), None
    if text:
        try:
            bare = not names_unit(text)
            pressure = parse_quantity(f"{text} {gauge}" if bare else text, "pressure")
            if not pressure > 0.0:
                wrong[f"traces.{at}.clamped_at"] = texts.PRESSURE_ABOVE_0.format(found=text)
        except InputError as error:
            wrong[f"traces.{at}.clamped_at"] = str(error)
    return found[0], cast(State, one["state"]), found[1], pressure


def _traced(
    values: tuple[tuple[float | None, ...], ...], where: list[tuple[float, State, float, float | None]], side: Side
) -> tuple[list[Trace], dict[int, int]]:
    """Traces of one state, turn and pressure are one, read in several planes, as in a file of readings."""
    groups: dict[tuple[State, float, float | None], list[int]] = {}
    for at, (_, state, turned, pressure) in enumerate(where):
        if sum(one is not None for one in values[at]) >= LEAST:
            groups.setdefault((state, turned, pressure), []).append(at)
    traces: list[Trace] = []
    of_typed: dict[int, int] = {}
    for (state, turned, pressure), members in groups.items():
        rows = [(2 * pi * place / len(values[at]), one, where[at][0])
                for at in members for place, one in enumerate(values[at]) if one is not None]  # fmt: skip
        angle, reading, z = np.array(rows, float).T
        of_typed |= dict.fromkeys(members, len(traces))
        traces.append(trace(angle, reading, z, side, state, turned, pressure))
    return traces, of_typed


def _asked(
    table: Table, values: tuple[tuple[float | None, ...], ...], tolerance: float | None
) -> tuple[Question, int] | None:
    """What is asked back, and of which trace."""
    if table["sure"] == table["unit"]:
        return None
    for at, one in enumerate(values):
        found = [(place, v) for place, v in enumerate(one) if v is not None]
        if len(found) >= LEAST and (slip := unit_slip([v for _, v in found], table["unit"], UNITS, tolerance)):
            return Question(slip.size, slip.instead, found[slip.row][0]), at
    return None


def _jaws(table: Table, setup: Setup | None, wrong: dict[str, str]) -> int:
    if setup is not None:
        return setup.jaws.count or setup.chuck.jaws or 3
    text = str(table["jaws"]).strip()
    if not text.isdecimal() or not 2 <= int(text) <= 12:
        wrong["jaws"] = texts.JAWS_WRONG.format(found=text)
        return 3
    return int(text)


def _length(table: Table, name: Literal["division", "tolerance"], wrong: dict[str, str]) -> float | None:
    """An optional length; a bare one is in the unit of the dial. [mm]"""
    text = str(table[name]).strip()
    if not text:
        return None
    try:
        bare = not names_unit(text)
        value = number(text, table["unit"]) if bare else parse_quantity(text, "length")
    except InputError as error:
        wrong[name] = str(error)
        return None
    if not 0.0 < value <= 1.0:
        wrong[name] = texts.SMALL_LENGTH.format(found=text)
        return None
    return value


def place_words(place: int, places: int, jaws: int) -> str:
    """Where a place is: degrees from jaw 1, and the jaw that stands there."""
    degrees = 360.0 * place / places
    jaw = degrees * jaws / 360.0
    words = texts.PLACE_AT.format(degrees=f"{degrees:g}")
    return f"{words}, {texts.JAW_N.format(n=round(jaw) % jaws + 1)}" if abs(jaw - round(jaw)) < 1e-9 else words


def where_words(direction: float, jaws: int) -> str:
    """A direction from jaw 1 [rad] by the jaws beside it."""
    step = 2 * pi / jaws
    at = direction % (2 * pi) / step
    near = round(at) % jaws
    off = (at - round(at)) * step
    if abs(off) < radians(2.5):
        return texts.AT_JAW.format(jaw=near + 1)
    beyond = texts.PAST_JAW if off > 0 else texts.BEFORE_JAW
    return beyond.format(degrees=f"{abs(np.degrees(off)):.0f}", jaw=near + 1)

"""The words and number format of a shop's control, from a TOML file; some come with heldtrue."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from math import hypot
from pathlib import Path
from string import Template
from typing import Any

from heldtrue.errors import InputError
from heldtrue.program.words import ALLOWED, PASSED_OVER, PROBE_NEEDS, allowed, code, is_retreat, probe_call, words_of
from heldtrue.quantities import describe

MM_PER_INCH = 25.4
FINEST_MM = 0.0011
"""Steps of Z up to this round within the proof's usual tolerance."""


@dataclass(frozen=True)
class Words:
    """What the control calls things; an empty word is left out. Each holds what ``words.ALLOWED`` has for it."""

    metric: str = "G21"
    inch: str = "G20"
    plane: str = "G18"
    absolute: str = "G90"
    diameter: str = ""
    no_compensation: str = "G40"
    feed_per_turn: str = "G95"
    limit: str = "G92 S$limit"
    surface_speed: str = "G96 S$speed"
    fixed_speed: str = "G97 S$speed"
    spindle_on: str = "M3"
    spindle_off: str = "M5"
    tool: str = "T$tool$offset"
    work_offset: str = "G54"
    coolant_on: str = "M8"
    coolant_off: str = "M9"
    stop: str = "M0"
    end: str = "M30"
    probe_bore: str = ""
    retreat: tuple[str, ...] = ("G28 W0.", "G28 U0.")
    passed_over: tuple[str, ...] = ()


@dataclass(frozen=True)
class Numbers:
    """Unit, what X is, decimal places, and how arcs are given."""

    unit: str = "mm"
    x: str = "diameter"
    x_decimals: int = 3
    z_decimals: int = 3
    feed_decimals: int = 3
    speed_decimals: int = 0
    arcs: str = "R"

    @property
    def scale(self) -> float:
        """Millimetres in one unit of length."""
        return MM_PER_INCH if self.unit == "inch" else 1.0

    @property
    def speed_scale(self) -> float:
        """Metres per minute in one unit of surface speed (m/min, ft/min)."""
        return 0.3048 if self.unit == "inch" else 1.0

    @property
    def x_scale(self) -> float:
        """What X counts for one of the radius: 2 as a diameter, 1 as a radius."""
        return 1.0 if self.x == "radius" else 2.0

    @property
    def rounding(self) -> float:
        """How far rounding may move a position across the finished line. [mm]"""
        half_x = 0.5 * self.scale * 10.0**-self.x_decimals / self.x_scale
        return hypot(half_x, 0.5 * self.scale * 10.0**-self.z_decimals)

    @property
    def coarse(self) -> bool:
        """Are the steps of a position coarser than a thousandth of a millimetre?"""
        return self.scale * 10.0**-self.z_decimals > FINEST_MM


@dataclass(frozen=True)
class Layout:
    """How blocks and comments look."""

    comment: str = "()"
    upper_case: bool = True
    longest_comment: int = 72
    block_step: int = 0


@dataclass(frozen=True)
class Text:
    """The frame of a program: its head, before and after each part, the stop to measure, its foot."""

    header: str = ""
    part: str = ""
    part_end: str = ""
    measure: str = ""
    footer: str = ""


@dataclass(frozen=True)
class Dialect:
    """One control's way to write a program."""

    name: str
    numbers: Numbers
    layout: Layout
    words: Words
    text: Text


@cache
def shipped() -> tuple[str, ...]:
    """The names of the templates that come with heldtrue."""
    folder = files("heldtrue.program").joinpath("dialects")
    return tuple(sorted(one.name.removesuffix(".toml") for one in folder.iterdir() if one.name.endswith(".toml")))


def load_dialect(source: str | Path | None = None) -> Dialect:
    """A dialect by its name or from a template file, or the neutral one. Raises InputError that names what is wrong."""
    name = "neutral" if source is None else str(source)
    if name in shipped():
        return parse_dialect(_shipped_text(name), f"{name}.toml")
    try:
        text = Path(name).read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"program template {name}: {error}; by name there are {', '.join(shipped())}") from error
    return parse_dialect(text, name)


def parse_dialect(text: str, place: str = "program template") -> Dialect:
    """A dialect from the text of a template file; ``place`` names it in messages."""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InputError(f"{place}: {error}") from error
    problems = [f"{place}: [{key}] is not known" for key in data.keys() - {*dict(_SECTIONS), "name"}]
    parts = {
        name: _section(_table(data, name, place, problems), kind, f"{place}, [{name}]", problems)
        for name, kind in _SECTIONS
    }
    called = data.get("name", place)
    if not isinstance(called, str):
        problems.append(f"{place}, name: must be text; found {describe(called)}")
    if problems:
        raise InputError(*sorted(problems))
    frame = Text(**{**_neutral_text(), **parts["text"]})
    dialect = Dialect(
        called or place, Numbers(**parts["numbers"]), Layout(**parts["layout"]), Words(**parts["words"]), frame
    )
    problems = _wrong(dialect, place)
    if problems:
        raise InputError(*problems)
    return dialect


def _shipped_text(name: str) -> str:
    return files("heldtrue.program").joinpath(f"dialects/{name}.toml").read_text("utf-8")


@cache
def _neutral_text() -> dict[str, str]:
    """The frame of the neutral template, for templates that say nothing of theirs."""
    found: dict[str, str] = tomllib.loads(_shipped_text("neutral"))["text"]
    return found


def _table(data: dict[str, Any], name: str, place: str, problems: list[str]) -> dict[str, Any]:
    found = data.get(name, {})
    if isinstance(found, dict):
        return found
    problems.append(f"{place}: [{name}] must be a table, with its keys below it; found {describe(found)}")
    return {}


def _section(data: dict[str, Any], kind: type, place: str, problems: list[str]) -> dict[str, Any]:
    defaults = {f.name: f.default for f in fields(kind)}
    found: dict[str, Any] = {}
    for key, value in data.items():
        if key not in defaults:
            problems.append(f"{place}: {key} is not known; known are {', '.join(defaults)}")
        elif isinstance(defaults[key], tuple):
            if isinstance(value, list) and all(isinstance(one, str) for one in value):
                found[key] = tuple(value)
            else:
                problems.append(f"{place}, {key}: must be a list of words; found {describe(value)}")
        elif type(value) is not type(defaults[key]):
            problems.append(f"{place}, {key}: {describe(value)} should be like {defaults[key]!r}")
        else:
            found[key] = value
    return found


def _wrong(dialect: Dialect, place: str) -> list[str]:
    return [f"{place}, {one}" for one in (*_wrong_numbers(dialect), *_wrong_words(dialect.words), *_against(dialect))]


def _wrong_numbers(dialect: Dialect) -> list[str]:
    found, numbers = [], dialect.numbers
    for key, value, known in (
        ("unit", numbers.unit, ("mm", "inch")), ("x", numbers.x, ("diameter", "radius")),
        ("arcs", numbers.arcs, ("R", "CR=", "IK")), ("comment", dialect.layout.comment, ("()", ";")),
    ):  # fmt: skip
        if value not in known:
            either = " or ".join(f'"{one}"' for one in known)
            found.append(f'{key}: {either}, not "{value}"')
    least = 3 if numbers.unit == "mm" else 4
    for name in ("x_decimals", "z_decimals"):
        places = getattr(numbers, name)
        if not least <= places <= 8:
            found.append(
                f"{name}: {places} places in {numbers.unit} round a position by more than the proof allows; "
                f"{least} to 8 places"
            )
    if not 0 <= numbers.feed_decimals <= 8 or not 0 <= numbers.speed_decimals <= 8:
        found.append("feed and speed take 0 to 8 decimal places")
    if not 0 <= dialect.layout.block_step <= 1000:
        found.append(f"block_step: {dialect.layout.block_step}; 0 to 1000")
    return found


def _wrong_words(words: Words) -> list[str]:
    """Every word that is not one of those its key is for."""
    found = []
    for key, phrases in ALLOWED.items():
        text = getattr(words, key)
        if not allowed(key, text):
            known = ", ".join(one or "nothing" for one in phrases)
            found.append(f'{key}: "{text}" is not what this key is for; it takes {known}')
    if not is_retreat(words.retreat):
        found.append(
            f"retreat: {list(words.retreat)} is no way to the machine's own far point in X and Z; it takes blocks as "
            '["G28 W0.", "G28 U0."], ["G53 G0 X0. Z0."], or ["G91 G28 X0. Z0.", "G90"]'
        )
    if words.probe_bore and probe_call(words.probe_bore) is None:
        needs = ", ".join(f"${name}" for name in PROBE_NEEDS)
        found.append(
            f'probe_bore: "{words.probe_bore}" is no call of a probing cycle that can be proved; it takes G65, P with '
            f"a number, and letters of A B C D E H Q V, each with one of {needs}, $tool, $jaws; the first four must be "
            "there"
        )
    for one in words.passed_over:
        try:
            strange = [w for w in words_of(one) if code(w) not in PASSED_OVER]
        except ValueError:
            strange = [("", one)]
        if strange or not one.strip():
            found.append(
                f'passed_over: "{one}" may move something or change what a move means; only {", ".join(PASSED_OVER)}'
            )
    return found


def _against(dialect: Dialect) -> list[str]:
    """Words that mean other things beside each other, on the controls that have both."""
    words, found = dialect.words, []
    said = {name: getattr(words, name).upper() for name in ALLOWED}
    if ("$LIMIT" in said["limit"]) == ("$LIMIT" in said["surface_speed"]):
        found.append("no word, or two, write the spindle limit; put $limit in limit or in surface_speed")
    if said["feed_per_turn"] == "G99" and said["absolute"]:
        found.append("absolute: beside G99, G90 is a turning cycle; leave it empty")
    if said["feed_per_turn"] == "G99" and said["limit"].startswith("G92"):
        found.append("limit: beside G99, G92 is a threading cycle; the limit is G50 there")
    if said["feed_per_turn"] == "G95" and not said["absolute"]:
        found.append("absolute: beside G95 it must be said that positions are absolute: G90")
    if {said["metric"], said["inch"]} & {"G70", "G71"} and (
        said["feed_per_turn"] == "G99" or said["limit"].startswith("G50")
    ):
        found.append("metric, inch: beside G99 or G50, G70 and G71 are cycles; G21 and G20 there")
    if any("G75" in one.upper() for one in words.retreat) and not said["limit"].startswith("LIMS="):
        found.append("retreat: G75 is a grooving cycle on controls without LIMS=; G28 or G53 there")
    wrong = ("G8", "DIAMOF") if dialect.numbers.x == "diameter" else ("G7", "DIAMON")
    if said["diameter"] in wrong:
        found.append(f"diameter: {said['diameter']} means the opposite of x as a {dialect.numbers.x}")
    if dialect.numbers.x == "radius" and dialect.numbers.x_decimals < (4 if dialect.numbers.unit == "inch" else 3):
        found.append("x_decimals: too few for a radius")
    return found


_SECTIONS: tuple[tuple[str, type], ...] = (
    ("numbers", Numbers), ("layout", Layout), ("words", Words), ("text", Text),
)  # fmt: skip


def filled(template: str, **values: str) -> str:
    """A phrase with its values."""
    return Template(template).safe_substitute(values)

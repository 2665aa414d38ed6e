"""The words and number format of a shop's control, from a TOML file; a neutral one comes with heldtrue."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, fields
from importlib.resources import files
from pathlib import Path
from string import Template
from typing import Any

from heldtrue.errors import InputError

MM_PER_INCH = 25.4
_WORD = re.compile(r"([A-Z])\s*([+-]?(?:\d+\.?\d*|\.\d+))")


@dataclass(frozen=True)
class Words:
    """What the control calls things; an empty word is left out."""

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
    coolant_on: str = "M8"
    coolant_off: str = "M9"
    stop: str = "M0"
    end: str = "M30"
    passed_over: tuple[str, ...] = ()


@dataclass(frozen=True)
class Numbers:
    """Unit, decimal places, and how arcs are given."""

    unit: str = "mm"
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


@dataclass(frozen=True)
class Layout:
    """How blocks and comments look."""

    comment: str = "()"
    upper_case: bool = True
    longest_comment: int = 72
    block_step: int = 0


@dataclass(frozen=True)
class Dialect:
    """One control's way to write a program."""

    name: str
    numbers: Numbers
    layout: Layout
    words: Words
    header: str
    footer: str


def load_dialect(source: str | Path | None = None) -> Dialect:
    """The dialect of a template file, or the neutral one. Raises InputError that names what is wrong."""
    if source is None:
        text, place = files("heldtrue.program").joinpath("dialects/neutral.toml").read_text("utf-8"), "neutral.toml"
    else:
        place = str(source)
        try:
            text = Path(source).read_text("utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise InputError(f"program template {place}: {error}") from error
    return parse_dialect(text, place)


def parse_dialect(text: str, place: str = "program template") -> Dialect:
    """A dialect from the text of a template file; ``place`` names it in messages."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{place}: {error}") from error
    problems = [f"{place}: [{key}] is not known" for key in data.keys() - {*dict(_SECTIONS), "name", "text"}]
    parts = {name: _section(data.get(name, {}), kind, f"{place}, [{name}]", problems) for name, kind in _SECTIONS}
    words_text = data.get("text", {})
    if not isinstance(words_text, dict):
        raise InputError(f"{place}, [text]: {words_text!r} should be a table")
    header, footer = str(words_text.get("header", "")), str(words_text.get("footer", ""))
    if problems:
        raise InputError(*sorted(problems))
    dialect = Dialect(
        str(data.get("name", place)),
        Numbers(**parts["numbers"]),
        Layout(**parts["layout"]),
        Words(**parts["words"]),
        header,
        footer,
    )
    problems = _wrong(dialect, place)
    if problems:
        raise InputError(*problems)
    return dialect


def _section(data: Any, kind: type, place: str, problems: list[str]) -> dict[str, Any]:
    if not isinstance(data, dict):
        problems.append(f"{place}: {data!r} should be a table")
        return {}
    defaults = {f.name: f.default for f in fields(kind)}
    found: dict[str, Any] = {}
    for key, value in data.items():
        if key not in defaults:
            problems.append(f"{place}: {key} is not known; known are {', '.join(defaults)}")
        elif isinstance(defaults[key], tuple) and isinstance(value, list):
            found[key] = tuple(str(v) for v in value)
        elif type(value) is not type(defaults[key]):
            problems.append(f"{place}, {key}: {value!r} should be like {defaults[key]!r}")
        else:
            found[key] = value
    return found


def _wrong(dialect: Dialect, place: str) -> list[str]:
    found, numbers, words = [], dialect.numbers, dialect.words
    if numbers.unit not in ("mm", "inch"):
        found.append(f'{place}, unit: "mm" or "inch", not "{numbers.unit}"')
    if numbers.arcs not in ("R", "IK"):
        found.append(f'{place}, arcs: "R" or "IK", not "{numbers.arcs}"')
    if dialect.layout.comment not in ("()", ";"):
        found.append(f'{place}, comment: "()" or ";", not "{dialect.layout.comment}"')
    least = 3 if numbers.unit == "mm" else 5
    for name in ("x_decimals", "z_decimals"):
        places = getattr(numbers, name)
        if not least <= places <= 8:
            found.append(
                f"{place}, {name}: {places} places in {numbers.unit} round a position by more than the proof's 1 um "
                f"allows; {least} to 8 places"
            )
    if not 0 <= numbers.feed_decimals <= 8 or not 0 <= numbers.speed_decimals <= 8:
        found.append(f"{place}: feed and speed take 0 to 8 decimal places")
    if "$limit" not in words.limit + words.surface_speed:
        found.append(f"{place}: no word writes the spindle limit; put $limit in limit or surface_speed")
    for name in ("limit", "surface_speed", "fixed_speed", "tool"):
        names = set(Template(getattr(words, name)).get_identifiers())
        strange = names - {"limit", "speed", "tool", "offset"}
        if strange:
            found.append(f"{place}, {name}: ${sorted(strange)[0]} is not known")
    found += _contradictions(words, place)
    for name in ("spindle_on", "feed_per_turn", "end"):
        if not getattr(words, name):
            found.append(f"{place}, {name}: must not be empty")
    return found


MEANINGS: dict[str, tuple[str, ...]] = {
    "metric": ("G20", "G70", "G91", "G94"), "inch": ("G21", "G71", "G91", "G94"), "plane": ("G17", "G19"),
    "absolute": ("G91",), "no_compensation": ("G41", "G42"), "feed_per_turn": ("G94",),
}  # fmt: skip
"""Words of ISO 6983 that mean the opposite of what a key is for."""
MOVING = ("G0", "G1", "G2", "G3", "G17", "G19", "G27", "G28", "G29", "G30", "G41", "G42", "G53", "G91", "G92", "G94")
"""Words that move the tool, its zero or the meaning of a move on the controls that have them: nobody may pass over
them.  (G92 with S is the spindle limit, and has its own key.)  ISO 6983-1 and common practice, no source."""


def _contradictions(words: Words, place: str) -> list[str]:
    """Keys whose word means the opposite, and words passed over although they move something."""
    found = []
    for name, wrong in MEANINGS.items():
        for word in _codes(getattr(words, name)):
            if word in wrong:
                found.append(f"{place}, {name}: {word} means the opposite; the proof would not see it")
    for one in words.passed_over:
        for word in _codes(one):
            if word in MOVING or word[:2] in ("G7", "G8"):
                found.append(f"{place}, passed_over: {word} moves the tool or changes what a move means")
    return found


def _codes(text: str) -> list[str]:
    """The G words of a text as G and a number without zeros before it."""
    return [f"G{number.lstrip('0') or '0'}" for number in re.findall(r"[Gg]\s*(\d+)", text)]


_SECTIONS: tuple[tuple[str, type], ...] = (("numbers", Numbers), ("layout", Layout), ("words", Words))


def split_words(text: str) -> list[tuple[str, str]]:
    """The words of a block as letter and number, ``("G", "01")``; ValueError names what is none."""
    found, at = [], 0
    for match in _WORD.finditer(text):
        if text[at : match.start()].strip():
            raise ValueError(text[at : match.start()].strip())
        found.append((match[1], match[2]))
        at = match.end()
    if text[at:].strip():
        raise ValueError(text[at:].strip())
    return found

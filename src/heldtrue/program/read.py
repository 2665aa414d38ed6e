"""Reads the finished text of a word-address program as a control would, knowing nothing of how it was made.

Positions come out as radius and z of the programmed tip in mm, feeds in mm per turn, surface speed in m/min.  What the
reader does not know it refuses, with the line.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from math import asin, atan2, hypot, pi, sqrt
from string import Template

from heldtrue.errors import InputError
from heldtrue.program.dialect import Dialect, split_words
from heldtrue.program.geometry import Arc, Line, Piece
from heldtrue.program.job import BoringTool, Point

ARC_MISFIT_MM = 0.002
"""An arc's ends may lie this much differently far from its centre: rounding of the words."""
MOST_PROBLEMS = 20
_COMMENT = re.compile(r"\([^()]*\)|;.*")
_MOTION = {"G0": "rapid", "G1": "line", "G2": "clockwise", "G3": "counter-clockwise"}
_COORDINATES = "XZIKRF"


@dataclass(frozen=True)
class State:
    """What is in force during a move: the spindle and the feed. ``limit`` and ``speed`` in rev/min or m/min."""

    feed: float | None = None
    speed: float | None = None
    constant_surface: bool = False
    limit: float | None = None
    turning: bool = False
    per_turn: bool = False
    tool: str = ""


@dataclass(frozen=True)
class ReadMove:
    """One move as the text has it: the line, whether rapid, the tip's way, and what was in force."""

    line: int
    rapid: bool
    piece: Piece
    state: State


@dataclass(frozen=True)
class Reading:
    """A whole program as read. ``modes``: which of the dialect's words stand before the first move, by their names."""

    moves: tuple[ReadMove, ...]
    stops: tuple[int, ...]
    ended: bool
    comments: tuple[str, ...] = field(default=())
    modes: frozenset[str] = frozenset()


def read_program(text: str, dialect: Dialect) -> Reading:
    """All moves of ``text``, or an InputError with one sentence a line that cannot be read."""
    reader = _Reader(dialect)
    for number, line in enumerate(text.splitlines(), start=1):
        try:
            reader.line(number, line)
        except ValueError as error:
            reader.problems.append(f"line {number}: {error}")
            if len(reader.problems) >= MOST_PROBLEMS:
                break
    if reader.problems:
        raise InputError(*reader.problems)
    return Reading(
        tuple(reader.moves), tuple(reader.stops), reader.ended, tuple(reader.comments), frozenset(reader.modes)
    )


class _Reader:
    def __init__(self, dialect: Dialect) -> None:
        self.problems: list[str] = []
        self.moves: list[ReadMove] = []
        self.stops: list[int] = []
        self.comments: list[str] = []
        self.modes: set[str] = set()
        self.ended = False
        self.state = State()
        self.motion = ""
        self.at: Point | None = None
        self.scale = 1.0
        self.unit_known = False
        self.meanings = _meanings(dialect)
        self.limit_code = _code(dialect.words.limit)
        self.limit_letter = _letter_of(dialect.words.limit, "limit")
        self.beside_speed = _letter_of(dialect.words.surface_speed, "limit")

    def line(self, number: int, text: str) -> None:
        self.comments += [c.strip("();").strip() for c in _COMMENT.findall(text)]
        bare = _COMMENT.sub(" ", text).strip().upper()
        if not bare or bare == "%":
            return
        if self.ended:
            raise ValueError(f'"{bare}" after the end of the program')
        try:
            words = split_words(bare)
        except ValueError as error:
            raise ValueError(f'"{error}" is no word') from None
        values: dict[str, str] = {}
        codes: list[str] = []
        for letter, value in words:
            if letter in "GM":
                codes.append(f"{letter}{float(value):g}")
            elif letter in values:
                raise ValueError(f"{letter} stands twice")
            else:
                values[letter] = value
        self._block(number, codes, values)

    def _block(self, number: int, codes: list[str], values: dict[str, str]) -> None:
        values.pop("N", None)
        if "O" in values and len(values) == 1 and not codes:
            return
        meant = [self._meaning(code) for code in codes]
        self._modes(number, meant, values)
        self._words(meant, values)
        motions = [_MOTION[code] for code in codes if code in _MOTION]
        if len(motions) > 1:
            raise ValueError("two motions in one block")
        if motions:
            self.motion = motions[0]
        strange = set(values) - set(_COORDINATES)
        if strange:
            raise ValueError(f"the word {sorted(strange)[0]}{values[sorted(strange)[0]]} is not known here")
        if values.keys() & set("XZIKR"):
            self._move(number, values)

    def _meaning(self, code: str) -> str:
        if code in _MOTION:
            return "motion"
        found = self.meanings.get(code)
        if found is None:
            raise ValueError(f"{code} is not known; put it in the template's words if the control needs it")
        return found

    def _modes(self, number: int, meant: list[str], values: dict[str, str]) -> None:
        if self.at is None:
            self.modes.update(meant)
        for what in meant:
            if what in ("metric", "inch"):
                if self.moves or self.at is not None:
                    raise ValueError("the unit changes after the first move")
                self.scale, self.unit_known = (25.4 if what == "inch" else 1.0), True
            elif what == "feed_per_turn":
                self.state = replace(self.state, per_turn=True)
            elif what in ("surface_speed", "fixed_speed"):
                self.state = replace(self.state, constant_surface=what == "surface_speed", speed=None)
            elif what in ("spindle_on", "spindle_off"):
                self.state = replace(self.state, turning=what == "spindle_on")
            elif what == "stop":
                self.stops.append(number)
            elif what == "end":
                self.ended = True
        if "F" in values:
            self.state = replace(self.state, feed=_positive("F", values["F"]) * self.scale)
        if "T" in values:
            self.state = replace(self.state, tool=values.pop("T"))

    def _words(self, meant: list[str], values: dict[str, str]) -> None:
        """Spindle words: a limit beside its code, a limit beside the surface speed, a speed."""
        if "limit" in meant:
            letter = self.limit_letter
            if letter not in values:
                raise ValueError(f"{self.limit_code} without {letter}: no spindle limit")
            self.state = replace(self.state, limit=_positive(letter, values.pop(letter)))
        if "surface_speed" in meant and self.beside_speed in values:
            letter = self.beside_speed
            self.state = replace(self.state, limit=_positive(letter, values.pop(letter)))
        if "S" in values:
            speed = _positive("S", values.pop("S"))
            unit = 0.3048 if self.scale != 1.0 and self.state.constant_surface else 1.0
            self.state = replace(self.state, speed=speed * unit)

    def _move(self, number: int, values: dict[str, str]) -> None:
        if not self.motion:
            raise ValueError("a position without G0, G1, G2 or G3 before it")
        if not self.unit_known:
            raise ValueError("a move before the unit is set")
        numbers = {letter: self._length(letter, values[letter]) for letter in "XZIKR" if letter in values}
        if self.at is None:
            if self.motion != "rapid" or not {"X", "Z"} <= numbers.keys():
                raise ValueError("the first move must be a rapid to X and Z: where the tool stands is not known")
            self.at = (numbers["X"] / 2, numbers["Z"])
            self.moves.append(ReadMove(number, True, Line(self.at, self.at), self.state))
            return
        end = (numbers["X"] / 2 if "X" in numbers else self.at[0], numbers.get("Z", self.at[1]))
        bends = numbers.keys() & set("IKR")
        piece: Piece
        if self.motion in ("rapid", "line"):
            if bends:
                raise ValueError(f"{min(bends)} on a straight move")
            piece = Line(self.at, end)
        else:
            piece = _arc(self.at, end, numbers, 1 if self.motion == "clockwise" else -1)
            if abs(piece.turn) > pi + 1e-6:
                raise ValueError("an arc of more than half a turn: controls differ on it, and no bore needs one")
        self.moves.append(ReadMove(number, self.motion == "rapid", piece, self.state))
        self.at = end

    def _length(self, letter: str, text: str) -> float:
        if "." not in text:
            raise ValueError(f"{letter}{text} has no decimal point: some controls read it as thousandths")
        return float(text) * self.scale


def _arc(start: Point, end: Point, numbers: dict[str, float], sense: int) -> Arc:
    """Clockwise (G2) as seen with z to the right and x up turns from +x to +z: positive here."""
    chord = hypot(end[0] - start[0], end[1] - start[1])
    if chord < 1e-9:
        raise ValueError("an arc that ends where it starts")
    if "R" in numbers:
        if "I" in numbers or "K" in numbers:
            raise ValueError("an arc with R and with I or K")
        return _arc_by_radius(start, end, numbers["R"], sense, chord)
    if "I" not in numbers and "K" not in numbers:
        raise ValueError("an arc without R, I or K")
    centre = (start[0] + numbers.get("I", 0.0), start[1] + numbers.get("K", 0.0))
    radius, other = (hypot(p[0] - centre[0], p[1] - centre[1]) for p in (start, end))
    if abs(radius - other) > ARC_MISFIT_MM:
        raise ValueError(f"the arc starts {radius:.4f} mm from its centre and ends {other:.4f} mm from it")
    first = atan2(start[1] - centre[1], start[0] - centre[0])
    last = atan2(end[1] - centre[1], end[0] - centre[0])
    turn = ((last - first) * sense) % (2 * pi)
    return Arc(start, end, centre, sense * turn)


def _arc_by_radius(start: Point, end: Point, radius: float, sense: int, chord: float) -> Arc:
    size = abs(radius)
    if chord > 2 * size + ARC_MISFIT_MM:
        raise ValueError(f"an arc of R{size:.4f} mm cannot span {chord:.4f} mm")
    size = max(size, chord / 2)
    height = sqrt(max(size**2 - (chord / 2) ** 2, 0.0)) * (1 if radius > 0 else -1)
    along = ((end[0] - start[0]) / chord, (end[1] - start[1]) / chord)
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    centre = (middle[0] - sense * height * along[1], middle[1] + sense * height * along[0])
    turn = 2 * asin(min(1.0, chord / (2 * size)))
    return Arc(start, end, centre, sense * (turn if radius > 0 else 2 * pi - turn))


def _positive(letter: str, text: str) -> float:
    value = float(text)
    if value <= 0:
        raise ValueError(f"{letter}{text} must be above 0")
    return value


def _code(text: str) -> str:
    """The G or M word of a dialect's phrase, as ``G92``."""
    for letter, value in split_words(_filled(text)):
        if letter in "GM":
            return f"{letter}{float(value):g}"
    return ""


def tool_number(dialect: Dialect, tool: BoringTool) -> str:
    """What stands after T where ``tool`` is called with its offset; empty where the dialect's word has no T."""
    offset = tool.number if tool.offset is None else tool.offset
    phrase = Template(dialect.words.tool).safe_substitute(tool=f"{tool.number:02d}", offset=f"{offset:02d}")
    return next((value for letter, value in split_words(phrase.upper()) if letter == "T"), "")


def _letter_of(phrase: str, name: str) -> str:
    """The letter before ``$name`` in a dialect's phrase."""
    found = re.search(rf"([A-Za-z])\s*\$\{{?{name}\b", phrase)
    return found[1].upper() if found else ""


def _filled(phrase: str) -> str:
    names = Template(phrase).get_identifiers()
    return Template(phrase).safe_substitute(dict.fromkeys(names, "1")).upper()


def _meanings(dialect: Dialect) -> dict[str, str]:
    found = {}
    words = dialect.words
    for extra in words.passed_over:
        found.update({f"{a}{float(b):g}": "nothing" for a, b in split_words(extra.upper())})
    for name in (
        "metric", "inch", "plane", "absolute", "diameter", "no_compensation", "feed_per_turn", "limit",
        "surface_speed", "fixed_speed", "spindle_on", "spindle_off", "coolant_on", "coolant_off", "stop", "end",
    ):  # fmt: skip
        for letter, value in split_words(_filled(getattr(words, name))):
            if letter in "GM":
                found[f"{letter}{float(value):g}"] = name
    return found

"""Reads the finished text of a word-address program as a control would, knowing nothing of how it was made.

Positions come out as radius and z of the programmed tip in mm, feeds in mm per turn, surface speed in m/min.  What the
reader does not know it refuses, with the line: other characters than plain ASCII, words that no key of the template
has, two words of one modal group in a block, anything but a motion beside a position.  After a retreat the tool stands
at an unknown far point until Z and then X are commanded by rapids of their own.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from heldtrue.errors import InputError
from heldtrue.program.arcs import ARC_MISFIT_MM, arc_of
from heldtrue.program.dialect import Dialect, filled
from heldtrue.program.geometry import Line, Piece
from heldtrue.program.job import BoringTool, Point
from heldtrue.program.vocabulary import Vocabulary
from heldtrue.program.words import GROUPS, MOTIONS, Word, block, code, probe_call, strange_character, words_of

MOST_PROBLEMS = 20
_COMMENT = re.compile(r"\([^()]*\)$")
_POSITIONS = ("X", "Z", "I", "K", "R", "CR=")
_ONLY_PARKED = {"unit", "plane", "kind of position", "kind of X", "compensation", "work offset", "tool"}
"""What may change only while the tool stands at its retreat."""


@dataclass(frozen=True)
class State:
    """What is in force: said since the part began, but ``spinning``, which is whether the spindle may be turning.

    ``limit`` and ``speed`` in rev/min or m/min; ``feed`` in mm per turn; ``said``: keys of the template whose words
    stand in this part.
    """

    feed: float | None = None
    speed: float | None = None
    constant_surface: bool = False
    limit: float | None = None
    turning: bool = False
    spinning: bool = False
    per_turn: bool = False
    tool: str = ""
    said: frozenset[str] = frozenset()


@dataclass(frozen=True)
class ReadMove:
    """One move as the text has it: the line, whether rapid, the tip's way, what was in force, retreats before it."""

    line: int
    rapid: bool
    piece: Piece
    state: State
    part: int = 0


@dataclass(frozen=True)
class Event:
    """What is no move: retreat, entry, tool, limit, turns, surface (speed), start (of the spindle), stop, probe, end.

    ``at``: the tip, None where it is not known; ``z``: of an entry alone; ``parked``: at its retreat; ``part``:
    retreats before it; ``told``: to a probing cycle, by name of the template, lengths across as diameters [mm].
    """

    line: int
    what: str
    state: State
    at: Point | None = None
    z: float | None = None
    parked: bool = False
    part: int = 0
    told: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Reading:
    """A whole program as read."""

    moves: tuple[ReadMove, ...]
    events: tuple[Event, ...]
    ended: bool
    comments: tuple[str, ...] = field(default=())


class UnreadableProgram(InputError):
    """Lines of a program that cannot be read: ``lines``, each with its number, from 1, and what is wrong."""

    def __init__(self, lines: Sequence[tuple[int, str]]) -> None:
        self.lines = tuple(lines)
        super().__init__(*(f"line {number}: {words}" for number, words in lines))


def read_program(text: str, dialect: Dialect) -> Reading:
    """All moves of ``text``.

    Raises: ``UnreadableProgram`` with one problem a line that cannot be read.
    """
    reader = _Reader(dialect)
    for number, line in enumerate(text.split("\n"), start=1):
        try:
            reader.line(number, line.removesuffix("\r"))
        except ValueError as error:
            reader.problems.append((number, str(error)))
            if len(reader.problems) >= MOST_PROBLEMS:
                break
    if reader.problems:
        raise UnreadableProgram(reader.problems)
    return Reading(tuple(reader.moves), tuple(reader.events), reader.ended, tuple(reader.comments))


class _Reader:
    def __init__(self, dialect: Dialect) -> None:
        self.dialect, self.words = dialect, Vocabulary(dialect)
        self.retreat = [block(one) for one in dialect.words.retreat]
        self.problems: list[tuple[int, str]] = []
        self.moves: list[ReadMove] = []
        self.events: list[Event] = []
        self.comments: list[str] = []
        self.state = State()
        self.scale: float | None = None
        self.motion = ""
        self.at: Point | None = None
        self.entry_z: float | None = None
        self.parked = False
        self.retreats = self.retreat_at = 0
        self.probe = probe_call(dialect.words.probe_bore)
        self.begun = self.any_block = self.ended = self.closed = self.after_probe = False
        self.last_number = -1

    # lines

    def line(self, number: int, text: str) -> None:
        strange = strange_character(text)
        if strange:
            raise ValueError(f"a program has plain ASCII letters alone; this line has {strange}")
        if not text.strip(" "):
            return
        if "%" in text:
            self._percent(text)
            return
        self.begun = True
        bare = self._without_comment(text).strip(" ")
        if self.ended:
            raise ValueError(f'"{text.strip(" ")}" after the end of the program')
        if bare:
            self._block(number, bare)

    def _percent(self, text: str) -> None:
        if text.strip(" ") != "%" or self.closed or (self.begun and not self.ended):
            raise ValueError("% stands alone, as the first or the last line of a program")
        self.closed, self.begun = self.ended, True

    def _without_comment(self, text: str) -> str:
        if self.dialect.layout.comment == ";":
            bare, found, comment = text.partition(";")
            self.comments += [comment.strip(" ")] if found else []
        else:
            match = _COMMENT.search(text.rstrip(" "))
            bare = text if match is None else text[: match.start()]
            self.comments += [match[0][1:-1].strip(" ")] if match else []
        for sign in "();":
            if sign in bare:
                raise ValueError(f'"{sign}" is no comment at the end of a block, as this control has them')
        return bare

    def _block(self, number: int, bare: str) -> None:
        if bare != bare.upper():
            raise ValueError("small letters in a block: not every control reads them")
        words = words_of(bare)
        if words[0][0] == "O":
            if self.any_block or len(words) > 1 or not words[0][1].isdigit():
                raise ValueError("a program number stands alone, before the first block")
            self.any_block = True
            return
        self.any_block = True
        if words[0][0] == "N":
            self._numbered(words.pop(0)[1])
            if not words:
                self._new_part()
                return
        if self.after_probe:
            raise ValueError("after the probing cycle a part begins anew: a block of its number alone")
        if self._retreats(number, words):
            return
        if self.probe is not None and words[0][0] == "G" and code(words[0]) == "G65":
            self._probes(number, words)
            return
        if any(address in _POSITIONS for address, _ in words) or any(
            address == "G" and code((address, value)) in MOTIONS for address, value in words
        ):
            self._move(number, words)
        else:
            self._modes(number, words)

    def _numbered(self, value: str) -> None:
        if not value.isdigit() or int(value) <= self.last_number:
            raise ValueError(f"N{value}: block numbers rise, so that each is there once")
        self.last_number = int(value)

    def _new_part(self) -> None:
        """A block of its number alone: the program may be started here, so nothing said before counts."""
        if self.retreats and not self.parked:
            raise ValueError("a part starts here, but the tool is not at its retreat")
        self._mid_retreat()
        self.after_probe = False
        self.state = State(spinning=self.state.spinning)
        self.motion, self.scale = "", None

    # the far point

    def _retreats(self, number: int, words: list[Word]) -> bool:
        """Whether this block is the next of the template's retreat, word for word."""
        try:
            said = tuple(code(word) for word in words)
        except ValueError:
            said = ()
        if said != self.retreat[self.retreat_at]:
            self._mid_retreat()
            return False
        if self.retreat_at == 0:
            if self.retreats and not self.parked and self.at is None:
                raise ValueError("a retreat before the tool has come in by Z and by X")
            self._event(number, "retreat")
            self.parked, self.at, self.entry_z, self.motion = False, None, None, ""
        self.retreat_at += 1
        if self.retreat_at == len(self.retreat):
            self.retreat_at, self.parked = 0, True
            self.retreats += 1
        return True

    def _mid_retreat(self) -> None:
        if self.retreat_at:
            raise ValueError(f"the retreat is not whole: {' '.join(self.retreat[self.retreat_at])} is missing here")

    # the probing cycle

    def _probes(self, number: int, words: list[Word]) -> None:
        """The template's call, letter for letter; what it leaves behind nobody knows, so a new part must follow."""
        assert self.probe is not None
        macro, pairs = self.probe
        if [letter for letter, _ in words[1:]] != ["P", *(letter for letter, _ in pairs)] or words[1][1] != macro:
            raise ValueError("G65 is read only as the template's probing cycle has it, letter for letter")
        if self.scale is None:
            raise ValueError("a probing cycle before the unit is said in this part")
        told = {}
        for (letter, text), (_, name) in zip(words[2:], pairs, strict=True):
            if name in ("size", "most"):
                told[name] = 2 * self.words.length("X", text) * self.scale / self.words.x_scale
            elif name == "z":
                told[name] = self.words.length("Z", text) * self.scale
            elif not text.endswith(".") or not text[:-1].isdigit():
                raise ValueError(f"{letter}{text}: a whole number with its point")
            else:
                told[name] = float(text)
        self.events.append(Event(number, "probe", self.state, self.at, None, self.parked, self.retreats, told))
        self.state, self.motion, self.scale, self.after_probe = State(spinning=True), "", None, True

    # moves

    def _move(self, number: int, words: list[Word]) -> None:
        motions, values = [], {}
        for word in words:
            address, value = word
            if address == "G" and code(word) in MOTIONS:
                motions.append(MOTIONS[code(word)])
            elif address not in ("X", "Z", "F", *self.words.bends):
                known = ", ".join(("a motion", "X", "Z", "F", *self.words.bends))
                raise ValueError(f"{address}{value} beside a move: there stand only {known}")
            elif address in values:
                raise ValueError(f"{address} stands twice")
            else:
                values[address] = value
        if len(motions) > 1:
            raise ValueError("two motions in one block")
        if not values.keys() & {"X", "Z"}:
            raise ValueError("a motion without X or Z")
        self.motion = motions[0] if motions else self.motion
        if not self.motion:
            raise ValueError("a position without G0, G1, G2 or G3 before it in this part")
        if self.scale is None:
            raise ValueError("a move before the unit is said in this part")
        numbers = {a: self.words.length(a, v) * self.scale for a, v in values.items() if a != "F"}
        numbers |= {"R": numbers.pop("CR=")} if "CR=" in numbers else {}
        if "F" in values:
            if self.motion == "rapid":
                raise ValueError("a feed on a rapid")
            self.state = replace(self.state, feed=self.words.feed(values["F"]) * self.scale)
        if self.at is None:
            self._come_in(number, numbers)
        else:
            self._go(number, numbers, self.at)

    def _come_in(self, number: int, numbers: dict[str, float]) -> None:
        """From the unknown far point: a rapid along Z alone, then one along X alone."""
        wanted = {"Z"} if self.entry_z is None else {"X"}
        if not (self.parked or self.entry_z is not None):
            raise ValueError("a move before a retreat: where the tool stands is not known")
        if self.motion != "rapid" or numbers.keys() != wanted:
            raise ValueError("after a retreat the tool comes in by a rapid along Z alone, then by one along X alone")
        if self.entry_z is None:
            self.parked, self.entry_z = False, numbers["Z"]
            self._event(number, "entry", numbers["Z"])
            return
        self.at = (numbers["X"] / self.words.x_scale, self.entry_z)
        self.moves.append(ReadMove(number, True, Line(self.at, self.at), self.state, self.retreats))

    def _go(self, number: int, numbers: dict[str, float], start: Point) -> None:
        end = (numbers["X"] / self.words.x_scale if "X" in numbers else start[0], numbers.get("Z", start[1]))
        bends = numbers.keys() & set("IKR")
        piece: Piece
        if self.motion in ("rapid", "line"):
            if bends:
                raise ValueError(f"{min(bends)} on a straight move")
            piece = Line(start, end)
        else:
            misfit = max(ARC_MISFIT_MM, 2 * self.dialect.numbers.rounding)
            piece = arc_of(start, end, numbers, 1 if self.motion == "clockwise" else -1, misfit)
        self.moves.append(ReadMove(number, self.motion == "rapid", piece, self.state, self.retreats))
        self.at = end

    # modes

    def _modes(self, number: int, words: list[Word]) -> None:
        keys = self.words.keys_of(words)
        groups = [GROUPS.get(key, key) for key in keys]
        for key, group in zip(keys, groups, strict=True):
            if groups.count(group) > 1:
                raise ValueError(f"two words for the {group} in one block")
            if key not in GROUPS and len(keys) > 1:
                raise ValueError(f"the word for {key.replace('_', ' ')} stands alone in its block")
            if group in _ONLY_PARKED and self.retreats and not self.parked:
                raise ValueError(f"the {group} may only change while the tool is at its retreat")
        if sum(address == "M" for address, _ in words) > 1 and "tool" not in keys:
            raise ValueError("two M words in one block: many controls take the last alone")
        self.state = replace(self.state, said=self.state.said | set(keys))
        values = dict(words)
        for key in sorted(keys, key=lambda key: key.startswith("spindle")):  # a block is in force as a whole
            self._mode(number, key, values)

    def _mode(self, number: int, key: str, values: dict[str, str]) -> None:
        state, words = self.state, self.words
        if key in ("metric", "inch"):
            if key != self.words.unit:
                raise ValueError(f"the template's unit is {'inches' if key == 'metric' else 'millimetres'}, not this")
            self.scale = self.dialect.numbers.scale
        elif key == "feed_per_turn":
            self.state = replace(state, per_turn=True)
        elif key == "limit":
            self.state = replace(state, limit=words.speed(values[words.limit_address]))
            self._event(number, "limit")
        elif key in ("surface_speed", "fixed_speed"):
            speed, surface = words.speed(values["S"]), key == "surface_speed"
            speed *= self.dialect.numbers.speed_scale if surface else 1.0
            limit = words.speed(values[words.limit_address]) if surface and words.limit_beside_speed else state.limit
            self.state = replace(state, constant_surface=surface, speed=speed, limit=limit)
            self._event(number, "surface" if surface else "turns")
        elif key in ("spindle_on", "spindle_off"):
            self.state = replace(state, turning=key == "spindle_on", spinning=key == "spindle_on")
            if key == "spindle_on":
                self._event(number, "start")
        elif key == "tool":
            self.state = replace(state, tool=words.tool_text(values), feed=None)
            self._event(number, "tool")
        elif key in ("stop", "end"):
            self._event(number, key)
            self.ended = key == "end"

    def _event(self, number: int, what: str, z: float | None = None) -> None:
        self.events.append(Event(number, what, self.state, self.at, z, self.parked, self.retreats))


def tool_text(dialect: Dialect, tool: BoringTool) -> str:
    """How ``tool`` is called with its offset, as the reader has it: ``T0505``."""
    offset = tool.offset_number
    phrase = filled(dialect.words.tool, tool=f"{tool.number:02d}", offset=f"{offset:02d}")
    return Vocabulary(dialect).tool_text(dict(words_of(phrase.upper())))

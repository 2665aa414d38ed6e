"""The text of a program: explicit G0 G1 G2 G3 and feed per turn; all other words, and the frame, from the dialect.

Each group of parts says all it needs again, from one retreat to the next, so that it can be started alone.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from itertools import groupby, product
from math import cos, floor, hypot, pi, sin
from string import Template

from heldtrue.errors import InputError
from heldtrue.program.dialect import Dialect, filled
from heldtrue.program.geometry import Arc, Piece
from heldtrue.program.job import BoringJob, Point
from heldtrue.program.path import GROUPS, Move, ToolPath

FLAT_MM = 1e-4
"""An arc that is off its chord by less is written as a line."""
SHORTEST_ARC_MM = 0.005
PROBING = (
    "probing cycle of this control: it corrects the X wear offset",
    "it must end at the far point with the spindle stopped",
)
"""What the cycle has to do, said beside its call: nothing of it can be proved."""
_SIGNS = {"Ø": "DIA ", "⌀": "DIA ", "µ": "u", "μ": "u", "×": "x", "–": "-", "—": "-", "°": " deg", "±": "+-", "ß": "ss"}


def write_program(job: BoringJob, path: ToolPath, dialect: Dialect) -> str:
    """The program's text, one block a line."""
    return "\n".join(_Writer(job, dialect).lines(path)) + "\n"


@dataclass
class _Place:
    """The tip as the last block left it, in the program's numbers."""

    x: float | None = None
    z: float | None = None
    feed: float | None = None


class _Writer:
    def __init__(self, job: BoringJob, dialect: Dialect) -> None:
        self.job, self.dialect, self.numbers = job, dialect, dialect.numbers
        self.place = _Place()
        self.values = self._values()

    def lines(self, path: ToolPath) -> list[str]:
        """Head, parts and foot; each part stands alone, from its retreat to its retreat."""
        text = self.dialect.text
        found = _numbered(self._filled(text.header), self.dialect, 0)
        for number, (group, moves) in enumerate(groupby(path.moves, key=lambda move: GROUPS[move.part]), start=1):
            part = self._part(group, list(moves), number)
            found += _numbered(part, self.dialect, _last_number(found))
        return found + _numbered(self._filled(text.footer), self.dialect, _last_number(found))

    def _part(self, group: str, moves: list[Move], number: int) -> list[str]:
        self.place = _Place()
        text, words, cutting = self.dialect.text, self.dialect.words, self.job.cutting
        start, limit = moves[0].piece.start, self._limit()
        at_start = min(limit, 1000 * cutting.surface_speed / (2 * pi * max(abs(start[0]), 1.0)))
        speed = at_start if cutting.fixed_speed is None else cutting.fixed_speed
        own = {
            "part": f"N{100 * number} {self.comment(_GROUP_TITLES[group])}",
            "start_speed": filled(words.fixed_speed, speed=self._speed(max(speed, 1.0))),
        }
        found = self._filled(text.part, **own) + self._come_in(start)
        if cutting.fixed_speed is None:
            surface = self._speed(cutting.surface_speed / self.numbers.speed_scale)
            found.append(filled(words.surface_speed, speed=surface, limit=f"{limit}"))
        found += self._blocks(moves) + self._filled(text.part_end, **own)
        return found + (self._filled(text.measure) if group == "semi" else [])

    def _blocks(self, moves: list[Move]) -> list[str]:
        found: list[str] = []
        part = moves[0].part
        for move in moves:
            if move.part != part:
                part = move.part
                found.append(self.comment(_TITLES[part]))
            block = self._block(move.piece, move.feed)
            if block:
                found.append(block)
        return found

    def _limit(self) -> int:
        return int(min(self.job.cutting.spindle_limit, self.job.limits.max_speed))

    def _speed(self, value: float) -> str:
        places = self.numbers.speed_decimals
        return _number(floor(value * 10**places + 1e-9) / 10**places, places, point=places > 0)

    def _values(self) -> dict[str, str]:
        """What stands for each name in the frame of a program, the same all through it."""
        words, tool = self.dialect.words, self.job.tool
        stands = {"tool": f"{tool.number:02d}", "offset": f"{tool.offset_number:02d}"}
        own = {name: filled(getattr(words, name), limit=f"{self._limit()}", **stands) for name in _PLAIN_WORDS}
        own["unit"] = words.inch if self.numbers.unit == "inch" else words.metric
        own["retreat"] = "\n".join(words.retreat)
        own["title"] = self.comment(self.job.title)
        tool_line = f"tool {tool.number} {tool.name}, nose radius {tool.nose_radius:g} mm, tip {tool.quadrant}"
        own["comments"] = "\n".join(self.comment(c) for c in (*self.job.comments, tool_line, self._unit()))
        own["clear_comment"] = self.comment("the tool must stand clear: it goes to its far point from here")
        own["stops"] = "\n".join(f"{words.stop} {self.comment(s)}" for s in self.job.stops)
        own["measure"] = self._probing() if words.probe_bore and self.job.probe is not None else self._measuring()
        return own

    def _probing(self) -> str:
        """The call of the control's own cycle in place of the stop, and what it must do."""
        probe, scale = self.job.probe, self.numbers.scale
        assert probe is not None
        across = self.numbers.x_scale / 2 / scale
        offset = self.job.tool.offset_number
        told = {
            "size": self._x(probe.size * across), "z": self._z(probe.z / scale), "most": self._x(probe.most * across),
            "offset": f"{offset}.", "tool": f"{self.job.tool.number}.", "jaws": f"{probe.jaws}.",
        }  # fmt: skip
        said = (self.job.measure[0] if self.job.measure else "measure", *PROBING)
        return "\n".join([*map(self.comment, said), filled(self.dialect.words.probe_bore, **told)])

    def _measuring(self) -> str:
        words = self.dialect.words
        *first, last = self.job.measure or ("measure",)
        if self.numbers.x == "radius":
            first.append("X is a radius here: enter half of the difference in diameter")
        return "\n".join([*(self.comment(c) for c in first), f"{words.stop} {self.comment(last)}"])

    def _unit(self) -> str:
        unit = "inches" if self.numbers.unit == "inch" else "millimetres"
        return f"all lengths in {unit}, X as a {self.numbers.x}"

    def _filled(self, text: str, **more: str) -> list[str]:
        """A piece of the frame with its values, empty lines dropped."""
        try:
            text = Template(text).substitute(self.values | more)
        except (KeyError, ValueError) as error:
            raise InputError(f"program template {self.dialect.name}, [text]: {error} is not known there") from error
        return [line for line in (re.sub(r"[ \t]+", " ", raw).strip() for raw in text.splitlines()) if line]

    def comment(self, text: str) -> str:
        """A comment the control can read: plain letters, no brackets inside."""
        plain = "".join(_SIGNS.get(c, c) for c in text)
        plain = unicodedata.normalize("NFKD", plain).encode("ascii", "ignore").decode()
        plain = re.sub(r"[^\x20-\x7e]", " ", plain).translate(str.maketrans("()[];%", "      "))
        layout = self.dialect.layout
        plain = " ".join(plain.split())[: max(8, layout.longest_comment)].rstrip()
        plain = plain.upper() if layout.upper_case else plain
        return f"({plain})" if layout.comment == "()" else f"; {plain}"

    def _come_in(self, start: Point) -> list[str]:
        """From the far point: along Z to where nothing is in the way, then along X."""
        self.place.x, self.place.z = x, z = self._rounded(start)
        return [f"G0 Z{self._z(z)}", f"G0 X{self._x(x)}"]

    def _block(self, piece: Piece, feed: float | None) -> str | None:
        old = self.place
        assert old.x is not None
        assert old.z is not None
        x, z = self._rounded(piece.end)
        if x == old.x and z == old.z:
            return None
        arc = isinstance(piece, Arc) and _bulge(piece) > FLAT_MM and piece.length > SHORTEST_ARC_MM
        words = ["G0" if feed is None else "G1"]
        if arc and isinstance(piece, Arc):
            words = ["G2" if piece.turn > 0 else "G3"]
        words += [f"X{self._x(x)}"] if x != old.x or arc else []
        words += [f"Z{self._z(z)}"] if z != old.z or arc else []
        if arc and isinstance(piece, Arc):
            words += self._bend(piece, (old.x, old.z), (x, z))
        if feed is not None:
            written = round(feed / self.numbers.scale, self.numbers.feed_decimals)
            if written <= 0:
                raise InputError(f"feed {feed:g} mm per turn is 0 with {self.numbers.feed_decimals} decimal places")
            if written != old.feed:
                words.append(f"F{_number(written, self.numbers.feed_decimals)}")
                old.feed = written
        old.x, old.z = x, z
        return " ".join(words)

    def _bend(self, arc: Arc, start: Point, end: Point) -> list[str]:
        """R, or I and K; of the nearest I K those that keep the rounded arc closest to the true one."""
        scale, places = self.numbers.scale, self.numbers.z_decimals
        if self.numbers.arcs != "IK":
            return [f"{self.numbers.arcs}{_number(arc.radius / scale, places)}"]
        from_x, from_z = start[0] / self.numbers.x_scale, start[1]
        true = (arc.centre[0] / scale, arc.centre[1] / scale)
        radius, step = arc.radius / scale, 10.0**-places
        middle = arc.angle + arc.turn / 2
        best: tuple[float, str, str] | None = None
        for di, dk in product((-1, 0, 1), repeat=2):
            i = round(true[0] - from_x + di * step, places)
            k = round(true[1] - from_z + dk * step, places)
            reach = hypot(i, k)
            off = (from_x + i - true[0], from_z + k - true[1])
            bow = abs(reach + off[0] * cos(middle) + off[1] * sin(middle) - radius)
            misfit = abs(hypot(end[0] / self.numbers.x_scale - from_x - i, end[1] - from_z - k) - reach)
            worst = max(bow, misfit, hypot(*off) / 4)
            if best is None or worst < best[0]:
                best = (worst, _number(i, places), _number(k, places))
        assert best is not None
        return [f"I{best[1]}", f"K{best[2]}"]

    def _rounded(self, tip: Point) -> Point:
        scale = self.numbers.scale
        return round(self.numbers.x_scale * tip[0] / scale, self.numbers.x_decimals), round(
            tip[1] / scale, self.numbers.z_decimals
        )

    def _x(self, value: float) -> str:
        return _number(value, self.numbers.x_decimals)

    def _z(self, value: float) -> str:
        return _number(value, self.numbers.z_decimals)


_TITLES = {
    "face": "facing the jaw fronts",
    "deburr": "along the mouth again",
    "rough": "roughing along z",
    "contour": "along the line",
    "relief": "corner relief",
    "semi": "before the finish",
    "finish": "finish",
    "spring": "the finish once more",
    "groove": "groove for the ring",
}
_GROUP_TITLES = _TITLES | {"rough": "roughing"}
_PLAIN_WORDS = (
    "plane", "absolute", "diameter", "no_compensation", "feed_per_turn", "limit", "spindle_on", "spindle_off", "tool",
    "work_offset", "coolant_on", "coolant_off", "stop", "end",
)  # fmt: skip


def _bulge(arc: Arc) -> float:
    return arc.radius * (1 - cos(arc.turn / 2))


def _number(value: float, places: int, *, point: bool = True) -> str:
    text = f"{value:.{places}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text + "." if point and "." not in text else text


def _numbered(lines: list[str], dialect: Dialect, count: int) -> list[str]:
    """Blocks with their numbers where the template wants them; a part's own number is always there."""
    step, found = dialect.layout.block_step, []
    for line in lines:
        if step and line[0] not in "%O(;":
            count += step
            line = f"N{count} {re.sub(r'^N[0-9]+ ', '', line)}"
        found.append(line)
    return found


def _last_number(lines: list[str]) -> int:
    return max((int(one[1]) for one in (re.match(r"N([0-9]+) ", line) for line in lines) if one), default=0)

"""The text of a program: explicit G0 G1 G2 G3, X as a diameter, feed per turn, all other words from the dialect."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from itertools import product
from math import cos, hypot, sin
from string import Template

from heldtrue.errors import InputError
from heldtrue.program.dialect import Dialect
from heldtrue.program.geometry import Arc, Piece
from heldtrue.program.job import BoringJob, Point
from heldtrue.program.path import ToolPath

FLAT_MM = 1e-4
"""An arc that is off its chord by less is written as a line."""
SHORTEST_ARC_MM = 0.005
_SIGNS = {"Ø": "DIA ", "⌀": "DIA ", "µ": "u", "μ": "u", "×": "x", "–": "-", "—": "-", "°": " deg", "±": "+-", "ß": "ss"}


def write_program(job: BoringJob, path: ToolPath, dialect: Dialect) -> str:
    """The program's text, one block a line."""
    writer = _Writer(job, dialect)
    lines = [*writer.filled(dialect.header), *writer.blocks(path), *writer.filled(dialect.footer)]
    return "\n".join(_numbered(lines, dialect)) + "\n"


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

    def blocks(self, path: ToolPath) -> list[str]:
        """The moves, with a comment before each part."""
        found = [self._start(path.start)]
        part = ""
        for move in path.moves:
            if move.part != part:
                part = move.part
                if part != "approach":
                    found.append(self.comment(_TITLES[part]))
            block = self._block(move.piece, move.feed)
            if block:
                found.append(block)
        return found

    def filled(self, text: str) -> list[str]:
        """Header or footer with its values, empty lines dropped."""
        words, cutting, tool = self.dialect.words, self.job.cutting, self.job.tool
        limit = f"{int(min(cutting.spindle_limit, self.job.limits.max_speed))}"
        surface = cutting.surface_speed / self.numbers.speed_scale
        speed = surface if cutting.fixed_speed is None else cutting.fixed_speed
        values = {
            "limit": limit,
            "speed": _number(speed, self.numbers.speed_decimals, point=self.numbers.speed_decimals > 0),
            "tool": f"{tool.number:02d}",
            "offset": f"{tool.number if tool.offset is None else tool.offset:02d}",
        }
        own = {
            name: Template(getattr(words, name)).safe_substitute(values)
            for name in (*_PLAIN_WORDS, "limit", "surface_speed", "fixed_speed", "tool")
        }
        own["unit"] = words.inch if self.numbers.unit == "inch" else words.metric
        own["speed"] = own["surface_speed"] if cutting.fixed_speed is None else own["fixed_speed"]
        own["title"] = self.comment(self.job.title)
        tool_line = f"tool {tool.number} {tool.name}, nose radius {tool.nose_radius:g} mm, tip {tool.quadrant}"
        own["comments"] = "\n".join(self.comment(c) for c in (*self.job.comments, tool_line))
        own["stops"] = "\n".join(f"{words.stop} {self.comment(s)}" for s in self.job.stops)
        try:
            text = Template(text).substitute(own)
        except (KeyError, ValueError) as error:
            raise InputError(f"program template {self.dialect.name}, header or footer: {error} is not known") from error
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

    def _start(self, start: Point) -> str:
        x, z = self._rounded(start)
        self.place.x, self.place.z = x, z
        return f"G0 X{self._x(x)} Z{self._z(z)}"

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
        if self.numbers.arcs == "R":
            return [f"R{_number(arc.radius / scale, places)}"]
        from_x, from_z = start[0] / 2, start[1]
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
            misfit = abs(hypot(end[0] / 2 - from_x - i, end[1] - from_z - k) - reach)
            worst = max(bow, misfit, hypot(*off) / 4)
            if best is None or worst < best[0]:
                best = (worst, _number(i, places), _number(k, places))
        assert best is not None
        return [f"I{best[1]}", f"K{best[2]}"]

    def _rounded(self, tip: Point) -> Point:
        scale = self.numbers.scale
        return round(2 * tip[0] / scale, self.numbers.x_decimals), round(tip[1] / scale, self.numbers.z_decimals)

    def _x(self, value: float) -> str:
        return _number(value, self.numbers.x_decimals)

    def _z(self, value: float) -> str:
        return _number(value, self.numbers.z_decimals)


_TITLES = {
    "rough": "roughing along z",
    "contour": "along the line",
    "relief": "corner relief",
    "finish": "finish",
}
_PLAIN_WORDS = (
    "plane", "absolute", "diameter", "no_compensation", "feed_per_turn", "spindle_on", "spindle_off", "coolant_on",
    "coolant_off", "stop", "end",
)  # fmt: skip


def _bulge(arc: Arc) -> float:
    return arc.radius * (1 - cos(arc.turn / 2))


def _number(value: float, places: int, *, point: bool = True) -> str:
    text = f"{value:.{places}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text + "." if point and "." not in text else text


def _numbered(lines: list[str], dialect: Dialect) -> list[str]:
    step, count, found = dialect.layout.block_step, 0, []
    for line in lines:
        if step and line[0] not in "%O(;":
            count += step
            line = f"N{count} {line}"
        found.append(line)
    return found

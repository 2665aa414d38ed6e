"""A second reader and a second cut of boring programs, written apart from heldtrue's: dumb and slow.

It knows each shipped template by words written down again here, splits blocks by hand, walks the moves, and asks of
many single points whether nose, edge or holder pass over them.  ``judge`` says everything that is unsafe about a text;
``same_shape`` whether two texts leave the same metal.  Nothing of ``heldtrue.program`` is imported; of a job only its
plain data is read (outlines, tool, feeds, limits).  [mm, mm/rev, rev/min, m/min]
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from math import acos, atan2, ceil, cos, hypot, inf, pi, radians, sin, sqrt

import numpy as np

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
FINE = 1.3e-3
"""A point this deep inside or outside of what a program cuts does not change sides by rounding."""
GRID, COARSE_GRID = 0.25, 0.6


@dataclass(frozen=True)
class Control:
    """One control's words, written down by hand."""

    unit: str = "G21"
    mm: float = 1.0
    per_radius: float = 2.0
    places: int = 3
    modes: tuple[str, ...] = ("G21", "G18", "G90", "G40", "G95")
    per_turn: str = "G95"
    limit: tuple[str, str] = ("G92", "S")
    tool: str = "T{tool:02d}{offset:02d}"
    home: tuple[str, ...] = ("G28 W0.", "G28 U0.")
    bends: tuple[str, ...] = ("R",)
    comment: str = "("
    surface_unit: float = 1.0
    off: float = 1e-3
    probe: str = ""
    silent: frozenset[str] = frozenset({"M8", "M9"})


CONTROLS = {
    "neutral": Control(),
    "ik": Control(bends=("I", "K")),
    "probe": Control(probe="G65 P9120 D{size} A{z} Q{most} H{offset}"),
    "iso-g92-g95": Control(home=("G91 G28 Z0.", "G91 G28 X0.", "G90")),
    "iso-g50-g99": Control(modes=("G21", "G18", "G40", "G99"), per_turn="G99", limit=("G50", "S")),
    "lims-cr": Control(
        unit="G71", modes=("G71", "G18", "G90", "DIAMON", "G40", "G95"), limit=("", "LIMS"),
        tool="T{tool:02d} D{offset:02d}", home=("G75 Z0.", "G75 X0."), bends=("CR",), comment=";",
    ),
    "radius-x": Control(per_radius=1.0),
    "inch": Control(
        unit="G20", mm=25.4, places=4, modes=("G20", "G18", "G90", "G40", "G95"), surface_unit=0.3048, off=2.42e-3,
    ),
}  # fmt: skip


@dataclass
class Move:
    """A way of the programmed tip as points (radius, z)."""

    line: int
    rapid: bool
    points: list[tuple[float, float]]
    feed: float
    part: int


@dataclass
class Text:
    """What was read: moves, where the tool was brought home and in, stops, and all that is wrong."""

    moves: list[Move] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    stops: list[tuple[int, int]] = field(default_factory=list)
    probes: list[int] = field(default_factory=list)
    heights: list[tuple[int, float]] = field(default_factory=list)


# reading


def plain(line):
    return all(32 <= ord(c) <= 126 for c in line)


def split(bare):
    """Words as (address, number) by walking along the characters; None where something is none."""
    found, i = [], 0
    while i < len(bare):
        if bare[i] == " ":
            i += 1
            continue
        address = ""
        while i < len(bare) and bare[i] in LETTERS:
            address += bare[i]
            i += 1
        if not address:
            return None
        if i < len(bare) and bare[i] == "=":
            i += 1
            if len(address) < 2:
                return None
        elif address in ("DIAMON", "DIAMOF"):
            found.append((address, ""))
            continue
        elif len(address) > 1:
            return None
        while i < len(bare) and bare[i] == " ":
            i += 1
        number = ""
        while i < len(bare) and bare[i] in "+-.0123456789":
            number += bare[i]
            i += 1
        digits = number[1:] if number[:1] in ("+", "-") else number
        if not digits or digits.count(".") > 1 or "+" in digits or "-" in digits or digits == ".":
            return None
        found.append((address, number))
    return found


def uncommented(line, control):
    """The block without its comment; None where a comment is not whole or not at the end."""
    if control.comment == ";":
        bare = line.split(";")[0]
    else:
        bare = line
        if "(" in line:
            start = line.index("(")
            rest = line[start + 1 :].rstrip(" ")
            if not rest.endswith(")") or "(" in rest or ")" in rest[:-1]:
                return None
            bare = line[:start]
    return None if any(c in bare for c in "();%") else bare.strip(" ")


class Walk:
    """Goes down the lines of a program as a careful control would."""

    def __init__(self, control, job):
        self.c, self.job, self.text = control, job, Text()
        self.number = -1
        self.home, self.z, self.at = "lost", None, None
        self.home_step, self.part = 0, 0
        self.spinning = self.ended = self.left = self.unknown = False
        self.forget()
        self.most = min(job.cutting.spindle_limit, job.limits.max_speed)

    def forget(self):
        self.said, self.motion, self.feed = set(), None, None
        self.mode = self.speed = self.limit = None
        self.on = False

    def bad(self, words):
        self.text.wrong.append(f"line {self.line}: {words}")

    def run(self, text):
        lines = text.replace("\r\n", "\n").split("\n")
        full = [i for i, line in enumerate(lines) if line.strip(" ")]
        for i, line in enumerate(lines):
            self.line = i + 1
            if not plain(line):
                self.bad("a strange character")
                continue
            if line.strip(" ") == "%":
                if i != full[0] and not (i == full[-1] and self.ended):
                    self.bad("% in the middle")
                continue
            if "%" in line:
                self.bad("% in a block")
                continue
            bare = uncommented(line, self.c)
            if bare is None:
                self.bad("a broken comment")
            elif line.strip(" ") and self.ended:
                self.bad("something after the end")
            elif bare:
                words = split(bare)
                if words is None:
                    self.bad("no words")
                else:
                    self.block(words)
        if not self.ended:
            self.bad("no end")
        return self.text

    def block(self, words):
        if words[0][0] == "O":
            if self.number >= 0 or len(words) > 1 or self.said or self.home != "lost":
                self.bad("O in the middle")
            return
        if words[0][0] == "N":
            if not words[0][1].isdigit() or int(words[0][1]) <= self.number:
                self.bad("N does not rise")
                return
            self.number = int(words[0][1])
            words = words[1:]
            if not words:
                if self.home != "there":
                    self.bad("a part begins away from home") if self.part else None
                if self.home_step:
                    self.bad("half a way home")
                self.unknown = False
                self.forget()
                return
        flat = " ".join(self.plain_code(a, n) for a, n in words)
        if self.unknown:
            self.bad("goes on after a cycle that may have left anything behind")
            return
        if self.c.probe and flat.startswith("G65"):
            self.cycle(flat)
            return
        if flat == self.c.home[self.home_step]:
            self.go_home()
            return
        if self.home_step:
            self.bad("half a way home")
            return
        addresses = [a for a, _ in words]
        if any(a in ("X", "Z", "I", "K", "R", "CR") for a in addresses):
            self.move(words)
        else:
            self.other(words, flat)

    @staticmethod
    def plain_code(address, number):
        if address in ("G", "M") and number.isdigit():
            return f"{address}{int(number)}"
        return f"{address}{'=' if len(address) > 1 and number else ''}{number}"

    def cycle(self, flat):
        """The call of the control's own cycle, to the letter, at home and with the spindle standing."""
        ask, tool = self.job.probe, self.job.tool
        offset = tool.number if tool.offset is None else tool.offset
        wanted = self.c.probe.format(
            size=f"{ask.size:.3f}", z=f"{ask.z:.3f}", most=f"{ask.most:.3f}", offset=f"{offset}."
        )
        numbers = [[float(part[1:]) for part in one.split(" ")] for one in (flat, wanted) if one.count(" ") == 5]
        same = len(numbers) == 2 and all(abs(a - b) < 1.5e-3 for a, b in zip(*numbers, strict=True))
        same = same and all("." in part for part in flat.split(" ")[2:])
        if not same or [part[0] for part in flat.split(" ")] != [part[0] for part in wanted.split(" ")]:
            self.bad("another cycle, or told otherwise")
        if self.spinning or self.home != "there" or "G21" not in self.said:
            self.bad("a cycle with the spindle turning, the tool inside, or no unit")
        self.text.probes.append(self.line)
        self.unknown = self.spinning = True

    def go_home(self):
        if self.home_step == 0:
            if self.home == "in":
                self.text.heights.append((self.line, self.at[1]))
            elif self.home == "half":
                self.bad("home from half way in")
            if self.spinning and (self.home == "lost" or (self.home == "in" and self.mode == "surface")):
                self.bad("home with the spindle running as it should not")
            self.left = self.left or self.home != "there"
            self.home, self.at, self.z, self.motion = "going", None, None, None
        self.home_step += 1
        if self.home_step == len(self.c.home):
            self.home_step, self.home = 0, "there"
            self.part += self.left
            self.left = False

    # moves

    def length(self, address, number):
        if "." not in number or len(number.split(".")[1]) > self.c.places:
            self.bad(f"{address}{number}")
            return 0.0
        return float(number) * self.c.mm / (self.c.per_radius if address == "X" else 1.0)

    def move(self, words):
        got = {}
        for address, number in words:
            if address == "G" and number.isdigit() and int(number) in (0, 1, 2, 3) and "G" not in got:
                got["G"] = int(number)
            elif address in ("X", "Z", "F", *self.c.bends) and address not in got:
                got[address] = number
            else:
                self.bad(f"{address}{number} in a move")
                return
        self.motion = got.get("G", self.motion)
        x, z = (self.length(a, got[a]) if a in got else None for a in "XZ")
        if self.motion is None or (x is None and z is None):
            self.bad("no motion, or no place")
            return
        if "F" in got:
            if self.motion == 0 or "." not in got["F"] or float(got["F"]) <= 0:
                self.bad("a wrong feed")
                return
            self.feed = float(got["F"]) * self.c.mm
        if self.home != "in":
            self.come_in(x, z)
            return
        end = (self.at[0] if x is None else x, self.at[1] if z is None else z)
        bend = [a for a in got if a in self.c.bends]
        if self.motion in (0, 1) and bend:
            self.bad("a bend on a line")
            return
        points = [self.at, end]
        if self.motion in (2, 3):
            points = self.bent(got, end)
        if points is None:
            return
        self.add(points)
        self.at = end

    def come_in(self, x, z):
        if self.motion != 0 or (x is None) == (z is None):
            self.bad("not in by Z, then by X")
        elif self.home == "there" and z is not None:
            self.home, self.z = "half", z
            self.text.heights.append((self.line, z))
            missing = [m for m in self.c.modes if m not in self.said]
            tool, offset = self.job.tool.number, self.job.tool.offset
            call = self.c.tool.format(tool=tool, offset=tool if offset is None else offset)
            missing += [] if call in self.said else [call]
            missing += [] if "G54" in self.said else ["G54"]
            if missing:
                self.bad(f"not said: {missing}")
            if self.spinning and self.mode != "fixed":
                self.bad("surface speed, or none, on the way in")
        elif self.home == "half" and x is not None:
            self.home, self.at = "in", (x, self.z)
            self.add([self.at, self.at])
        else:
            self.bad("a move from an unknown place")

    def bent(self, got, end):
        sense = 1 if self.motion == 2 else -1
        (a, b), (c, d) = self.at, end
        chord = hypot(c - a, d - b)
        if chord < 1e-9:
            self.bad("an arc to where it starts")
            return None
        slack = max(2e-3, 2 * self.c.off if self.c.mm > 1 else 0.0)
        if self.c.bends == ("I", "K"):
            i, k = (float(got.get(n, "0.")) * self.c.mm for n in "IK")
            if "I" not in got and "K" not in got:
                self.bad("no centre")
                return None
            centre = (a + i, b + k)
            radius = hypot(i, k)
            if abs(hypot(c - centre[0], d - centre[1]) - radius) > slack:
                self.bad("two radii")
                return None
        else:
            text = got.get(self.c.bends[0], "")
            radius = self.length(self.c.bends[0], text) if text else 0.0
            if radius <= 0 or chord > 2 * radius + slack:
                self.bad("a wrong radius")
                return None
            radius = max(radius, chord / 2)
            rise = sqrt(max(radius**2 - chord**2 / 4, 0.0))
            u, w = (c - a) / chord, (d - b) / chord
            centre = ((a + c) / 2 - sense * rise * w, (b + d) / 2 + sense * rise * u)
        first = atan2(b - centre[1], a - centre[0])
        turn = (atan2(d - centre[1], c - centre[0]) - first) * sense % (2 * pi)
        if turn > pi + 1e-6:
            self.bad("more than half round")
            return None
        steps = max(1, ceil(turn / (2 * acos(1 - min(0.5, 2e-5 / radius)))))
        inner = [first + sense * turn * s / steps for s in range(1, steps)]
        return [self.at, *((centre[0] + radius * cos(t), centre[1] + radius * sin(t)) for t in inner), end]

    def add(self, points):
        cutting, limits = self.job.cutting, self.job.limits
        for x, z in points:
            if not (limits.x[0] - 1e-6 <= x <= limits.x[1] + 1e-6 and limits.z[0] - 1e-6 <= z <= limits.z[1] + 1e-6):
                self.bad("beyond the travel")
                break
        if self.on and (self.limit is None or self.limit > self.most + 0.5):
            self.bad("no limit, or too high a one")
        if self.on and self.mode == "fixed" and self.speed > self.most + 0.5:
            self.bad("too fast")
        if self.motion != 0:
            if not self.on or self.mode != ("surface" if cutting.fixed_speed is None else "fixed"):
                self.bad("cuts without its kind of speed")
            elif (
                self.mode == "surface" and not 0.19 * cutting.surface_speed < self.speed < 1.02 * cutting.surface_speed
            ):
                self.bad("a wrong surface speed")
            most = max(cutting.rough_feed, cutting.finish_feed)
            if (
                self.feed is None
                or self.feed > 1.001 * most + 7e-4
                or self.feed < 0.19 * min(cutting.rough_feed, cutting.finish_feed)
            ):
                self.bad("a wrong feed")
        self.text.moves.append(Move(self.line, self.motion == 0, points, self.feed or 0.0, self.part))

    # words

    def other(self, words, flat):
        said = flat.split(" ")
        c, i = self.c, 0
        if len(set(said)) < len(said):
            self.bad("a word twice")
            return
        if flat in ("M0", "M30"):
            if self.spinning or self.home != "there":
                self.bad("halts with the spindle turning or the tool inside")
            self.text.stops.append((self.line, self.part))
            self.ended = flat == "M30"
            return
        if words[0][0] == "T":
            if self.home != "there" and self.part:
                self.bad("a tool called away from home")
            self.said = {s for s in self.said if s[0] != "T"} | {flat}
            self.feed = None
            return
        if len(said) == (2 if c.limit[0] else 1) and said[0].startswith(c.limit[0] or "LIMS="):
            address, number = words[-1]
            if address != c.limit[1] or not number.replace(".", "", 1).isdigit() or float(number) <= 0:
                self.bad("no limit")
                return
            self.limit = float(number)
            return
        allowed = {*c.modes, "G54"}
        if all(s in allowed for s in said):
            if self.home == "in" or self.home == "half":
                self.bad("a mode changed away from home") if flat != c.per_turn else None
            self.said |= set(said)
            return
        starts = False
        while i < len(said):
            if said[i] in ("G96", "G97"):
                speed = [n for a, n in words if a == "S"]
                if len(speed) != 1 or not speed[0].replace(".", "", 1).isdigit() or float(speed[0]) <= 0:
                    self.bad("no speed")
                    return
                self.mode = "surface" if said[i] == "G96" else "fixed"
                self.speed = float(speed[0]) * (c.surface_unit if self.mode == "surface" else 1.0)
                if self.mode == "surface" and (self.at is None or self.limit is None):
                    self.bad("surface speed before X or without a limit")
            elif said[i] == "M3":
                starts = True
            elif said[i] == "M5":
                self.on = self.spinning = False
            elif said[i] in c.silent or (said[i][0] == "S" and {"G96", "G97"} & set(said)):
                pass
            else:
                self.bad(f"{said[i]} is not known")
                return
            i += 1
        if sum(s[0] == "M" for s in said) > 1 or {"G96", "G97"} <= set(said):
            self.bad("two words of a kind")
        if starts:
            self.on = self.spinning = True
            if (
                self.limit is None
                or self.limit > self.most + 0.5
                or self.mode != "fixed"
                or self.speed > self.most + 0.5
            ):
                self.bad("the spindle starts without limit and fixed speed")


# the tool


class Tool:
    """Nose, edge and holder about the nose centre, and what they pass over on a way."""

    def __init__(self, job):
        tool = job.tool
        self.side = 1 if job.grip == "outside" else -1
        self.r = tool.nose_radius
        across = {1: 1, 2: -1, 3: -1, 4: 1, 6: 1, 8: -1}.get(tool.quadrant, 0)
        along = {1: 1, 2: 1, 3: -1, 4: -1, 5: 1, 7: -1}.get(tool.quadrant, 0)
        self.tip = np.array([across * self.r, along * self.r])
        lead = radians(tool.lead_angle)
        touch = np.array([self.side * self.r * cos(lead), -self.r * sin(lead)])
        far = touch + tool.edge_length * np.array([-self.side * sin(lead), -cos(lead)])
        way = far / hypot(*far)
        other = 2 * (touch @ way) * way - touch
        self.wedge = np.array([touch, far, other])
        self.shank = np.array(tool.shank)
        self.low = min(self.wedge[:, 1].min(), -self.r, self.shank[:, 1].min())

    def centres(self, move):
        return np.array(move.points) - self.tip

    def depth(self, points, way):
        """How far outside of nose and edge points stay along a way of the centre; at most 0 where passed over."""
        gap = np.full(len(points), inf)
        wide = max(self.r, np.abs(self.wedge).max()) + 0.01
        close = np.flatnonzero(boxed(points, way, wide))
        for a, b in pairwise(way):
            near = close[boxed(points[close], np.array([a, b]), wide)]
            if near.size:
                some = points[near]
                off = to_segment(some, a, b) - self.r
                off = np.minimum(off, -inside(some, hull(np.vstack([self.wedge + a, self.wedge + b]))))
                gap[near] = np.minimum(gap[near], off)
        return gap

    def held(self, points, way, step=0.5):
        """Whether the holder stands over points anywhere on a way, seen every ``step`` mm."""
        found = np.zeros(len(points), dtype=bool)
        low, high = self.shank.min(axis=0), self.shank.max(axis=0)
        close = np.flatnonzero(boxed(points, np.vstack([way + low, way + high]), 0.0))
        if not close.size:
            return found
        for at in stations(way, step):
            near = close[boxed(points[close], np.array([at + low, at + high]), 0.0)]
            if near.size:
                rel = points[near] - at
                x, z = self.side * rel[:, 0], rel[:, 1]
                square = (x >= 0) & (x <= self.r) & (z <= 0) & (z >= -self.r)
                found[near] |= within(rel, self.shank) & ~square & (to_outline(rel, self.shank) > 0.01)
        return found

    def first(self, points, way, step=0.25):
        """Whether the holder comes over points before nose or edge do, seen every ``step`` mm and one step late."""
        places = stations(way, min(step, self.r / 2))
        rel = (points[None] - places[:, None]).reshape(-1, 2)
        x, z = self.side * rel[:, 0], rel[:, 1]
        square = (x >= 0) & (x <= self.r) & (z <= 0) & (z >= -self.r)
        cut = (np.hypot(*rel.T) < self.r) | (inside(rel, hull(self.wedge)) > 0)
        held = within(rel, self.shank) & ~square & (to_outline(rel, self.shank) > 0.03)
        cut, held = (one.reshape(len(places), len(points)) for one in (cut, held))
        when = [np.where(one.any(axis=0), one.argmax(axis=0), len(places)) for one in (cut, held)]
        return bool(np.any(when[1] + 1 < when[0]))


def boxed(points, corners, wide):
    """Which points lie in the box round corners, made wider on every side."""
    (x, z), (u, w) = corners.min(axis=0) - wide, corners.max(axis=0) + wide
    return (points[:, 0] > x) & (points[:, 0] < u) & (points[:, 1] > z) & (points[:, 1] < w)


def stations(way, step):
    """Places along a way, its corners or about every ``step``."""
    lengths = np.hypot(*np.diff(way, axis=0).T)
    run = np.concatenate([[0.0], np.cumsum(lengths)])
    at = np.linspace(0, run[-1], max(2, ceil(run[-1] / step) + 1))
    return np.stack([np.interp(at, run, way[:, 0]), np.interp(at, run, way[:, 1])], axis=1)


def to_segment(points, a, b):
    d = b - a
    share = np.clip(((points - a) @ d) / max(d @ d, 1e-300), 0, 1)
    return np.hypot(*(points - a - share[:, None] * d).T)


def to_outline(points, polygon):
    pairs = zip(polygon, np.roll(polygon, -1, axis=0), strict=True)
    return np.min([to_segment(points, a, b) for a, b in pairs], axis=0)


def hull(points):
    """Corners of the convex hull, counter-clockwise (Andrew's monotone chain)."""
    ordered = sorted(map(tuple, points))
    half = []
    for run in (ordered, ordered[::-1]):
        chain = []
        for p in run:
            while len(chain) > 1 and cross(chain[-2], chain[-1], p) <= 1e-15:
                chain.pop()
            chain.append(p)
        half += chain[:-1]
    return np.array(half)


def cross(o, a, b):
    return (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])


def inside(points, corners):
    """How deep points lie in a convex shape; negative outside."""
    depth = np.full(len(points), inf)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        d = b - a
        depth = np.minimum(depth, (d[0] * (points[:, 1] - a[1]) - d[1] * (points[:, 0] - a[0])) / hypot(*d))
    return depth


def within(points, polygon):
    """Whether points lie in a polygon, by counting crossings."""
    found = np.zeros(len(points), dtype=bool)
    for (x, z), (u, w) in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        if z != w:
            spans = (z > points[:, 1]) != (w > points[:, 1])
            found ^= spans & (points[:, 0] < (u - x) * (points[:, 1] - z) / (w - z) + x)
    return found


# the cut


def grid(polygon, step):
    low, high = polygon.min(axis=0), polygon.max(axis=0)
    xs, zs = (np.arange(a + step / 2, b, step) for a, b in zip(low, high, strict=True))
    points = np.array(np.meshgrid(xs, zs)).reshape(2, -1).T
    return points[within(points, polygon)]


def probes(job):
    """Points beside the finished line, on both sides of it, from one and a half thousandths to a millimetre off."""
    found, line = [], np.array(job.finished)
    metal = np.array(job.metal)
    for a, b in pairwise(line):
        length = hypot(*(b - a))
        normal = np.array([b[1] - a[1], a[0] - b[0]]) / length
        shares = np.linspace(0, 1, max(3, ceil(length / 0.1)) + 1)[:, None]
        for off in (0.0015, 0.003, 0.01, 0.05, 0.3, 1.0):
            found += [a + shares * (b - a) + sign * off * normal for sign in (1, -1)]
    points = np.vstack(found)
    return points[within(points, metal)]


def gaps(text, job, points):
    """How far outside of all cutting moves each point stays."""
    tool = Tool(job)
    found = np.full(len(points), inf)
    for move in text.moves:
        if not move.rapid:
            found = np.minimum(found, tool.depth(points, tool.centres(move)))
    return found


def read(program, control, job):
    return Walk(CONTROLS[control], job).run(program)


def same_shape(program, changed, control, job):
    """Whether no point changes sides between metal and air by more than rounding explains."""
    before, after = (shape_of(text, control, job) for text in (program, changed))
    sure = np.abs(before) > FINE + CONTROLS[control].off - 1e-3
    return not np.any(((before > 0) != (after > 0)) & sure)


@lru_cache(maxsize=4)
def shape_of(program, control, job):
    """How far outside of all cutting moves points beside the finished line and all over the metal stay."""
    points = np.vstack([probes(job), grid(np.array(job.metal), COARSE_GRID)])
    return gaps(read(program, control, job), job, points)


def freed(points, job):
    """Whether points shall be cut away: before the faced fronts, or on the air side of the finished line."""
    inner = -1e4 if job.grip == "outside" else 1e4
    line = list(job.finished)
    corners = np.array([*line, (inner, line[-1][1]), (inner, 1e4), (line[0][0], 1e4)])
    gone = within(points, corners)
    return gone | (points[:, 1] > 0) if job.face_off > 0 else gone


def as_asked(program, control, job):
    """What a program leaves or takes against the finished shape, point by point, but for rounds in inside corners."""
    xs = np.linspace(min(x for x, _ in job.metal), max(x for x, _ in job.metal), 200)
    fronts = np.vstack([np.stack([xs, np.full(200, z)], 1) for z in (0.003, 0.01, 0.1, -0.003, -0.01, -0.1)])
    points = np.vstack([probes(job), grid(np.array(job.metal), COARSE_GRID),
                        fronts[within(fronts, np.array(job.metal))]])  # fmt: skip
    wanted, gap = freed(points, job), gaps(read(program, control, job), job, points)
    corner = np.min([np.hypot(*(points - at).T) for at in job.finished[1:-1]], axis=0) < 2.5 * job.tool.nose_radius
    off = FINE + CONTROLS[control].off - 1e-3
    edges = np.array([(b, a) for b, a in zip(job.finished, job.finished[1:], strict=False)])
    near = np.min([to_segment(points, a, b) for a, b in edges], axis=0) < off
    left, deep = wanted & (gap > off) & ~corner & ~near, ~wanted & (gap < -off) & ~near
    return [
        f"{'left over' if one is left else 'too deep'} at {points[one][0].round(3)}"
        for one in (left, deep)
        if one.any()
    ]


def judge(program, control, job):
    """Everything unsafe about a text: words, then where the tool goes."""
    text = read(program, control, job)
    if text.wrong:
        return text.wrong
    return [*heights(text, job), *halts(text, job), *crashes(text, job)]


def heights(text, job):
    tool = Tool(job)
    top = max(z for _, z in (*job.metal, *(p for thing in job.keep_out for p in thing.outline)))
    least = top - tool.low + tool.tip[1] + 0.9 * job.clearance
    return [f"line {line}: home, or in from home, at z {z:.3f}" for line, z in text.heights if z < least - 1e-3]


def halts(text, job):
    first = min((m.line for m in text.moves), default=0)
    found = []
    if sum(line < first for line, _ in text.stops) < len(job.stops):
        found.append("a stop to look is missing")
    places = [*(line for line, _ in text.stops), *text.probes]
    if job.cutting.semi_allowance > 0 and not any(measured(text, job, line) for line in places):
        found.append("no stop to measure between a pass off the line and the finish")
    if not all(measured(text, job, line) for line in text.probes):
        found.append("a cycle that measures something else")
    return found


def measured(text, job, stop):
    """Whether cuts before a stop keep off most of the line, though near it, and those after it make the line."""
    tool, line = Tool(job), np.array(job.finished)
    steps = [np.linspace(a, b, max(2, ceil(hypot(*(b - a)) / 0.2))) for a, b in pairwise(line)]
    points = np.vstack(steps)
    points = points[(points[:, 1] < -0.01) & within(points + np.array([0.0, 1e-4]), np.array(job.metal))]

    def gap(moves):
        found = np.full(len(points), inf)
        for move in moves:
            if not move.rapid:
                found = np.minimum(found, tool.depth(points, tool.centres(move)))
        return found

    before, after = (gap([m for m in text.moves if (m.line > stop) == late]) for late in (False, True))
    ahead = job.cutting.semi_allowance
    off = np.mean(before < 0.3 * ahead) < 0.5 and np.mean(before < 1.3 * ahead) > 0.7
    return off and np.mean(after < 0.004) > 0.7


def crashes(text, job):
    """Rapids through metal, the holder in metal, anything in ring, bolts or chuck, passes too deep."""
    tool, metal = Tool(job), np.array(job.metal)
    points = np.vstack([grid(metal, GRID), probes(job)])
    ways = [tool.centres(m) for m in text.moves]
    gone = np.full(len(points), len(ways))
    found = []
    rough = np.arange(len(points)) % 5 == 0
    for i, (move, way) in enumerate(zip(text.moves, ways, strict=True)):
        here = np.flatnonzero(gone == len(ways))
        gap = tool.depth(points[here], way)
        if move.rapid:
            if np.any(gap < -0.01):
                found.append(f"line {move.line}: a rapid in metal")
        else:
            taken = here[gap <= 0]
            if len(taken) and deep(points, gone, taken, i, len(ways), metal) > job.cutting.pass_depth + 2.1 * GRID:
                found.append(f"line {move.line}: too deep a pass")
            sure = here[gap <= -0.05]
            if len(sure) and tool.first(points[sure[:: max(1, len(sure) // 60)]], way):
                found.append(f"line {move.line}: the holder before the edge in metal")
            gone[taken] = i
        left = points[(gone == len(ways)) & rough]
        if len(left) and np.any(tool.held(left, way)):
            found.append(f"line {move.line}: the holder in metal")
        mirrored = left * np.array([-1.0, 1.0])
        if len(left) and np.any(tool.held(mirrored, way, 1.0)):
            found.append(f"line {move.line}: the holder in the other side")
    for thing in job.keep_out:
        inner = grid(np.array(thing.outline), COARSE_GRID)
        for move, way in zip(text.moves, ways, strict=True):
            if len(inner) and (np.any(tool.depth(inner, way) < -0.01) or np.any(tool.held(inner, way))):
                found.append(f"line {move.line}: in {thing.name}")
    return found


def deep(points, gone, taken, now, never, metal):
    """About how far the deepest point taken lay from the air there was: from the blank's outline or an earlier cut."""
    some = points[taken[:: max(1, len(taken) // 60)]]
    low, high = some.min(axis=0) - 6, some.max(axis=0) + 6
    air = points[(gone < now) & (gone != never) & np.all((points > low) & (points < high), axis=1)]
    away = to_outline(some, metal)
    for start in range(0, len(air), 4000):
        near = air[start : start + 4000]
        away = np.minimum(away, np.hypot(*(some[:, None] - near[None]).T).T.min(axis=1))
    return float(away.max())

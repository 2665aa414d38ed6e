"""What a program's words must say beside its moves: spindle, feeds, travel, stops, the way to and from the retreat.

Every rule looks at the reading alone, never at how the text was made. [mm, mm/rev, rev/min, m/min]
"""

from __future__ import annotations

import re
from collections.abc import Callable
from math import inf, pi

from heldtrue.program.dialect import Dialect
from heldtrue.program.job import BoringJob
from heldtrue.program.nose import tip_offset
from heldtrue.program.proof import Finding
from heldtrue.program.read import Event, Reading, ReadMove, State, tool_text
from heldtrue.program.sweep import Cutter, Holder, reach
from heldtrue.program.target import cut_side
from heldtrue.sentences import sentence

LEAST_SHARE = 0.2
"""A feed or a surface speed below this share of what was asked is a slip, not a choice: common practice, no source."""
ROUNDED_FEED = 6e-4
"""Half a step of a feed with three places, and a little more. [mm/rev]"""
SAID_IN_EACH_PART = ("plane", "absolute", "diameter", "no_compensation", "feed_per_turn", "work_offset", "tool")
"""Words without which the same text means other moves, on some controls or after a start in the middle."""

Report = Callable[[Finding], None]


class Rules:
    """Holds a reading against a job and reports what is wrong; adds up time and the highest speed on the way."""

    def __init__(self, job: BoringJob, reading: Reading, dialect: Dialect, report: Report) -> None:
        self.job, self.reading, self.dialect, self.report = job, reading, dialect, report
        self.allowed = min(job.cutting.spindle_limit, job.limits.max_speed)
        self.tool = tool_text(dialect, job.tool)
        self.clear_z = clear_height(job)
        self.top_speed, self.minutes = 0.0, 0.0

    def check(self) -> None:
        """Everything that is no move, then all moves."""
        for event in self.reading.events:
            _EVENTS[event.what](self, event)
        for move in self.reading.moves:
            self._travel(move)
            self._speed(move)
            if not move.rapid:
                self._feed(move)
        self._stops_to_look()
        if not self.reading.ended:
            self.report(Finding("end", "the program has no end word"))

    # moves

    def _travel(self, move: ReadMove) -> None:
        low_x, low_z, high_x, high_z = reach(move.piece)
        limits = self.job.limits
        for name, low, high, (least, most) in (("x", low_x, high_x, limits.x), ("z", low_z, high_z, limits.z)):
            for value, limit in ((low, least), (high, most)):
                if (value < least - 1e-9) if limit == least else (value > most + 1e-9):
                    text = f"the tip goes to {name} {value:.3f}, the travel ends at {limit:g}"
                    self.report(Finding("travel", text, move.line, value, limit, move.piece.end))

    def _speed(self, move: ReadMove) -> None:
        state = move.state
        if not state.turning or state.speed is None:
            if not move.rapid:
                self._spindle(move, "a feed move with the spindle standing or without a speed")
            return
        if not move.rapid and state.constant_surface != (self.job.cutting.fixed_speed is None):
            planned = "constant surface speed" if self.job.cutting.fixed_speed is None else "a fixed speed"
            self._spindle(move, f"the spindle runs otherwise than planned, which is {planned}")
        if state.limit is None:
            self._spindle(move, "a move with the spindle turning before its limit is said")
        elif state.limit > self.allowed + 0.5:
            text = f"spindle limit {state.limit:.0f} rev/min, allowed are {self.allowed:.0f}"
            self._spindle(move, text, state.limit, self.allowed)
        low = max(min(abs(move.piece.start[0]), abs(move.piece.end[0])), 1e-9)
        self.top_speed = max(self.top_speed, turns_at(state, low))
        self._as_asked(move, state, state.speed)

    def _as_asked(self, move: ReadMove, state: State, speed: float) -> None:
        cutting = self.job.cutting
        if not state.constant_surface:
            if speed > self.allowed + 0.5:
                text = f"spindle speed {speed:.0f} rev/min, allowed are {self.allowed:.0f}"
                self._spindle(move, text, speed, self.allowed)
            return
        asked = cutting.surface_speed
        if speed > asked * 1.01 or speed < asked * LEAST_SHARE:
            self._spindle(move, f"surface speed {speed:.0f} m/min, planned are {asked:.0f}", speed, asked)

    def _spindle(self, move: ReadMove, text: str, value: float | None = None, limit: float | None = None) -> None:
        self.report(Finding("spindle", text, move.line, value, limit, move.piece.end))

    def _feed(self, move: ReadMove) -> None:
        state, cutting = move.state, self.job.cutting
        most = max(cutting.rough_feed, cutting.finish_feed)
        least = min(LEAST_SHARE * cutting.rough_feed, cutting.finish_feed - ROUNDED_FEED)
        problem = feed_problem(state, least, most)
        if problem:
            self.report(Finding("feed", problem, move.line, state.feed, most, move.piece.end))
        if state.speed and state.feed:
            middle = (abs(move.piece.start[0]) + abs(move.piece.end[0])) / 2
            self.minutes += move.piece.length / (state.feed * turns_at(state, max(middle, 1e-3)))

    # what is no move

    def _retreat(self, event: Event) -> None:
        if event.at is not None and event.at[1] < self.clear_z - 1e-9:
            text: str = sentence(
                "the retreat starts at z {:.3f [mm]}; all is clear only from z {:.3f [mm]} on",
                event.at[1],
                self.clear_z,
            )
            self.report(Finding("retreat", text, event.line, event.at[1], self.clear_z, event.at))
        if event.state.spinning and not event.parked and (event.part == 0 or event.state.constant_surface):
            text = "the tool retreats with the spindle at constant surface speed, or before the first retreat"
            self.report(Finding("retreat", text, event.line))

    def _entry(self, event: Event) -> None:
        z = event.z if event.z is not None else -inf
        if z < self.clear_z - 1e-9:
            text: str = sentence(
                "the tool comes in at z {:.3f [mm]} from an unknown x; all is clear only from z {:.3f [mm]} on",
                z,
                self.clear_z,
            )
            self.report(Finding("retreat", text, event.line, z, self.clear_z))
        for key in SAID_IN_EACH_PART:
            word = getattr(self.dialect.words, key)
            if word and key not in event.state.said:
                self.report(Finding("mode", f"{word} is missing in this part, before the tool comes in", event.line))
        if event.state.tool != self.tool:
            text = f"the program moves tool {event.state.tool or 'none'}, planned is {self.tool}"
            self.report(Finding("tool", text, event.line))
        if event.state.spinning and (event.state.constant_surface or not event.state.turning):
            text = "the spindle turns at constant surface speed, or at none said in this part, before X is known"
            self.report(Finding("spindle", text, event.line))

    def _start(self, event: Event) -> None:
        state = event.state
        if state.limit is None or state.limit > self.allowed + 0.5:
            self.report(Finding("spindle", "the spindle starts before its limit is said, or above it", event.line))
        if state.constant_surface or state.speed is None or state.speed > self.allowed + 0.5:
            text = "the spindle starts without a fixed speed that is allowed"
            self.report(Finding("spindle", text, event.line, state.speed, self.allowed))

    def _tool(self, event: Event) -> None:
        if not event.parked:
            self.report(Finding("tool", "a tool is called with the tool not at its retreat", event.line))
        if event.state.tool != self.tool:
            text = f"the program calls tool {event.state.tool}, planned is {self.tool}"
            self.report(Finding("tool", text, event.line))

    def _limit(self, event: Event) -> None:
        if event.state.limit is not None and event.state.limit > self.allowed + 0.5:
            text = f"spindle limit {event.state.limit:.0f} rev/min, allowed are {self.allowed:.0f}"
            self.report(Finding("spindle", text, event.line, event.state.limit, self.allowed))

    def _turns(self, event: Event) -> None:
        if event.state.speed is not None and event.state.speed > self.allowed + 0.5:
            text = f"spindle speed {event.state.speed:.0f} rev/min, allowed are {self.allowed:.0f}"
            self.report(Finding("spindle", text, event.line, event.state.speed, self.allowed))

    def _surface(self, event: Event) -> None:
        self._limit(event)
        asked, speed = self.job.cutting.surface_speed, event.state.speed or 0.0
        if speed > asked * 1.01:
            text = f"surface speed {speed:.0f} m/min, planned are {asked:.0f}"
            self.report(Finding("spindle", text, event.line, speed, asked))
        if event.at is None:
            text = "constant surface speed before X is known: the spindle may run away"
            self.report(Finding("spindle", text, event.line))
        if event.state.limit is None:
            self.report(Finding("spindle", "constant surface speed without a spindle limit", event.line))

    def _stop(self, event: Event) -> None:
        if event.state.spinning:
            self.report(Finding("stop", "the program stops for a person with the spindle turning", event.line))
        if not event.parked:
            self.report(Finding("stop", "the program stops for a person with the tool not at its retreat", event.line))

    def _probe(self, event: Event) -> None:
        """A probing cycle is called as a person is let in, and told what the job says."""
        if event.state.spinning:
            self.report(Finding("probe", "the probing cycle is called with the spindle turning", event.line))
        if not event.parked:
            self.report(Finding("probe", "the probing cycle is called with the tool not at its retreat", event.line))
        probe, tool = self.job.probe, self.job.tool
        if probe is None:
            self.report(Finding("probe", "no probing is planned", event.line))
            return
        offset = tool.offset_number
        planned = {"size": probe.size, "z": probe.z, "most": probe.most, "offset": offset, "tool": tool.number,
                   "jaws": probe.jaws}  # fmt: skip
        slack = 2 * self.dialect.numbers.rounding + 1e-9
        for name, told in event.told.items():
            if abs(told - planned[name]) > slack:
                text = f"the probing cycle is told {told:.4g} as its {name}, planned is {planned[name]:.4g}"
                self.report(Finding("probe", text, event.line, told, planned[name]))

    def _end(self, event: Event) -> None:
        if event.state.spinning:
            self.report(Finding("end", "the program ends with the spindle turning", event.line))
        if not event.parked:
            self.report(Finding("end", "the program ends with the tool not at its retreat", event.line))

    def _stops_to_look(self) -> None:
        if not self.reading.moves:
            return
        first = self.reading.moves[0].line
        stops = sum(e.what == "stop" and e.line <= first for e in self.reading.events)
        if stops < len(self.job.stops):
            text = f"{stops} stops before the first move, planned are {len(self.job.stops)}"
            self.report(Finding("stop", text, first, stops, len(self.job.stops)))

    # the finish

    def finish(self, makes_line: list[bool], makes_size: list[bool]) -> None:
        """The feed of the moves that make the finished line, and the stop to measure before its size is made."""
        cutting = self.job.cutting
        for move, makes in zip(self.reading.moves, makes_line, strict=True):
            problem = makes and not move.rapid and feed_problem(
                move.state, LEAST_SHARE * cutting.finish_feed, cutting.finish_feed
            )  # fmt: skip
            if problem and move.state.feed is not None and move.state.per_turn:
                text = f"{problem} on the finished line"
                self.report(Finding("feed", text, move.line, move.state.feed, cutting.finish_feed, move.piece.end))
        first = next((m for m, makes in zip(self.reading.moves, makes_size, strict=True) if makes), None)
        if cutting.semi_allowance > 0 and first is not None:
            self._stop_to_measure(first)
            self._what_to_measure(first)

    def _stop_to_measure(self, first: ReadMove) -> None:
        """A stop after every cut but those of the part that first makes the size."""
        before = [m.line for m in self.reading.moves if not m.rapid and m.line < first.line and m.part != first.part]
        stops = [e.line for e in self.reading.events if e.what in ("stop", "probe")]
        early = [line for line in self._probed() if not before or not before[-1] < line < first.line]
        for line in early:
            self.report(Finding("probe", "the probing cycle is not between the cut before the finish and it", line))
        if not before or not any(before[-1] < line < first.line for line in stops):
            text = "no stop to measure between the cut before the finish and the finish"
            self.report(Finding("stop", text, first.line))

    def _probed(self) -> list[int]:
        return [e.line for e in self.reading.events if e.what == "probe"]

    def _what_to_measure(self, first: ReadMove) -> None:
        """Whoever stands at the stop goes by its comments: the size there must be that of the job."""
        size, said = self.job.size_at_stop, " ".join(self.reading.comments)
        if size and not re.search(rf"(?<![\d.]){re.escape(size)}(?![\d\w])", said, re.IGNORECASE):
            text = f"no comment says {size}, which is to be measured before the finish"
            self.report(Finding("stop", text, first.line))


_EVENTS: dict[str, Callable[[Rules, Event], None]] = {
    "retreat": Rules._retreat, "entry": Rules._entry, "tool": Rules._tool, "limit": Rules._limit,
    "turns": Rules._turns, "surface": Rules._surface, "start": Rules._start,
    "stop": Rules._stop, "probe": Rules._probe, "end": Rules._end,
}  # fmt: skip


def turns_at(state: State, radius: float) -> float:
    """How fast the spindle turns with the tip at this radius. [rev/min]"""
    speed = state.speed or 0.0
    if not state.constant_surface:
        return speed
    return min(inf if state.limit is None else state.limit, 1000 * speed / (2 * pi * radius))


def feed_problem(state: State, least: float, most: float) -> str:
    """What is wrong with a feed, asked for between two; empty where nothing is."""
    if state.feed is None:
        return "a feed move without a feed said in this part"
    if not state.per_turn:
        return "a feed move without the word for feed per turn"
    if state.feed > most * 1.001 + ROUNDED_FEED:
        return sentence("feed {:.3f mm} per turn, planned are {:g}", state.feed, most)
    if state.feed < least * 0.999:
        return sentence("feed {:.3f mm} per turn, planned are {:g} and no less than {:.3g}", state.feed, most, least)
    return ""


def clear_height(job: BoringJob) -> float:
    """Where the tip must stand at least so that edge and holder are before jaws, ring and bolts, at any X. [mm]"""
    side = cut_side(job)
    low = min(float(Cutter(job.tool, side).low[1]), float(Holder(job.tool, side).low[1]))
    things = [*job.metal, *(point for thing in job.keep_out for point in thing.outline)]
    return max(z for _, z in things) + job.clearance - low + tip_offset(job.tool)[1]

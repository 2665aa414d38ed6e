"""Measurements of part after part: chart, trend, capability, parts left before the limit, re-cut due.

Every event (re-cut, grease, tool change) starts a new piece of the series: what was true before it need not be after.
Lengths mm; parts are counted from 0 in the order given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import InputError
from heldtrue.inspection.capability import Capability, capability
from heldtrue.inspection.chart import ALARM, Chart, individuals
from heldtrue.inspection.estimate import Array, Estimate, Line, about, line
from heldtrue.inspection.table import Table, in_core, read_table
from heldtrue.inspection.wear import Wear, quantiles, wear
from heldtrue.quantities import UnitSystem
from heldtrue.sentences import sentence

LEAST_FOR_TREND = 5
"""Parts after the last event from which a trend is taken."""
SPREAD = 3.0
"""A re-cut is due when a part this many standard deviations off the trend would be over the limit."""
FAR = 10
"""A trend is drawn out this many times the parts it was seen on, no further: our own judgement, no source."""
SURE, SURE_DRIFT, MAY = 0.95, 0.975, 0.9
"""Chance at which a step is told, and a drift, one way only; from ``MAY`` on, what it would make due is told."""
WANDERS = 2.5
"""Scatters of the ratio of both spreads beyond which a series wanders: our own judgement, no source."""
PER = 100.0
"""Parts that a trend is told for: what one part adds has too many zeros to be read."""
MOST_NAMED = 5
"""Parts named in one sentence."""
EVENTS, JAWS, PARTS = ("event", "events"), ("jaw", "jaws", "set", "jaw_set"), ("part", "nr", "no", "number", "count")


@dataclass(frozen=True)
class Event:
    """Something done before part ``at`` was made."""

    at: int
    what: str


@dataclass(frozen=True)
class Series:
    """One characteristic in the order of the parts: ``values`` [mm], limits, ``jaw`` or set it belongs to, events."""

    name: str
    values: Array
    lower: float | None = None
    upper: float | None = None
    jaw: str = ""
    events: tuple[Event, ...] = ()


@dataclass(frozen=True)
class Piece:
    """Parts ``first`` to ``last`` between two events.

    ``after``: the event it begins with; ``chart``: None with fewer than two parts; ``trend``: None with fewer than
    ``LEAST_FOR_TREND``; ``step``: change of level across the event [mm], None where it cannot be told.
    """

    first: int
    last: int
    after: str
    chart: Chart | None
    trend: Line | None
    step: Estimate | None


@dataclass(frozen=True)
class Drift:
    """What one series says.

    ``pieces`` in order, the last one is now; ``capability`` of the last piece; ``drifting``: is it sure that there is a
    trend, whatever its form; ``parts_left``: until the trend meets the limit it moves towards, its end inf where it may
    never; ``recut_in``: until single parts reach it, in whole parts, at the early end of the interval; None where
    nothing is due in ``FAR`` times the parts seen; ``stepped``: is it sure that the level stepped without an event;
    ``ahead``: where the parts are heading, ``slope`` of late [mm a part]; ``words``: the answer.
    All from the last piece.
    ``changes``: what each event changed, in words.
    """

    series: Series
    pieces: tuple[Piece, ...]
    capability: Capability | None
    drifting: bool
    parts_left: Estimate | None
    recut_in: int | None
    stepped: bool
    ahead: Wear | None
    slope: Estimate | None
    changes: tuple[str, ...]
    words: tuple[str, ...]


def read_drift(measurements: Sequence[Series] | Series) -> tuple[Drift, ...]:
    """Chart, trend and what is due, for each series.

    Raises: ``InputError`` for values that are not finite, fewer than two parts, limits the wrong way round, or events
    outside the series.
    """
    many = (measurements,) if isinstance(measurements, Series) else tuple(measurements)
    for one in many:
        _check(one)
    return tuple(_drift(one) for one in many)


def read_measurements(
    text: str, units: UnitSystem = "metric", limits: Mapping[str, tuple[float | None, float | None]] | None = None
) -> tuple[Series, ...]:
    """Series from a CSV text: one column for each characteristic, its unit in the header, one row for each part.

    A column ``event`` says what was done before the part; a column ``jaw`` (or ``set``) parts the rows; ``part`` is
    passed over, the order counts.  ``limits``: (lower, upper) by name of the characteristic, without the unit [mm].
    Raises: ``InputError`` with row and column.
    """
    table = read_table(text, ("size",))
    event_at, jaw_at, part_at = (table.find(names) for names in (EVENTS, JAWS, PARTS))
    found = [i for i in range(len(table.columns)) if i not in (event_at, jaw_at, part_at)]
    if not found:
        raise InputError("no column with measurements; expected headers such as part, od_mm, runout_um, event")
    names = [table.columns[i].name for i in found]
    unknown = sorted(set(limits or {}) - set(names))
    if unknown:
        raise InputError(f"limits for {', '.join(unknown)}, which is no column; found {', '.join(names)}")
    columns = [in_core(table, i, "length", "mm" if units == "metric" else "in") for i in found]
    if jaw_at is None and event_at is None:
        return tuple(
            Series(name, values, *(limits or {}).get(name, (None, None)))
            for name, values in zip(names, columns, strict=True)
        )
    jaws = _jaws(table, jaw_at)
    series = []
    for jaw in dict.fromkeys(jaws.tolist()):
        rows = np.flatnonzero(jaws == jaw)
        events = _events(table, event_at, rows)
        for name, values in zip(names, columns, strict=True):
            lower, upper = (limits or {}).get(name, (None, None))
            series.append(Series(name, values[rows], lower, upper, jaw, events))
    return tuple(series)


def _jaws(table: Table, at: int | None) -> NDArray[np.str_]:
    return np.array([cell.strip() for cell in table.cells[at]] if at is not None else [""] * len(table.rows))


def _events(table: Table, at: int | None, rows: NDArray[np.int64]) -> tuple[Event, ...]:
    if at is None:
        return ()
    cells = table.cells[at]
    return tuple(Event(k, cells[row].strip()) for k, row in enumerate(rows.tolist()) if cells[row].strip())


def _check(one: Series) -> None:
    problems = []
    if one.values.ndim != 1 or one.values.size < 2:
        problems.append(f"{one.name}: a drift needs at least 2 parts")
    elif not np.all(np.isfinite(one.values)):
        problems.append(f"{one.name}, part {int(np.flatnonzero(~np.isfinite(one.values))[0]) + 1}: is no finite number")
    if one.lower is not None and one.upper is not None and not one.lower < one.upper:
        problems.append(f"{one.name}: lower limit {one.lower:g} mm is not below the upper {one.upper:g} mm")
    problems += [
        f'{one.name}: event "{e.what}" before part {e.at + 1}; there are {one.values.size} parts'
        for e in one.events if not 0 <= e.at < one.values.size
    ]  # fmt: skip
    if problems:
        raise InputError(*problems)


def _drift(series: Series) -> Drift:
    starts = {0: ""}
    for e in sorted(series.events, key=lambda e: e.at):
        starts[e.at] = f"{starts[e.at]}, {e.what}" if starts.get(e.at) else e.what
    begins = sorted(starts)
    ends = [*begins[1:], series.values.size]
    pieces: list[Piece] = []
    for first, end in zip(begins, ends, strict=True):
        pieces.append(_piece(series, first, end, starts[first], pieces[-1] if pieces else None))
    last = pieces[-1]
    values = series.values[last.first :]
    can = values.size >= 2 and bool(np.ptp(values) > 0.0) and (series.lower is not None or series.upper is not None)
    able = capability(values, series.lower, series.upper) if can else None
    ahead = wear(values) if last.trend is not None else None
    drifting = ahead is not None and max(ahead.rises(), ahead.falls()) >= SURE_DRIFT
    stepped = ahead is not None and ahead.stepped >= SURE
    left, recut = _due(series, last, ahead) if ahead is not None else (None, None)
    slope = ahead.slopes() if ahead is not None else None
    made = Drift(series, tuple(pieces), able, drifting, left, recut, stepped, ahead, slope, (), ())
    return replace(made, changes=_changes(made), words=_words(made))


def _piece(series: Series, first: int, end: int, after: str, before: Piece | None) -> Piece:
    values = series.values[first:end]
    chart = individuals(values, first) if values.size >= 2 else None
    trend = line(np.arange(first, end), values) if values.size >= LEAST_FOR_TREND else None
    step = None
    if before is not None and trend is not None and before.trend is not None:
        step = _difference(before.trend.at(float(first)), trend.at(float(first)), before.trend.freedom, trend.freedom)
    return Piece(first, end - 1, after, chart, trend, step)


def _difference(before: Estimate, now: Estimate, free_before: int, free_now: int) -> Estimate:
    """Level just after the event less level just before; degrees of freedom after Welch and Satterthwaite."""
    u, v = before.uncertainty**2, now.uncertainty**2
    if u + v == 0.0:
        return about(now.value - before.value, 0.0)
    freedom = (u + v) ** 2 / (u**2 / free_before + v**2 / free_now)
    return about(now.value - before.value, sqrt(u + v), freedom)


def _due(series: Series, last: Piece, ahead: Wear) -> tuple[Estimate | None, int | None]:
    """Parts after the last one until the trend meets its limit, and until single parts do, each at the early end."""
    rising = ahead.rises() > ahead.falls()
    limit = series.upper if rising else series.lower
    if limit is None or max(ahead.rises(), ahead.falls()) < MAY:
        return None, None
    horizon = FAR * (last.last - last.first + 1)
    middle, high = quantiles(ahead.reaches(limit, rising), (0.5, 0.975))
    low, early = ahead.early(limit, rising), ahead.early(limit, rising, SPREAD)
    recut = max(ceil(early) - 1, 0) if early < inf else None
    if recut is None or recut > horizon:
        return None, None
    far = high if high < inf else inf
    return Estimate(min(middle, float(horizon)), (min(far, horizon) - low) / 4, low, far), recut


def _wanders(able: Capability, last: Piece) -> bool:
    """Is the spread of all values more than that from part to part makes, beyond its own scatter, about 1 / sqrt n?"""
    count = last.last - last.first + 1
    return last.chart is not None and able.sigma > last.chart.sigma * (1.0 + WANDERS / sqrt(count))


def _changes(made: Drift) -> tuple[str, ...]:
    """What each event changed."""
    found = []
    for piece in made.pieces[1:]:
        if piece.step is not None:
            none = piece.step.low <= 0.0 <= piece.step.high
            said = "no change to be seen" if none else sentence("{:+.4f mm}", piece.step.value)
            found.append(sentence("{} before part {}: {}", piece.after, piece.first + 1, said))
    return tuple(found)


def _words(made: Drift) -> tuple[str, ...]:
    """What is due, then the trend it rests on, then what else there is to say."""
    return (*_due_words(made), *_trend_words(made), *_chart_words(made))


def _due_words(made: Drift) -> list[str]:
    if made.recut_in == 0:
        return ["re-cut due now: single parts may be over the limit already"]
    if made.parts_left is not None and made.recut_in is not None:
        return [f"re-cut due within {made.recut_in} parts; the trend meets the limit after "
                f"{made.parts_left.value:.0f}"]  # fmt: skip
    return []


def _trend_words(made: Drift) -> list[str]:
    if made.ahead is not None and made.slope is not None:
        return _heading(made, made.ahead, made.slope)
    count = made.pieces[-1].last - made.pieces[-1].first + 1
    return [f"{count} part{'s' if count != 1 else ''} since the last event: too few for a trend"]


def _chart_words(made: Drift) -> list[str]:
    last, found = made.pieces[-1], []
    if last.chart is not None and last.chart.signals:
        found += [f"{s.rule}: {_parts_named(s.places)}" for s in last.chart.signals]
        found.append(f"of 100 sound series {100 * ALARM:.0f} have a part outside by chance: look at that part, and at "
                     "what was done then")  # fmt: skip
    if made.capability is not None and (made.drifting or _wanders(made.capability, last)):
        found.append("capability says little while the series drifts or wanders")
    return found


def _parts_named(places: NDArray[np.int64]) -> str:
    """Parts from 1, the last few of them."""
    named = ", ".join(str(int(p) + 1) for p in places[-MOST_NAMED:])
    count = f"{len(places)} parts, the last of them " if len(places) > MOST_NAMED else f"part{'s' * (len(places) > 1)} "
    return f"{count}{named}"


def _heading(made: Drift, ahead: Wear, slope: Estimate) -> list[str]:
    """Drift, step, both, neither, or that it cannot be told."""
    found: list[str] = []
    if made.drifting:
        each = slope.scaled(PER)
        found.append(
            sentence("drifts {:+.4f mm} in {:g} parts ({:+.4f mm} to {:+.4f mm})", each.value, PER, each.low, each.high)
        )
    if ahead.by is not None and ahead.at is not None and ahead.stepped > 1 - SURE:
        place = sentence("{:+.4f mm} before part {}", ahead.by.value, made.pieces[-1].first + ahead.at + 1)
        if made.stepped:
            and_no = "" if made.drifting else ", no drift"
            found.append(sentence("a step of {} that no event explains{}: look what changed there", place, and_no))
        elif not made.drifting and (max(ahead.rises(), ahead.falls()) >= MAY or ahead.stepped > 0.5):
            found.append(
                sentence("cannot tell whether it drifts all along or stepped, {}: more parts will tell", place)
            )
    return found or ["no trend to be seen"]

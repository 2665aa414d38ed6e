"""What somebody remembers of a jaw set, out of a line of text: "about 82, aluminium, last spring, machine 3".

>>> from datetime import UTC, datetime
>>> found = remembered("about 82, aluminium, last spring, machine 3", datetime(2026, 11, 25, tzinfo=UTC))
>>> found.around, found.words, found.machine
(82.0, ('aluminium',), '3')
>>> f"{found.since:%Y-%m-%d} to {found.until:%Y-%m-%d}"
'2026-02-14 to 2026-06-15'
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from heldtrue.errors import InputError
from heldtrue.records.typed_sizes import ABOUT, INCH_MM, UNITS, in_mm, with_decimals

_SEASONS = {"spring": 3, "summer": 6, "autumn": 9, "fall": 9, "winter": 12}
"""First month; of the north, as ``southern`` shifts them by half a year."""
_MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
           "november", "december")  # fmt: skip
_SLACK = timedelta(days=15)
"""Nobody remembers a season to the day."""
_NUMBER = r"(?<![\w.,/-])(?:ø|dia\.?|diameter)?\s*(\d+(?:[.,]\d+)?)"
_UNIT = rf"\s*({UNITS})?(?![\w/-])"
_SINGLE = re.compile(rf"({'|'.join(map(re.escape, ABOUT))})?\s*{_NUMBER}{_UNIT}")
_RANGE = re.compile(rf"(?:between\s+|from\s+)?{_NUMBER}\s*({UNITS})?\s*(?:-|–|to|and)\s*(\d+(?:[.,]\d+)?){_UNIT}")
_MACHINE = re.compile(r"\b(?:on\s+)?(?:machine|lathe)\s*(?:no\.?|nr\.?|#)?\s*([\w./-]+)")
_CHUCK = re.compile(r"\b(?:on\s+)?chuck\s*(?:no\.?|nr\.?|#)?\s*([\w./-]+)")
_SEASON = re.compile(r"\b(last|this|in)?\s*(?:the\s+)?(spring|summer|autumn|fall|winter)(?:\s+(?:of\s+)?(\d{4}))?\b")
_MONTH = re.compile(rf"\b(?:last\s+|in\s+)?({'|'.join(_MONTHS)})(?:\s+(\d{{4}}))?\b")
_LAST = re.compile(r"\b(last|this)\s+(week|month|year)\b")
_AGO = re.compile(r"\b(?:about\s+|some\s+)?(a|an|\d+)\s+(day|week|month|year)s?\s+ago\b")
_ISO = re.compile(r"\b((?:19|20)\d\d)-(\d\d)(?:-(\d\d))?\b")
_YEAR = re.compile(r"\b(?:in\s+)?((?:19|20)\d\d)\b")
_DAYS = {"day": 1, "week": 7, "month": 30.44, "year": 365.25}
_SAME = {"aluminum": "aluminium", "alu": "aluminium", "segment": "pie", "segments": "pie"}
_SIDES = {"outside": "outside", "od": "outside", "inside": "inside", "id": "inside"}
_STYLES = ("standard", "wide", "pie")
_EMPTY = frozenset(("a", "an", "and", "about", "around", "at", "bored", "by", "cut", "for", "from", "in", "it", "jaw",
                    "jaws", "made", "mm", "of", "on", "or", "set", "sets", "some", "that", "the", "those", "to",
                    "turned", "used", "was", "were", "we", "with"))  # fmt: skip


@dataclass(frozen=True)
class Remembered:
    """What a search looks for; None or an empty text asks nothing.

    ``diameter``: from, to, and the one they are ``around`` [mm]; ``since``, ``until``: when it was cut; ``machine`` and
    ``chuck``: id, name or number; ``words``: of the material, name, part, remark, people or places.
    """

    around: float | None = None
    diameter: tuple[float, float] | None = None
    since: datetime | None = None
    until: datetime | None = None
    machine: str = ""
    chuck: str = ""
    side: str = ""
    style: str = ""
    words: tuple[str, ...] = ()

    @property
    def asks_nothing(self) -> bool:
        """Is there nothing to look for?"""
        return self == Remembered()


def remembered(text: str, now: datetime, *, southern: bool = False) -> Remembered:
    """Read a line of what somebody remembers.

    ``now`` with its time zone: what "last" counts from; ``southern``: spring begins in September.
    Raises: ``InputError`` for two diameters or two dates, or where nothing is left to look for.
    """
    if now.utcoffset() is None:
        raise InputError("now must have a time zone")
    rest, found = with_decimals(f" {text.casefold()} "), Remembered()
    found, rest = _named(found, rest)
    found, rest = _when(found, rest, now, southern)
    found, rest = _size(found, rest)
    for token in re.findall(r"[^\s,;]+", rest):
        found = _with_word(found, token.strip(".:!?()"))
    if found.asks_nothing:
        raise InputError(f'there is nothing to look for in "{text}": say a diameter, a material, a date or a machine')
    return found


def _named(found: Remembered, rest: str) -> tuple[Remembered, str]:
    """Machine and chuck by number or name."""
    for name, pattern in (("machine", _MACHINE), ("chuck", _CHUCK)):
        match = pattern.search(rest)
        if match:
            found = replace(found, machine=match[1]) if name == "machine" else replace(found, chuck=match[1])
            rest = _without(rest, match)
    return found, rest


def _when(found: Remembered, rest: str, now: datetime, southern: bool) -> tuple[Remembered, str]:
    """The time it was cut."""
    readers: tuple[tuple[re.Pattern[str], Callable[[re.Match[str]], tuple[datetime, datetime]]], ...] = (
        (_ISO, lambda m: _iso(m, now)),
        (_AGO, lambda m: _ago(m, now)),
        (_LAST, lambda m: _last(m, now)),
        (_SEASON, lambda m: _season(m, now, southern)),
        (_MONTH, lambda m: _month(m, now)),
        (re.compile(r"\byesterday\b"), lambda _: (_day(now) - timedelta(days=1), _day(now))),
        (re.compile(r"\btoday\b"), lambda _: (_day(now), _day(now) + timedelta(days=1))),
        (_YEAR, lambda m: _year(int(m[1]), now)),
    )
    for pattern, read in readers:
        match = pattern.search(rest)
        if match is None:
            continue
        if found.since is not None:
            raise InputError(f'"{match[0].strip()}" is a second date: one is enough')
        since, until = read(match)
        found, rest = replace(found, since=since, until=until), _without(rest, match)
    return found, rest


def _size(found: Remembered, rest: str) -> tuple[Remembered, str]:
    """The diameter; a number no jaw has, such as 6061, stays a word."""
    match = _RANGE.search(rest)
    if match:
        unit = match[4] or match[2]
        low, high = sorted((in_mm(match[1], unit), in_mm(match[3], unit)))
        return replace(found, around=(low + high) / 2, diameter=(low, high)), _without(rest, match)
    for match in list(_SINGLE.finditer(rest)):
        value = in_mm(match[2], match[3])
        if not 1.0 <= value <= 2000.0:
            continue
        if found.diameter is not None:
            raise InputError(f'"{match[2]}" is a second diameter: for a range say "80 to 84"')
        slack = max(1.5, 0.02 * value) if match[1] else 0.5 if "." not in match[2].replace(",", ".") else 0.1
        slack *= INCH_MM / 10 if match[3] and match[3] != "mm" and not match[1] else 1.0
        found = replace(found, around=value, diameter=(value - slack, value + slack))
        rest = rest.replace(match[0], " ", 1)
    return found, rest


def _with_word(found: Remembered, token: str) -> Remembered:
    word = _SAME.get(token, token)
    if not word or word in _EMPTY:
        return found
    if word in _SIDES:
        return replace(found, side=_SIDES[word])
    if word in _STYLES:
        return replace(found, style=word)
    return replace(found, words=(*found.words, word))


def _iso(match: re.Match[str], now: datetime) -> tuple[datetime, datetime]:
    try:
        begin = _day(now).replace(year=int(match[1]), month=int(match[2]), day=int(match[3] or 1))
    except ValueError as error:
        raise InputError(f'"{match[0]}" is not a date') from error
    return begin, begin + timedelta(days=1) if match[3] else _months_on(begin, 1)


def _ago(match: re.Match[str], now: datetime) -> tuple[datetime, datetime]:
    count = 1 if match[1] in ("a", "an") else int(match[1])
    days = _DAYS[match[2]]
    if count * days > 36_500:
        raise InputError(f'"{match[0].strip()}" is before there were records')
    middle, slack = now - timedelta(days=count * days), timedelta(days=max(1.0, 0.5 * days))
    return middle - slack, middle + slack


def _last(match: re.Match[str], now: datetime) -> tuple[datetime, datetime]:
    day, back = _day(now), match[1] == "last"
    if match[2] == "week":
        monday = day - timedelta(days=day.weekday() + (7 if back else 0))
        return monday, monday + timedelta(days=7)
    if match[2] == "year":
        return _year(now.year - back, now)
    first = day.replace(day=1)
    return (_months_on(first, -1), first) if back else (first, _months_on(first, 1))


def _season(match: re.Match[str], now: datetime, southern: bool) -> tuple[datetime, datetime]:
    month = (_SEASONS[match[2]] + 6 * southern - 1) % 12 + 1
    begin = _day(now).replace(month=month, day=1, year=_calendar_year(match[3], now))
    if not match[3]:
        over = match[1] == "last"  # the last one is over, the season alone may be this one
        while (_months_on(begin, 3) if over else begin) > now:
            begin = _months_on(begin, -12)
    return begin - _SLACK, _months_on(begin, 3) + _SLACK - timedelta(days=1)


def _month(match: re.Match[str], now: datetime) -> tuple[datetime, datetime]:
    begin = _day(now).replace(month=_MONTHS.index(match[1]) + 1, day=1, year=_calendar_year(match[2], now))
    if begin > now and not match[2]:
        begin = _months_on(begin, -12)
    return begin, _months_on(begin, 1)


def _calendar_year(text: str | None, now: datetime) -> int:
    """The year that was said, or this one. Raises: ``InputError`` for one that no calendar has."""
    if text is None:
        return now.year
    if not 1900 <= int(text) < 2200:
        raise InputError(f"{text} is no year of any records")
    return int(text)


def _year(year: int, now: datetime) -> tuple[datetime, datetime]:
    begin = _day(now).replace(year=year, month=1, day=1)
    return begin, _months_on(begin, 12)


def _day(now: datetime) -> datetime:
    return now.replace(hour=0, minute=0, second=0, microsecond=0)


def _months_on(first: datetime, months: int) -> datetime:
    year, month = divmod(first.year * 12 + first.month - 1 + months, 12)
    if not 1 <= year <= 9999:
        raise InputError(f"the year {year} is out of the calendar")
    return first.replace(year=year, month=month + 1)


def _without(rest: str, match: re.Match[str]) -> str:
    return f"{rest[: match.start()]} {rest[match.end() :]}"

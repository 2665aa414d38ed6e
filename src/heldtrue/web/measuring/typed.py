"""What was typed of a gauge ring and its readings: understood place by place, nothing guessed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, get_args

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.inspection.ring_design import places_for
from heldtrue.inspection.ring_file import GaugeRing, ring_from, rounds_from
from heldtrue.inspection.ring_reading import Gauge, RingGauge, RingReadings
from heldtrue.planning.entries import Chuck
from heldtrue.planning.gauge_words import typed_pressure
from heldtrue.planning.toml_file import parse_toml
from heldtrue.quantities import names_unit, parse_quantity
from heldtrue.shop.gauge_rings import check_fits
from heldtrue.web.fields import Table
from heldtrue.web.measuring import words
from heldtrue.web.readings.typed import number
from heldtrue.web.trouble import problems_of

KINDS: tuple[Gauge, ...] = get_args(Gauge)
CLAMPED = 3
PLACES = (6, 8, 9, 12, 16, 18, 24, 36)


@dataclass(frozen=True)
class Question:
    """Ring and readings that can be read out."""

    gauge: RingGauge
    ring: GaugeRing
    readings: RingReadings


@dataclass(frozen=True)
class Understood:
    """``wrong``: why a place cannot be read, by its path; ``waiting``: what is still to come, in words; ``problems``
    of all together; ``ring``: as far as it is known; ``question``: None until all of it is there."""

    wrong: dict[str, str]
    waiting: tuple[str, ...]
    problems: tuple[str, ...]
    ring: RingGauge | None
    question: Question | None


def blank(jaws: int) -> Table:
    """Nothing typed yet; the first of the rounds is free."""
    return {"ring": "", "kind": "dial", "unit": "um", "division": "", "places": places_for(jaws),
            "traces": [blank_round(places_for(jaws)) for _ in range(1 + CLAMPED)]}  # fmt: skip


def blank_round(places: int) -> Table:
    """One round with nothing in it."""
    return {"pressure": "", "values": [""] * places}


def round_name(at: int) -> str:
    """What a round is called."""
    return words.FREE if at == 0 else words.ROUND.format(n=at)


def understood(table: Table, chuck: Chuck, unit: str) -> Understood:
    """Read the table of one chuck; ``unit`` of its pressure gauge.

    A round with anything in it counts, and must be whole: none is left out in silence.
    """
    wrong: dict[str, str] = {}
    waiting: list[str] = []
    ring = _ring(table["ring"], wrong, waiting)
    division = _division(table, wrong, waiting)
    rounds = [found for at, one in enumerate(table["traces"])
              if (found := _round(at, one, table["unit"], chuck, unit, wrong, waiting)) is not None]  # fmt: skip
    if not any("pressure" in one for one in rounds) and not waiting and not wrong:
        waiting.append(words.NEED_ROUNDS)
    gauge = ring[0] if ring else None
    if wrong or waiting or ring is None or division is None:
        return Understood(wrong, tuple(waiting), (), gauge, None)
    raw = {"units": "metric", "gauge": table["kind"], "division": division, "places": table["places"], "round": rounds}
    try:
        readings = rounds_from(raw, words.PAD_TITLE)
        check_fits(ring[1], readings, chuck)
    except HeldtrueError as error:
        return Understood(wrong, (), problems_of(error), gauge, None)
    return Understood(wrong, (), (), gauge, Question(*ring, readings))


def _ring(text: str, wrong: dict[str, str], waiting: list[str]) -> tuple[RingGauge, GaugeRing] | None:
    if not text.strip():
        waiting.append(words.NEED_RING)
        return None
    try:
        return ring_from(parse_toml(text.encode(errors="replace")), words.RING)
    except HeldtrueError as error:
        wrong["ring"] = "; ".join(problems_of(error))
        return None


def _division(table: Table, wrong: dict[str, str], waiting: list[str]) -> float | None:
    """One division [mm]: what the range of the answer rests on, so nobody guesses it."""
    text = str(table["division"]).strip()
    if not text:
        waiting.append(words.NEED_DIVISION)
        return None
    try:
        return division_of(text, table["unit"])
    except InputError as error:
        wrong["division"] = str(error)
        return None


def division_of(text: str, dial: str) -> float:
    """One division [mm]; a bare number is in the unit of the dial. Raises: ``InputError``."""
    return parse_quantity(text, "length") if names_unit(text) else number(text, dial)


def _round(
    at: int, one: Table, dial: str, chuck: Chuck, unit: str, wrong: dict[str, str], waiting: list[str]
) -> dict[str, Any] | None:
    """One round in the shape of the readings file; None for one that nobody began."""
    typed, pressure = [str(text).strip() for text in one["values"]], str(one["pressure"]).strip()
    if not any(typed) and not pressure:
        return None
    values: list[float] = []
    for place, text in enumerate(typed):
        try:
            values += [number(text, dial)] if text else []
        except InputError as error:
            wrong[f"traces.{at}.values.{place}"] = str(error)
    if left := typed.count(""):
        waiting.append(words.NEED_VALUES.format(round=round_name(at), left=left, count=len(typed)))
    if at == 0:
        return {"values": values}
    if not pressure:
        waiting.append(words.NEED_PRESSURE.format(round=round_name(at)))
        return {"values": values}
    try:
        value = typed_pressure(pressure, unit, chuck.plate_pressure)
    except InputError as error:
        wrong[f"traces.{at}.pressure"] = str(error)
        return {"values": values}
    return {"pressure": f"{value!r} MPa", "values": values}

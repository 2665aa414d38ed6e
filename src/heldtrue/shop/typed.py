"""What is typed at a machine or at the shelf, read in one place for commands and pages. Lengths in mm, forces in N."""

from __future__ import annotations

from typing import Any

from heldtrue.errors import InputError
from heldtrue.planning.gauge_words import pressure_text, typed_pressure
from heldtrue.quantities import UnitSystem, format_quantity, names_unit, parse_quantity
from heldtrue.records import ChuckRecord
from heldtrue.tooling.chuck import grip_per_pressure

MOST_OVER_PLATE = 1.5
"""Neither gauge reads more than this share of the plates: else it is a slip, or the unit is another.

Common practice, no source."""


def typed_diameter(typed: str, system: UnitSystem) -> float:
    """A diameter, with or without its sign [mm]. Raises: ``InputError``, also for a radius."""
    words = typed.strip()
    if words[:1] in ("R", "r"):
        raise InputError(f"found {typed!r}, a radius; a diameter is wanted")
    for sign in ("Ø", "ø", "⌀", "Φ", "dia ", "D"):
        words = words.removeprefix(sign)
    value = parse_quantity(words.strip(), "length", system)
    if value <= 0:
        raise InputError(f"found {typed!r}; a diameter is above 0")
    return value


def typed_steps(typed: str, system: UnitSystem) -> tuple[tuple[float, float], ...]:
    """The steps of a bore: "none", or of each its diameter and its height above the seat, "Ø100 25; Ø65.5 -4". [mm]

    Raises: ``InputError`` for what is neither.
    """
    if typed.strip().casefold() == "none":
        return ()
    found = []
    for one in typed.split(";"):
        words = one.split()
        if len(words) != 2:
            raise InputError(f'found "{one.strip()}"; a step is its Ø and its height above the seat, below 0 behind '
                             'it: "Ø100 25; Ø65.5 -4", or "none"')  # fmt: skip
        found.append((typed_diameter(words[0], system), parse_quantity(words[1], "length", system)))
    return tuple(found)


def typed_grip_reading(pressure: str, force: str, card: ChuckRecord) -> tuple[float, float]:
    """One reading of a grip gauge in a chuck: pressure [MPa] and the grip of all jaws [N], the latter with its unit.

    Raises: ``InputError`` with the name of the one that is wrong, also for what the chuck could never do by its plate.
    """
    unit = card.gauge or "bar"
    limits = (_plate(card, "pressure", *keys) for keys in (("max_pressure",), ("actuator", "max_pressure")))
    most = min((one for one in limits if one is not None), default=None)
    try:
        read = typed_pressure(pressure, unit, most)
        if most is not None and read > MOST_OVER_PLATE * most:
            raise InputError(f'found "{pressure}"; the plates of {card.id} allow {pressure_text(most, unit, "down")}')
    except InputError as error:
        raise InputError(f"pressure: {error}") from error
    try:
        grip = _typed_grip(force, card)
        promised = _promised(card, read)
        if promised is not None and grip > MOST_OVER_PLATE * promised:
            raise InputError(
                f'found "{force}" at {pressure_text(read, unit)}, where the plates of {card.id} promise '
                f"{format_quantity(promised, 'force', system_of(card))} at the most: read both gauges again"
            )
    except InputError as error:
        raise InputError(f"force: {error}") from error
    return read, grip


def _typed_grip(typed: str, card: ChuckRecord) -> float:
    if not names_unit(typed):
        raise InputError(f'found "{typed}"; give its unit, such as "{typed.strip()} kN"')
    grip = parse_quantity(typed, "force", system_of(card))
    if grip <= 0:
        raise InputError(f'found "{typed}"; a grip is above 0')
    most = _plate(card, "force", "max_grip_force")
    if most is not None and grip > MOST_OVER_PLATE * most:
        words = format_quantity(most, "force", system_of(card))
        raise InputError(f'found "{typed}"; the plate of {card.id} promises {words} at the most')
    return grip


def _promised(card: ChuckRecord, pressure: float) -> float | None:
    """The grip that the plates promise at a pressure [N], by the larger piston area; None where they do not say."""
    areas = (_plate(card, "area", "actuator", key) for key in ("pull_area", "push_area"))
    area = max((one for one in areas if one is not None), default=None)
    grip, draw = (_plate(card, "force", key) for key in ("max_grip_force", "max_draw_force"))
    return None if area is None or grip is None or draw is None else grip_per_pressure(grip, draw, area) * pressure


def _plate(card: ChuckRecord, kind: str, *keys: str) -> float | None:
    """A figure of the plate on a card, which has its units written out [core]; None where it is not there."""
    found: Any = card.data
    for key in keys:
        found = plain(found.get(key)) if isinstance(found, dict) else None
    return parse_quantity(found, kind) if isinstance(found, str) else None


def system_of(card: ChuckRecord) -> UnitSystem:
    """The units a chuck's forces are said in: those its gauge speaks."""
    return "inch" if card.gauge == "psi" else "metric"


def typed_reading(typed: str) -> tuple[str, float]:
    """A name with its unit and a number: ``runout_mm=0.012``. Raises: ``InputError``."""
    name, sign, value = typed.partition("=")
    try:
        if not sign or not name.strip():
            raise ValueError
        return name.strip(), float(value.replace(",", "."))
    except ValueError:
        raise InputError(f'found "{typed}"; expected a name with its unit and a number: runout_mm=0.012') from None


def typed_size(typed: str) -> tuple[float, float]:
    """Width and height of a label [mm]. Raises: ``InputError``."""
    try:
        width, height = (float(one.replace(",", ".")) for one in typed.lower().replace("mm", "").split("x"))
    except ValueError:
        raise InputError(f'found "{typed}"; expected width x height in mm, such as 50x25') from None
    return width, height


def plain(value: Any, otherwise: Any = None) -> Any:
    """A value of a hardware file without the word where it came from."""
    if value is None:
        return otherwise
    return value["value"] if isinstance(value, dict) and set(value) == {"value", "from"} else value

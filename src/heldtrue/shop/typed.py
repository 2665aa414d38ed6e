"""What is typed at a machine or at the shelf, read in one place for commands and pages. Lengths in mm, forces in N."""

from __future__ import annotations

from typing import Any

from heldtrue.errors import InputError
from heldtrue.quantities import UnitSystem, parse_quantity
from heldtrue.records import ChuckRecord

MOST_OVER_PLATE = 1.5
"""A grip gauge does not read more than this share of the plate: then it is a slip, or the unit is another."""


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


def typed_grip(typed: str, system: UnitSystem, card: ChuckRecord) -> float:
    """Grip of all jaws [N]: with its unit, and nothing the chuck could never do. Raises: ``InputError``."""
    if not any(letter.isalpha() for letter in typed):
        raise InputError(f'found "{typed}"; give its unit, such as "{typed.strip()} kN"')
    grip = parse_quantity(typed, "force", system)
    if grip <= 0:
        raise InputError(f'found "{typed}"; a grip is above 0')
    most = plain(card.data.get("max_grip_force"))
    if isinstance(most, str) and grip > MOST_OVER_PLATE * parse_quantity(most, "force", system):
        raise InputError(f'found "{typed}"; the plate of {card.id} promises {most} at the most')
    return grip


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

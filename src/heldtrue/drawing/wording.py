"""How numbers are written on drawings and sheets: gauge pressures, dimensions, values of checks."""

from __future__ import annotations

from math import isfinite

from heldtrue.planning.gauge_words import pressure_text
from heldtrue.planning.phrases import LINEAR_MM, OVER
from heldtrue.quantities import KINDS, UnitSystem, bare_unit, format_quantity, from_core


def other_pressure_unit(unit: str, system: UnitSystem) -> str:
    """The unit shown small beside a gauge pressure."""
    return {"bar": "psi", "psi": "bar"}.get(unit, bare_unit("pressure", system))


def dimension(value: float, system: UnitSystem) -> str:
    """A length [mm] as a bare number on a drawing: no needless places, inch without a leading zero."""
    number = value / 25.4 if system == "inch" else value
    text = f"{number:.4f}" if system == "inch" else f"{number:.3f}"
    whole, _, places = text.partition(".")
    kept = places.rstrip("0")
    if system == "inch":
        kept = kept.ljust(3, "0")
        return f"{whole}.{kept}".replace("0.", ".", 1) if whole in ("0", "-0") else f"{whole}.{kept}"
    return f"{whole}.{kept}" if kept else ("0" if whole == "-0" else whole)


def deviation(value: float, system: UnitSystem) -> str:
    """A tolerance's deviation [mm] with its sign."""
    text = dimension(abs(value), system)
    return text if value == 0 else f"{'−' if value < 0 else '+'}{text}"


def length_unit(system: UnitSystem) -> str:
    """The unit of the dimensions of a drawing."""
    return "in" if system == "inch" else "mm"


def small_length(value: float, system: UnitSystem) -> str:
    """A form error or deviation [mm] with its unit, to the last place a shop can measure."""
    if not isfinite(value):
        return "no value"
    number = abs(value) / 25.4 if system == "inch" else abs(value)
    places = 5 if system == "inch" else 4 if number < 0.00995 else 3
    text = f"{number:.{places}f}"
    if number > 0 and float(text) == 0:
        text = f"<{text[:-1]}1"
    return f"{text.replace('0.', '.', 1) if system == 'inch' and number < 1 else text} {length_unit(system)}"


def form_length(value: float, system: UnitSystem) -> str:
    """A form error the program computed [mm]: as ``small_length``, and no digits where they mean nothing."""
    return OVER[system] if isfinite(value) and abs(value) > LINEAR_MM else small_length(value, system)


def contact_unit(system: UnitSystem) -> str:
    """The unit of contact pressure and strength."""
    return "ksi" if system == "inch" else "MPa"


def contact_number(value: float, system: UnitSystem) -> str:
    """A contact pressure [MPa] as a bare number, three figures."""
    return plain(from_core(value, "pressure", contact_unit(system)))


def plain(number: float) -> str:
    """Three figures without an exponent; no digit before the point is lost."""
    if not isfinite(number):
        return "no limit" if number > 0 else "none"
    size = abs(number)
    places = 0 if size >= 100 else 1 if size >= 10 else 2 if size >= 1 else 3
    return f"{number:.{places}f}"


def value_text(value: float, kind: str, system: UnitSystem, gauge: str = "") -> str:
    """A value of a check in the words of its kind."""
    if not isfinite(value):
        return "no limit" if value > 0 else "none"
    if kind == "pressure" and gauge:
        return pressure_text(value, gauge)
    if kind == "length":
        return small_length(value, system) if abs(value) < 1 else f"{dimension(value, system)} {length_unit(system)}"
    if kind == "stress":
        return f"{contact_number(value, system)} {contact_unit(system)}"
    if kind == "mass moment":
        return f"{plain(value / 1000)} kg m" if system == "metric" else f"{plain(value * 0.0867962)} lb in"
    if kind in KINDS and kind != "ratio":
        return format_quantity(value, kind, system)
    return plain(value)


def fit_words(fit: str) -> str:
    """The name of a fit as it stands on paper."""
    return f"{fit} part"

"""Units at the edges: what people type becomes a float in core units, and back.

Core units: mm, mm2, MPa, N, kg, s, rad, N mm, N/mm; by name also rev/min (``speed_rpm``), m/min
(``surface_speed``), mm per turn (``feed``) and W (``power``). Common units are in the tables here, with
exact factors; for the rest pint is asked, and only then imported.

>>> parse_quantity("250 psi", "pressure")
1.7236893232920902
>>> parse_quantity("1,5 mm", "length"), parse_quantity(0.25, "length", "inch")
(1.5, 6.35)
>>> format_both(2.5, "pressure")
'25.0 bar (363 psi)'
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache, lru_cache
from math import floor, inf, isfinite, log10, nextafter
from types import MappingProxyType
from typing import Any, Literal

from heldtrue.errors import InputError

UnitSystem = Literal["metric", "inch"]

_EXPONENT = re.compile(r"(?<=[\d.,])\s*e\s*[+-]?\d+", re.IGNORECASE)
_UNIT_SIGNS = "\"'″′%°"
_INCH = Fraction("25.4")
_POUND = Fraction("0.45359237")
_KGF = Fraction("9.80665")
_LBF = _POUND * _KGF
_FOOT = 12 * _INCH
_PSI = _LBF / _INCH**2
_HORSEPOWER = 550 * _LBF * _FOOT / 1000
_DEGREE = Fraction("0.017453292519943295769236907684886127134")
_TURN = Fraction("6.283185307179586476925286766559005768394")

_LENGTHS: dict[str, Fraction | int | str] = {
    "mm": 1, "cm": 10, "m": 1000, "um": "0.001", "in": _INCH, "inch": _INCH, "inches": _INCH, '"': _INCH,
    "thou": _INCH / 1000, "mil": _INCH / 1000, "ft": _FOOT,
}  # fmt: skip


@dataclass(frozen=True)
class Kind:
    """One kind of quantity: its word, its core unit, what a bare number means, the units it may be typed in.

    ``shown`` holds, for metric and inch, the units for output from the largest down, each with the least
    value [core unit] it is used for. ``pint_core`` is the core unit in pint's words, empty where the
    table is all there is.
    """

    word: str
    core: str
    bare: Mapping[UnitSystem, str]
    units: Mapping[str, Fraction]
    shown: Mapping[UnitSystem, tuple[tuple[float, str], ...]]
    pint_core: str = ""


def _kind(
    word: str,
    core: str,
    bare: tuple[str, str],
    units: Mapping[str, Fraction | int | str],
    *,
    shown: tuple[tuple[tuple[float, str], ...], tuple[tuple[float, str], ...]] | None = None,
    pint_core: str = "",
) -> Kind:
    metric, inch = bare
    shown_metric, shown_inch = shown or (((0.0, metric),), ((0.0, inch),))
    return Kind(
        word,
        core,
        MappingProxyType({"metric": metric, "inch": inch}),
        MappingProxyType({_lookup_key(name): Fraction(factor) for name, factor in units.items()}),
        MappingProxyType({"metric": shown_metric, "inch": shown_inch}),
        pint_core,
    )


def _lookup_key(unit: str) -> str:
    for typed, plain in (
        ("µ", "u"),
        ("μ", "u"),
        ("²", "2"),
        ("³", "3"),
        ("⁻¹", "-1"),
        ("″", '"'),
        ("''", '"'),
    ):
        unit = unit.replace(typed, plain)
    return re.sub(r"[\s·*.^-]", "", unit)


KINDS: Mapping[str, Kind] = MappingProxyType({
    "length": _kind("length", "mm", ("mm", "in"), _LENGTHS, pint_core="mm"),
    "area": _kind("area", "mm2", ("mm2", "in2"), {
        "mm2": 1, "cm2": 100, "m2": 1_000_000, "in2": _INCH**2, "sq in": _INCH**2, "sq mm": 1,
    }, pint_core="mm**2"),
    "pressure": _kind("pressure", "MPa", ("bar", "psi"), {
        "bar": "0.1", "mbar": "0.0001", "MPa": 1, "kPa": "0.001", "Pa": "0.000001", "N/mm2": 1,
        "psi": _PSI, "psig": _PSI, "lbf/in2": _PSI, "lb/in2": _PSI, "ksi": 1000 * _PSI,
        "kgf/cm2": _KGF / 100, "kg/cm2": _KGF / 100, "kp/cm2": _KGF / 100,
    }, pint_core="MPa"),
    "stress": _kind("stress", "MPa", ("MPa", "psi"), {
        "MPa": 1, "N/mm2": 1, "GPa": 1000, "psi": _PSI, "ksi": 1000 * _PSI,
    }, shown=(((0.0, "MPa"),), ((0.0, "ksi"),)), pint_core="MPa"),
    "tilt": _kind("tilt stiffness", "N mm/rad", ("N m/rad", "ft lbf/rad"), {
        "N mm/rad": 1, "N m/rad": 1000, "ft lbf/rad": _FOOT * _LBF,
    }),
    "mass moment": _kind("mass times radius", "kg mm", ("kg mm", "lb in"), {
        "kg mm": 1, "kg m": 1000, "lb in": _POUND * _INCH,
    }),
    "force": _kind("force", "N", ("N", "lbf"), {
        "N": 1, "daN": 10, "kN": 1000, "lbf": _LBF, "lb": _LBF, "lbs": _LBF, "kgf": _KGF, "kp": _KGF,
    }, shown=(((1000.0, "kN"), (0.0, "N")), ((0.0, "lbf"),)), pint_core="N"),
    "mass": _kind("mass", "kg", ("kg", "lb"), {
        "kg": 1, "g": "0.001", "t": 1000, "lb": _POUND, "lbs": _POUND, "lbm": _POUND, "oz": _POUND / 16,
    }, pint_core="kg"),
    "speed_rpm": _kind("speed of rotation", "rev/min", ("rev/min", "rev/min"), {
        "rpm": 1, "rev/min": 1, "r/min": 1, "1/min": 1, "/min": 1, "min-1": 1, "U/min": 1, "tr/min": 1,
        "rev/s": 60, "1/s": 60, "s-1": 60, "Hz": 60, "rad/s": 60 / _TURN,
    }),
    "surface_speed": _kind("cutting speed", "m/min", ("m/min", "ft/min"), {
        "m/min": 1, "m/s": 60, "ft/min": _FOOT / 1000, "fpm": _FOOT / 1000, "sfm": _FOOT / 1000,
        "sfpm": _FOOT / 1000,
    }, pint_core="m/min"),
    "feed": _kind("feed per turn", "mm/rev", ("mm/rev", "in/rev"), {
        **_LENGTHS, **{f"{unit}/{turn}": factor for unit, factor in _LENGTHS.items()
                       for turn in ("rev", "r", "U")},
        "ipr": _INCH,
    }),
    "torque": _kind("torque", "N mm", ("N m", "ft lbf"), {
        "N m": 1000, "N mm": 1, "kN m": 1_000_000, "daN m": 10_000, "kgf m": 1000 * _KGF, "J": 1000,
        **{f"{a} {b}": length * _LBF for length, names in ((_FOOT, ("ft",)), (_INCH, ("in",)))
           for name in names for pound in ("lbf", "lb", "lbs")
           for a, b in ((name, pound), (pound, name))},
    }, pint_core="N*mm"),
    "time": _kind("time", "s", ("s", "s"), {
        "s": 1, "sec": 1, "ms": "0.001", "min": 60, "h": 3600,
    }, pint_core="s"),
    "angle": _kind("angle", "rad", ("deg", "deg"), {
        "deg": _DEGREE, "°": _DEGREE, "degree": _DEGREE, "degrees": _DEGREE, "rad": 1,
    }),
    "stiffness": _kind("stiffness", "N/mm", ("N/mm", "lbf/in"), {
        "N/mm": 1, "N/um": 1000, "kN/mm": 1000, "N/m": "0.001", "lbf/in": _LBF / _INCH, "lb/in": _LBF / _INCH,
    }, pint_core="N/mm"),
    "power": _kind("power", "W", ("kW", "hp"), {
        "W": 1, "kW": 1000, "hp": _HORSEPOWER, "PS": 75 * _KGF,
    }, pint_core="W"),
    "ratio": _kind("plain number", "", ("", ""), {"": 1, "%": "0.01"}),
})  # fmt: skip

_LARGEST = 1e15
_SMALLEST = 1e-15
_LONGEST_TEXT = 60
_SPACES = " '’\u00a0\u2009\u202f"
_NO_SPACES = str.maketrans("", "", _SPACES)
_NUMBER = re.compile(
    rf"(?P<diameter>[Øø⌀∅]\s*)?(?P<sign>[+−-]?)\s*"
    rf"(?P<digits>\d{{1,3}}(?:[{_SPACES}]\d{{3}})+(?![\d])(?:[.,]\d+)?|\d[\d.,]*|[.,]\d+)"
    r"(?P<exponent>[eE][+-]?\d{1,3}(?![\w]))?\s*(?P<unit>.*)"
)
_FRACTION = re.compile(
    r"(?P<sign>[+−-]?)(?:(?P<whole>\d{1,4})[ -])?(?P<over>\d{1,3})/(?P<under>\d{1,3})(?!\d)\s*(?P<unit>.*)"
)
READ_KEPT = 8192
"""Quantities kept as they were read and written: a changed setup is read whole, and nearly all of it is as before."""
_PINT_UNIT = re.compile(r"[A-Za-z_]+[1-4]?(?:[ */][A-Za-z_]+[1-4]?){0,4}")


def parse_quantity(value: float | str, kind: str, system: UnitSystem = "metric") -> float:
    """What was typed, as a finite float in the core unit of ``kind``.

    A bare number, or a string without a unit, is in the unit of ``system``. Both decimal point and
    decimal comma are read.

    Raises: ``InputError`` with one sentence when it is not a number, not of this kind, or can be read in
    two ways.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise InputError(f"found {describe(value)}; {_expected(kind, system)}")
    return _parsed(value, kind, system)


def names_unit(typed: str) -> bool:
    """Does what was typed name a unit, in letters or by a sign? The e of 2.6e1 is none: 26 psi is not 26 bar."""
    return any(letter.isalpha() or letter in _UNIT_SIGNS for letter in _EXPONENT.sub("", typed))


@lru_cache(maxsize=READ_KEPT, typed=True)
def _parsed(value: float | str, kind: str, system: UnitSystem) -> float:
    if isinstance(value, str):
        number, unit = _split(value, kind, system)
        factor = _factor(unit, kind, value) if unit else _bare_factor(kind, system)
    else:
        number, factor = _exact(value), _bare_factor(kind, system)
    core = float(number * factor)
    if core and not _SMALLEST < abs(core) < _LARGEST:
        raise InputError(f"found {describe(value)}; the number is too large or too small to mean anything here")
    return core


def to_core(number: float, kind: str, unit: str) -> float:
    """``number`` in ``unit`` as the core unit of ``kind``."""
    return float(_exact(number) * _factor(unit, kind, f"{number:g} {unit}"))


def from_core(value: float, kind: str, unit: str) -> float:
    """``value`` in the core unit of ``kind`` as a number in ``unit``."""
    return float(_exact(value) / _factor(unit, kind, f"{value:g} {unit}"))


def bare_unit(kind: str, system: UnitSystem) -> str:
    """The unit of a bare number of this kind; empty for a plain number."""
    return KINDS[kind].bare[system]


@lru_cache(maxsize=READ_KEPT, typed=True)
def file_value(value: float, kind: str, system: UnitSystem) -> float | str:
    """``value`` [core] as it would be typed, such that `parse_quantity` gives exactly ``value`` back."""
    unit = bare_unit(kind, system)
    typed = float(_exact(value) / _bare_factor(kind, system))
    for candidate in (*(float(f"{typed:.{figures}g}") for figures in (12, 15, 17)), *_next_to(typed)):
        if float(_exact(candidate) * _bare_factor(kind, system)) == value:
            return int(candidate) if candidate.is_integer() and abs(candidate) < 1e9 and unit else candidate
    return f"{value!r} {KINDS[kind].core}".strip()


def spell_quantity(value: float, kind: str, system: UnitSystem = "metric") -> str:
    """``value`` [core] with its unit, as briefly as it would be typed: ``25 mm``, ``250 bar``."""
    number = float(_exact(value) / _bare_factor(kind, system))
    return f"{_plain(number)} {bare_unit(kind, system)}".strip()


def format_quantity(
    value: float, kind: str, system: UnitSystem = "metric", *, unit: str | None = None, figures: int = 3
) -> str:
    """``value`` [core] with its unit, for people.

    Lengths have 3 places in mm and 4 in inch, without a leading zero; speeds are whole turns; the rest has
    ``figures`` significant figures. No digit before the decimal point is ever dropped, and a small value
    keeps two significant figures rather than being shown as zero.

    >>> format_quantity(12345.0, "force"), format_quantity(0.254, "length", "inch")
    ('12.3 kN', '.0100 in')
    """
    if unit is None:
        steps = KINDS[kind].shown[system]
        unit = next((name for least, name in steps if abs(value) >= least), steps[-1][1])
    number = from_core(value, kind, unit) if unit else value
    if kind in ("length", "feed"):
        text = _places(number, 4 if "in" in unit else 3)
        if "in" in unit:
            text = re.sub(r"^(-?)0\.", r"\1.", text)
    elif kind == "speed_rpm":
        text = _places(number, 0)
    else:
        text = _figures(number, figures)
    return f"{text} {unit.replace('mm2', 'mm²').replace('in2', 'in²').replace('cm2', 'cm²')}".strip()


def format_both(value: float, kind: str, system: UnitSystem = "metric") -> str:
    """``value`` [core] in the units of ``system``, with the other system's in brackets."""
    first = format_quantity(value, kind, system)
    second = format_quantity(value, kind, "inch" if system == "metric" else "metric")
    return first if first == second else f"{first} ({second})"


def _next_to(number: float) -> tuple[float, ...]:
    below, above = nextafter(number, -inf), nextafter(number, inf)
    return below, above, nextafter(below, -inf), nextafter(above, inf)


def describe(value: Any) -> str:
    """What was found, in words a reader of the file would use."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if isinstance(value, int) and value.bit_length() > 1000:
        return "a number of more than 300 digits"  # no float, and maybe no text, is as long
    if isinstance(value, int | float | str):
        return _quoted(value) if isinstance(value, str) else f"{value:.12g}"
    return "nothing" if value is None else f"a {type(value).__name__}"


def _quoted(text: str) -> str:
    text = "".join(c if c.isprintable() else "?" for c in text)
    return f'"{text if len(text) <= _LONGEST_TEXT else text[: _LONGEST_TEXT - 1] + "…"}"'


def _expected(kind: str, system: UnitSystem) -> str:
    if kind == "ratio":
        return "expected a plain number"
    word, unit = KINDS[kind].word, bare_unit(kind, system)
    return f'expected {word}: a number in {unit}, or a text with its unit such as "{_example(kind)}"'


def _example(kind: str) -> str:
    return {"pressure": "18 bar", "force": "12 kN", "mass": "1.9 kg", "length": "1.5 mm"}.get(
        kind, f"5 {KINDS[kind].bare['metric']}"
    )


def _exact(number: float) -> Fraction:
    """The decimal number that was meant, exactly; so that 3 bar is 0.3 MPa, not 0.30000000000000004."""
    if isinstance(number, int):
        if abs(number) > _LARGEST:
            raise InputError("found a whole number that is too large to mean anything here")
        return Fraction(number)
    if not isfinite(number):
        raise InputError(f"found {number}; expected a finite number")
    return Fraction(repr(number))


def _exact_text(text: str, typed: str) -> Fraction:
    size = abs(float(text))
    if not isfinite(size):
        raise InputError(f"found {typed}; expected a finite number")
    if size > _LARGEST or (size < _SMALLEST and re.search(r"[1-9]", re.split("[eE]", text)[0])):
        raise InputError(f"found {typed}; the number is too {'large' if size > 1 else 'small'} to mean anything here")
    return Fraction(text)


@cache
def _bare_factor(kind: str, system: UnitSystem) -> Fraction:
    return KINDS[kind].units[_lookup_key(KINDS[kind].bare[system])]


def _split(typed: str, kind: str, system: UnitSystem) -> tuple[Fraction, str]:
    """The number and the unit of a typed text."""
    text = typed.strip()
    if not text or len(text) > _LONGEST_TEXT:
        raise InputError(f"found {_quoted(typed)}; {_expected(kind, system)}")
    if kind == "length" and (match := _FRACTION.fullmatch(text)):
        if int(match["under"]) == 0:
            raise InputError(f"found {_quoted(typed)}; a fraction cannot be over 0")
        number = int(match["whole"] or 0) + Fraction(int(match["over"]), int(match["under"]))
        return (-number if match["sign"] in ("-", "−") else number), match["unit"].strip()
    match = _NUMBER.fullmatch(text)
    if not match or not text.translate(_NO_SPACES).isprintable():
        raise InputError(f"found {_quoted(typed)}; {_expected(kind, system)}")
    if match["diameter"] and kind != "length":
        raise InputError(f"found {_quoted(typed)}; a diameter sign has no place in a {KINDS[kind].word}")
    digits = _decimal(match["digits"], match["unit"], typed)
    sign = "-" if match["sign"] in ("-", "−") else ""
    return _exact_text(f"{sign}{digits}{match['exponent'] or ''}", _quoted(typed)), match["unit"].strip()


def _decimal(digits: str, unit: str, typed: str) -> str:
    """Digits with a decimal point and no thousands separators."""
    digits = re.sub(f"[{_SPACES}]", "", digits)
    if not digits.isascii():
        raise InputError(f"found {_quoted(typed)}; write the number in the digits 0 to 9")
    points, commas = digits.count("."), digits.count(",")
    if points and commas:
        decimal = max(".", ",", key=digits.rfind)
        thousands = "," if decimal == "." else "."
        whole, _, places = digits.rpartition(decimal)
        if digits.count(decimal) == 1 and re.fullmatch(rf"[1-9]\d{{0,2}}(?:\{thousands}\d{{3}})+", whole):
            return f"{whole.replace(thousands, '')}.{places}"
    elif points + commas <= 1 and not digits.endswith(","):
        if re.fullmatch(r"[1-9]\d{0,2},\d{3}", digits):
            whole, places = digits.split(",")
            unit = f" {unit.strip()}" if unit.strip() else ""
            raise InputError(
                f"{_quoted(typed)} can be read in two ways; "
                f'write "{whole}{places}{unit}" or "{whole}.{places.rstrip("0") or "0"}{unit}"'
            )
        return digits.replace(",", ".")
    elif re.fullmatch(r"[1-9]\d{0,2}(?:([.,])\d{3})(?:\1\d{3})*", digits):
        return digits.replace(".", "").replace(",", "")
    raise InputError(f"found {_quoted(typed)}; the points and commas do not make one number")


def _factor(unit: str, kind: str, typed: str) -> Fraction:
    """Core units in one ``unit``."""
    units = KINDS[kind].units
    key = _lookup_key(unit)
    if key in units:
        return units[key]
    if len(key) > 1 and key != "mPa":  # case is often wrong on paper, but milli is not mega
        for name, factor in units.items():
            if name.casefold() == key.casefold():
                return factor
    other = _kind_of(key, kind)
    if other is not None:
        hint = '; as a force write "kgf"' if kind == "force" and key == "kg" else ""
        raise InputError(f"{_quoted(typed)} is a {other.word}, not a {KINDS[kind].word}{hint}")
    if KINDS[kind].pint_core:
        return _factor_by_pint(unit, kind, typed)
    raise _not_a_unit(unit, kind, typed)


def _kind_of(key: str, kind: str) -> Kind | None:
    return next((other for name, other in KINDS.items() if name not in (kind, "feed") and key in other.units), None)


def _not_a_unit(unit: str, kind: str, typed: str) -> InputError:
    if kind == "ratio":
        return InputError(f"found {_quoted(typed)}; expected a plain number without a unit")
    known = ", ".join(dict.fromkeys([*KINDS[kind].bare.values(), *list(KINDS[kind].units)[:5]]))
    return InputError(f"{_quoted(typed)}: {_quoted(unit)} is not a unit of {KINDS[kind].word}; known are {known}")


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


@lru_cache(maxsize=256)
def _factor_by_pint(unit: str, kind: str, typed: str) -> Fraction:
    """Ask pint for a unit that is in no table here."""
    plain = unit
    for found, meant in (("µ", "u"), ("μ", "u"), ("²", "2"), ("³", "3"), ("^", ""), ("·", "*")):
        plain = plain.replace(found, meant)
    if not _PINT_UNIT.fullmatch(plain):
        raise _not_a_unit(unit, kind, typed)
    import pint

    spelled = re.sub(r"([1-4])(?=[ */]|$)", r"**\1", plain)
    try:
        factor = float(_registry().Quantity(1.0, spelled).to(KINDS[kind].pint_core).magnitude)
    except pint.DimensionalityError as error:
        raise InputError(f"{_quoted(typed)} is not a {KINDS[kind].word}") from error
    except (pint.PintError, AttributeError, ValueError, TypeError, AssertionError, SyntaxError) as error:
        raise _not_a_unit(unit, kind, typed) from error
    return _exact(factor)


def _plain(number: float) -> str:
    """Up to 7 significant figures, never in powers of ten unless it must."""
    text = f"{number:.7g}"
    return f"{Decimal(text):f}" if "e" in text and _SMALLEST < abs(number) < _LARGEST else text


def _places(number: float, places: int) -> str:
    """Fixed places; more where the value would keep fewer than two significant figures."""
    if number != 0.0 and places and isfinite(number):
        places = max(places, 1 - floor(log10(abs(number))))
    text = f"{number:.{places}f}"
    return text[1:] if text.startswith("-") and float(text) == 0.0 else text


def _figures(number: float, figures: int) -> str:
    """Significant figures; digits before the decimal point are all kept."""
    if number == 0.0 or not isfinite(number):
        return f"{number:.0f}" if number == 0.0 else str(number)
    places = max(0, figures - 1 - floor(log10(abs(number))))
    text = f"{number:.{places}f}"
    if places and len(text.replace("-", "").replace(".", "").lstrip("0")) > figures:  # 9.996 became 10.00
        text = f"{number:.{places - 1}f}"
    return text

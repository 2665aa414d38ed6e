"""Units at the edges: what people type, exactly, and back."""

import re
import subprocess
import sys

import pint
import pytest

from heldtrue.errors import InputError
from heldtrue.quantities import (
    KINDS,
    bare_unit,
    file_value,
    format_both,
    format_quantity,
    from_core,
    names_unit,
    parse_quantity,
    spell_quantity,
    to_core,
)

TYPED = [
    ("18 bar", "pressure", 1.8),
    ("250 psi", "pressure", 1.7236893),
    ("60 kgf/cm2", "pressure", 5.88399),
    ("60 kgf/cm²", "pressure", 5.88399),
    ("60 kg/cm2", "pressure", 5.88399),
    ("2.5MPa", "pressure", 2.5),
    ("360 PSI", "pressure", 2.4821126),
    ("1 atm", "pressure", 0.101325),
    ("10 inHg", "pressure", 0.033863886),
    ("0.010 in", "length", 0.254),
    ("12 thou", "length", 0.3048),
    ("1,5 mm", "length", 1.5),
    (",5 mm", "length", 0.5),
    ("0,500 mm", "length", 0.5),
    ("1500,250 mm", "length", 1500.25),
    ("1.234,5 mm", "length", 1234.5),
    ("1,234.5 mm", "length", 1234.5),
    ("1.234.567", "length", 1234567.0),
    ("1 500 mm", "length", 1500.0),
    ("1\u00a0500 mm", "length", 1500.0),
    ("12\u2009000.5 mm", "length", 12000.5),
    ("Ø97.55", "length", 97.55),
    ("⌀ 97,55 mm", "length", 97.55),
    ("-0.025", "length", -0.025),
    ("−0,025 mm", "length", -0.025),
    ("+0.04", "length", 0.04),
    ("3/4 in", "length", 19.05),
    ('1 1/2"', "length", 38.1),
    ("2 1/4 in", "length", 57.15),
    ("20 µm", "length", 0.02),
    ("20 μm", "length", 0.02),
    ("3e2 mm", "length", 300.0),
    ("1 yd", "length", 914.4),
    ("12 kN", "force", 12000.0),
    ("12KN", "force", 12000.0),
    ("200 daN", "force", 2000.0),
    ("500 lb", "force", 2224.11081),
    ("1.9 kg", "mass", 1.9),
    ("4.1 lb", "mass", 1.85972872),
    ("2500 rpm", "speed_rpm", 2500.0),
    ("2500 1/min", "speed_rpm", 2500.0),
    ("2500 min-1", "speed_rpm", 2500.0),
    ("12 000 1/min", "speed_rpm", 12000.0),
    ("40 Hz", "speed_rpm", 2400.0),
    ("500 ft/min", "surface_speed", 152.4),
    ("2 m/s", "surface_speed", 120.0),
    ("0.010 ipr", "feed", 0.254),
    ("0,25 mm/rev", "feed", 0.25),
    ("110 Nm", "torque", 110_000.0),
    ("110 N·m", "torque", 110_000.0),
    ("80 ft-lb", "torque", 108_465.436),
    ("95°", "angle", 1.65806279),
    ("95 deg", "angle", 1.65806279),
    ("30 %", "ratio", 0.3),
    ("0,3", "ratio", 0.3),
    ("20 hp", "power", 14_913.9974),
    ("15 kW", "power", 15_000.0),
    ("0.4 min", "time", 24.0),
    ("200 N/µm", "stiffness", 200_000.0),
    ("22.5 in²", "area", 14_516.1),
]


@pytest.mark.parametrize(("typed", "kind", "core"), TYPED)
def test_typed_text_is_read_in_its_own_unit_whatever_the_file(typed, kind, core):
    assert parse_quantity(typed, kind) == pytest.approx(core, rel=1e-7)
    if any(c.isalpha() and c not in "eØ" for c in typed) or '"' in typed:
        assert parse_quantity(typed, kind, "inch") == parse_quantity(typed, kind, "metric")


@pytest.mark.parametrize(
    ("kind", "metric", "inch"),
    [
        ("length", 1.0, 25.4),
        ("area", 1.0, 645.16),
        ("pressure", 0.1, 0.0068947573),
        ("force", 1.0, 4.4482216),
        ("mass", 1.0, 0.45359237),
        ("speed_rpm", 1.0, 1.0),
        ("surface_speed", 1.0, 0.3048),
        ("feed", 1.0, 25.4),
        ("torque", 1000.0, 1355.8179),
        ("time", 1.0, 1.0),
        ("angle", 0.017453293, 0.017453293),
        ("stiffness", 1.0, 0.17512684),
        ("power", 1000.0, 745.69987),
        ("ratio", 1.0, 1.0),
    ],
)
def test_a_bare_number_is_in_the_units_of_the_file(kind, metric, inch):
    assert parse_quantity(1, kind) == pytest.approx(metric, rel=1e-7)
    assert parse_quantity("1", kind, "inch") == pytest.approx(inch, rel=1e-7)


def test_decimal_numbers_are_converted_without_binary_residue():
    assert parse_quantity(3, "pressure") == 0.3
    assert parse_quantity(0.01, "length", "inch") == 0.254
    assert parse_quantity("0.1 in", "length") == 2.54


_PINT_WORDS = {
    "mm": "mm",
    "cm": "cm",
    "m": "m",
    "um": "um",
    "in": "inch",
    "ft": "foot",
    "thou": "thou",
    "bar": "bar",
    "mbar": "mbar",
    "MPa": "MPa",
    "kPa": "kPa",
    "psi": "psi",
    "ksi": "ksi",
    "kgf/cm2": "kgf/cm**2",
    "N": "N",
    "kN": "kN",
    "daN": "daN",
    "lbf": "lbf",
    "kgf": "kgf",
    "kg": "kg",
    "lb": "lb",
    "oz": "oz",
    "t": "tonne",
    "m/min": "m/min",
    "ft/min": "ft/min",
    "Nm": "N*m",
    "ftlbf": "ft*lbf",
    "inlbf": "inch*lbf",
    "kW": "kW",
    "hp": "hp",
    "PS": "metric_horsepower",
    "deg": "degree",
    "N/um": "N/um",
    "lbf/in": "lbf/inch",
    "in2": "inch**2",
    "rpm": "revolutions_per_minute",
    "rad/s": "rad/s",
}
_PINT_CORE = {
    "length": "mm",
    "area": "mm**2",
    "pressure": "MPa",
    "force": "N",
    "mass": "kg",
    "surface_speed": "m/min",
    "torque": "N*mm",
    "angle": "rad",
    "stiffness": "N/mm",
    "power": "W",
    "speed_rpm": "revolutions_per_minute",
}


def test_the_tables_agree_with_pint():
    registry = pint.UnitRegistry()
    compared = 0
    for kind, core in _PINT_CORE.items():
        for unit, factor in KINDS[kind].units.items():
            if unit in _PINT_WORDS and not (kind == "force" and unit == "lb"):
                expected = registry.Quantity(1.0, _PINT_WORDS[unit]).to(core).magnitude
                assert float(factor) == pytest.approx(expected, rel=1e-9), (kind, unit)
                compared += 1
    assert compared == 37


REFUSED = [
    ("1,500 mm", "length", r'can be read in two ways; write "1500 mm" or "1.5 mm"'),
    ("2,500", "force", r'write "2500" or "2.5"'),
    ("1,2,3", "length", "do not make one number"),
    ("18,", "length", "do not make one number"),
    ("0,500.5", "length", "do not make one number"),
    ("", "length", "expected length"),
    ("nan", "length", "expected length"),
    ("inf", "pressure", "expected pressure"),
    ("1e999", "length", "finite"),
    ("1e-400", "length", "too small"),
    ("1e15 m", "length", "too large"),
    ("0x10", "length", "not a unit of length"),
    ("1 2 mm", "length", "not a unit of length"),
    ("１２ mm", "length", "digits 0 to 9"),
    ("1/0 in", "length", "over 0"),
    ("5\x00 mm", "length", "expected length"),
    ("12 kN", "pressure", "is a force, not a pressure"),
    ("12 kN", "length", "is a force, not a length"),
    ("5 kg", "force", 'a mass, not a force; as a force write "kgf"'),
    ("5 foo", "pressure", '"foo" is not a unit of pressure; known are bar, psi'),
    ("5 furlong", "pressure", "is not a pressure"),
    ("7 m**9", "pressure", "not a unit of pressure"),
    ("10 mm/min", "feed", "not a unit of feed"),
    ("0.3 mm", "ratio", "is a length, not a plain number"),
    ("Ø30", "force", "diameter sign"),
    (True, "length", "found true; expected length"),
    (None, "length", "found nothing"),
    ([1, 2], "length", "a list of 2"),
    (float("nan"), "length", "finite"),
    (float("inf"), "length", "finite"),
    (10**400, "length", "too large"),
    (1e300, "length", "too large"),
]


@pytest.mark.parametrize(("typed", "kind", "message"), REFUSED)
def test_what_is_no_such_quantity_is_refused_with_one_sentence(typed, kind, message):
    with pytest.raises(InputError, match=re.escape(message) if '"' in message else message) as caught:
        parse_quantity(typed, kind)
    assert len(caught.value.problems) == 1
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("value", "kind", "metric", "inch"),
    [
        (2.5, "pressure", "25.0 bar", "363 psi"),
        (0.425, "pressure", "4.25 bar", "61.6 psi"),
        (97.55, "length", "97.550 mm", "3.8406 in"),
        (0.254, "length", "0.254 mm", ".0100 in"),
        (-0.254, "length", "-0.254 mm", "-.0100 in"),
        (0.0213, "length", "0.021 mm", ".00084 in"),
        (0.0004, "length", "0.00040 mm", ".000016 in"),
        (0.0, "length", "0.000 mm", ".0000 in"),
        (12345.0, "force", "12.3 kN", "2775 lbf"),
        (350.0, "force", "350 N", "78.7 lbf"),
        (9996.0, "force", "10.0 kN", "2247 lbf"),
        (123456.0, "force", "123 kN", "27754 lbf"),
        (0.0, "force", "0 N", "0 lbf"),
        (1.9, "mass", "1.90 kg", "4.19 lb"),
        (2499.6, "speed_rpm", "2500 rev/min", "2500 rev/min"),
        (152.4, "surface_speed", "152 m/min", "500 ft/min"),
        (0.254, "feed", "0.254 mm/rev", ".0100 in/rev"),
        (14500.0, "area", "14500 mm²", "22.5 in²"),
        (110_000.0, "torque", "110 N m", "81.1 ft lbf"),
        (0.07, "ratio", "0.0700", "0.0700"),
    ],
)
def test_output_has_three_figures_and_loses_no_digit_before_the_point(value, kind, metric, inch):
    assert format_quantity(value, kind) == metric
    assert format_quantity(value, kind, "inch") == inch


def test_both_units_are_echoed_once_each():
    assert format_both(2.5, "pressure") == "25.0 bar (363 psi)"
    assert format_both(2.5, "pressure", "inch") == "363 psi (25.0 bar)"
    assert format_both(2500.0, "speed_rpm") == "2500 rev/min"


def test_output_in_the_unit_of_a_gauge():
    assert format_quantity(2.5, "pressure", unit="kgf/cm2") == "25.5 kgf/cm²"
    assert format_quantity(2.5, "pressure", unit="MPa", figures=2) == "2.5 MPa"


def test_spelling_keeps_every_typed_figure():
    assert spell_quantity(parse_quantity("97.5512 mm", "length"), "length") == "97.5512 mm"
    assert spell_quantity(0.254, "length", "inch") == "0.01 in"
    assert spell_quantity(43_000.0, "force") == "43000 N"
    assert spell_quantity(0.3, "ratio") == "0.3"


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_unit_goes_to_core_and_back(kind):
    for unit in KINDS[kind].units:
        if unit:
            assert from_core(to_core(7.25, kind, unit), kind, unit) == pytest.approx(7.25, rel=1e-12)
            assert to_core(0.0, kind, unit) == 0.0


def test_a_value_of_another_system_is_written_so_that_it_comes_back_exactly():
    assert file_value(1.8, "pressure", "metric") == 18
    assert parse_quantity(file_value(97.55, "length", "inch"), "length", "inch") == 97.55
    assert file_value(0.254, "length", "inch") == 0.01


def test_pint_is_only_loaded_for_unusual_units():
    code = (
        "import sys; from heldtrue.quantities import parse_quantity as p;"
        "p('18 bar','pressure'); p('80 ft-lb','torque'); p('0.010 in','length');"
        "assert 'pint' not in sys.modules; p('1 yd','length'); assert 'pint' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_bare_units():
    assert (bare_unit("pressure", "metric"), bare_unit("pressure", "inch")) == ("bar", "psi")


@pytest.mark.parametrize(("typed", "named"), [
    ("26", False), ("2.6e1", False), ("2,6 E1", False), ("1e-3", False), ("26 psi", True), ("2.6e1 psi", True),
    ("3/8\"", True), ("30°", True), ("5 %", True), ("1e", True), ("12 mm", True), ("", False),
])  # fmt: skip
def test_a_unit_is_letters_or_a_sign_and_no_exponent(typed, named):
    assert names_unit(typed) is named

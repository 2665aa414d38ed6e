"""Readings from files and typed: any separator, decimal comma, units in the header, errors with row and column."""

from math import pi, radians

import numpy as np
import pytest

from heldtrue.errors import InputError
from heldtrue.inspection.readings import read_readings, trace, typed_readings
from heldtrue.inspection.table import column

ANGLES = range(0, 360, 60)


def rows(line, head):
    return head + "\n" + "\n".join(line.format(a=a, n=n) for n, a in enumerate(ANGLES))


@pytest.mark.parametrize("text", [
    rows("{a},0.00{n}", "angle_deg,reading_mm"),
    rows("0.00{n},{a}", "reading_mm,angle_deg"),
    rows("{a};0,00{n}", "angle_deg;reading_mm"),
    rows("{a}\t0,00{n}", "Angle (deg)\tReading [mm]"),
    rows("{a},{n}", "angle_deg,reading_um"),
    rows("{a};{n},0", "angle;reading [µm]"),
    rows("{a} 0.00{n}", "angle reading"),
    rows('{a},"0,00{n}"', "angle_deg,reading_mm"),
    rows("{a} 0.00{n}", "# taken after lunch\n"),
    rows("{a};x;0,00{n}", "at;who;dial_mm"),
    "\ufeff" + rows("{a},0.00{n}\n", "angle_deg,reading_mm"),
])  # fmt: skip
def test_the_same_readings_in_every_dress(text):
    (found,) = read_readings(text)
    assert found.angle == pytest.approx(np.radians(ANGLES))
    assert found.reading == pytest.approx(np.arange(6) / 1000)
    assert found.state == "not said"


def test_thou_and_inch():
    (found,) = read_readings(rows("{a},{n}", "angle_deg,reading_thou"))
    assert found.reading == pytest.approx(np.arange(6) * 0.0254)
    (bare,) = read_readings(rows("{a},.00{n}", "angle,reading"), units="inch")
    assert bare.reading == pytest.approx(np.arange(6) * 0.0254)


def test_radians():
    (found,) = read_readings("angle_rad,reading_um\n0,1\n1,2\n2,3\n3,4\n4,5\n5,6")
    assert found.angle == pytest.approx(np.arange(6))


def test_jaws_in_place_of_angles():
    (found,) = read_readings("angle,reading_um\njaw 1,1\n60,2\nJaw 2,3\n180,4\njaw_3,5\n300,6")
    assert found.angle == pytest.approx(np.radians(ANGLES))
    with pytest.raises(InputError, match='row 2: found "jaw 4"; expected jaw 1 to jaw 3'):
        read_readings("angle,reading_um\njaw 4,1\n60,2\n120,3\n180,4\n240,5\n300,6")


def test_rows_are_parted_by_state_and_turn():
    body = [
        f"{a},{n},{state},{turn}"
        for state, turn in (("clamped", 0), ("clamped", 180), ("free", 0))
        for n, a in enumerate(ANGLES)
    ]
    found = read_readings("angle_deg,reading_um,state,turned_deg\n" + "\n".join(body))
    assert [(t.state, t.turned) for t in found] == [("clamped", 0.0), ("clamped", pytest.approx(pi)), ("free", 0.0)]
    assert all(t.angle.size == 6 for t in found)


def test_planes():
    body = [f"{a},{n},{z}" for z in (5, 40) for n, a in enumerate(ANGLES)]
    (found,) = read_readings("angle_deg,reading_um,z_mm\n" + "\n".join(body))
    assert found.planes == (5.0, 40.0)


@pytest.mark.parametrize(("text", "words"), [
    ("", "found no readings"),
    ("angle_deg,reading_mm", "a header and no rows"),
    ("angle_deg,size\n0,1", "no column for reading among: angle_deg, size"),
    (rows("{a},0.00{n}", "angle_deg,reading_mm").replace("0.003", "o.003"),
     'row 5, column "reading_mm": found "o.003"; expected a number'),
    ("# x\n\n" + rows("{a},0.00{n}", "angle_deg,reading_mm").replace("0.003", ""),
     'row 7, column "reading_mm": found ""; expected a number'),
    (rows("{a},0,00{n}", "angle_deg,reading_mm"), "row 2: found 3 cells, the first row has 2; with decimal commas"),
    (rows("{a},{n}", "angle_deg,reading_kg"), "no column for reading"),
    (rows("{a},{n}", "angle_deg,reading [kg]"), "is not a unit|is a mass, not a length"),
    (rows("{a},{n},loose", "angle_deg,reading_um,state"),
     'row 2, column "state": found "loose"; expected clamped, free or spindle'),
    ("angle_deg,reading_um\n0,1\n60,2", "found 2 readings; at least 6"),
    (rows("{a};0,00{n}", "angle;reading").replace("0,003", '"0,003'),
     "row 5: a quotation mark is opened and not closed"),
    ("1 2 3 4 5\n", "5 figures and no header"),
])  # fmt: skip
def test_errors_name_row_and_column(text, words):
    with pytest.raises(InputError, match=words):
        read_readings(text)


def test_many_wrong_cells_are_counted():
    with pytest.raises(InputError) as error:
        read_readings("angle_deg,reading_mm\n" + "1,x\n" * 9)
    assert len(error.value.problems) == 6
    assert error.value.problems[-1] == "and 4 more cells like that"


def test_typed():
    bare = typed_readings("5 7; 4,5 −2 0 3", "um")
    assert bare.angle == pytest.approx(np.radians(ANGLES))
    assert bare.reading == pytest.approx(np.array([5, 7, 4.5, -2, 0, 3]) / 1000)
    pairs = typed_readings("0:5 90:7 jaw2:4 jaw 3:-2 270:0 300:3", "thou")
    assert pairs.angle == pytest.approx(np.radians([0, 90, 120, 240, 270, 300]))
    assert pairs.reading[1] == pytest.approx(7 * 0.0254)


@pytest.mark.parametrize(("text", "words"), [
    ("1 2 x 4 5 6", 'reading 3: found "x"'), ("0:1 2 3 4 5 6", "reading 2: has no angle"),
    ("a:1 2:2 3:3 4:4 5:5 6:6", 'reading 1: found "a"; expected an angle'), ("", "found 0 readings"),
])  # fmt: skip
def test_typing_errors_count_the_readings(text, words):
    with pytest.raises(InputError, match=words):
        typed_readings(text)


def test_arrays_are_checked():
    angle = np.radians(ANGLES)
    with pytest.raises(InputError, match="one row each"):
        trace(angle, angle[:5])
    with pytest.raises(InputError, match="finite"):
        trace(angle, angle * np.nan)
    with pytest.raises(InputError, match="outside, inside or face"):
        trace(angle, angle, side="top")
    assert trace(angle, angle, side="inside").deviation == pytest.approx(-angle)
    assert trace(angle, angle, turned=radians(30)).turned == pytest.approx(pi / 6)


@pytest.mark.parametrize(("header", "name", "unit"), [
    ("reading_um", "reading", "um"), ("OD [mm]", "od", "mm"), ("bore size (in)", "bore_size", "in"), ("deg", "deg", ""),
    ("Run-out thou", "run-out", "thou"), ("linden", "linden", ""),
])  # fmt: skip
def test_headers(header, name, unit):
    found = column(header)
    assert (found.name, found.unit) == (name, unit)


@pytest.mark.parametrize(("header", "pressures"), [
    ("pressure_bar", [2.0, 1.0, None]), ("pressure [MPa]", [20.0, 10.0, None]), ("pressure", [2.0, 1.0, None]),
])  # fmt: skip
def test_traces_are_parted_by_the_pressure_they_were_clamped_at(header, pressures):
    rows = [f"{30 * i},{i},{state}" for state in ("clamped,20", "clamped,10", "free,") for i in range(12)]
    found = read_readings("\n".join((f"angle_deg,reading_um,state,{header}", *rows)))
    assert [t.pressure for t in found] == [None if p is None else pytest.approx(p) for p in pressures]
    with pytest.raises(InputError, match='column "pressure": found "-5"'):
        read_readings("\n".join(("angle_deg,reading_um,pressure", *(f"{30 * i},{i},-5" for i in range(12)))))


def test_a_test_bar_is_no_reading_of_the_part():
    rows = [f"{30 * i},{i},spindle" for i in range(12)]
    (bar,) = read_readings("\n".join(("angle_deg,reading_um,state", *rows)))
    assert bar.state == "spindle"

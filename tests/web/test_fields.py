import pytest

from heldtrue.web.fields import Field, echo, get, put, shown, typed_value, understood, unit_of

TABLE = {
    "units": "metric",
    "grip": {"diameter": 140, "z": {"value": [2, 14], "from": "drawing"}},
    "part": {"profile": [[140, 0], [166, 24.5]], "mass": {"value": "1.8 kg", "from": "measured"}},
    "cut": [{"name": "one", "finishing": True}],
}
LENGTH = Field("grip.diameter", "Ø", "length")


def test_get_goes_through_lists_and_sources():
    assert get(TABLE, "grip.z.1") == 14
    assert get(TABLE, "part.profile.1.1") == 24.5
    assert get(TABLE, "part.profile.7.1") is None
    assert get(TABLE, "run.pressure") is None


def test_put_makes_what_is_missing_and_leaves_the_old_table_alone():
    changed = put(put(TABLE, "run.pressure", "18 bar"), "grip.diameter_tolerance.1", "0,04")
    assert changed["run"] == {"pressure": "18 bar"}
    assert changed["grip"]["diameter_tolerance"] == [0, "0,04"]
    assert "run" not in TABLE
    assert "diameter_tolerance" not in TABLE["grip"]


def test_a_changed_value_loses_where_it_came_from():
    assert put(TABLE, "grip.z.0", "3")["grip"]["z"] == ["3", {"value": 14, "from": "drawing"}], "the other keeps it"
    assert put(TABLE, "part.mass", "2 kg")["part"]["mass"] == "2 kg"


def test_none_takes_away():
    assert "mass" not in put(TABLE, "part.mass", None)["part"]
    assert put(TABLE, "part.profile.0", None)["part"]["profile"] == [[166, 24.5]]


def test_typed_text_is_not_parsed_here():
    assert typed_value(LENGTH, " 1,5 mm ") == "1,5 mm"
    assert typed_value(LENGTH, "  ") is None
    assert typed_value(Field("jaws.count", "Jaws", "whole"), "6") == 6
    assert typed_value(Field("cut.0.finishing", "Finishing?", "yes"), "no") is False


def test_shown_as_typed():
    assert shown(Field("part.mass", "Mass", "mass"), TABLE) == "1.8 kg"
    assert shown(Field("cut.0.finishing", "Finishing?", "yes"), TABLE) == "yes"
    assert shown(Field("part.profile.1.1", "z", "length"), TABLE) == "24.5"


@pytest.mark.parametrize(("text", "unit"), [("140", "mm"), ("", "mm"), ("5.5 in", ""), ('5.5"', "")])
def test_the_unit_in_the_box_is_that_of_a_bare_number(text, unit):
    assert unit_of(LENGTH, text, "metric") == unit


def test_echo_says_both_units_and_is_silent_about_what_it_cannot_read():
    pressure = Field("run.pressure", "Pressure", "pressure")
    assert echo(pressure, "25", "metric") == "25.0 bar = 363 psi"
    assert echo(pressure, "1,5", "metric") == "1.50 bar = 21.8 psi"
    assert echo(pressure, "much", "metric") == ""
    assert echo(pressure, "", "metric") == ""


def test_what_a_name_of_a_material_was_understood_as_is_said():
    field = Field("part.material", "Material")
    assert understood(field, "AISI 4140") == "42CrMo4: 42CrMo4 quenched and tempered"
    assert understood(field, "steel") == ""
    assert understood(field, "42CrMo4 quenched and tempered") == ""
    assert understood(Field("jaws.material", "Material"), "1018") == "C15: C15 mild steel"
    assert understood(LENGTH, "4140") == ""

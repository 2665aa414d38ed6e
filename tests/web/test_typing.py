"""Typing: nothing of anybody is lost, a gauge keeps its unit, a value says where it came from."""

import tomllib
from pathlib import Path

import pytest

from heldtrue.errors import InputError
from heldtrue.planning.setup import Setup
from heldtrue.planning.toml_text import toml_of
from heldtrue.web import drafts as module
from heldtrue.web.drafts import Drafts
from heldtrue.web.fields import field_at, get, put, shown, source_of, units_of
from heldtrue.web.sources import blank_setup, open_example
from heldtrue.web.write_file import setup_toml
from web.in_process import EXAMPLES

PRESSURE = field_at("run.pressure", "Pressure")
GAUGE = field_at("chuck.actuator.gauge", "Gauge")
MASS = field_at("part.mass", "Mass")


@pytest.fixture(autouse=True)
def every_change_alone(monkeypatch):
    monkeypatch.setattr(module, "ONE_TYPING", 0.0)


@pytest.fixture
def ring(tmp_path):
    return Drafts(tmp_path / "drafts").new("wear-ring", open_example(EXAMPLES, "wear-ring"))


@pytest.mark.parametrize(("gauge", "typed", "mpa"), [
    ("psi", "250", 1.7236893), ("MPa", "1,8", 1.8), ("kgf/cm2", "18", 1.7651970), ("bar", "18", 1.8),
    ("psi", "18 bar", 1.8),
])  # fmt: skip
def test_a_bare_pressure_is_in_the_unit_of_the_gauge_and_stays_that_pressure(ring, gauge, typed, mpa):
    ring.edit(GAUGE, gauge)
    ring.edit(PRESSURE, typed)
    assert ring.text(PRESSURE) == typed
    assert ring.setup().run.pressure == pytest.approx(mpa)
    ring.edit(GAUGE, "MPa" if gauge != "MPa" else "psi")
    assert ring.setup().run.pressure == pytest.approx(mpa), "another gauge makes no other pressure"
    assert ring.text(PRESSURE) != typed or " " in typed, "the unit it was typed in is now written out"


def test_a_pressure_that_waits_keeps_its_unit_too(ring):
    ring.edit(GAUGE, "psi")
    ring.edit(PRESSURE, "9000")
    assert ring.pending == {"run.pressure": "9000 psi"}
    assert ring.text(PRESSURE) == "9000"
    ring.edit(GAUGE, "bar")
    assert ring.text(PRESSURE) == "9000 psi"


def test_a_bare_number_of_a_file_is_shown_with_its_unit_at_another_gauge():
    table = put(put({"units": "metric"}, "run.pressure", 18), "chuck.actuator.gauge", "psi")
    assert shown(PRESSURE, table) == "18 bar"
    assert units_of(table).gauge == "psi"


def test_where_a_value_came_from_is_kept_undone_and_reset_by_typing(ring):
    ring.edit(MASS, "1,9")
    ring.set_source(MASS, "measured")
    assert ring.setup().source("part.mass") == "measured"
    ring.undo()
    assert ring.setup().source("part.mass") == "stated"
    ring.set_source(MASS, "plate")
    ring.edit(MASS, "2")
    assert ring.setup().source("part.mass") == "stated"


def test_a_value_typed_into_a_table_off_the_plate_is_stated_all_the_same(ring):
    ring.table = put(ring.table, "chuck.from", "plate")
    ring.edit(field_at("chuck.swing", "Swing"), "400")
    assert source_of(ring.table, "chuck.swing") == "stated"
    assert ring.setup().source("chuck.swing") == "stated"


def test_there_is_no_source_without_a_value(ring):
    with pytest.raises(InputError, match="type a value first"):
        ring.set_source(PRESSURE, "measured")


def test_what_waits_at_a_corner_goes_with_its_corner(ring):
    corners = get(ring.table, "part.profile")
    ring.edit(field_at("part.profile.3.0", "Ø"), "nonsense")
    ring.change({"part.profile": [*corners[:1], [150, 0], *corners[1:]]}, "added")
    assert ring.pending == {"part.profile.4.0": "nonsense"}
    ring.undo()
    assert ring.pending == {"part.profile.3.0": "nonsense"}


def test_an_emptied_end_of_a_length_does_not_become_the_other_end(ring):
    low = field_at("grip.z.0", "from z")
    before = get(ring.table, "grip.z")
    ring.table = put(ring.table, "grip.z.0", None)
    assert get(ring.table, "grip.z") == [None, before[1]]
    assert shown(low, ring.table) == ""


@pytest.mark.parametrize(
    "text", ["NaN", "inf", "1e400", "abc", "1 2 3", "140\t0\n166\t0", "--5", "9" * 390, "٣", "<b>"]
)
def test_what_is_no_length_is_kept_as_typed_and_said(ring, text):
    field = field_at("grip.diameter", "Ø")
    before = ring.setup()
    ring.edit(field, text)
    assert ring.pending == {"grip.diameter": text}
    assert ring.problems["grip.diameter"]
    assert ring.setup() == before


def test_letters_in_a_whole_number_are_said(ring):
    field = field_at("part.quantity", "How many")
    for text in ("ten", "1e3", "5,5", "99999999999999999999"):
        ring.edit(field, text)
        assert ring.pending == {"part.quantity": text}, text


def test_several_values_in_one_field(ring):
    holes = field_at("jaws.holes", "Bolt holes")
    ring.edit(holes, "20; 45,5;60 mm")
    assert get(ring.table, "jaws.holes") == ["20", "45,5", "60 mm"]
    assert ring.setup().jaws.holes == (20.0, 45.5, 60.0)
    assert ring.text(holes) == "20; 45,5;60 mm", "as it was typed"


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_a_saved_file_gives_the_same_setup_back(path):
    setup = Setup.from_toml(Path(path))
    assert Setup.from_dict(tomllib.loads(toml_of(setup.to_dict()))) == setup


def test_words_with_every_sign_survive_a_file(ring):
    for title in ('a "b" \\ c', "x = [1] # no", "Ø 40 √ 'q'", "tab\there"):
        written = toml_of({"title": title})
        assert tomllib.loads(written) == {"title": title}


def test_an_unfinished_setup_is_no_file(tmp_path):
    draft = Drafts(tmp_path).new("a", blank_setup("inch"))
    with pytest.raises(InputError):
        setup_toml(draft)


def test_a_template_that_was_handed_over_is_read_from_its_own_folder_only(ring):
    ring.table = put(ring.table, "boring.template", "template.toml")
    with pytest.raises(InputError, match="template"):
        ring.setup()
    ring.has_template = True
    assert ring.setup().boring.template == "template.toml"
    ring.table = put(ring.table, "boring.template", "../../template.toml")
    with pytest.raises(InputError, match="template"):
        ring.setup()

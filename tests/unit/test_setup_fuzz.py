"""Whatever comes in, only a setup or an ``InputError`` comes out; and units survive the round trip."""

import copy
import tomllib
from math import nextafter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from heldtrue.errors import InputError
from heldtrue.planning.setup import Setup
from heldtrue.planning.toml_file import parse_toml
from heldtrue.quantities import (
    KINDS,
    file_value,
    format_both,
    from_core,
    parse_quantity,
    spell_quantity,
    to_core,
)

EXAMPLES = Path(__file__).parents[2] / "examples"
TEXTS = {path.stem: path.read_bytes() for path in sorted(EXAMPLES.glob("*.toml"))}
CALM = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])

kinds = st.sampled_from(sorted(KINDS))
systems = st.sampled_from(["metric", "inch"])
odd_values = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=30),
    st.sampled_from(["18 bar", "1,5 mm", "1,500", "-3 in", "nan", "12 kN", "face", "outside", "Ø40", "", "5 zz"]),
    st.lists(st.one_of(st.floats(), st.integers(), st.text(max_size=5)), max_size=4),
    st.dictionaries(st.sampled_from(["value", "from", "diameter", "z", "name", "x"]), st.integers(), max_size=3),
    st.just({"value": {"value": 3}}),
    st.just({"value": 3, "from": "measured"}),
    st.just([[0, 0], [10, 0], [10, 10]]),
)


def outcome(read):
    """The setup, or ``None`` for an ``InputError`` with at least one sentence; anything else escapes."""
    try:
        setup = read()
    except InputError as error:
        problems = error.problems
    else:
        assert isinstance(setup, Setup)
        return setup
    assert problems
    assert all(isinstance(problem, str) and problem.strip() for problem in problems)
    return None


def places(table, path=()):
    """The path of every value in a nested table."""
    items = table.items() if isinstance(table, dict) else enumerate(table) if isinstance(table, list) else ()
    for key, value in items:
        yield (*path, key)
        yield from places(value, (*path, key))


def put(table, path, value, *, remove=False):
    for step in path[:-1]:
        table = table[step]
    if remove:
        del table[path[-1]]
    else:
        table[path[-1]] = value


@CALM
@given(st.binary(max_size=300))
def test_random_bytes(content):
    outcome(lambda: Setup.from_dict(parse_toml(content), base_dir=EXAMPLES))


@CALM
@given(st.sampled_from(sorted(TEXTS)), st.data())
def test_an_example_with_damaged_text(name, data):
    text = bytearray(TEXTS[name])
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text) - 1))
        length = data.draw(st.integers(0, 12))
        text[at : at + length] = data.draw(
            st.one_of(st.binary(max_size=4), st.sampled_from([b"e9", b"-", b"[", b"\n"]))
        )
    outcome(lambda: Setup.from_dict(parse_toml(bytes(text)), base_dir=EXAMPLES))


@settings(CALM, max_examples=60)
@given(st.sampled_from(sorted(TEXTS)), st.data())
def test_an_example_with_values_replaced_or_removed(name, data):
    table = tomllib.loads(TEXTS[name].decode())
    for _ in range(data.draw(st.integers(1, 3))):
        path = data.draw(st.sampled_from(list(places(table))))
        put(table, path, copy.deepcopy(data.draw(odd_values)), remove=data.draw(st.booleans()))
        assume(table)
    setup = outcome(lambda: Setup.from_dict(table, base_dir=EXAMPLES))
    if setup is not None:
        assert Setup.from_dict(setup.to_dict()) == setup


@settings(CALM, max_examples=80)
@given(st.sampled_from(sorted(TEXTS)), st.floats(0.0, 4.0), st.data())
def test_an_example_with_a_number_scaled(name, factor, data):
    """Numbers that stay numbers get furthest into the checks."""
    table = tomllib.loads(TEXTS[name].decode())
    numbers = []
    for path in places(table):
        value = table
        for step in path:
            value = value[step]
        if isinstance(value, int | float) and not isinstance(value, bool):
            numbers.append((path, value))
    for path, value in data.draw(st.lists(st.sampled_from(numbers), min_size=1, max_size=3)):
        put(table, path, data.draw(st.sampled_from([value * factor, -value, 0, 0.0, value / 25.4, 1e14])))
    setup = outcome(lambda: Setup.from_dict(table, base_dir=EXAMPLES))
    if setup is not None:
        assert Setup.from_dict(setup.to_dict()) == setup


@settings(CALM, max_examples=80)
@given(st.data())
def test_any_change_of_any_field(data):
    setup = Setup.from_dict(tomllib.loads(TEXTS["wear-ring"].decode()), base_dir=EXAMPLES)
    path = data.draw(
        st.one_of(
            st.sampled_from([".".join(map(str, path)) for path in places(setup.model_dump())]),
            st.text("abc.01_ ", max_size=12),
        )
    )
    changed = outcome(lambda: setup.with_({path: data.draw(odd_values)}))
    if changed is not None:
        assert Setup.from_dict(changed.to_dict()) == changed


@settings(CALM, max_examples=120)
@given(
    st.one_of(st.text(max_size=25), st.from_regex(r"\A[0-9., eE+'-]{1,12} ?[a-zA-Z0-9/*^µ²·\" %-]{0,12}\Z")),
    kinds,
    systems,
)
def test_any_text_is_a_finite_quantity_or_refused(text, kind, system):
    try:
        value = parse_quantity(text, kind, system)
    except InputError as error:
        value = error
    if isinstance(value, InputError):
        assert len(value.problems) == 1
    else:
        assert isinstance(value, float)
        assert abs(value) < 1e16


@settings(CALM, max_examples=80)
@given(st.floats(1e-6, 1e8), kinds, systems)
def test_a_core_value_is_written_and_read_without_any_loss(value, kind, system):
    written = file_value(value, kind, system)
    assert parse_quantity(written, kind, system) == value


@CALM
@given(st.floats(1e-4, 1e6), kinds, systems)
def test_a_typed_number_comes_back_as_the_same_number(typed, kind, system):
    core = parse_quantity(typed, kind, system)
    assert isinstance(file_value(core, kind, system), int | float)
    assert parse_quantity(file_value(core, kind, system), kind, system) == core


@CALM
@given(st.floats(-1e6, 1e6), st.data())
def test_units_go_to_core_and_back(number, data):
    kind = data.draw(kinds)
    unit = data.draw(st.sampled_from(sorted(KINDS[kind].units)))
    back = from_core(to_core(number, kind, unit), kind, unit) if unit else number
    assert back == pytest.approx(number, rel=1e-12, abs=1e-300)


@CALM
@given(st.floats(-1e9, 1e9), kinds, systems)
def test_what_is_shown_is_close_to_what_is_meant(value, kind, system):
    assume(value == 0 or abs(value) > 1e-6)
    shown = spell_quantity(value, kind, system)
    assert parse_quantity(shown, kind, system) == pytest.approx(value, rel=1e-6)
    assert format_both(value, kind, system)


@CALM
@given(st.integers(1, 999), st.integers(0, 999))
def test_a_comma_before_three_digits_is_never_guessed(whole, places):
    with pytest.raises(InputError, match="two ways"):
        parse_quantity(f"{whole},{places:03d} mm", "length")
    assert parse_quantity(f"{whole},{places:03d}0 mm", "length") == pytest.approx(whole + places / 1000, rel=1e-12)


def test_the_damage_in_these_tests_can_be_seen():
    """A setup that differs by the last bit is a different setup, so the comparisons above mean something."""
    setup = Setup.from_dict(tomllib.loads(TEXTS["wear-ring"].decode()), base_dir=EXAMPLES)
    table = copy.deepcopy(setup.to_dict())
    table["part"]["mass"]["value"] = f"{nextafter(1.8, 2.0)!r} kg"
    assert Setup.from_dict(table) != setup

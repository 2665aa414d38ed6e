"""Torque and preload of jaw bolts."""

import pytest

from heldtrue.errors import InputError
from heldtrue.tooling.bolts import FRICTION, SIZES, assembly, table, tightening


def test_the_printed_torque_is_set_where_it_is_the_lower():
    found = tightening("M12", "12.9")
    assert found.torque == 110e3
    assert "read" in found.source
    assert found.yields_at == pytest.approx(126e3, rel=0.03)


def test_a_weaker_bolt_is_set_by_its_own_yield():
    found = tightening("M12", "8.8")
    assert found.torque == pytest.approx(assembly("M12", "8.8", FRICTION[0]).torque, rel=1e-12)
    assert found.torque < 110e3


def test_preload_is_bracketed_by_friction_and_never_past_ninety_percent_of_yield():
    for one in table():
        low, high = one.preload
        assert 0 < low < high
        assert high <= assembly(one.bolt, one.bolt_class, FRICTION[0]).preload * (1 + 1e-9)
        assert one.torque <= one.yields_at * (1 + 1e-9)


def test_torque_grows_with_size_and_class():
    by = {(one.bolt, one.bolt_class): one.torque for one in table()}
    sizes = [name for name in SIZES if name.startswith("M")]
    for grade in ("8.8", "10.9", "12.9"):
        torques = [by[size, grade] for size in sizes]
        assert torques == sorted(torques)
    for size in sizes:
        assert by[size, "8.8"] <= by[size, "10.9"] <= by[size, "12.9"]


def test_inch_bolts_stand_between_their_metric_neighbours():
    by = {(one.bolt, one.bolt_class): one.torque for one in table()}
    assert by["M12", "10.9"] < by["1/2-13", "A574"] < by["M16", "12.9"]
    assert by["M16", "10.9"] * 0.8 < by["5/8-11", "A574"] < by["M20", "12.9"]


@pytest.mark.parametrize(("size", "grade"), [("M13", "12.9"), ("M12", "4.6")])
def test_what_is_not_known_is_refused_with_what_is(size, grade):
    with pytest.raises(InputError, match="known are"):
        tightening(size, grade)

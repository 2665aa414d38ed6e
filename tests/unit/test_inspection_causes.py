"""Causes of run-out: each found from readings that show it, and not from readings that cannot."""

from math import degrees, pi, radians

import numpy as np
import pytest

from heldtrue.errors import InputError
from heldtrue.inspection.causes import CANNOT_TELL, NOTHING, jaw_high, rank_causes, turn_by
from heldtrue.inspection.indicator import read_indicator
from heldtrue.inspection.readings import trace

PLACES = 2 * pi * np.arange(12) / 12
DIAL = 0.001


class Shop:
    """A part in jaws with known faults, read by an indicator that scatters and shows whole divisions.

    Vectors are amplitude exp(i phase) [mm]; ``tilt`` [rad] as a vector; the lobe of the clamp is there while clamped.
    """

    def __init__(self, rng, jaws=3):
        self.rng, self.jaws = rng, jaws
        self.chuck = self.part = self.tilt = self.clamp = self.cut = 0.0
        self.noise, self.gross, self.side = 0.0005, 0.0, "outside"

    def vector(self, low, high):
        return self.rng.uniform(low, high) * np.exp(1j * self.rng.uniform(-pi, pi))

    def read(self, state="clamped", turned=0.0, planes=(20.0,)):
        angle = np.tile(PLACES, len(planes))
        z = np.repeat(planes, 12)
        held = state == "clamped"
        once = (self.chuck * held + self.part * np.exp(1j * turned)) + self.tilt * z * held
        lobes = self.clamp * held + self.cut * np.exp(1j * self.jaws * turned)
        value = (once * np.exp(-1j * angle) + lobes * np.exp(-1j * self.jaws * angle)).real
        value += self.rng.normal(0.0, self.noise, value.size)
        if self.gross:
            value[self.rng.integers(value.size)] += self.gross
        value = np.round(value / DIAL) * DIAL
        return read_indicator(trace(angle, value, z, self.side, state, turned), jaws=self.jaws, resolution=DIAL)


def one_fault(rng, cause):
    """A shop with this cause and others much smaller."""
    shop = Shop(rng)
    small = 0.0015
    shop.chuck, shop.part, shop.cut = (shop.vector(0.0, small) for _ in range(3))
    if cause == "jaws":
        shop.chuck = shop.vector(0.008, 0.05)
    elif cause == "part":
        shop.part = shop.vector(0.008, 0.05)
    elif cause == "clamp":  # the lobes of a clamp stand at the jaws, high or low
        shop.clamp = rng.choice([-1, 1]) * rng.uniform(0.008, 0.03)
    elif cause == "cut":
        shop.cut = shop.vector(0.008, 0.03)
    elif cause == "seat or chip":
        shop.tilt = shop.vector(0.008, 0.03) / 60.0
    else:
        shop.noise = rng.uniform(0.006, 0.02)
    return shop


def full_set(shop):
    """What a setter can read in a few minutes: two planes, turned once, and free."""
    planes = (10.0, 60.0)
    return [shop.read("clamped", 0.0, planes), shop.read("clamped", turn_by(3), planes), shop.read("free", 0.0, planes)]


CAUSES = ["jaws", "part", "clamp", "cut", "seat or chip", "spindle or measuring"]


@pytest.mark.parametrize("seed", range(5))  # a thousand random causes in all
def test_the_first_cause_of_two_hundred_random_ones_is_right(seed):
    rng = np.random.default_rng(seed)
    told = right = 0
    for _ in range(200):
        cause = rng.choice(CAUSES)
        found = rank_causes(full_set(one_fault(rng, cause)))
        told += found.told
        right += found.told and found.answer == cause
    assert right >= 0.9 * told
    assert told >= 170  # saying "cannot tell" to everything would be right too


def test_of_several_faults_together_the_largest_is_named_or_none():
    rng = np.random.default_rng(30)
    told = right = 0
    for _ in range(300):
        shop, size = Shop(rng), dict(zip(CAUSES[:5], np.exp(rng.uniform(np.log(0.0005), np.log(0.02), 5)), strict=True))
        turn = np.exp(1j * rng.uniform(-pi, pi, 4))
        shop.chuck, shop.part, shop.cut = (size[c] * t for c, t in zip(("jaws", "part", "cut"), turn[:3], strict=True))
        shop.clamp, shop.tilt = size["clamp"], size["seat or chip"] / 60.0 * turn[3]
        found = rank_causes(full_set(shop))
        told += found.told
        right += found.told and found.answer == max(size, key=size.get)
    assert right >= 0.9 * told
    assert told >= 150


@pytest.mark.parametrize("cause", ["jaws", "part"])
def test_one_clamping_cannot_tell_an_offset_of_the_jaws_from_one_of_the_part(cause):
    rng = np.random.default_rng(7)
    for _ in range(40):
        found = rank_causes([one_fault(rng, cause).read()])
        assert found.answer == CANNOT_TELL
        assert not found.told
        assert found.next_test.name == "turn the part"
        assert set(found.next_test.separates) == {"jaws", "part"}
        assert "180°" in found.next_test.how
        assert found.words[0].startswith("cannot tell: jaws or part")


@pytest.mark.parametrize("cause", ["clamp", "cut"])
def test_one_state_cannot_tell_the_clamp_from_the_cut(cause):
    rng = np.random.default_rng(8)
    for _ in range(40):
        shop = one_fault(rng, cause)
        shop.chuck = shop.part = 0.0
        found = rank_causes([shop.read()])
        assert found.answer == CANNOT_TELL
        assert found.next_test.name == "release the part" or cause == "cut"


def test_the_outcomes_of_the_next_test_differ_and_say_what_to_do():
    found = rank_causes([one_fault(np.random.default_rng(1), "jaws").read()])
    (first, says), (second, other) = found.next_test.outcomes
    assert (first, second) == ("jaws", "part")
    assert says.startswith("the high spot stays at the same jaw: clean")
    assert other.startswith("the high spot, or the lobes, go round with the part")


def test_the_test_that_was_done_is_not_asked_for_again():
    rng = np.random.default_rng(2)
    shop = one_fault(rng, "jaws")
    shop.clamp = 0.01
    found = rank_causes([shop.read(), shop.read(turned=turn_by(3))])
    assert found.next_test is None or found.next_test.name != "turn the part"


def test_round_clamped_and_lobed_free_is_the_clamp():
    shop = Shop(np.random.default_rng(3))
    spring = Shop(np.random.default_rng(4))
    spring.cut = 0.012  # cut round while clamped, it springs into three lobes when it is let go
    found = rank_causes([shop.read("clamped"), spring.read("free")])
    assert found.answer == "clamp"
    assert found.causes[0].expected == pytest.approx(0.024, abs=0.002)


def test_a_true_part_has_nothing_to_find():
    shop = Shop(np.random.default_rng(5))
    shop.noise = 0.0002
    found = rank_causes(full_set(shop))
    assert (found.answer, found.causes, found.next_test) == (NOTHING, (), None)


def test_a_gross_error_is_named_and_changes_no_answer():
    rng = np.random.default_rng(6)
    for _ in range(20):
        shop = one_fault(rng, "jaws")
        shop.gross = 0.1
        found = rank_causes([shop.read(), shop.read(turned=pi)])
        assert found.answer == "jaws"
        assert sum("was left out" in words for words in found.words) == 2


def test_one_jaw_that_stands_high_is_named_with_its_height():
    # Three jaws close on a part; jaw 2 stands in by 0.03 mm.  Each jaw touches where c . u_k = closing - d_k.
    height = np.array([0.0, 0.03, 0.0])
    jaw = 2 * pi * np.arange(3) / 3
    touch = np.column_stack((np.cos(jaw), np.sin(jaw), -np.ones(3)))
    x, y, _ = np.linalg.solve(touch, -height)
    found = jaw_high(complex(x, y), 3)
    assert (found.jaw, found.high) == (2, True)
    assert found.by == pytest.approx(0.03)
    low = jaw_high(complex(-x, -y), 3)
    assert (low.jaw, low.high) == (2, False)
    inside = jaw_high(complex(-x, -y), 3, "inside")  # pushing outward, the high jaw pulls the part its own way
    assert (inside.jaw, inside.high) == (2, True)


@pytest.mark.parametrize(("jaws", "turn"), [(2, 90), (3, 180), (4, 135), (5, 180), (6, 150)])
def test_the_turn_moves_offset_and_lobes(jaws, turn):
    assert degrees(turn_by(jaws)) == pytest.approx(turn)
    assert np.exp(1j * jaws * turn_by(jaws)) == pytest.approx(-1.0)


def test_what_turns_goes_round_the_way_the_part_was_turned():
    shop = Shop(np.random.default_rng(10))
    shop.part, shop.cut = 0.02j, 0.01
    found = rank_causes([shop.read(), shop.read(turned=radians(100))])
    assert found.answer == "part"
    assert [c.name for c in found.causes] == ["part", "cut"]


def test_a_part_that_leans_from_the_grip_runs_true_there():
    shop = Shop(np.random.default_rng(11))
    shop.tilt = 4e-4 * np.exp(0.6j)
    planes = (30.0, 70.0)
    found = rank_causes([shop.read(planes=planes), shop.read(turned=pi, planes=planes)])
    assert [c.name for c in found.causes] == ["seat or chip"]
    assert found.causes[0].expected == pytest.approx(2 * 4e-4 * 70, rel=0.1)
    shifted = rank_causes([shop.read(planes=planes), shop.read(turned=pi, planes=planes)], grip_z=-30.0)
    assert {"jaws", "seat or chip"} <= {c.name for c in shifted.causes}


def test_a_face_that_tilts_is_the_seat():
    shop = Shop(np.random.default_rng(9))
    shop.side, shop.chuck = "face", 0.02 + 0.01j
    found = rank_causes([shop.read(), shop.read(turned=radians(120))])
    assert found.answer == "seat or chip"


def test_one_reading_off_the_rest_is_not_nothing():
    value = np.zeros(12)
    assert rank_causes([read_indicator(trace(PLACES, value), jaws=3, resolution=DIAL)]).answer == NOTHING
    value[4] = 0.020
    found = rank_causes([read_indicator(trace(PLACES, value), jaws=3, resolution=DIAL)])
    assert (found.answer, found.told) == (CANNOT_TELL, False)
    assert "1 of the readings stands off the rest by up to 0.020 mm" in found.words[0]
    assert found.words[1] == "reading 5 at 120° is +0.020 mm off the rest and was left out"


def test_wrong_input_is_refused():
    one = Shop(np.random.default_rng(1)).read()
    six = Shop(np.random.default_rng(1), jaws=6).read()
    with pytest.raises(InputError, match="no readings"):
        rank_causes([])
    with pytest.raises(InputError, match="different numbers of jaws"):
        rank_causes([one, six])
    with pytest.raises(InputError, match="outside or inside"):
        rank_causes([one], grip_side="left")

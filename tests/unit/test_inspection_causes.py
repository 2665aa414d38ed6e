"""Causes of run-out: told only where the readings tell them, by parts drawn apart from the program."""

from math import degrees, pi, radians

import numpy as np
import pytest
from conftest import longer
from run_out_world import PLANS, Ask, RunOutWorld, every_other_place, read_all, readings_of

from heldtrue.errors import InputError
from heldtrue.inspection.causes import CANNOT_TELL, NOTHING, jaw_high, rank_causes
from heldtrue.inspection.indicator import read_indicator
from heldtrue.inspection.readings import trace

PLACES = 2 * pi * np.arange(12) / 12
DIAL = 0.001


def results_of(world, readings):
    return [
        read_indicator(
            trace(r.angle, r.value, r.z, "outside", r.ask.state, r.ask.turned,
                  2.0 * r.ask.share if r.ask.state == "clamped" else None),
            jaws=world.jaws, resolution=DIAL,
        )
        for r in readings
    ]  # fmt: skip


def found_of(seed, plan, made="", **more):
    world = RunOutWorld(np.random.default_rng(seed), **more)
    found = rank_causes(results_of(world, readings_of(world, plan)), made=made)
    return world, found


def plain(value, **more):
    """One trace with hardly any noise."""
    seed = int(1000 * more.get("turned", 0.0)) + len(more.get("state", ""))  # no two traces scatter alike
    noise = np.random.default_rng(seed).normal(0, 4e-4, len(value))
    angle = np.tile(PLACES, len(value) // 12)
    return read_indicator(trace(angle, np.round(value + noise, 4), **more), jaws=3)


def wave(size, order=1, high=0.0, angle=PLACES):
    return size * np.cos(order * (angle - high))


# --- what is told is right ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("plan", [
    "turned 108, two planes",
    *longer("two planes", "clamped and free", "turned 180, one plane", "turned 180, two planes",
            "turned 108, half the pressure", "0, 108 and 216, and free"),
])  # fmt: skip
def test_a_cause_that_is_told_is_the_right_one(plan):
    """The whole campaign, 1,000 parts in every plan, is ``bench/causes.py``."""
    wrong = told = 0
    for k in range(12):
        world, found = found_of([3, k], plan)
        truth, _ = world.truth()
        nothing = found.answer == NOTHING and max(world.contribution.values()) <= 0.005
        told += found.told
        wrong += found.told and not nothing and found.answer != truth
    assert wrong == 0
    if "108" in plan:
        assert told >= 4  # saying "cannot tell" to everything would be right too


@pytest.mark.long
def test_most_is_told_by_two_planes_and_a_turn_and_half_the_pressure():
    right = sum(
        found.told and found.answer == world.main
        for cause in ("jaws", "part", "seat or chip")
        for k in range(4)
        for world, found in [found_of([5, k], "turned 108, half the pressure", main=cause, slips=0.0)]
    )
    assert right >= 6


@pytest.mark.parametrize("cause", ["jaws", "part"])
def test_one_clamping_cannot_tell_an_offset_of_the_jaws_from_one_of_the_part(cause):
    for k in range(3):
        _, found = found_of([7, k], "one plane", main=cause)
        assert found.answer == CANNOT_TELL
        assert not found.told
        assert found.words[0].startswith("cannot tell")


def test_an_offset_in_one_plane_may_be_the_seat_however_often_it_is_turned():
    value = wave(0.015, 1, 0.7)
    found = rank_causes([plain(value), plain(value, turned=pi)])
    assert not found.told
    assert set(found.could) >= {"jaws", "seat or chip"}
    assert found.next_test.name == "read a second plane"
    assert {name for name, _ in found.next_test.outcomes} == {"jaws", "seat or chip"}


def test_a_second_plane_tells_jaws_from_seat():
    angle, z = np.tile(PLACES, 2), np.repeat([20.0, 60.0], 12)
    for factor, cause in ((np.ones(24), "jaws"), (z / 60, "seat or chip")):
        value = wave(0.015, 1, 0.7, angle) * factor
        found = rank_causes([plain(value, z=z), plain(value, z=z, turned=radians(108))])
        assert (found.answer, found.told) == (cause, True)
        assert found.causes[0].least <= 0.03 <= found.causes[0].most
        assert found.next_test is None
        assert any("the mark on it must stand there" in words for words in found.words)


def test_lobes_that_turn_may_be_cut_or_brought_along_and_the_setter_may_know():
    angle, z = np.tile(PLACES, 2), np.repeat([20.0, 60.0], 12)
    turn = radians(108)
    both = [plain(wave(0.012, 3, 0.4, angle), z=z), plain(wave(0.012, 3, 0.4 + turn, angle), z=z, turned=turn)]
    found = rank_causes(both)
    assert not found.told
    assert set(found.could) >= {"part", "cut"}
    assert found.next_test.name == "say where it was turned"
    assert rank_causes(both, made="here").answer == "cut"
    assert rank_causes(both, made="before").answer == "part"


def test_lobes_of_the_spindle_are_never_the_clamp_s_because_they_are_gone_when_free():
    """The free reading is taken off the spindle: its lobes go too."""
    for k in range(4):
        world, found = found_of([11, k], "clamped and free", main="spindle or measuring")
        world.faults["spindle or measuring"].waves = [(3, 0.012, 0.0, False)]
        found = rank_causes(results_of(world, readings_of(world, "clamped and free")))
        assert not (found.told and found.answer != "spindle or measuring")


def test_a_test_bar_tells_the_spindle():
    angle, z = np.tile(PLACES, 2), np.repeat([20.0, 60.0], 12)
    value = wave(0.012, 3, 0.0, angle)
    without = rank_causes([plain(value, z=z)])
    assert not without.told
    bar = rank_causes([plain(value, z=z), plain(value, z=z, state="spindle")])
    assert (bar.answer, bar.told) == ("spindle or measuring", True)


def test_half_the_pressure_tells_the_clamp():
    angle, z = np.tile(PLACES, 2), np.repeat([20.0, 60.0], 12)
    turn = radians(108)
    whole = plain(wave(0.012, 3, 0.0, angle), z=z, state="clamped", pressure=2.0)
    for size, name in ((0.006, "clamp"), (0.012, "spindle or measuring")):
        half = plain(wave(size, 3, 0.0, angle), z=z, state="clamped", pressure=1.0, turned=turn)
        found = rank_causes([whole, half])
        assert found.could[0] == name
        assert found.told


# --- more readings never make it worse ------------------------------------------------------------------------------


@pytest.mark.parametrize(("fewer", "more"), [
    pytest.param("turned 180, two planes", "turned 180 and free", marks=pytest.mark.long),
    ("turned 108, two planes", "0, 108 and 216"),
])  # fmt: skip
@pytest.mark.parametrize("worlds", [3, *longer(8)])
def test_a_third_trace_makes_nothing_worse(fewer, more, worlds):
    """Clamping scatters by 2 um and more: nothing that two traces tell rightly is told wrongly by three."""
    for k in range(worlds):
        wrong = []
        for plan in (fewer, more):
            world = RunOutWorld(np.random.default_rng([13, k]))
            world.scatter = 2e-3
            found = rank_causes(results_of(world, readings_of(world, plan)))
            wrong.append(found.told and found.answer not in (world.truth()[0], NOTHING))
        assert wrong == [False, False]


def third_trace(slip):
    """Three traces of a part that has lobes and an offset of its own, in jaws that are off; the second one slips."""
    angle, z = np.tile(PLACES, 2), np.repeat([20.0, 60.0], 12)
    turn = radians(108)

    def reads(turned, backwards=False):
        at = -angle if backwards else angle
        own = wave(0.012, 1, 0.5 + turned, at) + wave(0.004, 2, 1.1 + turned, at) + wave(0.002, 4, 0.2 + turned, at)
        return own + wave(0.006, 1, 2.0, at)

    second = reads(turn, True) if slip == "read the other way round" else reads(0.0) if slip else reads(turn)
    return [plain(reads(0.0), z=z), plain(second, z=z, turned=turn), plain(reads(2 * turn), z=z, turned=2 * turn)]


@pytest.mark.parametrize("slip", ["read the other way round", "not turned"])
def test_a_trace_that_contradicts_is_found_and_asked_about(slip):
    found = rank_causes(third_trace(slip))
    assert not found.told
    assert (found.slip.trace, found.slip.what) == (1, slip)
    assert f"trace 2 contradicts the others; it looks {slip}: was it?" in found.words[0]
    assert found.next_test.how.startswith("read trace 2 again, and look where the mark")
    sound = rank_causes(third_trace(""))
    assert sound.slip is None
    assert (sound.answer, sound.told) == ("part", True)


def test_one_wrong_reading_changes_no_answer():
    angle, z = np.tile(PLACES, 2), np.repeat([20.0, 60.0], 12)
    value = wave(0.015, 1, 0.7, angle)
    for row in (2, 17):
        wrong = value.copy()
        wrong[row] += 0.03
        found = rank_causes([plain(wrong, z=z), plain(value, z=z, turned=radians(108))])
        assert (found.answer, found.told) == ("jaws", True)
        assert any("was left out" in words or "read that place again" in words for words in found.words)


# --- what is said ---------------------------------------------------------------------------------------------------


def test_what_is_there_is_said_before_any_cause():
    found = rank_causes([plain(wave(0.03) + wave(0.012, 3, 0.3))])
    (first, offset), (second, lobes) = found.there
    assert (first, second) == ("offset", "3 lobes")
    assert (offset, lobes) == pytest.approx((0.060, 0.024), abs=5e-4)
    assert "there are 2 errors: offset 0.060 mm, 3 lobes 0.024 mm" in found.words


@pytest.mark.parametrize("worlds", [4, *longer(10)])
def test_a_cause_never_makes_less_than_its_least(worlds):
    for k in range(worlds):
        _, found = found_of([17, k], "turned 108, two planes")
        for cause in found.causes:
            assert cause.least <= cause.expected <= cause.most


def test_the_next_reading_is_one_that_was_not_taken_and_says_what_to_do():
    _, found = found_of([19, 1], "one plane", main="jaws")
    test = found.next_test
    assert test.bits > 0.1
    assert test.separates[0] != test.separates[1]
    for _, says in test.outcomes:
        assert ": " in says  # what is seen, and what to do then
    turned = rank_causes([plain(wave(0.01), state="free")])
    assert turned.next_test.name == "read it clamped"


def test_a_free_part_is_never_run_out_of_its_jaws():
    found = rank_causes([plain(wave(0.01) + wave(0.008, 3), state="free")])
    assert {c.name for c in found.causes} <= {"part", "cut", "clamp"}
    assert found.jaw is None


def test_a_true_part_has_nothing_to_find():
    value = np.zeros(12)
    found = rank_causes([plain(value), plain(value, turned=pi)])
    assert (found.answer, found.causes, found.next_test) == (NOTHING, (), None)
    assert not found.told, "six lobes may stand between twelve places"
    assert found.words[0].endswith("6 lobes that stand between the 12 places are not seen")


def test_one_reading_off_the_rest_is_not_nothing():
    value = np.zeros(12)
    assert rank_causes([read_indicator(trace(PLACES, value), jaws=3, resolution=DIAL)]).answer == NOTHING
    value[4] = 0.020
    found = rank_causes([read_indicator(trace(PLACES, value), jaws=3, resolution=DIAL)])
    assert (found.answer, found.told) == (CANNOT_TELL, False)
    assert "1 of the readings stands off the rest by up to 0.020 mm" in found.words[0]
    assert found.words[1] == "reading 5 at 120° is +0.020 mm off the rest and was left out"


@pytest.mark.parametrize(("places", "dents"), [
    (12, {3: -0.05, 4: -0.05}),
    (24, {5: -0.06, 6: -0.06, 7: -0.06}),
    (12, {2: 0.020, 5: -0.020, 7: 0.025, 10: -0.015}),
    (12, {3: -0.05, 4: -0.04, 9: -0.05}),
])  # fmt: skip
def test_a_keyway_or_dents_are_never_told_as_measuring(places, dents):
    """No wave makes them, so they look like readings that scatter; but they come back."""
    angle, traces = 2 * pi * np.arange(places) / places, []
    for seed in range(2):
        value = wave(0.002, 1, 1.0, angle) + np.random.default_rng(seed).normal(0, 7e-4, places)
        value[list(dents)] += list(dents.values())
        traces.append(read_indicator(trace(angle, np.round(value, 3)), resolution=DIAL))
        found = rank_causes(traces)
        assert not found.told
    assert any("came back at the same places: look for a keyway" in words for words in found.words) or (
        len(found.could) > 1
    )


def test_readings_that_scatter_another_way_each_time_are_the_measuring():
    told = 0
    for seed in range(6):
        rng = np.random.default_rng(seed)
        both = [read_indicator(trace(PLACES, np.round(wave(0.002) + rng.normal(0, 0.012, 12), 3)), resolution=DIAL)
                for _ in range(2)]  # fmt: skip
        assert not rank_causes(both[:1]).told
        found = rank_causes(both)
        told += found.told
        assert found.could[0] == "spindle or measuring"
        swing = max(np.ptp(one.trace.reading) for one in both)
        assert found.causes[0].expected <= swing + 0.01, "no more than the readings swing, beside its lobes"
    assert told >= 4


@pytest.mark.parametrize(("seed", "plan"), [((3, 94), "0, 108 and 216, and free")])
def test_a_trace_with_two_wrong_readings_makes_nothing_sure(seed, plan):
    """Cut lobes of 0.033; the free trace has a wrong reading in either plane and was laid badly."""
    world, found = found_of(list(seed), plan)
    assert world.truth()[0] == "cut"
    assert not (found.told and found.answer != "cut")
    assert "cut" in found.could


def test_one_wrong_reading_of_a_single_plane_is_no_scatter():
    """Cut lobes of 0.006 read in one plane, one place 0.016 off: as drawn, and told as measuring before."""
    value = np.array([-30, -26, -25, -28, -29, -43, -23, -28, -28, -24, -26, -30]) / 1000
    found = rank_causes([read_indicator(trace(PLACES, value, state="clamped"), resolution=DIAL)])
    assert not found.told
    assert "cut" in found.could
    assert any("the reading at 150° of trace 1 does not fit" in words for words in found.words)


def test_a_plan_that_goes_on_has_every_reading_of_the_shorter_one():
    """What ``bench/causes_nested.py`` rests on: the same part read on, and the same places among more of them."""
    asks = [Ask((20.0, 60.0)), Ask((20.0, 60.0), 1.9), Ask((20.0, 60.0), state="free")]
    short, long = (
        read_all(RunOutWorld(np.random.default_rng([9, 1])), some) for some in (asks[:2], asks)
    )  # fmt: skip
    for one, other in zip(short, long, strict=False):
        assert np.array_equal(one.value, other.value)
    fine = read_all(RunOutWorld(np.random.default_rng([9, 2])), [Ask((20.0, 60.0), places=24)])[0]
    half = every_other_place(fine)
    assert half.ask.places == 12
    assert np.allclose(half.angle[:12], PLACES)
    assert np.array_equal(half.value, fine.value[::2])


def test_a_face_that_tilts_and_stays_is_the_seat():
    value = wave(0.02, 1, 0.4)
    found = rank_causes([
        plain(value, side="face"), plain(value, side="face", turned=radians(108)),
        plain(value, side="face", turned=radians(216)),
    ])  # fmt: skip
    assert (found.answer, found.told) == ("seat or chip", True)


def test_a_coarse_swing_is_not_taken_apart():
    found = rank_causes([plain(wave(2.0))])
    assert (found.answer, found.told, found.causes) == (CANNOT_TELL, False, ())
    assert "set the part true" in found.words[0]
    # Six micrometre typed as millimetre: nothing stands out of such a scatter, and nothing may be told of it.
    places = np.radians([0, 60, 120, 180, 240, 300])
    typed = read_indicator(trace(places, np.array([500.0, 700, 400, -200, 0, 300])))
    assert rank_causes([typed]).answer == CANNOT_TELL


def test_a_long_trace_is_read_like_a_short_one():
    angle = 2 * pi * np.arange(20_000) / 20_000
    noise = np.random.default_rng(3).normal(0, 5e-4, angle.size)
    one = read_indicator(trace(angle, wave(0.012, 1, 0.3, angle) + noise, state="free"), jaws=3)
    assert rank_causes([one]).causes[0].name == "part"


# --- which jaw ------------------------------------------------------------------------------------------------------


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


def test_of_two_jaws_none_moves_a_part_across_them():
    assert jaw_high(0.01j, 2) is None
    assert jaw_high(0.01 + 0j, 2).jaw == 1


def test_the_turn_parts_every_order_up_to_nine_and_what_twelve_places_confuse():
    from heldtrue.inspection.next_reading import TURN_BY

    turned = np.exp(1j * TURN_BY * np.arange(1, 10))
    assert np.abs(turned - 1).min() > 0.5
    assert abs(np.exp(12j * TURN_BY) - 1) > 0.5
    assert degrees(TURN_BY) == pytest.approx(108)


def test_wrong_input_is_refused():
    one, six = plain(wave(0.01)), read_indicator(trace(PLACES, wave(0.01)), jaws=6)
    with pytest.raises(InputError, match="no readings"):
        rank_causes([])
    with pytest.raises(InputError, match="different numbers of jaws"):
        rank_causes([one, six])
    with pytest.raises(InputError, match="outside or inside"):
        rank_causes([one], grip_side="left")
    with pytest.raises(InputError, match="look different ways"):
        rank_causes([one, plain(wave(0.01), side="face")])
    with pytest.raises(InputError, match="times apart"):
        rank_causes([plain(wave(0.01), state="clamped", pressure=p) for p in (0.01, 2.0)])


def test_the_worlds_know_their_own_truth():
    """The simulator, checked by hand: a lone offset reads twice its size, and a clamp is gone when it is free."""
    world = RunOutWorld(np.random.default_rng(1), main="jaws", others=0.0)
    world.noise = world.scatter = world.lean = world.start_error = world.gross = 0.0
    reading = world.read(Ask(), True)
    assert np.ptp(reading.value) == pytest.approx(2 * world.faults["jaws"].waves[0][1], rel=0.05)
    assert world.truth()[0] == "jaws"
    assert set(PLANS) >= {"one plane", "turned 108, half the pressure"}

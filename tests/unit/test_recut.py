"""The least skim that cleans a used set, and when none is needed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heldtrue.tooling.recut import Standing, changed, refit_words, skim


def test_a_skim_that_just_cleans():
    found = skim("outside", 89.6, 90.0, None)
    assert found.per_side == pytest.approx(0.2)
    assert found.cleans
    assert found.spare == pytest.approx(0.0, abs=1e-9)
    assert "skim 0.2 mm per side" in found.words[0]
    assert "skim 0.25 mm off the seat" in found.words[1]


def test_jaws_that_stand_too_near_the_size_will_not_clean_up():
    found = skim("outside", 89.9, 90.0, None, tooth_step=3.0)
    assert not found.cleans
    assert "will not clean up: Ø89.9 mm leaves 0.05 mm per side, 0.2 mm is needed" in found.words[0]
    assert "set the jaws 0.3 mm smaller on diameter" in found.words[0]
    assert "one tooth in: 3 mm on diameter" in found.words[0]


def test_jaws_for_an_inside_grip_stand_larger_than_the_part():
    assert skim("inside", 140.4, 140.0, None).cleans
    found = skim("inside", 140.1, 140.0, None, tooth_step=3.0)
    assert not found.cleans
    assert "0.3 mm larger on diameter" in found.words[0]
    assert "one tooth out" in found.words[0]


def test_a_skim_that_takes_more_than_needed_says_how_much_can_be_saved():
    found = skim("outside", 88.8, 90.0, None)
    assert found.spare == pytest.approx(0.4)
    assert "takes 0.4 mm per side more than needed: set the jaws 0.8 mm larger on diameter" in found.words[0]


def test_the_runout_found_must_be_cleaned_too():
    assert skim("outside", 89.6, 90.0, None).cleans
    found = skim("outside", 89.6, 90.0, None, runout=0.1)
    assert found.least == pytest.approx(0.25)
    assert not found.cleans


@given(st.sampled_from(["outside", "inside"]), st.floats(10, 300), st.floats(-3, 3), st.floats(0.05, 0.5))
def test_following_the_advice_cleans_up_with_nothing_to_spare(side, target, off, least):
    found = skim(side, target + off, target, None, least=least)
    out = 1 if side == "outside" else -1
    moved = (found.spare if found.cleans else -(found.least - found.per_side)) * 2 * out
    again = skim(side, target + off + moved, target, None, least=least)
    assert again.per_side == pytest.approx(again.least, abs=1e-6)


RECORD = Standing("CH-04", "lathe 3", 23, None, 90.0)
NOW = Standing("CH-04", "lathe 3", 23, True, 90.01)


def test_a_set_that_stands_as_recorded_differs_in_nothing():
    assert changed(RECORD, NOW) == ()


@pytest.mark.parametrize(
    ("now", "words"),
    [
        (Standing("CH-02", "lathe 3", 23, True, 90.0), "cut on chuck CH-04, now CH-02"),
        (Standing("CH-04", "lathe 1", 23, True, 90.0), "cut on machine lathe 3, now lathe 1"),
        (Standing("CH-04", "lathe 3", 22, True, 90.0), "cut on tooth 23, now 22"),
        (Standing("CH-04", "lathe 3", None, True, 90.0), "the tooth is not given"),
        (Standing("CH-04", "lathe 3", 23, False, 90.0), "do not stand on the master jaws of their numbers"),
        (Standing("CH-04", "lathe 3", 23, None, 90.0), "it is not said whether"),
        (Standing("CH-04", "lathe 3", 23, True, 90.1), "cut to Ø90 mm, wanted Ø90.1 mm"),
    ],
)
def test_every_difference_is_named(now, words):
    (found,) = changed(RECORD, now)
    assert words in found


def test_an_unknown_record_is_a_difference():
    assert len(changed(Standing("", "", None, None, None), NOW)) == 3


def test_a_refit_repeats_to_a_few_hundredths():
    """0.02 to 0.05 mm: common practice, no source."""
    assert refit_words(None)[0]
    sure, words = refit_words(0.06)
    assert sure
    assert "expect 0.02 mm to 0.05 mm" in words
    for allowed in (0.03, 0.01):
        no, words = refit_words(allowed)
        assert not no
        assert "a refit may not repeat to that" in words

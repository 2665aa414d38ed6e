"""Lengths in sentences are values: every reader gets them in his own units."""

import pickle

import pytest

from heldtrue.sentences import in_both, in_both_units, in_units, joined, sentence


@pytest.mark.parametrize(("words", "metric", "inch"), [
    (sentence("touches from {:.1f [mm]} to {:.1f mm} from the seat", 8.5, 17.0),
     "touches from 8.5 to 17.0 mm from the seat", "touches from .335 in to .669 in from the seat"),
    (sentence("bolt pockets Ø{:g [mm]} x {:g mm}", 18.0, 12), "bolt pockets Ø18 x 12 mm",
     "bolt pockets Ø.709 in x .472 in"),
    (sentence("on Ø{: [mm]} at {:.0f}°, z {: [mm]}", "60", 30, "12"), "on Ø60 at 30°, z 12",
     "on Ø2.362 in at 30°, z .472 in"),
    (sentence("{:+g [mm]} to {:+g mm}", -0.1, 0.05), "-0.1 to +0.05 mm", "−.0039 in to +.0020 in"),
    (sentence("{:.3f mm}, {:.4f mm}, {:g mm}", 0.06, 0.0002, 0.0), "0.060 mm, 0.0002 mm, 0 mm",
     ".0024 in, .00001 in, 0 in"),
    (sentence("{{{}}} of {!r}: 3 mm", 2, "a"), "{2} of 'a': 3 mm", "{2} of 'a': 3 mm"),
    (sentence("feed {:.3f mm}/rev", 0.2), "feed 0.200 mm/rev", "feed .0079 in/rev"),
])  # fmt: skip
def test_a_length_is_said_in_either_unit(words, metric, inch):
    assert words == metric
    assert in_units(words, "metric") == metric
    assert in_units(words, "inch") == inch


def test_what_is_put_together_keeps_its_lengths():
    gap = sentence("open {:.3f mm}", 0.06)
    for words in ("tip: " + gap, gap + "; look", sentence("{}; {}", gap, gap), joined("; ", ["first", gap, gap])):
        assert "0.060 mm" in words
        assert "mm" not in in_units(words, "inch")
        assert in_units(words, "inch").count(".0024 in") == words.count("0.060 mm")


def test_plain_words_and_no_words_stay_as_they_are():
    assert in_units("3 mm", "inch") == "3 mm"
    assert in_units(joined("; ", []), "inch") == ""


def test_words_written_in_inches_keep_them_and_can_be_read_in_mm():
    bore = in_both("38.06 mm", "1.4983 in", "inch")
    assert bore == "1.4983 in"
    assert in_units(sentence("bore {}", bore), "metric") == "bore 38.06 mm"
    assert in_units(sentence("bore {}", bore), "inch") == sentence("bore {}", bore) == "bore 1.4983 in"
    assert in_both_units(lambda units: [f"in {units}"], "metric")[0].in_units("inch") == "in inch"


def test_a_sentence_goes_to_another_process_whole():
    words = sentence("bore {}, {:g mm} deep", in_both("38.06 mm", "1.4983 in", "inch"), 10.0)
    again = pickle.loads(pickle.dumps(words))
    assert again == words
    assert in_units(again, "inch") == "bore 1.4983 in, .394 in deep"


def test_a_field_without_a_value_is_an_error():
    with pytest.raises(IndexError, match="no value"):
        sentence("{} and {}", 1)

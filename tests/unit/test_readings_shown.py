"""How readings are shown: plots in letters, rows of figures, pictures, words of the core that the screen relies on."""

import re
from math import inf
from xml.etree import ElementTree

import numpy as np
import pytest

from heldtrue.drawing.letters import HIGH, drift_letters, indicator_letters, indicator_levels
from heldtrue.drawing.readings import MOST_DOTS, draw_drift, draw_indicator
from heldtrue.drawing.readings_rows import drift_rows, gauge_rows, indicator_rows, signed_length, size
from heldtrue.inspection import rank_causes, read_drift, read_indicator
from heldtrue.inspection.budget import compare_lobes
from heldtrue.inspection.document import estimate_entry, indicator_document
from heldtrue.inspection.drift import Event, Series
from heldtrue.inspection.estimate import Estimate
from heldtrue.inspection.readings import trace
from heldtrue.inspection.shop_documents import drift_document
from heldtrue.sentences import in_units

TWELVE = 2 * np.pi * np.arange(12) / 12
CIRCLE = "{http://www.w3.org/2000/svg}circle"


def turn(offset=0.01, towards=120.0, lobes=0.0, state="clamped", count=12, noise=2e-4, seed=1):
    angle = 2 * np.pi * np.arange(count) / count
    value = offset * np.cos(angle - np.radians(towards)) + lobes * np.cos(3 * angle)
    value = value + np.random.default_rng(seed).normal(0, noise, count)
    return read_indicator(trace(angle, np.round(value, 4), None, "outside", state))


def drifting(count=40, slope=2e-4, **given):
    noise = np.random.default_rng(3).normal(0, 5e-4, count)
    return read_drift(Series("bore", 60 + slope * np.arange(count) + noise, **given))[0]


# Letters


def test_the_high_spot_stands_in_the_top_row_over_its_jaw():
    lines = indicator_letters(turn(), "metric")
    plot, jaws = lines[:HIGH], lines[-2]
    assert plot[0].index("o") == pytest.approx(jaws.index("jaw 2"), abs=1)
    assert "+0.010 mm" in plot[0]
    assert "−0.010 mm" in plot[-1]
    assert sum(line.count("o") for line in plot) == 12


def test_what_was_left_out_is_a_cross_and_does_not_stretch_the_plot():
    value = 0.01 * np.cos(TWELVE)
    value[4] += 0.2
    one = read_indicator(trace(TWELVE, np.round(value, 4)))
    assert [o.row for o in one.outliers] == [4]
    lines = indicator_letters(one, "metric")
    assert sum(line.count("x") for line in lines[:HIGH]) == 1
    assert "+0.010 mm" in lines[0]


def test_levels_of_a_tilted_part_are_about_the_mean_of_their_plane():
    z = np.repeat([0.0, 100.0], 12)
    angle = np.tile(TWELVE, 2)
    value = 0.3 + 0.005 * np.cos(angle) * (1 + z / 50) + 0.02 * (z > 0)
    one = read_indicator(trace(angle, value, z))
    for place, amplitude in ((0.0, 0.005), (100.0, 0.015)):
        levels = indicator_levels(one)[z == place]
        assert levels == pytest.approx(amplitude * np.cos(TWELVE), abs=1e-6)
        assert one.shape_at(TWELVE, place) == pytest.approx(levels, abs=1e-6)


def test_a_chart_in_letters_has_limits_events_and_every_column():
    one = drifting(lower=59.99, upper=60.02, events=(Event(20, "re-cut"),))
    lines = drift_letters(one, "metric")
    assert "60.020 mm" in lines[0]
    assert "=" in lines[0]
    assert all("|" in line.split("|", 1)[1] or "o" in line for line in lines[:13])
    assert "part 40" in lines[-1]
    columns = {x for line in lines[:13] for x, letter in enumerate(line) if letter == "o"}
    assert len(columns) == 40


# Words and figures


def test_words_of_a_drift_are_all_in_the_reader_s_unit():
    made = drifting(upper=60.03, events=(Event(10, "re-cut"),))
    assert made.changes
    for words in (*made.changes, *made.words):
        assert not re.search(r"\d mm\b|e-\d", in_units(words, "inch")), words
    words = " ".join(drifting(upper=60.03).words)
    assert re.search(r"drifts \+0\.0\d\d\d mm in 100 parts \(\+0\.0\d+ mm to \+0\.0\d+ mm\)", words)


def test_signs_are_shown_where_there_is_a_size():
    assert signed_length(0.012, "metric") == "+0.012 mm"
    assert signed_length(-0.012, "metric") == "−0.012 mm"
    assert signed_length(-1e-6, "metric") == "<0.0001 mm"
    assert signed_length(0.0, "metric") == "0.0000 mm"
    assert signed_length(-0.0254, "inch") == "−.00100 in"


@pytest.mark.parametrize(("value", "system", "text"), [
    (62.02, "metric", "62.020 mm"), (62.0082, "metric", "62.0082 mm"), (-0.5, "metric", "-0.500 mm"),
    (50.8, "inch", "2.0000 in"), (0.0254, "inch", ".0010 in"), (25.40254, "inch", "1.0001 in"),
])  # fmt: skip
def test_sizes_keep_the_places_a_shop_can_measure(value, system, text):
    assert size(value, system) == text


def test_a_part_that_is_only_off_centre_shows_nothing_on_a_micrometer():
    assert "nothing" in gauge_rows(turn(), "metric")[0][1]
    three = dict(gauge_rows(turn(lobes=0.005, noise=1e-4), "metric"))
    assert three["two-point micrometer"].startswith("0.0000 mm")
    assert "60° 0.030 mm" in three["indicator over a vee block"]


def test_a_direction_that_does_not_stand_out_is_not_given():
    rows = dict(indicator_rows(turn(offset=0.0, noise=1e-3), "metric"))
    assert rows["offset of the centre"].endswith("no direction stands out")
    assert "120° ±" in dict(indicator_rows(turn(), "metric"))["offset of the centre"]


def test_rows_of_a_drift_say_what_is_due():
    rows = dict(drift_rows(drifting(upper=60.03), "metric"))
    assert rows["limits"] == "most 60.030 mm"
    assert rows["re-cut due within"].endswith("parts")
    assert rows["capability of all these parts"].startswith("Ppk ")
    assert "capability of all these parts" not in dict(drift_rows(drifting(), "metric"))


def test_free_readings_alone_are_to_be_read_clamped_next():
    test = rank_causes([turn(lobes=0.005, state="free")]).next_test
    assert test.name == "read it clamped"
    assert "clamp the part" in test.how
    held = rank_causes([turn(offset=0.0, lobes=0.005)]).next_test
    assert held.name in ("release the part", "turn the part, half the pressure")


def test_no_lobe_read_and_none_expected_asks_for_nothing():
    (one,) = compare_lobes(turn(), {3: 1e-5}, pressure=2.0, floor=1.5)
    assert one.verdict == "explained"
    assert one.halved_at is None
    assert "none that these readings would show" in one.words
    (one,) = compare_lobes(turn(lobes=0.005), {3: 0.005}, pressure=2.0, threshold=0.2, floor=0.5)
    assert one.halved_at == pytest.approx(1.1)


# Documents


def test_figures_without_a_number_are_null():
    assert estimate_entry(Estimate(1.0, inf, -inf, inf), -2.0).model_dump() == {
        "value": -2.0, "uncertainty": None, "low": None, "high": None,
    }  # fmt: skip
    values = np.round(60 + 1e-4 * np.arange(12) + 3e-4 * np.sin(np.arange(12)), 4)
    found = read_drift(Series("bore", values, None, 60.2))
    for text in (drift_document(found, ("care",)).model_dump_json(),
                 indicator_document([turn()], rank_causes([turn()]), ("care",)).model_dump_json()):  # fmt: skip
        assert "NaN" not in text
        assert "Infinity" not in text
    document = drift_document(read_drift(Series("bore", np.array([60.0, 60.1]))), ("care",)).series[0]
    assert (document.lower, document.upper, document.capability, document.recut_in) == (None, None, None, None)
    assert document.pieces[0].trend is None


# Pictures


def dots(svg):
    return len(list(ElementTree.fromstring(svg).iter(CIRCLE)))


def test_the_jaw_that_stands_out_is_black():
    found = turn()
    jaw = rank_causes([found]).jaw
    assert jaw is not None
    plain, marked = draw_indicator(found), draw_indicator(found, jaw=jaw)
    assert marked.count('fill="#cfd1d0"') == plain.count('fill="#cfd1d0"') - 1 == 2


def test_a_long_trace_and_a_long_drift_make_small_pictures():
    long = turn(count=100_000, lobes=0.004)
    assert dots(draw_indicator(long)) <= 2 * MOST_DOTS + 10
    many = drifting(count=100_000, slope=0.0, lower=59.9, upper=60.1)
    svg = draw_drift(many)
    assert len(svg) < 200_000
    assert dots(svg) <= 60  # rings of the last rules that are met; no dot for each part
    highest = float(many.series.values.max())
    assert highest > 60.0018  # and is drawn, however many parts share its step
    lines = re.search(r'<path d="(M[^"]{5000,})"', svg)
    assert lines is not None
    heights = [float(y) for y in re.findall(r"[ML][\d.]+ ([\d.]+)", lines[1])]
    assert min(heights) == pytest.approx(82.0 - (highest - 59.89) / 0.22 * 64.0, abs=0.1)


def test_a_chart_reaches_ahead_only_where_something_is_due():
    due, calm = draw_drift(drifting(lower=59.99, upper=60.012)), draw_drift(drifting(slope=0.0, upper=60.03))
    assert ">now<" in due
    assert ">now<" not in calm
    assert "trend" in due.split("line across: event")[1]


def test_texts_of_a_file_cannot_break_a_picture():
    one = read_drift(Series('a<b>&"c"', np.array([1.0, 1.1, 1.2]), events=(Event(1, "<script>&"),), jaw="\x07S-1"))[0]
    assert "a<b>" in "".join(ElementTree.fromstring(draw_drift(one)).itertext())

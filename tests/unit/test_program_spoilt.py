"""A program with one thing wrong is never proved; what is harmless is shown to be so by a second reader and cut.

``second_reader`` shares no code with what it looks at; ``bench/spoil.py`` tries many more of the same kinds.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import pytest
import second_reader
from hypothesis import given, settings
from hypothesis import strategies as st
from spoilt import KINDS, NEVER, SELDOM, changed, finish, shifted, spread
from test_program_jobs import EXAMPLES, NEST, example_job

from heldtrue.errors import InputError
from heldtrue.program.dialect import load_dialect, parse_dialect, shipped
from heldtrue.program.front import program
from heldtrue.program.prove import prove

PROBE = 'name = "probe"\n[words]\nprobe_bore = "G65 P9120 D$size A$z Q$most H$offset"\n'
OWN = {
    "ik": parse_dialect('name = "ik"\n[numbers]\narcs = "IK"\n'), "probe": parse_dialect(PROBE),
}  # fmt: skip
MOST_A_KIND = 1
"""Mutants of a kind and job tried here, spread over the text; hypothesis draws others."""


FACED = "gland-flange"
"""The example whose jaws are also faced first, and whose mouth is gone over again."""
STEPPED = "wear-ring"
"""The example whose bore also has steps behind the seat."""


@cache
def measured_job(name):
    """The job of an example with a pass and a stop before the finish, and the finish once more."""
    made = example_job({FACED: f"faced {name}", STEPPED: f"stepped {name}"}.get(name, name))
    return replace(
        made, cutting=replace(made.cutting, semi_allowance=made.cutting.finish_allowance / 2, spring_passes=1)
    )


@cache
def text_of(name, dialect="neutral"):
    return program(measured_job(name), OWN.get(dialect, dialect)).text


def harmless(text, name, control="neutral"):
    """Whether the second reader finds nothing unsafe, and the same metal left."""
    job = measured_job(name)
    return not second_reader.judge(text, control, job) and second_reader.same_shape(
        text_of(name, control), text, control, job
    )


def each(kinds, of=1):
    """Every kind with every example; a quick run takes each kind (or one ``of`` so many) with one example in turn."""
    return [
        pytest.param(kind, name, marks=() if at % (of * len(EXAMPLES)) == turn else pytest.mark.long)
        for at, kind in enumerate(kinds)
        for turn, name in enumerate(EXAMPLES)
    ]


@pytest.mark.parametrize(("control", "name"), each([*shipped(), *OWN], of=6))
def test_every_template_is_proved_and_the_second_reader_agrees(control, name):
    text = text_of(name, control)
    assert harmless(text, name, control)
    assert second_reader.as_asked(text, control, measured_job(name)) == []


@pytest.mark.parametrize("change", [
    lambda text: re.sub(r"N100 .*?(?=N200 )", "", text, flags=re.DOTALL),  # the fronts are not faced
    lambda text: changed(text, r"(?<=Z)0\.000", lambda _: "0.050")[0][1],  # faced to the wrong height
    lambda text: changed(text, r"(?<=Z)0\.000", lambda _: "-0.050")[0][1],
])  # fmt: skip
def test_fronts_that_are_not_faced_to_zero_are_not_proved(change):
    text, job = text_of(FACED), measured_job(FACED)
    spoilt = change(text)
    assert spoilt != text
    assert not prove(spoilt, job).passed
    assert second_reader.as_asked(spoilt, "neutral", job)


def test_a_bore_with_steps_on_both_sides_is_proved_and_the_second_reader_agrees():
    job = example_job(NEST)
    text = program(job).text
    assert not second_reader.judge(text, "neutral", job)
    assert second_reader.as_asked(text, "neutral", job) == []
    assert len({x for x, _ in job.finished}) > 6


@pytest.mark.parametrize("old", ["X100.000", "X65.500", "Z-44.000", "Z-15.000"])
def test_a_step_to_another_size_or_depth_is_not_proved(old):
    job = example_job(NEST)
    text = program(job).text
    number = float(old[1:])
    spoilt = text.replace(old, f"{old[0]}{number + 0.05:.3f}")
    assert spoilt != text
    assert not prove(spoilt, job).passed


def test_facing_cuts_no_deeper_than_the_nose_and_before_everything_else():
    text, job = text_of(FACED), measured_job(FACED)
    assert re.findall(r"^N\d+ \((.*)\)$", text, re.MULTILINE)[0] == "FACING THE JAW FRONTS"
    assert re.findall(r"^N\d+ \((.*)\)$", text, re.MULTILINE)[-1] == "ALONG THE MOUTH AGAIN"
    part = text[text.index("N100 ") : text.index("N200 ")]
    heights = [float(z) for z in re.findall(r"Z(\S+)\nG1 X", part)]
    assert heights[-1] == 0.0
    steps = [a - b for a, b in zip([job.face_off, *heights], heights, strict=False)]
    assert max(steps) <= min(job.cutting.pass_depth, job.tool.nose_radius) + 1e-6


@pytest.mark.parametrize(("kind", "name"), each(NEVER))
def test_a_wrong_program_is_never_proved(kind, name):
    text, job = text_of(name), measured_job(name)
    found = NEVER[kind](text)
    assert found, "no mutant made"
    for line, spoilt in spread(found, MOST_A_KIND):
        assert spoilt != text
        assert not prove(spoilt, job).passed, f"line {line + 1}: {spoilt.splitlines()[line]}"


@pytest.mark.parametrize(("kind", "name"), each(SELDOM, of=9))
def test_what_passes_cuts_the_same(kind, name):
    text, job = text_of(name), measured_job(name)
    found = SELDOM[kind](text)
    for line, spoilt in spread(found[len(found) // 3 :], 1):
        if prove(spoilt, job).passed:
            assert harmless(spoilt, name), f"line {line + 1}: {spoilt.splitlines()[line]}"


@settings(max_examples=6, deadline=None)
@given(st.sampled_from(EXAMPLES), st.sampled_from(sorted(KINDS)), st.randoms(use_true_random=False))
def test_any_mutant_is_caught_or_harmless(name, kind, draw):
    text, job = text_of(name), measured_job(name)
    line, spoilt = draw.choice(KINDS[kind](text))
    if prove(spoilt, job).passed:
        assert kind in SELDOM
        assert harmless(spoilt, name), f"line {line + 1}"


@settings(max_examples=8, deadline=None)
@given(st.sampled_from(sorted(set(shipped()) - {"neutral"})), st.sampled_from(sorted(NEVER)), st.data())
def test_a_wrong_program_of_another_template_is_never_proved(control, kind, data):
    text, job = text_of("gland-flange", control), measured_job("gland-flange")
    found = NEVER[kind](text)
    if found:
        line, spoilt = data.draw(st.sampled_from(found))
        if spoilt != text:
            assert not prove(spoilt, job, load_dialect(control)).passed, f"line {line + 1}"


SLIPS = given(
    st.sampled_from(EXAMPLES), st.randoms(use_true_random=False), st.sampled_from("0123456789.-XZGFRMNST ;(%\n")
)


@settings(max_examples=6, deadline=None)
@SLIPS
def test_a_slip_of_the_keyboard_is_caught_or_harmless(name, draw, key):
    slip(name, draw, key)


@pytest.mark.long
@settings(max_examples=40, deadline=None)
@SLIPS
def test_many_slips_of_the_keyboard_are_caught_or_harmless(name, draw, key):
    slip(name, draw, key)


def slip(name, draw, key):
    """One character changed somewhere from the first word on."""
    text, job = text_of(name), measured_job(name)
    at = draw.randrange(text.index("G21"), len(text) - 3)
    spoilt = text[:at] + key + text[at + 1 :]
    if prove(spoilt, job).passed:
        assert harmless(spoilt, name), spoilt[max(0, at - 20) : at + 20]


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize(
    "change", [{"nose_radius": 0.8}, {"nose_radius": 0.2}, {"nose_radius": 0.39}, {"quadrant": 9}, {"number": 7}]
)
def test_a_program_for_another_tool_is_not_proved(change, name):
    job = measured_job(name)
    assert not prove(text_of(name), replace(job, tool=replace(job.tool, **change))).passed


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("letter", "IK")
@pytest.mark.parametrize("by", [0.05, -0.05])
def test_a_wrong_centre_of_an_arc_is_caught(name, letter, by):
    text, job = text_of(name, "ik"), measured_job(name)
    for _, spoilt in finish(changed(text, rf"({letter})(-?[\d.]+)", shifted(by)), text):
        assert not prove(spoilt, job, OWN["ik"]).passed


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("title", ["BEFORE THE FINISH", "X WEAR OFFSET"])
def test_without_the_pass_or_the_stop_before_the_finish_it_is_not_proved(title, name):
    text, job = text_of(name), measured_job(name)
    if "WEAR" in title:
        spoilt = re.sub(rf"^M0 \({title}.*\n", "", text, flags=re.MULTILINE)
    else:
        spoilt = re.sub(rf"^N\d+ \({title}\)\n.*?(?=^M9\nM5\n\(MEAS)", "", text, flags=re.MULTILINE | re.DOTALL)
    assert spoilt != text
    codes = {finding.code for finding in prove(spoilt, job).findings}
    assert codes & {"stop", "depth"}


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize(
    ("old", "new"),
    [(r"^M[89]\n", ""), (r"^G0(?= Z4\.000)", "G00"), (r"^N(\d+) \(.*\)$", r"N\1"), (r"\n", "\r\n"),
     ("^%\n", "%\nO0031\n")],
    ids=["coolant", "a zero more", "titles", "ends of lines", "a program number"],
)  # fmt: skip
def test_what_changes_no_move_stays_proved(name, old, new):
    text, job = text_of(name), measured_job(name)
    count = 1 if "O0031" in new else 0
    spoilt = re.sub(old, new, text, count=count, flags=re.MULTILINE)
    assert spoilt != text
    assert prove(spoilt, job).passed


# A probing cycle in place of the stop to measure

CALL = re.compile(r"^G65 .*\n", re.MULTILINE)


@pytest.mark.parametrize("change", [
    lambda text: CALL.sub("", text),  # nothing measures
    lambda text: CALL.sub(lambda m: m[0] + m[0], text),  # goes on after it as if nothing had been
    lambda text: CALL.sub(lambda m: m[0] + "G97 S300 M3\n", text),
    lambda text: CALL.sub(lambda m: m[0].replace("P9120", "P9121"), text),
    lambda text: CALL.sub(lambda m: m[0].replace("G65", "G66"), text),
    lambda text: CALL.sub(lambda m: re.sub(r"D(\S+)", lambda d: f"D{float(d[1]) + 0.05:.3f}", m[0]), text),
    lambda text: CALL.sub(lambda m: re.sub(r"D(\S+)", lambda d: f"D{float(d[1]) / 2:.3f}", m[0]), text),
    lambda text: CALL.sub(lambda m: re.sub(r"A(\S+)", "A2.000", m[0]), text),  # before the jaws
    lambda text: CALL.sub(lambda m: re.sub(r"Q(\S+)", "Q2.000", m[0]), text),  # corrects anything
    lambda text: CALL.sub(lambda m: re.sub(r" Q(\S+)", "", m[0]), text),
    lambda text: CALL.sub(lambda m: re.sub(r"H(\S+)", "H7.", m[0]), text),  # the offset of another tool
    lambda text: CALL.sub(lambda m: re.sub(r"H(\S+)", "H5", m[0]), text),  # thousandths on some controls
    lambda text: CALL.sub(lambda m: m[0].rstrip() + " X50.000\n", text),
    lambda text: CALL.sub(lambda m: m[0].rstrip() + " M3\n", text),
    lambda text: re.sub(r"M5\n(?=\(MEASURE)", "", text),  # the spindle turns
    lambda text: CALL.sub("", text).replace("N100 ", CALL.search(text)[0] + "N100 ", 1),  # before anything is cut
    lambda text: CALL.sub("", text).replace("M9\nM5\nM30", "M9\nM5\n" + CALL.search(text)[0] + "N900\nM30"),
    lambda text: CALL.sub("", text).replace("G0 X", CALL.search(text)[0] + "G0 X", 1),  # on the way in
])  # fmt: skip
def test_a_probing_cycle_that_is_not_as_planned_is_not_proved(change):
    text, job = text_of("winch-shaft", "probe"), measured_job("winch-shaft")
    assert prove(text, job, OWN["probe"]).probed
    spoilt = change(text)
    assert spoilt != text
    assert not prove(spoilt, job, OWN["probe"]).passed
    assert second_reader.judge(spoilt, "probe", job)


def test_a_probing_cycle_is_told_the_size_on_the_wall_and_no_more_than_is_left():
    text, job = text_of("winch-shaft", "probe"), measured_job("winch-shaft")
    told = {word[0]: float(word[1:]) for word in CALL.search(text)[0].split()[2:]}
    wall = next(point for point in job.finished if point[1] < -1)
    assert told["A"] == pytest.approx(wall[1] + 3.0, abs=1e-3)
    assert told["D"] < 2 * wall[0] - 0.15  # 0.1 per side is still to come off
    assert told["Q"] == pytest.approx(0.2)
    assert told["H"] == job.tool.number
    stops = text.count("M0 (")
    assert stops == len(job.stops)  # nobody is asked to measure


def test_without_a_word_for_it_no_cycle_is_read_or_written():
    job = measured_job("winch-shaft")
    assert "G65" not in text_of("winch-shaft")
    assert not prove(text_of("winch-shaft", "probe"), job).passed
    assert not prove(text_of("winch-shaft", "probe"), replace(job, probe=None), OWN["probe"]).passed


@pytest.mark.parametrize("word", [
    "G65", "G65 P9120", "G65 P9120 D$size A$z Q$most", "G65 P9120 D$size A$z H$offset",
    "G65 P0 D$size A$z Q$most H$offset", "G65 P9120 D$size D$z Q$most H$offset",
    "G65 P9120 D$size A$size Q$most H$offset $z", "G65 P9120 X$size A$z Q$most H$offset",
    "G65 P9120 D$size Z$z Q$most H$offset", "G65 P9120 D$size A$z M$most H$offset", "M98 P9120", "G28 U0.",
    "G65 P9120 D$size A$z Q$most H$offset M30", "G65 P9120 D$size A$z Q$most H$offset B3.",
    "G65 P9120 D$size A$z Q$most H$offset\\nG0 X0.", "G66 P9120 D$size A$z Q$most H$offset", "g65 p9120 d$size",
    "G65 P9120 D$size A$z Q$most H$offset E$speed",
])  # fmt: skip
def test_a_word_that_is_no_probing_cycle_is_refused(word):
    with pytest.raises(InputError, match="no call of a probing cycle that can be proved"):
        parse_dialect(f"[words]\nprobe_bore = {word!r}\n".replace("'", '"'))

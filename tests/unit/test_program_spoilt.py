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
from test_program_jobs import EXAMPLES, example_job

from heldtrue.program.dialect import load_dialect, parse_dialect, shipped
from heldtrue.program.front import program
from heldtrue.program.prove import prove

CENTRES = parse_dialect('name = "ik"\n[numbers]\narcs = "IK"\n')
MOST_A_KIND = 1
"""Mutants of a kind and job tried here, spread over the text; hypothesis draws others."""


@cache
def measured_job(name):
    """The job of an example with a pass and a stop before the finish, and the finish once more."""
    made = example_job(name)
    return replace(
        made, cutting=replace(made.cutting, semi_allowance=made.cutting.finish_allowance / 2, spring_passes=1)
    )


@cache
def text_of(name, dialect="neutral"):
    return program(measured_job(name), CENTRES if dialect == "ik" else dialect).text


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


@pytest.mark.parametrize(("control", "name"), each([*shipped(), "ik"], of=6))
def test_every_template_is_proved_and_the_second_reader_agrees(control, name):
    assert harmless(text_of(name, control), name, control)


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
        assert not prove(spoilt, job, CENTRES).passed


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

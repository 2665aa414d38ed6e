"""Whatever is done to a STEP file, what comes out is a part or a message."""

import re
from contextlib import suppress

from hypothesis import example, given, settings
from hypothesis import strategies as st
from plain_step import Style, write
from test_step import FLANGE, RING

from heldtrue.errors import GeometryError, InputError
from heldtrue.part_file.choices import ChoiceNeededError, Choices
from heldtrue.part_file.step import read_step

FILES = [RING, write(FLANGE.pieces), write(FLANGE.pieces, Style(surfaces="spline", curves="spline"))]
ON_PURPOSE = (InputError, GeometryError, ChoiceNeededError)
which = st.sampled_from(FILES)


def survives(content):
    with suppress(*ON_PURPOSE):  # any other error fails the test
        assert read_step("part.stp", content, Choices(units="mm"), measured=False).outline.volume > 0


@settings(max_examples=40)
@given(which, st.floats(0, 1))
def test_cut_off(content, share):
    survives(content[: int(share * len(content))])


@settings(max_examples=70)
@given(which, st.lists(st.tuples(st.floats(0, 1), st.binary(min_size=1, max_size=6)), min_size=1, max_size=5))
def test_bytes_changed(content, changes):
    data = bytearray(content)
    for share, new in changes:
        at = int(share * (len(data) - 1))
        data[at : at + len(new)] = new
    survives(bytes(data))


@settings(max_examples=40)
@given(which, st.integers(0, 10**6), st.integers(0, 10**6))
@example(FILES[1], 0, 0)
def test_references_lead_anywhere(content, one, two):
    """A reference to any other entity, to itself, or to what refers back to it."""
    numbers = [int(n) for n in re.findall(rb"(?m)^#(\d+)=", content)]
    places = list(re.finditer(rb"(?<=[(,])#(\d+)", content))
    place = places[one % len(places)]
    other = numbers[two % len(numbers)]
    survives(content[: place.start()] + b"#%d" % other + content[place.end() :])


@settings(max_examples=40)
@given(
    which,
    st.integers(0, 10**6),
    st.sampled_from(["0.", "-1.", "1E300", "-1E-300", "1E9", "$", "*", "'a'", ".F.", "()", "(1.)", "#1"]),
)
def test_values_of_any_kind_anywhere(content, place, value):
    places = list(re.finditer(rb"(?<=[(,])(-?\d+\.[\dE+-]*|\.[TF]\.|\$)(?=[),])", content))
    found = places[place % len(places)]
    survives(content[: found.start()] + value.encode() + content[found.end() :])


def test_every_entity_referring_to_itself():
    for content in FILES:
        survives(re.sub(rb"(?m)^#(\d+)=(\w+)\('',#\d+", rb"#\1=\2('',#\1", content))

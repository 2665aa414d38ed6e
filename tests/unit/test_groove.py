"""The groove for a ring in the jaw faces: its program, its proof, and what says no; judged by a plain model too.

The plain model reads the text by ``second_reader`` and asks of single points whether the blade, a plain rectangle,
passed over them.
"""

from __future__ import annotations

import random
import re
from dataclasses import replace

import numpy as np
import pytest
import second_reader
from conftest import example, longer
from spoilt import KINDS, NEVER, spread
from test_program_jobs import WIDE

from heldtrue.errors import GeometryError
from heldtrue.planning.boring import bore
from heldtrue.planning.boring_program import attempt
from heldtrue.program.groove import GrooveJob, GrooveTool, groove_program, problems_of, prove_groove
from heldtrue.program.job import BoringJob, Cutting, KeepOut
from heldtrue.sheets.boring_folder import boring_files

BLADE = {"number": 7, "width": 4.0, "corner_radius": 0.2, "reach": 8.0, "diameters": [60.0, 400.0]}
CUTTING = Cutting(1.5, 0.2, 0.08, 0.08, 120.0, 1000.0)


def work(near=51.0, far=68.0, depth=4.0, width=4.0, corner=0.2, reach=8.0, diameters=(60.0, 400.0), keep_out=()):
    tool = GrooveTool(7, "blade", width, corner, reach, diameters)
    line = ((near, 0.0), (near, -depth), (far, -depth), (far, 0.0))
    job = BoringJob(
        "groove", "outside", ((30.0, -40.0), (95.0, -40.0), (95.0, 0.0), (30.0, 0.0)), line, tuple(keep_out),
        tool.as_bar(), CUTTING, WIDE, 4.0, stops=("look",),
    )  # fmt: skip
    return GrooveJob(job, tool, (near, far), depth)


def plain_wrong(text, made):
    """What the plain model says against a text: words, points cut and left that should not be, things run into."""
    read = second_reader.read(text, "neutral", made.job)
    if read.wrong:
        return read.wrong
    tool, (near, far) = made.tool, made.walls
    xs, zs = np.meshgrid(np.arange(28.05, 97, 0.1), np.arange(-8.03, 0, 0.06))
    x, z = xs.ravel(), zs.ravel()
    metal = (x > 30) & (x < 95)
    gone, found = np.zeros(len(x), dtype=bool), []
    for move in read.moves:
        (x0, z0), (x1, z1) = move.points[0], move.points[-1]
        low, lowest = min(x0, x1), min(z0, z1)
        over = (x > low) & (x < max(x0, x1) + tool.width) & (z > lowest)
        meets = metal & over & ~gone
        if move.rapid and meets.any():
            found.append(f"line {move.line}: a rapid in metal")
        if not move.rapid and meets.any() and (x0 != x1 or z1 > z0):
            found.append(f"line {move.line}: sideways or out")
        if lowest + tool.reach < 0:
            found.append(f"line {move.line}: the holder at the fronts")
        gone |= over & (not move.rapid)
        for thing in made.job.keep_out:
            if low < max(px for px, _ in thing.outline) and max(x0, x1) + tool.width > min(
                px for px, _ in thing.outline
            ) and lowest < max(pz for _, pz in thing.outline):  # fmt: skip
                found.append(f"line {move.line}: in {thing.name}")
    wanted = (x > near) & (x < far) & (z > -made.depth)
    edge = np.minimum(np.minimum(np.abs(x - near), np.abs(x - far)), np.abs(z + made.depth)) < 0.005
    corner = (np.minimum(np.abs(x - near), np.abs(x - far)) < tool.corner) & (np.abs(z + made.depth) < tool.corner)
    if (metal & (wanted != gone) & ~edge & ~corner).any():
        found.append("another groove")
    return found


def test_the_groove_is_proved_and_the_plain_model_agrees():
    made = work()
    program = groove_program(made)
    assert program.proof.passed
    assert program.proof.worst_deviation < 0.001
    assert plain_wrong(program.text, made) == []
    ends = [float(x) for x in re.findall(r"X(\S+)\nG1 Z-4\.000", program.text)]
    assert ends[-2:] == [2 * (68.0 - 4.0), 2 * 51.0]  # the walls last
    assert re.search(r"^N100 \(GROOVE FOR THE RING\)$", program.text, re.MULTILINE)


@pytest.mark.parametrize(("change", "words"), [
    ({"reach": 4.4}, "reaches 4.4 mm deep"), ({"width": 17.5, "corner": 0.4}, "the groove 17.000 mm"),
    ({"diameters": (60.0, 130.0)}, "begins at its outer wall, Ø136.000"),
    ({"diameters": (140.0, 300.0)}, "begins at its outer wall"), ({"corner": 2.0}, "below half of it"),
    ({"corner": 1.95}, "leaves no flat floor"),
])  # fmt: skip
def test_a_blade_that_does_not_do_is_refused_in_words(change, words):
    with pytest.raises(GeometryError, match=words):
        groove_program(work(**change))


@pytest.mark.parametrize(("old", "new", "code"), [
    (r"Z-4\.000", "Z-4.050", "gouge"), (r"Z-4\.000", "Z-3.950", "left_over"), (r"X102\.000", "X101.900", "gouge"),
    (r"X102\.000", "X102.100", "left_over"), (r"G1 Z-4\.000 F0\.080", "G0 Z-4.000", "rapid_in_metal"),
    (r"G1 Z4\.000\nG0 X", "G1 X", "depth"), (r"G1 Z4\.000\nG0 X102\.000", "G0 Z4.000\nG0 X102.000", "rapid_in_metal"),
    (r"T0707", "T0808", "tool"), (r"M0 .*\n", "", "stop"), (r"G97 S\d+ M3", "G97 S9999 M3", "spindle"),
    (r"G0 Z24\.000\nG0 X", "G0 Z2.000\nG0 X", "retreat"), (r"F0\.080", "F0.800", "feed"), (r"M30", "", "unreadable"),
])  # fmt: skip
def test_what_is_wrong_with_a_groove_is_found(old, new, code):
    made = work()
    text = groove_program(made).text
    spoilt = re.sub(old, new, text)
    assert spoilt != text
    proof = prove_groove(spoilt, made)
    assert not proof.passed
    assert code in {one.code for one in proof.findings}


@pytest.mark.parametrize("change", [
    {"reach": 3.9}, {"diameters": (60.0, 130.0)}, {"diameters": (137.0, 300.0)}, {"width": 4.2}, {"corner": 0.8},
    {"keep_out": [KeepOut("bolt", ((60.0, -6.0), (62.0, -6.0), (62.0, -3.0), (60.0, -3.0)))]}, {"depth": 4.1},
])  # fmt: skip
def test_the_same_text_is_not_proved_for_another_blade_groove_or_thing_in_the_way(change):
    text = groove_program(work()).text
    assert not prove_groove(text, work(**change)).passed


def test_a_ring_groove_that_a_wider_corner_would_leave_is_left_over():
    """The blade's own rounds alone may be left."""
    made = work()
    proof = prove_groove(groove_program(made).text, made)
    assert {corner.radius for corner in proof.corners} == {0.2}


@pytest.mark.parametrize("most", [1, *longer(6)])
def test_a_spoilt_groove_program_is_never_proved_or_cuts_the_same(most):
    made = work()
    text, tried, proved = groove_program(made).text, 0, 0
    for kind, make in KINDS.items():
        try:
            found = [one for one in make(text) if one[1] != text]
        except StopIteration:  # a kind for the finish, which a groove has none of
            continue
        for line, one in spread(found, most):
            tried += 1
            if prove_groove(one, made).passed:
                proved += 1
                where = f"{kind}, line {line + 1}: {one.splitlines()[line]}"
                assert kind not in NEVER, where
                assert plain_wrong(one, made) == [], where
    assert tried > 80
    assert proved < tried / 4


@pytest.mark.parametrize("count", [25, *longer(400)])
def test_drawn_grooves_are_proved_or_refused_and_the_plain_model_agrees(count):
    dice, proved = random.Random(19), 0
    for _ in range(count):
        near = round(dice.uniform(32.0, 70.0), 2)
        made = work(
            near, round(near + dice.uniform(3.0, 22.0), 2), round(dice.uniform(2.0, 6.0), 2),
            round(dice.uniform(2.0, 6.0), 1), dice.choice([0.1, 0.2, 0.4]), round(dice.uniform(3.0, 10.0), 1),
            (dice.choice([30.0, 60.0, 120.0]), dice.choice([130.0, 180.0, 400.0])),
        )  # fmt: skip
        if problems_of(made):
            continue
        proved += 1
        program = groove_program(made)
        assert plain_wrong(program.text, made) == []
    assert 0 < proved < count


# From a setup


@pytest.fixture(scope="module")
def planned():
    return bore(example("gland-flange").with_({"jaws.height": 33.5, "boring.groove_tool": BLADE}))


def test_a_setup_with_a_blade_gets_the_groove_as_a_program_of_its_own(planned):
    made = attempt(planned)
    assert made.groove.proof.passed
    assert made.program.proof.passed
    names = {one.name for one in planned.groove.work.job.keep_out}
    assert "the piece of stock" in names
    assert "ring" not in names
    assert planned.groove.work.walls == tuple(one / 2 for one in planned.ring.groove.diameters)
    files = boring_files(planned, made, "metric", "a4")
    assert {"groove-J-072.nc", "groove-proof.json", "groove-path.svg"} <= files.keys()
    (step,) = [one.words for one in planned.steps if one.name == "groove"]
    assert "its own program" in step
    assert {one.name for one in planned.groove.checks} == {"torque", "power", "slide", "tip"}
    assert any("state machine.power" in one and "groove" in one for one in planned.notes)


@pytest.mark.parametrize(("change", "words"), [
    ({"reach": 4.0}, "reaches 4 mm deep"), ({"diameters": [20.0, 100.0]}, "begins at its outer wall"),
    ({"width": 12.0}, "pushes the top jaw sideways"),
])  # fmt: skip
def test_a_blade_that_cannot_is_a_refusal_of_the_whole(change, words):
    made = bore(example("gland-flange").with_({"jaws.height": 33.5, "boring.groove_tool": {**BLADE, **change}}))
    assert not made.can_be_cut
    assert any(words in one for one in made.refusals)


def test_the_machine_must_have_the_power_for_the_plunge():
    made = bore(example("gland-flange").with_({
        "jaws.height": 33.5, "boring.groove_tool": BLADE, "machine": {"name": "L", "power": 8000.0, "torque": 1e6},
    }))  # fmt: skip
    assert any("the groove for the ring" in one and "spindle power" in one for one in made.refusals)


def test_without_a_blade_the_step_says_that_there_is_no_program():
    made = bore(example("gland-flange").with_({"jaws.height": 33.5}))
    assert made.can_be_cut
    assert made.groove.work is None
    assert attempt(made).groove is None
    assert any("boring.groove_tool" in one for one in made.notes)
    (step,) = [one.words for one in made.steps if one.name == "groove"]
    assert "by hand" in step


def test_a_ring_below_the_seat_needs_no_groove():
    made = bore(example("gland-flange").with_({"boring.groove_tool": BLADE}))
    assert made.ring.groove is None
    assert made.groove is None


def test_a_program_that_cuts_nothing_leaves_the_groove():
    """All corners of what is left lie on the metal that must stay: corners alone would say that nothing is left."""
    made = work()
    proof = prove_groove(re.sub(r"X(\S+)", lambda m: f"X{2 * float(m[1]):.3f}", groove_program(made).text), made)
    assert [one.code for one in proof.findings] == ["left_over"]
    assert proof.left_over == pytest.approx(4.0, abs=0.01)


def test_jaws_that_open_get_their_groove_too():
    made = work()
    text = groove_program(replace(made, job=replace(made.job, grip="outside"))).text
    assert prove_groove(text, made).passed

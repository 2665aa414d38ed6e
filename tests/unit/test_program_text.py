"""Words: writing them, reading them back, and templates."""

import json
import re
from dataclasses import replace
from itertools import pairwise
from math import cos, hypot, pi, sin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_program_jobs import CUTTING, EXAMPLES, example_job, job

from heldtrue.errors import InputError
from heldtrue.program.dialect import load_dialect, parse_dialect
from heldtrue.program.front import program
from heldtrue.program.geometry import Arc, Line
from heldtrue.program.path import Move, ToolPath, tool_path
from heldtrue.program.prove import prove
from heldtrue.program.read import read_program, tool_text
from heldtrue.program.words import words_of
from heldtrue.program.write import write_program

NEUTRAL = load_dialect()
HEAD = "G21 G18 G90 G40 G95\nG28 W0.\nG28 U0.\nT0505\nG54\nG92 S1000\nG97 S500 M3\nG0 Z5.\nG0 X60.\nG96 S100\n"


def read(body, words=NEUTRAL):
    return read_program(HEAD + body + "\nM30\n", words).moves[1:]


def dialect(**parts):
    changed = {name: replace(getattr(NEUTRAL, name), **values) for name, values in parts.items()}
    return replace(NEUTRAL, **changed)


INCH = dialect(numbers={"unit": "inch", "x_decimals": 5, "z_decimals": 5, "feed_decimals": 5})
CENTRES = dialect(numbers={"arcs": "IK"})


# reading


def test_modal_words_stay_in_force():
    first, second, third = read("G1 X50. Z0. F0.2\nZ-5.\nX48.0")
    assert (first.rapid, second.rapid, third.rapid) == (False, False, False)
    assert second.piece == Line((25.0, 0.0), (25.0, -5.0))
    assert third.piece.end == (24.0, -5.0)
    assert third.state.feed == 0.2
    assert third.state.limit == 1000


@pytest.mark.parametrize(
    "text",
    [
        "G1X50.Z0.F.2",
        "N10 G1 X50. Z0. F0.2",
        "G1 X 50. Z 0. F 0.2 (A G0 X0.)",
        "F0.2 Z0. X+50. G1",
    ],
)
def test_one_block_in_many_spellings(text):
    (move,) = read(text)
    assert move.piece.end == (25.0, 0.0)
    assert move.state.feed == 0.2
    assert not move.rapid


def test_inch_words_are_read_in_mm():
    text = HEAD.replace("G21", "G20").replace("X60.", "X2.").replace("Z5.", "Z.5") + "G1 Z0. F.01\nM30"
    move = read_program(text, INCH).moves[1]
    assert move.piece.start == pytest.approx((25.4, 12.7))
    assert move.state.feed == pytest.approx(0.254)
    assert move.state.speed == pytest.approx(30.48)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("G1 X50 Z0.", "X50 has no decimal point"),
        ("G1 X50.0001 Z0.", "more than 3 places"),
        ("G1 X50. F1", "F1 has no decimal point"),
        ("G1 X50. X51.", "X stands twice"),
        ("G0 G1 X50.", "two motions"),
        ("G1 X50. R2.", "R on a straight move"),
        ("G1 X50. I2.", "I2. beside a move"),
        ("G2 X50. Z-5.", "an arc without R, I or K"),
        ("G2 X50. Z-5. R5. I1.", "I1. beside a move"),
        ("G2 X60. Z5. R5.", "ends where it starts"),
        ("G2 X50. Z-15. R5.", "cannot span"),
        ("G2 X50. Z-5. R-9.", "more than half a turn"),
        ("G4 X1.", "G4 beside a move"),
        ("G1", "a motion without X or Z"),
        ("G0 F0.1 X50.", "a feed on a rapid"),
        ("G71 U1. R1.", "G71 beside a move"),
        ("M98 P1", "is not known here"),
        ("G1 X50. U1.", "U1. beside a move"),
        ("U1.", "U1. is not known here"),
        ("#1 = 5", "is no word"),
        ("G1 X=5", "is no word"),
        ("/G0 X10.", "is no word"),
        ("G92", "G92 without S"),
        ("S200", "S200 is not known here"),
        ("F0.1", "F0.1 is not known here"),
        ("G96 S0", "must be above 0"),
        ("G20", "is not known here|only change while"),
        ("G54", "the work offset may only change while the tool is at its retreat"),
        ("T0606", "the tool may only change while the tool is at its retreat"),
        ("M5 M9", "two M words"),
        ("G96 S100 G97 S100", "stands twice"),
        ("M0 M9", "stands alone"),
        ("G28 W0.\nG0 Z5.", "the retreat is not whole: G28 U0. is missing here"),
        ("G28 W0.\nG28 U0.\nG0 X60. Z5.", "comes in by a rapid along Z alone"),
        ("G28 W0.\nG28 U0.\nG0 X60.", "comes in by a rapid along Z alone"),
        ("G28 W0.\nG28 U0.\nG0 Z5.\nG1 X60. F0.1", "comes in by a rapid along Z alone"),
        ("G28 W0.\nG28 U0.\nG0 Z5.\nG28 W0.", "before the tool has come in"),
        ("G28 W1.", "is not known here"),
        ("G28 W0. U0.", "is not known here"),
        ("N100", "a part starts here, but the tool is not at its retreat"),
        ("M30\nG0 X1.", "after the end"),
        ("M30\n(A COMMENT)", "after the end"),
        ("M30\n%\n%", "% stands alone"),
    ],
)
def test_what_is_not_understood_is_refused_with_its_line(body, words):
    with pytest.raises(InputError) as caught:
        read_program(HEAD + body + "\n", NEUTRAL)
    assert re.search(words.replace(".", r"\."), str(caught.value))
    assert re.match(r"line 1[0-5]: ", str(caught.value))


@pytest.mark.parametrize(
    "block",
    ["G92 S2000 Z4.000", "G92 X80. Z50.", "G92 S1000 X80.", "G50 X80.", "G10 L2 P1 X0. Z0.", "G52 X1.", "G68 R90.",
     "G0 G92 S2000 Z4.", "G0 Z4. M3", "G0 Z4. G54", "G0 Z4. S100", "G0 Z4. T0505", "G53 G0 X0. Z0.", "G91", "G41",
     "G94", "G99", "G98", "M98", "M99", "M1", "M19", "G0 Z4. M0"],
)  # fmt: skip
def test_a_shift_of_coordinates_or_a_mode_is_no_move(block):
    """Beside a position stands nothing but a motion: a shift must never be read as a way."""
    with pytest.raises(InputError, match=r"beside a move|is not known here|beside it"):
        read_program(HEAD + block + "\nM30\n", NEUTRAL)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("G1 X5\u0660. Z0.", "arabic-indic digit zero"),
        ("G1 X50.\u00a0Z0.", "no-break space"),
        ("G1 X\uff15.", "fullwidth digit five"),
        ("(GR\u00d6SSE)", "latin capital letter o with diaeresis"),
        ("G1\tX50.", "character 9"),
        ("G1 X50.\x0bZ0.", "character 11"),
        ("G1 X50.\u2028Z0.", "line separator"),
        ("G1 X50.\rZ0.", "character 13"),
        ("g1 x50.", "small letters"),
        ("%", "% stands alone"),
        ("G1 X50. % Z0.", "% stands alone"),
        ("(50 %)", "% stands alone"),
        ("O1234", "a program number stands alone, before the first block"),
        ("G1 X50. ; Z-90.", '";" is no comment'),
        ("(A) G1 X50.", "is no comment at the end"),
        ("G1 X50. (A) Z0.", "is no comment at the end"),
        ("G1 X50. (A (B))", "is no comment at the end"),
        ("G1 X50. (A", "is no comment at the end"),
        ("N5\nN5 G1 X50.", "block numbers rise"),
        ("N9 N10 G1 X50.", "is not known|beside a move"),
    ],
)
def test_a_strange_sign_is_refused_by_its_name(line, words):
    head = HEAD.replace("G0 Z5.\nG0 X60.\nG96 S100\n", "")
    with pytest.raises(InputError, match=words):
        read_program(head + line + "\nM30\n", NEUTRAL)


@pytest.mark.parametrize("frame", ["{}", "%\n{}%\n", "%\nO0031\n{}%", "\n(A)\nO31 (B)\n{}\n\n", "{}%\n\n"])
def test_percent_and_program_number_in_their_places(frame):
    assert read_program(frame.format(HEAD + "G1 X50. F0.1\nM30\n"), NEUTRAL).ended


def test_lines_may_end_as_a_control_sends_them():
    text = HEAD + "G1 X50. F0.1\nM30\n"
    assert read_program(text.replace("\n", "\r\n"), NEUTRAL) == read_program(text, NEUTRAL)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("G0 Z1.", "before the unit is said"),
        ("G21\nG0 Z1.", "a move before a retreat"),
        ("G21\nG28 W0.\nG28 U0.\nX5.", "without G0, G1, G2 or G3"),
        ("G21\nG28 W0.\nG28 U0.\nG0 X5. Z1.", "by a rapid along Z alone"),
        ("G21\nG28 W0.\nG28 U0.\nG1 Z1. F0.1", "by a rapid along Z alone"),
        ("G20", "the template's unit is millimetres|is not known"),
    ],
)
def test_where_the_tool_stands_must_be_known(text, words):
    with pytest.raises(InputError, match=words):
        read_program(text, NEUTRAL)


def test_a_part_forgets_what_was_said_before_it():
    """So that it can be started alone."""
    again = "G28 W0.\nG28 U0.\nN100\n"
    with pytest.raises(InputError, match="before the unit is said in this part"):
        read_program(HEAD + again + "G0 Z5.\n", NEUTRAL)
    reading = read_program(HEAD + again + "G21\nG0 Z5.\nG0 X60.\nG1 Z4.\nG28 W0.\nG28 U0.\nM30\n", NEUTRAL)
    state = reading.moves[-1].state
    assert (state.feed, state.speed, state.limit, state.tool, state.turning) == (None, None, None, "", False)
    assert state.spinning


def test_many_problems_stop_at_twenty():
    with pytest.raises(InputError) as caught:
        read_program("G5\n" * 50, NEUTRAL)
    assert len(caught.value.problems) == 20


@settings(max_examples=200, deadline=None)
@given(st.text("GXZIKRFSTM0123456789.-+ ()\n%;#=", max_size=60))
def test_any_text_is_read_or_refused(text):
    try:
        read_program(text, NEUTRAL)
    except InputError as error:
        assert error.problems  # noqa: PT017


def test_words_are_split():
    assert words_of("G01X-.5 Z+3.") == [("G", "01"), ("X", "-.5"), ("Z", "+3.")]
    assert words_of("LIMS=2000 CR=.4 DIAMON") == [("LIMS=", "2000"), ("CR=", ".4"), ("DIAMON", "")]
    for text in ("X=3", "DIAMONX1.", "X1.2.3", "X", "LIMS=", "X--1.", "X1.e3"):
        with pytest.raises(ValueError, match="no word"):
            words_of(text)


# writing and reading back


@pytest.mark.parametrize("words", [NEUTRAL, INCH, CENTRES], ids=["mm", "inch", "centres"])
@pytest.mark.parametrize("name", EXAMPLES)
def test_what_is_read_back_is_the_path(name, words):
    """Every end within the rounding of its word."""
    path = tool_path(example_job(name))
    moves = read_program(write_program(example_job(name), path, words), words).moves
    ends = [p for m in path.moves for p in (m.piece.start, m.piece.end)]
    for move in moves:
        near = min(hypot(move.piece.end[0] - x, move.piece.end[1] - z) for x, z in ends)
        assert near < 0.00075
    assert sum(m.piece.length for m in moves) == pytest.approx(sum(m.piece.length for m in path.moves), rel=1e-4)
    assert sorted({round(m.state.feed, 3) for m in moves if not m.rapid}) == [0.08, 0.15]


@settings(max_examples=100, deadline=None)
@given(
    st.sampled_from([NEUTRAL, CENTRES]),
    st.floats(0.2, 30),
    st.floats(-pi, pi),
    st.floats(0.1, 2.0),
    st.sampled_from([1, -1]),
)
def test_an_arc_comes_back_as_it_was(words, radius, angle, turn, sense):
    centre = (40.0, -20.0)
    whole = Arc((centre[0] + radius, centre[1]), (0.0, 0.0), centre, 1.0)
    start, end = ((whole.centre[0] + radius * c, whole.centre[1] + radius * s) for c, s in turned(angle, sense * turn))
    arc = Arc(start, end, centre, sense * turn)
    path = ToolPath((Move(arc, 0.1, "finish"),), {})
    (move,) = read_program(write_program(job(1), path, words), words).moves[1:]
    if isinstance(move.piece, Arc):
        for share in (0.25, 0.5, 0.75):
            assert move.piece.at(share) == pytest.approx(arc.at(share), abs=0.003)
        assert (move.piece.turn > 0) == (sense > 0)
    else:
        assert radius * turn < 0.1


def turned(angle, turn):
    return [(cos(angle), sin(angle)), (cos(angle + turn), sin(angle + turn))]


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_part_says_all_it_needs(name):
    """From its number on: modes, retreat, tool, offset, limit, a fixed speed, then Z, X, and the surface speed."""
    boring = example_job(name)
    text, limit = program(boring).text, f"G92 S{boring.cutting.spindle_limit:.0f}"
    parts = re.split(r"^(?=N\d+ \()", text, flags=re.MULTILINE)
    assert [p.split(" ")[0] for p in parts[1:]] == [f"N{100 * i}" for i in range(1, len(parts))]
    assert "(ROUGHING)" in parts[1]
    assert "(FINISH)" in text
    for part in parts[1:]:
        words = ("G21", "G28 W0.", "G28 U0.", "T0", "G54", limit, "G97 S", "M3", "M8", "G0 Z", "G0 X", "G96 S", "F0.")
        order = [part.index(word) for word in words]
        assert order == sorted(order)
        assert part.index("G0 Z") < part.index("\nG1 ")
        ends = [part.rindex(word) for word in ("G0 Z", "G97 S", "G28 W0.", "G28 U0.")]
        assert ends == sorted(ends)
    assert parts[0].rstrip().splitlines()[-1].startswith("M0 (CHECK THE GAUGE")
    assert parts[-1].rstrip().splitlines()[-4:] == ["M9", "M5", "M30", "%"]


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_program_started_at_a_part_reads_alone(name):
    """What a person runs again after a stop: the text from that number on, with the head's unit and nothing else."""
    text = program(example_job(name)).text
    whole = read_program(text, NEUTRAL)
    for start in re.finditer(r"^N\d+ \(", text, flags=re.MULTILINE):
        alone = read_program(text[start.start() :], NEUTRAL)
        before = text[: start.start()].count("\n")
        theirs = [m for m in whole.moves if m.line > before]
        assert [m.piece for m in alone.moves] == [m.piece for m in theirs]
        assert [replace(m.state, spinning=False) for m in alone.moves] == [
            replace(m.state, spinning=False) for m in theirs
        ]


def test_a_feed_and_a_place_are_said_once_in_a_part():
    text = program(example_job("gland-flange")).text
    assert text.count("F0.150") == 1
    assert text.count("F0.080") == text.count("G96") - 1
    for before, line in pairwise(text.splitlines()):
        assert line != before or line.startswith("M0")


def test_comments_are_plain_and_short():
    made = replace(job(1), title="Größe Ø60 (rechts); 5 µm × 2 " + "x" * 100, comments=("a\nG0 X0.",))
    text = program(made).text
    (title,) = [line for line in text.splitlines() if "DIA 60" in line]
    assert title.startswith("(GROSSE DIA 60 RECHTS 5 UM X 2")
    assert len(title) <= 74
    assert "(A G0 X0.)" in text


def test_block_numbers_and_semicolons():
    words = dialect(layout={"block_step": 10, "comment": ";", "upper_case": False})
    text = program(job(1), words).text
    assert "\nN10 G21" in text
    assert re.search(r"\nN\d+0 ; finish\nN\d+0 G21", text)
    assert "(" not in text
    numbers = [int(n) for n in re.findall(r"^N(\d+)", text, re.MULTILINE)]
    assert numbers == [10 * i for i in range(1, len(numbers) + 1)]


def test_a_control_with_x_as_a_radius_is_told_to_take_half_of_the_difference():
    made = replace(job(1), cutting=replace(CUTTING, semi_allowance=0.1))
    assert "(X IS A RADIUS HERE: ENTER HALF OF THE DIFFERENCE IN DIAMETER)\nM0" in program(made, "radius-x").text
    assert "RADIUS HERE" not in program(made).text


def test_the_spindle_limit_is_never_rounded_up():
    made = replace(job(1), cutting=replace(CUTTING, spindle_limit=1234.9))
    assert "G92 S1234\n" in program(made).text
    slow = replace(made, limits=replace(made.limits, max_speed=800.0))
    assert "G92 S800\n" in program(slow).text


def test_a_fixed_speed():
    text = program(replace(job(1), cutting=replace(CUTTING, fixed_speed=640.0))).text
    assert "G97 S640 M3" in text
    assert "G96" not in text
    assert set(re.findall(r"G97 S\d+", text)) == {"G97 S640"}


def test_a_feed_too_small_for_its_places_is_refused():
    words = dialect(numbers={"feed_decimals": 1})
    with pytest.raises(InputError, match="is 0 with 1 decimal places"):
        program(replace(job(1), cutting=replace(CUTTING, finish_feed=0.04)), words)


def test_the_word_of_a_tool():
    made = job(1).tool
    assert tool_text(NEUTRAL, made) == "T0505"
    assert tool_text(NEUTRAL, replace(made, offset=12)) == "T0512"
    assert tool_text(dialect(words={"tool": "M6 T$tool"}), made) == "T05"
    assert tool_text(dialect(words={"tool": "T$tool D$offset"}), replace(made, offset=1)) == "T05 D01"


def test_a_limit_beside_the_surface_speed():
    words = dialect(words={"limit": "", "surface_speed": "G96 D$limit S$speed"})
    text = write_program(job(1), tool_path(job(1)), words)
    assert "G96 D1500 S120\n" in text
    assert {m.state.limit for m in read_program(text, words).moves} == {None, 1500.0}


# templates


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[numbers\n", "Expected"),
        ("[colour]\n", "[colour] is not known"),
        ("[numbers]\nfeet = 3\n", "feet is not known"),
        ("[numbers]\nx_decimals = 3.5\n", "3.5 should be like 3"),
        ('[numbers]\nunit = "cm"\n', '"mm" or "inch", not "cm"'),
        ("[numbers]\nx_decimals = 2\n", "2 places in mm round a position"),
        ('[numbers]\nunit = "inch"\nx_decimals = 3\n', "3 places in inch"),
        ('[numbers]\narcs = "C"\n', '"R" or "CR=" or "IK"'),
        ('[numbers]\nx = "half"\n', '"diameter" or "radius"'),
        ("[layout]\nblock_step = -10\n", "block_step: -10"),
        ('[layout]\ncomment = "/*"\n', '"()" or ";"'),
        ('[words]\nlimit = ""\n', "no word, or two, write the spindle limit"),
        ('[words]\nsurface_speed = "G96 S$speed LIMS=$limit"\n', "no word, or two, write the spindle limit"),
        ('[words]\nlimit = "G50 S$most"\n', "is not what this key is for"),
        ('[words]\nfeed_per_turn = ""\n', "is not what this key is for"),
        ('[words]\ntool = ""\n', "is not what this key is for"),
        ("[words]\nretreat = []\n", "is no way to the machine's own far point"),
        ("numbers = 1", "[numbers] must be a table, with its keys below it; found 1"),
        ("text = []", "[text] must be a table"),
        ("words = nan", "[words] must be a table"),
        ("name = 7", "name: must be text; found 7"),
        ("[text]\nheader = 7", "header: 7 should be like"),
        ("[text]\nheadr = 'x'", "headr is not known"),
        ("[words]\npassed_over = 1", "passed_over: must be a list of words; found 1"),
        ("[words]\npassed_over = 'G54'", "passed_over: must be a list of words"),
        ("[words]\npassed_over = [54]", "passed_over: must be a list of words"),
        (f"a = {'[' * 20_000}", "program template: "),
    ],
)
def test_a_wrong_template_is_refused_in_words(text, words):
    with pytest.raises(InputError) as caught:
        parse_dialect(text)
    assert words in str(caught.value)


def in_text(words, part, old, new):
    text = getattr(words.text, part)
    assert old in text
    return replace(words, text=replace(words.text, **{part: text.replace(old, new)}))


def test_a_template_that_cannot_be_read_back_is_refused():
    words = in_text(NEUTRAL, "part", "$limit", "$limit\nM42")
    with pytest.raises(InputError, match="M42 is not known here"):
        program(job(1), words)
    passed = replace(words, words=replace(words.words, passed_over=("M42",)))
    assert "M42" in program(job(1), passed).text


def test_a_name_in_the_frame_that_is_none():
    for part in ("header", "part", "part_end", "footer"):
        with pytest.raises(InputError, match="colour"):
            program(job(1), in_text(NEUTRAL, part, "\n", "\n$colour\n"))


FRAME = ("header", "part", "part_end", "measure", "footer")
UNSAFE_BLOCKS = (
    "G10 L2 P1 X0. Z-5.", "G52 Z-5.", "G68 R5.", "M98 P1", "M99", "G91", "G41", "G92 X0. Z0.", "G0 Z-50.", "G55",
     "T0101", "G92 S9999", "G96 S500", "G4 X1.", "M4", "G20", "M1", "G17", "G53 G0 Z-100.", "G28 X0. Z0.", "M8 M3",
     "(A) G0 Z-50.", "G94", "/M8", "G28 W0.",
)  # fmt: skip


@pytest.mark.parametrize(
    ("part", "block"),
    # Every block in one part of the frame, every part with some; all with all in a long run.
    [pytest.param(part, block, marks=() if (at - turn) % len(FRAME) == 0 else pytest.mark.long)
     for at, block in enumerate(UNSAFE_BLOCKS) for turn, part in enumerate(FRAME)],
)  # fmt: skip
def test_nothing_else_slips_in_through_the_frame(part, block):
    """Wherever it stands between the lines of a template's text."""
    made = replace(job(1), cutting=replace(CUTTING, semi_allowance=0.1))
    path, lines = tool_path(made), getattr(NEUTRAL.text, part).strip("\n").split("\n")
    for at in range(len(lines) + 1):
        text = "\n".join([*lines[:at], block, *lines[at:]])
        words = replace(NEUTRAL, text=replace(NEUTRAL.text, **{part: text}))
        assert not prove(write_program(made, path, words), made, words).passed


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("limit", "G0 G92 S$limit Z50. X80."), ("limit", "G92 S$limit Z50."), ("limit", "G92 S$limit M3"),
        ("limit", "S$limit"), ("limit", "G10 S$limit"), ("limit", "G50 S$limit X0."), ("limit", "G96 S$limit"),
        ("coolant_on", "G28"), ("coolant_on", "G28 U0."), ("coolant_on", "M3"), ("coolant_on", "M98 P1"),
        ("coolant_off", "G28 W0."), ("end", "M99"), ("end", "M98"), ("end", "M0"), ("end", ""), ("stop", "M1"),
        ("stop", "M30"), ("stop", ""), ("spindle_on", "M5"), ("spindle_on", "M3 G1"), ("spindle_off", "M3"),
        ("spindle_off", "M19"), ("spindle_off", ""), ("surface_speed", "G97 S$speed"), ("surface_speed", "G96 S100"),
        ("surface_speed", "G96 S$limit"), ("fixed_speed", "G96 S$speed"), ("tool", "T0505"), ("tool", "T$tool X0."),
        ("tool", "G28 U0. T$tool"), ("work_offset", "G92"), ("work_offset", "G53"), ("work_offset", "G54 X1."),
        ("work_offset", "G52"), ("plane", "G17"), ("plane", "G68"), ("absolute", "G91"), ("no_compensation", ""),
        ("no_compensation", "G41"), ("feed_per_turn", "G94"), ("feed_per_turn", "G98"), ("metric", "G20"),
        ("inch", "G21"), ("metric", ""), ("diameter", "DIAMOF"), ("diameter", "G8"), ("diameter", "G90"),
        ("metric", "G21 (X"), ("metric", "G21\nG28 U0."),
    ],
)  # fmt: skip
def test_a_key_takes_only_words_of_its_kind(key, text):
    changed = f'name = "t"\n[words]\n{key} = {json.dumps(text)}\n'
    with pytest.raises(InputError, match=rf"{key}: "):
        parse_dialect(changed)


@pytest.mark.parametrize(
    "word",
    ["G10", "G10 L2 P1 X1.", "G52", "G68", "M98", "M98 P100", "M5", "M3", "G97", "G54", "G91", "G42", "G28", "G00",
     "G81", "M99", "M0", "M30", "M6", "", "X5.", "M41 X5.", "G4", "M45", "(", "O5", "N1"],
)  # fmt: skip
def test_only_harmless_words_are_passed_over(word):
    parse_dialect('name = "t"\n[words]\npassed_over = ["M41", "m42"]\n'.replace("m42", "M42"))
    with pytest.raises(InputError, match="passed_over: "):
        parse_dialect(f'name = "t"\n[words]\npassed_over = [{json.dumps(word)}]\n')


@pytest.mark.parametrize(
    ("blocks", "good"),
    [
        (["G28 W0.", "G28 U0."], True), (["G28 U0 W0"], True), (["G53 G0 X0. Z0."], True), (["G0 G53 Z-5. "], False),
        (["G53 G0 Z-5.", "G53 G0 X-10."], True), (["G91 G28 X0. Z0.", "G90"], True), (["G91 G28 X0. Z0."], False),
        (["G91 G28 X0.", "G91 G28 Z0.", "G90"], True), (["G91 G28 X0.", "G53 G0 Z0.", "G90"], False),
        (["G28 X0. Z0."], False), (["G28 U5. W0."], False), (["G28 U0."], False), (["G28"], False), (["G90"], False),
        (["G28 U0.", "G28 U0.", "G28 W0."], False), (["G53 G1 X0. Z0."], False), (["G53 G0 X300 Z500"], False),
        (["G0 X300. Z500."], False), (["G53 X0. Z0."], False), (["M98 P1"], False), ([], False),
        (["G28 U0. W0. M5"], False),
    ],
)  # fmt: skip
def test_a_retreat_goes_to_the_far_point_and_nowhere_else(blocks, good):
    text = f'name = "t"\n[words]\nretreat = {json.dumps(blocks)}\n'
    if good:
        assert parse_dialect(text).words.retreat == tuple(blocks)
        return
    with pytest.raises(InputError, match="retreat: "):
        parse_dialect(text)


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        ('feed_per_turn = "G99"', "beside G99, G90 is a turning cycle"),
        ('feed_per_turn = "G99"\nabsolute = ""', "beside G99, G92 is a threading cycle"),
        ('absolute = ""', "beside G95 it must be said"),
        ('feed_per_turn = "G99"\nabsolute = ""\nlimit = "G50 S$limit"\nmetric = "G71"', "G70 and G71 are cycles"),
    ],
)
def test_words_that_mean_other_things_beside_each_other(words, problem):
    with pytest.raises(InputError, match=problem):
        parse_dialect(f'name = "t"\n[words]\n{words}\n')


def test_a_missing_template_file(tmp_path):
    with pytest.raises(InputError, match=r"none\.toml"):
        load_dialect(tmp_path / "none.toml")


# a second reader


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_general_parser_reads_the_same_words(name):
    """gcodeparser knows no lathe: each motion word with what stands after it, comments after a semicolon."""
    parser = pytest.importorskip("gcodeparser")
    words = dialect(layout={"comment": ";"}, words={"retreat": ("G28 W0", "G28 U0")})
    text = program(example_job(name), words).text
    theirs = [(one.line_index + 1, one.command_str, one.params) for one in parser.parse_gcode_lines(text)]
    motions = [(line, params) for line, code, params in theirs if code in ("G0", "G1", "G2", "G3")]
    ours = {move.line: move for move in read_program(text, words).moves}
    assert {line for line, _ in motions} >= set(ours)
    assert len(motions) - len(ours) == text.count("T0")  # the way in along Z, in every part
    x = z = feed = None
    for line, params in motions:
        x, z, feed = params.get("X", x), params.get("Z", z), params.get("F", feed)
        if line not in ours:
            continue
        move = ours[line]
        assert move.piece.end == (x / 2, z)
        assert move.rapid or move.state.feed == feed
        if "R" in params:
            assert isinstance(move.piece, Arc)
            assert move.piece.radius == pytest.approx(params["R"], abs=1e-9)
    codes = {code for _, code, _ in theirs}
    assert {"G21", "G18", "G90", "G40", "G95", "G96", "M0", "M3", "M8", "M9", "M5", "M30"} <= codes
    assert {"S": int(example_job(name).cutting.spindle_limit)} in [p for _, code, p in theirs if code == "G92"]


@pytest.mark.parametrize("template", ["text = 3", "numbers = 3", "words = []", "[words]\nstart = 3"])
def test_a_template_of_another_shape_is_refused_in_words(template):

    with pytest.raises(InputError):
        parse_dialect(template)

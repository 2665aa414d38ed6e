"""Words: writing them, reading them back, and templates."""

import re
from dataclasses import replace
from itertools import pairwise
from math import cos, hypot, pi, sin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_program_jobs import CUTTING, EXAMPLES, example_job, job

from heldtrue.errors import InputError
from heldtrue.program.dialect import load_dialect, parse_dialect, split_words
from heldtrue.program.front import program
from heldtrue.program.geometry import Arc, Line
from heldtrue.program.path import Move, ToolPath, tool_path
from heldtrue.program.read import read_program, tool_number
from heldtrue.program.write import write_program

NEUTRAL = load_dialect()
HEAD = "G21 G18 G90 G40 G95\nT0505\nG92 S1000\nG96 S100 M3\nG0 X60.000 Z5.000\n"


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
        "g01 x50. z0. f0.2",
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
    text = HEAD.replace("G21", "G20").replace("X60.000 Z5.000", "X2. Z.5") + "G1 Z0. F.01\nM30"
    move = read_program(text, NEUTRAL).moves[1]
    assert move.piece.start == pytest.approx((25.4, 12.7))
    assert move.state.feed == pytest.approx(0.254)
    assert move.state.speed == pytest.approx(30.48)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("G1 X50 Z0.", "X50 has no decimal point"),
        ("G1 X50. X51.", "X stands twice"),
        ("G0 G1 X50.", "two motions"),
        ("G1 X50. I2.", "I on a straight move"),
        ("G2 X50. Z-5.", "an arc without R, I or K"),
        ("G2 X50. Z-5. R5. I1.", "an arc with R and with I or K"),
        ("G2 X60. Z5. R5.", "ends where it starts"),
        ("G2 X50. Z-15. R5.", "cannot span"),
        ("G2 X40. Z5. I-9. K0.", "from its centre and ends"),
        ("G2 X50. Z0. I-5. K0.", "more than half a turn"),
        ("G2 X50. Z-5. R-9.", "more than half a turn"),
        ("G4 X1.", "G4 is not known"),
        ("G71 U1. R1.", "G71 is not known"),
        ("M98 P1", "M98 is not known"),
        ("G1 U1.", "the word U1. is not known here"),
        ("#1 = 5", '"#1 = 5" is no word'),
        ("G1 X=5", "is no word"),
        ("G92", "no spindle limit"),
        ("G96 S0", "S0 must be above 0"),
        ("G20", "the unit changes"),
        ("M30\nG0 X1.", "after the end"),
    ],
)
def test_what_is_not_understood_is_refused_with_its_line(body, words):
    with pytest.raises(InputError) as caught:
        read_program(HEAD + body + "\n", NEUTRAL)
    assert words in str(caught.value)
    assert re.match(r"line [67]: ", str(caught.value))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("G21\nX5. Z1.", "without G0, G1, G2 or G3"),
        ("G0 X5. Z1.", "before the unit is set"),
        ("G21\nG0 X5.", "the first move must be a rapid to X and Z"),
        ("G21\nG1 X5. Z1.", "the first move must be a rapid to X and Z"),
    ],
)
def test_where_the_tool_stands_must_be_known(text, words):
    with pytest.raises(InputError, match=words):
        read_program(text, NEUTRAL)


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
    assert split_words("G01X-.5 Z+3.") == [("G", "01"), ("X", "-.5"), ("Z", "+3.")]
    with pytest.raises(ValueError, match="="):
        split_words("X=3")


# writing and reading back


@pytest.mark.parametrize("words", [NEUTRAL, INCH, CENTRES], ids=["mm", "inch", "centres"])
@pytest.mark.parametrize("name", EXAMPLES)
def test_what_is_read_back_is_the_path(name, words):
    """Every end within the rounding of its word."""
    path = tool_path(example_job(name))
    moves = read_program(write_program(example_job(name), path, words), words).moves[1:]
    ends = [m.piece.end for m in path.moves]
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
    path = ToolPath(start, (Move(arc, 0.1, "finish"),), {})
    (move,) = read_program(write_program(job(1), path, words), words).moves[1:]
    if isinstance(move.piece, Arc):
        for share in (0.25, 0.5, 0.75):
            assert move.piece.at(share) == pytest.approx(arc.at(share), abs=0.003)
        assert (move.piece.turn > 0) == (sense > 0)
    else:
        assert radius * turn < 0.1


def turned(angle, turn):
    return [(cos(angle), sin(angle)), (cos(angle + turn), sin(angle + turn))]


def test_the_head_holds_limit_before_speed_and_stops_before_moves():
    boring = example_job("gland-flange")
    text, limit = program(boring).text, f"G92 S{boring.cutting.spindle_limit:.0f}"
    order = [text.index(word) for word in ("G21", "T0505", "M0", limit, "G96 S120 M3", "G0 X", "M9", "M5", "M30")]
    assert order == sorted(order)


def test_a_feed_and_a_place_are_said_once():
    text = program(example_job("gland-flange")).text
    assert text.count("F0.150") == 1
    assert text.count("F0.080") == 1
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
    assert "; roughing along z" in text
    assert "(" not in text


def test_the_spindle_limit_is_never_rounded_up():
    made = replace(job(1), cutting=replace(CUTTING, spindle_limit=1234.9))
    assert "G92 S1234\n" in program(made).text
    slow = replace(made, limits=replace(made.limits, max_speed=800.0))
    assert "G92 S800\n" in program(slow).text


def test_a_fixed_speed():
    text = program(replace(job(1), cutting=replace(CUTTING, fixed_speed=640.0))).text
    assert "G97 S640 M3" in text
    assert "G96" not in text


def test_a_feed_too_small_for_its_places_is_refused():
    words = dialect(numbers={"feed_decimals": 1})
    with pytest.raises(InputError, match="is 0 with 1 decimal places"):
        program(replace(job(1), cutting=replace(CUTTING, finish_feed=0.04)), words)


def test_the_word_of_a_tool():
    made = job(1).tool
    assert tool_number(NEUTRAL, made) == "0505"
    assert tool_number(NEUTRAL, replace(made, offset=12)) == "0512"
    assert tool_number(dialect(words={"tool": "M6 T$tool"}), made) == "05"
    assert tool_number(dialect(words={"tool": ""}), made) == ""


def test_a_limit_beside_the_surface_speed():
    words = dialect(words={"limit": "", "surface_speed": "G96 D$limit S$speed"})
    made = program(job(1), words)
    assert "G96 D1500 S120 M3" in made.text
    assert made.proof.top_speed <= 1500


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
        ('[numbers]\nunit = "inch"\nx_decimals = 4\n', "4 places in inch"),
        ('[numbers]\narcs = "C"\n', '"R" or "IK"'),
        ('[layout]\ncomment = "/*"\n', '"()" or ";"'),
        ('[words]\nlimit = ""\n', "no word writes the spindle limit"),
        ('[words]\nlimit = "G50 S$most"\n', "$most is not known"),
        ('[words]\nfeed_per_turn = ""\n', "must not be empty"),
        ("numbers = 1", "[numbers] must be a table, with its keys below it; found 1"),
        ("text = []", "[text] must be a table"),
        ("words = nan", "[words] must be a table"),
        ("name = 7", "name: must be text; found 7"),
        ("[text]\nheader = 7", "header: must be text; found 7"),
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


def test_a_template_that_cannot_be_read_back_is_refused():
    words = replace(NEUTRAL, header=NEUTRAL.header.replace("$tool", "$tool\nG54"))
    with pytest.raises(InputError, match="G54 is not known; put it in the template's words"):
        program(job(1), words)
    passed = replace(words, words=replace(words.words, passed_over=("G54",)))
    assert "G54" in program(job(1), passed).text


def test_a_name_in_the_header_that_is_none():
    with pytest.raises(InputError, match="colour"):
        program(job(1), replace(NEUTRAL, header="$colour\n" + NEUTRAL.header))


def test_a_missing_template_file(tmp_path):
    with pytest.raises(InputError, match=r"none\.toml"):
        load_dialect(tmp_path / "none.toml")


# a second reader


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_general_parser_reads_the_same_words(name):
    """gcodeparser knows no lathe: each motion word with what stands after it, comments after a semicolon."""
    parser = pytest.importorskip("gcodeparser")
    words = dialect(layout={"comment": ";"})
    text = program(example_job(name), words).text
    theirs = [(one.line_index + 1, one.command_str, one.params) for one in parser.parse_gcode_lines(text)]
    motions = [(line, params) for line, code, params in theirs if code in ("G0", "G1", "G2", "G3")]
    ours = read_program(text, words).moves
    assert [line for line, _ in motions] == [move.line for move in ours]
    x = z = feed = None
    for (_, params), move in zip(motions, ours, strict=True):
        x, z, feed = params.get("X", x), params.get("Z", z), params.get("F", feed)
        assert move.piece.end == (x / 2, z)
        assert move.rapid or move.state.feed == feed
        if "R" in params:
            assert isinstance(move.piece, Arc)
            assert move.piece.radius == pytest.approx(params["R"], abs=1e-9)
    codes = {code for _, code, _ in theirs}
    assert {"G21", "G18", "G90", "G40", "G95", "G96", "M0", "M3", "M8", "M9", "M5", "M30"} <= codes
    assert {"S": int(example_job(name).cutting.spindle_limit)} in [p for _, code, p in theirs if code == "G92"]


@pytest.mark.parametrize(
    ("line", "changed"),
    [
        ('absolute = "G90"', 'absolute = "G91"'),
        ('plane = "G18"', 'plane = "G17"'),
        ('no_compensation = "G40"', 'no_compensation = "G42"'),
        ('feed_per_turn = "G95"', 'feed_per_turn = "G94"'),
        ("passed_over = []", 'passed_over = ["G91"]'),
        ("passed_over = []", 'passed_over = ["G42"]'),
        ("passed_over = []", 'passed_over = ["G28", "G00"]'),
        ("passed_over = []", 'passed_over = ["G81"]'),
    ],
)
def test_a_template_that_means_the_opposite_is_refused(line, changed):
    from importlib.resources import files

    from heldtrue.errors import InputError

    text = files("heldtrue.program").joinpath("dialects/neutral.toml").read_text("utf-8")
    assert line in text
    parse_dialect(text.replace("passed_over = []", 'passed_over = ["G54", "M41"]'))
    with pytest.raises(InputError, match=r"means the opposite|moves the tool"):
        parse_dialect(text.replace(line, changed))


@pytest.mark.parametrize("template", ["text = 3", "numbers = 3", "words = []", "[words]\nstart = 3"])
def test_a_template_of_another_shape_is_refused_in_words(template):

    with pytest.raises(InputError):
        parse_dialect(template)

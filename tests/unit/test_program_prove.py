"""The proof: what it says of words, depth, holder and shape, with place and line."""

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest
import second_reader
import shapely
from conftest import longer
from test_program_jobs import CUTTING, EXAMPLES, WIDE, example_job, job, tool

from heldtrue.errors import GeometryError, InputError, ProofError
from heldtrue.program.dialect import load_dialect
from heldtrue.program.front import program, proved
from heldtrue.program.geometry import Line
from heldtrue.program.job import KeepOut, MachineLimits
from heldtrue.program.path import tool_path
from heldtrue.program.prove import prove, worst_of
from heldtrue.program.simulate import Simulation, Step, runs_of
from heldtrue.program.sweep import FINE_MM, Cutter, Holder

NEUTRAL = load_dialect()


@pytest.fixture(scope="module")
def plain():
    return program(job(1)).text


def findings(text, made):
    """The first of each kind."""
    return {f.code: f for f in reversed(prove(text, made).findings)}


@pytest.mark.parametrize("name", EXAMPLES)
def test_what_a_proof_holds(name):
    made = example_job(name)
    written = program(made)
    proof = written.proof
    assert proof.findings == ()
    assert proof.worst_deviation <= 0.001
    assert proof.lines == len(written.text.splitlines())
    assert proof.minutes == pytest.approx(proof.cutting_minutes + proof.rapid_minutes)
    assert 0 < proof.top_speed <= made.cutting.spindle_limit
    assert 0 < proof.deepest <= made.cutting.pass_depth + 0.01
    (ring,) = [r for r in proof.outline if len(r) > 6]
    left = shapely.Polygon(ring)
    assert left.difference(shapely.Polygon(made.metal).buffer(1e-6)).area < 1e-9
    line = shapely.LineString(made.finished)
    on_it = sum(line.distance(shapely.Point(p)) < 0.002 for p in ring)
    assert on_it >= len(made.finished) - 2
    for corner in proof.corners:
        assert corner.radius == made.tool.nose_radius
        assert line.distance(shapely.Point(corner.at)) < 1e-9


def test_a_gouge_has_its_depth_place_and_line(plain):
    lines = plain.splitlines()
    at = max(i for i, line in enumerate(lines) if re.match(r"G1 Z-19\.600", line) or line == "G1 Z-20.000")
    deep = "\n".join([*lines[:at], lines[at].replace("Z-20.000", "Z-20.100"), *lines[at + 1 :]]) + "\n"
    found = findings(deep, job(1))["gouge"]
    assert found.value == pytest.approx(0.1, abs=1e-3)
    assert found.limit == 0.001
    assert found.at[1] == pytest.approx(-20.0, abs=0.02)
    assert found.line == at + 1
    assert prove(deep, job(1)).gouge == pytest.approx(0.1, abs=1e-3)


def test_a_gouge_of_the_edge_alone_has_its_line_too():
    """A pass written as a radius runs inside the jaw: the nose in the air, the edge through what must stay."""
    made = example_job("wear-ring")
    lines = program(made).text.splitlines()
    at = next(i for i, line in enumerate(lines) if line == "G0 X230.194")
    found = findings("\n".join([*lines[:at], "G0 X115.097", *lines[at + 1 :]]) + "\n", made)["gouge"]
    assert found.message.startswith("the cut goes")
    assert found.value == pytest.approx(4.96, abs=0.01)
    assert found.line == at + 2


def test_metal_left_over_has_its_height(plain):
    shifted = re.sub(r"\(FINISH\).*", lambda m: re.sub(r"X(60\.000)", "X59.900", m[0]), plain, flags=re.DOTALL)
    found = findings(shifted, job(1))
    assert found["left_over"].value == pytest.approx(0.05, abs=2e-3)
    assert "of metal is left over at x " in found["left_over"].message


def test_a_deep_cut_names_its_depth(plain):
    shallow = replace(job(1), cutting=replace(CUTTING, pass_depth=1.0))
    found = findings(plain, shallow)["depth"]
    assert found.value == pytest.approx(1.2)  # 7.8 mm in 6 passes are 1.3, but no deeper is looked than 0.2 too much
    assert found.limit == 1.0
    assert "at least 1.200 mm deep" in found.message
    assert "allowed are 1.000 mm" in found.message


def test_travel_on_every_side(plain):
    for limits, word in (
        (MachineLimits((-500.0, 29.0), (-500.0, 500.0), 4000.0), "the travel ends at 29"),
        (MachineLimits((25.0, 500.0), (-500.0, 500.0), 4000.0), "the travel ends at 25"),
        (MachineLimits((-500.0, 500.0), (-19.0, 500.0), 4000.0), "the travel ends at -19"),
        (MachineLimits((-500.0, 500.0), (-500.0, 1.0), 4000.0), "the travel ends at 1"),
    ):
        assert word in findings(plain, replace(job(1), limits=limits))["travel"].message
    assert prove(plain, replace(job(1), limits=WIDE)).passed


@pytest.mark.parametrize(
    ("x", "z", "hit"), [(27.0, -21.0, True), (27.0, -24.0, False), (33.0, -10.0, True), (36.0, -10.0, False)]
)
def test_a_thing_in_the_way_is_found_by_what_it_touches(plain, x, z, hit):
    """A square of 6 mm about (x, z), under the floor or behind the wall: touched where it reaches beyond the line."""
    thing = KeepOut("bolt 7", ((x - 3.5, z - 3.5), (x + 3.5, z - 3.5), (x + 3.5, z + 3.5), (x - 3.5, z + 3.5)))
    found = findings(plain, replace(job(1), keep_out=(thing,)))
    assert ("keep_out" in found) == hit
    if hit:
        assert "runs into bolt 7" in found["keep_out"].message


def test_a_thick_bar_rubs(plain):
    thick = replace(job(1), tool=replace(tool(1), shank=((-0.035, -0.398), (3.0, 2.0), (3.0, 70.0), (-12.0, 70.0))))
    assert "the insert's flank or the holder runs into metal" in findings(plain, thick)["holder_in_metal"].message


@pytest.mark.parametrize("by", [0.0, 0.5])
def test_what_goes_before_the_edge_meets_metal_that_the_same_move_would_cut(by):
    """A hump that the nose comes to only after the holder, in one move across a floor and in many that waver."""
    found = []
    metal = shapely.union_all([shapely.box(0, -60, 60, -43.2), shapely.box(10, -43.2, 14, -42.35)])
    x = np.arange(33.0, 4.9, -by) if by else np.array([33.0, 5.0])
    places = list(zip(x, -42.75 + 1e-4 * (np.arange(len(x)) % 2), strict=True))
    steps = [Step(i, False, Line(a, b), False) for i, (a, b) in enumerate(itertools.pairwise(places))]
    Simulation(example_job("winch-shaft"), metal, len(steps), found.append).run(steps)
    assert "holder_in_metal" in {one.code for one in found}


def test_the_second_reader_sees_what_goes_before_the_edge_too():
    tool = second_reader.Tool(example_job("winch-shaft"))
    x, z = np.meshgrid(np.arange(10.0, 14.0, 0.2), np.arange(-43.1, -42.4, 0.1))
    hump = np.stack([x.ravel(), z.ravel()], axis=1)
    assert tool.first(hump, np.array([[33.0, -42.75], [5.0, -42.75]]))
    assert not tool.first(hump, np.array([[13.0, 4.0], [13.0, -42.75]]))


def test_the_holder_may_follow_the_edge_through_what_it_has_cut():
    found = []
    steps = [Step(0, False, Line((30.0, 4.0), (30.0, -30.0)), False)]
    metal = shapely.box(29.6, -60, 60, 0)
    Simulation(example_job("winch-shaft"), metal, 1, found.append).run(steps)
    assert found == []


@pytest.mark.parametrize("ends", [((3.0, -2.0), (3.0, -9.0)), ((3.0, -2.0), (7.5, 1.5)), ((3.0, -2.0), (3.0, -2.0)),
                                  ((3.0, -2.0), (3.0 + 1e-7, -2.0)), ((3.0, -2.0), (2.0, -2.0))])  # fmt: skip
def test_what_a_tool_covers_on_a_line_is_the_hull_of_its_ends(ends):
    made = example_job("winch-shaft").tool
    cutter, holder = Cutter(made, 1), Holder(made, 1)
    for mine, corners in [
        (cutter.along_lines([Line(*ends)], FINE_MM)[0], shapely.get_coordinates(cutter.at((0.0, 0.0)))),
        (holder.along_lines(0, [Line(*ends)])[0], holder.parts[0]),
    ]:
        hull = shapely.convex_hull(shapely.multipoints(np.vstack([corners + ends[0], corners + ends[1]])))
        assert mine.is_valid
        assert hull.difference(mine.buffer(6e-5)).area == 0
        assert mine.difference(hull.buffer(6e-4)).area == 0


def test_moves_along_one_axis_are_one_run_and_each_keeps_its_line():
    places = [(5.0, 0.0), (5.0, -1.0), (5.0, -3.0), (6.0, -3.0), (6.0, -2.0), (6.0, -4.0), (6.5, -4.5)]
    steps = [Step(10 + i, False, Line(a, b), False) for i, (a, b) in enumerate(itertools.pairwise(places))]
    runs = runs_of(steps)
    assert [len(one.steps) for one in runs] == [2, 1, 1, 1, 1]
    assert runs[0].piece == Line((5.0, 0.0), (5.0, -3.0))
    assert [runs[0].line_at((4.0, z)) for z in (0.5, -0.5, -2.0, -3.5)] == [10, 10, 11, 11]
    assert len(runs_of([replace(one, rapid=i == 1) for i, one in enumerate(steps[:2])])) == 2


@pytest.mark.parametrize(("area", "beside", "far"), [
    (shapely.box(2, -4, 5, 0), shapely.box(0, -9, 9, 0).difference(shapely.box(2, -4, 5, 0)), 1.5),  # a slot left full
    (shapely.Polygon([(0, 0), (1, 0), (0, 1)]), shapely.box(0, 0, 9, 9).boundary, 0.5),  # a corner cut off
    (shapely.box(0, 0, 1, 0.0005), shapely.box(0, -1, 1, 0), 0.0005),
])  # fmt: skip
def test_too_much_is_found_where_no_corner_shows_it(area, beside, far):
    found, at = worst_of(area, beside, 0.001)
    assert found == pytest.approx(far, abs=0.02)
    assert at is not None


def test_beyond_the_axis_the_bar_meets_the_other_side():
    wide = replace(job(1), tool=tool(1, bar=40.0, offset=30.0))
    with pytest.raises(ProofError, match="opposite side of the jaws"):
        program(
            replace(
                wide,
                finished=tuple((x - 15, z) for x, z in wide.finished),
                metal=tuple((x - 15, z) for x, z in wide.metal),
            )
        )


def test_words_and_their_findings(plain):
    for old, new, code, words in (
        ("G92 S1500", "G92 S1600", "spindle", "spindle limit 1600 rev/min, allowed are 1500"),
        ("G97 S819 M3", "G97 S1600 M3", "spindle", "spindle speed 1600 rev/min"),
        ("G97 S819 M3", "G97 S1600 M3", "spindle", "starts without a fixed speed that is allowed"),
        ("G96 S120", "G96 S240", "spindle", "surface speed 240 m/min, planned are 120"),
        ("G96 S120", "G96 S23", "spindle", "surface speed 23 m/min, planned are 120"),
        ("G96 S120\n", "", "spindle", "otherwise than planned"),
        ("G97 S819 M3", "G96 S120 M3", "spindle", "constant surface speed before X is known"),
        ("G97 S819 M3", "G96 S120 M3", "spindle", "starts without a fixed speed"),
        ("G97 S819 M3", "G97 S839", "spindle", "spindle standing"),
        ("G97 S819\n", "", "retreat", "retreats with the spindle at constant surface speed"),
        ("G92 S1500\n", "", "spindle", "the spindle starts before its limit is said"),
        ("G21 G18 G90 G40 G95\n(THE", "G21 G18 G90 G40 G95\nM3\n(THE", "spindle", "starts before its limit"),
        ("G21 G18 G90 G40 G95\n(THE", "G21 G18 G90 G40 G95\nM3\n(THE", "retreat", "before the first retreat"),
        ("M0 (LOOK)\n", "M3\nM0 (LOOK)\n", "stop", "for a person with the spindle turning"),
        ("M5\nM30", "M30", "end", "ends with the spindle turning"),
        ("G28 W0.\nG28 U0.\nM9\n", "M9\n", "end", "ends with the tool not at its retreat"),
        ("G0 Z23.000\nG97", "G0 Z2.000\nG97", "retreat", "the retreat starts at z 2.000"),
        ("M8\nG0 Z23.000", "M8\nG0 Z2.000", "retreat", "comes in at z 2.000 from an unknown x"),
        ("G54\n", "", "mode", "G54 is missing in this part"),
        ("G95", "", "feed", "without the word for feed per turn"),
        (" F0.150", "", "feed", "a feed move without a feed"),
        ("F0.150", "F1.500", "feed", "feed 1.500 mm per turn, planned are 0.15"),
        ("F0.150", "F0.015", "feed", "feed 0.015 mm per turn, planned are 0.15 and no less than 0.03"),
        ("F0.080", "F0.008", "feed", "feed 0.008 mm per turn, planned are 0.08 and no less than 0.016 on the finished"),
        ("F0.080", "F0.150", "feed", "planned are 0.08 on the finished line"),
        ("T0505", "T0506", "tool", "moves tool T0506, planned is T0505"),
        ("G90 ", "", "mode", "G90 is missing in this part, before the tool comes in"),
        ("M0 (LOOK)\n", "", "stop", "0 stops before the first move, planned are 1"),
        ("M30\n%\n", "", "end", "no end word"),
    ):
        assert old in plain
        found = prove(plain.replace(old, new), job(1)).findings
        assert any(f.code == code and words in f.message for f in found), (old, new)


def test_a_program_without_moves():
    assert "no moves" in findings("G21\nM30\n", job(1))["start"].message


def test_many_alike_are_told_five_times(plain):
    proof = prove(plain.replace("T0505", "T0506").replace("G92 S1500", "G92 S1600"), job(1))
    assert sum(f.code == "spindle" for f in proof.findings) == 5
    lines = [f.line for f in proof.findings if f.line is not None]
    assert lines == sorted(lines)
    assert proof.sentences()[0].startswith("line ")


def test_a_failed_proof_has_no_text_and_all_findings(plain):
    made = job(1)
    bad = plain.replace("T0505", "T0506")
    with pytest.raises(ProofError, match="the program is not written: its proof failed") as caught:
        proved(made, bad, tool_path(made), NEUTRAL)
    assert {f.code for f in caught.value.proof.findings} == {"tool"}
    with pytest.raises(InputError, match="cannot be read back"):
        proved(made, plain + "G0 X0.", tool_path(made), NEUTRAL)


def test_an_unsound_job_is_not_proved_against(plain):
    with pytest.raises(GeometryError, match="crosses itself or has no area"):
        prove(plain, replace(job(1), keep_out=(KeepOut("ring", ((0.0, 0.0), (1.0, 1.0))),)))


def test_cells_of_metal_change_nothing(plain):
    """The same program in many moves is cut in cells of metal, and comes out the same."""
    lines, found, at = plain.splitlines(), [], None
    for line in lines:
        match = re.fullmatch(r"(G1) Z(-?[\d.]+)(.*)", line)
        if match and at is not None:
            found += [f"{match[1]} Z{z:.3f}{match[3]}" for z in np.linspace(at, float(match[2]), 200)[1:-1]]
        found.append(line)
        stands = re.search(r"Z(-?[\d.]+)", line.split("(")[0])
        at = float(stands[1]) if stands else at
    short, long = prove(plain, job(1)), prove("\n".join(found) + "\n", job(1))
    assert long.moves > 1000
    assert long.passed
    assert (long.gouge, long.left_over) == (
        pytest.approx(short.gouge, abs=1e-6),
        pytest.approx(short.left_over, abs=1e-6),
    )
    assert long.cutting_minutes == pytest.approx(short.cutting_minutes, rel=1e-6)


def in_pieces(text, pieces, between=()):
    """The same program with its cuts along z in so many pieces, and with lines between those."""
    found, at = [], None
    for line in text.splitlines():
        match = re.fullmatch(r"(G1) Z(-?[\d.]+)(.*)", line)
        if match and at is not None:
            for z in np.linspace(at, float(match[2]), pieces + 1)[1:-1]:
                found += [f"G1 Z{z:.3f}{match[3]}", *(one.format(z=z) for one in between)]
        found.append(line)
        stands = re.search(r"Z(-?[\d.]+)", line.split("(")[0])
        at = float(stands[1]) if stands else at
    return "\n".join(found) + "\n"


@pytest.mark.parametrize(
    ("between", "pieces"),
    [
        ((), 1), ((), 7), (("G0 Z{z:.3f}",), 7), (("G0 X47.000", "G0 X54.400"), 7),
        *longer(((), 200), (("G0 Z{z:.3f}",), 200), (("G0 X47.000", "G0 X54.400"), 200)),
    ],
)  # fmt: skip
def test_a_cut_too_deep_stays_so_in_pieces(plain, pieces, between):
    """Each piece meets only the air that the one before it made: depth counts from before the pass."""
    lines = plain.splitlines()
    first = lines.index("G0 X49.200")
    skipped = "\n".join(lines[:first] + lines[first + 8 :]) + "\n"
    found = {f.code: f for f in prove(in_pieces(skipped, pieces, between), job(1)).findings}
    assert "at least 1.700 mm deep" in found["depth"].message
    if len(between) < 2:
        assert prove(in_pieces(plain, pieces, between), job(1)).passed


def test_a_plunge_in_pieces_is_too_deep(plain):
    """Straight down beside the bore in steps of a hundredth, each of them far within a pass."""
    lines = plain.splitlines()
    first = lines.index("G0 X49.200")
    down = [f"G1 Z{-0.01 * i:.3f}" for i in range(1, 400)]
    spoilt = "\n".join([*lines[:first], "G0 X54.000", *down, "G0 Z3.000", *lines[first:]]) + "\n"
    found = {f.code: f for f in prove(spoilt, job(1)).findings}
    assert found["depth"].limit == 1.5


@pytest.mark.parametrize("way", ["G0 Z-1.000\nG0 X43.800", "G0 Z23.000\nG0 X43.800", "G0 X43.800"])
def test_rapids_keep_off_the_finished_line(plain, way):
    """A rapid to the line or along it takes nothing, but a wear offset would make it cut."""
    last = plain.rindex("G0 Z23.000")
    spoilt = plain[:last] + f"G0 X43.800 Z-19.000\nG0 X60.000 Z-19.000\n{way}\n" + plain[last:]
    found = {f.code: f for f in prove(spoilt, job(1)).findings}
    assert "a rapid runs to the finished line or along it" in found["rapid_in_metal"].message


def test_a_rapid_along_the_whole_wall_and_out_is_none_that_leaves_it(plain):
    last = plain.rindex("G0 Z23.000")
    spoilt = plain[:last] + "G0 X43.800 Z-19.000\nG1 X60.000 Z-19.000\nG0 Z23.000\n" + plain[last:]
    found = {f.code: f for f in prove(spoilt, job(1)).findings}
    assert "a rapid runs to the finished line or along it" in found["rapid_in_metal"].message


def test_a_cut_before_the_stop_that_leaves_less_to_measure_than_is_said_is_refused():
    """A lost X let the pass along the line run 0.02 mm off the size: what was measured at the stop was its cut."""
    work = example_job("gland-flange")
    lines = program(work).text.splitlines()
    start = next(i for i, line in enumerate(lines) if "ALONG THE LINE" in line)
    arc = next(i for i in range(start, len(lines)) if re.match(r"G[23] X\S+ Z\S+ R", lines[i]))
    lines[arc] = re.sub(r" X\S+", "", lines[arc])
    found = prove("\n".join(lines) + "\n", work)
    assert not found.passed
    assert any("is left on a wall to measure" in one.message for one in found.findings)

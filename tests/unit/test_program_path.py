"""Offset of the line, moves of the tool, and what a tool covers: against shapely and by hand."""

from dataclasses import replace
from itertools import pairwise
from math import cos, hypot, inf, pi, sin, sqrt

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from test_program_jobs import CUTTING, EXAMPLES, example_job, job, lines, tool

from heldtrue.errors import GeometryError
from heldtrue.program.geometry import Arc, Line, arc_gaps, distance_to_lines, line_gaps, points_along
from heldtrue.program.nose import main_edge, tip_offset
from heldtrue.program.offset import is_free, offset_line
from heldtrue.program.path import GROUPS, tool_path
from heldtrue.program.roughing import Stops, envelope
from heldtrue.program.stock import Stock
from heldtrue.program.sweep import COARSE_MM, FINE_MM, Cutter, Holder, reach
from heldtrue.program.target import air_side, corners

LINE = [(30.4, 5.0), (30.0, -0.4), (30.0, -20.0), (22.0, -20.0)]


# offset


def test_the_offset_of_an_outside_corner_is_an_arc_about_it_and_of_an_inside_corner_a_meeting():
    first, bend, wall, floor = offset_line(LINE, 0.4)
    assert isinstance(bend, Arc)
    assert bend.centre == (30.0, -0.4)
    assert bend.radius == pytest.approx(0.4)
    assert first.end == pytest.approx(bend.start)
    assert (wall.start, wall.end) == (pytest.approx((29.6, -0.4)), pytest.approx((29.6, -19.6)))
    assert floor.end == pytest.approx((22.0, -19.6))


@settings(max_examples=60, deadline=None)
@given(lines(40.0), st.sampled_from([0.1, 0.4, 0.8, 1.6]))
def test_the_offset_is_the_edge_of_a_buffer(made, radius):
    """Where a nose fits, its way is the boundary of the metal grown by the radius, within the buffer's chords."""
    line = [(made[0][0][0], 20.0), *made[0]]
    line[-1] = (line[-1][0] - 5.0, line[-1][1]) if line[-1][1] == line[-2][1] else (line[-1][0], line[-1][1] - 9)
    try:
        area = air_side(line)
        room = min((c.room for c in corners(line, radius)), default=radius)
        found = offset_line(line, radius)
    except GeometryError:
        return
    if room < radius:
        return
    assert is_free(found, line, radius)
    way = np.array([p for piece in found for p in points_along(piece, 1e-5)])
    wall = shapely.LineString(line)
    assert shapely.distance(shapely.points(way), wall) == pytest.approx(np.full(len(way), radius), abs=2e-5)
    ring = shapely.intersection(wall.buffer(radius, 128).boundary, area.buffer(-radius / 2))
    ours = shapely.LineString(way)
    low, high = way.min(axis=0), way.max(axis=0)
    theirs = shapely.intersection(ring, shapely.box(low[0] - 1e-3, line[-1][1], high[0] + 1e-3, 15.0))
    assert shapely.get_coordinates(theirs).size
    off = shapely.distance(shapely.points(shapely.get_coordinates(theirs)), ours)
    ends = np.hypot(*(shapely.get_coordinates(theirs) - line[-1]).T) > 1.01 * radius
    assert off[ends].max() < 1e-3


def test_a_nose_wider_than_the_room_is_refused():
    groove = [(30.0, 5.0), (30.0, -5.0), (30.5, -5.0), (30.5, -6.0), (29.0, -6.0), (29.0, -20.0)]
    assert not corners(groove, 0.4)[0].room < 0.4
    assert corners(groove, 0.8)[0].room < 0.8


def test_envelope_bridges_an_undercut_along_z():
    line = [(30.0, 0.0), (30.0, -5.0), (31.0, -6.0), (31.0, -8.0), (30.0, -8.0), (20.0, -8.0)]
    bridged = envelope(line)
    assert max(x for x, _ in bridged) == 30.0
    assert (20.0, -8.0) in bridged


def test_stops_are_where_a_circle_meets_the_line():
    stops = Stops(LINE, 0.5, None)
    assert stops.at(25.0) == pytest.approx(-19.5)
    assert stops.at(30.5) == inf
    for x in (29.4, 29.7, 30.2):
        assert shapely.Point(x, stops.at(x)).distance(shapely.LineString(LINE)) == pytest.approx(0.5, abs=1e-6)
    assert Stops(LINE, 0.5, -18.0).at(25.0) == -18.0


# distances


def coordinates(low=-50.0, high=50.0):
    return st.tuples(st.floats(low, high, width=32), st.floats(low, high, width=32))


@settings(max_examples=150, deadline=None)
@given(coordinates(), coordinates(), coordinates(), coordinates())
def test_line_gaps_are_shapelys(a, b, c, d):
    ours = line_gaps(*(np.array([p]) for p in (a, b, c, d)))[0, 0]
    assert ours == pytest.approx(shapely.LineString([a, b]).distance(shapely.LineString([c, d])), abs=1e-6)


@settings(max_examples=150, deadline=None)
@given(
    st.floats(0.2, 20),
    st.floats(-pi, pi),
    st.floats(-5, 5).filter(lambda t: abs(t) > 0.05),
    coordinates(),
    coordinates(),
)
def test_arc_gaps_are_those_of_fine_chords(radius, angle, turn, c, d):
    start = (radius * cos(angle), radius * sin(angle))
    arc = Arc(start, (radius * cos(angle + turn), radius * sin(angle + turn)), (0.0, 0.0), turn)
    ours = arc_gaps(arc, np.array([c]), np.array([d]))[0]
    chords = shapely.LineString(points_along(arc, 1e-5))
    assert ours == pytest.approx(chords.distance(shapely.LineString([c, d])), abs=2e-5)
    assert distance_to_lines(np.array([start]), np.array([c]), np.array([d]))[0, 0] >= ours - 1e-9


def test_reach_of_an_arc_takes_in_its_poles():
    arc = Arc((1.0, 0.0), (-1.0, 0.0), (0.0, 0.0), pi)
    assert reach(arc) == pytest.approx((-1.0, 0.0, 1.0, 1.0))
    assert reach(Arc((1.0, 0.0), (-1.0, 0.0), (0.0, 0.0), -pi)) == pytest.approx((-1.0, -1.0, 1.0, 0.0))


# nose, edge, holder


@pytest.mark.parametrize(("quadrant", "x", "z"), [(1, 1, 1), (2, -1, 1), (3, -1, -1), (4, 1, -1), (5, 0, 1), (6, 1, 0),
                                                  (7, 0, -1), (8, -1, 0), (9, 0, 0)])  # fmt: skip
def test_tip_positions(quadrant, x, z):
    assert tip_offset(tool(1, 0.4, quadrant)) == (0.4 * x, 0.4 * z)


def test_the_main_edge_touches_the_nose_and_leans_as_told():
    (x, z), (u, w) = main_edge(tool(1), 1)
    assert hypot(x, z) == pytest.approx(0.4)
    assert x * (u - x) + z * (w - z) == pytest.approx(0.0, abs=1e-12)
    assert hypot(u - x, w - z) == pytest.approx(6.0)
    assert u < x
    assert w > z
    mirrored = main_edge(tool(-1), -1)
    assert mirrored == ((pytest.approx(-x), pytest.approx(z)), (pytest.approx(-u), pytest.approx(w)))


def moved_drops(cutter, way):
    drop = shapely.union_all([shapely.Point(0, 0).buffer(cutter.radius, 256), shapely.Polygon(cutter.edge)]).convex_hull
    drops = [shapely.transform(drop, lambda p, at=at: p + np.array(at)) for at in way]
    return shapely.union_all([shapely.union_all([a, b]).convex_hull for a, b in pairwise(drops)])


@pytest.mark.parametrize("sagitta", [FINE_MM, COARSE_MM])
@pytest.mark.parametrize(
    "piece",
    [Line((3.0, 4.0), (3.0, -9.0)), Line((3.0, 4.0), (5.0, 3.0)), Line((1.0, 1.0), (1.0, 1.0)),
     Arc((1.0, 0.0), (0.0, 1.0), (0.0, 0.0), pi / 2), Arc((0.3, 0.0), (-0.3, 0.0), (0.0, 0.0), -pi)],
)  # fmt: skip
def test_what_nose_and_edge_cover(piece, sagitta):
    """Never more than is true, and less by no more than the chords; along an arc the edge is off by them both ways."""
    cutter = Cutter(tool(1), 1)
    ours = cutter.covered(piece, sagitta)
    true = moved_drops(cutter, points_along(piece, 1e-6))
    more = 2e-5 if isinstance(piece, Line) else 1.05 * sagitta
    assert ours.difference(true.buffer(more)).area < 1e-9
    assert true.difference(ours.buffer(1.05 * sagitta + 1e-5)).area < 1e-9


def test_a_holder_in_convex_parts_covers_its_outline():
    made = tool(1)
    parts = Holder(made, 1).covered(Line((0.0, 0.0), (0.0, 0.0)))
    shape = shapely.Polygon(made.shank)
    corner = shapely.box(0.0, -0.4, 0.4, 0.0)
    assert shapely.union_all(parts).symmetric_difference(shape.difference(corner)).area < 1e-6
    along = shapely.union_all(Holder(made, 1).covered(Line((0.0, 0.0), (0.0, -30.0))))
    assert along.covers(shapely.Polygon([(x, z - 15.0) for x, z in made.shank]).difference(corner).buffer(-1e-3))


def test_stock_in_cells_is_cut_like_stock_in_one():
    metal = shapely.box(0, 0, 40, 30)
    one, many = Stock(metal, 0), Stock(metal, 400 * 50)
    rng = np.random.default_rng(1)
    for x, z in rng.uniform(0, 40, (40, 2)):
        area = shapely.Point(x, z).buffer(3.0)
        for stock in (one, many):
            bounds = np.array([area.bounds])
            (among,) = stock.ever_near(bounds[:, :2], bounds[:, 2:])
            cells = stock.near(area.bounds[:2], area.bounds[2:], among)
            stock.cut(area, cells)
    assert one.whole().symmetric_difference(many.whole()).area < 1e-6
    box = shapely.box(5, 5, 25, 25)
    assert one.around(box).symmetric_difference(many.around(box)).area < 1e-4
    assert many.ever_near(np.array([[100.0, 100.0]]), np.array([[101.0, 101.0]])) == [[]]


# moves


@pytest.mark.parametrize("name", EXAMPLES)
def test_moves_join_and_come_in_order(name):
    path = tool_path(example_job(name))
    park = path.moves[0].piece.start[1]
    for a, b in pairwise(path.moves):
        apart = hypot(a.piece.end[0] - b.piece.start[0], a.piece.end[1] - b.piece.start[1])
        if GROUPS[a.part] == GROUPS[b.part]:
            assert apart < 1e-5
        else:  # by way of the retreat
            assert a.piece.end[1] == b.piece.start[1] == pytest.approx(park)
    parts = [a.part for a, b in pairwise(path.moves) if a.part != b.part] + [path.moves[-1].part]
    assert parts == ["rough", "contour", "relief", "semi", "finish"]
    assert path.passes["finish"] == path.passes["contour"] == 1
    assert path.moves[-1].piece.end[1] == pytest.approx(park)


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_pass_before_the_finish_leaves_what_it_says(name):
    """All of its way along the wall is that much farther off than the finish; the spring pass is the finish again."""
    made = example_job(name)
    path = tool_path(replace(made, cutting=replace(made.cutting, semi_allowance=0.1, spring_passes=2)))
    assert (path.passes["semi"], path.passes["finish"], path.passes["spring"]) == (1, 1, 2)
    line = shapely.LineString(made.finished)
    shift = tip_offset(made.tool)

    def off(part):
        ways = [m.piece for m in path.moves if m.part == part and m.feed]
        return np.array([
            line.distance(shapely.Point(*np.subtract(way.at(share), shift))) - made.tool.nose_radius
            for way in ways
            if max(way.start[1], way.end[1]) < -0.5 and abs(way.end[1] - way.start[1]) > 2
            for share in (0.1, 0.5, 0.9)
        ])  # fmt: skip

    assert off("semi") == pytest.approx(0.1, abs=2e-3)
    assert off("finish") == pytest.approx(0.0, abs=2e-3)
    assert [m.piece for m in path.moves if m.part == "spring" and m.feed] == 2 * [
        m.piece for m in path.moves if m.part == "finish" and m.feed
    ]


def test_no_room_to_retreat_is_said():
    with pytest.raises(GeometryError, match="the travel in z ends at 2: before the jaws the tool needs"):
        tool_path(replace(job(1), limits=replace(job(1).limits, z=(-500.0, 2.0))))


def test_feeds_of_the_parts():
    for move in tool_path(job(1)).moves:
        assert move.feed in {"rough": (None, 0.15), "contour": (None, 0.15), "finish": (None, 0.08)}.get(
            move.part, (None,)
        )


def test_passes_are_as_deep_as_told_at_most_and_as_few_as_can_be():
    path = tool_path(job(1))
    xs = [m.piece.end[0] for m in path.moves if m.part == "rough" and m.feed and m.piece.end[1] < -15]
    steps = np.diff([22.0, *xs])
    assert steps.max() <= CUTTING.pass_depth + 1e-6
    assert len(xs) == 6  # 7.8 mm in steps of 1.5
    assert tool_path(job(1, of=replace(CUTTING, pass_depth=3.0))).passes["rough"] < path.passes["rough"]


def test_no_allowance_means_one_pass_along_the_line_less_metal_left():
    path = tool_path(job(1, of=replace(CUTTING, finish_allowance=0.0)))
    xs = [m.piece.end[0] for m in path.moves if m.part == "rough" and m.feed]
    assert max(xs) == pytest.approx(30.0, abs=0.45)


def test_an_inside_grip_is_a_mirrored_bore():
    inside, bore = tool_path(job(-1)), tool_path(job(1))
    assert inside.passes["finish"] == bore.passes["finish"]
    assert all(m.piece.start[0] > 50 for m in inside.moves)
    arcs = [(a.piece.turn, b.piece.turn) for a, b in zip(inside.moves, bore.moves, strict=False)
            if isinstance(a.piece, Arc) and isinstance(b.piece, Arc)]  # fmt: skip
    assert arcs
    assert all(a == pytest.approx(-b) for a, b in arcs)


def test_a_round_left_in_a_corner_is_that_of_the_nose():
    (corner,) = corners(LINE, 0.4)
    assert corner.at == (30.0, -20.0)
    assert corner.centre == pytest.approx((29.6, -19.6))
    assert corner.left == pytest.approx(0.4 * (sqrt(2) - 1))


@pytest.mark.parametrize("end", [(5.0, 3.0), (3.3, -9.0), (-4.0, 4.7)])
def test_the_sides_of_a_straight_cut_are_exact(end):
    """However coarse the circle is drawn, the strip is as wide as the nose."""
    start = (3.0, 4.0)
    length = hypot(end[0] - start[0], end[1] - start[1])
    normal = (0.4 * (end[1] - start[1]) / length, -0.4 * (end[0] - start[0]) / length)
    covered = Cutter(tool(1), 1).covered(Line(start, end), COARSE_MM)
    for sign in (1, -1):
        side = shapely.Point(start[0] + sign * normal[0], start[1] + sign * normal[1])
        assert covered.distance(side) < 1e-9


def test_an_edge_that_hangs_below_the_nose_starts_higher():
    made = tool(1, lead_angle=75.0)
    low = main_edge(made, 1)[1][1]
    assert low < -0.4
    line = ((30.0, 0.0), (30.0, -50.0))
    metal = ((24.0, -50.0), (60.0, -50.0), (60.0, 0.0), (24.0, 0.0))
    moves = tool_path(job(1, line, metal, with_tool=made, clearance=0.3)).moves
    plunges = [m.piece.start[1] for m in moves if m.part == "rough" and m.feed and m.piece.end[1] < -40]
    assert plunges
    assert min(plunges) + 0.4 + low >= 0.3 - 1e-9

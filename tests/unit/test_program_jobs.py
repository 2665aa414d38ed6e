"""Boring jobs to try programs on: built by hand, drawn at random, and those of the examples."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import cos, pi, radians, sin, tan

import pytest
import shapely
from conftest import example
from hypothesis import strategies as st

from heldtrue.planning.boring import bore
from heldtrue.planning.setup import Setup
from heldtrue.program.job import BoringJob, BoringTool, Cutting, KeepOut, MachineLimits

EXAMPLES = ("wear-ring", "gland-flange", "winch-shaft")
WIDE = MachineLimits((-500.0, 500.0), (-500.0, 500.0), 4000.0)
CUTTING = Cutting(1.5, 0.2, 0.15, 0.08, 120.0, 1500.0)


@cache
def example_job(name):
    """The job of a shipped setup; of "faced NAME" with something on the fronts, and the mouth gone over again."""
    if name.startswith("faced "):
        return faced(example_job(name.removeprefix("faced ")))
    if name == NEST:
        return bore(nest_setup()).job
    if name.startswith("stepped "):
        return bore(example(name.removeprefix("stepped ")).with_({"boring.steps": BEHIND})).job
    return bore(example(name)).job


NEST = "nest"
BEHIND = [{"diameter": 147, "z": -2}, {"diameter": 160, "z": -3.2}]
"""Steps behind the seat of the wear ring, an inside grip."""


def nest_setup(steps=({"diameter": 100, "z": 25}, {"diameter": 65.5, "z": -4}), **changes):
    """A flanged bush gripped on its hub in jaws that reach past the flange, with a smaller bore behind the seat."""
    raw = example("gland-flange").to_dict()
    part = {key: value for key, value in raw["part"].items() if key != "mass"}
    profile = [[62, 0], [90, 0], [90, 26], [98, 26], [98, 46], [62, 46]]
    blank = [[58, 0], [90, 0], [90, 26], [98, 26], [98, 48], [58, 48]]
    of_bore = [
        [one for one in raw[key] if one.get("surface", one["name"]) == "gland bore"] for key in ("surface", "cut")
    ]
    made = Setup.from_dict({
        **raw, "part": {**part, "profile": profile, "blank": blank}, "surface": of_bore[0], "cut": of_bore[1],
        "jaws": {**raw["jaws"], "grip_height": 28},
    })  # fmt: skip
    return made.with_({"boring.steps": list(steps), **changes})


def faced(made, by=0.7):
    """The same job with so much to turn off the fronts, and the mouth gone over again."""
    front = tuple((x, by if z == 0.0 else z) for x, z in made.metal)
    return replace(made, metal=front, face_off=by, cutting=replace(made.cutting, deburr=True))


def turned(points, side):
    """Points with x in the cutting direction as radii, and back."""
    return tuple((side * x, z) for x, z in points)


def shank(radius, insert_angle=55.0, lead_angle=95.0, bar=16.0, offset=11.0, long=70.0):
    """Insert and bar about the nose centre, x in the cutting direction."""
    main, back = radians(lead_angle), radians(lead_angle - insert_angle)
    first = (radius * cos(main), -radius * sin(main))
    last = (radius * cos(pi / 2 - back) * 1.0, radius * sin(pi / 2 - back))
    run = max(offset - bar - last[0], 0.5) if offset < bar else 3.0
    away = (last[0] - run, last[1] + run / tan(back)) if back > 0.02 else (last[0] - run, long)
    low = (away[0] - bar, first[1] + 0.2 - (away[0] - bar) * tan(max(main - pi / 2, radians(4.0))))
    return (first, last, away, (away[0], max(long, away[1] + 1)), (low[0], max(long, away[1] + 1)), low)


def tool(side=1, radius=0.4, quadrant=None, **bar):
    """A bar that cuts a bore (side 1) or a turning tool (side -1), tip towards the chuck."""
    lead = bar.get("lead_angle", 95.0)
    corner = (4 if side > 0 else 3) if quadrant is None else quadrant
    return BoringTool(5, "bar", radius, corner, lead, turned(shank(radius, **bar), side))


def job(side=1, line=None, metal=None, of=CUTTING, with_tool=None, keep_out=(), clearance=3.0):
    """A plain bore of radius 30 to 20 deep in a jaw 50 high; ``line`` and ``metal`` have x in the cutting direction."""
    at = 30.0 if side > 0 else -60.0
    line = line or ((at + 0.4, 0.0), (at, -0.4), (at, -20.0), (at - 8.0, -20.0))
    metal = metal or ((at - 8.0, -50.0), (at + 30.0, -50.0), (at + 30.0, 0.0), (at - 8.0, 0.0))
    return BoringJob(
        "test", "outside" if side > 0 else "inside", turned(metal, side), turned(line, side), keep_out,
        with_tool or tool(side), of, WIDE, clearance, ("a comment",), ("look",),
    )  # fmt: skip


def number(low, high, step=0.001):
    """Numbers from a grid: shops do not set out in binary fractions."""
    return st.integers(round(low / step), round(high / step)).map(lambda n: round(n * step, 6))


@st.composite
def lines(draw, at):
    """A finished line with x in the cutting direction, its depth, and how far in it ends."""
    depth = draw(number(2.0, 60.0, 0.05))
    chamfer = draw(st.sampled_from([0.0, 0.2, 0.4, 1.0, 2.0]))
    lean = draw(st.sampled_from([1.0, 1.0, 0.3, 3.0]))
    taper = draw(st.sampled_from([0.0, 0.0, 0.005, 0.02, -0.01, -0.2, 0.5]))
    line = [(at + chamfer * lean, 0.0), (at, -chamfer)] if chamfer else [(at, 0.0)]
    wide = draw(number(1.0, 15.0, 0.05))
    ends = draw(st.sampled_from(["seat", "seat", "relief", "relief", "skim", "step", "through"]))
    foot = at + taper
    if ends == "through":
        return [*line, (foot, -depth)], depth, wide
    if ends in ("relief", "skim"):
        deep, flat = draw(number(0.1, 1.5, 0.05)), draw(number(0.0, 1.5, 0.05))
        run = deep * draw(number(0.2, 4.0, 0.1))
        if depth - flat - run > chamfer + 0.2:
            line += [(foot, -depth + flat + run), (foot + deep, -depth + flat)]
            foot += deep
        if flat:
            line += [(foot, -depth)]
    elif ends == "step":
        half, out = round(depth / 2, 3), draw(number(0.2, 4.0, 0.1))
        line += [(foot, -half - chamfer), (foot - out, -half - chamfer)]
        foot -= out
    if line[-1][1] > -depth:
        line += [(foot, -depth)]
    if ends == "skim":
        drop, run = draw(number(0.1, 1.0, 0.05)), draw(number(0.5, 5.0, 0.1))
        line += [(foot - run, -depth), (foot - run - drop, -depth - drop)]
    inner = min(x for x, _ in line) - wide
    return [*line, (inner, line[-1][1])], depth, at - inner


@st.composite
def cuttings(draw):
    """Cutting values, mostly sensible."""
    depth = draw(number(0.3, 4.0, 0.05))
    return Cutting(
        depth, min(draw(st.sampled_from([0.0, 0.05, 0.1, 0.2, 0.3, 0.5])), depth / 2), draw(number(0.05, 0.4, 0.01)),
        draw(number(0.02, 0.2, 0.01)), draw(number(20, 400, 1)), draw(number(300, 5000, 10)),
        draw(st.sampled_from([None, None, None, 300.0])),
    )  # fmt: skip


@st.composite
def tools(draw, side):
    """Tools that mostly fit."""
    lead = draw(st.sampled_from([95.0, 95.0, 93.0, 91.0, 75.0, 107.0]))
    insert = draw(st.sampled_from([35.0, 55.0, 60.0, 80.0]))
    bar, offset = draw(st.sampled_from([(8.0, 5.5), (16.0, 11.0), (25.0, 17.0)]))
    radius = draw(st.sampled_from([0.4, 0.1, 0.2, 0.4, 0.8, 1.2, 2.0]))
    right = 4 if side > 0 else 3
    quadrant = draw(st.sampled_from([right, right, 9, 2 if side > 0 else 1, 6, 7, 8, 5, 3, 4]))
    made = tool(side, radius, quadrant, insert_angle=min(insert, lead - 1), lead_angle=lead, bar=bar, offset=offset)
    return replace(made, edge_length=draw(st.sampled_from([6.0, 6.0, 3.0, 12.0])))


@st.composite
def jobs(draw):
    """Bores and outer surfaces: line, blank, tool, values, things in the way, travel."""
    side = draw(st.sampled_from([1, -1]))
    at = draw(number(12.0, 200.0, 0.0125)) if side > 0 else -draw(number(15.0, 200.0, 0.0125))
    line, depth, wide = draw(lines(at))
    inner = at - wide if line[-1][0] < at - 0.5 else at - draw(number(0.1, 8.0, 0.05))
    outer = max(x for x, _ in line) + draw(number(3.0, 40.0, 0.5))
    bottom = -depth if len(line) and line[-1][0] > at - 0.6 and line[-1][1] == -depth else -depth - 10.0
    kind = draw(st.sampled_from(["box", "box", "cut before", "raised", "sloping"]))
    metal = [(inner, bottom), (outer, bottom), (outer, 0.0), (inner, 0.0)]
    if kind == "cut before":
        skim, below = draw(number(0.05, 1.5, 0.05)), draw(number(0.05, 0.5, 0.05))
        if at - skim > inner and depth - below > 0:
            metal = [*metal[:3], (at - skim, 0.0), (at - skim, -depth + below), (inner, -depth + below)]
    elif kind == "raised":
        metal[2:] = [(outer, 3.0), (inner + 1.0, 3.0), (inner + 1.0, 0.0), (inner, 0.0)]
    elif kind == "sloping":
        metal[3] = (inner, -min(1.0, depth / 3))
    low, high = sorted((inner, outer))
    ring = KeepOut("ring", turned([(low - 5, bottom), (low, bottom), (low, bottom + 5), (low - 5, bottom + 5)], side))
    bolt = KeepOut("bolt", turned([(high - 2, -3), (high, -3), (high, -1), (high - 2, -1)], side))
    keep_out = draw(st.sampled_from([(), (), (bolt,), (ring, bolt)]))
    values, cutter, clearance = draw(cuttings()), draw(tools(side)), draw(number(0.3, 6, 0.1))
    made = job(side, tuple(line), tuple(metal), values, cutter, keep_out, clearance)
    if draw(st.integers(0, 9)) == 0:
        made = replace(made, limits=MachineLimits((0.0, 150.0), (-60.0, 100.0), 3000.0))
    return made


@pytest.mark.parametrize("side", [1, -1])
def test_the_hand_built_job_is_sound(side):
    made = job(side)
    assert shapely.Polygon(made.metal).is_valid
    assert shapely.Polygon(made.tool.shank).is_valid
    assert shapely.Polygon(made.metal).covers(shapely.LineString(made.finished))


def points(low, high, least=2):
    """A few corners on a coarse grid: many coincide, cross, or lie in line."""
    x, z = number(-40, 60, 0.5), number(-30, 10, 0.5)
    return st.lists(st.tuples(x, z), min_size=least, max_size=high).map(tuple)


@st.composite
def wild_jobs(draw):
    """Jobs whose outlines are mostly nonsense."""
    side = draw(st.sampled_from([1, -1]))
    made = job(side)
    if draw(st.booleans()):
        made = replace(made, finished=draw(points(2, 6, 0)))
    if draw(st.booleans()):
        made = replace(made, metal=draw(points(3, 6, 0)))
    if draw(st.integers(0, 3)) == 0:
        made = replace(made, tool=replace(made.tool, shank=draw(points(3, 6, 0)), quadrant=draw(st.integers(0, 10))))
    if draw(st.integers(0, 3)) == 0:
        made = replace(made, keep_out=(KeepOut("thing", draw(points(3, 5, 0))),))
    if draw(st.integers(0, 3)) == 0:
        odd = st.sampled_from([0.0, -1.0, 1e-9, 1e9, float("nan"), float("inf")])
        name = draw(st.sampled_from([f for f in Cutting.__dataclass_fields__ if f != "fixed_speed"]))
        made = replace(made, cutting=replace(made.cutting, **{name: draw(odd)}))
    if draw(st.integers(0, 5)) == 0:
        odd = st.sampled_from([0.0, -1.0, 1e-9, 1e-4, 19.0, 1e9, float("nan"), float("inf")])
        name = draw(st.sampled_from(["nose_radius", "lead_angle", "edge_length"]))
        made = replace(made, tool=replace(made.tool, **{name: draw(odd)}))
    return replace(made, clearance=draw(st.sampled_from([3.0, 3.0, 0.0, 1e-6, float("nan"), 1e6])))

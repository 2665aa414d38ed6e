"""Whatever the job, a program is either proved or refused in words."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from test_program_jobs import CUTTING, job, jobs, tool, wild_jobs

from heldtrue.errors import GeometryError, InputError, ProofError
from heldtrue.program.dialect import load_dialect
from heldtrue.program.front import program

NEUTRAL = load_dialect()


def dialect(**numbers):
    return replace(NEUTRAL, numbers=replace(NEUTRAL.numbers, **numbers))


INCH = dialect(unit="inch", x_decimals=5, z_decimals=5, feed_decimals=5)
INCH_CENTRES = dialect(unit="inch", x_decimals=5, z_decimals=5, feed_decimals=5, arcs="IK")
CENTRES = dialect(arcs="IK")
DIALECTS = (NEUTRAL, INCH, CENTRES, INCH_CENTRES)
UNHURRIED = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.mark.long
@UNHURRIED
@given(jobs(), st.sampled_from(DIALECTS))
def test_a_job_is_proved_or_refused(made, words):
    try:
        written = program(made, words)
    except (GeometryError, ProofError) as error:
        assert len(str(error)) > 20  # noqa: PT017  a sentence, whichever of the two it is
        return
    proof = written.proof
    assert proof.passed
    assert proof.worst_deviation <= 0.001
    assert proof.deepest <= made.cutting.pass_depth + 0.01 + 1e-9
    assert proof.top_speed <= min(made.cutting.spindle_limit, made.limits.max_speed) + 0.5


@UNHURRIED
@given(wild_jobs())
def test_nonsense_is_refused_in_words(made):
    try:
        assert program(made).proof.passed
    except (GeometryError, ProofError, InputError) as error:
        assert len(str(error)) > 20  # noqa: PT017


@pytest.mark.parametrize("words", DIALECTS, ids=["mm R", "inch R", "mm IK", "inch IK"])
@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("radius", [0.2, 0.4, 0.8, 1.2])
def test_plain_jobs_are_proved(side, radius, words):
    """So that the tests above do not hold because everything is refused."""
    assert program(job(side, with_tool=tool(side, radius)), words).proof.passed


RELIEF = ((30.4, 0.0), (30.0, -0.4), (29.99, -18.0), (30.5, -19.2), (30.5, -20.0), (22.0, -20.0))


@pytest.mark.parametrize("quadrant", [1, 4, 5, 6, 7, 8, 9])
def test_a_relief_and_a_taper_are_proved_with_any_tip_that_cuts(quadrant):
    assert program(job(1, RELIEF, with_tool=tool(1, 0.4, quadrant))).proof.passed


@pytest.mark.parametrize(
    ("line", "radius", "lead"),
    [
        (((31.2, 0.0), (30.0, -0.4), (30.0, -20.0), (22.0, -20.0)), 0.4, 95.0),
        (((30.0, 0.0), (30.0, -50.0)), 0.1, 95.0),
        (((30.4, 0.0), (30.0, -0.4), (30.0, -50.0)), 0.4, 107.0),
        (((30.4, 0.0), (30.0, -0.4), (30.0, -50.0)), 0.4, 75.0),
        (((30.4, 0.0), (30.0, -0.4), (30.0, -20.0), (28.5, -20.0)), 2.0, 95.0),
        (((30.0, 0.0), (30.5, -20.0), (29.0, -20.0)), 1.2, 95.0),
    ],
    ids=["flat chamfer", "small nose through", "leaning edge through", "edge ahead of the nose", "short floor",
         "floor short under a leaning wall"],
)  # fmt: skip
def test_found_by_trying_many(line, radius, lead):
    """Each of these once left metal, gouged, or ran a rapid into the jaw."""
    inner = line[-1][0] if line[-1][1] > -50 else 24.0
    metal = ((inner, -50.0), (60.0, -50.0), (60.0, 0.0), (inner, 0.0))
    made = job(1, line, metal, with_tool=tool(1, radius, lead_angle=lead, insert_angle=55.0))
    if lead < 90:
        made = replace(made, clearance=0.3, cutting=replace(CUTTING, pass_depth=1.0))
    assert program(made).proof.passed


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"grip": "between"}, 'grip is "outside" or "inside"'),
        ({"finished": ((30.0, 0.0),)}, "needs two points or more"),
        ({"finished": ((30.0, 0.0), (30.0, 0.0), (20.0, -20.0))}, "two points at the same place"),
        ({"finished": ((30.4, 0.0), (30.0, -0.4), (30.0, -20.0), (25.0, -20.0))}, "ends inside the metal"),
        ({"finished": ((30.0, -5.0), (30.0, -20.0), (22.0, -20.0))}, "starts inside the metal"),
        ({"finished": ((35.0, 0.0), (30.0, -0.4), (30.0, -20.0), (22.0, -20.0))}, "starts too flat"),
        ({"finished": ((20.0, 0.0), (20.0, -20.0), (10.0, -20.0))}, "nothing to cut"),
        ({"metal": ((22.0, -50.0), (60.0, 0.0), (60.0, -50.0), (22.0, 0.0))}, "crosses itself"),
        ({"metal": ((22.0, -50.0), (60.0, 0.0))}, "the metal crosses itself or has no area"),
        ({"metal": ((22.0, -50.0), (6e4, -50.0), (60.0, 0.0))}, "beyond 5000 mm"),
        ({"metal": ((22.0, float("nan")), (60.0, -50.0), (60.0, 0.0))}, "beyond 5000 mm"),
        ({"clearance": float("nan")}, "clearance nan mm"),
        ({"clearance": 0.0}, "clearance 0 mm must be 0.01 or more"),
        ({"tool": replace(tool(1), nose_radius=25.0)}, "nose radius 25 mm"),
        ({"tool": tool(1, 0.4, 10)}, "tip position 10"),
        ({"tool": tool(1, 0.4, 2)}, "side of the nose that does not cut"),
        ({"tool": replace(tool(1), lead_angle=30.0)}, "lead angle 30 deg"),
        ({"tool": replace(tool(1), edge_length=1.0)}, "take shallower ones"),
        ({"tool": replace(tool(1), edge_length=float("inf"))}, "edge length: inf is no number"),
        ({"tool": replace(tool(1), shank=((0.0, 0.0), (1.0, 1.0)))}, "tool 5 crosses itself or has no area"),
        ({"tool": replace(tool(1), shank=((0.1, -0.1), (0.3, -0.1), (0.3, -0.3)))}, "all within its nose"),
        ({"tool": tool(1, bar=80.0, offset=60.0)}, "opposite side"),
        ({"cutting": replace(CUTTING, pass_depth=0.0)}, "pass depth 0 mm must be 0.01 or more"),
        ({"cutting": replace(CUTTING, finish_allowance=-0.1)}, "finishing allowance -0.1 mm must not be below 0"),
        ({"cutting": replace(CUTTING, finish_allowance=1.0)}, "more than half a pass"),
        ({"cutting": replace(CUTTING, spindle_limit=0.2)}, "spindle limit 0.2 rev/min"),
        ({"cutting": replace(CUTTING, fixed_speed=1600.0)}, "fixed speed 1600 rev/min is above the 1500"),
        ({"cutting": replace(CUTTING, rough_feed=float("inf"))}, "rough feed: inf is no number"),
    ],
)  # fmt: skip
def test_what_cannot_be_cut_is_refused(changes, words):
    with pytest.raises((GeometryError, ProofError)) as caught:
        program(replace(job(1), **changes))
    assert words in str(caught.value)


def test_passes_without_end_are_refused():
    wide = ((-400.0, -50.0), (60.0, -50.0), (60.0, 0.0), (-400.0, 0.0))
    line = ((30.0, 0.0), (30.0, -20.0), (-400.0, -20.0))
    fine = replace(CUTTING, pass_depth=0.01, finish_allowance=0.0)
    with pytest.raises(GeometryError, match="more than 40000 passes"):
        program(job(1, line, wide, fine))

"""Odds beside the verdict: their parts against the exact programs and against plain draws."""

import ast
import gc
import weakref
from math import pi
from pathlib import Path

import numpy as np
import pytest
from conftest import ROOT, longer, planned
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import heldtrue.planning
from heldtrue.errors import InputError
from heldtrue.mechanics.holding import limit_at
from heldtrue.planning.loads import loads_of
from heldtrue.planning.odds.draws import Draws
from heldtrue.planning.odds.holding import INPUTS, HoldState, terms_of
from heldtrue.planning.odds.odds import LimitStates, with_odds
from heldtrue.planning.odds.odds_words import class_words
from heldtrue.planning.odds.reliability import chance, normals
from heldtrue.planning.odds.spread import KINDS, Spread
from heldtrue.planning.odds.spreads import spreads_of
from heldtrue.planning.plan import plan, plan_study
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.window import setting_of

SCIPY = {
    "uniform": lambda s: stats.uniform(s.low, s.high - s.low),
    "loguniform": lambda s: stats.loguniform(s.low, s.high),
    "triangular": lambda s: stats.triang((s.likely - s.low) / (s.high - s.low), s.low, s.high - s.low),
}
ANGLES = 8


def example(name, **changes):
    return Setup.from_toml(ROOT / "examples" / f"{name}.toml").with_(changes)


@pytest.fixture(scope="module")
def studied():
    """Study and setting of an example, once."""
    kept = {}

    def get(name, **changes):
        key = (name, str(sorted(changes.items())))
        if key not in kept:
            study = Study.of(example(name, **changes))
            made = plan_study(study, helped=False)
            kept[key] = study, setting_of(study, made.pressure), made
        return kept[key]

    return get


# Spreads


@pytest.mark.parametrize("kind", SCIPY)
def test_a_spread_is_the_distribution_of_its_name(kind):
    spread = Spread(kind, 2.0, 3.0, 7.0)
    shares = np.linspace(0.001, 0.999, 97)
    assert spread.at(shares) == pytest.approx(SCIPY[kind](spread).ppf(shares))


@pytest.mark.parametrize("kind", ["normal", "lognormal"])
def test_95_percent_of_a_normal_spread_lie_between_its_ends(kind):
    spread = Spread(kind, 2.0, 3.0, 7.0)
    assert spread.at(np.array([0.025, 0.5, 0.975])) == pytest.approx([2.0, 3.0, 7.0], rel=1e-6)


@given(st.sampled_from(KINDS), st.floats(0.01, 1e6), st.floats(1.001, 100.0), st.floats(0.0, 1.0))
def test_a_spread_rises_with_its_share(kind, low, times, place):
    high = low * times
    found = Spread(kind, low, low + place * (high - low), high).at(np.linspace(0, 1, 41))
    assert (np.diff(found) >= -1e-9 * high).all()
    assert np.isfinite(found).all()


@pytest.mark.parametrize(
    ("kind", "ends", "said"),
    [
        ("uniform", (2, 2, 1), "the wrong way round"),
        ("uniform", (1, 3, 2), "outside the range"),
        ("lognormal", (0, 1, 2), "above 0"),
        ("loguniform", (-1, 1, 2), "above 0"),
        ("uniform", (float("nan"), 1, 2), "finite"),
        ("bell", (1, 1, 2), "one of uniform"),
    ],
)
def test_what_no_spread_can_be_is_refused(kind, ends, said):
    with pytest.raises(InputError, match=said):
        Spread(kind, *ends)


# Holding


def random_points(study, count, seed=5):
    draws = Draws(study.job.known, spreads_of(study.job), INPUTS)
    return draws, draws.values(np.random.default_rng(seed).standard_normal((count, draws.dimension)))


@pytest.mark.parametrize("name", ["winch-shaft", *longer("wear-ring", "pump-sleeve-inch", "gland-flange")])
def test_a_load_is_the_sum_of_its_terms(name, studied):
    study, setting, _ = studied(name)
    _, values = random_points(study, 6)
    grip = study.holds.grip(study.holds.worst["friction"], True)
    for held in study.holds.at(setting.speed_rpm):
        terms = terms_of(study.holds, held.name, setting.speed_rpm, grip)
        for point in range(6):
            here = {key: float(value[point]) for key, value in values.items()}
            every = loads_of(study.job, held.name, here, setting.speed_rpm)
            for number, load in enumerate(every):
                exact = load.wrench.about(grip.middle, grip.radius)
                found = terms.wrench(number * ANGLES, values, point)
                # The weight acts the way the cut pushes, which turns a little with wear.
                assert found == pytest.approx(exact, abs=0.01 * np.abs(exact).max())


@pytest.mark.parametrize("name", ["valve-stem", *longer("winch-shaft", "wear-ring", "gland-flange")])
def test_the_margin_of_a_hold_is_that_of_the_exact_program_at_every_angle(name, studied):
    study, setting, _ = studied(name)
    draws, values = random_points(study, 5)
    tried = draws.values(np.vstack([np.zeros((1, draws.dimension)), normals(48, draws.dimension)]))
    for held in study.holds.at(setting.speed_rpm):
        pressure = setting.pressure(held.name)
        state = HoldState(study.holds, held, pressure, setting.speed_rpm, tried)
        found = state.margin(values)
        for point in range(5):
            here = {key: float(value[point]) for key, value in values.items()}
            grip = study.holds.grip(here["friction"], study.holds.worst["seat"] > 0)
            needs = 0.0
            for load in loads_of(study.job, held.name, here, setting.speed_rpm):
                for turn in 2 * pi / grip.jaws * np.arange(ANGLES) / ANGLES:
                    factor = limit_at(grip, load.wrench, float(turn)).factor
                    needs = max(needs, 1 / factor + study.holds.lost(here, load.speed_rpm))
            exact = (study.job.static_grip(here, pressure) - needs) / state.size
            assert found[point] == pytest.approx(exact, abs=0.02 * needs / state.size + 1e-9)


def test_odds_of_a_hold_are_those_of_plain_draws_with_the_exact_program(studied):
    """The shaft that is tipped out: counted over 400 draws, each held by the exact program at the angle known worst."""
    study, setting, made = studied("valve-stem")
    check = made.check("hold: rough guide")
    said = LimitStates(study, setting).odds(check)
    _, values = random_points(study, 400, seed=8)
    held = next(one for one in study.held if one.name == check.subject)
    lets_go = 0
    for point in range(400):
        here = {key: float(value[point]) for key, value in values.items()}
        grip = study.holds.grip(here["friction"], True)
        load = loads_of(study.job, held.name, here, setting.speed_rpm, held.worst.load.number)[0]
        factor = limit_at(grip, load.wrench, held.worst.limit.angle).factor
        left = study.job.static_grip(here, setting.pressure(held.name)) - study.holds.lost(here, load.speed_rpm)
        lets_go += left * factor < 1
    assert said.part == pytest.approx(lets_go / 400, abs=0.065)
    assert 0.3 < said.part < 0.95


def test_points_whose_values_are_kept_are_kept_too(studied):
    """Values are found again by the identity of their points: others in the same memory must not get them."""
    study, _, _ = studied("winch-shaft")
    draws = Draws(study.job.known, spreads_of(study.job), INPUTS)
    points = np.random.default_rng(1).standard_normal((64, draws.dimension))
    points.flags.writeable = False
    alive = weakref.ref(points)
    kept = draws.values(points)
    assert draws.values(points) is kept
    del points
    gc.collect()
    assert alive() is not None


# Form and yield


def test_odds_of_a_form_are_those_of_exact_contacts(studied):
    """The pump sleeve pressed too hard: form over the limit in 300 exact contacts, with inputs drawn."""
    study, setting, made = studied("pump-sleeve-inch", **{"run.pressure": 2.8})
    states = LimitStates(study, setting)
    check = made.check("roundness: bore")
    assert check.state != "passes"
    said = states.odds(check)
    one = states._measured(check)
    values = states.press_draws.values(np.random.default_rng(4).standard_normal((300, states.press_draws.dimension)))
    state = one.states[0]
    exact = state._solved(state._coordinates(values))[:, one.place]
    assert said.part == pytest.approx(float((exact > one.limit(values)).mean()), abs=0.05 + said.error)
    assert 0.02 < said.part < 0.98


# What odds are, and what they are not


def test_odds_never_change_the_verdict():
    for name in ("wear-ring", "valve-stem"):
        made = planned(name)
        bare = plan(made.setup, helped=False)
        assert made.verdict == bare.verdict
        assert [check.state for check in made.checks] == [check.state for check in bare.checks]
        assert all(check.odds is not None for check in made.checks)
        assert all(check.odds is None for check in bare.checks)


def test_nothing_that_decides_knows_of_odds():
    folder = Path(heldtrue.planning.__file__).parent
    for module in ("judge", "window", "holds", "corners", "loads", "start_gate", "answer", "study"):
        tree = ast.parse((folder / f"{module}.py").read_text(encoding="utf-8"))
        named = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.module}
        assert not [one for one in named if "odds" in one], module


def test_a_batch_is_never_safer_than_one_part(studied):
    study, setting, made = studied("valve-stem", **{"part.quantity": 200})
    checks = {check.name: check.odds for check in with_odds(study, setting, made.checks)}
    assert all(odds.batch >= odds.part * 0.98 for odds in checks.values())
    assert checks["hold: turn body"].batch > 2 * checks["hold: turn body"].part


def test_no_quantity_no_odds_of_a_batch():
    odds = planned("valve-stem").check("hold: rough guide").odds
    assert odds.batch is None
    assert odds.parts is None


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.5))
def test_a_class_says_no_more_than_its_error_allows(probability, share):
    words = class_words(probability, share * probability)
    assert words
    if probability > 0.001 and share > 0.25 and probability < 0.3:
        assert " to " in words
    if probability * (1 + share) <= 1e-4:
        assert words == "under 1 in 10,000"


@given(st.floats(1.0, 4.5), st.integers(1, 12))
def test_the_chance_of_a_straight_edge_is_known(index, dimension):
    found = chance(lambda u: index - u[:, 0], dimension)
    exact = stats.norm.sf(index)
    assert abs(found.value - exact) <= 2 * found.error + 1e-9
    assert found.error < 0.4 * exact

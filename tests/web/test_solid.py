"""The part in three dimensions: its numbers are those of the polar plots; an old shape never passes for a new one."""

import json
import sys

import numpy as np
import pytest
from conftest import example

from heldtrue.drawing.wording import form_length
from heldtrue.planning.plan import plan_study
from heldtrue.planning.solid import solid
from heldtrue.planning.study import Study
from heldtrue.web import texts, worker
from heldtrue.web.plan.solid_data import STATES, VIRIDIS, round_down, solid_view
from web.in_process import taken_in, until
from web.test_pages import opened, settled, shown, typed


@pytest.mark.parametrize("name", ["wear-ring", "gland-flange", "pump-sleeve-inch"])
def test_jaw_and_gap_agree_with_the_polar_plot(name):
    study = Study.of(example(name))
    made, part = plan_study(study), solid(study)
    compared = 0
    for shape, result in zip(made.shapes, [one for one in made.surfaces if one.side != "face"], strict=True):
        if result.worst_fit != part.fit:
            continue
        strips = [one for one in part.strips if one.surface == shape.surface]
        assert strips, f"{shape.surface} is on the part"
        half_pitch = round((len(shape.angle) - 1) / part.jaws / 2)
        for state, polar in (("clamped", shape.clamped), ("released", shape.released)):
            ends = np.vstack([getattr(one, state)[:, [0, -1], 0] for one in strips])
            worst = np.ptp(ends, axis=1).argmax()
            assert ends[worst, 0] - ends[worst, 1] == pytest.approx(polar[0] - polar[half_pitch], rel=1e-6)
            compared += 1
    assert compared >= 2


def test_what_is_not_machined_springs_back(wear_ring):
    part = solid(Study.of(wear_ring))
    for strip in part.strips:
        assert np.abs(strip.clamped).max() > 0
        moved = np.abs(strip.released).max() > 0
        assert moved == bool(strip.surface)


def test_the_outline_is_whole(wear_ring):
    study = Study.of(wear_ring)
    strips = solid(study).strips
    assert sum(float(np.hypot(*np.diff(one.points[[0, -1]], axis=0)[0])) for one in strips) == pytest.approx(
        sum(edge.length for edge in study.job.section.edges)
    )


def test_the_factor_is_round_and_the_bar_has_both_units(wear_ring):
    made = solid(Study.of(wear_ring))
    view = solid_view(wear_ring, made)
    for state in STATES:
        assert str(view.factor[state]).strip("0.") in ("1", "2", "5")
        assert view.factor[state] in view.factors[state]
        most = max(float(getattr(one, state)[:, :, 0].max()) for one in made.strips)
        assert f"+{form_length(most, 'metric')} (+{form_length(most, 'inch')})" == view.ticks[state][-1]
        assert all("mm" in tick and "in" in tick for tick in view.ticks[state])
    assert round_down(0.0499) == pytest.approx(0.02)
    assert len(json.dumps(view.mesh)) < 400_000, "a tablet has to load it"


def test_the_colours_are_even_to_the_eye():
    def lightness(colour):
        linear = [c / 3294.6 if c <= 10 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in colour]
        y = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
        return 116 * y ** (1 / 3) - 16 if y > 0.0089 else 903.3 * y

    steps = np.diff([lightness(one) for one in VIRIDIS])
    assert steps.min() > 0.7 * steps.mean()
    assert steps.max() < 1.3 * steps.mean()


def test_a_worker_uses_the_study_it_has(wear_ring, monkeypatch):
    worker._studies.clear()
    worker.plan_draft("one", wear_ring, False)
    monkeypatch.setattr(Study, "of", lambda setup: pytest.fail("the study is there"))
    view = worker.shape_mesh("one", wear_ring)
    assert "largest size" in view.about or "smallest size" in view.about


def test_a_plan_makes_no_mesh(wear_ring, monkeypatch):
    monkeypatch.setattr(sys.modules[solid.__module__], "solid", lambda study: pytest.fail("nobody looks at it"))
    worker._studies.clear()
    assert worker.plan_draft("one", wear_ring, False).full


def test_the_view_opens_switches_and_follows_the_setup(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        user.find(marker="solid-open").click()
        await user.should_see(marker="solid-about")
        assert live.draft.title in shown(user, "solid-about")
        assert texts.SOLID_STATES["clamped"] in shown(user, "solid-said")
        user.find(marker="solid-released").click()
        await taken_in()
        assert texts.SOLID_STATES["released"] in shown(user, "solid-said")
        assert "times" in shown(user, "solid-said")
        before = shown(user, "solid-about")
        await typed(user, "run.pressure", "15.5")
        await user.should_see(marker="solid-old")  # the shape of the setup before must not pass for this one
        await settled(desk, "wear-ring")
        await until(lambda: shown(user, "solid-about") != before)
        assert "15.5 bar" in shown(user, "solid-about")
        await user.should_not_see(marker="solid-old")

    visit(steps)

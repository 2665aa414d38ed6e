"""A few stories of each kind; ``bench/gate.py`` tells thousands of steps."""

import pytest
from conftest import example, longer

from .story import Story, campaign_setup, needs_of


@pytest.fixture(scope="module")
def job():
    setup = campaign_setup(example("winch-shaft"))
    return setup, needs_of(setup)


@pytest.mark.parametrize("seed", [*range(2), *longer(*range(2, 6))])
def test_the_gate_and_a_plain_model_say_the_same_at_every_step(tmp_path, job, seed):
    story = Story(*job, tmp_path / "records", seed)
    try:
        for _ in range(40):
            story.step()
            assert story.disagreement() == "", story.told[-12:]
    finally:
        story.close()

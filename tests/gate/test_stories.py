"""A few stories of each kind; ``bench/gate.py`` tells thousands of steps."""

import pytest
from conftest import example, longer

from .story import Story


@pytest.mark.parametrize("seed", [*range(2), *longer(*range(2, 6))])
def test_the_gate_and_a_plain_model_say_the_same_at_every_step(tmp_path, seed):
    story = Story(example("winch-shaft").with_({"chuck.grease": None}), tmp_path / "records", seed)
    try:
        for _ in range(40):
            story.step()
            assert story.disagreement() == "", story.told[-12:]
    finally:
        story.close()

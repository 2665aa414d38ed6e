"""A hardly other setup has hardly other margins: small steps of its numbers, at one pressure and speed.

A margin's change counts over 1 + the margin.  Measured: a step of 0.1 % moves a hold by at most 0.2 % and a form by
0.5 %, one of 1 % by 1 % and 5 %.  Every number of every example: ``python bench/falsifier.py --continuity``.
"""

import numpy as np
import pytest
from conftest import example, longer
from falsifier import continuity
from falsifier.continuity import jumps, knobs, one_setting, plain

SMALL, LARGER = 0.001, 0.01
MOST = {SMALL: 0.01, LARGER: 0.07}
PRESSED = ["diameter 140", "diameter 166", "z = 14", "jaws.height.value"]


@pytest.mark.parametrize(("share", "name"), [
    (SMALL, "wear-ring"), (LARGER, "winch-shaft"),
    *longer((SMALL, "gland-flange"), (SMALL, "winch-shaft"), (LARGER, "wear-ring"), (LARGER, "gland-flange")),
])  # fmt: skip
def test_no_hold_jumps_at_a_small_step_of_a_number(name, share):
    setup = example(name)
    raw = plain(setup.to_dict())
    told = [knob for knob in knobs(raw) if not knob.startswith(("machine", "chuck.", "jaws.holes", "jaws.ends"))]
    some = [str(knob) for knob in np.random.default_rng(4).permutation(told)[:12]]
    found, refused = jumps(raw, one_setting(setup), share, pressed=False, names=some)
    assert refused <= 2
    assert len({knob for (knob, _), jump in found.items() if jump > 0}) >= 5
    assert {what: jump for what, jump in found.items() if jump > MOST[share]} == {}


@pytest.mark.parametrize("names", [PRESSED[2:3], *longer(PRESSED)], ids=["one", "all"])
def test_nothing_pressed_jumps_at_a_small_step(names):
    setup = example("wear-ring")
    raw = plain(setup.to_dict())
    found, refused = jumps(raw, one_setting(setup), SMALL, pressed=True, names=names)
    assert refused == 0
    assert {knob for (knob, check), jump in found.items() if jump > 0 and check.startswith("roundness")} >= {"z = 14"}
    assert {what: jump for what, jump in found.items() if jump > MOST[SMALL]} == {}


def test_a_jump_is_seen(monkeypatch):
    setup = example("wear-ring")
    raw, setting = plain(setup.to_dict()), one_setting(setup)
    whole, feed = continuity.margins, raw["cut"][1]["feed"]

    def jumping(there, setting, *, pressed):
        more = 0.03 if there["cut"][1]["feed"] > feed else 0.0
        return {name: margin + more for name, margin in whole(there, setting, pressed=pressed).items()}

    monkeypatch.setattr(continuity, "margins", jumping)
    found, _ = jumps(raw, setting, SMALL, pressed=False, names=["cut.1.feed"])
    assert max(found.values()) > MOST[SMALL]

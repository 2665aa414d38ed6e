"""Published numbers only; each test names its source and whether that was read.

The manuals of two chuck makers, and the statics of a part held by friction.
"""

from math import hypot, radians

import pytest

from heldtrue.mechanics import cutting, operations, spin
from heldtrue.mechanics.holding import SLIP_ALONG, SLIP_ROUND, Grip, Wrench, holding
from heldtrue.mechanics.materials import WORK_FRICTION_FACTOR, friction_range

SHARP = cutting.CutConditions(wear=1.0)


@pytest.mark.parametrize(
    ("face", "printed"),
    [("smooth", (0.07, 0.10, 0.15)), ("diamond", (0.12, 0.20, 0.30)), ("serrated", (0.20, 0.35, 0.45))],
)
def test_friction_of_the_jaw_faces(face, printed):
    """Read: manual of a chuck maker, p. 45: steel part, ground, medium, unmachined."""
    ours = [friction_range("steel", face, surface).value for surface in ("ground", "turned", "raw")]
    assert ours == pytest.approx(printed, rel=1e-12)


@pytest.mark.parametrize(("group", "factor"), [("aluminium", 0.95), ("brass", 0.90), ("iron", 0.80)])
def test_friction_factor_of_the_part_material(group, factor):
    """Read: manual of a chuck maker, p. 45; ours with the rest of the table, so the product is checked."""
    steel, other = friction_range("steel", "smooth", "turned"), friction_range(group, "smooth", "turned")
    assert other.value / steel.value == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize(
    ("face", "surface", "around", "along"),
    [("smooth", "ground", 0.06, 0.08), ("smooth", "turned", 0.10, 0.13), ("smooth", "raw", 0.14, 0.16),
     ("serrated", "raw", 0.25, 0.30)],
)  # fmt: skip
def test_friction_range_holds_the_table_of_a_second_manual(face, surface, around, along):
    """Read: manual of a second chuck maker: round the part and along it; serrated jaws up to 0.25 and 0.30."""
    ours = friction_range("steel", face, surface)
    assert ours.least <= around < along <= ours.most
    assert ours.most == pytest.approx(max(along, ours.value), rel=1e-12)  # no further out than the two tables


@pytest.mark.parametrize(("group", "factor"), [("aluminium", 0.97), ("brass", 0.92), ("iron", 0.80)])
def test_friction_factor_of_a_second_manual(group, factor):
    """Read: manual of a second chuck maker."""
    assert WORK_FRICTION_FACTOR[group].most == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize(
    ("state", "with_seat_or_centre", "overhung"), [(spin.NEW, 2.0, 4.0), (spin.IN_SERVICE, 2.4, 4.8)]
)
def test_safety_factors_of_a_chuck_manual(state, with_seat_or_centre, overhung):
    """Read: manual of a chuck maker, p. 46: of the grip that the cut needs, by the state of the chuck."""
    # at this pull of the jaws S (F + Fc) is the larger form of the rule for all four
    asked = [
        spin.required_grip_at_rest(10_000, 20_000, table[state].value) / 30_000
        for table in (spin.SAFETY, spin.SAFETY_OVERHUNG)
    ]
    assert asked == pytest.approx([with_seat_or_centre, overhung], rel=1e-12)


def worked_example():
    """Cutting force, total grip it needs with no safety [N]: C45, grip 60, cut 20, f 0.5, a 5, kc 2500, diamond jaws.

    The grip is that of the holding limit, with the cutting force's torque alone, as the manual reckons.
    """
    cut = operations.turn(
        2500, 0.0, diameter=20, depth=5, feed=0.5, z=(0, 10), lead_angle_deg=90, conditions=SHARP
    ).cases[0]
    friction = friction_range("steel", "diamond", "turned").value
    grip = Grip("outside", 30.0, (0.0, 30.0), radians(15), 3, friction)
    needed = holding(grip, Wrench((0.0, 0.0, 0.0), (0.0, 0.0, -cut.torque))).required(1.0)
    return cut.tangential, needed


LOSS = 18_000.0
"""Loss at 3000/min that the manual reckons for its jaws; their masses were not at hand. [N]"""


def test_worked_example_of_a_chuck_manual():
    """Read: manual of a chuck maker, p. 48: 6.25 kN; 21 kN needed; 18 kN lost at 3000/min; 1.5 (21 + 18) = 58.5 kN."""
    force, needed = worked_example()
    assert force == pytest.approx(6250, rel=1e-9)
    safety = spin.SAFETY[spin.NEW].value
    assert safety * needed == pytest.approx(21_000, abs=500)  # printed to whole kN
    assert 1.5 * (safety * needed + LOSS) == pytest.approx(58_500, abs=750)  # 1.5 times that half kN


def test_worked_example_by_our_rule():
    """As above; the manual's text says S (F + Fc) and 1.5 (1.5 F + Fc), its example reckons 1.5 (2.0 F + Fc)."""
    _, needed = worked_example()
    ours = spin.required_grip_at_rest(needed, LOSS, spin.SAFETY[spin.NEW].value)
    assert ours == pytest.approx(2.0 * (10_417 + 18_000), rel=1e-4)
    assert ours == pytest.approx(58_500, rel=0.035)


@pytest.mark.parametrize(
    ("jaws", "half_angle_deg", "friction", "radius", "torque", "pull"),
    [(3, 15, 0.15, 50.0, 96_000.0, 0.0), (6, 25, 0.10, 50.0, 96_000.0, 0.0), (2, 5, 0.20, 30.0, 62_500.0, 0.0),
     (3, 15, 0.15, 50.0, 0.0, 900.0), (4, 40, 0.10, 50.0, 0.0, 900.0),
     (3, 15, 0.15, 50.0, 96_000.0, 960.0), (3, 55, 0.07, 90.0, 96_000.0, 2_000.0)],
)  # fmt: skip
def test_holding_limit_of_torque_and_pull(jaws, half_angle_deg, friction, radius, torque, pull):
    """Textbook statics (from memory): torque mu G R, pull mu G, both together by the friction circle."""
    grip = Grip("outside", radius, (2.0, 27.0), radians(half_angle_deg), jaws, friction)
    found = holding(grip, Wrench((0.0, 0.0, pull), (0.0, 0.0, -torque)))
    assert found.required(1.0) == pytest.approx(hypot(torque / radius, pull) / friction, rel=1e-4)
    assert found.failure == (SLIP_ROUND if torque / radius > pull else SLIP_ALONG)

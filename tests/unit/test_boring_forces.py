"""Forces while jaws are bored: every kind of pass at its worst, judged beside a second, plain model written apart."""

import random
from dataclasses import replace
from math import acos, atan2, cos, hypot, pi, radians, sin

import numpy as np
import pytest
from conftest import longer

from heldtrue.mechanics.materials import work_material
from heldtrue.planning.boring_checks import (
    EDGE,
    FAILS,
    FEED,
    GIVE,
    NOT_CHECKED,
    POWER,
    RING,
    SIZE,
    SLENDER,
    SLIDE,
    TIP,
    TO_CORRECT,
    TORQUE,
    Bar,
    Joint,
    RingRule,
    Stand,
    judge_forces,
)
from heldtrue.planning.boring_cutting import KNOBS, LEAST, choose_cutting
from heldtrue.planning.boring_forces import Edge, Metal, finish_depth, passes
from heldtrue.planning.boring_stand import shank_bar
from heldtrue.planning.boring_words import refusals
from heldtrue.planning.holds import Safety
from heldtrue.program.job import Cutting

CASES = 250


# A second model, plain: no name of the first is used in it but those of its inputs


def plain_thrust(kc11, mc, depth, feed, lead, nose, *, bore, worn):
    """The most that any cut up to that depth pushes."""
    depths = depth * np.linspace(0.2, 1, 161) if lead > 90 else [depth]
    found = [plain_cut(kc11, mc, float(d), feed, lead, nose, bore=bore, worn=worn) for d in depths]
    return tuple(max(one[i] for one in found) for i in range(3))


def plain_cut(kc11, mc, depth, feed, lead, nose, *, bore, worn):
    """Cutting, feed and passive force of an interrupted cut, from the chord of the edge found by walking along it."""
    angle = radians(lead)
    x = z = 0.0
    if nose > 0:  # round the nose from its lowest place, until the edge leads on straight or the depth is reached
        t = min(angle, acos(max(1 - depth / nose, -1.0)))
        x, z = nose * sin(t), nose * (1 - cos(t))
    if z < depth * (1 - 1e-5):
        along = (depth - z) / sin(angle)
        x, z = x + along * cos(angle), depth
    chord = atan2(z, x)
    wear = 1.5 if worn else 1.0
    k = kc11 * (feed * sin(chord)) ** -mc * wear * (1.2 if bore else 1.0)
    cutting = k * depth * feed * 1.5
    push_f, push_p = (2 / 3, 0.4) if worn else (0.5, 0.3)  # worn: 1.5 times the force, the thrust twice: 2 / 1.5
    slanted = max(cos(chord), 0.0)
    return cutting, push_f * cutting * sin(chord), cutting * (push_f * slanted + push_p * sin(chord))


def plain_lever(k, t, r, h):
    """A rigid jaw (shift u, lean a) on two springs, pushed by 1 at h, held at r: how much the hold at r changes."""
    found = np.linalg.solve([[k, 0.0, 1.0], [0.0, t, r], [1.0, r, 0.0]], [1.0, max(h, r), 0.0])
    return float(found[2])


def plain_deflection(force, diameter, overhang, young):
    """Castigliano, summed over slices of the bar."""
    at = (np.arange(20_000) + 0.5) * overhang / 20_000
    inertia = pi * diameter**4 / 64
    return float((force * at * at / (young * inertia)).sum() * overhang / 20_000)


def plain_verdicts(stand, cutting):
    """(check, pass) to (value, limit or None), everything from the numbers of the case."""
    metal, edge, bar = stand.metal, stand.edge, stand.bar
    bore = metal.kind == "bore"
    material = metal.material
    high = max(1.25 * material.kc11.value, material.kc11.most)
    young = {"steel": 200e3, "carbide": 500e3}[bar.material]
    small, large = metal.diameters

    def rev(d):
        return min(1000 * cutting.surface_speed / (pi * d), cutting.spindle_limit)

    if cutting.finish_allowance < 0.03:
        finish, may_give = cutting.pass_depth, cutting.pass_depth / 2
    else:
        finish = min(1.5 * cutting.finish_allowance + 0.06, cutting.pass_depth)
        may_give = cutting.finish_allowance
    deep = cutting.pass_depth + metal.proud
    kinds = {
        "rough": (deep, cutting.rough_feed),
        "contour": (deep, cutting.rough_feed),
        "relief": (min(cutting.pass_depth, metal.relief + finish), cutting.finish_feed),
    }
    wall = plain_thrust(high, material.mc.value, *kinds["contour"], edge.lead, edge.nose_radius, bore=bore, worn=True)
    left = min(plain_deflection(wall[2], bar.diameter, bar.overhang, young), may_give)
    kinds["finish"] = (finish + left, cutting.finish_feed)
    found = {}
    for part, (depth, feed) in kinds.items():
        pushes, most, lift = {}, {}, 0.0
        for worn in (True, False):
            kc = high if worn else material.kc11.value
            f = plain_thrust(kc, material.mc.value, depth, feed, edge.lead, edge.nose_radius, bore=bore, worn=worn)
            off, force = [], f[0]
            if part != "relief":
                off.append((f[2], metal.front))
            if part in ("relief", "finish"):
                flat = max(edge.lead - 45, 5)
                g = plain_thrust(kc, material.mc.value, depth, feed, flat, edge.nose_radius, bore=bore, worn=worn)
                off.append((max(hypot(f[1], f[2]), hypot(g[1], g[2])), metal.relief_height))
                force = max(force, g[0])
                lift = max(lift, off[-1][0])
            pushes[worn], most[worn] = off, (force, f[2])
        needs = []
        for rule in stand.rules:
            pull = rule.moment * (rev(small) * 2 * pi / 60) ** 2 / 1000
            f = max(
                push * plain_lever(stand.radial, stand.tilt, stand.ring_height, h) for push, h in pushes[rule.worst]
            )
            s = rule.safety.factor
            if rule.worst:
                needs.append((max(s / 2, 0.8) * 1.5 * f + pull, rule.push))
            else:
                needs.append((max(s * (f + pull), 1.5 * (1.5 * f + pull)), rule.push))
        found[RING, part] = max(needs, key=lambda pair: pair[0] / pair[1])
        force, passive = most[True]
        s = max(stand.safety.factor / 2, 0.8)
        held = max(stand.joint.clamp - lift, 0)
        found[SLIDE, part] = 1.25 * s * force, 0.1 * held
        found[TIP, part] = 1.5 * s * force * metal.front, held * stand.joint.half_width
        found[EDGE, part] = depth / sin(radians(edge.lead)), edge.length * 2 / 3
        found[FEED, part] = feed, 0.8 * edge.nose_radius
        found[TORQUE, part] = force * large / 2, stand.torque
        watts = force * (large / 2000) * (rev(large) * 2 * pi / 60)
        found[POWER, part] = watts / 0.8, stand.power
        found[GIVE, part] = (
            plain_deflection(max(push for push, _ in pushes[True]), bar.diameter, bar.overhang, young), may_give,
        )  # fmt: skip
        if part == "finish":
            found[SIZE, part] = 2 * plain_deflection(passive, bar.diameter, bar.overhang, young), stand.tolerance
    found[SLENDER, "rough"] = bar.overhang / bar.diameter, {"steel": 6.0, "carbide": 8.0}[bar.material]
    if not bar.is_known:
        found |= {key: (value, None) for key, (value, _) in found.items() if key[0] in (GIVE, SIZE, SLENDER)}
    return found


def drawn(rng):
    """A case anywhere in what shops have, good and bad."""
    material = work_material(rng.choice(["C15", "16MnCr5", "C45", "6061-T6", "7075-T6", "GJL-250", "CuZn39Pb3", "POM"]))
    small = rng.uniform(20, 300)
    ring = rng.uniform(3, 60)
    relief_height = rng.uniform(5, 80)
    metal = Metal(material, rng.choice(["bore", "turn"]), (small, small + rng.uniform(1, 150)),
                  rng.choice([0.0, rng.uniform(0, 4)]), rng.uniform(0.3, 1.5), relief_height,
                  relief_height + rng.uniform(2, 60))  # fmt: skip
    safety = Safety(rng.choice([1.5, 2.0, 2.4, 4.0]))
    push = 10 ** rng.uniform(2.5, 5)
    moment = rng.choice([0.0, rng.uniform(0, 400)])
    rules = (RingRule(push * rng.uniform(1, 1.4), moment * 0.9, safety, worst=False),
             RingRule(push, moment, safety, worst=True))  # fmt: skip
    stand = Stand(
        metal, Edge(rng.uniform(46, 130), rng.choice([0.2, 0.4, 0.8, 1.2]), rng.uniform(3, 12)), rng.random() < 0.5,
        Bar(rng.uniform(8, 40), rng.uniform(20, 160), rng.choice(["steel", "carbide"]), True,
            is_known=rng.random() < 0.8),
        Joint(10 ** rng.uniform(3, 5.3), rng.uniform(10, 40)), safety, rng.uniform(0.01, 0.1),
        ring, 648e3, 10 ** rng.uniform(8.5, 10.5), rules, rng.choice([None, 10 ** rng.uniform(3, 4.7)]),
        rng.choice([None, 10 ** rng.uniform(4.3, 6.3)]),
    )  # fmt: skip
    depth = rng.uniform(0.1, 6)
    cutting = Cutting(depth, rng.choice([0.0, rng.uniform(0.05, 0.5) * depth]), rng.uniform(0.03, 1.2),
                      rng.uniform(0.03, 0.3), rng.uniform(20, 500), rng.uniform(50, 4000))  # fmt: skip
    return stand, cutting


def test_random_cases_are_judged_alike_by_both_models():
    rng, failed, held = random.Random(20), 0, 0
    for _ in range(CASES):
        stand, cutting = drawn(rng)
        theirs = plain_verdicts(stand, cutting)
        _, checks = judge_forces(stand, cutting)
        assert {(check.name, check.part) for check in checks} == set(theirs)
        for check in checks:
            value, limit = theirs[check.name, check.part]
            assert check.value == pytest.approx(value, rel=5e-3), check
            if limit is None:
                assert check.state == NOT_CHECKED
                assert check.limit is None
                continue
            assert check.limit == pytest.approx(limit, rel=5e-3)
            if limit and abs(value / limit - 1) < 1e-2:
                continue
            failed, held = failed + (value > limit), held + (value <= limit)
            bad = TO_CORRECT if check.name == SIZE else FAILS
            assert check.state == (bad if value > limit else "holds"), check
    assert failed > CASES
    assert held > CASES


def test_every_force_grows_with_depth_feed_and_speed():
    """What holds must end once, else the largest that holds is not found by halving."""
    rng = random.Random(7)
    for _ in range(CASES):
        stand, cutting = drawn(rng)
        knob = rng.choice(KNOBS)
        more = replace(cutting, **{knob: getattr(cutting, knob) * rng.uniform(1.001, 3)})
        for low, high in zip(judge_forces(stand, cutting)[1], judge_forces(stand, more)[1], strict=True):
            assert used(high) >= used(low) * (1 - 5e-3), (knob, low, high)


def used(check):
    """Share of what is there that is used; of the rules for the ring another may decide, with another limit."""
    return check.value / check.limit if check.name == RING else check.value


@pytest.mark.parametrize("chosen", [35, *longer(50)])
def test_what_is_said_to_hold_holds_and_a_little_more_does_not(chosen):
    rng, alone, together = random.Random(3), 0, 0
    for _ in range(chosen):
        stand, asked = drawn(rng)
        usual = Cutting(1.5, asked.finish_allowance, 0.15, 0.08, 120.0, asked.spindle_limit)
        forces = choose_cutting(stand, asked, frozenset(KNOBS), usual)
        assert forces.cutting == asked  # what was asked is never changed in silence
        if forces.hold:
            assert forces.would_hold == ()
            assert refusals(forces, stand.bar, "metric") == ()
            continue
        for way in forces.would_hold:
            if way.after is not None:
                alone += 1
                assert not fails(stand, replace(asked, **{way.knob: way.after}))
                assert fails(stand, replace(asked, **{way.knob: min(way.after * 1.3 + 0.05, way.before)}))
        if forces.together:
            together += 1
            assert not fails(stand, replace(asked, **{way.knob: way.after for way in forces.together}))
        words = refusals(forces, stand.bar, "metric")
        assert len(words) == 1 + len({check.name for check in forces.failing})
    assert alone > 5
    assert together > 1


@pytest.mark.parametrize("chosen", [20, *longer(50)])
def test_values_nobody_asked_for_are_lowered_until_they_hold_and_no_further_than_makes_sense(chosen):
    rng, lowered = random.Random(4), 0
    for _ in range(chosen):
        stand, asked = drawn(rng)
        forces = choose_cutting(stand, asked, frozenset(), asked)
        if not forces.hold:
            assert forces.cutting == asked
            continue
        for way in forces.lowered:
            lowered += 1
            assert LEAST[way.knob] - 1e-9 <= way.after < way.before
        assert not fails(stand, forces.cutting)
        assert forces.cutting.pass_depth >= min(2 * asked.finish_allowance, asked.pass_depth) - 1e-9
    assert lowered > 5


def fails(stand, cutting):
    return any(check.state == FAILS for check in judge_forces(stand, cutting)[1])


def test_the_finish_is_taken_as_deep_as_a_proof_lets_it_be():
    from heldtrue.program.depth import FINISH_SHARE, FINISH_SLACK_MM

    for allowance, depth in ((0.2, 1.5), (0.0, 1.5), (0.5, 0.6)):
        cutting = Cutting(depth, allowance, 0.15, 0.08, 120, 1000)
        proof = FINISH_SHARE * allowance + FINISH_SLACK_MM if allowance >= FINISH_SLACK_MM / 2 else depth
        assert finish_depth(cutting) == pytest.approx(min(proof, depth))


def test_the_first_pass_is_as_much_deeper_as_a_jaw_stands_out():
    stand, cutting = drawn(random.Random(1))
    flat = passes(replace(stand.metal, proud=0.0), stand.edge, cutting, worst=True)[0]
    proud = passes(replace(stand.metal, proud=3.0), stand.edge, cutting, worst=True)[0]
    assert proud.depth == flat.depth + 3.0
    assert proud.cutting > flat.cutting


@pytest.mark.parametrize(("outline", "thick", "out"), [
    (((-19, -1), (-3, -1), (-3, 8), (0, 0.4), (0.4, 0), (-3, 90), (-19, 90)), 16, 90),
    (((0.03, -0.4), (60, 4.85), (60, 35), (3.65, 35), (3.65, 7.13), (-0.346, 0.2)), 30.2, 60),
])  # fmt: skip
def test_a_shank_is_read_off_its_outline(outline, thick, out):
    bar = shank_bar(outline)
    assert bar.diameter == pytest.approx(thick, abs=0.2)
    assert bar.overhang == pytest.approx(out)
    assert not bar.is_stated

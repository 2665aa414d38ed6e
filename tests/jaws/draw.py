"""Shops drawn at random: a chuck, a set of jaws, rings, a tool and a part; often such that nothing fits."""

from __future__ import annotations

import random
from math import cos, radians, sin, tan

from heldtrue.planning.setup import Setup


def drawn(seed):
    """A setup, or the error that says why there is none; the same for the same seed."""
    dice = random.Random(seed)
    outside = dice.random() < 0.5
    style = dice.choice(["standard", "standard", "wide", "pie"])
    jaws = dice.choice([3, 3, 3, 3, 2, 4, 6])
    diameter = round(dice.choice([dice.uniform(20, 60), dice.uniform(40, 140), dice.uniform(100, 230)]), 2)
    grip = (dice.choice([0.0, 2.0, 3.0]), round(dice.uniform(8.0, 26.0), 1))
    tall = round(dice.uniform(40.0, 70.0), 1)
    chuck = _chuck(dice, jaws)
    low, high = round(dice.uniform(-50, -8), 1), round(dice.uniform(20, 75), 1)
    ledge = dice.uniform(4.0, 16.0)
    span = (low + ledge + 18.0, high - 12.0) if outside else (low + 12.0, high - ledge - 18.0)
    holes = sorted(round(dice.uniform(*span), 1) for _ in range(dice.choice([1, 2])))
    table = {
        "title": f"drawn {seed}",
        "units": "metric",
        "part": {"number": f"P-{seed}", "material": "C45", **_part(dice, outside, diameter, grip[1])},
        "surface": [{"name": "end", "side": "face", "diameter": _face(outside, diameter), "z": grip[1] + 12}],
        "grip": {"side": "outside" if outside else "inside", "diameter": diameter, "z": list(grip), "seat": True},
        "chuck": chuck,
        "jaws": {
            "style": style, "material": dice.choice(["C15", "aluminium 6061-T6"]), "height": tall, "number": "J-1",
            "width": round(dice.uniform(25.0, 95.0), 1), "ends": [low, high], "holes": holes,
            "counterbore_diameter": 20.0, "counterbore_depth": round(dice.uniform(14.0, tall - 16), 1),
            "serration": "1.5 mm x 60 deg", "bolt": "M12", "bolt_class": "12.9", "web_limit": 6.0,
        },
        "boring": _boring(dice, outside, diameter),
        "cut": [{"name": "face", "kind": "face", "surface": "end", "depth": 1, "feed": 0.2, "speed": 150}],
    }  # fmt: skip
    if style == "pie":
        table["jaws"]["gap"] = round(dice.uniform(1.0, 6.0), 1)
        del table["jaws"]["width"]
    elif dice.random() < 0.35:
        table["jaws"]["inner_end"] = "pointed"
        table["jaws"]["gap"] = round(dice.uniform(2.0, 14.0), 1)
    _whole_job(random.Random(seed + 11), table, outside, diameter, grip)
    return Setup.from_dict(table)


def _whole_job(dice, table, outside, diameter, grip):
    """Now and then something on the fronts, and more diameters of the bore."""
    if dice.random() < 0.3:
        table["boring"]["face"] = round(dice.uniform(0.1, 1.5), 2)
    if dice.random() < 0.25:
        table["boring"]["deburr"] = True
    out, steps = (1 if outside else -1), []
    if dice.random() < 0.3:
        wide = dice.uniform(0.6, 6.0)
        steps.append({"diameter": round(diameter + out * 2 * wide, 2), "z": round(grip[1] + dice.uniform(0.0, 2.0), 2)})
        table["jaws"]["grip_height"] = round(table["jaws"]["height"] - steps[0]["z"] - dice.uniform(2, 8)
                                             + sum(grip) / 2, 2)  # fmt: skip
    if dice.random() < 0.3:
        steps.append(
            {"diameter": round(diameter - out * dice.uniform(7.0, 18.0), 2), "z": -round(dice.uniform(1.5, 8), 2)}
        )
    if steps:
        table["boring"]["steps"] = steps


def _face(outside, diameter):
    return [round(diameter * 0.7, 2), diameter] if outside else [diameter, diameter + 10.0]


def _part(dice, outside, diameter, high):
    far = diameter * 0.6 if outside else diameter + dice.uniform(15.0, 30.0)
    corners = [[far, 0], [diameter, 0], [diameter, high + 12], [far, high + 12]]
    return {"profile": corners, "blank": [[d, z + (1 if z else 0)] for d, z in corners]}


def _chuck(dice, jaws):
    first = round(dice.uniform(20.0, 48.0), 1)
    return {
        "name": "drawn", "number": "CH-1", "jaws": jaws, "max_draw_force": 43e3, "max_grip_force": 111e3,
        "max_speed": 4200, "jaw_travel": round(dice.uniform(3.0, 9.0), 1), "swing": round(dice.uniform(260, 420)),
        "body_diameter": 254, "through_hole": 60,
        "master_jaws": {"serration": "1.5 mm x 60 deg", "first_tooth": first, "teeth": dice.randint(30, 55),
                        "top_height": 4.0},
        "actuator": {"pull_area": 14500, "push_area": 15700, "max_pressure": 30, "gauge": "bar"},
    }  # fmt: skip


def _boring(dice, outside, diameter):
    rings = []
    for number in range(dice.randint(0, 4)):
        inside = round(dice.uniform(20.0, 220.0), 1)
        kind = dice.choice(["ring", "ring", "plug", "spider"])
        one = {"name": f"R{number}", "kind": kind, "outside": round(inside + dice.uniform(10, 50), 1),
               "width": round(dice.uniform(8, 20), 1)}  # fmt: skip
        rings.append(one if kind == "plug" else {**one, "inside": inside})
    nose = dice.choice([0.2, 0.4, 0.8])
    if outside:
        bar = dice.choice([6.0, 8.0, 10.0, 16.0, 20.0])
        tool = {"name": "bar", "nose_radius": nose, "quadrant": 4, "lead_angle": dice.choice([93, 95, 100]),
                "insert_angle": dice.choice([35, 55]), "bar_diameter": bar, "overhang": 6 * bar,
                "tip_offset": round(0.65 * bar, 1)}  # fmt: skip
    else:
        face, wall = radians(5.0), radians(30.0)
        start, touch = (nose * sin(face), -nose * cos(face)), (-nose * cos(wall), nose * sin(wall))
        tail = (touch[0] + 8 * sin(wall), touch[1] + 8 * cos(wall))
        outline = [start, (60.0, start[1] + 60 * tan(face)), (60.0, 35.0), (max(tail[0], 2.0), 35.0), tail, touch]
        tool = {"name": "turning tool", "nose_radius": nose, "quadrant": 3, "lead_angle": 95, "insert_angle": 55,
                "outline": [[round(x, 4), round(z, 4)] for x, z in outline]}  # fmt: skip
    found = {"tool": tool, "pass_depth": round(dice.uniform(0.6, 3.0), 1), "finish_allowance": 0.2}
    return {**found, "rings": rings} if rings else found

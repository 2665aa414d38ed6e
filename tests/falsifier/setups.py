"""Random setups that a shop might run: the shape of a setup file, metric, bare numbers.

``random_setup(seed, knowledge)``: the same seed gives the same part, chuck and cuts; ``knowledge`` only says how much
of it is written down: "plates", "usual" or "all".  Chucks, jaws and parts are invented.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass
from math import atan, pi
from typing import Any

import numpy as np

from heldtrue.errors import InputError
from heldtrue.mechanics.materials import work_material
from heldtrue.mechanics.section import Section
from heldtrue.planning.setup import Setup

KNOWLEDGE = ("plates", "usual", "all")
Table = dict[str, Any]

# Largest part, jaws, draw kN, grip kN, speed, area pull and push mm2, reference height, width, height, length of a jaw.
CHUCKS = (
    (150, 22, 57, 6000, 8200, 9100, 32, 30, 36, 62),
    (200, 34, 86, 5000, 11400, 12500, 38, 38, 45, 75),
    (260, 43, 111, 4200, 14500, 15700, 45, 45, 50, 90),
    (330, 61, 155, 3200, 20600, 22400, 55, 50, 60, 110),
    (420, 82, 205, 2500, 27700, 29800, 62, 60, 70, 130),
)
# Turning speed m/min (roughing), by group; finishing a third faster.
SPEEDS = {
    "steel": (110, 220), "stainless": (90, 150), "iron": (90, 200), "bronze": (130, 260), "brass": (160, 320),
    "aluminium": (220, 500), "titanium": (40, 70), "nickel": (22, 38), "plastic": (150, 280),
}  # fmt: skip
MATERIALS = (
    "C45", "42CrMo4", "16MnCr5", "S235", "11SMn30", "100Cr6", "C45", "42CrMo4", "304", "316", "17-4PH", "GJL-250",
    "GJS-500", "CuSn12", "CuAl10Ni", "CuZn39Pb3", "6061-T6", "7075-T6", "AlSi7Mg", "Ti6Al4V", "Inconel718", "POM",
)  # fmt: skip
FAMILIES = ("ring", "ring inside", "sleeve", "sleeve inside", "shaft", "flange", "disc", "cup", "collar inside")
NEW_KEYS = (
    ("part", "off_centre"), ("part", "off_centre_mass"), ("part", "off_centre_radius"), ("part", "roundness"),
    ("part", "holes"), ("chuck", "serviced"), ("jaws", "friction_range"), ("actuator", "gauge_error"),
    ("jaws", "base_tilt_range"),
)  # fmt: skip


@dataclass
class Dice:
    """Random numbers as they stand on drawings."""

    rng: np.random.Generator

    def between(self, low: float, high: float, step: float = 1.0) -> float:
        """A round number, evenly between."""
        return round(round(float(self.rng.uniform(low, high)) / step) * step, 4)

    def log(self, low: float, high: float) -> float:
        """Two figures, evenly in the logarithm."""
        return float(f"{np.exp(self.rng.uniform(np.log(low), np.log(high))):.2g}")

    def pick(self, *choices: Any, weights: tuple[float, ...] | None = None) -> Any:
        """One of them."""
        p = None if weights is None else np.array(weights) / sum(weights)
        return choices[int(self.rng.choice(len(choices), p=p))]

    def chance(self, share: float) -> bool:
        """True in that share of calls."""
        return bool(self.rng.uniform() < share)


def random_setup(seed: int, knowledge: str = "usual") -> Table:
    """A sensible setup in the shape of its file, which ``Setup.from_dict`` takes.

    Raises: ``ValueError`` for another word of knowledge, ``RuntimeError`` if none of 60 tries is taken.
    """
    if knowledge not in KNOWLEDGE:
        raise ValueError(f"knowledge {knowledge!r} is not one of {', '.join(KNOWLEDGE)}")
    problems: list[str] = []
    for attempt in range(60):
        dice = Dice(np.random.default_rng([seed, attempt]))
        full = _everything(dice)
        try:
            # Taken or not must not hang on the knowledge, or the same seed would be another part.
            told = {word: _accepted(_told(full, word)) for word in KNOWLEDGE}
        except InputError as error:
            problems.append(str(error))
            continue
        return told[knowledge]
    raise RuntimeError(f"seed {seed}: no sensible setup in 60 tries: {problems[-1]}")


def _accepted(table: Table) -> Table:
    """The table, less those of ``NEW_KEYS`` that the reader does not know.

    Raises: ``InputError`` where it is not taken without them either, or for their values.
    """
    try:
        Setup.from_dict(table)
    except InputError as fault:
        unknown = [(place, key) for place, key in NEW_KEYS if f'{place}: "{key}" is not known' in str(fault)]
        if not unknown:
            raise
        bare = deepcopy(table)
        for place, key in unknown:
            (bare["chuck"]["actuator"] if place == "actuator" else bare[place]).pop(key)
        return _accepted(bare)
    return table


# --- what is there ------------------------------------------------------------------------------------------------


@dataclass
class Shape:
    """A part, its blank, where it is gripped, what is cut. Diameters."""

    profile: list[list[float]]
    blank: list[list[float]]
    side: str
    diameter: float
    z: tuple[float, float]
    surfaces: list[Table]
    cuts: list[Table]
    long: bool = False
    wall: float = 0.5
    """Thinnest wall over the largest diameter, as far as it matters for the tolerances."""


def _everything(dice: Dice) -> Table:
    """The setup with all that is known of it, and under "hidden" what only decides what is told."""
    family = dice.pick(*FAMILIES)
    material = dice.pick(*MATERIALS)
    shape = _shape(dice, family, work_material(material).group)
    largest = max(d for d, _ in shape.blank)
    fitting = [row for row in CHUCKS if row[0] >= largest]
    row = fitting[min(int(dice.chance(0.35)), len(fitting) - 1)]
    _, draw, grip, speed, pull, push, reference, width, height, length = row
    count = 6 if family in ("ring", "sleeve", "disc") and dice.chance(0.25) else 3
    style = dice.pick("standard", "wide", "pie", weights=(4, 3, 3))
    jaws: Table = {"style": style, "material": dice.pick("C15", "16MnCr5", "6061-T6", "C45", weights=(4, 2, 3, 1))}
    if style == "pie":
        jaws["gap"] = 3
        jaws["width"] = width
        jaws["material"] = dice.pick("6061-T6", "C15")
    else:
        wanted = width * (2 if style == "wide" else 1) * dice.pick(1.0, 1.0, 1.2)
        room = 0.95 * shape.diameter * (np.tan(pi / count) if shape.side == "outside" else np.sin(pi / count))
        jaws["width"] = float(np.floor(min(wanted, room, 0.95 * shape.diameter)))
        if jaws["width"] < 8 or count * atan(jaws["width"] / shape.diameter) > pi:
            raise InputError("the jaws find no room")
    jaws["height"] = float(max(height * dice.pick(1, 1, 1.3, 1.6), np.ceil(shape.z[1] + 12)))
    jaws["length"] = float(length if shape.side == "outside" else min(length, shape.diameter / 2 - 8))
    condition = dice.pick("ground", "turned", "raw", weights=(1, 5, 2))
    if family in ("cup", "shaft") and dice.chance(0.3):
        condition = "raw"
    jaws["face"] = dice.pick(
        "smooth", "grooved", "diamond", "serrated", weights=(6, 2, 1, 1 if condition == "raw" else 0)
    )
    mu = {"smooth": (0.07, 0.16), "grooved": (0.08, 0.2), "diamond": (0.12, 0.3), "serrated": (0.2, 0.45)}[jaws["face"]]
    jaws["friction"] = {"value": dice.between(*mu, 0.005), "from": "measured"}
    ratio, area = grip / draw, pull if shape.side == "outside" else push
    share = dice.between(0.8, 1.0, 0.01)
    top = 0.1 * dice.between(28, 32)
    lost = dice.between(0.02, 0.1, 0.01)
    rows = [{"pressure": p, "force": round(share * ratio * area * (0.1 * p - lost) * dice.between(0.97, 1.03), -2),
             "days": 0} for p in (dice.between(8, 12), dice.between(14, 18), dice.between(20, 26))]  # fmt: skip
    chuck: Table = {
        "from": "plate", "name": f"{largest:.0f} mm chuck", "jaws": count, "max_draw_force": draw * 1000,
        "max_grip_force": grip * 1000, "max_speed": speed, "reference_grip_height": reference,
        "grease": "good",
        "grip_readings": {"value": rows, "from": "measured"},
        "master_jaw_mass": {"value": round(0.02 * reference * dice.between(0.7, 1.3, 0.05), 2), "from": "measured"},
        "master_jaw_radius": {"value": round(reference * 1.9 * dice.between(0.85, 1.15, 0.05)), "from": "measured"},
        "serviced": dice.chance(0.7),
        "actuator": {
            "from": "plate", "name": "cylinder", "pull_area": pull, "push_area": push, "max_pressure": round(10 * top),
            "least_pressure": 4, "gauge_error": dice.between(0.1, 0.5, 0.05),
        },
    }  # fmt: skip
    if shape.side == "inside":
        chuck["actuator"].pop("pull_area")
    blank = Section.of([(d / 2, z) for d, z in shape.blank])
    mass = blank.volume * work_material(material).density.value
    # A centre goes on a blank that the tail can reach past: nothing is faced there.
    part: Table = {
        "number": f"RS-{int(dice.between(100, 999))}", "material": material, "profile": shape.profile,
        "blank": shape.blank, "surface_condition": condition, "oily": False,
        "mass": {"value": float(f"{mass:.3g}"), "from": "measured"},
        "roundness": {"ground": 0.002, "turned": 0.01, "raw": 0.1}[condition] * dice.pick(0.5, 1.0),
        "holes": dice.chance(0.1),
    }  # fmt: skip
    if dice.chance(0.25):
        part["off_centre_mass"] = float(f"{mass * dice.between(0.005, 0.02, 0.005):.2g}")
        part["off_centre_radius"] = round(largest / 4, 1)
    else:
        part["off_centre"] = {"ground": 0.01, "turned": 0.03, "raw": 0.3}[condition]
    block = {"aluminium": 2.7e-6}.get(work_material(jaws["material"]).group, 7.85e-6)
    if style == "pie":
        inner, outer = shape.diameter / 2, shape.diameter / 2 + jaws["length"]
        if shape.side == "inside":
            inner, outer = max(inner - jaws["length"], 0), inner
        solid, centre = pi / count * (outer**2 - inner**2) * jaws["height"] * block, 0.75 * outer
    else:
        # A wide jaw is a block of the usual width with a nose 25 mm deep (docs/setup-file.md).
        behind = jaws["length"] * min(width, jaws["width"])
        nose = min(25.0, jaws["length"]) * max(jaws["width"] - width, 0.0) if style == "wide" else 0.0
        if style == "standard":
            behind = jaws["length"] * jaws["width"]
        solid = (behind + nose) * jaws["height"] * block
        back = (behind * jaws["length"] + nose * min(25.0, jaws["length"])) / (behind + nose) / 2
        centre = abs(shape.diameter / 2 + (1 if shape.side == "outside" else -1) * back)
    jaws["mass"] = {"value": float(f"{max(0.9 * solid, 0.03):.2g}"), "from": "measured"}
    jaws["centroid_radius"] = {"value": round(max(centre, 5.0)), "from": "measured"}
    jaws["bored_pressure"] = dice.between(5, 0.7 * 10 * top)
    jaws["base_tilt"] = {"value": dice.log(2e6, 2e7), "from": "measured"}  # N m/rad
    middle = jaws["base_tilt"]["value"]
    if int(middle / 1e5) % 10 < 3:  # no draw of its own: the setups of a seed stay what they were
        jaws["base_tilt_range"] = {"value": [0.6 * middle, 1.8 * middle], "from": "measured"}
    low, high = {"ground": (-0.01, 0.0), "turned": (-0.05, 0.0), "raw": (-0.4, 0.2)}[condition]
    if shape.side == "inside":
        low, high = -high, -low
    jaws["bore_diameter"] = round(shape.diameter + dice.between(low, high, 0.01), 3)
    width_ = dice.between(0.05, 0.2, 0.05)
    if dice.chance(0.4):
        value = jaws["friction"]["value"]
        jaws["friction_range"] = [round(value * (1 - width_), 4), round(value * (1 + width_), 4)]
    drilled = any(cut["kind"] == "drill" for cut in shape.cuts)
    seat = dice.pick(True, False, None, weights=(16, 0 if drilled else 2, 2))  # nobody drills against friction alone
    grip_table: Table = {
        "side": shape.side, "diameter": shape.diameter, "diameter_tolerance": [low, high], "z": list(shape.z),
    }  # fmt: skip
    if seat is not None:
        grip_table["seat"] = seat
    if shape.long:
        grip_table["centre"] = True
    wear = dice.pick("sharp", "worn", None)
    for cut in shape.cuts:
        cut["interrupted"] = bool(part["holes"]) or (
            condition == "raw" and not cut.get("finishing") and dice.chance(0.3)
        )
        if wear is not None:
            cut["wear"] = wear
    _slow_enough(shape.cuts, shape.surfaces, dice.between(0.25, 0.6, 0.05) * speed)
    _tolerate(dice, shape)
    return {
        "title": f"random {family}", "units": "metric", "part": part, "surface": shape.surfaces, "grip": grip_table,
        "chuck": chuck, "jaws": jaws, "cut": shape.cuts,
        "machine": {"name": "lathe", "max_speed": round(speed * 0.9, -2), "spin_up_time": dice.between(1.5, 5, 0.5)},
    }  # fmt: skip


def _told(full: Table, knowledge: str) -> Table:
    """What of it is written down."""
    told = deepcopy(full)
    part, grip, chuck, jaws = told["part"], told["grip"], told["chuck"], told["jaws"]
    if knowledge == "all":
        return told
    for key in ("mass", "roundness", "holes", "off_centre", "off_centre_mass", "off_centre_radius"):
        part.pop(key, None)
    for key in ("mass", "centroid_radius", "base_tilt", "base_tilt_range", "bore_diameter", "friction_range", "length"):
        jaws.pop(key, None)
    for key in ("master_jaw_mass", "master_jaw_radius", "serviced"):
        chuck.pop(key, None)
    chuck["actuator"].pop("gauge_error", None)
    # One reading, of a day that nobody wrote down.
    chuck["grip_readings"]["value"] = [{k: v for k, v in chuck["grip_readings"]["value"][0].items() if k != "days"}]
    told["machine"].pop("spin_up_time", None)
    for cut in told["cut"]:
        cut.pop("wear", None)
        cut.pop("interrupted", None)
    if knowledge == "plates":
        for key in ("grease", "grip_readings"):
            chuck.pop(key, None)
        for key in ("friction", "bored_pressure", "face"):
            jaws.pop(key, None)
        part.pop("oily", None)
        grip.pop("diameter_tolerance", None)
    return told


# --- parts --------------------------------------------------------------------------------------------------------


def _shape(dice: Dice, family: str, group: str) -> Shape:
    if family == "shaft":
        return _shaft(dice, group)
    if family in ("flange", "disc"):
        return _flange(dice, group, thin=family == "disc")
    if family == "cup":
        return _cup(dice, group)
    return _ring(dice, group, family)


def _ring(dice: Dice, group: str, family: str) -> Shape:
    """Rings and sleeves: one wall, gripped outside or inside; a collar has a step to be turned."""
    outer = dice.between(45, 350 if "ring" in family else 220)
    share = dice.between(0.03, 0.12, 0.01) if "ring" in family else dice.between(0.06, 0.18, 0.01)
    wall = max(round(share * outer), 4.0)
    inner = outer - 2 * wall
    length = dice.between(0.12, 0.35, 0.01) * outer if "ring" in family else dice.between(0.7, 1.6, 0.05) * outer
    length = max(round(length), 14.0)
    start = dice.pick(1.0, 2.0, 3.0)
    deep = dice.pick(0.35, 0.5, 0.65) if "ring" in family else dice.pick(0.25, 0.35, 0.5)
    z = (start, round(max(min(deep * length, 60.0), start + 8.0)))
    stock, over = dice.pick(0.5, 1.0, 1.5, 2.5), dice.pick(0.5, 1.0, 2.0)
    end: Table = {"name": "end face", "side": "face", "diameter": [inner, outer], "z": length}
    profile = [[inner, 0], [outer, 0], [outer, length], [inner, length]]
    if "inside" not in family:
        blank = [[inner - 2 * stock, 0], [outer, 0], [outer, length + over], [inner - 2 * stock, length + over]]
        bore: Table = {"name": "bore", "side": "inside", "diameter": inner, "z": [0, length]}
        cuts = [_face(dice, group, over), *_rough_finish(dice, group, "bore", "bore", stock)]
        return Shape(profile, blank, "outside", outer, z, [bore, end], cuts, wall=share)
    if family == "collar inside":
        step = max(outer - 2 * max(round(wall / 4), 1.0), inner + 4)
        at = round(max(length / 2, z[1] + 1.0))
        if at >= length - 3:
            raise InputError("no room for a step")
        profile = [[inner, 0], [outer, 0], [outer, at], [step, at], [step, length], [inner, length]]
        land: Table = {"name": "land", "side": "outside", "diameter": step, "z": [at, length]}
        end["diameter"] = [inner, step]
        blank = [[inner, 0], [outer, 0], [outer, length + over], [inner, length + over]]
        cuts = [_face(dice, group, over), *_rough_finish(dice, group, "turn", "land", (outer - step) / 2)]
        return Shape(profile, blank, "inside", inner, z, [land, end], cuts, wall=share)
    blank = [[inner, 0], [outer + 2 * stock, 0], [outer + 2 * stock, length + over], [inner, length + over]]
    rim: Table = {"name": "rim", "side": "outside", "diameter": outer, "z": [0, length]}
    cuts = [_face(dice, group, over), *_rough_finish(dice, group, "turn", "rim", stock)]
    return Shape(profile, blank, "inside", inner, z, [rim, end], cuts, wall=share)


def _shaft(dice: Dice, group: str) -> Shape:
    held = dice.between(30, 110)
    grip = round(held * dice.pick(0.5, 0.8, 1.1))
    out = round(held * dice.pick(0.8, 1.5, 2.5, 4.0))
    seat = dice.between(0.6 * held, 0.95 * held)
    bar = max(held, seat + 2 * dice.pick(1.0, 2.0, 4.0))
    length, shoulder = grip + 5 + out, grip + 5.0
    long = out > 2.6 * seat
    over = 0.0 if long else dice.pick(0.5, 1.0)
    profile = [[0, 0], [held, 0], [held, shoulder], [seat, shoulder], [seat, length], [0, length]]
    blank = [[0, 0], [held, 0], [held, shoulder], [bar, shoulder], [bar, length + over], [0, length + over]]
    if bar == held:
        blank = [[0, 0], [held, 0], [held, length + over], [0, length + over]]
    surface: Table = {"name": "seat", "side": "outside", "diameter": seat, "z": [shoulder, length]}
    cuts = _rough_finish(dice, group, "turn", "seat", (bar - seat) / 2)
    if dice.chance(0.4):
        deep = max(seat - 2 * dice.pick(1.5, 3.0), 5.0)
        at = round(shoulder + 0.5 * out)
        width = dice.pick(2.0, 3.0, 4.0)
        cuts.insert(len(cuts) - 1, {
            "name": "groove", "kind": "groove", "diameter": deep, "z": [at, at + width], "width": width,
            "feed": dice.between(0.05, 0.15, 0.01), "speed": _speed(dice, group, 0.75),
        })  # fmt: skip
    if over:
        cuts.insert(0, {**_face(dice, group, over), "diameter": seat, "z": [length, length + over]})
        cuts[0].pop("surface")
    return Shape(profile, blank, "outside", held, (3.0, float(grip)), [surface], cuts, long)


def _flange(dice: Dice, group: str, *, thin: bool) -> Shape:
    """A flange on a hub, or a thin disc with a hub; gripped outside on the hub."""
    rim = dice.between(90, 350)
    hub = round(rim * dice.between(0.35, 0.65, 0.05))
    bore = round(hub * dice.between(0.45, 0.75, 0.05))
    tall = round(dice.between(0.2, 0.5, 0.05) * hub + 12)
    thick = max(round(rim * (dice.between(0.03, 0.07, 0.01) if thin else dice.between(0.08, 0.16, 0.01))), 6.0)
    stock, over = dice.pick(1.0, 1.5, 2.5), dice.pick(0.5, 1.0, 2.0)
    full = tall + thick
    profile = [[bore, 0], [hub, 0], [hub, tall], [rim, tall], [rim, full], [bore, full]]
    drilled = dice.chance(0.4)
    hole = 0.0 if drilled else bore - 2 * stock
    blank = [
        [hole, 0],
        [hub, 0],
        [hub, tall],
        [rim + 2 * stock, tall],
        [rim + 2 * stock, full + over],
        [hole, full + over],
    ]
    surfaces: list[Table] = [
        {"name": "face", "side": "face", "diameter": [bore, rim], "z": full},
        {"name": "bore", "side": "inside", "diameter": bore, "z": [0, full]},
        {"name": "rim", "side": "outside", "diameter": rim, "z": [tall, full]},
    ]
    rough = _face(dice, group, over, surface="face")
    cuts = [rough]
    if drilled:
        drill = max(min(round(0.6 * bore), 24.0), 6.0)
        cuts.append({
            "name": "drill", "kind": "drill", "diameter": drill, "z": [0, full],
            "feed": _drill_feed(drill, group), "speed": _speed(dice, group, 0.6),
        })  # fmt: skip
        stock_in = (bore - drill) / 2
    else:
        stock_in = stock
    finish = {**rough, "name": "finish face", "depth": 0.25, "feed": 0.1, "finishing": True}
    cuts += _rough_finish(dice, group, "turn", "rim", stock)[:1]
    cuts += [*_rough_finish(dice, group, "bore", "bore", stock_in), finish]
    wall = thick / rim
    return Shape(profile, blank, "outside", hub, (2.0, float(tall - 2)), surfaces, cuts, wall=wall)


def _cup(dice: Dice, group: str) -> Shape:
    """A cup from the bar: drilled, bored to a bottom, gripped outside at the bottom or over the wall."""
    outer = dice.between(40, 160)
    inner = round(outer * dice.between(0.6, 0.88, 0.02))
    bottom = max(round(0.12 * outer), 5.0)
    length = bottom + round(outer * dice.between(0.4, 0.9, 0.1))
    over = dice.pick(0.5, 1.0, 2.0)
    profile = [[0, 0], [outer, 0], [outer, length], [inner, length], [inner, bottom], [0, bottom]]
    blank = [[0, 0], [outer, 0], [outer, length + over], [0, length + over]]
    drill = max(min(round(0.55 * inner), 24.0), 6.0)
    surfaces: list[Table] = [
        {"name": "bore", "side": "inside", "diameter": inner, "z": [bottom, length]},
        {"name": "end face", "side": "face", "diameter": [inner, outer], "z": length},
    ]
    cuts = [
        _face(dice, group, over),
        {
            "name": "drill", "kind": "drill", "diameter": drill, "z": [bottom, length],
            "feed": _drill_feed(drill, group), "speed": _speed(dice, group, 0.6),
        },
        *_rough_finish(dice, group, "bore", "bore", (inner - drill) / 2),
    ]  # fmt: skip
    reach = round(max(bottom + 4, dice.pick(0.3, 0.5) * length))
    wall = (outer - inner) / 2 / outer
    return Shape(profile, blank, "outside", outer, (2.0, float(max(reach, 12.0))), surfaces, cuts, wall=wall)


# --- cuts ---------------------------------------------------------------------------------------------------------


def _speed(dice: Dice, group: str, factor: float = 1.0) -> float:
    low, high = SPEEDS[group]
    return dice.between(low * factor, high * factor)


def _drill_feed(diameter: float, group: str) -> float:
    hard = 0.5 if group in ("titanium", "nickel", "stainless") else 1.0
    return round(hard * min(0.01 * diameter + 0.02, 0.25), 3)


def _slow_enough(cuts: list[Table], surfaces: list[Table], most: float) -> None:
    """No cut starts above that spindle speed [1/min]: nobody turns a heavy chuck faster for a small bore."""
    sizes = {s["name"]: max(np.ravel(s["diameter"]).tolist()) for s in surfaces}
    for cut in cuts:
        size = cut["diameter"] if "diameter" in cut else sizes[cut["surface"]]
        cut["speed"] = float(max(min(cut["speed"], np.floor(pi * size * most / 1000)), 2.0))


def _face(dice: Dice, group: str, over: float, surface: str = "end face") -> Table:
    return {
        "name": "face", "kind": "face", "surface": surface, "depth": float(min(over, dice.pick(0.5, 1.0, 2.0))),
        "feed": dice.between(0.1, 0.3, 0.01), "speed": _speed(dice, group),
    }  # fmt: skip


def _rough_finish(dice: Dice, group: str, kind: str, surface: str, stock: float) -> list[Table]:
    """Roughing and finishing of one surface; a thin stock comes off in the finish alone."""
    left = dice.pick(0.2, 0.25, 0.3)
    finish: Table = {
        "name": f"finish {surface}", "kind": kind, "surface": surface, "depth": left,
        "feed": dice.between(0.06, 0.14, 0.01), "speed": _speed(dice, group, 1.3), "finishing": True,
    }  # fmt: skip
    if stock <= left + 0.2:
        return [finish]
    most = {"aluminium": 4.0, "steel": 3.5, "brass": 3.0, "bronze": 3.0}.get(group, 2.5)
    rough: Table = {
        "name": f"rough {surface}", "kind": kind, "surface": surface,
        "depth": round(min(stock - left, most * dice.pick(0.4, 0.7, 1.0)), 2),
        "feed": dice.between(0.12, 0.35, 0.01), "speed": _speed(dice, group),
    }  # fmt: skip
    return [rough, finish]


def _tolerate(dice: Dice, shape: Shape) -> None:
    """Tolerances on one or two of the surfaces that a cut finishes, loose to tight."""
    cut = {c.get("surface") for c in shape.cuts if c.get("finishing")}
    able = [s for s in shape.surfaces if s["name"] in cut] or shape.surfaces[:1]
    for surface in able[: dice.pick(1, 1, 2)]:
        size = max(np.ravel(surface["diameter"]).tolist())
        # What is thin is drawn with tolerances that it can keep.
        value = dice.log(0.004, 0.06) * max(size / 100, 0.5) ** 0.5 * min(max(0.2 / shape.wall, 1.0), 8.0)
        kinds = ("flatness", "runout") if surface["side"] == "face" else ("roundness", "cylindricity", "runout")
        for kind in dict.fromkeys((kinds[0], dice.pick(*kinds))):
            factor = 1.0 if kind in ("roundness", "flatness") else 1.6
            surface[kind] = {"value": float(f"{value * factor:.2g}"), "from": "drawing"}

"""Setups at which a plan once said `passes` and should not have: the shipped ones with some tables changed."""

import tomllib

from conftest import ROOT

from heldtrue.planning.judge import Step, judge_step
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study

EXAMPLES = ROOT / "examples"


def raw(name, **tables):
    """A shipped setup as its file has it; a table given is laid over the file's, a key of None taken out of it."""
    found = tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8"))
    found.pop("boring", None)
    for key, changes in tables.items():
        laid = {**found.get(key, {}), **changes} if isinstance(changes, dict) else changes
        found[key] = {k: v for k, v in laid.items() if v is not None} if isinstance(laid, dict) else laid
    return found


def changed(name, **tables):
    return Setup.from_dict(raw(name, **tables), base_dir=EXAMPLES)


def only(**keys):
    """A whole jaw table in place of the one on the shelf."""
    return {"use": None, "mass": None, "centroid_radius": None, "bore_diameter": None, "bored_pressure": None,
            "face": None, "friction": None, "width": None, "height": None, **keys}  # fmt: skip


def all_cuts(study, *, finished=True):
    return Step("all cuts", tuple(cut.name for cut in study.job.setup.cuts), finished)


def check_at(study, name, pressure, speed=None):
    """One check of all cuts at a gauge pressure. [MPa]"""
    found = judge_step(study, all_cuts(study), pressure, study.speed if speed is None else speed)
    return next(check for check in found if check.name == name)


def most_pressed(study, pressure):
    return study.pressed(study.job.at_pressure(study.best, pressure, least=False), pressure, study.finishing_speed())


def stepped_disc(finished=100, **jaws):
    """A blank of Ø200 turned on `finished`, held in a bore of Ø60."""
    return changed(
        "wear-ring",
        part={"material": "42CrMo4", "mass": None, "profile": [[60, 0], [finished, 0], [finished, 30], [60, 30]],
              "blank": [[60, 0], [200, 0], [200, 31], [60, 31]]},
        surface=[{"name": "rim", "side": "outside", "diameter": finished, "z": [3, 30]}],
        grip={"diameter": 60, "diameter_tolerance": [0, 0.03], "z": [2, 22]},
        jaws=only(style="standard", material="C15", width=40, height=50, centroid_radius=25, **{"mass": 0.6, **jaws}),
        cut=[{"name": "turn", "kind": "turn", "surface": "rim", "depth": 1, "feed": 0.15, "speed": 150}],
        limits={"marking_allowed": True},
    )  # fmt: skip


def thinned_ring():
    """A stout blank that the cuts leave with a wall of 3 mm."""
    return changed(
        "wear-ring",
        part={"mass": None, "profile": [[140, 0], [146, 0], [146, 32], [140, 32]],
              "blank": [[140, 0], [170, 0], [170, 33], [140, 33]]},
        surface=[{"name": "rim", "side": "outside", "diameter": 146, "z": [0, 32]}],
        cut=[{"name": "rough", "kind": "turn", "surface": "rim", "depth": 2.5, "feed": 0.3, "speed": 160},
             {"name": "finish", "kind": "turn", "surface": "rim", "depth": 0.2, "feed": 0.1, "speed": 200,
              "finishing": True}],
    )  # fmt: skip


def raw_ring(tolerance=None, roundness=0.01):
    """A raw ring with a wall of 12 mm in full-circle jaws."""
    return changed(
        "gland-flange",
        part={"material": "Inconel 718", "mass": None, "surface_condition": "raw", "roundness": roundness,
              "profile": [[296, 0], [320, 0], [320, 40], [296, 40]],
              "blank": [[292, 0], [320, 0], [320, 40], [292, 40]]},
        surface=[{"name": "bore", "side": "inside", "diameter": 296, "z": [0, 40], "roundness": 0.2}],
        grip={"diameter": 320, "diameter_tolerance": tolerance, "z": [2, 20], "seat_diameters": None},
        jaws=only(style="pie", material="C15"),
        cut=[{"name": "bore", "kind": "bore", "surface": "bore", "depth": 1, "feed": 0.2, "speed": 40,
              "interrupted": False, "finishing": True}],
    )  # fmt: skip


def thin_sleeve():
    """The pump sleeve in cast aluminium with a thin wall, a wide tolerance of the grip and no form asked."""
    bare = [{key: value for key, value in one.items() if key not in ("roundness", "runout")}
            for one in raw("pump-sleeve-inch")["surface"]]  # fmt: skip
    bare[1]["diameter"] = 2.8
    return changed(
        "pump-sleeve-inch",
        part={"material": "AlSi7Mg", "mass": None,
              "profile": [[2.8, 0], [3.25, 0], [3.25, 1.25], [3.0, 1.25], [3.0, 3.0], [2.8, 3.0]],
              "blank": [[2.7, 0], [3.25, 0], [3.25, 3.0625], [2.7, 3.0625]]},
        surface=bare, grip={"diameter_tolerance": [-0.02, 0]},
    )  # fmt: skip


def unread_cylinder():
    """The pump sleeve on a cylinder 1.6 times as large as its chuck's own: grip read, plate left out."""
    area, share, threshold = 1.6 * 11400, 0.6, 0.08
    slope = share * 86_000 / 34_000 * area
    readings = [{"pressure": f"{10 * p} bar", "force": f"{slope * (p - threshold)} N", "days": 0} for p in (1.0, 2.0)]
    sleeve = raw("pump-sleeve-inch")
    chuck = Setup.from_dict(sleeve, base_dir=EXAMPLES).chuck_table()
    chuck["actuator"] = {k: v for k, v in chuck["actuator"].items() if k not in ("pull_area", "push_area")}
    chuck["grip_readings"] = {"from": "measured", "value": readings}
    sleeve["chuck"] = chuck
    return Setup.from_dict(sleeve, base_dir=EXAMPLES), area


def study(setup):
    return Study.of(setup)

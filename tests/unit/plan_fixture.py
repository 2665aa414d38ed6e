"""Plans built by hand, for drawings and sheets: the numbers are invented, the shapes those of real work."""

from dataclasses import replace
from math import asin, pi

import numpy as np

from heldtrue.planning.answer import gravity
from heldtrue.planning.caveats import caveats_of
from heldtrue.planning.known import Known
from heldtrue.planning.result import (
    FAILS,
    FORM,
    HOLD,
    LIKELY_VALUE,
    MARK,
    NOT_PROVEN,
    PASSES,
    PLATE,
    PUBLISHED,
    WORST_CASE,
    WORST_VALUE,
    Answer,
    Check,
    ContactPrint,
    Failure,
    GripForce,
    Hold,
    Lobe,
    Plan,
    PressureAdvice,
    PressureStep,
    Remedy,
    Rule,
    Shape,
    SpeedAdvice,
    SurfaceResult,
    WindowMap,
)
from heldtrue.planning.setup import Setup

CHUCK = {
    "name": "250 mm wedge chuck",
    "number": "CH-07",
    "jaws": 3,
    "max_draw_force": 45_000.0,
    "max_grip_force": 111_000.0,
    "max_speed_rpm": 4200.0,
    "swing": 270.0,
    "actuator": {"pull_area": 15_000.0, "push_area": 16_500.0, "max_pressure": 3.0, "gauge": "bar"},
}


def corners(*points):
    return tuple({"diameter": p[0], "z": p[1], **(p[2] if len(p) > 2 else {})} for p in points)


def wear_ring_setup(**changes) -> Setup:
    raw = {
        "title": "Wear ring, second side",
        "units": "metric",
        "part": {
            "number": "WR-158",
            "revision": "B",
            "name": "wear ring",
            "material": "CuSn12",
            "profile": corners(
                (140, 0, {"chamfer": 0.5}),
                (166, 0, {"chamfer": 1}),
                (166, 24, {"chamfer": 1}),
                (158, 24, {"radius": 1}),
                (158, 32, {"chamfer": 0.5}),
                (140, 32, {"chamfer": 0.5}),
            ),
            "blank": corners((140, 0), (166, 0), (166, 24), (161, 24), (161, 32), (140, 32)),
            "quantity": 40,
        },
        "surfaces": (
            {
                "name": "seal land",
                "side": "outside",
                "diameter": 158.0,
                "z": (24.0, 32.0),
                "roundness": 0.02,
                "runout": 0.03,
            },
        ),
        "grip": {
            "side": "inside",
            "diameter": 140.0,
            "diameter_tolerance": (0.0, 0.04),
            "z": (2.0, 14.0),
            "seat": True,
        },
        "chuck": CHUCK,
        "jaws": {"style": "pie", "material": "aluminium 6061-T6", "face": "smooth"},
        "cuts": (
            {
                "name": "rough land",
                "kind": "turn",
                "surface": "seal land",
                "depth": 1.5,
                "feed": 0.25,
                "surface_speed": 160.0,
            },
            {
                "name": "finish land",
                "kind": "turn",
                "surface": "seal land",
                "depth": 0.2,
                "feed": 0.1,
                "surface_speed": 200.0,
                "finishing": True,
            },
        ),
        "machine": {"name": "lathe 3", "max_speed_rpm": 3500.0},
    }
    return Setup(**{**raw, **changes})


def bush_setup(**changes) -> Setup:
    """Outside grip, three standard jaws, inch shop."""
    raw = {
        "title": "Pump bush, bore and face",
        "units": "inch",
        "part": {
            "number": "PB-2200",
            "revision": "3",
            "name": "pump bush",
            "material": "42CrMo4",
            "profile": corners(
                (44, 0, {"chamfer": 1}),
                (82, 0, {"chamfer": 1}),
                (82, 30),
                (96, 30, {"chamfer": 1}),
                (96, 44, {"chamfer": 1}),
                (70, 44, {"radius": 3}),
                (70, 66, {"chamfer": 1}),
                (44, 66, {"chamfer": 1}),
            ),
        },
        "surfaces": (
            {
                "name": "bore",
                "side": "inside",
                "diameter": 44.0,
                "z": (2.0, 64.0),
                "roundness": 0.012,
                "cylindricity": 0.02,
                "runout": 0.02,
            },
            {
                "name": "flange face",
                "side": "face",
                "diameters": (72.0, 94.0),
                "z": (44.0, 44.0),
                "flatness": 0.015,
            },
        ),
        "grip": {
            "side": "outside",
            "diameter": 82.0,
            "diameter_tolerance": (-0.05, 0.0),
            "z": (3.0, 25.0),
            "seat": True,
        },
        "chuck": {**CHUCK, "actuator": {**CHUCK["actuator"], "gauge": "psi"}},
        "jaws": {"style": "standard", "material": "steel C45", "face": "grooved", "width": 40.0},
        "cuts": (
            {
                "name": "rough bore",
                "kind": "bore",
                "surface": "bore",
                "depth": 2.0,
                "feed": 0.3,
                "surface_speed": 180.0,
            },
            {
                "name": "finish bore",
                "kind": "bore",
                "surface": "bore",
                "depth": 0.2,
                "feed": 0.1,
                "surface_speed": 220.0,
                "finishing": True,
            },
        ),
        "machine": {"name": "lathe 1", "max_speed_rpm": 4000.0},
    }
    return Setup(**{**raw, **changes})


def shaft_setup(**changes) -> Setup:
    """A long solid shaft between wide jaws and a centre, no seat."""
    raw = {
        "title": "Winch shaft, first side",
        "units": "metric",
        "part": {
            "number": "WS-31",
            "name": "winch shaft",
            "material": "C45",
            "profile": corners(
                (0, -20),
                (50, -20),
                (50, 160),
                (60, 160),
                (60, 190),
                (40, 190),
                (40, 260, {"chamfer": 2}),
                (0, 260),
            ),
            "blank": corners((0, -20), (65, -20), (65, 262), (0, 262)),
        },
        "surfaces": (
            {
                "name": "journal",
                "side": "outside",
                "diameter": 40.0,
                "z": (190.0, 258.0),
                "roundness": 0.01,
                "runout": 0.02,
            },
        ),
        "grip": {"side": "outside", "diameter": 50.0, "z": (0.0, 40.0), "seat": False, "centre": True},
        "chuck": CHUCK,
        "jaws": {"style": "wide", "material": "steel C45", "face": "serrated"},
        "cuts": (
            {
                "name": "journal",
                "kind": "turn",
                "surface": "journal",
                "depth": 2.5,
                "feed": 0.3,
                "surface_speed": 150.0,
            },
        ),
        "machine": {"name": "lathe 3"},
    }
    return Setup(**{**raw, **changes})


def six_jaw_setup() -> Setup:
    """A thin sleeve in six standard jaws inside."""
    return wear_ring_setup(
        title="Thin sleeve, six jaws",
        part={
            "number": "TS-6",
            "name": "sleeve",
            "material": "42CrMo4",
            "profile": corners((120, 0), (132, 0), (132, 60), (120, 60)),
        },
        surfaces=(
            {
                "name": "outside",
                "side": "outside",
                "diameter": 132.0,
                "z": (5.0, 58.0),
                "roundness": 0.01,
                "cylindricity": 0.02,
            },
        ),
        cuts=(
            {
                "name": "finish",
                "kind": "turn",
                "surface": "outside",
                "depth": 0.3,
                "feed": 0.1,
                "surface_speed": 180.0,
                "finishing": True,
            },
        ),
        grip={"side": "inside", "diameter": 120.0, "z": (2.0, 20.0), "seat": True},
        chuck={**CHUCK, "jaws": 6},
        jaws={"style": "standard", "material": "C45", "width": 30.0},
    )


def window_map(floor=1.4, ceiling=2.3, limit=1450.0, *, outside=False, pressures=60, speeds=60) -> WindowMap:
    pressure = np.linspace(0.2, 3.0, pressures)
    speed = np.linspace(100.0, 4200.0, speeds)
    p, n = np.meshgrid(pressure, speed, indexing="ij")
    loss = 0.9 * floor * (n / 2800.0) ** 2 if outside else 0.25 * floor * (n / 3500.0) ** 2
    holds = p / (floor * 0.92 + loss) - 1
    gain = 0.0 if outside else 0.5 * ceiling * ((n / 3400.0) ** 2 - (limit / 3400.0) ** 2)
    true = 1 - (p + gain) / ceiling
    return WindowMap(pressure, speed, np.minimum(holds, (3600 - n) / 3600), true)


def shape(name: str, jaws: int, lobes=0.006, shift=-0.002) -> Shape:
    angle = np.linspace(0.0, 2 * pi, 361)
    clamped = shift + lobes * np.cos(jaws * angle) + 0.2 * lobes * np.cos(2 * jaws * angle)
    return Shape(name, angle, clamped, -clamped)


def contact_print(setup: Setup, fit: str, off: float, peak: float, *, cells=(5, 14)) -> ContactPrint:
    radius = setup.grip.diameter / 2
    jaws = setup.jaws.count or setup.chuck.jaws
    half = pi / jaws - 0.02 if setup.jaws.style == "pie" else asin(min(0.9, (setup.jaws.width or 40.0) / 2 / radius))
    z = np.linspace(*setup.grip.z, cells[0] + 1)
    angle = np.linspace(0.0, half, cells[1] + 1)
    zc, ac = (z[1:] + z[:-1]) / 2, (angle[1:] + angle[:-1]) / 2
    across = 0.4 + 0.6 * np.cos(ac / half * pi / 2) - off * (ac / half) ** 2 * 8
    along = 1 - 0.35 * (zc - zc[0]) / (zc[-1] - zc[0])
    pressure = np.clip(np.outer(along, across), 0, None)
    pressure *= peak / pressure.max()
    return ContactPrint(
        fit,
        2 * radius + off / 5,
        2 * radius,
        0.0,
        tuple(z),
        tuple(angle),
        pressure,
        np.where(pressure > 0, 0.0, 0.004),
        peak,
        "bears in the middle of the jaw, open at its edges" if off > 0 else "bears over the whole face",
    )


FRICTION = ("friction, jaw on part", "assumed", "a torque wrench or a pull on a clamped part")
GRIP_SHARE = ("share of the plate's grip that arrives", "assumed", "a grip gauge in the chuck")
TOLERANCES = ("roundness", "cylindricity", "flatness", "runout")
LIKELY_SHARE = {"runout": 1 / 3}
"""Share of a tolerance that the likely form may use; half of all others. The worst may use 0.8 of each."""


def hold(cut, state, grip, needed, best) -> Check:
    """A hold check by both rules [N], the worst case the tighter."""
    margin = grip / needed - 1
    rules = (Rule(PUBLISHED, 1.2 * grip, needed, 1.2 * grip / needed - 1), Rule(WORST_CASE, grip, needed, margin))
    torque = 300_000.0
    return Check(
        f"hold: {cut}", f"Does it stay in during '{cut}'?", state, grip, needed, "force", margin, best, *FRICTION,
        "gives way by: slip round; turn, z = 32; by the worst case; safety factor 2.4 (seat or centre)", HOLD, cut,
        True, rules, Failure("slip round", cut, "turn, z = 32", 79.0, 32.0, torque, torque * grip / needed, "torque"),
    )  # fmt: skip


def form(surface, tolerance, *, state=PASSES) -> Check:
    """A form check: eight tenths of what the likely and the worst value may be, half as much again too much."""
    asked = getattr(surface, tolerance)
    limits = LIKELY_SHARE.get(tolerance, 1 / 2) * asked, 0.8 * asked
    used = 1.32 if state == FAILS else 0.8
    likely, worst = (
        Rule(name, used * limit, limit, 1 - used)
        for name, limit in zip((LIKELY_VALUE, WORST_VALUE), limits, strict=True)
    )
    return Check(
        f"{tolerance}: {surface.name}", f"Is '{surface.name}' good enough after release?", state, likely.value,
        likely.limit, "length", likely.margin, 0.4 if state == PASSES else likely.margin, *GRIP_SHARE,
        "", FORM, surface.name, False, (likely, worst),
    )  # fmt: skip


def asked_of(surface) -> tuple[str, ...]:
    """Tolerances that the drawing asks of a surface."""
    return tuple(tolerance for tolerance in TOLERANCES if getattr(surface, tolerance) is not None)


def checks(setup, *, state=PASSES) -> tuple[Check, ...]:
    needed, best = {PASSES: (45_000.0, 0.9), NOT_PROVEN: (60_000.0, 0.9), FAILS: (60_000.0, -0.02)}[state]
    rough, finish = (setup.cuts[0].name, setup.cuts[-1].name) if setup.cuts else ("rough", "finish")
    plates = [
        ("draw force", "Is the draw force within the plate at this grip height?", 30_000.0, 45_000.0, "force",
         ("share of the draw force allowed at this grip height", "assumed", "grip height")),
        ("cylinder pressure", "Is the pressure within the plate of the cylinder?", 1.8, 3.0, "pressure",
         ("highest pressure of the cylinder", "plate")),
        ("speed", "Is the speed within the plates?", 1450.0, 3500.0, "speed_rpm",
         ("highest speed on the plates", "plate")),
    ]  # fmt: skip
    one_cut = {} if finish == rough else {finish: hold(finish, PASSES, 52_000.0, 10_600.0, 6.0)}
    return (
        hold(rough, state, 52_000.0, needed, best),
        *one_cut.values(),
        *(Check(name, question, PASSES, value, limit, kind, 1 - value / limit, 1 - value / limit, *by, group=PLATE,
                subject=name) for name, question, value, limit, kind, by in plates),
        *(form(s, tolerance, state=FAILS if state == FAILS else PASSES) for s in setup.surfaces for tolerance in
          asked_of(s)),
        Check("marking", "Do the jaws leave marks?", PASSES, 41.0, 150.0, "stress", 0.727, 0.8, "yield strength",
              "handbook", group=MARK, subject="finished section"),
    )  # fmt: skip


def answer(setup, found, *, assumed=None, remedies=()) -> Answer:
    """The answer of these checks, ranked as the program ranks them."""
    ranked = tuple(sorted(found, key=gravity))
    open_inputs = ASSUMED if assumed is None else assumed
    leading = ranked[0] if ranked else None
    alike = 0 if leading is None or leading.state == PASSES else sum(c.state == leading.state for c in ranked) - 1
    first = next((known for known in open_inputs if known.measure), None)
    return Answer(ranked, leading, alike, open_inputs, first, remedies, caveats_of(setup))


def with_checks(plan, found) -> Plan:
    """A plan with other checks, and the answer that goes with them."""
    remade = answer(plan.setup, found, assumed=plan.answer.open_inputs, remedies=plan.answer.remedies)
    return replace(plan, checks=tuple(found), answer=remade)


ASSUMED = (
    Known(
        "friction",
        "friction, jaw on part",
        0.09,
        0.15,
        "ratio",
        "assumed",
        "",
        "a torque wrench or a pull on a clamped part",
    ),
    Known(
        "grip share",
        "share of the plate's grip that arrives",
        0.6,
        1.0,
        "ratio",
        "assumed",
        "grease unknown, taken as poor",
        "a grip gauge in the chuck",
    ),
    Known(
        "threshold",
        "pressure lost before the jaws grip",
        0.1,
        0.0,
        "pressure",
        "assumed",
        "",
        "gauge at which the jaws first move",
    ),
    Known(
        "jaw moment",
        "mass times radius of all jaws",
        720.0,
        430.0,
        "mass moment",
        "assumed",
        "",
        "weigh one top jaw and one master jaw",
    ),
    Known(
        "spin-up",
        "time to spin up to full speed",
        1.0,
        4.0,
        "time",
        "assumed",
        "",
        "a stopwatch at the machine",
    ),
)


def make_plan(setup: Setup, *, state=PASSES, **changes) -> Plan:
    jaws = setup.jaws.count or setup.chuck.jaws
    names = [cut.name for cut in setup.cuts] or ["rough"]
    rough, finish = names[0], names[-1]
    made = checks(setup, state=state)
    likely = {check.name: check.rules[0].value for check in made if check.group == FORM}
    results = tuple(
        SurfaceResult(
            s.name,
            s.side,
            0.0098,
            likely.get(f"roundness: {s.name}", 0.0081),
            likely.get(f"cylindricity: {s.name}", 0.0095),
            likely.get(f"flatness: {s.name}", 0.006),
            0.004,
            0.001,
            0.0006,
            (Lobe(jaws, 0.0038), Lobe(2 * jaws, 0.0007)),
            "largest",
        )
        for s in setup.surfaces
    )
    fits = (
        (
            contact_print(setup, "smallest", -0.05, 33.0),
            contact_print(setup, "middle", 0.0, 36.0),
            contact_print(setup, "largest", 0.16, 58.0),
        )
        if setup.grip.diameter_tolerance != (0.0, 0.0)
        else (contact_print(setup, "nominal", 0.02, 36.0),)
    )
    ceiling_by = f"roundness: {setup.surfaces[0].name}" if setup.surfaces else "marking"
    step = PressureStep("all cuts", (rough, finish), True, 1.4, f"hold: {rough}", 2.3, ceiling_by, 1.8)
    plan = Plan(
        setup=setup,
        verdict=state,
        pressure=PressureAdvice(1.4, 2.3, 1.8, (step,), 1.8),
        speed=SpeedAdvice(
            1450.0,
            "fastest cut with a little in hand",
            2300.0,
            "a third of the grip must be left at speed",
            (("plate", 4200.0), ("machine", 3500.0)),
        ),
        grip_force=GripForce(52_000.0, 48_000.0, 17_300.0, 70_000.0, 70_000.0),
        holds=(
            Hold(rough, "turn, z = 32", "slips round", 2.31, 2.0, 42_000.0, 322.0, 1180.0, 2.6),
            Hold(finish, "turn, z = 32", "tips", 9.8, 2.0, 9_000.0, 403.0, 118.0, 11.0),
            Hold("spin-up", "to full speed", "slips round", 30.0, 2.0, 3_000.0, 1450.0, 0.0, float("inf")),
        ),
        surfaces=results,
        checks=made,
        answer=answer(setup, made),
        assumed=ASSUMED,
        prints=fits,
        shapes=tuple(shape(s.name, jaws, 0.0045 if i == 0 else 0.002) for i, s in enumerate(setup.surfaces)),
        window=window_map(outside=setup.grip.side == "outside"),
        notes=("the bore is not marked as datum; ask if it must show no print",),
    )
    return replace(plan, **changes)


def wear_ring_plan() -> Plan:
    return make_plan(wear_ring_setup(), state=NOT_PROVEN)


def bush_plan() -> Plan:
    return make_plan(bush_setup())


def shaft_plan() -> Plan:
    return make_plan(shaft_setup())


def six_jaw_plan() -> Plan:
    return make_plan(six_jaw_setup())


def two_pressure_plan() -> Plan:
    steps = (
        PressureStep("rough", ("rough land",), False, 1.4, "hold: rough land", 2.9, "draw force", 1.75),
        PressureStep("finish", ("finish land",), True, 0.55, "hold: finish land", 0.95, "roundness: seal land", 0.7),
    )
    advice = PressureAdvice(1.4, 2.9, 1.75, steps, 1.75)
    return make_plan(wear_ring_setup(), pressure=advice, window=window_map(1.4, 0.95))


def no_window_plan() -> Plan:
    step = PressureStep(
        "all cuts", ("rough land", "finish land"), True, 1.9, "hold: rough land", 1.2, "roundness: seal land", None
    )
    advice = PressureAdvice(1.9, 1.2, None, (step,), 1.9)
    plan = make_plan(wear_ring_setup(), state=FAILS, pressure=advice, window=window_map(1.9, 1.2))
    remedies = (
        Remedy("grip length", was=12.0, to=20.0, kind="length"),
        Remedy("depth", "rough land", 1.5, 0.8, "length"),
        Remedy("jaws", was=3.0, to=6.0),
    )
    return replace(plan, answer=replace(plan.answer, remedies=remedies))


def extreme_plan() -> Plan:
    """Everything too long, too many, and full of signs that mean something to a typesetter."""
    nasty = 'Ring #1 $x$ *bold* _it_ \\escape "quotes" <b>&amp; @ref [link](x) `code` // ~ ° µ é ж '
    setup = wear_ring_setup(
        title=nasty * 3,
        part={
            **wear_ring_setup().part.model_dump(),
            "number": "X" * 60,
            "revision": "R" * 30,
            "name": nasty * 2,
        },
        cuts=tuple(
            {
                "name": f"cut {i} {nasty}",
                "kind": "turn",
                "surface": "seal land",
                "depth": 1.0,
                "feed": 0.2,
                "surface_speed": 160.0,
            }
            for i in range(12)
        ),
        surfaces=tuple(
            {
                "name": f"land {i} {nasty}",
                "side": "outside",
                "diameter": 158.0,
                "z": (24.0, 32.0),
                "roundness": 0.02,
                "runout": 0.03,
                "cylindricity": 0.03,
            }
            for i in range(9)
        ),
        machine={"name": nasty * 3},
        chuck={**CHUCK, "name": nasty * 3, "number": "9" * 50},
        jaws={"style": "pie", "material": nasty * 2, "face": "diamond"},
    )
    steps = tuple(
        PressureStep(name, tuple(c.name for c in setup.cuts), i == 1, 1.4, nasty * 4, 2.9, nasty * 4, 1.75 - i)
        for i, name in enumerate((f"rough {nasty}", f"finish {nasty}"))
    )
    many = tuple(replace(ASSUMED[i % 5], label=f"{i} {nasty}", measure=nasty * 2) for i in range(40))
    plan = make_plan(setup, state=FAILS, assumed=many)
    found = tuple(
        replace(c, name=f"{c.name} {nasty}", question=f"{c.question} {nasty}", decided_by=nasty * 2)
        for c in plan.checks * 3
    )
    remedies = (Remedy("depth", nasty, 1.5, 0.9, "length"),) * 9
    return replace(
        plan,
        checks=found,
        answer=answer(setup, found, assumed=many, remedies=remedies),
        pressure=replace(plan.pressure, steps=steps),
        speed=replace(plan.speed, reason=nasty * 4),
        holds=tuple(replace(h, cut=nasty * 3) for h in plan.holds * 4),
        notes=(nasty * 3,) * 7,
    )


ALL = {
    "wear-ring": wear_ring_plan,
    "bush": bush_plan,
    "shaft": shaft_plan,
    "six-jaw": six_jaw_plan,
    "two-pressures": two_pressure_plan,
    "no-window": no_window_plan,
    "extreme": extreme_plan,
}

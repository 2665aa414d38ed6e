"""Writes the table of validation.md: published numbers beside ours, recomputed.  ``make docs``.

The published numbers and their sources stand in tests/validation; here every test there gets its rows.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

DOCS = Path(__file__).parent
TESTS = DOCS.parent / "tests"
sys.path[:0] = [str(DOCS), str(TESTS / "validation"), str(TESTS / "unit"), str(TESTS)]
import test_boring_published as boring_tests
import test_chuck_manuals as manual_tests
import test_closed_form_published as closed_form_tests
import test_contact_published as contact_tests
import test_cutting_published as cutting_tests
import test_form_published as form_tests
import test_friction_published as friction_tests
import test_jaws_published as jaw_tests
import test_spin_published as spin_tests
import test_turned_body_published as body_tests
from between import refresh, table, write
from row import Row, parameters
from rows_inspection import inspection_rows
from rows_program import program_rows
from rows_reliability import reliability_rows

from heldtrue.mechanics import closed_form, cutting, form, operations, spin
from heldtrue.mechanics.boring_bar import bar_deflection
from heldtrue.mechanics.contact import JawFace, bore_gap, part_compliance, press
from heldtrue.mechanics.cutting import cutting_power_kw, surface_speed
from heldtrue.mechanics.holding import Grip, Wrench, holding
from heldtrue.mechanics.jaw_body import JawBody
from heldtrue.mechanics.jaw_shape import JawBase, JawShape
from heldtrue.mechanics.materials import WORK_FRICTION_FACTOR, friction_range, work_material
from heldtrue.mechanics.turned_body import Patch, Stations, TurnedBody
from heldtrue.tooling.bolts import assembly
from heldtrue.tooling.serration import serration

# --- closed forms ---------------------------------------------------------------------------------------------

FINE = "VDI 2230:2001 fine threads (catalogue page, read)"
COARSE = "VDI 2230-1, coarse threads (from memory)"
RULE = "common practice, no source"


def closed_form_rows() -> Iterator[Row]:
    t = closed_form_tests
    for d, pitch, strength, mu, kilonewton, newton_metre in parameters(t.test_vdi_2230_fine_threads):
        found = t.bolt(d, pitch, strength, mu)
        name = f"M{d}x{pitch:g}, Rp {strength}, friction {mu:.2f}"
        test = "test_vdi_2230_fine_threads"
        yield Row(test, f"preload {name}", FINE, kilonewton, found.preload / 1e3, "kN")
        yield Row(test, f"torque {name}", FINE, newton_metre, found.torque / 1e3, "N m")
    for d, pitch, printed in parameters(t.test_vdi_2230_coarse_threads_class_12_9):
        for mu, torque in zip((0.10, 0.12, 0.14), printed, strict=True):
            ours = t.bolt(d, pitch, 1100, mu).torque / 1e3
            name = f"torque M{d}, 12.9, friction {mu:.2f}"
            yield Row("test_vdi_2230_coarse_threads_class_12_9", name, COARSE, torque, ours, "N m")
    yield Row(
        "test_tightening_scatter_example", "preload M12, 8.8, friction 0.14", "scribd.com/document/564189166 (read)",
        41.9, t.bolt(12, 1.75, 640, 0.14).preload / 1e3, "kN",
    )  # fmt: skip
    ring = closed_form.thin_ring(1.0, 2, 1.0, young=1.0, inertia=1.0)
    where, test = "Timoshenko (from memory)", "test_ring_pinched_at_two_points"
    yield Row(test, "ring pinched at two points, across the load", where, 0.149, -2 * ring.at_load, "PR³/EI")
    yield Row(test, "ring pinched at two points, the other way", where, 0.137, 2 * ring.midway, "PR³/EI")
    yield Row(test, "ring pinched at two points, moment at the load", where, 0.318, ring.moment_at_load, "PR")
    for loads, rule in ((3, 0.0302), (4, 0.0115), (6, 0.0032), (2, 0.143)):
        ours = closed_form.thin_ring(1.0, loads, 1.0, young=1.0, inertia=1.0).peak_to_valley
        yield Row("test_thin_ring_rule_of_thumb_for_three_jaws", f"thin ring in {loads} jaws, peak to valley", RULE,
                  rule, ours, "WR³/EI")  # fmt: skip
    exact = closed_form.annulus_displacement(
        1000, 3, math.radians(2), 44.05, 50, 20, young=210_000, poisson=0.3, radius=44.05, angles=[0, math.pi / 3]
    )
    thin = closed_form.thin_ring(1000, 3, 47.025, young=210_000, inertia=20 * 5.95**3 / 12).peak_to_valley
    yield Row(
        "test_thin_ring_stays_in_the_measured_band", "thin-ring theory over exact elasticity, Din/Dout 0.881",
        "Malluck and Melkote 2004 (abstract read): theory within 6 % of measurement", (0.94, 1.06),
        float(thin / (exact[1] - exact[0])),
    )  # fmt: skip
    p, young, nu, d1, d2 = 400.0, 210_000.0, 0.3, 100.0, 102.0
    k_d, c_e = d1 * d2 / (d2 - d1), 2 * (1 - nu**2) / young
    line = closed_form.hertz_line(p * 25, 25, d1 / 2, -d2 / 2, young_1=young, poisson_1=nu, young_2=young, poisson_2=nu)
    test, where = "test_roark_line_contact_constants", "Roark, table 14.1 (from memory)"
    yield Row(test, "line contact, full width", where, 1.60, 2 * line.half_width / math.sqrt(p * k_d * c_e), "√(pKC)")
    yield Row(test, "line contact, peak", where, 0.798, line.peak_pressure / math.sqrt(p / (k_d * c_e)), "√(p/KC)")
    three, six = (closed_form.thin_ring(6 / n, n, 1.0, young=1.0, inertia=1.0).peak_to_valley for n in (3, 6))
    test = "test_wall_and_point_count_rules"
    yield Row(test, "same total grip, 3 points against 6", RULE, 19, three / six, "times")
    thick, half = (closed_form.thin_ring(1.0, 3, 1.0, young=1.0, inertia=w**3).peak_to_valley for w in (2.0, 1.0))
    yield Row(test, "half the wall", RULE, 8, half / thick, "times")


# --- contact --------------------------------------------------------------------------------------------------


def contact_rows() -> Iterator[Row]:
    """The case of the test: a steel shaft R 50 in rigid jaws bored R 51."""
    stations = Stations("outside", 50.0, tuple(np.linspace(0, 60.0, 6)))
    body = TurnedBody([(0, 0), (50, 0), (50, 60.0), (0, 60.0)], 210_000.0, 0.3, order=6)
    face = JawFace(stations, math.radians(6), 24, 3)
    response = body.respond(stations, 3, [(0, 1)], harmonics=80)
    found = press(face, part_compliance(response, face), 24_000.0, bore_gap(face, 50.0, 51.0))
    middle = found.pressure[2]
    q = float(middle @ face.areas[2]) / 12.0
    b = math.sqrt(4 * q * 50 * 51 / (math.pi * 210_000.0 / (1 - 0.3**2)))
    peak = 2 * q / (math.pi * b)
    yield Row(
        next(name for name in vars(contact_tests) if name.startswith("test_")),
        "peak pressure, shaft R 50 in a bore R 51", "Hertz, as in Johnson 1985, section 4.2 (from memory)",
        peak, float(middle.max()), "MPa",
    )  # fmt: skip


# --- elastic jaws ---------------------------------------------------------------------------------------------


def jaw_rows() -> Iterator[Row]:
    """The cases of the tests: Hertz with an elastic jaw, a rigid narrow jaw as a punch, equilibrium."""
    t = jaw_tests
    face, part = t.shaft_in_jaws(math.radians(8), 12, bands=3)
    shape = JawShape("standard", "outside", 50.0, math.radians(8), 60.0, 80.0, 95.0, 30.0, ledge=2.0)
    jaw = JawBody(shape, *t.STEEL, JawBase(1e6, 1e6, 1e13)).compliance(face)
    middle = press(face, part + jaw, 24_000.0, bore_gap(face, 50.0, 51.0)).pressure[1]
    q = float(middle @ face.areas[1]) / 20.0
    b = math.sqrt(4 * q * 50 * 51 / (math.pi * t.STEEL[0] / (2 * (1 - t.STEEL[1] ** 2))))
    yield Row("test_hertz_shaft_and_jaw_of_steel", "peak pressure, shaft R 50 in an elastic steel jaw bored R 51",
              "Hertz, as in Johnson 1985, section 4.2 (from memory)", 2 * q / (math.pi * b), float(middle.max()),
              "MPa")  # fmt: skip

    half = math.radians(4)
    face, part = t.shaft_in_jaws(half, 6, harmonics=160)
    carried = press(face, part, 24_000.0).pressure[2] * face.areas[2]
    ours = carried / carried.sum()
    bounds = np.arcsin(face.bounds / half)
    punch = np.diff(bounds) / bounds[-1]
    where, test = (
        "Sadowsky, as in Johnson 1985, section 2.8 (from memory)",
        ("test_sadowsky_rigid_punch_is_a_narrow_jaw_bored_to_the_shaft"),
    )
    for k, name in ((0, "in the middle"), (3, "at two thirds")):
        yield Row(test, f"share of the force on a rigid narrow jaw, cell {name}", where, float(punch[k]),
                  float(ours[k]))  # fmt: skip
    yield Row(test, "share of the force, the two cells at the edge", where, float(punch[4:].sum()),
              float(ours[4:].sum()))  # fmt: skip

    face, part = t.shaft_in_jaws(math.asin(20 / 50), 8, order=4, harmonics=31)
    c = press(face, part, 24_000.0)
    yield Row("test_whole_mean_pressure_is_force_over_projected_face", "pressures summed along the jaw", "equilibrium",
              24_000.0, float(((c.pressure * face.areas) @ face.along).sum()), "N")  # fmt: skip

    where, test = (
        "Cattaneo 1938, Mindlin 1949, as in Johnson 1985, section 7.2 (from memory)",
        "test_cattaneo_mindlin_sticks_in_the_middle_of_a_hertz_contact",
    )
    for share in (0.25, 0.5, 0.75, 0.9):
        width, middle, *_ = friction_tests.pulled_round(share)
        stuck = math.sqrt(1 - share)
        yield Row(test, f"stick width over contact width, pulled with {share:g} of the friction limit", where, stuck,
                  float(width))  # fmt: skip
        yield Row(test, f"traction over its limit in the middle, pulled with {share:g} of it", where, 1 - stuck,
                  float(middle.mean()))  # fmt: skip


# --- what shops see -------------------------------------------------------------------------------------------


def shop_table() -> str:
    """What shops say of gaps and tapers beside ours.  No published numbers: see the page."""
    import test_elastic as shop

    def force(psi: float) -> float:
        return float(psi * shop.PSI * shop.PER_JAW)

    steel = shop.shop_case(shop.STEEL, 45.0, 25.0, 100)
    short = shop.shop_case(shop.ALUMINIUM, 60.0, 38.0, 100)
    tall = shop.shop_case(shop.ALUMINIUM, 100.0, 85.0, 50)
    stiff, soft = (
        shop.shop_case(shop.ALUMINIUM, 100.0, 85.0, 50, base)
        for base in (JawBase(2e4, 1e4, 3e10), JawBase(2e3, 1e3, 2e9))
    )

    def seen(case: Any, psi: float) -> str:
        gap, closes = max(shop.tip_gap(case, force(psi)), 0.0), shop.needed_taper(case, force(psi))
        return f"gap at the tip {gap:.3f} mm; {closes:.3f} mm of taper per side would even it"

    taper = shop.needed_taper(tall, force(400))
    rows = [
        ["steel, 45 tall, bored 25 deep at 100 psi, clamped at 300 psi", "no gap",
         seen(steel, 300)],
        ["aluminium, 60 tall, bored 38 deep at 100 psi, clamped at 300 psi", "no gap",
         seen(short, 300)],
        ["aluminium, 100 tall, bored 85 deep at 50 psi, clamped at 400 psi", "cut 0.10 mm of taper per side",
         seen(tall, 400) + ": **the base was set to this**"],
        ["the same on a base eight times as stiff (tilt 7.5)", "", seen(stiff, 400)],
        ["the same on a base 0.8 times as stiff (tilt 0.5)", "", seen(soft, 400)],
    ]  # fmt: skip
    for less, words in ((-0.025, "0.025 mm less taper"), (0.0, "that taper"), (0.025, "0.025 mm more taper")):
        cut = shop.PartInJaws.__new__(shop.PartInJaws)
        cut.__dict__.update(tall.__dict__)
        cut.__dict__.pop("is_proportional", None)
        cut.bore = replace(tall.bore, taper=taper + less)
        contact = cut.contact(cut.fits[0], force(400))
        seat, tip = ((contact.pressure[i] @ contact.face.areas[i]) / contact.face.areas[i].sum() for i in (0, -1))
        says = "contact is lost" if less else "contact all along"
        found = f"{shop.print_words(contact)}; {seat:.1f} MPa at the seat, {tip:.1f} MPa at the tip"
        rows.append([f"the same, {words}", says, found])
    return table(["jaws", "shops say", "ours"], rows)


# --- cutting --------------------------------------------------------------------------------------------------


def cutting_rows() -> Iterator[Row]:
    t = cutting_tests

    def tangential(kc: float, depth: float, feed: float, diameter: float = 80.0) -> float:
        load = operations.turn(
            kc, 0.0, diameter=diameter, depth=depth, feed=feed, z=(0, 10), lead_angle_deg=90, conditions=t.SHARP
        )
        return float(load.cases[0].tangential)

    where, test = "'Formulae for cutting power' (read)", "test_turning_power_mild_steel"
    force = tangential(3100, 3, 0.2)
    yield Row(test, "cutting force, mild steel, 3 x 0.2 mm", where, 1860, force, "N")
    yield Row(test, "its power at 120 m/min", where, 4.65, cutting.cutting_power_kw(force, 120, 0.80), "kW")
    where, test = "copy of a tool vendor's example (quoted)", "test_turning_power_second_example"
    force = tangential(3610, 5, 0.1)
    yield Row(test, "cutting force, 5 x 0.1 mm", where, 1805, force, "N")
    yield Row(test, "its power at 140 m/min", where, 5.26, cutting.cutting_power_kw(force, 140, 0.8), "kW")
    yield Row("test_turning_a_stainless_rod", "cutting force, stainless rod 12.5 mm",
              "Kalpakjian and Schmid (inputs read, result from memory)", 506,
              tangential(4000, 0.25, 0.5, 12.5), "N")  # fmt: skip
    yield Row("test_orthogonal_cut_power", "power of 1557 N at 100 m/min", "Groover (from memory)", 2595,
              1000 * cutting.cutting_power_kw(1557, 100), "W")  # fmt: skip
    for h, kc in parameters(t.test_force_law_on_mild_steel):
        yield Row("test_force_law_on_mild_steel", f"kc at h = {h:g} mm, mild steel 190 HB",
                  "Croitoru 2021 (quoted)", kc, t.kc_at(1202, 0.4572, h), "MPa")  # fmt: skip
    for name, printed, _ in parameters(t.test_material_table_against_a_printed_one):
        steel = work_material(name)
        pairs = [
            (h, kc, t.kc_at(steel.kc11.value, steel.mc.value, h))
            for h, kc in zip((0.1, 0.2, 0.3, 0.4, 0.6), printed, strict=True)
        ]
        h, kc, ours = max(pairs, key=lambda pair: abs(pair[2] / pair[1] - 1))
        yield Row("test_material_table_against_a_printed_one", f"kc of {name}, worst of five chips (h = {h:g} mm)",
                  "'Formulae for cutting power' (read; steels matched by strength, from memory)", kc, ours,
                  "MPa")  # fmt: skip
    for name, kc11, mc in parameters(t.test_material_table_against_university_notes):
        steel, where = work_material(name), "Dutch university notes (read)"
        test = "test_material_table_against_university_notes"
        yield Row(test, f"kc1.1 of {name}", where, kc11, steel.kc11.value, "MPa")
        yield Row(test, f"mc of {name}", where, mc, steel.mc.value)
    names = ("C45N", "16MnCr5N", "42CrMo4V", "GG30")
    for name, (main, feed, passive) in zip(
        names, parameters(t.test_thrust_shares_enclose_three_component_data), strict=True
    ):
        chip = cutting.chip_section(3, 0.3, 95)
        _, feed_force, passive_force = (k * chip.width * chip.thickness**power for k, power in (main, feed, passive))
        load = operations.turn(main[0], 1 - main[1], diameter=80, depth=3, feed=0.3, z=(0, 1), conditions=t.SHARP)
        worn, sharp = load.cases
        where, test = "König and Essel as in Klocke (from memory)", "test_thrust_shares_enclose_three_component_data"
        yield Row(test, f"feed force, {name}: our sharp to worn encloses it", where, (-sharp.axial, -worn.axial),
                  feed_force, "N")  # fmt: skip
        yield Row(test, f"passive force, {name}: our sharp to worn encloses it", where, (-sharp.radial, -worn.radial),
                  passive_force, "N")  # fmt: skip
    printed_infeed = (0.230, 0.420, 0.595, 0.728, 0.841, 0.940)
    for number, (theirs, ours) in enumerate(
        zip(printed_infeed, operations.thread_infeed(0.94, 6), strict=True), start=1
    ):
        yield Row("test_thread_infeed_example", f"thread, depth after pass {number} of 6", "tool guides (from memory)",
                  theirs, ours, "mm")  # fmt: skip
    fresh, worn_edge = (
        cutting.specific_cutting_force(2000, 0.2, 0.2, wear=w).value for w in (1.0, cutting.WEAR_UNKNOWN.value)
    )
    dietrich = "Dietrich/Tschätsch, 11th ed. (script after it read)"
    yield Row("test_dietrich_factors", "worn edge over a sharp one", dietrich, 1.3, worn_edge / fresh)
    for group, theirs in (("steel", 6), ("iron", 2)):
        yield Row(
            "test_dietrich_factors", f"base rake, {group}", dietrich, theirs, cutting.BASE_RAKE_DEG[group].value, "°"
        )
    where, test = "Vargas et al. 2019 (quoted): 1.0 and 1.5 % are in use", "test_rake_slopes_in_use"
    yield Row(test, "force less, per degree of more rake", where, 0.010, 1 - cutting.rake_factor(7, 6))
    yield Row(test, "force more, per degree of less rake", where, 0.015, cutting.rake_factor(5, 6) - 1)


# --- form -----------------------------------------------------------------------------------------------------


def form_rows() -> Iterator[Row]:
    points = np.array(form_tests.DATASET_3.split(), dtype=float).reshape(24, 2)
    yield Row("test_jywe_24_points_minimum_zone", "roundness of 24 points, minimum zone",
              "Jywe, Liu, Chen 1999 (points read; result from memory)", 0.0382,
              form.roundness_minimum_zone(points).peak_to_valley, "mm")  # fmt: skip
    circle = form.least_squares_circle([(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7)])
    where, test = (
        "Gander, Golub, Strebel 1994 (points read; result from memory)",
        "test_gander_golub_strebel_1994_best_fit_circle",
    )
    for what, theirs, ours in (
        ("centre x", 4.7398, circle.centre[0]),
        ("centre y", 2.9835, circle.centre[1]),
        ("radius", 4.7142, circle.radius),
    ):
        yield Row(test, f"circle through six points, {what}", where, theirs, ours)
    angle = 2.0 * np.pi * np.arange(360) / 360
    trace = 0.012 * np.cos(angle - 0.7) + 0.005 * np.cos(5 * angle)
    exact = form.roundness_of_deviation(angle, trace, 30.0, "least-squares")
    where, test = "NIST/SEMATECH e-Handbook 2.3.4.4 (formula)", "test_nist_handbook_2_3_4_4_single_trace_centre"
    for k, wave in enumerate((np.cos, np.sin)):
        yield Row(test, f"centre of a single trace, {'xy'[k]}", where, float(2 * np.mean(trace * wave(angle))),
                  exact.centre[k], "mm")  # fmt: skip


# --- spin -----------------------------------------------------------------------------------------------------


def spin_rows() -> Iterator[Row]:
    for grade, mass, rpm in parameters(spin_tests.test_iso_21940_constant_9549):
        yield Row("test_iso_21940_constant_9549", f"permissible unbalance G {grade:g}, {mass} kg, {rpm}/min",
                  "ISO 21940-11 (constant 9549 read second hand)", 9549 * grade * mass / rpm,
                  1000 * spin.permissible_unbalance(grade, mass, rpm), "g mm")  # fmt: skip
    rpm = spin.speed_at_share_left(60_000, 217.5)
    grip = spin.grip_at_speed(60_000, spin.centrifugal_force(217.5, rpm), "outside")
    yield Row("test_din_6386_reference_speed_leaves_one_third", "grip left at the reference speed, of 60 kN",
              "DIN 6386 (read in a lathe operating manual)", 20_000, grip.holding, "N")  # fmt: skip
    rpm = spin.speed_at_share_left(80_000, 300.0)
    yield Row("test_en_1550_caps_centrifugal_force_at_67_percent", "jaws' pull over grip at rest, at most",
              "EN 1550 (from memory, second hand)", 0.67, spin.centrifugal_force(300.0, rpm) / 80_000)  # fmt: skip
    yield Row("test_vdi_3106_factors", "grip at rest for 10 kN at speed, 4 kN pull",
              "VDI 3106 (from memory, second hand)", 1.5 * (1.5 * 10_000 + 4_000),
              spin.required_grip_at_rest(10_000, 4_000, 2.0), "N")  # fmt: skip


# --- what chuck manuals print ---------------------------------------------------------------------------------

MANUAL, SECOND_MANUAL = "manual of a chuck maker, p. {} (read)", "manual of a second chuck maker (read)"
SURFACES = {"ground": "ground", "turned": "medium", "raw": "unmachined"}
"""What the manuals call the surfaces of a part."""


def manual_rows() -> Iterator[Row]:
    t = manual_tests
    where = MANUAL.format(45)
    for jaw, printed in parameters(t.test_friction_of_the_jaw_faces):
        for (surface, name), theirs in zip(SURFACES.items(), printed, strict=True):
            yield Row("test_friction_of_the_jaw_faces", f"friction, {jaw} jaw, steel part, {name}", where, theirs,
                      friction_range("steel", jaw, surface).value)  # fmt: skip
    for group, theirs in parameters(t.test_friction_factor_of_the_part_material):
        yield Row("test_friction_factor_of_the_part_material", f"friction, {group} over steel", where, theirs,
                  WORK_FRICTION_FACTOR[group].value)  # fmt: skip
    test = "test_friction_range_holds_the_table_of_a_second_manual"
    for jaw, surface, around, along in parameters(t.test_friction_range_holds_the_table_of_a_second_manual):
        ours = friction_range("steel", jaw, surface)
        name = f"{jaw} jaw, steel part, {SURFACES[surface]}"
        for way, theirs in (("round the part", around), ("along it", along)):
            nearest = min(max(theirs, ours.least), ours.most)
            yield Row(test, f"friction {way}, {name}: nearest of our {ours.least:g} to {ours.most:g}", SECOND_MANUAL,
                      theirs, nearest)  # fmt: skip
    for group, theirs in parameters(t.test_friction_factor_of_a_second_manual):
        yield Row("test_friction_factor_of_a_second_manual", f"friction, {group} over steel: our high end",
                  SECOND_MANUAL, theirs, WORK_FRICTION_FACTOR[group].most)  # fmt: skip
    test, where = "test_safety_factors_of_a_chuck_manual", MANUAL.format(46)
    for state, seated, overhung in parameters(t.test_safety_factors_of_a_chuck_manual):
        yield Row(test, f"safety factor, chuck {state}", where, seated, spin.SAFETY[state].value)
        yield Row(test, f"safety factor, chuck {state}, overhung without seat or centre", where, overhung,
                  spin.SAFETY_OVERHUNG[state].value)  # fmt: skip
    test, where = "test_worked_example_of_a_chuck_manual", MANUAL.format(48)
    force, needed = t.worked_example()
    safety = spin.SAFETY[spin.NEW].value
    yield Row(test, "worked example, C45, grip 60, cut 20, 5 x 0.5 mm: cutting force", where, 6.25, force / 1e3, "kN")
    yield Row(test, "the same: grip for its torque, 2.0 times over", where, 21, safety * needed / 1e3, "kN")
    yield Row(test, "the same: grip at rest where speed takes 18 kN, reckoned as the example does", where, 58.5,
              1.5 * (safety * needed + t.LOSS) / 1e3, "kN")  # fmt: skip
    yield Row("test_worked_example_by_our_rule", "the same by our rule: the larger of 2.0 (F + Fc), 1.5 (1.5 F + Fc)",
              where, 58.5, spin.required_grip_at_rest(needed, t.LOSS, safety) / 1e3, "kN")  # fmt: skip


# --- holding --------------------------------------------------------------------------------------------------


def holding_rows() -> Iterator[Row]:
    """The cases of the test: what torque and pull ask of the grip, by hand and by the cone program."""
    t = manual_tests
    where = "statics with Coulomb friction (textbook, from memory)"
    for jaws, half_angle, friction, radius, torque, pull in parameters(t.test_holding_limit_of_torque_and_pull):
        grip = Grip("outside", radius, (2.0, 27.0), math.radians(half_angle), jaws, friction)
        ours = holding(grip, Wrench((0.0, 0.0, pull), (0.0, 0.0, -torque))).required(1.0)
        load = " and ".join(([f"{torque / 1e3:g} N m"] if torque else []) + ([f"a pull of {pull:g} N"] if pull else []))
        name = f"grip for {load}, {jaws} jaws on {2 * radius:g} mm, friction {friction:.2f}"
        yield Row("test_holding_limit_of_torque_and_pull", name, where,
                  math.hypot(torque / radius, pull) / friction, ours, "N")  # fmt: skip


# --- the turned body ------------------------------------------------------------------------------------------


def body_rows() -> Iterator[Row]:
    for case in body_tests.CASES:
        yield from _elements(case)
    for jaws, at_load, between in parameters(body_tests.test_roark_table_9_2_case_7):
        patch = Patch("outside", 100.5, (0.0, 5.0), math.radians(0.5), jaws, 1.0)
        body = TurnedBody([(99.5, 0), (100.5, 0), (100.5, 5.0), (99.5, 5.0)], 210_000.0, 0.0)
        u = body.under(patch).displacement([(100.0, 2.5)], [0.0, math.pi / jaws])[0, :, 0]
        unit = 100.0**3 / (210_000.0 * 5.0 / 12)
        where, test = "Roark, 7th ed., table 9.2 case 7 (from memory): bending only", "test_roark_table_9_2_case_7"
        yield Row(test, f"ring R/t 100 in {jaws} jaws, at the jaw", where, at_load, float(-u[0] / unit), "PR³/EI")
        yield Row(test, f"ring R/t 100 in {jaws} jaws, between", where, between, float(u[1] / unit), "PR³/EI")
    for jaws, at_load in ((2, 0.0743892), (3, 0.0159386), (6, 0.0016818)):
        ours = closed_form.thin_ring(1.0, jaws, 1.0, young=1.0, inertia=1.0).at_load
        yield Row("test_roark_formula_gives_the_coefficients_used", f"the formula itself, {jaws} jaws, at the jaw",
                  "as above", at_load, -ours, "PR³/EI")  # fmt: skip
    patch = Patch("outside", 50.0, (0.0, 25.0), math.pi / 3, 3, 10.0 * 2 * 50 * math.sin(math.pi / 3) * 25)
    lame = TurnedBody([(40, 0), (50, 0), (50, 25), (40, 25)], 210_000.0, 0.3).under(patch)
    u = 1000 * lame.displacement([(40.0, 12.5), (50.0, 12.5)], [0.0])[:, 0, 0]
    where, test = "Lamé (textbook, from memory)", "test_lame_cylinder_under_outside_pressure"
    yield Row(test, "tube 80/100 under 10 MPa outside, bore", where, -10.5820, float(u[0]), "µm")
    yield Row(test, "tube 80/100 under 10 MPa outside, outside", where, -10.1323, float(u[1]), "µm")
    patch = Patch("outside", 50.0, (0.0, 20.0), math.radians(2), 3, 1000.0)
    ring = TurnedBody([(44.05, 0), (50, 0), (50, 20), (44.05, 20)], 210_000.0, 0.3).under(patch)
    u = ring.displacement([(44.05, 10.0)], [0.0, math.pi / 3])[0, :, 0]
    thin = 0.0301954 * 1000.0 * 47.025**3 / (210_000.0 * 20 * 5.95**3 / 12)
    yield Row("test_malluck_melkote_2004_thin_ring_band", "ours over thin-ring theory, Din/Dout 0.881",
              "Malluck and Melkote 2004 (abstract read): theory within 6 % of measurement", (0.94, 1.06),
              float(np.ptp(u)) / thin)  # fmt: skip


def _elements(case: dict[str, Any]) -> Iterator[Row]:
    """For each surface of a body the point of largest movement, against general-purpose 3-D elements."""
    body = TurnedBody(case["profile"], case["young"], case["poisson"])
    z, half = tuple(case["z"]), math.radians(case["half_angle_deg"])
    field = body.under(Patch(case["side"], case["radius"], z, half, case["jaws"], case["force_along_jaw"]))
    largest: dict[str, tuple[float, float]] = {}
    for row in case["rows"]:
        if row["component"] != "u_r":
            continue
        ours = 1000 * field.displacement([(row["r"], row["z"])], np.radians(case["theta_deg"]))[0, :, 0]
        theirs = 1000 * np.array(row["u"])
        k = int(np.abs(theirs).argmax())
        if abs(theirs[k]) > abs(largest.get(row["surface"], (0.0, 0.0))[0]):
            largest[row["surface"]] = (float(theirs[k]), float(ours[k]))
    for surface, (theirs, ours) in largest.items():
        yield Row("test_three_dimensional_elements", f"{case['title']}: largest radial movement, {surface}",
                  "20-node 3-D elements, run outside this project", theirs, ours, "µm")  # fmt: skip


# --- teeth and bolts of the jaws ------------------------------------------------------------------------------


def boring_rows() -> Iterator[Row]:
    t = boring_tests
    for size, friction, newton_metre in parameters(t.test_vdi_2230_coarse_jaw_bolts):
        ours = assembly(size, "12.9", friction).torque / 1e3
        name = f"torque {size} socket screw, 12.9, friction {friction:.2f}"
        yield Row("test_vdi_2230_coarse_jaw_bolts", name, COARSE, newton_metre, ours, "N m")
    for name, step in parameters(t.test_one_tooth_on_diameter):
        ours = serration(name).step_on_diameter
        yield Row("test_one_tooth_on_diameter", f"one tooth on diameter, {name}", RULE, step, ours, "mm")
    for name, height in parameters(t.test_height_of_the_sharp_v):
        where = "ISO 68-1, H = 0.866025 P (from memory)" if "60" in name else "half the pitch at 90 degrees"
        ours = serration(name).sharp_height
        yield Row("test_height_of_the_sharp_v", f"height of the sharp V, {name}", where, height, ours, "mm")
    rod = "Kalpakjian and Schmid, rod 12.5 to 12.0 mm at 400 rev/min, 3.06 N m (from memory)"
    ours = cutting_power_kw(3.06e3 / (12.25 / 2), surface_speed(12.25, 400)) * 1000
    yield Row("test_torque_and_power_of_a_turned_rod", "power of a torque at a speed", rod, 128, ours, "W")
    bar = "Cutting Tool Engineering, July 2019, p. 75 (read): 25.4 mm, 101.6 mm out, 911.1 N"
    ours = bar_deflection(911.1, 25.4, 101.6, 206_000.0)
    yield Row("test_deflection_of_a_boring_bar", "how far a boring bar gives way", bar, 0.0757, ours, "mm")


GROUPS: dict[str, Callable[[], Iterator[Row]]] = {
    "turned body": body_rows,
    "contact": contact_rows,
    "elastic jaws": jaw_rows,
    "cutting": cutting_rows,
    "spin": spin_rows,
    "odds": reliability_rows,
    "chuck manuals": manual_rows,
    "holding": holding_rows,
    "form": form_rows,
    "closed forms": closed_form_rows,
    "jaw interface": boring_rows,
    "boring programs": program_rows,
    "readings": inspection_rows,
}


def all_rows() -> dict[str, list[Row]]:
    return {name: list(make()) for name, make in GROUPS.items()}


def parts() -> dict[str, str]:
    return {
        name: table(["what", "source", "published", "ours", "difference"], [row.cells() for row in rows])
        for name, rows in all_rows().items()
    } | {"shops": shop_table()}


def main() -> None:
    write("validation.md", refresh("validation.md", parts()))


if __name__ == "__main__":
    main()

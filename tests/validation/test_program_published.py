"""Numbers of boring programs that others printed.

* Nose radius on a taper, imaginary tip: forum threads "Tool Nose Radius Comp" and "Manual Tool Compensation on Partial
  Radius (Lathe)" (read): dZ = R (1 - tan(A / 2)), dX = R (1 - tan((90 - A) / 2)); the 0.011 of one thread is printed,
  the other figures follow from the two formulas.
* Shift of the tip when the corner radius changes: "Basic Formulas Turning", tool catalogue page R32 / 952 (read).
* Taper of a turning exercise, D 60, d 40, L 80: German vocational textbook, "Spezielle Drehverfahren / Übungen" (read).
* Surface speed n = 1000 vc / (pi D): the same formula everywhere (common practice, no source).
* Feed per turn and per minute, 1200 rev/min at 1.5 mm: controller documentation, G94/G95 pages (read).
* G2 clockwise, G3 counter-clockwise, seen against the direction of the axis that stands on the plane (ISO 6983-1, from
  memory); X is a diameter, R and I are radii (common practice, no source).
"""

from dataclasses import replace
from math import atan, cos, degrees, hypot, pi, radians, sin, tan

import pytest

from heldtrue.program.dialect import load_dialect, parse_dialect
from heldtrue.program.geometry import Arc
from heldtrue.program.job import BoringJob, BoringTool, Cutting, MachineLimits
from heldtrue.program.nose import main_edge, tip_offset
from heldtrue.program.offset import tip_shift
from heldtrue.program.path import tool_path
from heldtrue.program.prove import prove
from heldtrue.program.read import read_program
from heldtrue.program.write import write_program

HEAD = "G21 G18 G90 G40 G95\nG28 W0.\nG28 U0.\nT0505\nG54\nG92 S1000\nG97 S50 M3\nG0 Z50.000\nG0 X100.000\nG96 S100\n"
CENTRES = parse_dialect('name = "centres"\n[numbers]\narcs = "IK"\n')
PLAIN = ((40.0, 0.0), (40.0, -20.0), (30.0, -20.0))


def bore_job(line, radius=0.4, **cutting):
    """A bore whose line has x as a radius, in a jaw from 20 mm inside it to 30 mm outside."""
    inner, outer = min(x for x, _ in line), max(x for x, _ in line) + 30
    metal = ((inner, -80.0), (outer, -80.0), (outer, 0.0), (inner, 0.0))
    shank = ((-0.035, -radius), (0.3, radius), (-3.0, 6.0), (-3.0, 90.0), (-12.0, 90.0), (-12.0, 1.5))
    values = {"pass_depth": 2.0, "finish_allowance": 0.2, "rough_feed": 0.15, "finish_feed": 0.08}
    cut = Cutting(**values | {"surface_speed": 120.0, "spindle_limit": 4000.0} | cutting)
    tool = BoringTool(5, "bar", radius, 4, 95.0, shank, edge_length=12.0)
    limits = MachineLimits((-200.0, 200.0), (-200.0, 200.0), 5000.0)
    return BoringJob("t", "outside", metal, tuple(line), (), tool, cut, limits, 3.0)


@pytest.mark.parametrize(
    ("radius", "angle", "along_z", "along_x"),
    [
        (0.8, 15, 0.694678, 0.186138),
        (0.8, 30, 0.585641, 0.338120),
        (0.8, 45, 0.468629, 0.468629),
        (0.8, 60, 0.338120, 0.585641),
    ],
)
def test_imaginary_tip_on_a_taper(radius, angle, along_z, along_x):
    """Six figures are printed."""
    assert tip_shift(radius, radians(angle)) == pytest.approx((along_x, along_z), abs=1e-6)


def test_imaginary_tip_on_a_taper_of_60_degrees_in_inches():
    """0.011 in is printed for a nose of 0.015 in: three figures."""
    assert tip_shift(0.015, radians(60))[0] == pytest.approx(0.011, abs=5e-5)


@pytest.mark.parametrize(("angle", "along_x"), [(15, 0.186138), (30, 0.338120), (45, 0.468629)])
def test_the_programmed_tip_runs_beside_a_taper(angle, along_x):
    """A bore of Ø80 that narrows towards the chuck: its own words, so 1 um of rounding is added."""
    found = taper_cut(40.0, 10.0, angle, radius=0.8)
    x, z = found.start
    assert x - (40.0 + z * tan(radians(angle))) == pytest.approx(along_x, abs=1.5e-3)


@pytest.mark.parametrize(
    ("corner", "lead", "along_x", "along_z"),
    [
        (80, 95, 0.100, 0.100),
        (60, 91, 0.714, 0.030),
        (55, 93, 0.866, 0.099),
        (55, 107.5, 0.531, 0.531),
        (35, 95, 2.072, 0.273),
        (35, 117.5, 1.351, 1.351),
        (90, 75, 0.225, -0.293),
    ],
)
def test_tip_shift_of_another_corner_radius(corner, lead, along_x, along_z):
    """Per mm of radius; three figures are printed."""
    assert sharp_point(1.0, corner, lead) == pytest.approx((along_x, along_z), abs=6e-4)


def test_tip_shift_from_0_8_to_0_4():
    """0.04 and 0.04 mm are printed for an 80 degree corner at 95 degrees."""
    wide, narrow = sharp_point(0.8, 80, 95), sharp_point(0.4, 80, 95)
    assert (wide[0] - narrow[0], wide[1] - narrow[1]) == pytest.approx((0.04, 0.04), abs=5e-4)


@pytest.mark.parametrize(("wide", "narrow", "long", "slope"), [(60, 40, 80, 0.125)])
def test_taper_of_an_exercise(wide, narrow, long, slope):
    """tan = 0.125, so C = 1:4 on diameter; words round by 0.5 um at both ends of 80 mm."""
    found = taper_cut(wide / 2, long, degrees(atan((wide - narrow) / 2 / long)), radius=0.4)
    ours = (found.end[0] - found.start[0]) / (found.end[1] - found.start[1])
    assert ours == pytest.approx(slope, abs=2e-5)
    assert degrees(atan(ours)) == pytest.approx(7.125, abs=2e-3)


@pytest.mark.parametrize(
    ("speed", "diameter", "turns"),
    [
        (180, 50, 1145.9),
        (180, 20, 2864.8),
        (180, 10, 5729.6),
        (150, 40, 1193.7),
        (150, 10, 4774.6),
        (120, 100, 382.0),
    ],
)
def test_turns_at_a_surface_speed(speed, diameter, turns):
    """One decimal is printed."""
    assert top_speed(speed, diameter, 9000) == pytest.approx(turns, abs=0.05)


@pytest.mark.parametrize(("speed", "diameter", "limit"), [(180, 10, 2000), (150, 10, 4000)])
def test_turns_end_at_the_limit(speed, diameter, limit):
    assert top_speed(speed, diameter, limit) == limit


@pytest.mark.parametrize(("turns", "feed", "way", "minutes"), [(1200, 1.5, 1800.0, 1.0)])
def test_feed_per_turn_and_per_minute(turns, feed, way, minutes):
    text = HEAD.replace("G96 S100", f"G97 S{turns}") + f"G1 Z{50 - way:.3f} F{feed:.3f}\nM30\n"
    assert prove(text, bore_job(PLAIN)).cutting_minutes == pytest.approx(minutes, rel=1e-12)


@pytest.mark.parametrize("bend", ["R10.000", "I{i:.3f} K{k:.3f}"])
@pytest.mark.parametrize(("code", "sense"), [("G2", -1), ("G3", 1)])
@pytest.mark.parametrize("quarter", range(4))
def test_g2_turns_clockwise_seen_against_y(code, sense, bend, quarter):
    """Derived: z, x and y are right-handed in the order z, x, y, so who looks against +y sees +z right and +x up.

    Counter-clockwise there is from +z to +x, the positive turn about y: (r x v) along y is z vx - x vz.
    """
    angle = quarter * pi / 2
    z, x = 10 * cos(angle), 10 * sin(angle)
    u, w = 10 * cos(angle + sense * pi / 2), 10 * sin(angle + sense * pi / 2)
    bent = bend.format(i=-x, k=-z)
    text = HEAD + f"G0 X{2 * (x + 30):.3f} Z{z:.3f}\n{code} X{2 * (w + 30):.3f} Z{u:.3f} {bent} F0.1\nM30\n"
    arc = read_program(text, load_dialect() if "R" in bend else CENTRES).moves[-1].piece
    assert isinstance(arc, Arc)
    assert arc.centre == pytest.approx((30.0, 0.0), abs=1e-9)
    assert arc.length == pytest.approx(5 * pi)
    (a, b), (c, d) = arc.at(0.4), arc.at(0.41)
    assert sense * (b * (c - a) - (a - 30) * (d - b)) > 0


def test_x_is_a_diameter_and_i_a_radius():
    text = HEAD + "G0 X50.000 Z0.000\nG2 X40.000 Z5.000 I-5.000 K0.000 F0.1\nM30\n"
    _, rapid, arc = (m.piece for m in read_program(text, CENTRES).moves)
    assert rapid.end == (25.0, 0.0)
    assert arc.centre == (20.0, 0.0)
    assert arc.end == (20.0, 5.0)


# what the program does, measured


def taper_cut(at, depth, angle, radius):
    """The finish pass along a taper of a bore, as its words read: the tip's way."""
    slope = tan(radians(angle))
    foot = at - depth * slope
    job = bore_job(((at, 0.0), (foot, -depth), (foot, -depth - 5), (foot - 15, -depth - 5)), radius)
    dialect = load_dialect()
    text = write_program(job, tool_path(job), dialect)
    moves = [m.piece for m in read_program(text, dialect).moves if m.state.feed == 0.08 and not m.rapid]
    close = [p for p in moves if abs(p.end[1] - p.start[1]) > depth / 2 and abs(p.end[0] - p.start[0]) > 0.5 * slope]
    return close[-1]


def sharp_point(radius, corner, lead):
    """How far the sharp point of an insert lies beyond the tip that is programmed: along x, along -z."""
    tool = replace(bore_job(PLAIN).tool, nose_radius=radius, lead_angle=float(lead))
    (x, z), (u, w) = main_edge(tool, 1)
    back = radius / tan(radians(corner / 2)) / hypot(u - x, w - z)
    tip_x, tip_z = tip_offset(tool)
    return x - back * (u - x) - tip_x, tip_z - (z - back * (w - z))


def top_speed(speed, diameter, limit):
    """What the proof says the spindle reaches on a diameter."""
    text = HEAD.replace("S1000", f"S{limit}").replace("G96 S100", f"G96 S{speed}")
    text = text.replace("X100.000", f"X{diameter}.000") + "G1 Z10.000 F0.1\nM30\n"
    return prove(text, bore_job(PLAIN)).top_speed

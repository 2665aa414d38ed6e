"""Rows of the validation page: nose radius, tip shift, tapers, speeds and arcs of boring programs."""

from __future__ import annotations

from collections.abc import Iterator
from math import atan, degrees, pi, radians, tan

import test_program_published as t
from row import Row, parameters

from heldtrue.program.dialect import load_dialect
from heldtrue.program.offset import tip_shift
from heldtrue.program.prove import prove
from heldtrue.program.read import read_program

FORUM = "formulas of forum threads on nose radius (read); figures follow from them"
CATALOGUE = "Basic Formulas Turning, tool catalogue p. R32/952 (read)"
RULE = "common practice, no source"


def program_rows() -> Iterator[Row]:
    for radius, angle, along_z, along_x in parameters(t.test_imaginary_tip_on_a_taper):
        x, z = tip_shift(radius, radians(angle))
        name = f"imaginary tip, nose {radius:g}, taper {angle}°"
        yield Row("test_imaginary_tip_on_a_taper", f"{name}, along x", FORUM, along_x, x, "mm")
        yield Row("test_imaginary_tip_on_a_taper", f"{name}, along z", FORUM, along_z, z, "mm")
    test = "test_imaginary_tip_on_a_taper_of_60_degrees_in_inches"
    yield Row(test, "imaginary tip, nose .015 in, taper 60°, along x (printed to .001)",
              "forum thread on manual compensation (read)", (0.0105, 0.0115), tip_shift(0.015, radians(60))[0],
              "in")  # fmt: skip
    for angle, along_x in parameters(t.test_the_programmed_tip_runs_beside_a_taper):
        start = t.taper_cut(40.0, 10.0, angle, radius=0.8).start
        yield Row("test_the_programmed_tip_runs_beside_a_taper", f"words of our program, taper {angle}°, beside the "
                  "line along x", FORUM, along_x, start[0] - (40.0 + start[1] * tan(radians(angle))), "mm")  # fmt: skip
    for corner, lead, along_x, along_z in parameters(t.test_tip_shift_of_another_corner_radius):
        x, z = t.sharp_point(1.0, corner, lead)
        name = f"tip shift per mm of radius, corner {corner}°, lead {lead:g}°"
        yield Row("test_tip_shift_of_another_corner_radius", f"{name}, x", CATALOGUE, along_x, x, "mm")
        yield Row("test_tip_shift_of_another_corner_radius", f"{name}, z", CATALOGUE, along_z, z, "mm")
    shift = t.sharp_point(0.8, 80, 95)[0] - t.sharp_point(0.4, 80, 95)[0]
    yield Row("test_tip_shift_from_0_8_to_0_4", "tip shift from 0.8 to 0.4", CATALOGUE, 0.04, shift, "mm")
    for wide, narrow, long, slope in parameters(t.test_taper_of_an_exercise):
        found = t.taper_cut(wide / 2, long, degrees(atan((wide - narrow) / 2 / long)), radius=0.4)
        ours = (found.end[0] - found.start[0]) / (found.end[1] - found.start[1])
        where = "turning exercise of a textbook (read)"
        yield Row("test_taper_of_an_exercise", f"words of a taper {wide} to {narrow} over {long}", where, slope, ours)
    for speed, diameter, turns in parameters(t.test_turns_at_a_surface_speed):
        ours = t.top_speed(speed, diameter, 9000)
        yield Row("test_turns_at_a_surface_speed", f"{speed} m/min on Ø{diameter}", RULE, turns, ours, "rev/min")
    for speed, diameter, limit in parameters(t.test_turns_end_at_the_limit):
        ours = t.top_speed(speed, diameter, limit)
        yield Row("test_turns_end_at_the_limit", f"{speed} m/min on Ø{diameter}, limited", RULE, limit, ours, "rev/min")
    for turns, feed, way, minutes in parameters(t.test_feed_per_turn_and_per_minute):
        text = t.HEAD.replace("G96 S100", f"G97 S{turns}") + f"G1 Z{50 - way:.3f} F{feed:.3f}\nM30\n"
        ours = way / prove(text, t.bore_job(t.PLAIN)).cutting_minutes
        yield Row("test_feed_per_turn_and_per_minute", f"{turns} rev/min at {feed:g} mm a turn",
                  "documentation of a control (read)", way / minutes, ours, "mm/min")  # fmt: skip
    yield from _arcs()


def _arcs() -> Iterator[Row]:
    text = t.HEAD + "G0 X80.000 Z0.000\nG2 X60.000 Z-10.000 R10.000 F0.1\nM30\n"
    arc = read_program(text, load_dialect()).moves[-1].piece
    yield Row("test_g2_turns_clockwise_seen_against_y", "a quarter of a circle of radius 10, G2 with R",
              "ISO 6983-1 (from memory)", 5 * pi, arc.length, "mm")  # fmt: skip
    text = t.HEAD + "G0 X50.000 Z0.000\nG2 X40.000 Z5.000 I-5.000 K0.000 F0.1\nM30\n"
    arc = read_program(text, t.CENTRES).moves[-1].piece
    yield Row("test_x_is_a_diameter_and_i_a_radius", "centre of an arc from X50, I-5", RULE, 20.0, arc.centre[0], "mm")

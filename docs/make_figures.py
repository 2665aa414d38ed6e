"""Draws the figures of the pages with the code they explain.  ``make docs``."""

from __future__ import annotations

import sys
from functools import partial
from math import pi, radians
from pathlib import Path

import numpy as np

DOCS = Path(__file__).parent
sys.path.insert(0, str(DOCS))

from heldtrue import Setup, bore, plan
from heldtrue.drawing.all_pictures import taper_words
from heldtrue.drawing.contact_print import draw_contact_prints
from heldtrue.drawing.gauge_ring_drawing import ring_svg
from heldtrue.drawing.jaw_drawing import bored_jaw, jaw_svg
from heldtrue.drawing.odds import draw_odds
from heldtrue.drawing.shape_drawing import draw_shape
from heldtrue.drawing.svg import ACCENT, DASHED, FAINT, GREY, MEDIUM, NARROW, WIDE, Picture, Point, on_circle
from heldtrue.drawing.tool_path import draw_tool_path
from heldtrue.drawing.window import draw_window
from heldtrue.inspection.ring_design import design_ring
from heldtrue.mechanics.stations import Patch, Stations
from heldtrue.mechanics.turned_body import TurnedBody
from heldtrue.part_file.shapes import SHAPES
from heldtrue.planning.boring_program import program_of
from heldtrue.planning.fitting import advise_taper
from heldtrue.planning.hardware_file import chuck_from
from heldtrue.planning.odds.what_to_measure import what_to_measure
from heldtrue.planning.study import Study
from heldtrue.planning.toml_file import read_toml
from heldtrue.shop.gauge_rings import ring_for

PICTURES = DOCS / "pictures"
EXAMPLES = DOCS.parent / "examples"


def ring_harmonics() -> str:
    """A thin ring under three narrow jaws: the shape of its bore, and the waves it is made of."""
    inner, outer, width = 44.0, 50.0, 20.0
    patch = Patch("outside", outer, (0.0, width), radians(10), 3, 3000.0)
    ring = TurnedBody([(inner, 0), (outer, 0), (outer, width), (inner, width)], 210_000.0, 0.3)
    waves = 6
    response = ring.respond(Stations("outside", outer, (0.0, width)), 3, [(inner, width / 2)], harmonics=waves)
    pressure = np.array([[patch.pressure_harmonic(k)] for k in range(waves)])
    amplitudes = 1000 * (pressure[:, 0] * response.probes[:, 0, 0, 0])
    angle = np.linspace(0, 2 * pi, 361)
    u = np.cos(np.outer(angle, response.orders)) @ amplitudes

    picture = Picture(160, 82, "A ring under three jaws", "its bore, enlarged, and the waves round it")
    centre, base = (41.0, 41.0), 24.0
    per_micron = 9.0 / np.abs(u).max()
    picture.circle(centre, base, width=NARROW, colour=GREY, dash=DASHED)
    picture.polyline([on_circle(centre, base + per_micron * d, a) for a, d in zip(angle, u, strict=True)], width=WIDE,
                     colour=ACCENT)  # fmt: skip
    for k in range(3):
        at = 2 * pi * k / 3
        tail, tip = on_circle(centre, 39.5, at), on_circle(centre, 30.5, at)
        picture.line(tail, tip, width=MEDIUM)
        picture.arrow_head(tip, (tip[0] - tail[0], tip[1] - tail[1]))
    picture.text((41, 40), "bore of the ring", anchor="middle", size=2.6)
    picture.text((41, 44), f"enlarged {1000 * per_micron * inner / base:,.0f} times".replace(",", " "),
                 anchor="middle", size=2.6, colour=GREY)  # fmt: skip

    left, zero, tall = 96.0, 16.0, 52.0 / np.abs(amplitudes).max()
    picture.text((left - 4, 5.5), "amplitude of each wave under a jaw, µm; inward is down", size=2.8)
    picture.line((left - 4, zero), (157, zero), width=NARROW)
    for place, (order, amplitude) in enumerate(zip(response.orders, amplitudes, strict=True)):
        x, size = left + 10.5 * place, tall * float(amplitude)
        picture.rect((x, min(zero, zero - size)), 5.0, abs(size), line=0, fill=ACCENT)
        up = amplitude > 0
        label = f"{amplitude:.1f}" if abs(amplitude) >= 0.05 else f"{amplitude:.2f}"
        picture.text((x + 2.5, zero - size + (-1.2 if up else 3.4)), label.replace("-", "−"), size=2.5, anchor="middle")
        picture.text((x + 2.5, zero + (3.6 if up else -1.4)), f"n = {order}", size=2.5, anchor="middle", colour=GREY)
    picture.text((left - 4, 79), "steel Ø88/Ø100 x 20, 3 kN on each of three jaws of ±10°", size=2.5, colour=GREY)
    return picture.svg()


def contact_and_taper() -> str:
    """A tall aluminium jaw bored low and clamped high, by taper."""
    setup = Setup.from_toml(EXAMPLES / "winch-shaft.toml").with_(
        {"jaws.height": 110.0, "grip.z": (3.0, 65.0), "jaws.material": "6061-T6", "jaws.bored_pressure": 0.4}
    )
    advice = advise_taper(Study.of(setup), 2.6)
    return draw_contact_prints(
        [one for _, one in advice.prints],
        title="Contact print of a tall aluminium jaw, by taper",
        heads=[taper_words(advice, taper, "metric") for taper, _ in advice.prints],
        height=92.0,
    )


def grip_at_speed() -> str:
    """The least grip that holding counts on, and the most that distorts, over speed: outside and inside."""
    picture = Picture(160, 72, "Grip at speed", "what holds and what distorts, outside and inside grip")
    for place, (name, title) in enumerate((("winch-shaft", "outside grip"), ("wear-ring", "inside grip"))):
        study = Study.of(Setup.from_toml(EXAMPLES / f"{name}.toml"))
        pressure, top = 1.2, 3500.0
        speeds = np.linspace(0.0, top, 60)
        most = [study.distorting_grip(study.best, pressure, n) / 1e3 for n in speeds]
        least = [study.holding_grip(study.worst, pressure, n) / 1e3 for n in speeds]
        _speed_panel(picture, 12.0 + 78.0 * place, title, speeds, least, most)
    return picture.svg()


def _speed_panel(
    picture: Picture, left: float, title: str, speeds: np.ndarray, least: list[float], most: list[float]
) -> None:
    wide, tall, top = 60.0, 48.0, 10.0
    highest = 20.0 * np.ceil(max(most) / 20.0)

    def at(speed: float, grip: float) -> Point:
        return left + wide * speed / float(speeds[-1]), top + tall * (1 - grip / highest)

    upper = [at(n, g) for n, g in zip(speeds, most, strict=True)]
    lower = [at(n, g) for n, g in zip(speeds, least, strict=True)]
    picture.area([[*upper, *reversed(lower)]], "#e6edf4")
    picture.polyline(upper, width=WIDE, colour=ACCENT)
    picture.polyline(lower, width=WIDE, colour=ACCENT, dash=DASHED)
    picture.polyline([(left, top), (left, top + tall), (left + wide, top + tall)], width=MEDIUM)
    picture.text((left + wide / 2, 6.0), f"{title}, 12 bar", size=3.2, anchor="middle", bold=True)
    for grip in np.arange(0.0, highest + 1, 20.0):
        x, y = at(0.0, float(grip))
        picture.line((x - 1, y), (x, y), width=NARROW)
        picture.line((x, y), (x + wide, y), width=0.1, colour=FAINT)
        picture.text((x - 1.6, y + 0.9), f"{grip:.0f}", size=2.4, anchor="end")
    for speed in (0, 1000, 2000, 3000):
        x, y = at(speed, 0.0)
        picture.line((x, y), (x, y + 1), width=NARROW)
        picture.text((x, y + 4), str(speed), size=2.4, anchor="middle")
    picture.text((left + wide / 2, top + tall + 8.5), "rev/min", size=2.6, anchor="middle")
    picture.text((left - 8.5, top + tall / 2), "total grip, kN", size=2.6, anchor="middle", turn=-90)
    above = min(y for x, y in upper if x < left + 26.0) - 1.6
    below = max(y for x, y in lower if x < left + 16.0) + 3.4
    picture.text((left + 2.0, above), "most: distorts, marks", size=2.5, plate=True)
    picture.text((left + 2.0, below), "least: holds", size=2.5, plate=True)


def window() -> str:
    """The window of the winch shaft."""
    return draw_window(plan(Setup.from_toml(EXAMPLES / "winch-shaft.toml")), "metric", width=90.0, height=110.0)


def jaw() -> str:
    """The drawing of the winch shaft's jaw."""
    return jaw_svg(bored_jaw(bore(Setup.from_toml(EXAMPLES / "winch-shaft.toml"))))


def tool_way() -> str:
    """The program of the winch shaft's jaw."""
    made = bore(Setup.from_toml(EXAMPLES / "winch-shaft.toml"))
    program = program_of(made, EXAMPLES)
    assert program is not None
    assert made.job is not None
    return draw_tool_path(made.job, program.moves, program.proof)


def gauge_ring() -> str:
    """The ring for the 250 mm chuck of the examples."""
    chuck = chuck_from(read_toml(EXAMPLES / "chucks" / "250-wedge.toml"), "")[0]
    return ring_svg(design_ring(ring_for(chuck, "outside", None, None, None, "GR-01")))


def odds() -> str:
    """What spreads the leading check of the valve stem."""
    made = what_to_measure(Setup.from_toml(EXAMPLES / "valve-stem.toml"))
    assert made.decided is not None
    return draw_odds(made.plan, made.decided, made.known)


FIGURES = {
    "ring-harmonics.svg": ring_harmonics,
    "contact-taper.svg": contact_and_taper,
    "grip-at-speed.svg": grip_at_speed,
    "window.svg": window,
    "odds.svg": odds,
    "jaw.svg": jaw,
    "gauge-ring.svg": gauge_ring,
    "tool-path.svg": tool_way,
    **{f"shape-{name.replace(' ', '-')}.svg": partial(draw_shape, name) for name in SHAPES},
}


def main() -> None:
    for name, draw in FIGURES.items():
        (PICTURES / name).write_text(draw(), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()

"""The part in three dimensions as plain data for the page: what the view draws, and every number in words."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, hypot, log10
from typing import Any, Literal

import numpy as np

from heldtrue.drawing.jaw_shape import JawShape
from heldtrue.drawing.wording import form_length
from heldtrue.planning.gauge_words import pressure_text
from heldtrue.planning.setup import Setup
from heldtrue.planning.solid import Solid
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem
from heldtrue.web import texts

State = Literal["clamped", "released"]
STATES: tuple[State, State] = ("clamped", "released")
SWING = 0.12
"""Share of the part's largest radius that the largest displacement is drawn with at first."""
NOTHING = 1e-7
"""Less than this is no displacement. [mm]"""
TICKS = 5

# "viridis" by S. van der Walt and N. Smith, 2015, given to everybody (CC0): equal steps look equal, also in grey.
VIRIDIS = (
    (68, 1, 84), (72, 40, 120), (62, 73, 137), (49, 104, 142), (38, 130, 142),
    (31, 158, 137), (53, 183, 121), (110, 206, 88), (181, 222, 43), (253, 231, 37),
)  # fmt: skip


@dataclass(frozen=True)
class SolidView:
    """What the view of one setup shows.

    ``mesh``: for ``solid_view.js`` [mm, rad]; ``about``: which setup, part, pressure and speed it is; ``factor``: the
    enlargement at first, of each state, and ``factors`` those to choose from; ``ticks``: of the colour bar, in both
    units, from the least to the most; ``says``: each state in a sentence; ``seconds``: how long it took.
    """

    mesh: dict[str, Any]
    about: str
    factor: dict[State, float]
    factors: dict[State, tuple[float, ...]]
    ticks: dict[State, tuple[str, ...]]
    says: dict[State, str]
    seconds: float = 0.0


def solid_view(setup: Setup, made: Solid) -> SolidView:
    """Turn a solid into what the page needs; every length in both units."""
    ends = {state: _ends(made, state) for state in STATES}
    radius = max(float(strip.points[:, 0].max()) for strip in made.strips)
    factor = {state: _first_factor(made, state, radius) for state in STATES}
    unit = gauge_unit_of(setup)
    other = "psi" if unit != "psi" else "bar"
    about = texts.SOLID_ABOUT.format(
        title=setup.title or setup.part.number, pressure=pressure_text(made.pressure, unit),
        other=pressure_text(made.pressure, other), speed=made.speed_rpm, fit=made.fit,
    )  # fmt: skip
    return SolidView(
        mesh=_mesh(setup, made, ends), about=about, factor=factor,
        factors={state: _factors(factor[state]) for state in STATES},
        ticks={state: _ticks(*ends[state], setup.units) for state in STATES},
        says={state: _says(state, *ends[state], setup.units) for state in STATES},
    )  # fmt: skip


def both_lengths(value: float, system: UnitSystem) -> str:
    """A small length [mm] with its sign, in the units of the setup and in the others."""
    other: UnitSystem = "inch" if system == "metric" else "metric"
    sign = "−" if value < -NOTHING else "+" if value > NOTHING else ""
    return f"{sign}{form_length(abs(value), system)} ({sign}{form_length(abs(value), other)})"


def _ends(made: Solid, state: State) -> tuple[float, float]:
    """Least and most radial displacement. [mm]"""
    values = [getattr(strip, state)[:, :, 0] for strip in made.strips]
    return float(min(v.min() for v in values)), float(max(v.max() for v in values))


def _first_factor(made: Solid, state: State, radius: float) -> float:
    largest = max(float(np.linalg.norm(getattr(strip, state), axis=2).max()) for strip in made.strips)
    return 1.0 if largest < NOTHING else max(round_down(SWING * radius / largest), 1.0)


def round_down(value: float) -> float:
    """To 1, 2 or 5 times a power of ten."""
    power = 10.0 ** floor(log10(value))
    return next(step for step in (5.0, 2.0, 1.0) if step * power <= value * 1.0001) * power


def _factors(first: float) -> tuple[float, ...]:
    """Round factors round the first one, and true size."""
    steps = [1.0, *(round_down(first * share) for share in (0.1, 0.2, 0.5, 1.0)), first * 2, first * 5]
    rounded = {round_down(max(step, 1.0)) for step in steps}
    return tuple(sorted(rounded))


def _ticks(least: float, most: float, system: UnitSystem) -> tuple[str, ...]:
    if most - least < NOTHING:
        return (both_lengths(least, system),)
    return tuple(both_lengths(float(value), system) for value in np.linspace(least, most, TICKS))


def _says(state: State, least: float, most: float, system: UnitSystem) -> str:
    if most - least < NOTHING:
        return texts.SOLID_NOTHING[state]
    return texts.SOLID_SAYS[state].format(least=both_lengths(least, system), most=both_lengths(most, system))


def _mesh(setup: Setup, made: Solid, ends: dict[State, tuple[float, float]]) -> dict[str, Any]:
    system = setup.units
    strips = [
        {"at": _short(strip.points), "clamped": _short(strip.clamped), "released": _short(strip.released)}
        for strip in made.strips
    ]
    words = {
        state: {"least": both_lengths(least, system), "most": both_lengths(most, system)}
        for state, (least, most) in ends.items()
    }
    return {"angle": _short(made.angle), "jaws": made.jaws, "strips": strips, "words": words, "jaw": _jaw(setup)}


def _jaw(setup: Setup) -> dict[str, Any]:
    """One jaw as a prism over its face, no longer outwards than a third of the part: it is only hinted at."""
    jaw = JawShape.of(setup)
    outline = jaw.face()
    reach = jaw.radius * 1.35 if jaw.outside else jaw.radius * 0.6
    kept = [(x, y) if not jaw.outside or y <= reach else (x, reach) for x, y in outline]
    loop = [one for one, before in zip(kept, [kept[-1], *kept[:-1]], strict=True) if hypot(
        one[0] - before[0], one[1] - before[1]) > 1e-6]  # fmt: skip
    out = min(reach, jaw.far_radius) if jaw.outside else max(reach, jaw.far_radius)
    return {
        "outline": _short(np.array(loop)), "z": [jaw.chuck_face, jaw.tip], "jaws": jaw.count,
        "number": [round((jaw.radius + out) / 2, 3), jaw.tip],
    }  # fmt: skip


def _short(values: Any) -> Any:
    """Five figures are more than a picture shows, and a third of the bytes."""
    array = np.asarray(values, float)
    flat = [float(f"{value:.5g}") for value in array.ravel()]
    return np.array(flat).reshape(array.shape).tolist()


def colour_bar() -> str:
    """The colours from the least to the most, as a background of CSS."""
    return "linear-gradient(to right, " + ", ".join(f"rgb{colour}" for colour in VIRIDIS) + ")"


def times(value: float) -> str:
    """A factor of enlargement as it is said."""
    return f"{value:,.0f}".replace(",", " ")

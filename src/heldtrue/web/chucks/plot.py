"""Grip readings of a chuck over pressure, and the line through them, as SVG.  Ink on paper; dots and crosses differ."""

from __future__ import annotations

from math import ceil, floor, log10

from heldtrue.quantities import from_core
from heldtrue.shop.chuck_log import ChuckState

WIDTH, HEIGHT, LEFT, BELOW, ABOVE, RIGHT = 720, 400, 90, 60, 24, 24
INK = "#1d1b18"
FONT = 'font-family="DejaVu Sans, Arial, sans-serif" font-size="16"'


def draw_readings(state: ChuckState) -> str:
    """The picture: pressure in the unit of the gauge across, grip of all jaws in kN or lbf up."""
    unit = state.chuck.gauge or "bar"
    force, name = ("lbf", "lbf") if unit == "psi" else ("kN", "kN")
    points = [(from_core(one.pressure, "pressure", unit), from_core(one.force, "force", force),
               one in state.used and not state.is_doubtful(one))
              for one in state.readings]  # fmt: skip
    across, up = (
        _ticks(max((p for p, _, _ in points), default=1.0)),
        _ticks(max((f for _, f, _ in points), default=1.0)),
    )

    def at(pressure: float, grip: float) -> tuple[float, float]:
        x = LEFT + pressure / across[-1] * (WIDTH - LEFT - RIGHT)
        return x, HEIGHT - BELOW - grip / up[-1] * (HEIGHT - BELOW - ABOVE)

    body = _axes(across, up, at, unit, name)
    if state.estimate is not None:
        zero = from_core(state.estimate.threshold[1], "pressure", unit)
        end = _grip(state, across[-1], unit, force)
        stop = across[-1] if end <= up[-1] else zero + (across[-1] - zero) * up[-1] / end
        (x1, y1), (x2, y2) = at(zero, 0.0), at(stop, min(end, up[-1]))
        body += f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="{INK}" stroke-width="2.5"/>'
    for pressure, grip, used in points:
        x, y = at(pressure, grip)
        cross = f'<path d="M{x - 6:.1f} {y - 6:.1f}l12 12m0 -12l-12 12" stroke="{INK}" stroke-width="2" fill="none"/>'
        body += (
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="#fff" stroke="{INK}" stroke-width="2.5"/>'
            if used
            else cross
        )
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}"><rect width="{WIDTH}" '
            f'height="{HEIGHT}" fill="#fff"/>{body}</svg>')  # fmt: skip


def _grip(state: ChuckState, pressure: float, unit: str, force: str) -> float:
    """Grip on the line, in the unit shown."""
    assert state.estimate is not None
    return float(from_core(state.estimate.grip(pressure / from_core(1.0, "pressure", unit)), "force", force))


def _axes(across: list[float], up: list[float], at: object, unit: str, name: str) -> str:
    assert callable(at)
    parts = []
    for mark in across:
        x, y = at(mark, 0.0)
        parts.append(f'<path d="M{x:.1f} {y:.1f}V{ABOVE}" stroke="#ccc5b4"/><text x="{x:.1f}" y="{y + 22:.1f}" {FONT} '
                     f'text-anchor="middle">{mark:g}</text>')  # fmt: skip
    for mark in up:
        x, y = at(0.0, mark)
        parts.append(f'<path d="M{x:.1f} {y:.1f}H{WIDTH - RIGHT}" stroke="#ccc5b4"/><text x="{x - 8:.1f}" '
                     f'y="{y + 6:.1f}" {FONT} text-anchor="end">{mark:g}</text>')  # fmt: skip
    x, y = at(0.0, 0.0)
    parts.append(f'<path d="M{x:.1f} {ABOVE}V{y:.1f}H{WIDTH - RIGHT}" stroke="{INK}" stroke-width="2" fill="none"/>')
    middle = (LEFT + WIDTH - RIGHT) / 2
    parts.append(f'<text x="{middle:.0f}" y="{HEIGHT - 12}" {FONT} text-anchor="middle">pressure, {unit}</text>')
    parts.append(f'<text transform="translate(22 {HEIGHT / 2:.0f}) rotate(-90)" {FONT} text-anchor="middle">grip, all '
                 f"jaws, {name}</text>")  # fmt: skip
    return "".join(parts)


def _ticks(most: float) -> list[float]:
    """Round marks from 0 past ``most``."""
    most = max(most * 1.1, 1e-6)
    step = 10 ** floor(log10(most))
    step = next(step * part for part in (0.1, 0.2, 0.25, 0.5, 1.0) if most / (step * part) <= 6.0 or part == 1.0)
    return [step * number for number in range(ceil(most / step - 1e-9) + 1)]

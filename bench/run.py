"""Every speed figure the project promises, in one run, as a table with its target.  ``make bench``.

Figures are medians of several runs after one warm-up; a ratio compares two things measured in this same run.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parent.parent


def median_seconds(work: Callable[[], object], runs: int = 9) -> float:
    work()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def command_seconds(*arguments: str, runs: int = 5) -> float:
    return median_seconds(
        lambda: subprocess.run([sys.executable, "-m", "heldtrue", *arguments], capture_output=True, cwd=ROOT), runs
    )


def distortion() -> tuple[float, float]:
    """Seconds for 30 harmonics and 8 stations of a flanged ring, and its error against a finer solution [%]."""
    import numpy as np

    from heldtrue.mechanics.stations import Stations
    from heldtrue.mechanics.turned_body import TurnedBody

    profile = [(45, 0), (55, 0), (55, 20), (75, 20), (75, 30), (45, 30)]
    stations = Stations("outside", 55.0, tuple(np.linspace(0, 18, 9)))
    probes = [(45.0, z) for z in np.linspace(0, 30, 7)]
    angles = np.linspace(0, np.pi / 3, 13)

    def solve(order: int | None = None) -> np.ndarray:
        finer = {} if order is None else {"order": order}
        body = TurnedBody(profile, 210_000.0, 0.3, **finer)
        response = body.respond(stations, 3, probes, harmonics=31)
        pressures = np.zeros((31, 8))
        k = np.arange(1, 31)
        pressures[0] = 100 * 3 * np.radians(10) / np.pi
        pressures[1:] = (100 * 2 / (k * np.pi) * np.sin(k * 3 * np.radians(10)))[:, None]
        return response.displacement(pressures, angles)[:, :, 0]

    ours, fine = solve(), solve(8)
    return median_seconds(solve), float(100 * np.abs(ours - fine).max() / np.abs(fine).max())


def rows() -> list[tuple[str, str, str]]:
    from heldtrue.planning.compare import compare
    from heldtrue.planning.plan import plan, plan_study
    from heldtrue.planning.setup import Setup
    from heldtrue.planning.elastic import forget
    from heldtrue.planning.study import Study
    from heldtrue.planning.window import window_map

    setup = Setup.from_toml(ROOT / "examples" / "wear-ring.toml")
    seconds, error = distortion()
    study = Study.of(setup)
    made = plan_study(study)

    def whole_plan() -> None:
        forget()
        plan(setup)

    def comparison() -> None:
        forget()
        compare(setup)

    def knob(**changes: object) -> Callable[[], object]:
        return lambda: study.turned(**changes)

    used = made.pressure.used
    return [
        ("part distortion, 30 harmonics, 8 stations", f"{seconds * 1e3:.0f} ms, {error:.2f} %", "80 ms, 0.3 %"),
        ("new pressure on a known part", ms(median_seconds(knob(pressure=used * 1.1))), "20 ms"),
        ("new speed on a known part", ms(median_seconds(knob(speed_rpm=500.0))), "20 ms"),
        ("new friction on a known part", ms(median_seconds(knob(friction=0.11))), "20 ms"),
        ("whole plan, three cuts, warm", ms(median_seconds(whole_plan)), "500 ms"),
        ("window map 100 x 100, after the plan", ms(median_seconds(lambda: window_map(study))), "50 ms"),
        ("comparison of 12 ways", ms(median_seconds(comparison, 3)), "3000 ms"),
        ("cold command: plan", ms(command_seconds("plan", "examples/wear-ring.toml", "--json")), "2500 ms"),
        ("heldtrue --help", ms(command_seconds("--help")), "300 ms"),
    ]


def ms(seconds: float) -> str:
    return f"{seconds * 1e3:.0f} ms" if seconds > 0.01 else f"{seconds * 1e3:.1f} ms"


def main() -> None:
    table = [("what", "measured", "target"), *rows()]
    widths = [max(len(row[i]) for row in table) for i in range(3)]
    for i, row in enumerate(table):
        print("| " + " | ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) + " |")
        if i == 0:
            print("|" + "|".join("-" * (width + 2) for width in widths) + "|")


if __name__ == "__main__":
    main()

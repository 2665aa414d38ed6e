"""Every speed figure the project promises, in one run, as a table with its target.  ``make bench``.

Figures are medians of several runs after one warm-up, in processor time, so that other work on the machine counts as
little as it can; of commands, which are processes of their own, the whole time.  A ratio compares two things measured
in this same run.
"""

from __future__ import annotations

import atexit
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from itertools import count
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from heldtrue.planning.study import Study

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does
os.environ["HELDTRUE_CACHE"] = ""  # a jaw kept on disk would not be new; the rows that say so keep them
ROOT = Path(__file__).parent.parent


def median_seconds(work: Callable[[], object], runs: int = 9, clock: Callable[[], float] = time.process_time) -> float:
    work()
    times = []
    for _ in range(runs):
        start = clock()
        work()
        times.append(clock() - start)
    return statistics.median(times)


def command_seconds(*arguments: str, runs: int = 5) -> float:
    return median_seconds(
        lambda: subprocess.run([sys.executable, "-m", "heldtrue", *arguments], capture_output=True, cwd=ROOT),
        runs,
        time.perf_counter,
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
        response = body.respond(stations, 3, probes, harmonics=31, stressed=False)
        pressures = np.zeros((31, 8))
        k = np.arange(1, 31)
        pressures[0] = 100 * 3 * np.radians(10) / np.pi
        pressures[1:] = (100 * 2 / (k * np.pi) * np.sin(k * 3 * np.radians(10)))[:, None]
        return response.displacement(pressures, angles)[:, :, 0]

    ours, fine = solve(), solve(8)
    return median_seconds(solve), float(100 * np.abs(ours - fine).max() / np.abs(fine).max())


def rows() -> list[tuple[str, str, str]]:
    from heldtrue.planning.compare import compare
    from heldtrue.planning.elastic import forget
    from heldtrue.planning.plan import plan, plan_study
    from heldtrue.planning.setup import Setup
    from heldtrue.planning.study import Study
    from heldtrue.planning.window import window_map

    setup = Setup.from_toml(ROOT / "examples" / "wear-ring.toml")
    seconds, error = distortion()
    study = Study.of(setup)
    made = plan_study(study)

    place = mkdtemp(prefix="heldtrue-bench-")
    atexit.register(rmtree, place, ignore_errors=True)

    def whole_plan() -> None:
        forget()
        plan(setup)

    def comparison() -> None:
        forget()
        compare(setup)

    def kept(work: Callable[[], None]) -> Callable[[], None]:
        def again() -> None:
            os.environ["HELDTRUE_CACHE"] = place
            work()
            os.environ["HELDTRUE_CACHE"] = ""

        return again

    turns = count(1)

    def knob(key: str, value: float, step: float = 1e-4) -> Callable[[], object]:
        """Turn one knob a little further each time, so that nothing is remembered, and plan again."""
        return lambda: plan_study(study.again({key: value + step * next(turns)}))

    used = made.pressure.used
    return [
        ("part distortion, 30 harmonics, 8 stations", f"{seconds * 1e3:.0f} ms, {error:.2f} %", "80 ms, 0.3 %"),
        ("new pressure on a known part", ms(median_seconds(knob("run.pressure", used))), "20 ms"),
        ("new speed on a known part", ms(median_seconds(knob("run.speed_rpm", 500.0, 0.1))), "20 ms"),
        ("new friction on a known part", ms(median_seconds(knob("jaws.friction", 0.11))), "20 ms"),
        ("new taper on a known part", ms(median_seconds(knob("jaws.taper", 0.005))), "20 ms"),
        ("new fit on a known part", ms(median_seconds(knob("jaws.bore_diameter", 140.02))), "20 ms"),
        ("compliances of a new jaw, with its stress", ms(new_jaw(study)), "700 ms"),
        ("compliances of a new part", ms(new_part(study)), "80 ms"),
        ("whole plan, three cuts, warm", ms(median_seconds(whole_plan)), "500 ms"),
        ("the same in jaws solved before", ms(median_seconds(kept(whole_plan))), "500 ms"),
        ("window map 100 x 100, after the plan", ms(median_seconds(lambda: window_map(study))), "50 ms"),
        ("comparison of 12 ways", ms(median_seconds(comparison, 3)), "2500 ms"),
        ("the same in jaws solved before", ms(median_seconds(kept(comparison), 3)), "2500 ms"),
        ("cold command: plan", ms(command_seconds("plan", "examples/wear-ring.toml", "--json")), "2500 ms"),
        ("heldtrue --help", ms(command_seconds("--help")), "300 ms"),
    ]


def new_jaw(study: Study) -> float:
    """Seconds for the compliance of the example's pie jaw, and what its boring ring does."""
    from heldtrue.mechanics.jaw_body import JawBody

    jaw = study.job.jaw_kind

    def solve() -> None:
        loaded = JawBody(jaw.shape, jaw.young, jaw.poisson, jaw.base).under(study.face).response(jaw.ring)
        assert loaded.compliance.shape == study.finished.compliance.shape

    return median_seconds(solve, 5)


def new_part(study: Study) -> float:
    """Seconds for the responses of the example's part."""
    from heldtrue.mechanics.turned_body import TurnedBody

    work, probes = study.job.work, [(79.0, z) for z in (24, 26, 28, 30, 32)]
    return median_seconds(
        lambda: TurnedBody(study.job.section.corners, work.young.value, work.poisson.value).respond(
            study.stations, 3, probes
        )
    )


def ms(seconds: float) -> str:
    return f"{seconds * 1e3:.0f} ms" if seconds > 0.01 else f"{seconds * 1e3:.1f} ms"


def as_table(rows_: list[tuple[str, str, str]]) -> str:
    table = [("what", "measured", "target"), *rows_]
    widths = [max(len(row[i]) for row in table) for i in range(3)]
    lines = ["| " + " | ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)) + " |" for row in table]
    lines.insert(1, "|" + "|".join("-" * (width + 2) for width in widths) + "|")
    return "\n".join(lines)


def main() -> None:
    import boring
    import inspection
    import program

    page = ROOT / "docs" / "benchmarks.md"
    for name, make in (
        ("speed", rows),
        ("jaws", lambda: boring.rows() + program.rows()),
        ("readings", inspection.rows),
    ):
        table = as_table(make())
        print(table, end="\n\n", flush=True)
        if "--write" in sys.argv:
            begin, end = f"<!-- {name}: begin -->", f"<!-- {name}: end -->"
            before, _, rest = page.read_text(encoding="utf-8").partition(begin)
            _, _, after = rest.partition(end)
            page.write_text(f"{before}{begin}\n\n{table}\n\n{end}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()

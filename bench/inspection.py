"""How long it takes to read what the shop measures: indicator, causes, a rotary trace, a long drift.

Run by hand: ``python bench/inspection.py``.  Medians after one warm-up.
"""

from __future__ import annotations

from run import median_seconds, ms


def rows() -> list[tuple[str, str, str]]:
    import numpy as np

    from heldtrue.drawing.readings import draw_drift, draw_indicator
    from heldtrue.inspection.causes import rank_causes
    from heldtrue.inspection.drift import Event, Series, read_drift, read_measurements
    from heldtrue.inspection.indicator import read_indicator
    from heldtrue.inspection.readings import read_readings, trace
    from heldtrue.planning.result import CAUTIONS
    from heldtrue.sheets.readings_sheet import indicator_sheet

    rng = np.random.default_rng(1)

    def turn(count: int, digits: int, gross: float = 0.0):
        angle = 2 * np.pi * np.arange(count) / count
        value = 0.01 * np.cos(angle - 1.0) + 0.005 * np.cos(3 * angle) + rng.normal(0, 5e-4, count)
        value[count // 3] += gross
        return trace(angle, np.round(value, digits))

    twelve, wrong, long = turn(12, 3), turn(12, 3, 0.1), turn(100_000, 5, 0.1)
    csv = "angle_deg;reading_um\n" + "\n".join(
        f"{np.degrees(a):.4f};{1000 * r:.2f}".replace(".", ",") for a, r in zip(long.angle, long.reading, strict=True)
    )
    sizes = 50.0 + rng.normal(0, 2e-3, 1_000_000)
    many = Series(
        "od", sizes, 49.98, 50.02, events=tuple(Event(at, "re-cut") for at in range(100_000, 1_000_000, 100_000))
    )
    column = "od_mm\n" + "\n".join(f"{v:.4f}" for v in sizes)
    both = [read_indicator(twelve), read_indicator(wrong)]
    found, drifted, rotary = rank_causes(both), read_drift(many)[0], read_indicator(long)
    return [
        ("12 readings", ms(median_seconds(lambda: read_indicator(twelve))), "50 ms"),
        ("12 readings, one of them wrong", ms(median_seconds(lambda: read_indicator(wrong))), "50 ms"),
        ("causes of two traces", ms(median_seconds(lambda: rank_causes(both))), "100 ms"),
        ("trace of 100,000 points", ms(median_seconds(lambda: read_indicator(long), 5)), "300 ms"),
        ("the same from its file, reading alone", ms(median_seconds(lambda: read_readings(csv), 3)), ""),
        ("drift of 1,000,000 parts, nine events", ms(median_seconds(lambda: read_drift(many), 3)), "2000 ms"),
        ("the same from its file, reading alone", ms(median_seconds(lambda: read_measurements(column), 3)), ""),
        ("polar plot of 12 readings", ms(median_seconds(lambda: draw_indicator(both[0]))), ""),
        ("polar plot of 100,000 points", ms(median_seconds(lambda: draw_indicator(rotary), 3)), ""),
        ("chart of 1,000,000 parts", ms(median_seconds(lambda: draw_drift(drifted), 3)), ""),
        ("page of an indicator as PDF", ms(median_seconds(lambda: indicator_sheet(both, found, CAUTIONS), 3)), ""),
    ]


def main() -> None:
    for what, measured, target in rows():
        print(f"{what:75} {measured:>9} {target:>8}")


if __name__ == "__main__":
    main()

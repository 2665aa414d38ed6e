"""The tables of the comparison, and the ratios drawn from it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

Row = dict[str, Any]
LIMITS = (0.4, 0.1)
CONTACT_LIMITS = (1.5, 0.5)
CONTACT = "contact of ring and jaw"


def ratios(rows: list[Row]) -> list[Row]:
    """Per body and error limit: the cheapest run of each code that keeps it, and what it costs beside the other's."""
    found = []
    for body in dict.fromkeys(row["body"] for row in rows):
        here = [row for row in rows if row["body"] == body]
        for limit in CONTACT_LIMITS if body == CONTACT else LIMITS:
            kept = [row for row in here if row["error_percent"] <= limit]
            theirs = cheapest(row for row in kept if row["code"] == "CalculiX")
            even = cheapest(row for row in kept if row.get("mesh") in ("even", "mortar"))
            mine = cheapest(row for row in kept if row["code"] == "heldtrue")
            chosen = cheapest(row for row in kept if row.get("default"))
            found.append(
                {
                    "body": body,
                    "limit_percent": limit,
                    "theirs": theirs and theirs["what"],
                    "ours": mine and mine["what"],
                    "time": ratio(theirs, mine, "cpu_seconds"),
                    "time_default": ratio(theirs, chosen, "cpu_seconds"),
                    "time_plain_mesh": ratio(even, mine, "cpu_seconds"),
                    "time_known": ratio(theirs, mine, "cpu_seconds", "known_seconds"),
                    "memory_added": ratio(theirs, mine, "megabytes"),
                    "memory_process": ratio(theirs, mine, "process_megabytes"),
                }
            )
    return found


def cheapest(rows: Iterable[Row]) -> Row | None:
    return min(rows, key=lambda row: row["cpu_seconds"], default=None)


def ratio(theirs: Row | None, ours: Row | None, key: str, our_key: str | None = None) -> float | None:
    if theirs is None or ours is None or (our_key or key) not in ours:
        return None
    return float(theirs[key] / ours[our_key or key])


def page(document: Row) -> str:
    """All tables as markdown."""
    parts = [
        f"{document['program']} on {document['machine']}, one thread each; the whole comparison took"
        f" {document['minutes']:g} minutes.",
        "### Every run",
        table(
            ("body", "code", "run", "unknowns", "time, s", "of it solver, s", "memory, MB", "error, %"),
            [run_cells(row) for row in document["rows"]],
        ),
        reference_note(document["references"]),
        "### How many times as much the general code needs",
        table(
            ("body", "error ≤", "cheapest 3-D run", "cheapest heldtrue run", "time", "to heldtrue's default")
            + ("time, plain mesh", "memory added", "memory of process"),
            [ratio_cells(row) for row in document["ratios"]],
        ),
        "### Contact in detail",
        table(
            ("code", "run", "bore, %", "peak-to-valley at z 0, 10, 20, µm", "peak-to-valley, %")
            + ("force at the same advance, %", "pressure of the worst box, % of mean"),
            [contact_cells(row) for row in document["rows"] if row["body"] == CONTACT],
        ),
        known_note(document["rows"]),
        "### How heldtrue's cost grows",
        table(
            ("varied", "elements", "unknowns of a harmonic", "time, ms", "factoring, ms")
            + ("mesh and assembly, ms", "solving, ms", "time / factoring"),
            [growth_cells(row) for row in document["growth"]],
        ),
    ]
    return "\n\n".join(part for part in parts if part)


def run_cells(row: Row) -> tuple[str, ...]:
    solver = f"{row['solver_seconds']:.2f}" if "solver_seconds" in row else ""
    return (
        row["body"],
        row["code"],
        row["what"] + (" (default)" if row.get("default") else ""),
        f"{row['unknowns']:,}" if row["unknowns"] else "",
        seconds(row["cpu_seconds"]),
        solver,
        f"{row['megabytes']:.0f}",
        percent(row["error_percent"]),
    )


def ratio_cells(row: Row) -> tuple[str, ...]:
    keys = ("time", "time_default", "time_plain_mesh", "memory_added", "memory_process")
    return (
        row["body"],
        f"{row['limit_percent']:g} %",
        row["theirs"] or "none",
        row["ours"] or "none",
        *(times(row[key]) for key in keys),
    )


def contact_cells(row: Row) -> tuple[str, ...]:
    pressure = row["pressure_percent"]
    return (
        row["code"],
        row["what"] + (" (default)" if row.get("default") else ""),
        percent(row["error_percent"]),
        ", ".join(f"{v:.2f}" for v in row["peak_to_valley_um"]),
        percent(row["peak_to_valley_percent"]),
        f"{row['force_percent']:+.2f}",
        "" if pressure is None else percent(pressure),
    )


def growth_cells(row: Row) -> tuple[str, ...]:
    return (
        row["label"],
        str(row["elements"]),
        f"{row['unknowns']:,}",
        *(f"{1e3 * row[key]:.1f}" for key in ("seconds", "factor", "set_up", "solve")),
        f"{row['seconds'] / row['factor']:.1f}",
    )


def reference_note(references: Row) -> str:
    """How sure the answers are that errors are measured against."""
    lines = ["Errors are against the 3-D answer extrapolated from the three finest meshes:"]
    for body, known in references.items():
        text = f"- {body}: the finest mesh is {percent(known['finest_percent'])} % from it"
        if "floor_percent" in known:
            text += f", an extrapolation from meshes one level coarser {percent(known['floor_percent'])} %"
        lines.append(f"{text}; order of convergence {known['order_of_convergence']:.1f}.")
    return "\n".join(lines)


def known_note(rows: list[Row]) -> str:
    """What heldtrue's contact is made of."""
    mine = next(row for row in rows if row["body"] == CONTACT and row.get("default"))
    jaw = mine["cpu_seconds"] - mine["part_seconds"] - mine["known_seconds"]
    theirs = [row for row in rows if row["body"] == CONTACT and row["code"] == "CalculiX"]
    kept = cheapest(row for row in theirs if row["error_percent"] <= CONTACT_LIMITS[0])
    text = (
        f"Of heldtrue's {seconds(mine['cpu_seconds'])} s the part takes {seconds(mine['part_seconds'])} s, the jaw"
        f" {seconds(jaw)} s; a new force or fit on the known part and jaw takes {seconds(mine['known_seconds'])} s"
    )
    if kept is None:
        return text + "."
    again = times(ratio(kept, mine, "cpu_seconds", "known_seconds"))
    return f"{text}, where the general code solves everything again ({again} times as long at 1.5 %)."


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    whole = [head, *rows]
    widths = [max(len(row[i]) for row in whole) for i in range(len(head))]
    lines = ["| " + " | ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)) + " |" for row in whole]
    lines.insert(1, "|" + "|".join("-" * (w + 2) for w in widths) + "|")
    return "\n".join(lines)


def seconds(value: float) -> str:
    return f"{value:.1f}" if value >= 10 else f"{value:.2f}" if value >= 0.1 else f"{value:.3f}"


def percent(value: float) -> str:
    return f"{value:.1f}" if value >= 10 else f"{value:.2f}" if value >= 0.1 else f"{value:.3f}"


def times(value: float | None) -> str:
    if value is None:
        return "–"
    return f"{value:,.0f}" if value >= 10 else f"{value:.1f}"


def rounded(value: Any) -> Any:
    """The document with floats cut to six digits: a small file with short differences."""
    if isinstance(value, float):
        return float(f"{value:.6g}")
    if isinstance(value, dict):
        return {k: rounded(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(v) for v in value]
    return value

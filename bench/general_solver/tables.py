"""The tables of the comparison, and the ratios drawn from it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

Row = dict[str, Any]
LIMITS = (0.4, 0.1)
CONTACT_LIMITS = (1.5, 0.5)
CONTACT = "contact of ring and jaw"


def ratios(rows: list[Row]) -> list[Row]:
    """Per body and error limit: the cheapest run of each code that keeps it, and what it costs beside the other's.

    Contact keeps a limit if both the bore for the same force and the force for the same advance do.
    """
    found = []
    for body in dict.fromkeys(row["body"] for row in rows):
        here = [row for row in rows if row["body"] == body]
        for limit in CONTACT_LIMITS if body == CONTACT else LIMITS:
            found.append(
                {"body": body, "limit": f"{limit:g} %", **_compared(here, [r for r in here if _keeps(r, limit)])}
            )
    return found


def _keeps(row: Row, limit: float) -> bool:
    return max(row["error_percent"], abs(row.get("force_percent", 0.0))) <= limit


def _compared(rows: list[Row], kept: list[Row]) -> Row:
    """``at_least``: no mesh of that kind keeps the limit; the ratio is that of its finest."""
    theirs = cheapest(row for row in kept if row["code"] == "CalculiX")
    mine = cheapest(row for row in kept if row["code"] == "heldtrue")
    chosen = cheapest(row for row in kept if row.get("default"))
    told = {
        "theirs": theirs and theirs["what"],
        "ours": mine and mine["what"],
        "time": ratio(theirs, mine, "cpu_seconds"),
        "time_default": ratio(theirs, chosen, "cpu_seconds"),
        "memory_added": ratio(theirs, mine, "megabytes"),
        "memory_process": ratio(theirs, mine, "process_megabytes"),
        "at_least": [],
    }
    for kind in ("even", "tetrahedra"):
        made = [row for row in rows if row.get("mesh") == kind]
        enough = cheapest(row for row in kept if row.get("mesh") == kind)
        if enough is None and made:
            enough = max(made, key=lambda row: row["unknowns"])
            told["at_least"].append(kind)
        told[f"time_{kind}"] = ratio(enough, mine, "cpu_seconds")
        told[f"memory_{kind}"] = ratio(enough, mine, "megabytes")
    return told


def cheapest(rows: Iterable[Row]) -> Row | None:
    return min(rows, key=lambda row: row["cpu_seconds"], default=None)


def ratio(theirs: Row | None, ours: Row | None, key: str, our_key: str | None = None) -> float | None:
    if theirs is None or ours is None or (our_key or key) not in ours:
        return None
    return float(theirs[key] / ours[our_key or key])


RUN_HEAD = ("body", "code", "run", "unknowns", "time, s", "solver, wall s", "memory, MB", "process, MB", "error, %")
RATIO_HEAD = (
    "body",
    "error ≤",
    "cheapest 3-D run",
    "cheapest heldtrue run",
    "time",
    "beside heldtrue's default",
    "time, even bricks",
    "time, tetrahedra",
    "memory added",
    "memory of process",
)
CONTACT_HEAD = (
    "code",
    "run",
    "bore, %",
    "peak-to-valley at z 0, 10, 20, µm",
    "peak-to-valley, %",
    "force at the same advance, %",
    "pressure of the worst box beside the finest mesh, % of mean",
)
GROWTH_HEAD = (
    "varied",
    "elements",
    "unknowns of a harmonic",
    "time, ms",
    "factoring, ms",
    "mesh and assembly, ms",
    "solving, ms",
    "time / factoring",
)


def page(document: Row, *, quick: bool = False) -> str:
    """All tables as markdown; a quick run has too few meshes for ratios."""
    rows = document["rows"]
    parts = [
        f"{document['program']} on {document['machine']}, one thread each; the whole comparison took"
        f" {document['minutes']:g} minutes.",
        "### Every run",
        table(RUN_HEAD, [run_cells(row) for row in rows]),
        reference_note(document["references"]),
        "### Contact in detail",
        table(CONTACT_HEAD, [contact_cells(row) for row in rows if row["body"] == CONTACT]),
        known_note(rows),
        "### How heldtrue's cost grows",
        table(GROWTH_HEAD, [growth_cells(row) for row in document["growth"]]),
    ]
    if not quick:
        parts[1:1] = [
            "### Targets",
            table(("target, general code over heldtrue", "measured", ""), targets(document["ratios"])),
            "### How many times as much the general code needs",
            table(RATIO_HEAD, [ratio_cells(row) for row in document["ratios"]]),
        ]
    return "\n\n".join(parts)


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
        f"{row['process_megabytes']:.0f}",
        percent(row["error_percent"]),
    )


def ratio_cells(row: Row) -> tuple[str, ...]:
    kinds = [("> " if kind in row["at_least"] else "") + times(row[f"time_{kind}"]) for kind in ("even", "tetrahedra")]
    return (
        row["body"],
        row["limit"],
        row["theirs"] or "none",
        row["ours"] or "none",
        times(row["time"]),
        times(row["time_default"]),
        *kinds,
        times(row["memory_added"]),
        times(row["memory_process"]),
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


Value = tuple[str, float | None, bool]
"""A body, its ratio, and whether that is a lower bound: no mesh of the kind was accurate enough."""


def targets(found: list[Row]) -> list[tuple[str, str, str]]:
    """What the design asked for, what this run measured, and whether that is enough."""
    fine, finer = f"{LIMITS[0]:g} %", f"{LIMITS[1]:g} %"
    every = [body for body in dict.fromkeys(row["body"] for row in found) if body != CONTACT]
    larger = [body for body in every if not body.startswith("ring")]

    def gather(limit: str, key: str, bodies: list[str]) -> list[Value]:
        kind = key.removeprefix("time_")
        rows = [row for row in found if row["limit"] == limit and row["body"] in bodies]
        return [(row["body"], row[key], kind in row["at_least"]) for row in rows]

    touching = f"{CONTACT_LIMITS[0]:g} %"
    asked: list[tuple[str, list[Value], float]] = [
        ("time ≥ 5 x at 0.4 %, larger bodies: best mesh", gather(fine, "time", larger), 5),
        ("... even bricks", gather(fine, "time_even", larger), 5),
        ("... tetrahedra", gather(fine, "time_tetrahedra", larger), 5),
        ("time ≥ 100 x at 0.1 %: best mesh", gather(finer, "time", every), 100),
        ("... even bricks", gather(finer, "time_even", every), 100),
        ("... tetrahedra", gather(finer, "time_tetrahedra", every), 100),
        ("contact: time ≥ 100 x at 1.5 %", gather(touching, "time", [CONTACT]), 100),
        ("memory ≥ 10 x at 0.4 %: best mesh", gather(fine, "memory_added", every), 10),
        ("memory ≥ 10 x at 0.1 %: best mesh", gather(finer, "memory_added", every), 10),
        ("contact: memory ≥ 10 x at 1.5 %", gather(touching, "memory_added", [CONTACT]), 10),
    ]
    return [(words, ", ".join(map(_named, values)), _verdict(values, least)) for words, values, least in asked]


def _named(value: Value) -> str:
    body, ratio_, at_least = value
    return f"{body.split(' Ø')[0]} {'> ' if at_least else ''}{times(ratio_)}"


def _verdict(values: list[Value], least: float) -> str:
    met = [ratio_ is not None and ratio_ >= least for _, ratio_, _ in values]
    open_ = [at_least and not good for (_, _, at_least), good in zip(values, met, strict=True)]
    missed = [not good and not unknown for good, unknown in zip(met, open_, strict=True)]
    if all(met):
        return "met"
    words = [word for word, some in (("met", met), ("missed", missed), ("not shown", open_)) if any(some)]
    return " in part, ".join(words) + (" in part" if len(words) > 1 else "")


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
    kept = cheapest(
        row for row in rows if row["body"] == CONTACT and row["code"] == "CalculiX" and _keeps(row, CONTACT_LIMITS[0])
    )
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

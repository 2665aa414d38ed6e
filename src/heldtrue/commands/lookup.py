"""Print what is built in: schemas and materials."""

# Heavy modules are imported inside the commands: help and errors must not wait for the finite element kernel.
from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Literal

import typer

from heldtrue.commands.common import AsJson, InUnits, print_json, said, screen
from heldtrue.errors import InputError
from heldtrue.files import write_all

Folder = Annotated[Path, typer.Option(help="Folder to copy them into; made if it is not there.")]

Document = Literal[
    "setup", "chuck", "plan", "comparison", "contact", "bore", "recut", "indicator", "drift", "taper", "learned",
    "jaws", "rings", "tool", "part", "ways", "measure", "assumptions",
]  # fmt: skip


def examples(out: Folder = Path("examples")) -> None:
    """Copy the examples that came with the program, to be changed and planned. Files that are there stay."""
    from heldtrue.files import examples_folder

    source = examples_folder()
    if source is None:
        raise InputError("this installation came without examples")
    files = {out / path.relative_to(source): path for path in sorted(source.rglob("*.*")) if path.is_file()}
    there = [path for path in files if path.exists()]
    if there:
        raise InputError(f"{there[0]} is there already, and {len(there) - 1} more: name another folder with --out")
    write_all({path: found.read_bytes() for path, found in files.items()}, make_folders=True)
    said(f"{len(files)} files in {out}; then: heldtrue plan {out / 'wear-ring.toml'}", wrapped=False)


def schema(
    document: Annotated[Document, typer.Argument(help="Which document.")] = "setup",
) -> None:
    """Print the JSON Schema of a setup file, of a hardware file, or of what a command prints with --json."""
    from heldtrue.inspection import document as readings
    from heldtrue.inspection import shop_documents
    from heldtrue.part_file import document as part_files
    from heldtrue.planning import boring_document, contact_document, file_schema, way_document
    from heldtrue.planning import document as documents
    from heldtrue.planning.odds import odds_document

    make = {
        "setup": file_schema.setup_schema,
        "chuck": file_schema.chuck_schema,
        "plan": documents.plan_schema,
        "comparison": documents.comparison_schema,
        "ways": way_document.ways_schema,
        "measure": odds_document.measurements_schema,
        "assumptions": odds_document.assumptions_schema,
        "contact": contact_document.contact_schema,
        "bore": boring_document.bore_schema,
        "recut": boring_document.recut_schema,
        "indicator": readings.indicator_schema,
        "drift": shop_documents.drift_schema,
        "taper": shop_documents.taper_schema,
        "learned": shop_documents.learned_schema,
        "jaws": file_schema.jaws_schema,
        "rings": file_schema.rings_schema,
        "tool": file_schema.tool_schema,
        "part": part_files.part_schema,
    }[document]
    print_json(json.dumps(make(), indent=2, ensure_ascii=False))


def materials(as_json: AsJson = False, units: InUnits = None) -> None:
    """The built-in data of part and jaw materials, every number with its source."""
    from heldtrue.mechanics.materials import JAW_MATERIALS, WORK_MATERIALS

    if as_json:
        from dataclasses import asdict

        data = {"work": [asdict(m) for m in WORK_MATERIALS], "jaws": [asdict(m) for m in JAW_MATERIALS]}
        print_json(json.dumps(data, indent=2, ensure_ascii=False))
        return
    from heldtrue.terminal.plan import show_materials

    show_materials(screen(), WORK_MATERIALS, JAW_MATERIALS, units or "metric")

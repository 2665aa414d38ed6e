"""Everything a setter takes to the machine to cut the jaws, as the files of one folder."""

from __future__ import annotations

import re
from datetime import date

from heldtrue.drawing.jaw_drawing import bored_jaw, jaw_dxf, jaw_svg
from heldtrue.drawing.solids import MadeSolids, make_solids
from heldtrue.drawing.tool_path import draw_tool_path
from heldtrue.json_document import to_json
from heldtrue.planning.boring import BorePlan
from heldtrue.planning.boring_document import bore_document, proof_entry
from heldtrue.planning.boring_program import Attempt
from heldtrue.planning.jaw_solid import CHORD_MM
from heldtrue.quantities import UnitSystem
from heldtrue.sheets.jaw_sheet import jaw_sheet, steps_text

PROGRAM = ".nc"
LONGEST_WORD = 60
FAILED = "failed-path.svg"
DOCUMENT, PROOF, GROOVE_PROOF = "bore.json", "proof.json", "groove-proof.json"


def program_name(plan: BorePlan) -> str:
    """The file name of the program."""
    return f"bore-{_word(plan)}{PROGRAM}"


def groove_name(plan: BorePlan) -> str:
    """The file name of the program of the groove for the ring."""
    return f"groove-{_word(plan)}{PROGRAM}"


def _word(plan: BorePlan) -> str:
    word = re.sub(r"[^A-Za-z0-9]+", "-", plan.setup.jaws.number or "").strip("-")[:LONGEST_WORD].strip("-")
    return word or "jaws"


def boring_files(
    plan: BorePlan, made: Attempt, system: UnitSystem, paper: str, *, heading: str = "", printed: date | None = None,
    solids: MadeSolids | None = None,
) -> dict[str, bytes | str]:  # fmt: skip
    """The files by name; ``printed``: the day on the sheet; ``solids``: of the jaws, as ``solids_of`` makes them.

    Without a proved program: only the drawing, the proof that failed, and where it did.
    """
    program = made.program
    files: dict[str, bytes | str] = {}
    if plan.design is not None and plan.ring is not None:
        jaw = bored_jaw(plan)
        files |= {"jaw.svg": jaw_svg(jaw, system), "jaw.dxf": jaw_dxf(jaw, system)}
    if program is not None and plan.job is not None:
        files |= {
            "jaw-sheet.pdf": jaw_sheet(
                plan, program, system, paper, heading=heading, file_name=program_name(plan), printed=printed
            ),
            "steps.txt": steps_text(plan, system),
            "tool-path.svg": draw_tool_path(plan.job, program.moves, program.proof, system),
            program_name(plan): program.text,
            PROOF: to_json(proof_entry(program.proof)) + "\n",
        }
        if made.groove is not None and plan.groove is not None and plan.groove.work is not None:
            files |= {
                "groove-path.svg": draw_tool_path(
                    plan.groove.work.job, made.groove.moves, made.groove.proof, system, what="groove"
                ),
                groove_name(plan): made.groove.text,
                GROOVE_PROOF: to_json(proof_entry(made.groove.proof)) + "\n",
            }
        if solids is not None:
            files |= solids.files
    elif made.proof is not None and plan.job is not None:
        files |= {
            FAILED: draw_tool_path(plan.job, made.moves, made.proof, system),
            PROOF: to_json(proof_entry(made.proof)) + "\n",
        }
    told = solids.told if solids is not None and program is not None else None
    files[DOCUMENT] = to_json(bore_document(plan, program, made.proof, told, made.groove)) + "\n"
    return files


def solids_of(
    plan: BorePlan, made: Attempt, chord: float = CHORD_MM, printed: date | None = None
) -> MadeSolids | None:  # fmt: skip
    """The cut jaws as solids for the folder; None without a proved program: what is not cut is not shown as cut."""
    return None if made.program is None else make_solids(plan, chord, printed)


def is_program(name: str) -> bool:
    """Is a file of the folder a program for the machine?"""
    return name.endswith(PROGRAM)

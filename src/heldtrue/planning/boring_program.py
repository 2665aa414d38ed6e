"""The boring program of a plan: the job to cut, and its proved text or why there is none. Core units."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING

from heldtrue.errors import GeometryError, ProofError
from heldtrue.planning.boring_steps import Facts
from heldtrue.planning.hardware import Hardware
from heldtrue.planning.setup import Setup
from heldtrue.program.job import BoringJob, Cutting, KeepOut, MachineLimits, ProbeAt
from heldtrue.tooling import ring
from heldtrue.tooling.bore import BoreDesign, unfaced

if TYPE_CHECKING:
    from heldtrue.planning.boring import BorePlan
    from heldtrue.program.front import Program
    from heldtrue.program.proof import Proof
    from heldtrue.program.read import ReadMove


PROBE_OFF_MM = 3.0
"""How far up the gripping wall from its lower end a probing cycle measures: common practice, no source."""


@dataclass(frozen=True)
class Attempt:
    """A program, or why there is none.

    ``program``: None where it failed; ``why``: then, in words; ``proof`` and ``moves``: of a text that failed its proof
    and was thrown away, None and empty where there was none; ``groove``: of the groove for the ring, where it has one.
    """

    program: Program | None
    why: str = ""
    proof: Proof | None = None
    moves: tuple[ReadMove, ...] = ()
    groove: Program | None = None


def attempt(plan: BorePlan, base_dir: str | Path | None = None) -> Attempt:
    """The program of a plan that can be cut, or why the tool or the proof says no.

    ``base_dir``: where the template is looked up.  Raises: ``InputError`` for a template that cannot be used.
    """
    if not plan.can_be_cut:
        return Attempt(None, "; ".join(plan.refusals))
    try:
        groove = groove_program_of(plan, base_dir)
        return Attempt(program_of(plan, base_dir), groove=groove)
    except ProofError as error:
        return Attempt(None, str(error), error.proof, error.moves)
    except GeometryError as error:
        return Attempt(None, str(error))


def program_of(plan: BorePlan, base_dir: str | Path | None = None) -> Program | None:
    """The program of a plan's job, read back and proved, in the words of the setup's template.

    ``base_dir``: where the template is looked up; None without a job.
    Raises: what ``heldtrue.program.front.program`` does, and then nothing is written.
    """
    if plan.job is None or plan.refusals:
        return None
    # Reading, cutting and proving is not needed by whoever only asks where the jaws stand.
    from heldtrue.program.front import program

    return program(plan.job, template_of(plan.setup, base_dir))


def groove_program_of(plan: BorePlan, base_dir: str | Path | None = None) -> Program | None:
    """The proved program of the groove that the ring needs; None where it needs none or no blade is stated."""
    if plan.groove is None or plan.groove.work is None:
        return None
    from heldtrue.program.groove import groove_program

    return groove_program(plan.groove.work, template_of(plan.setup, base_dir))


def template_of(setup: Setup, base_dir: str | Path | None = None) -> str | Path:
    """The setup's template: by name of those that come along, else a path from ``base_dir``; else by its units."""
    from heldtrue.program.dialect import shipped

    said = setup.boring.template if setup.boring else None
    if said is None:
        return "inch" if setup.units == "inch" else "neutral"
    return said if said in shipped() else Path(base_dir or ".") / said


def boring_job(setup: Setup, hardware: Hardware, made: BoreDesign, facts: Facts, cutting: Cutting) -> BoringJob:
    """What the program has to cut."""
    clearance = setup.boring.clearance if setup.boring else None
    return BoringJob(
        title=setup.title or f"jaws for {setup.part.number}", grip=setup.grip.side, metal=unfaced(made),
        face_off=made.face_off if made.faced_by_program else 0.0,
        finished=made.profile, keep_out=tuple(KeepOut(one.name, one.outline) for one in made.keep_outs),
        tool=hardware.tool, cutting=cutting, limits=_limits(setup, hardware, made),
        clearance=ring.CLEARANCE_MM if clearance is None else clearance, comments=facts.comments(), stops=facts.stops(),
        measure=facts.measure(), size_at_stop=facts.size_words,
        probe=_probe(setup, made, facts) if cutting.semi_allowance > 0 else None,
    )  # fmt: skip


def _probe(setup: Setup, made: BoreDesign, facts: Facts) -> ProbeAt:
    """What a probing cycle is told: on the gripping wall near the seat, and no more than what is left to finish."""
    (upper, high), (lower, low) = made.from_grip[1:3]
    up = min(PROBE_OFF_MM, (high - low) / 2)
    off = lower + (upper - lower) * up / (high - low) - made.diameter / 2  # the taper from the seat to there
    return ProbeAt(facts.size_at_stop + 2 * off, low + up, 2 * facts.left, setup.chuck.jaws)


def _limits(setup: Setup, hardware: Hardware, made: BoreDesign) -> MachineLimits:
    """Travel in the program's coordinates; wide open where nothing is stated."""
    machine = setup.machine
    top = made.height + (hardware.master.top_height if hardware.master else 0.0)
    x = machine.x_travel if machine and machine.x_travel else (-2000.0, 4000.0)
    z = machine.z_travel if machine and machine.z_travel else (-1000.0, 5000.0)
    speeds = [setup.chuck.max_speed_rpm, machine.max_speed_rpm if machine and machine.max_speed_rpm else inf]
    return MachineLimits((x[0] / 2, x[1] / 2), (z[0] - top, z[1] - top), min(speeds))

"""Every input of a plan in one table: range, spread, source, and the key that changes it."""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.planning.entries import Assumptions
from heldtrue.planning.inputs import Job
from heldtrue.planning.known import Known
from heldtrue.planning.odds.spread import Spread
from heldtrue.planning.odds.spreads import spreads_of

OWN_KEYS = {
    "friction": "jaws.friction", "piston area": "chuck.actuator.{side}_area", "grip share": "chuck.grip_readings",
    "threshold": "chuck.actuator.threshold_pressure", "gauge error": "chuck.actuator.gauge_error",
    "least pressure": "chuck.actuator.least_pressure", "seat": "grip.seat", "wear": "cut.wear",
    "interruption": "cut.interrupted", "jaw moment": "jaws.mass, jaws.centroid_radius, chuck.master_jaw_mass, "
    "chuck.master_jaw_radius", "part mass": "part.mass", "off centre": "part.off_centre",
    "spin-up": "machine.spin_up_time", "height share": "jaws.grip_height, chuck.reference_grip_height",
    "jaw base": "jaws.base_tilt", "bored pressure": "jaws.bored_pressure", "bored share": "jaws.bored_pressure",
    "jaw bore": "jaws.bore_diameter", "part size": "grip.diameter_tolerance", "part roundness": "part.roundness",
    "cutting data": "assumptions.cutting_data.range", "part yield": "assumptions.part_yield.range",
    "jaw yield": "assumptions.jaw_yield.range",
}  # fmt: skip
"""Keys of the setup file that change the range of an input."""


@dataclass(frozen=True)
class AssumptionRow:
    """One input; ``spread``: None for a yes or no and for what other inputs say.

    ``change``: key of the setup file that changes its range.
    """

    known: Known
    spread: Spread | None
    change: str

    @property
    def spread_key(self) -> str:
        """Key of the setup file that changes the spread; empty where there is none."""
        key = self.known.name.replace(" ", "_").replace("-", "_")
        return f"assumptions.{key}.spread" if self.spread is not None and key in Assumptions.model_fields else ""


def assumptions_of(job: Job) -> tuple[AssumptionRow, ...]:
    """Every input of a job, in the order in which they are made."""
    spreads = spreads_of(job)
    side = "pull" if job.grip_is_outside else "push"
    return tuple(
        AssumptionRow(known, spreads.get(name), OWN_KEYS.get(name, "").format(side=side))
        for name, known in job.known.items()
    )

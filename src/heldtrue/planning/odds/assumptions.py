"""Every input of a plan in one table: range, spread, source, and the key that changes it."""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.planning.entries import Assumptions
from heldtrue.planning.inputs import Job
from heldtrue.planning.known import Known
from heldtrue.planning.odds.spread import Spread
from heldtrue.planning.odds.spreads import spreads_of

KEYS: dict[str, tuple[str, ...]] = {
    "friction": ("jaws.friction",), "piston area": ("chuck.actuator.{side}_area",),
    "grip share": ("chuck.grip_readings",), "threshold": ("chuck.actuator.threshold_pressure",),
    "gauge error": ("chuck.actuator.gauge_error",), "least pressure": ("chuck.actuator.least_pressure",),
    "seat": ("grip.seat",), "wear": ("cut.wear",), "interruption": ("cut.interrupted",),
    "jaw moment": ("jaws.mass", "jaws.centroid_radius", "chuck.master_jaw_mass", "chuck.master_jaw_radius"),
    "part mass": ("part.mass",), "off centre": ("part.off_centre",), "spin-up": ("machine.spin_up_time",),
    "height share": ("jaws.grip_height", "chuck.reference_grip_height"), "jaw base": ("jaws.base_tilt",),
    "bored pressure": ("jaws.bored_pressure",), "bored share": ("jaws.bored_pressure",),
    "jaw bore": ("jaws.bore_diameter",), "part size": ("grip.diameter_tolerance",),
    "part roundness": ("part.roundness",), "cutting data": ("assumptions.cutting_data",),
    "part yield": ("assumptions.part_yield",), "jaw yield": ("assumptions.jaw_yield",),
}  # fmt: skip
"""Keys of the setup file that say an input, in the order in which they are to be entered."""


@dataclass(frozen=True)
class AssumptionRow:
    """One input; ``spread``: None for a yes or no and for what other inputs say.

    ``change``: keys of the setup file that change its range.
    """

    known: Known
    spread: Spread | None
    change: tuple[str, ...]

    @property
    def spread_key(self) -> str:
        """Key of the input under ``[assumptions]``; empty where it has no spread to change."""
        return self.known.key if self.spread is not None and self.known.key in Assumptions.model_fields else ""


def keys_of(name: str, job: Job) -> tuple[str, ...]:
    """Keys of the setup file that say an input of a job; none for what other inputs say."""
    side = "pull" if job.grip_is_outside else "push"
    return tuple(key.format(side=side) for key in KEYS.get(name, ()))


def assumptions_of(job: Job) -> tuple[AssumptionRow, ...]:
    """Every input of a job, in the order in which they are made."""
    spreads = spreads_of(job)
    return tuple(AssumptionRow(known, spreads.get(name), tuple(map(_range_key, keys_of(name, job))))
                 for name, known in job.known.items())  # fmt: skip


def _range_key(key: str) -> str:
    """Where a key of ``[assumptions]`` has the range."""
    return f"{key}.range" if key.startswith("assumptions.") else key

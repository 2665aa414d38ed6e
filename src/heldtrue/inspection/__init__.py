"""What the shop measures, and what it means: indicator, feeler and bluing, drift.

Pure figures in and out; a plan's prediction comes in as plain numbers.  Units: mm, N, MPa, rad.
"""

from heldtrue.inspection.budget import compare_lobes, runout_budget
from heldtrue.inspection.causes import rank_causes
from heldtrue.inspection.drift import read_drift, read_measurements
from heldtrue.inspection.indicator import read_indicator
from heldtrue.inspection.learning import learn
from heldtrue.inspection.readings import read_readings, typed_readings
from heldtrue.inspection.taper import next_taper

__all__ = [
    "compare_lobes",
    "learn",
    "next_taper",
    "rank_causes",
    "read_drift",
    "read_indicator",
    "read_measurements",
    "read_readings",
    "runout_budget",
    "typed_readings",
]

"""A small shop for the tests: invented data of a repair shop for irrigation pumps and winches."""

from datetime import UTC, datetime, timedelta

from heldtrue.records.events import SetCut, SetMove
from heldtrue.records.things import (
    BlankRecord,
    ChuckRecord,
    JawSet,
    MachineRecord,
    PartRecord,
    RingRecord,
    SetupRecord,
    ToolRecord,
)

MONDAY = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
TEETH = "1.5 mm x 60 deg"
DOCUMENT = {"kind": "setup", "format": 1, "program": "0.1.0", "content": {"title": "Wear ring", "units": "metric"}}


def day(number: float) -> datetime:
    return MONDAY + timedelta(days=number)


def cards():
    """Machines, chucks and the rest; later ones refer to earlier ones."""
    return (
        MachineRecord(id="M-3", name="lathe 3", max_speed_rpm=3500.0, max_swing=450.0),
        MachineRecord(id="M-4", name="lathe 4", max_speed_rpm=2800.0),
        ChuckRecord(id="C-250", name="wedge 250", machine="M-3", serration=TEETH, gauge="bar", grease_days=30),
        ChuckRecord(id="C-315", name="wedge 315", machine="M-4", serration=TEETH, gauge="psi"),
        BlankRecord(id="B-1", style="pie", material="aluminium 6061-T6", serration=TEETH, height=60.0, in_stock=4),
        RingRecord(id="R-60", outside=60.0, inside=40.0, width=10.0),
        ToolRecord(id="T-25", name="turning 25", nose_radius=0.8),
        PartRecord(id="WR-158", name="wear ring", material="CuSn12"),
        JawSet(id="S-12", name="wear ring jaws", style="pie", material="aluminium 6061-T6", serration=TEETH,
               blank="B-1", part="WR-158"),
        JawSet(id="S-13", style="standard", material="C45", serration=TEETH),
        SetupRecord(id="WR-158/20", title="Wear ring, second side", part="WR-158", revision="B", machine="M-3",
                    chuck="C-250", jaw_set="S-12", document=DOCUMENT),
    )  # fmt: skip


MANY_SETS = tuple(f"S-{number}" for number in range(30, 42))
MANY_MACHINES = tuple(f"M-{number}" for number in range(10, 18))


def many_cards():
    """Enough of a shop that two people rarely want the same card."""
    return (*cards(), *(JawSet(id=id_) for id_ in MANY_SETS), *(MachineRecord(id=id_) for id_ in MANY_MACHINES))


def cut(jaw_set="S-12", at=MONDAY, diameter=82.0, **more):
    given = {"machine": "M-3", "chuck": "C-250", "tooth": 9, "jaw_order": (1, 2, 3), "depth": 14.0,
             "pressure": 1.8, "web_left": 9.0, "by": "Noor", "side": "outside",
             "bore_steps": ()}  # fmt: skip
    return SetCut(jaw_set=jaw_set, at=at, diameter=diameter, **given | more)


def move(kind, jaw_set="S-12", at=MONDAY, **more):
    return SetMove(jaw_set=jaw_set, at=at, kind=kind, **{"by": "Noor"} | more)

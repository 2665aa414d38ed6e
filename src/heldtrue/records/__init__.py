"""What the shop must remember: cards, history, and the store they are kept in. Names load when they are asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from heldtrue.records.checking import Finding
    from heldtrue.records.differences import since_last_run
    from heldtrue.records.documents import open_plan, open_setup, plan_document, setup_document
    from heldtrue.records.errors import ConflictError, RecordsError, StoreVersionError
    from heldtrue.records.events import (
        FrictionReading,
        GaugeReading,
        Greasing,
        IndicatorReading,
        Photo,
        ReplanSeen,
        Revision,
        RunRecord,
        SetCut,
        SetMove,
        StartDecision,
    )
    from heldtrue.records.matching import Found, Match, Wanted
    from heldtrue.records.plain_files import export_to, import_from
    from heldtrue.records.recalling import Recalled
    from heldtrue.records.remembering import Remembered, remembered
    from heldtrue.records.replans import Replanned
    from heldtrue.records.safekeeping import backup, copy_store, restore
    from heldtrue.records.standing import Standing
    from heldtrue.records.store import History, Store, Version, open_store
    from heldtrue.records.things import (
        ActuatorRecord,
        BlankRecord,
        ChuckRecord,
        JawSet,
        MachineRecord,
        PartRecord,
        RingRecord,
        SetupRecord,
        Tag,
        ToolRecord,
    )

__all__ = [
    "ActuatorRecord",
    "BlankRecord",
    "ChuckRecord",
    "ConflictError",
    "Finding",
    "Found",
    "FrictionReading",
    "GaugeReading",
    "Greasing",
    "History",
    "IndicatorReading",
    "JawSet",
    "MachineRecord",
    "Match",
    "PartRecord",
    "Photo",
    "Recalled",
    "RecordsError",
    "Remembered",
    "ReplanSeen",
    "Replanned",
    "Revision",
    "RingRecord",
    "RunRecord",
    "SetCut",
    "SetMove",
    "SetupRecord",
    "Standing",
    "StartDecision",
    "Store",
    "StoreVersionError",
    "Tag",
    "ToolRecord",
    "Version",
    "Wanted",
    "backup",
    "copy_store",
    "export_to",
    "import_from",
    "open_plan",
    "open_setup",
    "open_store",
    "plan_document",
    "remembered",
    "restore",
    "setup_document",
    "since_last_run",
]

_HOMES = {
    "ActuatorRecord": "things",
    "BlankRecord": "things",
    "ChuckRecord": "things",
    "ConflictError": "errors",
    "Finding": "checking",
    "Found": "matching",
    "FrictionReading": "events",
    "GaugeReading": "events",
    "Greasing": "events",
    "History": "store",
    "IndicatorReading": "events",
    "JawSet": "things",
    "MachineRecord": "things",
    "Match": "matching",
    "PartRecord": "things",
    "Photo": "events",
    "Recalled": "recalling",
    "RecordsError": "errors",
    "Remembered": "remembering",
    "ReplanSeen": "events",
    "Replanned": "replans",
    "Revision": "events",
    "RingRecord": "things",
    "RunRecord": "events",
    "SetCut": "events",
    "SetMove": "events",
    "SetupRecord": "things",
    "Standing": "standing",
    "StartDecision": "events",
    "Store": "store",
    "StoreVersionError": "errors",
    "Tag": "things",
    "ToolRecord": "things",
    "Version": "store",
    "Wanted": "matching",
    "backup": "safekeeping",
    "copy_store": "safekeeping",
    "export_to": "plain_files",
    "import_from": "plain_files",
    "open_plan": "documents",
    "open_setup": "documents",
    "open_store": "store",
    "plan_document": "documents",
    "remembered": "remembering",
    "restore": "safekeeping",
    "setup_document": "documents",
    "since_last_run": "differences",
}


def __getattr__(name: str) -> Any:
    """Import on first use: a command that keeps no records must not wait for a database driver."""
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(f"heldtrue.records.{_HOMES[name]}"), name)
    raise AttributeError(f"module 'heldtrue.records' has no attribute '{name}'")

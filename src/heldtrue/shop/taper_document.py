"""The next taper cut as a JSON document: the commands print it with ``--json``, the API answers with it."""

from __future__ import annotations

from math import degrees

from heldtrue.inspection.document import estimate_entry
from heldtrue.inspection.shop_documents import PartTaperEntry, taper_document
from heldtrue.json_document import to_json
from heldtrue.shop.next_cut import NextCut
from heldtrue.shop.part_cause import PartCause


def taper_text(cut: NextCut) -> str:
    """The document as JSON text."""
    return to_json(taper_document(
        cut.found, title=cut.setup.title, taper_now=cut.taper_now, by_plan=cut.by_plan, by_contact=cut.by_contact,
        plan_print=cut.plan_print, grip_length=cut.grip_length, force=cut.force, stiffness=cut.stiffness,
        base_from=cut.base_from, notes=cut.notes, cautions=cut.cautions,
        part=None if cut.part is None else _part(cut.part),
    ))  # fmt: skip


def _part(one: PartCause) -> PartTaperEntry:
    split, lower, rebored = one.split, one.lower or (None, None), one.rebored or (None, None)
    return PartTaperEntry(
        surface=one.surface.name, over=split.over, pressure=one.pressure, told=split.told, parted=split.parted,
        total=estimate_entry(split.total), jaws=estimate_entry(split.jaws), machine=estimate_entry(split.machine),
        angle_deg=degrees(split.angle), by_model=estimate_entry(one.by_model), by_cut=one.by_cut, program=one.program,
        lower_pressure=lower[0], left_at_lower=lower[1], left_as_bored=rebored[0], left_rebored=rebored[1],
        words=list(one.words),
    )  # fmt: skip

"""The whole catalogue: re-plan it, how it stands, and what somebody has looked at."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response
from pydantic import Field

from heldtrue.shop.replanning.document import replan_json
from heldtrue.shop.replanning.run import Which, see, standing
from heldtrue.web.api import work
from heldtrue.web.api.asked import Asked, AtDesk, By, Id, Looks, Remark, SetsUp, json, name_of
from heldtrue.web.catalogue import SLICE
from heldtrue.web.desk import checked, now

router = APIRouter(prefix="/replan")
AS_REPLANNED = "What turned and why, as heldtrue replan --json."


class ReplanQuestion(Asked):
    """Which setups: all, or those that have everything that is given."""

    chuck: str = Field("", max_length=100, description="Only setups on this chuck.")
    machine: str = Field("", max_length=100, description="Only setups of this machine.")
    jaw_set: str = Field("", max_length=100, description="Only setups of this jaw set.")
    part: str = Field("", max_length=100, description="Only setups of this part.")
    revision: str = Field("", max_length=100, description="Only setups of this revision of their part.")
    material: str = Field("", max_length=100, description="Only setups whose part is of this material.")


class SeenQuestion(Asked):
    """Somebody looked at a setup as it stands after its last re-plan."""

    id: Id = Field(description="What the setup is called in the records.")
    by: By = ""
    remark: Remark = ""


@router.post("", summary="Plan again what has changed: which setups may no longer start, and why? Recorded.",
             response_description=AS_REPLANNED)  # fmt: skip
async def replan(desk: AtDesk, viewer: SetsUp, asked: ReplanQuestion) -> Response:
    """As heldtrue replan, for about 10 s: `left` says how many wait; ask again until none does."""
    which = Which(**asked.model_dump())
    return json(checked(await desk.pool.run("", work.replan_json, desk.records, which, SLICE)))


@router.get("/standing", dependencies=[Looks], summary="Which setups may no longer start, by the re-plans so far?",
            response_description=AS_REPLANNED)  # fmt: skip
async def stands(desk: AtDesk) -> Response:
    """As the page Catalogue; nothing is planned, and `left` says of how many setups the state has changed since."""
    return json(replan_json(await desk.remember(standing, desk.store)))


@router.post("/seen", summary="I looked at this setup as it stands: the shop goes by that from here on. Recorded.",
             response_description=f"The whole catalogue then. {AS_REPLANNED}")  # fmt: skip
async def seen(desk: AtDesk, viewer: SetsUp, asked: SeenQuestion) -> Response:
    """As heldtrue replan --seen."""
    by = name_of(viewer, asked.by)
    await desk.remember(see, desk.store, asked.id, by, now(), asked.remark)
    return json(replan_json(await desk.remember(standing, desk.store)))

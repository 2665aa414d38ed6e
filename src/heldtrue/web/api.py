"""The JSON API under ``/api``: a setup in the shape of the file in, the documents of the command line out.

Every error has one shape: ``{"error": {"kind": ..., "problems": [...]}}``.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import Body, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.exceptions import HTTPException

from heldtrue.errors import HeldtrueError, InputError
from heldtrue.planning.setup import Setup
from heldtrue.web import texts, worker
from heldtrue.web.access.door import VIEWER
from heldtrue.web.desk import Desk, checked, now
from heldtrue.web.who import AT_THIS_PC, Role, Viewer

SetupBody = Annotated[dict[str, Any], Body(description="A setup in the shape of the setup file, nothing by 'use'.")]


class Error(BaseModel):
    """What went wrong."""

    kind: str = Field(description="input: put it right and ask again; refused: not allowed; failed: ours")
    problems: list[str]


class Problem(BaseModel):
    """The one shape of every error."""

    error: Error


class StartQuestion(BaseModel):
    """May the spindle start?"""

    model_config = ConfigDict(extra="forbid")

    setup: dict[str, Any] = Field(description="A setup in the shape of the setup file.")
    id: str = Field(min_length=1, max_length=100, description="What the setup is called in the records.")
    gauge: str = Field(min_length=1, max_length=60, description="What the gauge shows, with its unit: 18 bar.")
    by: str = Field("", max_length=60, description="Name or initials; of a shared app always whose key it is.")
    step: str | None = Field(None, max_length=60, description="Pressure step: rough or finish; the first if left out.")
    override: str = Field("", max_length=300, description="Start although it must not: why.")


PROBLEMS: dict[int | str, dict[str, Any]] = {
    400: {"model": Problem, "description": "The body is not what is asked for."},
    422: {"model": Problem, "description": "The setup cannot be planned."},
}


def make_api(desk: Desk) -> FastAPI:
    """The application behind ``/api``; its description at ``/api/openapi.json``."""
    api = FastAPI(title="heldtrue", version="1", docs_url=None, redoc_url=None, responses=PROBLEMS)
    _errors(api)

    def viewer(request: Request, role: Role) -> Viewer:
        found = AT_THIS_PC if desk.door is None else request.scope.get(VIEWER)
        if found is None or not found.may(role):
            raise HTTPException(403, texts.MAY_NOT.format(role=found.role if found else "nothing"))
        return found

    @api.post("/plan", summary="Does the part stay in, at what pressure, how fast, how round?")
    async def plan(setup: SetupBody) -> Response:
        found = _setup(setup)
        return _json(checked(await desk.pool.run("", worker.plan_json, found)))

    @api.post("/bore", summary="Where do the jaws stand, on which ring, what is bored?")
    async def bore(setup: SetupBody) -> Response:
        found = _setup(setup)
        return _json(checked(await desk.pool.run("", worker.bore_json, found)))

    @api.post("/start", summary="May the spindle start with what the gauge shows? Recorded.")
    async def start(request: Request, question: StartQuestion) -> Response:
        by = _name(viewer(request, "set up"), question.by)
        found = _setup(question.setup)
        made = checked(await desk.pool.run(
            "", worker.start, desk.records, found, question.id, question.gauge, by, question.step,
            question.override, now(),
        ))  # fmt: skip
        return _json(json.dumps(asdict(made), ensure_ascii=False))

    return api


def _name(viewer: Viewer, said: str) -> str:
    """Who is written down. Raises: ``InputError`` for no name, and for another name than that of the key."""
    if viewer.name and said.strip() not in ("", viewer.name):
        raise InputError(texts.NOT_YOUR_NAME.format(name=viewer.name))
    if not (viewer.name or said.strip()):
        raise InputError(texts.NEED_NAME)
    return viewer.name or said.strip()


def _setup(raw: dict[str, Any]) -> Setup:
    """Read one; no file of this computer is read for it."""
    found = Setup.from_dict(raw, base_dir=None)
    if found.boring is not None and found.boring.template is not None:
        raise InputError(texts.NO_SERVER_FILES)
    return found


def _json(text: str) -> Response:
    return Response(text, media_type="application/json")


def _errors(api: FastAPI) -> None:
    @api.exception_handler(HeldtrueError)
    async def ours(_: Request, error: HeldtrueError) -> JSONResponse:
        return problem(422, "input", *worker.problems_of(error))

    @api.exception_handler(RequestValidationError)
    async def shape(_: Request, error: RequestValidationError) -> JSONResponse:
        places = (": ".join(str(step) for step in one["loc"]) + f": {one['msg']}" for one in error.errors())
        return problem(400, "input", *places)

    @api.exception_handler(HTTPException)
    async def other(_: Request, error: HTTPException) -> JSONResponse:
        return problem(error.status_code, "refused", str(error.detail))

    @api.exception_handler(Exception)
    async def failed(_: Request, error: Exception) -> JSONResponse:
        return problem(500, "failed", "something went wrong here; it is not your setup")


def problem(status: int, kind: str, *problems: str) -> JSONResponse:
    """An error in the one shape."""
    body = Problem(error=Error(kind=kind, problems=list(problems)))
    return JSONResponse(body.model_dump(), status_code=status)

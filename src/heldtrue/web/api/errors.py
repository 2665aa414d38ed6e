"""Every error of the API in one shape: ``{"error": {"kind": ..., "problems": [...]}}``."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from heldtrue.errors import HeldtrueError, StorageError
from heldtrue.records import ConflictError, RecordsError
from heldtrue.web import texts
from heldtrue.web.pool import WorkerHungError, WorkerLostError
from heldtrue.web.trouble import problems_of


class Error(BaseModel):
    """What went wrong."""

    kind: str = Field(description="input: put it right and ask again; refused: not allowed; failed: ours")
    problems: list[str]


class Problem(BaseModel):
    """The one shape of every error."""

    error: Error


PROBLEMS: dict[int | str, dict[str, Any]] = {
    400: {"model": Problem, "description": "The body is not what is asked for."},
    403: {"model": Problem, "description": "The key may not do that."},
    404: {"model": Problem, "description": "There is no such address."},
    409: {"model": Problem, "description": "Somebody else was first: read it again, then ask again."},
    422: {"model": Problem, "description": "What was given cannot be: each problem in words."},
    503: {"model": Problem, "description": "The records or a worker failed, or too many wait; nothing was changed."},
    507: {"model": Problem, "description": "It could not be written: the disk is full. Nothing was changed."},
    504: {"model": Problem, "description": "It took longer than anything may take, and was given up."},
}


def say_errors_in_one_shape(api: FastAPI) -> None:
    """Whatever is raised behind the API is answered with a ``Problem``."""

    @api.exception_handler(HeldtrueError)
    async def ours(_: Request, error: HeldtrueError) -> JSONResponse:
        return problem(422, "input", *problems_of(error))

    @api.exception_handler(RecordsError)
    @api.exception_handler(WorkerLostError)
    async def not_now(_: Request, error: HeldtrueError) -> JSONResponse:
        return problem(503, "failed", *problems_of(error))

    @api.exception_handler(WorkerHungError)
    async def too_long(_: Request, error: WorkerHungError) -> JSONResponse:
        return problem(504, "failed", *problems_of(error))

    @api.exception_handler(StorageError)
    async def no_room(_: Request, error: StorageError) -> JSONResponse:
        return problem(507, "failed", *problems_of(error))

    @api.exception_handler(ConflictError)
    async def too_late(_: Request, error: ConflictError) -> JSONResponse:
        return problem(409, "input", *problems_of(error))

    @api.exception_handler(RequestValidationError)
    async def shape(_: Request, error: RequestValidationError) -> JSONResponse:
        places = (": ".join(str(step) for step in one["loc"]) + f": {one['msg']}" for one in error.errors())
        return problem(400, "input", *places)

    @api.exception_handler(HTTPException)
    async def other(_: Request, error: HTTPException) -> JSONResponse:
        return problem(error.status_code, "refused", str(error.detail))

    @api.exception_handler(Exception)
    async def failed(_: Request, error: Exception) -> JSONResponse:
        return problem(500, "failed", texts.API_FAILED)


def problem(status: int, kind: str, *problems: str) -> JSONResponse:
    """An error in the one shape."""
    # Half a character, which JSON can hold and UTF-8 cannot, may stand in what was sent and so in what is said of it.
    said = [one.encode(errors="replace").decode() for one in problems]
    return JSONResponse(Problem(error=Error(kind=kind, problems=said)).model_dump(), status_code=status)

"""The JSON API under ``/api``: a setup in the shape of the file in, the documents of the command line out."""

from __future__ import annotations

from fastapi import FastAPI

from heldtrue.web.api import chucks, measuring, planning, readings, replan, setups, shelf, stock
from heldtrue.web.api.errors import PROBLEMS, Error, Problem, problem, say_errors_in_one_shape
from heldtrue.web.desk import Desk

__all__ = ["Error", "Problem", "make_api", "problem"]


def make_api(desk: Desk) -> FastAPI:
    """The application behind ``/api``; its description at ``/api/openapi.json``."""
    api = FastAPI(title="heldtrue", version="1", docs_url=None, redoc_url=None, responses=PROBLEMS)
    api.state.desk = desk
    say_errors_in_one_shape(api)
    for part in (planning, setups, readings, measuring, shelf, chucks, stock, replan):
        api.include_router(part.router)
    return api

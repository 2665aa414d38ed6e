"""Setups and plans as documents that still open when the schema of the setup has grown.

A document is a table: ``kind`` (``setup`` or ``plan``), ``format``, ``program`` (the version that wrote it) and
``content``, in the shape of the setup file or of the plan's JSON.  A new key needs nothing: an old document does not
have it, and it is as if nobody had filled it in.  A key that changes its name or meaning raises ``FORMATS`` and adds a
step to ``STEPS``, which brings the content of one format to the next; documents stay as they were written.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

from heldtrue.errors import InputError
from heldtrue.records.errors import StoreVersionError

if TYPE_CHECKING:
    from heldtrue.planning.setup import Setup

FORMATS = {"setup": 1, "plan": 1}
"""What this program writes."""
Step = Callable[[dict[str, Any]], dict[str, Any]]
STEPS: dict[tuple[str, int], Step] = {}
"""From a kind and a format to the content in the next format."""


def setup_document(setup: Setup) -> dict[str, Any]:
    """The document of a setup: whole, with what it took from other files."""
    return _document("setup", setup.to_dict())


def plan_document(content: Mapping[str, Any]) -> dict[str, Any]:
    """The document of a plan, from its JSON as a table (``planning.document``)."""
    return _document("plan", content)


def open_setup(document: Mapping[str, Any]) -> Setup:
    """The setup a document keeps, whichever format it was written in.

    Raises: ``StoreVersionError`` for one of a newer program; ``InputError`` where it is none, or does not hold.
    """
    from heldtrue.planning.setup import Setup

    return Setup.from_dict(content_of(document, "setup"))


def open_plan(document: Mapping[str, Any]) -> dict[str, Any]:
    """The plan a document keeps, as a table; ask for a key with ``get``: an older program may not have written it.

    Raises: as ``open_setup``.
    """
    return content_of(document, "plan")


def content_of(document: Mapping[str, Any], kind: str) -> dict[str, Any]:
    """The content of a document, brought to the format of this program.

    Raises: ``StoreVersionError``, ``InputError``.
    """
    at, content = document.get("format"), document.get("content")
    if document.get("kind") != kind or type(at) is not int or at < 1 or not isinstance(content, dict):
        raise InputError(f"this is not the document of a {kind}: it has kind {document.get('kind')!r}, format {at!r}")
    if at > FORMATS[kind]:
        raise StoreVersionError(
            f"this {kind} has format {at}, this program knows up to {FORMATS[kind]}: heldtrue "
            f"{document.get('program') or 'of a later version'} wrote it; use that one"
        )
    for step in range(at, FORMATS[kind]):
        content = STEPS[kind, step](dict(content))
    return dict(content)


def _document(kind: str, content: Mapping[str, Any]) -> dict[str, Any]:
    try:
        program = version("heldtrue")
    except PackageNotFoundError:
        program = ""
    return {"kind": kind, "format": FORMATS[kind], "program": program, "content": dict(content)}

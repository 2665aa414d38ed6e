"""The pages about heldtrue, where they were built into the package: ``make docs`` does."""

from __future__ import annotations

import base64
import hashlib
import re
from importlib import resources
from pathlib import Path

from nicegui import app
from starlette.responses import Response
from starlette.staticfiles import StaticFiles

from heldtrue.web.guard import POLICY, Scope

PLACE = "/help"
FIRST = f"{PLACE}/index.html"
SCRIPT = re.compile(rb"<script>(.*?)</script>", re.DOTALL)


def folder() -> Path | None:
    """Where the built pages lie; None where nobody built them."""
    found = Path(str(resources.files("heldtrue"))) / "help"
    return found if (found / "index.html").is_file() else None


def register() -> None:
    """Show them, if they are there."""
    there = folder()
    if there is not None:
        app.mount(PLACE, Pages(directory=there))


class Pages(StaticFiles):
    """Files of a folder; of the scripts in a page only those run that the builder put there."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """One file."""
        answer = await super().get_response(path, scope)
        if path.endswith(".html") and self.directory is not None and answer.status_code == 200:
            page = (Path(self.directory) / path).read_bytes()
            hashes = (base64.b64encode(hashlib.sha256(one).digest()).decode() for one in SCRIPT.findall(page))
            allowed = " ".join(["'self'", *(f"'sha256-{one}'" for one in hashes)])
            answer.headers["content-security-policy"] = POLICY.format(scripts=allowed)
        return answer

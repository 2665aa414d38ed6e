"""The built pages beside the app: only the builder's own scripts run in them."""

import asyncio
import base64
import hashlib

import httpx

from heldtrue.web import help_pages
from heldtrue.web.guard import Guard


def test_the_scripts_of_a_page_run_as_they_were_built_and_no_other(tmp_path):
    (tmp_path / "index.html").write_text("<script>start()</script><p>words</p>")
    (tmp_path / "other.txt").write_text("words")
    pages = httpx.ASGITransport(Guard(help_pages.Pages(directory=tmp_path)))

    async def asked(path):
        async with httpx.AsyncClient(transport=pages, base_url="http://127.0.0.1") as client:
            answer = await client.get(path)
            return answer.status_code, answer.headers["content-security-policy"]

    policy = asyncio.run(asked("/index.html"))[1]
    of_it = base64.b64encode(hashlib.sha256(b"start()").digest()).decode()
    assert f"script-src 'self' 'sha256-{of_it}';" in policy
    assert "unsafe-eval" not in policy
    assert "frame-ancestors 'none'" in policy
    assert "script-src 'none'" in asyncio.run(asked("/other.txt"))[1]


def test_without_built_pages_there_is_no_way_to_them(tmp_path, monkeypatch):
    monkeypatch.setattr(help_pages.resources, "files", lambda _: tmp_path)
    assert help_pages.folder() is None
    (tmp_path / "help").mkdir()
    assert help_pages.folder() is None
    (tmp_path / "help" / "index.html").write_text("words")
    assert help_pages.folder() == tmp_path / "help"

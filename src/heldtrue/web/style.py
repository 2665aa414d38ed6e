"""The look of the pages: ``style.css`` with every colour as a variable at its head, and ``look.js`` that chooses."""

from __future__ import annotations

from pathlib import Path

HERE = Path(__file__).parent
CSS = (HERE / "style.css").read_text(encoding="utf-8")
LOOK = (HERE / "look.js").read_text(encoding="utf-8")

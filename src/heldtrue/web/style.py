"""The look of the pages: ``style.css`` with every colour as a variable at its head, and the scripts of every page."""

from __future__ import annotations

import re
from pathlib import Path

HERE = Path(__file__).parent
CSS = (HERE / "style.css").read_text(encoding="utf-8")
LOOK = (HERE / "look.js").read_text(encoding="utf-8")
ALIVE = (HERE / "alive.js").read_text(encoding="utf-8")
PICTURES = (HERE / "pictures.js").read_text(encoding="utf-8")
_LIGHT = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", CSS[CSS.index(":root {") : CSS.index("}")]))
INK, PAPER, SHEET, RULE, BLUE = (_LIGHT[name] for name in ("ink", "paper", "sheet", "rule", "blue"))
GOOD, BAD, OPEN = (_LIGHT[name] for name in ("good", "bad", "open"))
"""Colours for drawings, which are ink on a white sheet in every theme."""

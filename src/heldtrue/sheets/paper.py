"""Papers, and the one way from a template and its content to a PDF: no network, no fonts but its own, no date."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

from heldtrue.errors import InputError

PAPERS: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}
KNOWN_LETTERS = 0x52F
"""The sheet's own typeface covers Latin, Greek and Cyrillic; beyond, the machine's fonts are asked."""


def paper_size(paper: str) -> dict[str, float]:
    """Width and height of a paper [mm]. Raises: ``InputError`` for one it does not know."""
    if paper not in PAPERS:
        raise InputError(f"paper {paper!r} is not known; known are {', '.join(PAPERS)}")
    width, height = PAPERS[paper]
    return {"width": width, "height": height}


def pdf_of(template: Path, content: Mapping[str, object], letters: str, pictures: Mapping[str, str]) -> bytes:
    """A template filled with its content and pictures (SVG), as PDF; ``letters``: what the user wrote that it shows."""
    import typst

    made = typst.compile(
        template.read_bytes(),
        format="pdf",
        ignore_system_fonts=not any(ord(letter) > KNOWN_LETTERS for letter in letters),
        sys_inputs={"content": json.dumps(content), **pictures},
        timestamp=0,
    )
    return bytes(made)

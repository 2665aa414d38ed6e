"""Papers, and the one way from a template and its content to a PDF: no network, no fonts but its own, no date."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
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
        ignore_system_fonts=_own_fonts_do(letters),
        sys_inputs={"content": json.dumps(content), **pictures},
        timestamp=0,
    )
    return bytes(made)


def places_of(
    template: Path, content: Mapping[str, object], letters: str, marks: Sequence[str]
) -> list[dict[str, float]]:
    """Page and height from the top [mm] at which marks of a template come to stand, without its pictures."""
    import typst

    found = typst.query(
        template.read_bytes(), "metadata", field="value",
        ignore_system_fonts=_own_fonts_do(letters), sys_inputs={"content": json.dumps(content)},
    )  # fmt: skip
    by_name = {one["mark"]: one for one in json.loads(found)}
    return [by_name[mark] for mark in marks]


def _own_fonts_do(letters: str) -> bool:
    return not any(ord(letter) > KNOWN_LETTERS for letter in letters)

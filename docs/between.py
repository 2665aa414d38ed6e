"""Text between two markers of a document, for the scripts that keep documents up to date."""

from __future__ import annotations

from pathlib import Path

DOCS = Path(__file__).parent


def put_between(text: str, name: str, content: str) -> str:
    """``text`` with what stands between the markers ``name`` replaced."""
    begin, end = f"<!-- {name}: generated -->", f"<!-- end of {name} -->"
    if text.count(begin) != 1 or text.count(end) != 1:
        raise ValueError(f"the markers of {name!r} do not stand there once")
    before, rest = text.split(begin)
    return f"{before}{begin}\n\n{content.strip()}\n\n{end}{rest.split(end)[1]}"


def refresh(document: str, parts: dict[str, str]) -> str:
    """A document of this folder with all its generated parts anew."""
    text = (DOCS / document).read_text(encoding="utf-8")
    for name, content in parts.items():
        text = put_between(text, name, content)
    return text


def write(document: str, text: str) -> None:
    (DOCS / document).write_text(text, encoding="utf-8", newline="\n")


def table(header: list[str], rows: list[list[str]]) -> str:
    """A Markdown table."""
    lines = ["| " + " | ".join(header) + " |", "|" + "---|" * len(header)]
    return "\n".join([*lines, *("| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows)])

"""Build these pages as a site that needs no network, into the package: the app shows it under Help."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
SITE = ROOT / "src" / "heldtrue" / "help"
ELSEWHERE, HERE = "https://unpkg.com/iframe-worker/shim", "assets/iframe-worker.js"
"""What lets the search of a page run that was opened as a file: from our own copy, not from elsewhere."""


def main() -> None:
    builder = Path(sys.executable).with_name("zensical")
    subprocess.run([str(builder), "build", "--clean", "--strict", "-f", str(ROOT / "mkdocs.yml")], check=True)
    for page in SITE.rglob("*.html"):
        up = "../" * (len(page.relative_to(SITE).parts) - 1)
        page.write_text(page.read_text(encoding="utf-8").replace(ELSEWHERE, up + HERE), encoding="utf-8")
    print(f"open {SITE / 'index.html'}")


if __name__ == "__main__":
    main()

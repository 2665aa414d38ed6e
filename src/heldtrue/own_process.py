"""Work in a process of its own: whatever it does, this program goes on."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path


def run_module(
    module: str, *arguments: str, longest: float, given: bytes | None = None
) -> subprocess.CompletedProcess[bytes]:
    """Run a module of this package, found where this one was, and wait for it; what it prints is in ``stdout``.

    ``longest``: how long it may take [s]; ``given``: what it reads.
    Raises: ``subprocess.TimeoutExpired``; ``OSError`` where it cannot be started.
    """
    home = str(Path(__file__).parents[1])
    path = os.pathsep.join([home, *filter(None, [os.environ.get("PYTHONPATH")])])
    return subprocess.run(
        [sys.executable, "-m", module, *arguments], input=given, env={**os.environ, "PYTHONPATH": path},
        timeout=longest, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=False,
    )  # fmt: skip

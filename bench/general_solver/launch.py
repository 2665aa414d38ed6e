"""Run ``program job``, follow its log, and write told.json: seconds, memory and size.  Small on purpose: see ccx.py."""

import json
import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

FACTOR, AFTER = "Factoring the system of equations", "Using up to 1 cpu(s) for the stress calculation"


def main() -> None:
    unbuffered = ["stdbuf", "-oL"] if shutil.which("stdbuf") else []
    start = time.perf_counter()
    child = subprocess.Popen([*unbuffered, *sys.argv[1:]], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    lines, solving, since, iterations = [], 0.0, None, 0
    for line in child.stdout:
        lines.append(line)
        if FACTOR in line:
            since, iterations = time.perf_counter(), iterations + 1
        elif AFTER in line and since is not None:
            solving, since = solving + time.perf_counter() - since, None
    _, status, usage = os.wait4(child.pid, 0)
    seconds = time.perf_counter() - start
    log = "".join(lines)
    sizes = [int(n) for n in re.findall(r"number of equations\s+(\d+)", log)]
    told = {
        "seconds": seconds,
        "solver_seconds": solving,
        "cpu_seconds": usage.ru_utime + usage.ru_stime,
        "megabytes": usage.ru_maxrss / 1024,
        "unknowns": max(sizes, default=0),
        "iterations": iterations,
        "code": status,
        "log": log,
    }
    Path("told.json").write_text(json.dumps(told))


if __name__ == "__main__":
    main()

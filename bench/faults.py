"""What a shop's computer may do to its memory, done to it many times: ``make faults``, or ``python bench/faults.py``.

``--faults STEP``: every STEP-th call that changes the disk fails, in every way, in every deed; ``--power CUTS``: as
many cuts of the power in each deed; ``--server-power CUTS``: of a PostgreSQL server; ``--kills N``: the writer killed,
and the PostgreSQL server killed under a writer; ``--damage N``: files with damaged bytes.  0 leaves one out.  The deeds
are in ``tests/records/deeds.py``, the failing disk in ``tests/records/rig.py``, the server's in ``server_power.py``.
Every line ends with what went wrong; every fault is printed.  Ends with status 1 where anything did.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
TESTS = ROOT / "tests" / "records"
sys.path.insert(0, str(TESTS))
ACTIONS = 400
Wrong = list[str]


def failing_disk(step: int) -> Iterator[tuple[str, Wrong]]:
    import rig
    from deeds import DEEDS

    for name in DEEDS:
        for n, how in enumerate(rig.HOW):
            # another first call for every way of failing, so that with a large step they do not all meet the same
            (found,) = rig.run("faults", f"{name}:{how}:{1 + n % step}:{step}")
            yield (f"{name}, {how}: {found['faults']} faults, {found['acknowledged']} acknowledged, "
                   f"{found['unsure']} kept though not acknowledged"), found["wrong"]  # fmt: skip


def cut_power(cuts: int, seed: int) -> Iterator[tuple[str, Wrong]]:
    import rig
    from deeds import DEEDS

    for name in DEEDS:
        (found,) = rig.run("power", f"{name}:{cuts}:{seed}")
        yield f"{name}: {found['cuts']} cuts of the power, {found['acknowledged']} acknowledged", found["wrong"]


def cut_server_power(cuts: int, seed: int) -> Iterator[tuple[str, Wrong]]:
    """PostgreSQL: 50 cuts in each busy stretch of 200 actions."""
    import server_power

    reason = server_power.why_not()
    if reason:
        yield f"power of PostgreSQL left out: {reason}", []
        return
    for n, left in enumerate(range(cuts, 0, -50)):
        found = server_power.campaign(min(left, 50), seed + n, actions=200)
        yield (f"PostgreSQL: {found['cuts']} cuts of the power in {found['calls']} calls, {found['twice']} cut again, "
               f"{found['acknowledged']} acknowledged"), found["wrong"]  # fmt: skip


def writer(place: str, first: int, acknowledged: Path) -> subprocess.Popen[bytes]:
    words = [sys.executable, str(TESTS / "writer.py"), place, str(first), str(ACTIONS), str(acknowledged)]
    return subprocess.Popen(words, stderr=subprocess.PIPE)


def told(acknowledged: Path) -> set[int]:
    """Complete lines of what a writer was told."""
    lines = acknowledged.read_text().split("\n")[:-1] if acknowledged.exists() else []
    return {int(line) for line in lines}


def wait_for(process: subprocess.Popen[bytes], acknowledged: Path, count: int) -> None:
    while len(told(acknowledged)) < count and process.poll() is None:
        time.sleep(0.002)


def killed_writers(kills: int, dice: random.Random) -> tuple[str, Wrong]:
    """A writer on SQLite killed again and again; the next goes on where it ended."""
    from writer import fill, there

    wrong: Wrong = []
    count = acknowledged_in_all = 0
    with tempfile.TemporaryDirectory() as folder:
        shop, acknowledged, first = "", Path(), ACTIONS
        while count < kills:
            if first > ACTIONS - 40:
                shop, acknowledged, first = f"{folder}/shop{count}", Path(folder) / f"told{count}", 0
                fill(shop)
            process = writer(shop, first, acknowledged)
            before = len(told(acknowledged))
            wait_for(process, acknowledged, before + dice.randrange(1, 25))
            time.sleep(dice.uniform(0, 0.02))
            process.send_signal(signal.SIGKILL)
            process.communicate()
            count += 1
            names = told(acknowledged)
            kept, more = there(shop)
            acknowledged_in_all += len(names) - before
            wrong += [f"kill {count}: {one}" for one in more]
            wrong += [f"kill {count}: acknowledged and lost: {n}" for n in sorted(names - kept)]
            first = max(kept, default=-1) + 1
    return f"SQLite: {count} writers killed, {acknowledged_in_all} acknowledged", wrong


def killed_servers(kills: int, dice: random.Random) -> tuple[str, Wrong]:
    """The PostgreSQL server, postmaster and all, killed under a writer that has to find its way back by itself."""
    from cluster import Cluster, why_not
    from writer import fill, there

    reason = why_not()
    if reason:
        return f"PostgreSQL left out: {reason}", []
    wrong: Wrong = []
    server, acknowledged_in_all, done = Cluster(), 0, 0
    try:
        with tempfile.TemporaryDirectory() as folder:
            while done < kills:
                server.sql(f"CREATE DATABASE shop{done}")
                place, acknowledged = server.url(f"shop{done}"), Path(folder) / f"told{done}"
                fill(place)
                process = writer(place, 0, acknowledged)
                for _ in range(5):
                    wait_for(process, acknowledged, len(told(acknowledged)) + dice.randrange(5, 60))
                    if process.poll() is not None or done >= kills:
                        break
                    time.sleep(dice.uniform(0, 0.02))
                    server.kill()
                    done += 1
                    server.start()
                _, words = process.communicate(timeout=300)
                if process.returncode:
                    wrong.append(f"the writer did not find its way back: {words.decode()[-300:]}")
                names = told(acknowledged)
                kept, more = there(place)
                acknowledged_in_all += len(names)
                wrong += [*more, *(f"acknowledged and lost: {n}" for n in sorted(names - kept))]
    finally:
        server.stop()
    return f"PostgreSQL: server killed {done} times, {acknowledged_in_all} acknowledged", wrong


def damaged_files(count: int, seed: int) -> tuple[str, Wrong]:
    import damage

    with tempfile.TemporaryDirectory(dir="/dev/shm" if os.access("/dev/shm", os.W_OK) else None) as folder:
        shop = damage.filled(Path(folder))
        found = damage.campaign(shop, Path(folder) / "scratch", count, seed)
    wrong = found.pop("wrong")
    return "; ".join(f"{what}: {number}" for what, number in found.items()), wrong


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("--faults", type=int, default=1, metavar="STEP")
    asked.add_argument("--power", type=int, default=300, metavar="CUTS")
    asked.add_argument("--server-power", type=int, default=200, metavar="CUTS")
    asked.add_argument("--kills", type=int, default=60)
    asked.add_argument("--damage", type=int, default=2000)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    import rig

    dice, bad = random.Random(given.seed), 0

    def lines() -> Iterator[tuple[str, Wrong]]:
        reason = rig.why_not()
        if reason and (given.power or given.faults):
            yield f"failing disk and power left out: {reason}", []
        if given.power and not reason:
            yield from cut_power(given.power, given.seed)
        if given.faults and not reason:
            yield from failing_disk(given.faults)
        if given.server_power:
            yield from cut_server_power(given.server_power, given.seed)
        if given.kills:
            yield killed_writers(given.kills, dice)
            yield killed_servers(given.kills, dice)
        if given.damage:
            yield damaged_files(given.damage, given.seed)

    for words, wrong in lines():
        print(f"{words}: {len(wrong)} wrong", flush=True)
        for one in wrong[:10]:
            print("    " + one.replace("\n", "\n    "), flush=True)
        bad += len(wrong)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())

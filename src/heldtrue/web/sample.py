"""The sample shop: invented records to look around in, in a folder of their own beside those of the shop.

Records are only ever added to, so samples among them could not be taken out again without a trace.  They live in a
folder of their own, served by a process of its own, which sees no other records; taking them away deletes the folder.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path
from time import monotonic, sleep

from heldtrue.errors import InputError
from heldtrue.files import write_all
from heldtrue.planning.earlier_steps import planned_depth_of
from heldtrue.planning.setup import Setup
from heldtrue.records import GaugeReading, RunRecord, SetCut, SetMove, open_store
from heldtrue.records.kinds import Record
from heldtrue.shop.enter import enter_setup
from heldtrue.web import texts

MARK = "this-is-the-sample-shop.txt"
"""The file that says that a folder is one, and may be deleted."""
BACK = "HELDTRUE_SAMPLE_BACK"
"""In the environment of its process: where the shop's own app is."""
BY = "sample"
TEETH = {"wear-ring": 35, "winch-shaft": 14, "gland-flange-repeat": 21}
"""The tooth on which the jaws of a sample stood when they were cut, by its file: where their plan would put them."""
STARTS_WITHIN = 60.0
"""Longest a process may take to answer, s."""


def folder_in(shop: Path) -> Path:
    """Where the sample shop of a shop's folder is kept."""
    return shop / "sample-shop"


def is_loaded(shop: Path) -> bool:
    """Is there a sample shop?"""
    return (folder_in(shop) / MARK).is_file()


def load(shop: Path, examples: Path, at: datetime) -> Path:
    """Make the sample shop where there is none yet; its folder. Nothing of the shop's own records is touched."""
    folder = folder_in(shop)
    if is_loaded(shop):
        return folder
    if folder.exists():
        raise InputError(texts.SAMPLE_NOT_OURS.format(folder=folder))
    write_all({folder / MARK: texts.SAMPLE_MARK + "\n"}, make_folders=True)
    cut: set[str] = set()
    with open_store(str(folder)) as store:
        for number, path in enumerate(sorted(examples.glob("*.toml"))):
            setup = Setup.from_toml(path)
            marked = setup.with_({"title": f"{texts.SAMPLE}: {setup.title or path.stem}"})
            card = enter_setup(store, marked, BY, id=f"sample-{path.stem}")
            day = at - timedelta(days=40 - number)
            store.write(*_history(marked, card.id, card.version, day), by=BY)
            if setup.jaws.number and setup.jaws.number not in cut:  # two setups may share a set: it is cut once
                cut.add(setup.jaws.number)
                store.write(*_cut(setup, TEETH.get(path.stem), day), by=BY)
    return folder


def _history(setup: Setup, id: str, version: int, at: datetime) -> list[Record]:
    """What happened with a sample setup: its jaws were cut and put away, its chuck measured, parts were run."""
    chuck, jaws = setup.chuck.number or None, setup.jaws.number or None
    rows: list[Record] = [RunRecord(
        at=at + timedelta(days=2), by=BY, setup=id, setup_version=version, chuck=chuck, jaw_set=jaws, quantity=25,
        scrap=1, remark=texts.SAMPLE,
    )]  # fmt: skip
    slope = 0.85 * setup.chuck.max_grip_force / (setup.chuck.actuator.max_pressure or 3.0)
    if chuck:
        rows += [
            GaugeReading(at=at, by=BY, chuck=chuck, pressure=pressure, force=slope * (pressure - 0.05),
                         device="sample gauge", remark=texts.SAMPLE)
            for pressure in (1.0, 1.7, 2.4)
        ]  # fmt: skip
    return rows


def _cut(setup: Setup, tooth: int | None, at: datetime) -> tuple[Record, Record]:
    """The jaws of a sample setup were cut, for the part or as the setup says, and put away."""
    last, jaws = setup.jaws.last_cut, setup.jaws.number
    depth = last.depth if last else planned_depth_of(setup)
    return (
        SetCut(at=at, by=BY, jaw_set=jaws, side=setup.grip.side,
               diameter=last.diameter if last else setup.grip.diameter, depth=depth,
               tooth=tooth, jaw_order=tuple(range(1, setup.chuck.jaws + 1)), chuck=setup.chuck.number or None,
               machine=setup.machine.name if setup.machine else None, bore_steps=(), remark=texts.SAMPLE),
        SetMove(at=at + timedelta(days=3), by=BY, jaw_set=jaws, kind="in", place="sample cabinet", remark=texts.SAMPLE),
    )  # fmt: skip


def remove(shop: Path) -> None:
    """Delete the sample shop, and nothing else. Raises: ``InputError`` for a folder that is none."""
    folder = folder_in(shop)
    if not folder.exists():
        return
    if folder.is_symlink() or not is_loaded(shop):
        raise InputError(texts.SAMPLE_NOT_OURS.format(folder=folder))
    shutil.rmtree(folder)


class SampleProcess:
    """The process that serves the sample shop, for as long as the app beside it runs."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._port = 0

    def open(self, folder: Path, back: str) -> str:
        """Its address, started where it is not running; ``back``: the address of the shop's own app.

        Raises: ``InputError`` where it does not come up.
        """
        if self._process is None or self._process.poll() is not None:
            with socket.socket() as free:
                free.bind(("127.0.0.1", 0))
                self._port = free.getsockname()[1]
            command = [sys.executable, "-m", "heldtrue", "app", "--sample", "--port", str(self._port), "--records",
                       str(folder), "--no-show"]  # fmt: skip
            self._process = subprocess.Popen(
                command, env={**os.environ, BACK: back}, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )
        end = monotonic() + STARTS_WITHIN
        while monotonic() < end and self._process.poll() is None:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self._port)) == 0:
                    return f"http://127.0.0.1:{self._port}/"
            sleep(0.1)
        raise InputError(texts.SAMPLE_NOT_UP)

    def close(self) -> None:
        """End it."""
        if self._process is not None and self._process.poll() is None:
            self._process.terminate()
            self._process.wait(20)
        self._process = None

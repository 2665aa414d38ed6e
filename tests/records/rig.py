"""Deeds on a disk that fails and on one whose power is cut: ``rig.py faults|power ...`` runs itself over the C rig.

Every call that writes, makes, cuts, renames, removes or syncs a file of the watched folder passes ``bench/disk_rig.c``,
preloaded before the C library.  *Faults*: the n-th call fails, for every n, and the deed must end with all it
acknowledged there, nothing half, and words.  *Power*: the calls are written down; the disk is rebuilt as a cut at any
of them may leave it: what was synced stays; of the rest each write is there, is not, or is torn at sectors of 512
bytes, and each change of a folder that was not synced is there up to a moment of its own for every folder.
"""

import atexit
import ctypes
import errno
import json
import os
import random
import shutil
import struct
import subprocess
import sys
import tempfile
import traceback
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent
SOURCE = HERE.parents[1] / "bench" / "disk_rig.c"
HEAD = struct.Struct("<cxxxiiiqq")
SECTOR = 512
HOW = {
    "EIO": (errno.EIO, 0),
    "EIO on": (errno.EIO, 1),
    "ENOSPC": (errno.ENOSPC, 0),
    "ENOSPC on": (errno.ENOSPC, 1),
    "short": (0, 0),
    "short on": (0, 1),
}
"""How a call fails: once, or it and all after it (the disk stays full); ``short``: half of a write, then no room."""


def why_not():
    """Why it cannot be done here; empty if it can."""
    if not sys.platform.startswith("linux"):
        return "the rig is preloaded as Linux does it"
    return "" if shutil.which("cc") else "no C compiler here"


@cache
def built():
    """The C rig, built once into a folder that goes with this process."""
    folder = tempfile.TemporaryDirectory(prefix="heldtrue-rig-")
    atexit.register(folder.cleanup)
    Path(folder.name).chmod(0o755)  # a server that is not ours loads it too
    library = Path(folder.name) / "rig.so"
    subprocess.run(["cc", "-shared", "-fPIC", "-O1", "-o", library, SOURCE, "-ldl"], check=True)
    return library


def run(*arguments):
    """The rig in a process of its own; what it found."""
    environment = os.environ | {"LD_PRELOAD": str(built())}
    command = [sys.executable, __file__, *map(str, arguments)]
    return json.loads(subprocess.run(command, env=environment, stdout=subprocess.PIPE, check=True).stdout)


@dataclass
class Told:
    """What a deed was told: the names that were acknowledged, and the errors in words."""

    names: set = field(default_factory=set)
    words: list = field(default_factory=list)
    extra: set = field(default_factory=set)
    was_cut: bool = False
    could_not_clean: bool = False
    note: object = None

    def __call__(self, name):
        self.names.add(name)
        if self.note:
            self.note(name.encode())

    def said(self, error):
        self.words.append(str(error))


def disk():
    """The C rig, as it was preloaded."""
    found = ctypes.CDLL(None)
    found.rig_failed.restype = ctypes.c_char_p
    return found


def in_child(work):
    """Do ``work`` in a process of its own, so that nothing of it stays open; what it gave."""
    with tempfile.TemporaryFile() as answer:
        child = os.fork()
        if not child:
            code = 1
            try:
                answer.write(json.dumps(work()).encode())
                answer.flush()
                code = 0
            finally:
                os._exit(code)
        os.waitpid(child, 0)
        answer.seek(0)
        return json.loads(answer.read())


def done(deed, folder, told):
    """Do a deed; the traceback, where one came out."""
    try:
        deed.do(folder, told)
    except Exception as error:  # noqa: BLE001  whatever comes out is what is looked for
        from heldtrue.errors import HeldtrueError

        if isinstance(error, HeldtrueError):
            told.said(error)
            return ""
        return traceback.format_exc(limit=-4)
    return ""


def looked(deed, folder, told):
    """Every fault a deed finds, a traceback among them."""
    try:
        return deed.look(folder, told)
    except Exception:  # noqa: BLE001  as above
        return [traceback.format_exc(limit=-3)]


def room():
    memory = Path("/dev/shm")
    return tempfile.TemporaryDirectory(dir=memory if memory.is_dir() and os.access(memory, os.W_OK) else None)


def faults(name, deed, how, step=1, first=1):
    """Fail every ``step``-th call of a deed, one at a time."""
    number, on = HOW[how]
    found = {"deed": name, "how": how, "faults": 0, "acknowledged": 0, "unsure": 0, "wrong": []}
    with room() as place:
        origin = Path(place) / "origin"
        origin.mkdir()
        in_child(lambda: deed.prepare(origin))
        n = first
        while True:
            folder = Path(place) / "n" / "disk"
            shutil.rmtree(folder.parent, ignore_errors=True)
            shutil.copytree(origin, folder)

            def attempt(n=n, folder=folder):
                told, rig = Told(), disk()
                rig.rig_watch(str(folder).encode(), -1)
                rig.rig_fail(n, number, on)
                trace = done(deed, folder, told)
                failed = rig.rig_failed().decode()
                return [sorted(told.names), told.words, failed, trace]

            names, words, failed, trace = in_child(attempt)
            if not failed:
                break

            def look(folder=folder, names=names, failed=failed):
                told = Told(set(names), could_not_clean=bool(on) or failed.startswith(("unlink", "rmdir")))
                return [looked(deed, folder, told), sorted(told.extra)]

            wrong, extra = in_child(look)
            if trace:
                wrong.insert(0, trace)
            found["faults"] += 1
            found["acknowledged"] += len(names)
            if len(extra) > sum("does not say that it kept" in one for one in words):
                wrong.append(f"it was said that nothing was changed, but {extra} is there")
            found["unsure"] += bool(extra)
            found["wrong"] += [f"call {n}, {failed}: {one}; said: {words}" for one in wrong]
            n += step
    return found


# ---- the power


def read_log(file):
    """What happened, in order: letter, path, other path, place, bytes."""
    entries = []
    while head := file.read(HEAD.size):
        what, first, second, _, at, length = HEAD.unpack(head)
        path, other = file.read(first).decode(), file.read(second).decode()
        entries.append((what.decode(), path, other, at, file.read(length)))
    return entries


class Disk:
    """A disk rebuilt from what happened to it, as it may be after a cut."""

    def __init__(self, start, dice):
        self.dice = dice
        self.names = {}
        """Name to number of a file, None for a folder: as it is while the power is on."""
        self.contents, self.pending = {}, {}
        """By number: what is sure, and what was written since."""
        self.moves, self.sure = [], {}
        """What happened to names, and up to where each folder was synced."""
        self.start = {}
        for path in sorted(start.rglob("*")):
            key = str(path.relative_to(start))
            self.names[key] = None if path.is_dir() else self._new(path.read_bytes())
        self.start = dict(self.names)

    def _new(self, content):
        number = len(self.contents)
        self.contents[number], self.pending[number] = content, []
        return number

    def take(self, what, path, other, at, data):
        """One more call; paths from the watched folder on."""
        if what in "RL" and path not in self.names:
            return  # written past the rig, through C's own files: nothing that has to last
        if what in "CM":
            self.names[path] = self._new(b"") if what == "C" else None
            self.moves.append((what, path, "", self.names[path]))
        elif what == "W":
            self.pending[self.names[path]].append((at, data))
        elif what == "T":
            self.pending[self.names[path]].append((at, None))
        elif what == "S" and self.names.get(path, None) is None:
            self.sure[path] = len(self.moves)
        elif what == "S":
            number = self.names[path]
            self.contents[number] = self._with(self.contents[number], self.pending[number])
            self.pending[number] = []
        elif what == "L":
            self.names[other] = self.names[path]
            self.moves.append((what, path, other, self.names[path]))
        elif what == "R":
            self.moves.append((what, path, other, self.names[path]))
            inside = [name for name in self.names if name == path or name.startswith(f"{path}/")]
            for name in inside:
                self.names[other + name[len(path) :]] = self.names.pop(name)
        elif what in "UD":
            self.names.pop(path, None)
            self.moves.append((what, path, "", None))

    def cut(self, into):
        """Write the folder as a cut may leave it."""
        until = {}
        names = dict(self.start)
        for n, (what, path, other, number) in enumerate(self.moves):
            home = "" if Path(other or path).parent == Path() else str(Path(other or path).parent)
            if home not in until:
                low, high = self.sure.get(home, 0), len(self.moves)
                until[home] = self.dice.choice((low, self.dice.randint(low, high), high))
            if n >= until[home]:
                continue
            if what in "CML":
                names[other or path] = number
            elif what == "R":
                names.update(
                    {
                        other + name[len(path) :]: names.pop(name)
                        for name in list(names)
                        if name == path or name.startswith(f"{path}/")
                    }
                    or {other: number}
                )
            else:
                for name in [name for name in names if name == path or name.startswith(f"{path}/")]:
                    del names[name]
        into.mkdir()
        for name, number in sorted(names.items()):
            place = into / name
            if not place.parent.exists():
                continue  # a file whose folder did not get there
            if number is None:
                place.mkdir(exist_ok=True)
            else:
                place.write_bytes(self._torn(number))

    def _torn(self, number):
        content, dice = self.contents[number], self.dice
        chosen = []
        mood = dice.random()  # some cuts lose everything, some nothing
        for at, data in self.pending[number]:
            if dice.random() < mood:
                continue
            if data is not None and len(data) > SECTOR and dice.random() < 0.5:
                chosen += [(at + n, data[n : n + SECTOR]) for n in range(0, len(data), SECTOR) if dice.random() < 0.7]
            else:
                chosen.append((at, data))
        if dice.random() < 0.3:
            dice.shuffle(chosen)
        return self._with(content, chosen)

    @staticmethod
    def _with(content, writes):
        made = bytearray(content)
        for at, data in writes:
            if data is None:
                made = made[:at] + b"\0" * (at - len(made))
            else:
                made += b"\0" * (at - len(made))
                made[at : at + len(data)] = data
        return bytes(made)


def power(name, deed, cuts, seed=1):
    """Cut the power ``cuts`` times in a deed, at random calls."""
    found = {"deed": name, "cuts": 0, "acknowledged": 0, "wrong": []}
    dice = random.Random(f"{name} {seed}")
    with room() as place:
        origin, folder = Path(place) / "origin", Path(place) / "disk"
        origin.mkdir()
        in_child(lambda: deed.prepare(origin))
        shutil.copytree(origin, folder)
        with (Path(place) / "log").open("w+b") as log:

            def attempt():
                rig = disk()
                rig.rig_watch(str(folder).encode(), log.fileno())
                return done(deed, folder, Told(note=rig.rig_acknowledge))

            trace = in_child(attempt)
            assert not trace, trace
            log.seek(0)
            entries = read_log(log)
        for number in range(cuts):
            at = dice.choice((len(entries), dice.randint(1, len(entries)), dice.randint(1, len(entries))))
            rebuilt, told = Disk(origin, dice), Told(was_cut=True)
            for what, path, other, place_, data in entries[:at]:
                if what == "A":
                    told(path)
                else:
                    rebuilt.take(what, path[len(str(folder)) + 1 :], other[len(str(folder)) + 1 :], place_, data)
            after = Path(place) / "after" / "disk"
            shutil.rmtree(after.parent, ignore_errors=True)
            after.parent.mkdir()
            rebuilt.cut(after)
            wrong = in_child(lambda after=after, told=told: looked(deed, after, told))
            found["cuts"] += 1
            found["acknowledged"] += len(told.names)
            found["wrong"] += [f"cut {number} after call {at} of {len(entries)} ({entries[at - 1][0]} "
                               f"{entries[at - 1][1].rsplit('/', 1)[-1]}): {one}" for one in wrong]  # fmt: skip
    return found


def main():
    """``faults DEED:HOW:FIRST:STEP ...``, or ``power DEED:CUTS:SEED ...``."""
    from deeds import DEEDS

    what, *asked = sys.argv[1:]
    found = []
    for one in asked:
        name, *more = one.split(":")
        if what == "faults":
            how, first, step = more
            found.append(faults(name, DEEDS[name](), how, int(step), int(first)))
        else:
            found.append(power(name, DEEDS[name](), *map(int, more)))
    print(json.dumps(found))  # noqa: T201


if __name__ == "__main__":
    main()

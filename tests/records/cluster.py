"""A PostgreSQL server of the tests' own: a temporary cluster, run by somebody who is not root."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path

REQUIRED = os.environ.get("HELDTRUE_REQUIRE_POSTGRES") == "1"


def binaries() -> Path | None:
    """Folder with initdb and postgres; None where there is none."""
    folders = [*sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)]
    folders += [Path(place) for place in os.environ.get("PATH", "").split(os.pathsep) if place]
    return next((f for f in folders if (f / "initdb").exists() and (f / "postgres").exists()), None)


def why_not() -> str:
    """Why there can be no server here; empty if there can."""
    if binaries() is None:
        return "no PostgreSQL here: neither in PATH nor under /usr/lib/postgresql"
    try:
        import psycopg  # noqa: F401
    except ImportError:
        return "psycopg is not installed: pip install 'heldtrue[postgres]'"
    return ""


class Cluster:
    """One server, reached through a socket in its own folder.

    ``initdb``: more words for it; ``options`` and ``environment``: of the server, from its next start on.
    """

    def __init__(self, *, initdb: tuple[str, ...] = (), options: tuple[str, ...] = ()) -> None:
        found = binaries()
        assert found is not None
        self.bin = found
        self.user = _unprivileged()
        memory = Path("/dev/shm")  # where there is one: a few hundred files for each database come and go
        room = memory.is_dir() and os.access(memory, os.W_OK) and shutil.disk_usage(memory).free > 1 << 30
        self.folder = Path(tempfile.mkdtemp(prefix="heldtrue-pg-", dir=memory if room else None))
        if self.user:
            shutil.chown(self.folder, self.user)
        self.data = self.folder / "data"
        self.options, self.environment = options, dict[str, str]()
        # the order of text of a language, so that an order that is not of bytes shows
        self._run("initdb", "-D", str(self.data), "-U", "postgres", "-A", "trust", "-E", "UTF8", "--no-sync",
                  "--locale-provider=icu", "--icu-locale=en", "--locale=C", *initdb)  # fmt: skip
        self.process: subprocess.Popen[bytes] | None = None
        self.start()

    def start(self) -> None:
        """Start, or start again after a crash, and wait until it answers."""
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                [str(self.bin / "postgres"), "-D", str(self.data), "-k", str(self.folder),
                 "-c", "listen_addresses=", "-c", "max_connections=60", "-c", "shared_buffers=64MB",
                 "-c", "dynamic_shared_memory_type=mmap",  # in its folder: a killed server would leave it in memory
                 *(word for one in self.options for word in ("-c", one))],
                stdout=log, stderr=log, user=self.user, start_new_session=True, cwd=self.folder,
                env=os.environ | self.environment,
            )  # fmt: skip
        import psycopg

        for _ in range(600):
            try:
                psycopg.connect(self.url("postgres")).close()
            except psycopg.OperationalError:
                time.sleep(0.05)
            else:
                return
            if self.process.poll() is not None:
                break
        raise AssertionError(f"the server does not answer: {(self.folder / 'log').read_text()[-2000:]}")

    def url(self, name: str) -> str:
        """Address of one database."""
        return f"postgresql://postgres@/{name}?host={self.folder}"

    def sql(self, statement: str) -> None:
        """Run a statement of the administrator's."""
        import psycopg

        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(statement)

    def kill(self) -> None:
        """End every process of the server as a power cut would: none gets to clean up."""
        assert self.process is not None
        os.killpg(self.process.pid, signal.SIGKILL)
        for child in self._left():
            os.kill(child, signal.SIGKILL)
        self.process.wait()

    def shut(self) -> None:
        """Stop in order: everything is on disk."""
        assert self.process is not None
        self.process.send_signal(signal.SIGINT)
        self.process.wait(60)

    def stop(self) -> None:
        """Stop and take the folder away."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGQUIT)
            self.process.wait(20)
        shutil.rmtree(self.folder, ignore_errors=True)

    def _left(self) -> list[int]:
        """Processes of this cluster that left its group: a backend makes itself the leader of one."""
        found = []
        for entry in Path("/proc").glob("[0-9]*"):
            try:
                if (entry / "cwd").resolve() == self.data.resolve() and entry.name != str(self.process.pid):
                    found.append(int(entry.name))
            except OSError:
                continue
        return found

    def _run(self, name: str, *arguments: str) -> None:
        subprocess.run([str(self.bin / name), *arguments], check=True, user=self.user, cwd=self.folder,
                       capture_output=True)  # fmt: skip


def _unprivileged() -> str | None:
    """Who runs the server: PostgreSQL refuses to be root."""
    if os.geteuid() != 0:
        return None
    known = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in known else "nobody"

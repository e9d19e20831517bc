"""A PostgreSQL server of our own, from Debian's package, as a user of its own."""

import os
import shutil
import signal
import subprocess
import tempfile
from pathlib import Path

PROGRAMS = max(Path("/usr/lib/postgresql").glob("*/bin"), default=None)
# The server refuses to run as root; the package makes this user.
USER = "postgres" if os.getuid() == 0 else None


class Server:
    """A cluster in a folder of its own, reached by a socket only."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="pg-"))
        if USER:
            shutil.chown(self.folder, USER)
        self._run("initdb", "-D", str(self.folder / "data"), "-A", "trust", "-U", "desk", "-N")
        self.start()

    @property
    def url(self) -> str:
        """Where it is reached."""
        return f"postgresql://desk@/postgres?host={self.folder}"

    def start(self) -> None:
        """Start it and wait until it answers."""
        options = f"-c listen_addresses='' -c unix_socket_directories='{self.folder}'"
        data, log = str(self.folder / "data"), str(self.folder / "log")
        self._run("pg_ctl", "-D", data, "-o", options, "-l", log, "-w", "-t", "60", "start")

    def kill(self) -> None:
        """SIGKILL to the server and all its processes, as when the power fails."""
        lock = self.folder / "data" / "postmaster.pid"
        main = int(lock.read_text().split()[0])
        pids = [main, *map(int, _ps("-o", "pid=", "--ppid", str(main)).split())]
        for pid in pids:
            try:
                os.kill(pid, signal.SIGKILL)
            except ProcessLookupError:
                continue
        # Where nobody takes leave of the dead they keep their number, which no reboot would.
        for pid in pids:
            while _ps("-o", "stat=", "-p", str(pid)).strip()[:1] not in ("", "Z"):
                os.sched_yield()
        lock.unlink()
        (self.folder / ".s.PGSQL.5432.lock").unlink()

    def remove(self) -> None:
        """End it and remove the cluster."""
        data = str(self.folder / "data")
        self._run("pg_ctl", "-D", data, "-m", "immediate", "-w", "stop", check=False)
        shutil.rmtree(self.folder, ignore_errors=True)

    def _run(self, program: str, *words: str, check: bool = True) -> None:
        assert PROGRAMS is not None
        done = subprocess.run(
            [str(PROGRAMS / program), *words],
            user=USER,
            cwd="/",
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            check=False,
            env={"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8"},
        )
        log = self.folder / "log"
        more = log.read_text() if log.exists() else ""
        assert not check or done.returncode == 0, done.stdout + more


def _ps(*words: str) -> str:
    done = subprocess.run(["ps", *words], capture_output=True, text=True, check=False)
    return done.stdout

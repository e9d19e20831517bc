"""The command line as real processes that start at once: forks of one that has loaded it.

A new Python takes a second of a core to load the program; a fork of a loaded one a hundredth. Each
command is a process of its own all the same, with its own arguments, environment, folder, pipes and
exit code. What has to be seen in a truly new process (signals, kills, terminals, loading itself)
starts one: `tests/e2e/test_real_process.py`, `tests/terminal.py`.

    done = coach("check", "plan.toml")        # like subprocess.run(..., capture_output=True)
"""

import array
import atexit
import gc
import importlib
import json
import os
import pkgutil
import socket
import subprocess
import sys
import tempfile
import time
import traceback
from contextlib import suppress
from pathlib import Path

import coach as coach_package
from coach import __main__ as program

ROOT = Path(__file__).parents[1]
# No command of a test takes so long; it only ends a hang.
HANGS_S = 300

# By the process that started it: a test process that is forked itself starts its own.
_servers: dict[int, tuple[socket.socket, "subprocess.Popen[bytes]"]] = {}


def coach(*words: str, stdin: str = "", cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    """Run ``coach WORDS`` with ``stdin`` to its end."""
    with (
        tempfile.TemporaryFile() as typed,
        tempfile.TemporaryFile() as out,
        tempfile.TemporaryFile() as err,
    ):
        typed.write(stdin.encode())
        typed.seek(0)
        asked = {"words": words, "cwd": str(cwd), "env": dict(os.environ)}
        server = _server()
        fds = array.array("i", [typed.fileno(), out.fileno(), err.fileno()])
        told = json.dumps(asked).encode()
        rights = [(socket.SOL_SOCKET, socket.SCM_RIGHTS, fds)]
        server.sendmsg([len(told).to_bytes(4, "big")], rights)
        server.sendall(told)
        code = json.loads(server.recv(64))
        texts = []
        for file in (out, err):
            file.seek(0)
            texts.append(file.read().decode())
    return subprocess.CompletedProcess(["coach", *words], code, *texts)


def _server() -> socket.socket:
    """The one that forks, started by the first command of this process."""
    if os.getpid() not in _servers:
        ours, theirs = socket.socketpair()
        with theirs:
            # It ends when our end of the pair is closed: with this process.
            process = subprocess.Popen(
                [sys.executable, "-m", "tests.programs", str(theirs.fileno())],
                pass_fds=[theirs.fileno()],
                stdin=subprocess.DEVNULL,
                cwd=ROOT,
            )
        ours.settimeout(HANGS_S)
        _servers[os.getpid()] = ours, process
        atexit.register(_end, ours, process)
    return _servers[os.getpid()][0]


def _end(ours: socket.socket, process: "subprocess.Popen[bytes]") -> None:
    ours.close()
    process.wait(HANGS_S)


def serve(fd: int) -> None:
    """Fork for each command that is asked for, and tell its exit code."""
    _load()
    # What is loaded is no garbage: a child need not look through it, nor take it apart at its end.
    gc.collect()
    gc.freeze()
    client = socket.socket(fileno=fd)
    while True:
        head, fds, _, _ = socket.recv_fds(client, 4, 3)
        if not head:
            return
        asked = json.loads(client.recv(int.from_bytes(head, "big"), socket.MSG_WAITALL))
        child = os.fork()
        if child == 0:
            client.close()
            _become(fds, asked["cwd"], asked["env"])
            sys.argv = ["coach", *asked["words"]]
            _run()
        for each in fds:
            os.close(each)
        _, status = os.waitpid(child, 0)
        client.sendall(json.dumps(os.waitstatus_to_exitcode(status)).encode())


def _run() -> None:
    """The command, to the end of this process."""
    try:
        program.main()
        code = 0
    except SystemExit as end:
        code = int(end.code or 0)
    except Exception:  # noqa: BLE001 (as a new process ends: with a traceback)
        traceback.print_exc()
        code = 1
    with suppress(ValueError):
        sys.stdout.flush()
    with suppress(ValueError):
        sys.stderr.flush()
    os._exit(code)


def _become(fds: list[int], cwd: str, environment: dict[str, str]) -> None:
    """The world of a new process: its pipes, folder and environment."""
    for number, fd in enumerate(fds):
        os.dup2(fd, number)
        os.close(fd)
    os.chdir(cwd)
    os.environ.clear()
    os.environ.update(environment)
    time.tzset()


def _load() -> None:
    """What any command may load, but for what lives in processes of its own."""
    for module in pkgutil.walk_packages(coach_package.__path__, "coach."):
        if not module.name.endswith(("_child", "__main__")):
            importlib.import_module(module.name)


if __name__ == "__main__":
    serve(int(sys.argv[1]))

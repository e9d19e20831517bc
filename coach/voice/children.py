"""How our own helper processes are started."""

import os
import subprocess
import sys
from pathlib import Path

import coach


def start_child(module: str, *arguments: str) -> "subprocess.Popen[bytes]":
    """Start ``python -m module`` with pipes on stdin and stdout. Raises OSError.

    In a session of its own: Ctrl-C and a closed terminal are for the parent, whose end the child
    sees on its stdin. ``-P`` keeps whatever lies in the current folder from being imported.
    """
    root = str(Path(coach.__file__).parents[1])
    paths = [root, *filter(None, [os.environ.get("PYTHONPATH")])]
    return subprocess.Popen(  # noqa: S603  (our own module)
        [sys.executable, "-P", "-m", module, *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        bufsize=0,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
        start_new_session=True,
    )

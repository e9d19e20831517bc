"""The program, with a screen loop that stands still for 250 ms in each second.

``python -m tests.benchmarks.stalled WORDS``: the words of ``coach``.
"""

import sys
import time
from typing import Any

from coach.cli import run
from coach.screens.driver import EveningApp

EACH_S = 1.0
STALL_S = 0.25

_mounted = EveningApp.on_mount


def _on_mount(app: EveningApp[Any]) -> None:
    _mounted(app)
    app.set_interval(EACH_S, lambda: time.sleep(STALL_S))


if __name__ == "__main__":
    EveningApp.on_mount = _on_mount  # type: ignore[assignment]
    sys.exit(run(sys.argv[1:]))

"""The program, counting how often an app is run and how many processes it starts.

``python -m tests.screens.counted FILE WORDS``: the words of ``coach``; the counts go into FILE.
"""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from textual.app import App

from coach.cli import run

counts = {"runs": 0, "prints": 0}
started: list[str] = []
_run, _popen = App.run, subprocess.Popen.__init__


def _counted(app: App[Any], *args: Any, **names: Any) -> Any:
    counts["runs"] += 1
    return _run(app, *args, **names)


def _started(process: Any, words: Any, *args: Any, **names: Any) -> None:
    started.append(" ".join(map(str, words)))
    _popen(process, words, *args, **names)


if __name__ == "__main__":
    App.run = _counted  # type: ignore[assignment, method-assign]
    subprocess.Popen.__init__ = _started  # type: ignore[assignment, method-assign]
    code = run(sys.argv[2:])
    told = {**counts, "started": started, "code": int(code)}
    Path(sys.argv[1]).write_text(json.dumps(told), encoding="utf-8")
    sys.exit(code)

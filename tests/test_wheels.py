"""Whether a Raspberry Pi can install it all: what is proven, what is missing, what is not known."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

WHEELS = Path(__file__).parents[1] / ".ci" / "wheels"


@pytest.mark.long
def test_without_an_index_nothing_is_proven() -> None:
    # Port 9 of this machine discards what it gets (RFC 863), where anything listens at all.
    alone = {
        "PIP_CONFIG_FILE": os.devnull,
        "PIP_INDEX_URL": "http://127.0.0.1:9/simple/",
        "PIP_EXTRA_INDEX_URL": "",
        "PIP_FIND_LINKS": "",
        "PIP_NO_CACHE_DIR": "1",
    }
    done = subprocess.run(
        [sys.executable, WHEELS],
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
        env={**os.environ, **alone},
    )
    assert done.returncode == 3, done.stderr
    assert done.stderr.count("not proven here, no index answered") == 2
    assert "is missing" not in done.stderr

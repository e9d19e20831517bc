"""The inbox of ``coach caseload``: new handovers are verified, filed by dog, and told."""

import argparse
import datetime
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import Exit

if TYPE_CHECKING:
    from coach.practice.inbox import Arrival

# Between two looks: a mail program or a sync has written its file by then.
LOOK_S = 5.0


def look_through(args: argparse.Namespace, folder: Path, listed: Callable[[], int]) -> int:
    """File what is in the inbox, list the dogs, and with ``--watch`` go on until Ctrl-C.

    Raises OSError where the inbox or the folder is not to be had.
    """
    from coach.practice.inbox import Inbox

    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    inbox = Inbox(args.inbox, folder)
    refused = _tell(inbox.look(_now(), settled=not args.watch))
    code = listed()
    try:
        while args.watch:
            time.sleep(LOOK_S)
            came = inbox.look(_now())
            if came:
                refused += _tell(came)
                code = listed()
    except KeyboardInterrupt:
        print("No longer watched.")
    return Exit.NOT_WHOLE if refused else code


def _now() -> datetime.datetime:
    return datetime.datetime.now().astimezone()


def _tell(arrivals: "Sequence[Arrival]") -> int:
    """Say what came; how many could not be filed."""
    from coach.practice.inbox import arrival_line

    for arrival in arrivals:
        stream = sys.stderr if arrival.filed is None else sys.stdout
        print(arrival_line(arrival), file=stream, flush=True)
    return sum(arrival.filed is None for arrival in arrivals)

"""A terminal that is gone must not hold the program: it would keep the dog's journal locked."""

import io
import os
import pty
from typing import IO, cast

from textual.drivers._writer_thread import MAX_QUEUED_WRITES, WriterThread

from coach.screens.terminal import Forgiving, TerminalDriver
from tests.screens.thin import LONG_BACK, app_for, thin_session


def test_the_writer_outlives_its_terminal() -> None:
    master, theirs = pty.openpty()
    raw = os.fdopen(theirs, "wb", buffering=0)
    file = io.TextIOWrapper(raw, write_through=True)
    os.close(master)
    writer = WriterThread(cast("IO[str]", Forgiving(file)))
    writer.start()
    for _ in range(MAX_QUEUED_WRITES):
        writer.write("\x1b[H")
    # One that had died would leave the queue full, and be dead.
    assert writer.is_alive()
    writer.stop()
    Forgiving(file).flush()
    file.detach()
    raw.close()


def test_the_app_writes_through_it() -> None:
    assert app_for(thin_session(LONG_BACK)).driver_class is TerminalDriver

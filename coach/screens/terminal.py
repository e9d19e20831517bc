"""A terminal that may go away: the window closed, the line dropped, the cable pulled.

The framework writes through a thread and a short queue. A write to a terminal that is gone ends
the thread, and the queue then fills up and holds the app for ever: alive, and with the dog's
journal still locked. So what can no longer be shown is thrown away.
"""

import signal
from contextlib import suppress
from io import TextIOWrapper
from typing import IO, cast

from textual.driver import Driver
from textual.drivers.linux_driver import LinuxDriver

# They ask a program on a terminal to leave; SIGHUP when the terminal is gone.
CLOSING_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class Forgiving:
    """As much of a text file as the framework's writer uses; errors of the terminal are let go."""

    def __init__(self, file: IO[str]) -> None:
        self._file = file

    def write(self, text: str) -> None:
        """Write, or lose it."""
        with suppress(OSError):
            self._file.write(text)

    def flush(self) -> None:
        """Flush, or lose it."""
        with suppress(OSError):
            self._file.flush()

    def fileno(self) -> int:
        """The terminal's."""
        return self._file.fileno()


class TerminalDriver(LinuxDriver):
    """The framework's driver for a terminal, over a file that forgives."""

    def start_application_mode(self) -> None:
        """Before the writer thread begins: it takes the file as it is then."""
        if self._file is not None:
            self._file = cast("TextIOWrapper", Forgiving(self._file))
        super().start_application_mode()  # type: ignore[no-untyped-call]


def lasting(chosen: type[Driver]) -> type[Driver]:
    """The framework's choice; on a terminal the one that lives on when the terminal is gone."""
    return TerminalDriver if chosen is LinuxDriver else chosen

"""A terminal that may go away: the window closed, the line dropped, the cable pulled.

The framework writes through a thread and a short queue. A write to a terminal that is gone ends
the thread, and the queue then fills up and holds the app for ever: alive, and with the dog's
journal still locked. So what can no longer be shown is thrown away.
"""

import os
import select
import signal
from codecs import getincrementaldecoder
from contextlib import suppress
from io import TextIOWrapper
from itertools import chain
from typing import IO, cast

from textual._xterm_parser import XTermParser
from textual.driver import Driver
from textual.drivers.linux_driver import LinuxDriver
from textual.events import Resize

# They ask a program on a terminal to leave; SIGHUP when the terminal is gone.
CLOSING_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)

READ_BYTES = 4096
# So often it is looked whether the app has ended.
LOOK_S = 0.1
# Columns or rows: no terminal is larger; the bytes that say so may be noise.
LARGEST = 1000


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
    """The framework's driver for a terminal, over a file that forgives.

    The framework ends an app at the first byte that is no UTF-8 (line noise, a serial pedal, a
    mouse report of the old kind) and at a terminal that is gone. Here such a byte is read as a
    character that no key sends, and a terminal that is gone closes the app as its signal does.
    """

    def start_application_mode(self) -> None:
        """Before the writer thread begins: it takes the file as it is then."""
        if self._file is not None:
            self._file = cast("TextIOWrapper", Forgiving(self._file))
        super().start_application_mode()  # type: ignore[no-untyped-call]

    def run_input_thread(self) -> None:
        """Bytes in, keys and taps out, until the app ends."""
        decode = getincrementaldecoder("utf-8")("replace").decode
        parser = XTermParser(self._debug)
        while not self.exit_event.is_set():
            ready, _, _ = select.select([self.fileno], [], [], LOOK_S)
            try:
                data = os.read(self.fileno, READ_BYTES) if ready else b""
            except OSError:
                data = b""
            if ready and not data:
                self._loop.call_soon_threadsafe(self._gone)
                return
            text = decode(data)
            try:
                for event in chain(parser.feed(text) if text else (), parser.tick()):
                    if not (isinstance(event, Resize) and max(event.size) > LARGEST):
                        self.process_message(event)
            except Exception:  # noqa: BLE001  (whatever its parser chokes on was noise)
                parser = XTermParser(self._debug)

    def _gone(self) -> None:
        """Nobody will type any more."""
        close = getattr(self._app, "close_from_outside", None)
        if close is not None:
            close()


def lasting(chosen: type[Driver]) -> type[Driver]:
    """The framework's choice; on a terminal the one that lives on when the terminal is gone."""
    return TerminalDriver if chosen is LinuxDriver else chosen

"""What comes from files is made safe to show, in this one place.

A name in a plan, a manifest or on a stick may hold what a terminal obeys: escape sequences that
write titles, move the cursor over what was said before, or answer for the owner; signs that turn
the order of letters round; halves of characters. Whatever a command prints goes through
:func:`guarded`; screens and tables put such texts through :func:`plain`.
"""

import errno
import os
import re
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any, TextIO, cast

# A colour is left out; of all else a question mark shows that something was there. Controls of
# ISO 6429 (C0, C1), the directional signs of Unicode 15, section 23.2, and lone surrogates.
_COLOUR = re.compile(r"\x1b\[[0-9;]*m")
_UNSAFE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069"
    "\ud800-\udfff]|\r(?!\n)"
)


def plain(text: str) -> str:
    """``text`` with a question mark for each sign that a terminal would obey; lines stay lines."""
    if text.isascii() and text.isprintable():
        return text
    return _UNSAFE.sub("?", _COLOUR.sub("", text))


class Guarded:
    """A text stream whose texts go through :func:`plain`; ``unguarded`` is the stream itself."""

    def __init__(self, stream: TextIO) -> None:
        self.unguarded = stream

    def write(self, text: str) -> int:
        """Write ``text`` made safe, or lose it with the terminal."""
        try:
            self.unguarded.write(plain(text))
        except OSError as error:
            self._lost(error)
        return len(text)

    def flush(self) -> None:
        """Flush, or lose it with the terminal."""
        try:
            self.unguarded.flush()
        except OSError as error:
            self._lost(error)

    def _lost(self, error: OSError) -> None:
        """A terminal that is gone takes nothing more; how the command ended still counts."""
        if error.errno != errno.EIO:
            raise error
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, self.unguarded.fileno())
        os.close(nowhere)

    def writelines(self, lines: Iterable[str]) -> None:
        """Write each line made safe."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.unguarded, name)


@contextmanager
def guarded() -> Iterator[None]:
    """Guard what is printed meanwhile, on stdout and stderr."""
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = (
        stream if isinstance(stream, Guarded) else cast("TextIO", Guarded(stream))
        for stream in before
    )
    try:
        yield
    finally:
        for stream in (sys.stdout, sys.stderr):
            if not stream.closed:
                stream.flush()
        sys.stdout, sys.stderr = before


def unguarded(stream: TextIO) -> TextIO:
    """The stream below, for escape sequences of our own."""
    return stream.unguarded if isinstance(stream, Guarded) else stream

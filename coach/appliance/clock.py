"""What time it is, which boot it is, and how far the wall clock can be trusted.

Durations never come from the wall clock; it only dates the record. A board without a clock
battery starts with the time of its last shutdown and may run like that for the whole session.
"""

import ctypes
import datetime
from collections.abc import Callable
from functools import cache
from pathlib import Path

from coach.journal.journal_lines import Stamp, Trust

BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
CLOCKS = Path("/sys/class/rtc")

# adjtimex(2): the call returns TIME_ERROR while the kernel clock is not synchronised.
_TIME_ERROR = 5


class _Timex(ctypes.Structure):
    # The first member is all that is set; the rest of the kernel's 208 bytes is only room.
    _fields_ = (("modes", ctypes.c_uint), ("rest", ctypes.c_byte * 508))


@cache
def boot_id() -> str:
    """The kernel's id of this boot, or "" where there is none."""
    try:
        return BOOT_ID.read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return ""


def synchronised() -> bool:
    """Whether the kernel says that its clock follows a time server."""
    adjtimex = _adjtimex()
    return adjtimex is not None and 0 <= adjtimex(ctypes.byref(_Timex())) < _TIME_ERROR


@cache
def _adjtimex() -> Callable[..., int] | None:
    try:
        call: Callable[..., int] = ctypes.CDLL(None).adjtimex
    except (OSError, AttributeError):
        return None
    return call


def set_by_rtc() -> bool:
    """Whether this boot set its wall clock from a clock with a battery."""
    try:
        flags = [clock / "hctosys" for clock in CLOCKS.iterdir()]
        return any(flag.read_text(encoding="ascii").strip() == "1" for flag in flags)
    except (OSError, UnicodeDecodeError):
        return False


def trust() -> Trust:
    """How far the wall clock can be trusted now."""
    if synchronised():
        return "synchronised"
    return "rtc" if set_by_rtc() else "unknown"


def stamper(mono_ns: Callable[[], int]) -> Callable[[], Stamp]:
    """Makes stamps; ``mono_ns`` is the session's clock."""

    def stamp() -> Stamp:
        wall = datetime.datetime.now().astimezone()
        return Stamp(
            mono_ns=mono_ns(),
            boot_id=boot_id(),
            wall=wall.isoformat(timespec="milliseconds"),
            trust=trust(),
        )

    return stamp


def today() -> datetime.date:
    """The local date by the wall clock."""
    return datetime.datetime.now().astimezone().date()

"""To a phone: a code with one session, or a link for one download."""

import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import Exit
from coach.handover.anonymise import Names
from coach.handover.link import MINUTES, Link, NoNetwork, Outcome, local_address
from coach.handover.qr_code import TooSmall, qr_lines, session_texts
from coach.language import N_, _
from coach.shown import unguarded

if TYPE_CHECKING:
    from coach.handover.dog_case import Case
    from coach.handover.folder import Handover

# White on black whatever the terminal's own colours are: a code needs its light ground.
_ON, _OFF = "\x1b[97;40m", "\x1b[0m"
_ENDINGS: dict[Outcome, str] = {
    "taken": N_("The file was taken. The link is closed."),
    "over": N_("The time is over. The link is closed; nobody took the file."),
    "wrong": N_("Somebody tried wrong links. The link is closed; nobody took the file."),
    "stopped": N_("The link is closed; nobody took the file."),
}


def show_session(case: "Case", number: int | None, names: Names) -> int:
    """Show the code of one session, the last one for None."""
    sessions = {int(one.stem.split("-")[0]): one for one in case.sessions}
    if not sessions:
        return _refused("no session has been logged yet")
    if number is not None and number not in sessions:
        return _refused(f"--session: found {number}; allowed: {min(sessions)} to {max(sessions)}")
    session = sessions[max(sessions) if number is None else number]
    for text in session_texts(session, names):
        try:
            lines = _code(text)
            break
        except TooSmall as error:
            small = error
    else:
        return _refused(f"the window is too small for the code: {small}")
    # The code last: what comes after it would push it off a small screen.
    print(text)
    print("\n".join(lines), file=unguarded(sys.stdout))
    return Exit.DONE


def offer_link(written: "Callable[[Path], Handover | int]") -> int:
    """Write a zip file and give it to one phone."""
    try:
        host = local_address()
    except NoNetwork as error:
        return _refused(f"{error.strerror}: use a stick instead")
    with tempfile.TemporaryDirectory(prefix="handover-") as name:
        done = written(Path(name))
        if isinstance(done, int):
            return done
        try:
            link = Link(done.path, host=host)
        except OSError as error:
            return _refused(f"the link cannot be opened: {error.strerror}")
        print(
            _(
                "For {minutes} minutes, whoever in your network has this link can take this one "
                "file, once. It is not encrypted: use it at home only. Nothing else is open."
            ).format(minutes=MINUTES)
        )
        print(_("Control and C together close it."))
        print(link.url)
        try:
            print("\n".join(_code(link.url)), file=unguarded(sys.stdout), flush=True)
        except TooSmall:
            print(_("(The window is too small for a code: type the link.)"), flush=True)
        try:
            outcome = link.serve(now_s=time.monotonic, stop=lambda: False)
        except KeyboardInterrupt:
            outcome = "stopped"
    print(_(_ENDINGS[outcome]))
    return Exit.DONE if outcome == "taken" else Exit.ENDED_EARLY


def _code(text: str) -> list[str]:
    size = shutil.get_terminal_size()
    lines = qr_lines(text, columns=size.columns, rows=size.lines - 1)
    if not sys.stdout.isatty():
        return lines
    return [f"{_ON}{line}{_OFF}" for line in lines]


def _refused(why: str) -> int:
    print(f"coach: {why}", file=sys.stderr)
    return Exit.BAD_INPUT

"""Corrections as plain text for a terminal of 60 columns, and as JSON. Pure."""

import textwrap
from collections.abc import Iterable
from typing import Any

from coach.journal.diary_entries import Correction
from coach.language import N_, _
from coach.record.corrected_session import Amended
from coach.reports.session_json import tallies_json
from coach.reports.session_text import WIDTH
from coach.units import j_from_fj, rounded, s_from_ns

CORRECTION_WORDS = {
    "wrong_side": N_("the other side was treated"),
    "wrong_region": N_("another place was treated"),
    "laser_was_off": N_("the laser was off"),
    "not_this_dog": N_("it was not this dog"),
    "note": N_("note"),
}


def correction_lines(session: Amended) -> list[str]:
    """What was corrected about a session and what its log says; nothing where nothing was."""
    if not session.corrections:
        return []
    logged = session.logged
    when = logged.opened_wall[:16].replace("T", " ")
    lines = textwrap.wrap(_("Session of {when}, corrected afterwards:").format(when=when), WIDTH)
    for told in session.corrections:
        if isinstance(told.entry, Correction):
            lines += _item(_words(told.entry))
    was = logged.total()
    lines += _item(
        _("Its log stays as it is and says {seconds} s, {joules} J in all.").format(
            seconds=_plain(f"{rounded(s_from_ns(was.given_ns), 1):f}"),
            joules=rounded(j_from_fj(was.given_fj), 2),
        )
    )
    if session.corrected is None:
        lines += _item(_("It does not count."))
    return lines


def amended_json(sessions: Iterable[Amended]) -> dict[str, Any]:
    """``tallies_json`` after the corrections, with ``corrections`` and the sessions as ``logged``.

    A correction has session (name of its journal without .jsonl), spot and line (from 1, or
    null), what, text, by and at; ``logged`` lists the corrected sessions as the logs have them.
    """
    every = list(sessions)
    told = [entry for session in every for entry in session.corrections]
    return {
        **tallies_json([one.corrected for one in every if one.corrected is not None]),
        "corrections": [
            {**entry.entry.payload(), "at": entry.wall}
            for entry in told
            if isinstance(entry.entry, Correction)
        ],
        "logged": tallies_json([one.logged for one in every if one.corrections])["sessions"],
    }


def _words(entry: Correction) -> str:
    where = _("whole session")
    if entry.spot is not None:
        where = _("spot {number}").format(number=entry.spot)
    elif entry.line is not None:
        where = _("line {number}").format(number=entry.line)
    text = ", ".join(filter(None, (_(CORRECTION_WORDS[entry.what]), entry.text)))
    if not entry.by:
        return _("{where}: {text}").format(where=where, text=text)
    return _("{where}: {text} (said by {by})").format(where=where, text=text, by=entry.by)


def _item(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")


def _plain(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text

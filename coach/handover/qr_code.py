"""One session in a few words, and as a QR code for a terminal (segno, ISO/IEC 18004). Pure."""

import segno

from coach.handover.anonymise import Names
from coach.handover.dog_case import Session
from coach.handover.tables import decimal
from coach.units import j_from_fj, s_from_ns

# Light modules around a code: the standard asks for 4; 2 is what phones get along with and what a
# small screen has room for. Common practice, no source.
QUIET = 2
LIGHT_LIGHT, LIGHT_DARK, DARK_LIGHT, DARK_DARK = "█", "▀", "▄", " "


class TooSmall(ValueError):  # noqa: N818  (an answer to the owner)
    """The code does not fit; ``columns`` and ``rows`` say what it takes."""

    def __init__(self, columns: int, rows: int) -> None:
        super().__init__(f"it takes {columns} columns and {rows} rows")
        self.columns = columns
        self.rows = rows


def session_texts(session: Session, names: Names) -> list[str]:
    """One session for a person who reads it on a phone: the fullest text first, then shorter."""
    return [
        _session_text(session, names, sides=True, plan=True),
        _session_text(session, names, sides=False, plan=True),
        _session_text(session, names, sides=False, plan=False),
        _shortest(session, names),
    ]


def _shortest(session: Session, names: Names) -> str:
    """For a screen of 20 rows: spots and seconds, and whatever must not be left out."""
    tally = session.corrected or session.tally
    if tally is None:
        return f"{names.session(session.stem)}: the log cannot be read"
    total = tally.total()
    told = [
        f"{names.dog(tally.dog)} {tally.opened_wall[:16].replace('T', ' ')}",
        f"{total.whole}/{total.planned} spots, {decimal(s_from_ns(total.given_ns), 0)}"
        f"/{decimal(s_from_ns(total.planned_ns), 0)} s coached",
    ]
    if session.answers is not None and session.answers.skin == "red":
        told.append("skin red")
    if session.corrections:
        told.append("corrected")
    if session.check.verdict != "whole":
        told.append(f"log {session.check.verdict.replace('_', ' ')}")
    return "\n".join(told)


def _session_text(session: Session, names: Names, *, sides: bool, plan: bool) -> str:
    tally = session.corrected or session.tally
    if tally is None:
        return f"{names.session(session.stem)}: the log cannot be read"
    total = tally.total()
    lines = [f"{names.dog(tally.dog)} {tally.opened_wall[:16].replace('T', ' ')}"]
    if plan:
        lines.append(f"plan {names.plan(tally.plan_id)} r{tally.plan_revision}")
    lines.append(
        tally.state.replace("_", " ")
        + (f": {tally.reason.replace('_', ' ')}" if tally.reason else "")
    )
    lines.append(
        f"{total.whole}/{total.planned} spots, "
        f"{decimal(s_from_ns(total.given_ns), 1)}/{decimal(s_from_ns(total.planned_ns), 1)} s, "
        f"{decimal(j_from_fj(total.given_fj), 1)}/{decimal(j_from_fj(total.planned_fj), 1)} J"
    )
    if sides:
        for (key, side), spots in tally.by_side().items():
            part = tally.total(spots)
            lines.append(
                f"{key} {side} {decimal(s_from_ns(part.given_ns), 1)}"
                f"/{decimal(s_from_ns(part.planned_ns), 1)} s"
            )
    answers = session.answers
    if answers is not None and answers.skin is not None:
        lines.append(f"skin {answers.skin}")
    if answers is not None and answers.tolerance_0_10 is not None:
        lines.append(f"tolerance {answers.tolerance_0_10}/10")
    if session.corrections:
        lines.append("after corrections")
    if session.check.verdict != "whole":
        lines.append(f"log {session.check.verdict.replace('_', ' ')}")
    return "\n".join([*lines, "coached, not measured"])


def qr_lines(text: str, *, columns: int, rows: int) -> list[str]:
    """``text`` as a QR code in rows of characters, two modules to a row. Raises TooSmall.

    Light modules are drawn, dark ones are left: right for light letters on a dark ground.
    """
    code = segno.make_qr(text, error="l", boost_error=False, encoding="utf-8")
    modules = [[bool(dark) for dark in row] for row in code.matrix_iter(border=QUIET)]
    if len(modules) % 2:
        modules.append([False] * len(modules[0]))
    width, height = len(modules[0]), len(modules) // 2
    if width > columns or height > rows:
        raise TooSmall(width, height)
    signs = {
        (False, False): LIGHT_LIGHT,
        (False, True): LIGHT_DARK,
        (True, False): DARK_LIGHT,
        (True, True): DARK_DARK,
    }
    return [
        "".join(signs[pair] for pair in zip(upper, lower, strict=True))
        for upper, lower in zip(modules[::2], modules[1::2], strict=True)
    ]

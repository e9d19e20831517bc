"""What is asked where a session may be carried on, shortened, or started all the same. Pure.

Rounds of questions. Whoever leaves one without an answer starts nothing.
"""

from collections.abc import Callable, Sequence

from coach.language import _, ngettext
from coach.plan.spots import Spot
from coach.session.cues import place_text, sentence
from coach.session.questions import Answer, Asking, Question, numbered
from coach.session.start_rules import Reason

CUT_OFF, SHORT, AGAINST, BECAUSE = "cut_off", "short", "against", "because"
YES, NO, NOTHING = "yes", "no", "nothing"
# So many places of what is left out are read aloud.
MOST_PLACES = 4


def cut_off_lines(*, ended: str, given_s: int, planned_s: int, spot: Spot) -> tuple[str, ...]:
    """Where the session was cut off: at ``ended`` (HH:MM), before the end of ``spot``."""
    return (
        _("The last session was cut off at {time}.").format(time=ended),
        ngettext(
            "{given} of {planned} second was given.",
            "{given} of {planned} seconds were given.",
            planned_s,
        ).format(given=given_s, planned=planned_s),
        _("Next comes: {place}").format(place=place_text(spot)),
    )


def carry_on_asking(lines: Sequence[str]) -> Asking:
    """Carry on with what was cut off (YES), close it and start a new one (NO), or NOTHING."""
    question = Question(
        id=CUT_OFF,
        text=_("Carry on with the session that was cut off?"),
        help=tuple(lines),
        choices=numbered(
            (YES, _("carry on")),
            (NO, _("close it and start a new one")),
            (NOTHING, _("start nothing now")),
        ),
    )
    return Asking(questions=(question,))


def short_asking(*, minutes: int, spots: int, total: int, left: Sequence[str]) -> Asking:
    """Start (YES) with what fits; ``left`` are the places that are left for next time."""
    more = len(left) - MOST_PLACES
    help_ = [
        ngettext(
            "In {minutes} minute there is time for {spots} of {total} spots.",
            "In {minutes} minutes there is time for {spots} of {total} spots.",
            minutes,
        ).format(minutes=minutes, spots=spots, total=total),
        _("Each of them keeps its seconds."),
        _("Left for next time:"),
        *(f"{sentence(place)}." for place in left[:MOST_PLACES]),
    ]
    if more > 0:
        help_.append(ngettext("And {count} more.", "And {count} more.", more).format(count=more))
    question = Question(
        id=SHORT,
        text=_("Start a short session?"),
        help=tuple(help_),
        choices=numbered((YES, _("go on")), (NOTHING, _("start nothing now"))),
    )
    return Asking(questions=(question,))


def against_asking(reasons: Sequence[Reason]) -> Asking:
    """Start all the same (YES)? Only where the owner may."""
    question = Question(
        id=AGAINST,
        text=_("Start anyway?"),
        help=reason_lines(reasons),
        choices=numbered((NOTHING, _("start nothing now")), (YES, _("start, and say why"))),
    )
    return Asking(questions=(question,))


def because_asking(because: Callable[[str], Answer]) -> Asking:
    """Why; ``because`` makes it of what was typed, or raises ValueError with a sentence."""
    question = Question(
        id=BECAUSE,
        text=_("Why start anyway?"),
        help=(_("It is written in the log."), _("Without it nothing starts.")),
        typed=because,
    )
    return Asking(questions=(question,))


def reason_lines(reasons: Sequence[Reason]) -> tuple[str, ...]:
    """What speaks against a start, and what to do, a sentence each."""
    return tuple(
        f"{sentence(text)}." for reason in reasons for text in (reason.text, reason.what_to_do)
    )


def notice(*lines: str) -> Asking:
    """Nothing is asked: ``lines`` are told until the owner goes on."""
    return Asking(questions=(), told=lines)

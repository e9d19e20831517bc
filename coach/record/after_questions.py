"""What is asked about a session once it is over, and what the answers become. Pure.

The signs for which to phone the vet, and what to do about hot skin: body.md, section 3 (the
session at home), common practice unless a source is named there.
"""

import datetime
from collections.abc import Mapping, Sequence
from decimal import Decimal

from coach.journal.diary_entries import BEST, LONGEST_WORDS, WORST, AfterSession
from coach.language import _
from coach.session.questions import Answer, Asking, Question, numbered, scale

# Why a session was stopped, as the owner may say it.
STOP_REASONS = ("dog_unhappy", "hot_skin", "no_time", "asked")
# Reasons for a stop that lie with the dog.
DOG_REASONS = frozenset({"dog_unhappy", "hot_skin"})
# So low a rating is worth a word with the vet. Common practice, no source.
HARDLY_TOLERATED = 3


def after_questions(dog: str, *, stopped: bool, answered: AfterSession | None = None) -> Asking:
    """What is still to be asked about a session of ``dog`` that was ``stopped`` or went through.

    Once everything is answered the round is over from the start.
    """
    said = answered or AfterSession(session="-")
    questions = []
    if stopped and said.stop_reason is None:
        questions.append(
            Question(
                id="stop_reason",
                text=_("Why did you stop?"),
                help=(_("To stop is always right. It helps your vet to know why."),),
                choices=numbered(
                    ("dog_unhappy", _("the dog was not happy")),
                    ("hot_skin", _("the skin was hot or red")),
                    ("no_time", _("no more time")),
                    ("asked", _("another reason")),
                ),
                reply=_after_stop,
            )
        )
    if said.skin is None:
        questions.append(
            Question(
                id="skin",
                text=_("How is the skin where the laser was?"),
                help=(_("Part the hair and look. Feel it with the back of your hand."),),
                choices=numbered(
                    ("fine", _("fine, as before")), ("warm", _("warm")), ("red", _("red"))
                ),
                reply=_after_skin,
            )
        )
    if said.tolerance_0_10 is None:
        questions.append(
            Question(
                id="tolerance_0_10",
                text=_("How well did {dog} put up with it?").format(dog=dog),
                help=(_("0: not at all. 10: at ease all the time."),),
                choices=scale(WORST, BEST),
            )
        )
    if not said.words:
        questions.append(
            Question(
                id="words",
                text=_("Is there anything you want to tell the vet?"),
                help=(_("One line in your own words."),),
                typed=line_of_words,
            )
        )
    return Asking(questions=tuple(questions))


def line_of_words(text: str) -> str:
    """What was typed, in one line. Raises ValueError with a sentence."""
    words = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if not words:
        raise ValueError(_("There is nothing to write down yet."))
    if len(words) > LONGEST_WORDS:
        raise ValueError(_("That is too long: at most {most} letters.").format(most=LONGEST_WORDS))
    return words


def after_entry(session: str, question: str, answer: Answer, *, by: str = "") -> AfterSession:
    """The entry for one answer about the session with the journal ``session``."""
    return AfterSession.model_validate({"session": session, question: answer, "by": by})


def vet_signs_due(answers: Mapping[str, object], *, first: bool) -> bool:
    """Whether the owner should read for which signs to phone the vet.

    After the ``first`` session always; later when something in the ``answers`` asks for it.
    """
    tolerance = answers.get("tolerance_0_10")
    return (
        first
        or answers.get("stop_reason") in DOG_REASONS
        or answers.get("skin") in ("warm", "red")
        or (isinstance(tolerance, int) and tolerance <= HARDLY_TOLERATED)
    )


def vet_signs(dog: str) -> Sequence[str]:
    """For which signs to phone the vet."""
    return (
        _("Phone the vet at once for: a blister, a collapse, a fit."),
        _("Phone the vet as well if {dog} is clearly worse tomorrow.").format(dog=dog),
    )


def next_lines(
    *,
    due: datetime.date | None,
    not_before: datetime.datetime | None,
    over: bool,
    gap_hours: Decimal | None,
    now: datetime.datetime,
    trusted: bool,
) -> tuple[str, ...]:
    """When the next session is, for the owner.

    ``due`` is its day by the calendar, ``not_before`` the moment from which the plan's gap lets
    it begin; None where the plan sets nothing. ``over``: the course has no more sessions. Without
    a ``trusted`` clock no date is named, only ``gap_hours``.
    """
    if over:
        return (
            _("This was the last session of the plan."),
            _("Ask your vet how to go on."),
        )
    if not trusted:
        if gap_hours is None:
            return ()
        return (_("Next session: in {hours} hours or later.").format(hours=gap_hours),)
    days = [moment for moment in (due, not_before and not_before.date()) if moment is not None]
    if not days:
        return ()
    day = max(days)
    ahead = (day - now.date()).days
    clock = f"{not_before:%H:%M}" if not_before and not_before.date() == day else ""
    if ahead <= 0:
        text = _("Next session: today from {clock} on.") if clock else _("Next session: today.")
    elif ahead == 1:
        text = (
            _("Next session: tomorrow from {clock} on.") if clock else _("Next session: tomorrow.")
        )
    elif clock:
        text = _("Next session: in {days} days, on {date}, from {clock} on.")
    else:
        text = _("Next session: in {days} days, on {date}.")
    return (text.format(clock=clock, days=ahead, date=day.isoformat()),)


def _after_stop(answer: Answer) -> tuple[str, ...]:
    if answer == "hot_skin":
        return (
            _("No more laser on that place today."),
            _("Phone your vet before the next session."),
        )
    if answer == "dog_unhappy":
        return (
            _("That was right. Leave that place alone for today."),
            _("Tell your vet about it before the next session."),
        )
    return ()


def _after_skin(answer: Answer) -> tuple[str, ...]:
    if answer == "red":
        return (
            _("No more laser on that place today."),
            _("Phone your vet if it stays red, and at once if there is a blister."),
        )
    return ()

"""Whether a session may start now: what the plan, the clock, earlier sessions and the disk say."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach import paths
from coach.bedside.evening import Evening, NotStarted, SessionWish
from coach.bedside.flow import Flow, ask
from coach.journal.diary import read_diary
from coach.journal.diary_entries import AfterSession, answers_of
from coach.journal.disk import free_bytes
from coach.language import _
from coach.paths import dog_folder, state_folder
from coach.plan.files import PlanFile
from coach.plan.model import Plan
from coach.plan.spots import Spot
from coach.record.past_sessions import earlier_sessions
from coach.record.stop_rules import reasons_not_to_start
from coach.session.cues import sentence
from coach.session.machine import Options
from coach.session.start_questions import (
    AGAINST,
    BECAUSE,
    YES,
    against_asking,
    because_asking,
    reason_lines,
)
from coach.session.start_rules import Moment, Reason, Start, limits_of, may_start, no_space
from coach.units import NS_PER_S

BECAUSE_LETTERS = (3, 200)

# For each second of hold a heartbeat, for each spot its other lines, and the header; rounded up.
LINE_BYTES = 512
LINES_A_SPOT = 20
HEADER_BYTES = 1 << 16


class NotAllowed(NotStarted):
    """Nothing was started; it says why and what to do, and ``aloud`` what of it is spoken."""

    def __init__(self, reasons: Sequence[Reason], *, may_overrule: bool) -> None:
        lines = [_("the session may not start now; nothing started:")]
        lines += [f"  - {reason.text}: {reason.what_to_do}" for reason in reasons]
        if may_overrule:
            lines.append("  " + _('You may go on all the same, with a reason: --because "..."'))
        aloud = " ".join((_("Nothing is started."), *reason_lines(reasons)))
        super().__init__("\n".join(lines), aloud=aloud)


def because(text: str) -> str:
    """The owner's reason. Raises ValueError with what is allowed."""
    words = " ".join(text.split())
    low, high = BECAUSE_LETTERS
    if not low <= len(words) <= high or not words.isprintable():
        raise ValueError(
            _("found {words}; allowed: {low} to {high} characters").format(
                words=repr(text), low=low, high=high
            )
        )
    return words


def needed_bytes(spots: Sequence[Spot], options: Options) -> int:
    """Room that the log of a session may take, with every spot repeated as often as allowed."""
    seconds = sum(-(-spot.hold_ns // NS_PER_S) for spot in spots) * (1 + options.repeats_allowed)
    return HEADER_BYTES + LINE_BYTES * (seconds + LINES_A_SPOT * len(spots))


def check_space(folder: Path, spots: Sequence[Spot], options: Options) -> None:
    """Raises NotAllowed when the log may not fit on the disk."""
    reason = no_space(_free_bytes(folder), needed_bytes(spots, options))
    if reason is not None:
        raise NotAllowed([reason], may_overrule=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Permission:
    """What is asked for: a session of ``spots`` by the plan, into ``folder``, ``now``."""

    plan_file: PlanFile
    folder: Path
    spots: Sequence[Spot]
    options: Options
    now: Moment


def permission(
    evening: Evening, wish: SessionWish, wanted: Permission
) -> Flow[dict[str, Any] | None]:
    """What the owner overrules, for the log; None when nothing speaks against a start.

    Raises NotAllowed.
    """
    plan_file, folder, now = wanted.plan_file, wanted.folder, wanted.now
    plan = plan_file.plan
    earlier = earlier_sessions(folder, plan.dog.name, kept=paths.summary_folder(plan.dog.name))
    evening.notes += earlier.remarks
    if not now.trusted:
        evening.notes.append(
            _(
                "The clock of this computer was not set by network or battery; it says {now}. "
                "The plan holds from {first} to {last}."
            ).format(
                now=f"{now.wall:%Y-%m-%d %H:%M}",
                first=plan.about.prescribed_on,
                last=plan.about.valid_until,
            )
        )
    start = Start(
        dog=plan.dog.name,
        chosen_dog=_chosen_dog(wish, plan_file),
        plan_id=plan.about.id,
        plan_revision=plan.about.revision,
        plan_digest=plan_file.digest,
        free_bytes=_free_bytes(folder),
        needed_bytes=needed_bytes(wanted.spots, wanted.options),
        stop_rules=_stop_rules(plan, now),
    )
    reasons = may_start(start, past=earlier.past, limits=limits_of(plan), now=now)
    if not reasons:
        return None
    if not all(reason.owner_may for reason in reasons):
        raise NotAllowed(reasons, may_overrule=False)
    why = wish.because or (yield from _asked(evening, reasons, plan.dog.name))
    if not why:
        raise NotAllowed(reasons, may_overrule=True)
    return {
        "reasons": [reason.code for reason in reasons],
        "texts": [reason.text for reason in reasons],
        "because": why,
    }


def _stop_rules(plan: Plan, now: Moment) -> tuple[tuple[str, str], ...]:
    """The prescriber's own rules that stop the sessions now."""
    if not plan.recheck.stop:
        return ()
    entries = read_diary(dog_folder(plan.dog.name), AfterSession).entries
    return reasons_not_to_start(plan, answers_of(entries), today=now.wall.date())


def _asked(evening: Evening, reasons: Sequence[Reason], title: str) -> Flow[str]:
    def typed(text: str) -> str:
        try:
            return because(text)
        except ValueError as error:
            raise ValueError(sentence(f"{error}.")) from None

    if not evening.attended:
        return ""
    answered = yield from ask(against_asking(reasons), title=title)
    if answered.answers.get(AGAINST) != YES:
        return ""
    answered = yield from ask(because_asking(typed), title=title)
    return str(answered.answers.get(BECAUSE, ""))


def _chosen_dog(wish: SessionWish, plan_file: PlanFile) -> str | None:
    """The dog that was named, or in whose folder the plan lies; None when neither says."""
    if wish.dog is not None:
        return wish.dog
    folder = plan_file.path.absolute().parent
    plan_dog = plan_file.plan.dog.name
    lies_with_dogs = folder.parent == (state_folder() / "dogs").absolute()
    if lies_with_dogs and folder.name != dog_folder(plan_dog).name:
        return folder.name
    return None


def _free_bytes(folder: Path) -> int:
    """Of the disk on which ``folder`` is or will be."""
    there = next(place for place in (folder, *folder.parents) if place.is_dir())
    return free_bytes(there)

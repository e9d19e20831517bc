"""A session for as long as there is time: chosen and told before anything starts."""

import sys
from typing import TYPE_CHECKING

from coach.body import told
from coach.body.site import Face
from coach.cli.asking import NotStarted
from coach.language import _, ngettext
from coach.plan.model import Plan
from coach.plan.spots import NotShortened, SessionSpots, Spot, session_of
from coach.session.cues import side_word
from coach.session.start_questions import SHORT, YES, short_asking
from coach.units import NS_PER_S, ceil_s, clock_text

if TYPE_CHECKING:
    from coach.cli.asking import Ask


def chosen(plan: Plan, *, minutes: int | None, ask: "Ask | None" = None) -> SessionSpots | None:
    """The session of today, or None after it was said why there is none.

    ``ask``: a screen will cover what was printed, so the owner is asked there as well. Raises
    NotStarted when the owner does not want it.
    """
    try:
        session = session_of(plan, budget_ns=None if minutes is None else minutes * 60 * NS_PER_S)
    except NotShortened as refusal:
        why = _("{minutes} minutes: {reason}; nothing started").format(
            minutes=minutes, reason=refusal
        )
        print(f"coach: {why}", file=sys.stderr)
        return None
    if session.left_for_next:
        total = len(session.spots) + len(session.left_for_next)
        print(
            _(
                "Today {spots} of {total} spots, {time} of {minutes}:00 minutes. "
                "Every hold keeps its seconds.\n"
                "Left for next time, never given twice then:"
            ).format(
                spots=len(session.spots),
                total=total,
                time=clock_text(ceil_s(session.ordered.total_ns)),
                minutes=minutes,
            )
        )
        left = left_lines(session.left_for_next)
        print("\n".join(f"  {line}" for line in left), flush=True)
        if ask is not None:
            assert minutes is not None
            short = short_asking(minutes=minutes, spots=len(session.spots), total=total, left=left)
            if ask(short).get(SHORT) != YES:
                raise NotStarted
    return session


def left_lines(spots: tuple[Spot, ...]) -> list[str]:
    """One line for each place: ``lower back, right: 4 spots``."""
    counts: dict[Face, int] = {}
    for spot in spots:
        key = spot.site.face
        counts[key] = counts.get(key, 0) + 1
    return [
        ngettext("{place}: {count} spot", "{place}: {count} spots", count).format(
            place=", ".join(filter(None, (told(key).owner_words, side_word(side), aspect))),
            count=count,
        )
        for (key, side, aspect), count in counts.items()
    ]

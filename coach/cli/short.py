"""A session for as long as there is time: chosen and told before anything starts."""

import sys

from coach.body import region
from coach.plan.model import Plan
from coach.plan.spots import NotShortened, SessionSpots, Spot, session_of
from coach.units import NS_PER_S, ceil_s, clock_text


def chosen(plan: Plan, *, minutes: int | None, asks: bool) -> SessionSpots | None:
    """The session of today, or None after it was said why there is none.

    ``asks``: a screen will cover what was printed, so the owner confirms having read it.
    """
    try:
        session = session_of(plan, budget_ns=None if minutes is None else minutes * 60 * NS_PER_S)
    except NotShortened as refusal:
        print(f"coach: {minutes} minutes: {refusal}; nothing started", file=sys.stderr)
        return None
    if session.left_for_next:
        total = len(session.spots) + len(session.left_for_next)
        print(
            f"Today {len(session.spots)} of {total} spots, "
            f"{clock_text(ceil_s(session.ordered.total_ns))} of {minutes}:00 minutes. "
            "Every hold keeps its seconds.\n"
            "Left for next time, never given twice then:"
        )
        for line in left_lines(session.left_for_next):
            print(f"  {line}")
        sys.stdout.flush()
        if asks:
            try:
                input("Enter: go on. Ctrl-C: do not start. ")
            except (EOFError, KeyboardInterrupt):
                print("\ncoach: nothing started", file=sys.stderr)
                return None
    return session


def left_lines(spots: tuple[Spot, ...]) -> list[str]:
    """One line for each place: ``lower back, right: 4 spots``."""
    counts: dict[tuple[str, str, str | None], int] = {}
    for spot in spots:
        key = (spot.region, spot.side, spot.aspect)
        counts[key] = counts.get(key, 0) + 1
    return [
        f"{', '.join(filter(None, (region(key).owner_words, side, aspect)))}: "
        f"{count} spot{'s' * (count != 1)}"
        for (key, side, aspect), count in counts.items()
    ]

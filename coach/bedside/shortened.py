"""A session for as long as there is time: chosen and told before anything starts."""

from coach.bedside.evening import Evening, NotStarted, SessionWish
from coach.bedside.flow import Flow, ask
from coach.body import told
from coach.body.site import Face
from coach.language import _, ngettext
from coach.plan.model import Plan
from coach.plan.spots import NotShortened, SessionSpots, Spot, session_of
from coach.session.cues import side_word
from coach.session.start_questions import SHORT, YES, short_asking
from coach.units import NS_PER_S, ceil_s, clock_text


def shortened(evening: Evening, wish: SessionWish, plan: Plan) -> Flow[SessionSpots]:
    """The session of today. Raises NotStarted when the owner does not want a short one."""
    minutes = wish.minutes
    try:
        session = session_of(plan, budget_ns=None if minutes is None else minutes * 60 * NS_PER_S)
    except NotShortened as refusal:
        raise NotStarted(
            _("{minutes} minutes: {reason}; nothing started").format(
                minutes=minutes, reason=refusal
            ),
            outcome="bad_input",
        ) from None
    if not session.left_for_next or minutes is None:
        return session
    total = len(session.spots) + len(session.left_for_next)
    left = left_lines(session.left_for_next)
    if evening.attended:
        short = short_asking(minutes=minutes, spots=len(session.spots), total=total, left=left)
        answered = yield from ask(short, title=plan.dog.name)
        if answered.answers.get(SHORT) != YES:
            raise NotStarted(_("nothing started"))
        return session
    text = _(
        "Today {spots} of {total} spots, {time} of {minutes}:00 minutes. "
        "Every hold keeps its seconds.\n"
        "Left for next time, never given twice then:"
    ).format(
        spots=len(session.spots),
        total=total,
        time=clock_text(ceil_s(session.ordered.total_ns)),
        minutes=minutes,
    )
    evening.notes += [*text.split("\n"), *(f"  {line}" for line in left)]
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

"""What the earlier sessions of a dog mean for the next one: practice, and spots that must rest."""

import datetime
from dataclasses import replace
from typing import Literal

from coach.language import _, ngettext
from coach.paths import dog_folder, journal_folder, summary_folder
from coach.plan.files import PlanFile
from coach.plan.model import Plan
from coach.plan.spots import SessionSpots
from coach.record.past_sessions import earlier_sessions, sessions_done
from coach.record.resting_spots import minded_on
from coach.record.standing_facts import facts_answered
from coach.session.cues import place_text
from coach.session.readiness import FACTS_DAYS, round_for
from coach.session.readiness_points import standing_facts
from coach.session.readiness_timing import Preparing


def sessions_done_with(plan: Plan) -> int:
    """How many sessions of the plan's dog are known to have given something."""
    dog = plan.dog.name
    journals = journal_folder(dog, rehearsal=False)
    kept = summary_folder(dog) if journals.is_dir() else None
    return sessions_done(earlier_sessions(journals, dog, kept=kept))


def preparing_for(
    plan_file: PlanFile,
    session: SessionSpots,
    *,
    now: datetime.datetime,
    owner_sits: Literal["left", "right"] | None,
) -> Preparing:
    """The readiness round: long before the first session, then short.

    The standing facts are asked anew when the plan has changed or after some weeks.
    """
    plan = plan_file.plan
    first = sessions_done_with(plan) == 0
    answered = facts_answered(
        journal_folder(plan.dog.name, rehearsal=False),
        digest=plan_file.digest,
        points=[point.id for point in standing_facts(plan)],
        now=now,
        days=FACTS_DAYS,
    )
    return Preparing(
        round_for(
            plan,
            first=first,
            facts_due=first or not answered,
            position=session.spots[0].position,
            owner_sits=owner_sits,
        )
    )


def without_minded(
    plan: Plan, session: SessionSpots, *, day: datetime.date
) -> tuple[SessionSpots, tuple[str, ...]]:
    """The session without the spots that the dog minded on ``day``, and sentences about those."""
    dog = plan.dog.name
    rests = minded_on(day, journals=journal_folder(dog, rehearsal=False), folder=dog_folder(dog))
    out = [spot for spot in session.spots if spot.site in rests]
    if not out:
        return session, ()
    told = (
        ngettext(
            "One spot has to rest today, because {dog} minded it:",
            "{number} spots have to rest today, because {dog} minded them:",
            len(out),
        ).format(number=len(out), dog=dog),
        *(_("  {place}").format(place=place_text(spot)) for spot in out),
    )
    kept = [spot for spot in session.spots if spot.site not in rests]
    left = replace(
        session,
        spots=tuple(replace(spot, index=index) for index, spot in enumerate(kept)),
        left_for_next=(*session.left_for_next, *out),
    )
    return left, told

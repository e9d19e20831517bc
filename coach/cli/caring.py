"""What the earlier sessions of a dog mean for the next one: practice, and spots that must rest."""

import argparse
import datetime
from dataclasses import replace

from coach.bedside.runner import today
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
    args: argparse.Namespace, plan_file: PlanFile, session: SessionSpots, *, first: bool
) -> Preparing | None:
    """The readiness round: long before the ``first`` session, then short.

    The standing facts are asked anew when the plan has changed or after some weeks.
    """
    if args.no_questions:
        return None
    plan = plan_file.plan
    answered = facts_answered(
        journal_folder(plan.dog.name, rehearsal=False),
        digest=plan_file.digest,
        points=[point.id for point in standing_facts(plan)],
        now=datetime.datetime.now().astimezone(),
        days=FACTS_DAYS,
    )
    return Preparing(
        round_for(
            plan,
            first=first,
            facts_due=first or not answered,
            position=session.spots[0].position,
            owner_sits=args.owner_sits,
        )
    )


def without_minded(
    plan: Plan, session: SessionSpots, *, day: datetime.date | None = None
) -> SessionSpots:
    """The session without the spots that the dog minded today; says which those are."""
    dog = plan.dog.name
    rests = minded_on(
        day or today(), journals=journal_folder(dog, rehearsal=False), folder=dog_folder(dog)
    )
    out = [spot for spot in session.spots if spot.site in rests]
    if not out:
        return session
    print(
        ngettext(
            "One spot has to rest today, because {dog} minded it:",
            "{number} spots have to rest today, because {dog} minded them:",
            len(out),
        ).format(number=len(out), dog=dog),
        flush=True,
    )
    for spot in out:
        print(_("  {place}").format(place=place_text(spot)), flush=True)
    kept = [spot for spot in session.spots if spot.site not in rests]
    return replace(
        session,
        spots=tuple(replace(spot, index=index) for index, spot in enumerate(kept)),
        left_for_next=(*session.left_for_next, *out),
    )

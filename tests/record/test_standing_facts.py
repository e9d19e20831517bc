"""Standing facts are asked once for the plan: anew when it changes, after 30 days, or in doubt."""

import datetime
from collections.abc import Mapping
from pathlib import Path

import pytest

from coach.journal.journal import journal_files
from coach.paths import journal_folder
from coach.plan.spots import session_of
from coach.record.standing_facts import facts_answered
from coach.session.readiness import FACTS_DAYS, Answer
from coach.session.readiness_points import standing_facts
from tests.e2e.virtual import wall
from tests.screens.evening import Evening, tiny_plan


def evening(
    folder: Path, *, days_ago: int = 1, given: Mapping[str, tuple[Answer, ...]] | None = None
) -> str:
    """A first session up to its start, the standing facts answered; the digest of its plan."""
    plan_file = tiny_plan(folder)
    held = Evening(plan_file, session_of(plan_file.plan), days_ago=days_ago)
    runner = held.runner
    while (round_ := runner.view().readiness) is not None and (prompt := round_.prompt) is not None:
        answers = (given or {}).get(prompt.point.id, (prompt.options[0].answer,))
        for answer in answers:
            assert runner.answer(answer) is None
    runner.close()
    return plan_file.digest


def known(folder: Path, digest: str, *, at: datetime.datetime | None = None) -> bool:
    plan = tiny_plan(folder).plan
    return facts_answered(
        journal_folder(plan.dog.name, rehearsal=False),
        digest=digest,
        points=[point.id for point in standing_facts(plan)],
        now=at or wall(),
        days=FACTS_DAYS,
    )


@pytest.fixture
def folder(own_world: Path) -> Path:
    own_world.mkdir()
    return own_world


def test_they_are_known_for_thirty_days_and_for_this_plan_alone(folder: Path) -> None:
    assert not known(folder, "another")
    digest = evening(folder, days_ago=1)
    assert known(folder, digest)
    assert not known(folder, "another")
    later = wall() + datetime.timedelta(days=FACTS_DAYS - 1)
    assert known(folder, digest, at=later)
    assert not known(folder, digest, at=later + datetime.timedelta(minutes=1))
    # A clock that went back tells nothing.
    assert not known(folder, digest, at=wall() - datetime.timedelta(days=2))


def test_a_yes_that_the_vet_allows_is_an_answer_and_one_that_ends_it_is_none(folder: Path) -> None:
    digest = evening(folder, given={"implant": ("yes", "vet_agreed")})
    assert known(folder, digest)


def test_a_round_that_ended_with_the_vet_not_asked_is_asked_again(folder: Path) -> None:
    digest = evening(folder, given={"epilepsy": ("yes", "not_asked")})
    assert not known(folder, digest)


@pytest.mark.parametrize(
    "damage", [b"", b"not a journal\n", b'{"kind":"session_opened"}\n', b"[]\n"]
)
def test_a_journal_that_cannot_be_read_answers_nothing(folder: Path, damage: bytes) -> None:
    digest = evening(folder)
    (journal,) = journal_files(journal_folder(tiny_plan(folder).plan.dog.name, rehearsal=False))
    journal.write_bytes(damage)
    assert not known(folder, digest)


def test_a_fact_that_was_cleared_is_not_waited_for(folder: Path) -> None:
    digest = evening(folder)
    plan = tiny_plan(folder).plan
    cleared = plan.model_copy(
        update={"care": plan.care.model_copy(update={"clearances": ["implant"]})}
    )
    points = {point.id for point in standing_facts(cleared)}
    assert "implant" not in points
    assert known(folder, digest)

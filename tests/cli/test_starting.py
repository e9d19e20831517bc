"""What is asked on the screen and aloud before a session: nothing is done but what was answered."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

from coach.bedside.evening import Evening as BedEvening
from coach.bedside.evening import NotStarted, SessionWish
from coach.bedside.flow import Ask, Flow, Tell
from coach.bedside.opening import Wanted, opened
from coach.bedside.permission import NotAllowed
from coach.bedside.shortened import shortened
from coach.journal.journal import Journal, journal_files, read_journal
from coach.paths import dog_folder, journal_folder
from coach.plan.files import PlanFile, load_plan
from coach.record.tally import tally_of
from coach.session import commands as cmd
from coach.session.machine import Machine
from coach.session.question_text import spoken_text
from coach.session.questions import Answer, Asking
from coach.session.start_questions import AGAINST, BECAUSE, CUT_OFF, NO, NOTHING, SHORT, YES
from coach.units import NS_PER_S
from tests.e2e.virtual import TODAY
from tests.screens.evening import PLAN, Evening, give_before, tonight
from tests.screens.thin import BIG_HIPS


@dataclass
class Owner:
    """Answers as told, and keeps what was said."""

    answers: Mapping[str, Answer] = field(default_factory=dict)
    heard: list[str] = field(default_factory=list)

    def through(self, flow: Flow[Any]) -> Any:
        """Run a flow to its end; what it returns."""
        given: Any = None
        while True:
            try:
                step = flow.send(given)
            except StopIteration as end:
                return end.value
            asking = Asking(questions=(), told=step.lines) if isinstance(step, Tell) else None
            if isinstance(step, Ask):
                asking = step.asking
            assert asking is not None
            self.heard.append(spoken_text(asking))
            given = replace(asking, answers=self.answers) if isinstance(step, Ask) else None


def opening_by(
    owner: Owner, plan_file: PlanFile, wish: SessionWish
) -> Callable[..., tuple[Journal, Machine]]:
    """Opens as a session does, with the answers of ``owner``."""

    def opens(**given: Any) -> tuple[Journal, Machine]:
        wanted = Wanted(plan_file=plan_file, **given)
        pair: tuple[Journal, Machine] = owner.through(opened(BedEvening(), wish, wanted))
        return pair

    return opens


@pytest.fixture
def plan_file(own_world: Path) -> PlanFile:
    folder = dog_folder("Juniper")
    folder.mkdir(parents=True)
    (folder / "plan.toml").write_text(PLAN, "utf-8")
    return load_plan(folder / "plan.toml", today=TODAY)


@pytest.fixture
def cut(plan_file: PlanFile) -> Evening:
    """Cut off in the first hold."""
    evening = tonight(plan_file)
    evening.runner.preparing = None
    evening.runner.do(cmd.Start())
    for _ in range(2):
        evening.time.now_ns += evening.runner.view().left_ns - NS_PER_S
        evening.runner.tick()
        evening.time.now_ns += NS_PER_S * (evening.runner.view().phase.value == "moving")
        evening.runner.tick()
    evening.runner.journal.close()
    return evening


def begin(
    cut: Evening, plan_file: PlanFile, owner: Owner, *, carry_on: bool | None = None
) -> Evening:
    opens = opening_by(owner, plan_file, SessionWish(plan=plan_file.path, carry_on=carry_on))
    return tonight(plan_file, time=cut.time, opens=opens)


def test_left_without_an_answer_nothing_is_touched(cut: Evening, plan_file: PlanFile) -> None:
    before = cut.runner.path.read_bytes()
    for owner in (Owner(), Owner({CUT_OFF: NOTHING})):
        with pytest.raises(NotStarted):
            begin(cut, plan_file, owner)
        (said,) = owner.heard
        # Three choices, each with its key.
        assert "1: carry on. 2: close it and start a new one. 3: start nothing now." in said
        assert "9 of 30 seconds were given." in said
    assert journal_files(cut.runner.path.parent) == [cut.runner.path]
    assert cut.runner.path.read_bytes() == before


def test_closed_when_the_owner_says_so_and_a_new_one_begins(
    cut: Evening, plan_file: PlanFile
) -> None:
    evening = begin(cut, plan_file, Owner({CUT_OFF: NO}))
    evening.runner.close()
    first, second = journal_files(cut.runner.path.parent)
    assert tally_of(read_journal(first).lines).closed
    assert evening.runner.path == second


def test_why_it_cannot_be_carried_on_is_said_and_not_asked(
    cut: Evening, plan_file: PlanFile
) -> None:
    plan_file.path.write_text(PLAN.replace("revision = 1", "revision = 2"), "utf-8")
    other = load_plan(plan_file.path, today=TODAY)
    owner = Owner()
    begin(cut, other, owner, carry_on=True).runner.close()
    assert owner.heard == [
        "The plan has changed since the session that was cut off. It is closed now. "
        "What was given is in the log. Press the big key to go on."
    ]


def test_started_all_the_same_only_with_a_reason(own_world: Path) -> None:
    folder = dog_folder("Juniper")
    folder.mkdir(parents=True)
    limits = "\n[limits]\nleast_hours_between = 48\nowner_may_overrule = true\n"
    (folder / "plan.toml").write_text(PLAN + limits, "utf-8")
    plan_file = load_plan(folder / "plan.toml", today=TODAY)
    give_before(plan_file, sessions=1)
    (only,) = journal_files(journal_folder("Juniper", rehearsal=False))

    def begins(owner: Owner) -> Evening:
        opens = opening_by(owner, plan_file, SessionWish(plan=plan_file.path))
        return tonight(plan_file, opens=opens)

    for answers in ({}, {AGAINST: NOTHING}, {AGAINST: YES}):
        owner = Owner(answers)
        with pytest.raises(NotAllowed) as refusal:
            begins(owner)
        assert "1: start nothing now. 2: start, and say why." in owner.heard[0]
        assert refusal.value.aloud.startswith("Nothing is started. The last session")
    assert "Press 1 to type it" in owner.heard[1]
    evening = begins(Owner({AGAINST: YES, BECAUSE: "the vet said so"}))
    evening.runner.close()
    lines = read_journal(evening.runner.path).lines
    assert [line["data"]["because"] for line in lines if line["kind"] == "overruled"] == [
        "the vet said so"
    ]
    assert journal_files(only.parent)[0] == only


def test_a_short_session_begins_only_when_the_owner_says_so() -> None:
    plan = load_plan(BIG_HIPS, today=TODAY).plan
    owner = Owner({SHORT: YES})
    session = owner.through(shortened(BedEvening(), SessionWish(minutes=10), plan))
    assert session is not None
    # Settle 2 x 40 s and ten of the lower back at 50 s are 580 s; the next would be 630.
    assert len(session.spots) == 12
    (said,) = owner.heard
    assert "In 10 minutes there is time for 12 of 25 spots." in said
    assert "1: go on. 2: start nothing now." in said
    for left in (Owner(), Owner({SHORT: NOTHING})):
        with pytest.raises(NotStarted):
            left.through(shortened(BedEvening(), SessionWish(minutes=10), plan))
    # Nothing is asked where nothing is left out.
    assert owner.through(shortened(BedEvening(), SessionWish(), plan)) is not None
    assert len(owner.heard) == 1

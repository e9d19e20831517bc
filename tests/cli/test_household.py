"""Two dogs and two helpers in one house: nothing of one dog ends up with the other."""

import datetime
import sys
from pathlib import Path
from typing import Any

import pytest

from coach.bedside.before_session import before_session, plan_for
from coach.bedside.evening import Evening, NotStarted, SessionWish
from coach.bedside.flow import Ask, Flow, Gone, Key, Pressed, show
from coach.bedside.household import Household, read_household, write_household
from coach.bedside.pages import DogPage, places_of
from coach.cli import run
from coach.cli.exits import Exit
from coach.journal.diary import read_diary
from coach.journal.diary_entries import FunctionScore
from coach.journal.disk import DISK
from coach.journal.journal import journal_files, read_journal
from coach.paths import dog_folder, household_file, journal_folder
from coach.plan.files import load_plan
from coach.plan.model import Plan
from coach.plan.spots import session_of
from coach.record.tally import tally_of
from coach.screens.confirm_dog import DogScreen
from coach.session.household_questions import SOMEBODY_ELSE
from tests.flows import Play
from tests.screens.one_app import calm, flow_app, text_of
from tests.screens.thin import FakeTime

ROOT = Path(__file__).parents[2]
PLANS = {"juniper": "demo-long-back.toml", "barnaby": "demo-big-hips.toml"}
TODAY = datetime.date(2026, 11, 25)
YES_NO = (Key("yes", "Y", "yes, this dog"), Key("no", "N", "no"))


@pytest.fixture
def house(own_world: Path) -> Path:
    """Both demo dogs live here, each with its plan in its own folder."""
    for folder, plan in PLANS.items():
        home = own_world / "state" / "dogs" / folder
        home.mkdir(parents=True)
        (home / "plan.toml").write_bytes((ROOT / "plans" / plan).read_bytes())
    return own_world / "state"


WALL = datetime.datetime.combine(TODAY, datetime.time(19), datetime.UTC)


def before(*answers: object, **wish: Any) -> Play:
    """Which dog and who treats, as it is asked before a session."""

    def flow() -> Flow[tuple[str, str]]:
        evening, wished = Evening(wall=lambda: WALL), SessionWish(**wish)
        plan = (yield from plan_for(evening, wished)).plan
        by = yield from before_session(evening, wished, plan, session_of(plan).spots)
        return plan.dog.name, by

    return Play(flow(), answers).run()


def test_who_treats_is_asked_once_and_then_by_one_key(house: Path) -> None:
    assert before([0], "yes", ["Ada"]).result == ("Barnaby", "Ada")
    assert read_household(household_file()) == Household(helpers=("Ada",), asked=True)
    # One helper: nobody is asked any more.
    assert before([1], "yes").result == ("Juniper", "Ada")
    write_household(household_file(), ["Ada", "Bo"])
    assert before([1], "yes", ["Bo"]).result == ("Juniper", "Bo")
    assert before([1], "yes", [SOMEBODY_ELSE], ["Cleo"]).result == ("Juniper", "Cleo")
    assert read_household(household_file()).helpers == ("Ada", "Bo", "Cleo")
    assert before(dog="Barnaby", by="Bo").result == ("Barnaby", "Bo")


def test_who_leaves_the_name_out_is_not_asked_again(house: Path) -> None:
    assert before([None], dog="Juniper").result == ("Juniper", "")
    assert read_household(household_file()) == Household(asked=True)
    assert before(dog="Juniper").result == ("Juniper", "")


def test_another_dog_in_front_of_the_owner_starts_nothing(house: Path) -> None:
    with pytest.raises(NotStarted, match="nothing started"):
        before([1], "no")
    page = DogPage(plan=plan_of("juniper"), spots=session_of(plan_of("juniper")).spots, keys=YES_NO)
    assert list(page.lines())[:2] == [
        "This plan is for Juniper:",
        "  top of the neck, behind the ears: left, right",
    ]
    with pytest.raises(NotStarted):
        before([None])
    assert not before().ended
    assert list(house.rglob("*.jsonl")) == []


def plan_of(name: str) -> Plan:
    return load_plan(ROOT / "plans" / PLANS[name], today=TODAY).plan


def test_the_scores_that_a_plan_asks_for_come_before_its_session_and_go_to_its_dog(
    house: Path,
) -> None:
    plan = house / "dogs" / "juniper" / "plan.toml"
    text = plan.read_text("utf-8").replace(
        "[settle]", '[scores]\nevery_days = 7\nactivities = ["a", "b", "c"]\n[settle]'
    )
    plan.write_text(text, "utf-8")
    # Left in the middle: what was said is kept, and nothing starts.
    flow = before_session(
        Evening(wall=lambda: WALL),
        SessionWish(dog="Juniper", by="Ada"),
        load_plan(plan, today=TODAY).plan,
        (),
    )
    step = next(flow)
    assert isinstance(step, Ask)
    first, _a, b, _c = step.asking.questions
    assert [step.keep(first.id, 7), step.keep(b.id, 1)] == ["", ""]
    with pytest.raises(Gone):
        flow.throw(Gone())
    score = FunctionScore(score_0_10=7, activities={"b": 1}, by="Ada")
    assert read_diary(dog_folder("Juniper")).entries == (score,)
    assert read_diary(dog_folder("Barnaby")).entries == ()


def test_two_dogs_at_once_each_in_its_own_folder_and_log(
    house: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Somebody else treats Barnaby at this moment; that is no reason to make Juniper wait.
    DISK.make_folder(journal_folder("Barnaby", rehearsal=False))
    lock = DISK.lock(journal_folder("Barnaby", rehearsal=False), "now")
    try:
        words = ["--plain", "--silent", "--because", "a test of ours"]
        with Path("/dev/null").open(encoding="utf-8") as nobody:
            monkeypatch.setattr(sys, "stdin", nobody)
            assert run(["session", "--dog", "Juniper", "--by", "Ada", *words]) == Exit.ENDED_EARLY
            assert run(["session", "--dog", "Barnaby", "--by", "Bo", *words]) == Exit.BUSY
    finally:
        DISK.close(lock)
    (path,) = journal_files(journal_folder("Juniper", rehearsal=False))
    lines = read_journal(path).lines
    assert [line["data"] for line in lines if line["kind"] == "helper"] == [{"name": "Ada"}]
    assert tally_of(lines).helper == "Ada"
    assert journal_files(journal_folder("Barnaby", rehearsal=False)) == []


def test_a_plan_in_another_dogs_folder_is_refused(
    house: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = house / "dogs" / "barnaby" / "plan.toml"
    wrong.write_bytes((ROOT / "plans" / "demo-long-back.toml").read_bytes())
    with Path("/dev/null").open(encoding="utf-8") as nobody:
        monkeypatch.setattr(sys, "stdin", nobody)
        assert run(["session", str(wrong), "--plain", "--silent"]) == Exit.NOT_ALLOWED
    assert "the plan is for Juniper, not for barnaby" in capsys.readouterr().err


@pytest.mark.parametrize(
    "text", ["helpers = 3", "helpers = [", 'helpers = [""]', f"helpers = {['x'] * 9}", "\0"]
)
def test_a_bad_household_file_is_told_and_never_stops_a_session(house: Path, text: str) -> None:
    household_file().write_text(text, "utf-8")
    found = read_household(household_file())
    assert found.helpers == ()
    assert str(household_file()) in found.problem


@pytest.mark.parametrize(
    ("plan", "size"),
    [
        ("demo-long-back.toml", (60, 20)),
        ("demo-big-hips.toml", (80, 24)),
        ("demo-big-hips.toml", (120, 40)),
    ],
)
async def test_the_dog_is_confirmed_by_name_and_picture(plan: str, size: tuple[int, int]) -> None:
    loaded = load_plan(ROOT / "plans" / plan, today=TODAY).plan
    spots = session_of(loaded).spots
    time = FakeTime()
    app = flow_app(show(DogPage(plan=loaded, spots=spots, keys=YES_NO)), mono_ns=time)
    async with app.run_test(size=size) as pilot:
        await calm(pilot)
        shown = text_of(app)
        assert shown.splitlines()[0] == "IS THIS THE DOG IN FRONT OF YOU?"
        assert "█" in shown or size[1] > 20
        assert f"Plan {loaded.about.id}, revision 1" in shown
        if size[1] > 20:
            assert all(line in " ".join(shown.split()) for line in places_of(spots))
        # A press that was meant for the screen before says nothing about the dog.
        await pilot.press("y")
        assert app.return_value is None
        time.pass_s(1)
        await pilot.press("y")
    assert app.return_value == Pressed("yes")


@pytest.mark.parametrize(("steps", "answer"), [(1, "yes"), (2, "no"), (3, "yes")])
async def test_the_one_big_key_says_yes_or_no_by_staying_on_it(steps: int, answer: str) -> None:
    loaded = plan_of("juniper")
    time = FakeTime()
    said: list[str] = []
    page = DogPage(plan=loaded, spots=session_of(loaded).spots, keys=YES_NO)
    app = flow_app(show(page), mono_ns=time, say=said.append)
    async with app.run_test(size=(60, 20)) as pilot:
        await calm(pilot)
        screen = app.screen
        assert isinstance(screen, DogScreen)
        for _ in range(steps):
            time.pass_s(1)
            await pilot.press("space")
            await pilot.press("space")  # bouncing
        time.pass_s(2.9)
        screen.beat()
        assert app.return_value is None
        time.pass_s(0.1)
        # The timer's own beat may come right after it.
        screen.beat()
        screen.beat()
        await calm(pilot)
    assert app.return_value == Pressed(answer)
    assert "Press Y for yes, N for no. Or choose with the big key" in said[0]
    assert said[1:-1] == ["yes, this dog", "no", "yes, this dog"][:steps]


async def test_on_the_screen_dog_helper_and_scores_come_one_after_the_other(house: Path) -> None:
    write_household(household_file(), ["Ada", "Bo"])
    plan = house / "dogs" / "juniper" / "plan.toml"
    scores = '[scores]\nevery_days = 7\nactivities = ["a", "b", "c"]\n[settle]'
    plan.write_text(plan.read_text("utf-8").replace("[settle]", scores), "utf-8")
    loaded = load_plan(plan, today=TODAY).plan
    time = FakeTime()
    evening = Evening(wall=lambda: WALL)
    flow = before_session(evening, SessionWish(), loaded, session_of(loaded).spots)
    app = flow_app(flow, mono_ns=time)
    async with app.run_test(size=(60, 20)) as pilot:
        seen = []
        for key in ("y", "2", "8", "0", "n", "4"):
            await calm(pilot)
            seen.append(" ".join(text_of(app).split()))
            time.pass_s(1)
            await pilot.press(key)
        await calm(pilot)
    assert app.return_value == "Bo"
    score = FunctionScore(score_0_10=8, activities={"a": 0, "c": 4}, by="Bo")
    assert read_diary(dog_folder("Juniper")).entries == (score,)
    assert "IS THIS THE DOG" in seen[0]
    assert "1 Ada" in seen[1]
    assert "How well does Juniper get about these days?" in seen[2]
    assert "b: how well does it go?" in seen[4]


def test_the_household_is_shown_and_its_names_changed(
    house: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (house / "dogs" / "barnaby" / "plan.toml").write_text("not a plan", "utf-8")
    (house / "dogs" / "juniper" / "journals").mkdir()
    assert run(["household"]) == Exit.DONE
    told = capsys.readouterr().out
    assert "  Juniper: plan demo-long-back, 0 logs, in " in told
    assert "  barnaby: its plan cannot be used; see coach check " in told
    assert "Who treats: nobody is named yet" in told
    assert run(["household", "--add", " Ada ", "--add", "Bo", "--add", "ADA"]) == Exit.DONE
    assert run(["household", "--remove", "bo", "--add", "Cleo"]) == Exit.DONE
    assert "Who treats: Ada, Cleo" in capsys.readouterr().out
    words = ["--add", "x" * 41, "--remove", "Dora"]
    assert run(["household", *words]) == Exit.BAD_INPUT
    refused = capsys.readouterr().err
    assert "--add: found" in refused
    assert "--remove: found 'Dora'; allowed: one of Ada, Cleo" in refused
    many = [word for number in range(7) for word in ("--add", f"n{number}")]
    assert run(["household", *many]) == Exit.BAD_INPUT
    assert read_household(household_file()).helpers == ("Ada", "Cleo")

"""A whole evening with the screen off: the owner presses only keys that the voice has just named.

Nothing on the screen is read. What is heard is kept as a loudspeaker would give it: one sentence
after the other, dropped when it comes too late, cut off by what interrupts.
"""

import datetime
import re
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any, TypeVar

import pytest

from coach.bedside.before_session import before_session, plan_for
from coach.bedside.dog_facts import home_of
from coach.bedside.evening import Evening as BedEvening
from coach.bedside.evening import SessionWish
from coach.bedside.flow import Flow, Key, show
from coach.bedside.home import home_page
from coach.bedside.household import write_household
from coach.bedside.lesson_flow import teach_back
from coach.bedside.lesson_quiz import Teaching
from coach.bedside.opening import Wanted, opened
from coach.bedside.pages import LessonPage
from coach.bedside.spoken_ahead import texts_for
from coach.journal.diary import read_diary
from coach.journal.diary_entries import LessonDone
from coach.journal.journal import Journal, journal_files, read_journal
from coach.journal.journal_lines import RESUMED
from coach.paths import dog_folder, household_file
from coach.plan.files import load_plan
from coach.screens import spoken_help
from coach.session import commands as cmd
from coach.session.machine import Machine, Phase
from coach.session.readiness import every_sentence
from coach.units import NS_PER_S
from coach.voice.voice_port import SilentVoice, speak
from tests.e2e.virtual import TODAY, FakeTime
from tests.screens.evening import PLAN, SMALL, Evening, Owner, give_before, tonight
from tests.screens.one_app import calm, flow_app

T = TypeVar("T")

# About 150 words a minute, as the voice is set by itself.
WORD_NS = 4 * NS_PER_S // 10

# How the voice names keys, and which words name what the key does.
NAMED = (
    re.compile(r"(?P<key>Big key|\b[A-Z0-9]): (?P<does>[^.:]+)\."),
    re.compile(r"Press (?P<key>[A-Z0-9]) (?:for|to) (?P<does>[^,.]+)"),
    re.compile(r"(?P<key>\bN) for (?P<does>no)\."),
    re.compile(r"(?P<key>[Pp]ress) (?:the big key )?(?:to|when) (?P<does>[^.]+)\."),
    re.compile(r"or (?P<key>the big key) to (?P<does>[^.]+)\."),
    re.compile(r"\b(?P<key>Q) (?P<does>leaves [^.]+)\."),
)


def key_named(heard: str, wish: str) -> str:
    """The key of the framework that was last said to do ``wish``."""
    found = ""
    for pattern in NAMED:
        for named in pattern.finditer(heard):
            if wish in named["does"]:
                key = named["key"].casefold()
                found = key if len(key) == 1 else "space"
    scale = re.search(r"Press a number from (\d+) to (\d+)\.", heard)
    if not found and scale and wish.isdigit() and int(scale[1]) <= int(wish) <= int(scale[2]):
        found = wish
    assert found, f"no key was named for {wish!r}: {heard}"
    return found


class Room(SilentVoice):
    """A loudspeaker, and the ears by it."""

    def __init__(self, time: FakeTime) -> None:
        self.time = time
        self.lines: list[tuple[int, int, str]] = []
        self.dropped: list[str] = []
        self.free_ns = 0

    def say(self, text: str, *, at_ns: int, until_ns: int, urgent: bool, tone: str | None) -> None:
        if urgent:
            self.silence()
        if not text:
            return
        begins_ns = max(at_ns, self.free_ns)
        if begins_ns > until_ns:
            self.dropped.append(text)
            return
        self.free_ns = begins_ns + WORD_NS * len(text.split())
        self.lines.append((begins_ns, self.free_ns, text))

    def silence(self) -> None:
        now_ns = self.time()
        self.lines = [line for line in self.lines if line[0] <= now_ns]
        self.free_ns = now_ns

    def speak(self, text: str) -> None:
        speak(self, text, now_ns=self.time())

    def heard(self, since_ns: int) -> str:
        """What began to sound since then and was not cut off before it began."""
        return " ".join(text for begins_ns, _, text in self.lines if begins_ns >= since_ns)


class Listener:
    """Presses what was named since the last press, once it is said."""

    def __init__(self, room: Room, press: Callable[[str], Awaitable[object]]) -> None:
        self.room, self._press = room, press
        self.since_ns = room.time()
        self.heard = ""

    def listen(self) -> str:
        """To the end of what is being said."""
        self.heard = self.room.heard(self.since_ns)
        self.room.time.now_ns = max(self.room.time.now_ns, self.room.free_ns)
        return self.heard

    async def wants(self, wish: str, *, about: str = "") -> None:
        """Do ``wish``, in answer to something ``about`` this."""
        heard = self.listen()
        assert about in heard, heard
        key = key_named(heard, wish)
        self.since_ns = self.room.time()
        await self._press(key)


async def asked_in(flow: Flow[T], room: Room, *wishes: tuple[str, str]) -> T | None:
    """A flow, each of whose questions is answered by what was heard; what it returns."""
    app = flow_app(flow, mono_ns=room.time, say=room.speak)
    async with app.run_test(size=SMALL) as pilot:

        async def press(key: str) -> None:
            room.time.now_ns += NS_PER_S
            await pilot.press(key)
            await calm(pilot)

        listener = Listener(room, press)
        await calm(pilot)
        for wish, about in wishes:
            await listener.wants(wish, about=about)
    return app.return_value


async def test_two_dogs_and_two_helpers_by_the_voice_alone(own_world: Path) -> None:
    for name in ("Juniper", "Barnaby"):
        folder = dog_folder(name)
        folder.mkdir(parents=True)
        text = PLAN.replace("Juniper", name).replace("repeats_allowed = 1", "repeats_allowed = 0")
        (folder / "plan.toml").write_text(text, "utf-8")
    write_household(household_file(), ["Ada", "Bo"])
    plan_file = load_plan(dog_folder("Juniper") / "plan.toml", today=TODAY)
    give_before(plan_file, sessions=1)
    time = FakeTime()
    room = Room(time)
    evening = tonight(plan_file, voice=room, time=time)

    def flow() -> Flow[tuple[str, str]]:
        bed, wish = BedEvening(wall=evening.wall, mono_ns=time), SessionWish()
        plan = (yield from plan_for(bed, wish)).plan
        by = yield from before_session(bed, wish, plan, evening.session.spots)
        return plan.dog.name, by

    found = await asked_in(
        flow(),
        room,
        ("Juniper", "Which dog"),
        ("yes", "Is Juniper in front of you?"),
        ("Bo", "Who treats today?"),
    )
    assert found == ("Juniper", "Bo")
    began = len(room.lines)
    round_ = evening.runner.preparing.round if evening.runner.preparing else None
    assert round_ is not None
    await the_session(evening, room)
    assert room.dropped == []
    # Words that nobody foresaw would come after those that follow them.
    ahead = texts_for(plan_file.plan, evening.session, evening.runner.machine.options)
    said_ahead = {*ahead, *spoken_help.every_sentence(), *every_sentence(round_)}
    spoken = [text for _, _, text in room.lines[began:]]
    until = spoken.index("Stopped. Switch the laser off.")
    unforeseen = [text for text in spoken[: until + 2] if text not in said_ahead]
    assert [text.split(":")[0] for text in unforeseen] == ["Not now"]
    assert evening.app.return_value is Phase.STOPPED
    assert evening.outcomes == ["given", "skipped", "cut_short"]
    lines = read_journal(evening.runner.path).lines
    assert [line["data"]["reason"] for line in lines if line["kind"] == "spot_skipped"] == [
        "out_of_reach"
    ]
    seen = [line["data"]["signals"] for line in lines if line["kind"] == "signals_seen"]
    assert seen == [["yawns"], ["yawns", "growls"]]
    answered = evening.answered
    assert answered is not None
    assert (answered.skin, answered.tolerance_0_10) == ("warm", 7)


async def the_session(evening: Evening, room: Room) -> None:
    async with evening.app.run_test(size=SMALL) as pilot:
        owner = Owner(evening, pilot)
        listener = Listener(room, owner.press)
        await owner.see()
        await the_round(listener, evening)
        await listener.wants("start", about="All is ready.")
        await owner.until(Phase.HOLDING)
        assert "Lower back, left, spot one." in room.heard(listener.since_ns)
        await a_pause(listener, owner)
        await owner.until(Phase.MOVING)
        # A pause, all that can be done in it, and the list of reasons.
        await known(listener, owner)
        await listener.wants("more", about="Paused. Lift the laser off.")
        await listener.wants("skip", about="Press to carry on.")
        await listener.wants("do not skip", about="1: it is sore there.")
        await listener.wants("more", about="Press to carry on.")
        await listener.wants("skip")
        await listener.wants("I cannot reach it", about="Why skip?")
        assert "Skipped." in room.heard(listener.since_ns)
        await owner.until(Phase.HOLDING)
        await the_dog_is_not_happy(listener, owner)
        await listener.wants("questions", about="Stopped. Switch the laser off.")
        await listener.wants("warm", about="How is the skin")
        await listener.wants("7", about="How well did Juniper put up with it?")
        await listener.wants("go on", about="tell the vet")
        assert "Phone the vet" in listener.listen()
        await listener.wants("close")


async def known(listener: Listener, owner: Owner, key: str = "space") -> None:
    """A key that was named before; the big key pauses, as the lesson says."""
    listener.since_ns = listener.room.time()
    await owner.press(key)


async def the_round(listener: Listener, evening: Evening) -> None:
    """Not yet, then yes; all about a question once; nothing is new."""
    await listener.wants("not yet", about="Is this Juniper, and the right plan?")
    await listener.wants("yes", about="I wait.")
    await listener.wants("more", about="Is anything on this list new with Juniper?")
    await listener.wants("no", about="A wound near the spots.")
    await listener.wants("not yet", about="Are room, dog and lens ready?")
    await listener.wants("yes", about="I wait.")
    await listener.wants("more", about="eyewear")
    await listener.wants("yes", about="The light of this laser can blind")
    while (round_ := evening.runner.view().readiness) is not None and not round_.verdict:
        await listener.wants("yes", about=round_.point.question)


async def a_pause(listener: Listener, owner: Owner) -> None:
    """It is paused and carried on; once more than the plan has it is refused aloud."""
    await known(listener, owner)
    await listener.wants("more", about="Paused. Lift the laser off.")
    await listener.wants("again")
    assert owner.evening.phase() is Phase.PAUSED
    assert "Not now: the plan does not allow this spot once more." in listener.listen()
    await listener.wants("carry on")
    assert owner.evening.phase() is Phase.HOLDING


async def the_dog_is_not_happy(listener: Listener, owner: Owner) -> None:
    """Two signs are marked, the coach says what they ask for, and the owner ends it."""
    await known(listener, owner)
    await listener.wants("more")
    await listener.wants("not happy")
    signs = listener.listen()
    await listener.wants("yawns", about="What do you see?")
    assert "You saw: yawns. Watch your dog." in listener.listen()
    await known(listener, owner, key_named(signs, "growls"))
    await listener.wants("end it", about="You saw: growls. It is best to stop now.")
    assert owner.evening.phase() is Phase.STOPPED


async def test_the_lesson_and_its_questions_by_the_voice_alone(own_world: Path) -> None:
    path = own_world / "plan.toml"
    own_world.mkdir()
    path.write_text(PLAN, "utf-8")
    plan_file = load_plan(path, today=TODAY)
    room = Room(FakeTime())
    evening = tonight(plan_file, time=room.time)
    teaching = Teaching(folder=own_world, dog="Juniper", stamp=evening.stamp)
    page = LessonPage(
        dog="Juniper", spots=evening.session.spots, keys=(Key("on", "SPACE", "go on"),)
    )

    def flow() -> Flow[str]:
        yield from show(page)
        return (yield from teach_back(teaching))

    problem = await asked_in(
        flow(),
        room,
        ("begin", "Two quick presses of it give you all choices."),
        ("you have found it", "lower back"),
        ("you have found it", "root of the tail"),
        ("the dog's", "Whose left is that?"),
        ("go on", "Yes, the dog's."),
        ("along the rib", "the last rib"),
        ("go on", "Yes, along the rib."),
        ("take the head off", "growls"),
        ("go on", "Yes, stop at once."),
    )
    assert problem == ""
    assert read_diary(own_world).entries == (LessonDone(right=3, of=3),)


class Wants(Exception):  # noqa: N818  (what a test asks for)
    """A session that is to be opened."""

    def __init__(self, wanted: Wanted) -> None:
        self.wanted = wanted


async def test_from_home_to_the_end_of_a_session_that_was_cut_off(own_world: Path) -> None:
    folder = dog_folder("Juniper")
    folder.mkdir(parents=True)
    (folder / "plan.toml").write_text(PLAN, "utf-8")
    plan_file = load_plan(folder / "plan.toml", today=TODAY)
    give_before(plan_file, sessions=1)
    time = FakeTime()
    room = Room(time)
    # The plug is pulled four seconds into the second spot.
    cut = tonight(plan_file, time=time)
    cut.runner.preparing = None
    cut.runner.do(cmd.Start())
    for _ in range(3):
        time.now_ns += cut.runner.view().left_ns
        cut.runner.tick()
    assert (cut.phase(), cut.runner.view().spot.number) == (Phase.HOLDING, 2)
    time.now_ns += 4 * NS_PER_S
    cut.runner.tick()
    cut.runner.journal.close()
    time.now_ns += 60 * NS_PER_S

    bed = BedEvening(wall=cut.wall, mono_ns=time)
    at_home_now = home_of(folder, cut.stamp(), datetime.UTC)

    def at_home_first() -> Flow[str]:
        pressed = yield from show(home_page(bed, [at_home_now]))
        return pressed.id

    wish = await asked_in(
        at_home_first(), room, ("carry on", "Juniper. The last session was cut off at 19:30.")
    )
    assert wish == "carry_on"

    # Whoever types the command instead is asked.
    found: list[tuple[Journal, Machine]] = []

    def opens(**given: Any) -> tuple[Journal, Machine]:
        if not found:
            raise Wants(Wanted(plan_file=plan_file, **given))
        return found[0]

    with pytest.raises(Wants) as asked:
        tonight(plan_file, time=time, opens=opens)
    pair = await asked_in(
        opened(bed, SessionWish(plan=plan_file.path), asked.value.wanted),
        room,
        ("carry on", "Next comes: Lower back, left, spot two."),
    )
    assert pair is not None
    found.append(pair)
    evening = tonight(plan_file, voice=room, time=time, opens=opens)
    assert evening.runner.path == cut.runner.path
    async with evening.app.run_test(size=SMALL) as pilot:
        owner = Owner(evening, pilot)
        listener = Listener(room, owner.press)
        await owner.see()
        while (round_ := evening.runner.view().readiness) is not None and not round_.verdict:
            await listener.wants("yes", about=round_.point.question)
        await listener.wants("start", about="All is ready.")
        await owner.until(Phase.HOLDING)
        assert "Lower back, left, spot two." in listener.listen()
        await owner.until(Phase.FINISHED)
        await listener.wants("close", about="All done.")
    assert evening.outcomes == ["given", "given", "given"]
    kinds = [line["kind"] for line in read_journal(evening.runner.path).lines]
    assert kinds.count(RESUMED) == 1
    assert len(journal_files(evening.runner.path.parent)) == 2

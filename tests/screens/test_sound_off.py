"""A whole evening with the sound device gone: the owner presses only keys that are on the screen.

Each cue that would have been heard must be seen at 60x20 when it is due, without any colour: as
words, as the shape of the state, or as digits that change. Flash and shape of each start and end,
in every look: `test_walks.py`.
"""

import datetime
import re
from pathlib import Path

import pytest

from coach.bedside.before_session import before_session, plan_for
from coach.bedside.evening import Evening as BedEvening
from coach.bedside.evening import SessionWish
from coach.bedside.flow import Flow
from coach.bedside.household import write_household
from coach.journal.journal import read_journal
from coach.paths import dog_folder, household_file
from coach.plan.files import PlanFile, load_plan
from coach.plan.spots import session_of
from coach.session.machine import OVER, Phase
from coach.units import NS_PER_S
from coach.voice.child_voice import NOTICES
from coach.voice.voice_port import VoiceReport
from tests.e2e.virtual import TODAY, FakeTime
from tests.screens.evening import (
    PLAN,
    SMALL,
    Evening,
    HeardVoice,
    Owner,
    flat,
    give_before,
    tonight,
)
from tests.screens.one_app import calm, flow_app, text_of

GONE = NOTICES["sound_device_gone"] or ""

# What is seen in place of what would be heard. Of a place its side and number.
SIGHTS = {
    "Hold.": ("■■■ HOLD",),
    "Paused. Lift the laser off.": ("|| PAUSED", "Lift the laser off."),
    # The place is in the line of the region and in the picture; its side is drawn.
    "Lower back, left, spot one.": ("lower back · lumbar spine", "██1██"),
    "Next, spot two.": ("lower back · lumbar spine", "██2██"),
    "Root of the tail, middle.": ("root of the tail",),
    "Press to carry on.": ("SPACE carry on",),
    "Twice: all choices.": ("SPACE twice: all choices",),
    "R: more.": (),
    "Or choose with the big key, then wait.": ("SPACE choose, then wait 3 s",),
    "Is this Juniper, and the right plan?": ("Is this your dog and your plan?",),
    "Big key: yes, done.": ("SPACE yes",),
    "Skipped.": ("... MOVE", "spot 3 of 3"),
    "Stopped. Switch the laser off.": ("xx STOPPED", "Switch the laser off."),
    "All is ready. Press to start.": ("Press SPACE to start.",),
    "Big key: a few short questions. Q: close.": ("Then press SPACE", "Q close"),
    "Big key: done.": ("SPACE done",),
    "Big key: do not skip.": ("SPACE do not skip",),
    "X: end it.": ("X STOP",),
    "You saw: growls.": ("You saw: yawns, growls.", "G growls *"),
    "Why skip?": ("Why? Press one key:",),
    # How the dog lies was seen in the round.
    "Begin with the dog on its chest.": ("spot 1 of 3",),
}
COUNTED = ("Three.", "Two.", "One.")


class GoneVoice(HeardVoice):
    """Nothing is heard; keeps what would have been, and what of it was taken back."""

    def __init__(self, time: FakeTime) -> None:
        super().__init__()
        self.time = time
        self.told = False
        self.due: list[tuple[int, str]] = []

    def say(self, text: str, *, at_ns: int, until_ns: int, urgent: bool, tone: str | None) -> None:
        if text:
            self.due.append((at_ns, text))

    def silence(self) -> None:
        self.due = [cue for cue in self.due if cue[0] <= self.time()]

    def poll(self) -> list[VoiceReport]:
        told, self.told = self.told, True
        return [] if told else [VoiceReport(kind="sound_device_gone", notice=GONE)]

    def take(self) -> list[str]:
        """What is due by now and was not asked for yet."""
        now = [text for at_ns, text in self.due if at_ns <= self.time()]
        self.due = [cue for cue in self.due if cue[0] > self.time()]
        return now


def key_shown(text: str, wish: str) -> str:
    """The key of the framework that stands before ``wish`` on the screen."""
    names = {"SPACE": "space", "?": "question_mark"}
    found = re.findall(rf"(?:^|\s)(SPACE|[A-Z0-9?])\s+{re.escape(wish)}", text, re.MULTILINE)
    assert found, f"no key is shown for {wish!r}:\n{text}"
    key = str(found[-1])
    return names.get(key, key.lower())


class Watcher:
    """Reads and presses; sees each cue when it is due."""

    def __init__(self, owner: Owner, voice: GoneVoice) -> None:
        self.owner, self.voice = owner, voice
        self.counts: list[str] = []

    async def look(self) -> str:
        text = await self.owner.see()
        for cue in self.voice.take():
            if cue in COUNTED:
                # The digits of each second are others.
                self.counts.append(digits(text))
                assert len(set(self.counts[-2:])) == len(self.counts[-2:])
                continue
            for sight in SIGHTS.get(cue, (as_shown(cue),)):
                assert sight in flat(text), (cue, text)
        return text

    async def wants(self, wish: str) -> str:
        await self.owner.press(key_shown(await self.look(), wish))
        return await self.look()

    async def until(self, phase: Phase) -> str:
        evening = self.owner.evening
        while evening.phase() not in (phase, *OVER):
            evening.time.now_ns += NS_PER_S // 2
            evening.app.beat()
            await self.look()
        assert evening.phase() is phase
        return await self.look()


def as_shown(cue: str) -> str:
    """Where the voice says "Big key: yes." or "2: yawns." the screen has the key and its word."""
    key, colon, answer = cue.partition(": ")
    if colon and (len(key) == 1 or key == "Big key"):
        return f"{key.replace('Big key', 'SPACE')} {answer.removesuffix('.')}"
    # A question is said with all its answers in one go.
    cue = re.split(r"(?<=\?) ", cue)[0]
    # What can be pressed stands at the foot of the screen.
    for pressed in (" Press to carry on. Twice: all choices. R: more.", " Q: close."):
        cue = cue.removesuffix(pressed)
    return cue


def digits(text: str) -> str:
    return "\n".join(row[:28] for row in text.splitlines()[8:15])


@pytest.fixture
def plan_file(own_world: Path) -> PlanFile:
    """Two dogs and two helpers, no colours, and one session given."""
    for name in ("Juniper", "Barnaby"):
        folder = dog_folder(name)
        folder.mkdir(parents=True)
        text = PLAN.replace("Juniper", name).replace("repeats_allowed = 1", "repeats_allowed = 0")
        (folder / "plan.toml").write_text(text, "utf-8")
    write_household(household_file(), ["Ada", "Bo"])
    found = load_plan(dog_folder("Juniper") / "plan.toml", today=TODAY)
    give_before(found, sessions=1)
    return found


async def test_before_a_session_every_key_is_on_the_screen(plan_file: PlanFile) -> None:
    time = FakeTime()

    def flow() -> Flow[tuple[str, str]]:
        evening, wish = (
            BedEvening(
                wall=lambda: datetime.datetime.combine(TODAY, datetime.time(19)).astimezone()
            ),
            SessionWish(),
        )
        plan = (yield from plan_for(evening, wish)).plan
        by = yield from before_session(evening, wish, plan, session_of(plan).spots)
        return plan.dog.name, by

    app = flow_app(flow(), mono_ns=time)
    async with app.run_test(size=SMALL) as pilot:
        for wish, about in (
            ("Juniper", "Which dog is in front of you?"),
            ("yes", "IS THIS THE DOG IN FRONT OF YOU?"),
            ("Bo", "Who treats today?"),
        ):
            await calm(pilot)
            text = text_of(app)
            assert about in text
            time.now_ns += NS_PER_S
            await pilot.press(key_shown(text, wish))
        await calm(pilot)
    assert app.return_value == ("Juniper", "Bo")


async def test_with_the_device_gone_every_cue_is_seen(
    plan_file: PlanFile, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    time = FakeTime()
    voice = GoneVoice(time)
    evening = tonight(plan_file, voice=voice, time=time)
    async with evening.app.run_test(size=SMALL) as pilot:
        watcher = Watcher(Owner(evening, pilot), voice)
        assert "Take your time. I wait." in await watcher.wants("not yet")
        while (round_ := evening.runner.view().readiness) is not None and not round_.verdict:
            text = await watcher.wants("no" if round_.point.stand == "new" else "yes")
            assert GONE in text
        await watcher.wants("start")
        assert GONE in await watcher.until(Phase.HOLDING)
        await watcher.wants("pause")
        assert "this spot once more" in flat(await watcher.wants("again"))
        await watcher.wants("carry on")
        await watcher.until(Phase.MOVING)
        await watcher.wants("skip")
        await watcher.wants("do not skip")
        await watcher.wants("skip")
        await watcher.wants("I cannot reach it")
        await watcher.until(Phase.HOLDING)
        await watcher.wants("not happy")
        await watcher.wants("yawns")
        assert "It is best to stop now." in await watcher.wants("growls")
        await watcher.wants("STOP")
        await watcher.wants("questions")
        await watcher.wants("warm")
        await watcher.wants("7")
        await watcher.wants("not now")
        await watcher.wants("close")
    assert evening.app.return_value is Phase.STOPPED
    assert evening.outcomes == ["given", "skipped", "cut_short"]
    assert len(watcher.counts) >= 3
    assert all(notice == GONE for notice in notices_of(evening))


def notices_of(evening: Evening) -> list[str]:
    lines = read_journal(evening.runner.path).lines
    found = [str(line["data"]["text"]) for line in lines if line["kind"] == "notice"]
    assert found
    return found

"""The real listening process at a virtual microphone, and the trial that comes before."""

import json
import subprocess
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar

import pytest

from coach.appliance.clock import today
from coach.cli import keys, run
from coach.cli.exits import Exit
from coach.cli.listen import trial
from coach.voice.listener import EarReport, ListeningEar
from coach.voice.phrases import ACTION_OF, PHRASES, Utterance, compound, phrase_of
from tests.voice.corpus import spoken_in_a_row
from tests.voice.sink import SoundServer
from tests.voice.speaking import Voice
from tests.voice.waiting import until

pytestmark = pytest.mark.long

Told = Utterance | EarReport

# One voice, one phrase of each command; tests.voice.corpus has many, to be run by hand.
SPEAKER = Voice("flite", "rms")
FIXED = ("pause session", "carry on please", "go to the next spot", "how much longer")
# The owner speaks to the dog, then to the coach.
TO_THE_DOG = ("stop", "good dog, stay there now")


@pytest.fixture
def ear(server: SoundServer) -> Iterator[ListeningEar]:
    """The listening process; the server has no microphone yet."""
    listening = ListeningEar()
    listening.start()
    yield listening
    listening.close()


def test_no_microphone_then_a_mute_one_then_words(
    ear: ListeningEar, server: SoundServer, tmp_path: Path
) -> None:
    server.plug_in()  # a loudspeaker's monitor is no microphone
    told = until(ear.poll, bool)
    assert [report.kind for report in told if isinstance(report, EarReport)] == ["no_microphone"]
    server.plug_in_microphone()
    told = until(ear.poll, bool)
    # Digital silence: switched off.
    assert [report.kind for report in told if isinstance(report, EarReport)] == ["microphone_mute"]
    said = [*TO_THE_DOG, *FIXED, "stop everything"]
    spoken_in_a_row(SPEAKER, said, tmp_path / "said.wav", noise_db=-46)
    subprocess.run(["paplay", "--device=air", str(tmp_path / "said.wav")], check=True, timeout=60)
    heard = until(
        ear.poll,
        lambda reports: any(
            isinstance(report, Utterance) and phrase_of(report.words) == "stop everything"
            for report in reports
        ),
    )
    assert "microphone_ok" in [report.kind for report in heard if isinstance(report, EarReport)]
    phrases = [phrase_of(report.words) for report in heard if isinstance(report, Utterance)]
    assert [phrase for phrase in phrases if phrase] == [*FIXED, "stop everything"]


# The trial, without sound


@dataclass
class Echo:
    """Hears each phrase as it is asked for, but for what the test wants heard instead."""

    live: ClassVar[bool] = True
    instead: dict[str, tuple[str, ...]] = field(default_factory=dict)
    first: Told = field(default_factory=lambda: EarReport(kind="microphone_ok", notice=""))
    _answers: list[Told] = field(default_factory=list)

    def __post_init__(self) -> None:
        late = 1 << 62  # after any question
        self._answers = [
            self.first,
            *(
                Utterance(
                    words=self.instead.get(phrase, (compound(phrase),)),
                    begins_ns=late,
                    ends_ns=late,
                )
                for same in PHRASES.values()
                for phrase in same
            ),
        ]

    def poll(self) -> Sequence[Told]:
        return [self._answers.pop(0)] if self._answers else []

    def close(self) -> None:
        self._answers = []


def test_a_good_trial_lets_sessions_listen(capsys: pytest.CaptureFixture[str]) -> None:
    assert not keys.settings().listens
    # Another phrase of the same command is as good, and a few may be missed.
    instead = {"stop for today": ("stop_everything",), "pause session": ("paws", "session")}
    assert trial(Echo(instead), say_within_s=0.01) == Exit.DONE
    told = capsys.readouterr().out
    understood, of = len(ACTION_OF) - 1, len(ACTION_OF)
    assert f"{understood} of {of} understood, 0 taken for other commands." in told
    assert "That was no command: paws session" in told
    assert keys.settings().listens
    assert run(["listen", "--off"]) == Exit.DONE
    assert not keys.settings().listens
    # What came of it is kept for the self-check.
    assert keys.settings().problems == ()
    kept = keys.settings().trial
    assert kept is not None
    assert (kept.on, kept.right, kept.wrong, kept.of) == (today(), understood, 0, of)
    capsys.readouterr()
    run(["selfcheck", "--json"])
    (found,) = (
        finding["found"]
        for finding in json.loads(capsys.readouterr().out)["findings"]
        if finding["topic"] == "microphone"
    )
    assert f"tried on {today()}: {understood} of {of} phrases understood" in found
    assert found.endswith("sessions do not listen")


@pytest.mark.parametrize(
    "instead",
    [
        {"take a short break": ("stop_everything",)},  # a command taken for another
        dict.fromkeys(list(ACTION_OF)[:4], ("hello",)),  # too many missed
    ],
)
def test_a_bad_trial_keeps_the_coach_deaf(
    instead: dict[str, tuple[str, ...]], capsys: pytest.CaptureFixture[str]
) -> None:
    assert trial(Echo(instead), say_within_s=0.01) == Exit.ENDED_EARLY
    assert "Better use the keys here." in capsys.readouterr().out
    assert not keys.settings().listens


@pytest.mark.parametrize(
    ("kind", "detail", "told"),
    [
        ("no_microphone", "no microphone is plugged in", "no microphone: no microphone is plugged"),
        ("no_microphone", "8000 Hz are too few; at least 16000 are needed", "8000 Hz are too few"),
        ("microphone_mute", "", "the microphone is mute"),
        ("no_recogniser", "RNNoise is not installed", "RNNoise is not installed"),
    ],
)
def test_without_a_microphone_the_trial_says_why_and_changes_nothing(
    kind: str, detail: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    first = EarReport(kind=kind, notice="x", detail=detail)
    assert trial(Echo(first=first)) == Exit.BAD_INPUT
    output = capsys.readouterr()
    assert told in output.err
    assert "Keys, pedal and button work all the same." in output.out
    assert not keys.settings().listens

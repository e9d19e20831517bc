"""A whole rehearsal in virtual time, spoken into a file, and listened to there."""

import io
import wave
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from coach.journal.journal import read_journal
from coach.lines.line_mode import PlainCoach
from coach.session.cues import every_text
from coach.units import NS_PER_S
from coach.voice.chimes import tone_path
from coach.voice.file_voice import RecordedVoice
from coach.voice.render import Cache
from tests.e2e.virtual import START_NS, FakeTime, Script, runner_for

pytestmark = pytest.mark.long

PLAN = Path(__file__).parents[2] / "plans" / "demo-long-back.toml"
RATE_HZ = 22_050

Sound = npt.NDArray[np.float64]


def sound(path: Path) -> Sound:
    with wave.open(str(path), "rb") as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE_HZ)
        return np.frombuffer(file.readframes(file.getnframes()), dtype="<i2").astype(np.float64)


def share(recording: Sound, tone: Sound, at: int) -> float:
    """How much of ``tone`` is in ``recording`` from ``at`` on: 1 is all of it, whatever else
    sounds there. A shift by a millisecond is a quarter of a period and leaves next to nothing."""
    part = recording[at : at + len(tone)]
    return float(part @ tone[: len(part)] / (tone @ tone))


class Session:
    """A rehearsal of the demo plan with typed words, its recording and its journal."""

    def __init__(self, home: Path, cache: Cache, words: list[tuple[float, str]]) -> None:
        time = FakeTime()
        runner = runner_for(PLAN, home, time, rehearsal=True)
        path = home / "session.wav"
        self.voice = RecordedVoice(path, cache, time)
        runner.voice = self.voice
        assert self.voice.prepare(every_text(runner.machine.spots, laser_button=False)) == {}
        PlainCoach(runner, Script(time, words), io.StringIO()).run()
        runner.close()
        self.sound = sound(path)
        self.lines = read_journal(runner.path).lines

    def at_ns(self, kind: str, **wanted: object) -> list[int]:
        return [
            line["data"]["at_ns"]
            for line in self.lines
            if line["kind"] == kind and wanted.items() <= line["data"].items()
        ]

    def sample(self, at_ns: int) -> int:
        """Where in the recording that is: it begins with the session."""
        return round((at_ns - START_NS) * RATE_HZ / NS_PER_S)


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory, speech: Cache) -> Session:
    return Session(tmp_path_factory.mktemp("recorded"), speech, [])


def test_every_hold_begins_with_its_tone_and_ends_with_its_own(session: Session) -> None:
    tones = {name: sound(tone_path(name)) for name in ("start", "end")}
    begun = session.at_ns("hold_started")
    ended = session.at_ns("hold_ended", reason="complete")
    assert len(begun) == len(ended) > 20
    for name, moments in (("start", begun), ("end", ended)):
        for at_ns in moments:
            found = share(session.sound, tones[name], session.sample(at_ns))
            assert found == pytest.approx(1, abs=0.1), (name, at_ns)


def test_the_listener_of_these_tests_tells_tones_and_moments_apart(session: Session) -> None:
    start, end = (sound(tone_path(name)) for name in ("start", "end"))
    at = session.sample(session.at_ns("hold_started")[0])
    assert share(session.sound, end, at) < 0.7
    assert share(session.sound, start, at + RATE_HZ // 1000) < 0.7
    assert share(session.sound, start, at + RATE_HZ // 2) < 0.7


def test_every_line_sounds_at_its_moment(session: Session) -> None:
    said = [(text, at_ns) for text, _, at_ns in session.voice.said if text]
    assert len(said) > 100
    for text, at_ns in said:
        begins = session.sample(at_ns)
        part = session.sound[begins : begins + round(1.2 * RATE_HZ)]
        # -40 dB of full scale: far below speech, and what is silent there is 0.
        assert np.abs(part).max() > 330, text


def test_the_sum_of_tone_and_words_is_never_clipped(session: Session) -> None:
    assert np.abs(session.sound).max() < 32767 * 10 ** (-1 / 20)


def test_a_stop_is_heard_and_nothing_after_it(tmp_path: Path, speech: Cache) -> None:
    session = Session(tmp_path, speech, [(0.0, ""), (20.0, "stop")])
    (stopped_ns,) = session.at_ns("session_stopped")
    at = session.sample(stopped_ns)
    pause = sound(tone_path("pause"))
    assert share(session.sound, pause, at) == pytest.approx(1, abs=0.1)
    over = session.sound[at + 4 * RATE_HZ :]
    assert not over.any()

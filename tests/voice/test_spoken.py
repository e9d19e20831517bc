"""The real voice on a software sound card: what is really heard, and what is told when it is not.

Nothing here asserts how fast or how late: only order, completeness and overlap.

Longer than other files: every test needs the sound card and the program set up here.
"""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from coach.voice.child_voice import RESTARTS, SpokenVoice
from coach.voice.chimes import tone_path
from coach.voice.render import Cache
from coach.voice.voice_port import VoiceReport
from coach.voice.wav_samples import RATE_HZ, read_wave
from tests.voice.engines import DIES, install_fake
from tests.voice.sink import Ear, SoundServer
from tests.voice.waiting import child_pid, until

NS = 1_000_000_000
LONG = "This spot has had its seconds."
STOPPED = "Stopped. Switch the laser off."
SPEECH = ["Halfway.", "Three.", "Two.", "One.", "Going back.", STOPPED, LONG]

Sound = npt.NDArray[np.float64]


def sound(path: Path) -> Sound:
    return np.array(read_wave(path), dtype=np.float64)


def found(heard: Sound, wanted: Sound) -> tuple[int, float]:
    """Where ``wanted`` fits best, and how well: 1 is the very same."""
    size = 1 << (len(heard) + len(wanted)).bit_length()
    product = np.fft.rfft(heard, size) * np.conj(np.fft.rfft(wanted, size))
    match = np.fft.irfft(product, size)[: len(heard) - len(wanted) + 1]
    at = int(match.argmax())
    energy = np.linalg.norm(heard[at : at + len(wanted)]) * np.linalg.norm(wanted)
    return at, float(match[at] / energy) if energy else 0.0


def is_heard(heard: Sound, wanted: Sound) -> bool:
    return found(heard, wanted)[1] > 0.9


def soon(seconds: float = 1.0) -> int:
    return time.monotonic_ns() + round(seconds * NS)


def say(
    voice: SpokenVoice, text: str, at_ns: int, *, tone: str | None = None, urgent: bool = False
) -> None:
    voice.say(text, at_ns=at_ns, until_ns=at_ns + 5 * NS, urgent=urgent, tone=tone)


def told(voice: SpokenVoice, kind: str, text: str = "") -> list[VoiceReport]:
    """All reports until this one."""

    def there(reports: list[VoiceReport]) -> bool:
        return any(report.kind == kind and text in ("", report.text) for report in reports)

    return until(voice.poll, there)


OPEN: list[SpokenVoice] = []


@pytest.fixture(autouse=True)
def closing() -> Iterator[None]:
    """Whatever a test comes to, no player is left over."""
    yield
    while OPEN:
        OPEN.pop().close()


def voice_of(cache: Cache, *, gain: float = 1.0) -> SpokenVoice:
    """A voice that is closed after the test."""
    voice = SpokenVoice(cache, gain)
    OPEN.append(voice)
    return voice


def ready(cache: Cache, *, gain: float = 1.0) -> SpokenVoice:
    """A voice that has found the loudspeaker."""
    voice = voice_of(cache, gain=gain)
    assert voice.prepare(SPEECH) == {}
    told(voice, "sound_device_ok")
    return voice


def heard_after(ear: Ear, seconds: float) -> Sound:
    return np.array(ear.hear(seconds), dtype=np.float64)


def test_every_cue_is_heard_in_order_without_overlap(room: SoundServer, speech: Cache) -> None:
    voice = ready(speech)
    with room.listen() as ear:
        begin_ns = soon()
        lines = [("", "start"), ("Halfway.", None), ("Three.", None), ("One.", None)]
        for number, (text, tone) in enumerate(lines):
            say(voice, text, begin_ns + number * 3 * NS // 2, tone=tone)
        heard = heard_after(ear, 8)
    names = [report.text for report in voice.poll() if report.kind.endswith("_started")]
    assert names == ["(start)", "Halfway.", "Three.", "One."]
    sounds = [sound(tone_path(tone) if tone else speech.path(text)) for text, tone in lines]
    places = [found(heard, wanted) for wanted in sounds]
    assert [fit > 0.9 for _, fit in places] == [True] * 4, places
    begins = [at for at, _ in places]
    ends = [at + len(wanted) for at, wanted in zip(begins, sounds, strict=True)]
    assert begins == sorted(begins)
    for ends_at, begins_at in zip(ends[:-1], begins[1:], strict=True):
        assert ends_at <= begins_at


def test_words_come_with_their_tone_and_the_tone_cuts_off_what_was_said(
    room: SoundServer, speech: Cache
) -> None:
    voice = ready(speech)
    with room.listen() as ear:
        at_ns = soon()
        say(voice, LONG, at_ns)
        say(voice, "Going back.", at_ns + NS, tone="end")
        heard = heard_after(ear, 5)
    long, tone, words = map(
        sound, (speech.path(LONG), tone_path("end"), speech.path("Going back."))
    )
    begin, fit = found(heard, long[: RATE_HZ * 9 // 10])
    assert fit > 0.9
    alone = round(0.34 * RATE_HZ)
    tone_at, fit = found(heard, tone[:alone])
    assert fit > 0.9
    assert abs(tone_at - begin - RATE_HZ) < RATE_HZ // 10
    rest = heard[tone_at : tone_at + len(tone)] - tone
    assert is_heard(np.concatenate([rest, heard[tone_at + len(tone) :]]), words)
    assert not is_heard(heard, long), "it was cut off"


def test_silence_ends_what_sounds_and_forgets_what_was_to_come(
    room: SoundServer, speech: Cache
) -> None:
    voice = ready(speech)
    sounds: list[tuple[str, int, bool]] = []
    voice.on_sound = lambda *sound: sounds.append(sound)
    with room.listen() as ear:
        at_ns = soon()
        say(voice, LONG, at_ns)
        say(voice, "Halfway.", at_ns + 3 * NS)
        begun = told(voice, "cue_started", LONG)
        voice.silence()
        heard = heard_after(ear, 6)
    # Who listens over the voice is told what sounds, from when on, and that it does no more.
    assert sounds[0] == (str(speech.path(LONG)), begun[-1].onset_ns, False)
    assert [(path, tone) for path, _, tone in sounds[1:]] == [("", False)]
    assert not is_heard(heard, sound(speech.path(LONG)))
    assert not is_heard(heard, sound(speech.path("Halfway.")))
    assert np.abs(heard[-RATE_HZ:]).max() == 0


def test_urgent_words_cut_off_the_rest(room: SoundServer, speech: Cache) -> None:
    voice = ready(speech)
    with room.listen() as ear:
        say(voice, LONG, soon())
        told(voice, "cue_started", LONG)
        say(voice, STOPPED, time.monotonic_ns(), urgent=True)
        heard = heard_after(ear, 7)
    assert is_heard(heard, sound(speech.path(STOPPED)))
    assert not is_heard(heard, sound(speech.path(LONG)))


def test_too_late_is_told_not_said(room: SoundServer, speech: Cache) -> None:
    voice = ready(speech)
    past_ns = time.monotonic_ns() - 10 * NS
    voice.say("Three.", at_ns=past_ns, until_ns=past_ns + NS, urgent=False, tone="start")
    reports = told(voice, "cue_dropped", "Three.")
    dropped = [report for report in reports if report.kind != "output_latency"]
    assert [report.kind for report in dropped] == ["tone_dropped", "cue_dropped"]
    assert all(report.late_ns > 9 * NS for report in dropped)


def test_volume_holds_for_every_sound(room: SoundServer, speech: Cache) -> None:
    voice = ready(speech, gain=0.25)
    with room.listen() as ear:
        say(voice, "Halfway.", soon())
        heard = heard_after(ear, 3)
    full = sound(speech.path("Halfway."))
    assert is_heard(heard, full)
    assert np.abs(heard).max() == pytest.approx(np.abs(full).max() / 4, abs=2)


def test_words_nobody_foresaw_are_rendered_meanwhile(
    room: SoundServer, speech: Cache, tmp_path: Path
) -> None:
    cache = Cache(tmp_path / "empty")
    voice = voice_of(cache)
    voice.prepare([])
    with room.listen() as ear:
        told(voice, "sound_device_ok")
        now_ns = time.monotonic_ns()
        voice.say("Halfway.", at_ns=now_ns, until_ns=now_ns + 60 * NS, urgent=False, tone=None)
        told(voice, "cue_started", "Halfway.")
        heard = heard_after(ear, 4)
    assert is_heard(heard, sound(cache.path("Halfway.")))


def test_words_that_cannot_be_rendered_are_told_and_the_tone_is_heard(
    room: SoundServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    install_fake(tmp_path, monkeypatch)
    voice = voice_of(Cache(tmp_path / "empty"))
    assert list(voice.prepare([DIES])) == [DIES]
    with room.listen() as ear:
        told(voice, "sound_device_ok")
        say(voice, DIES, soon(), tone="start")
        reports = told(voice, "words_not_made", DIES)
        heard = heard_after(ear, 4)
    reports += voice.poll()
    assert "tone_started" in {report.kind for report in reports}
    assert is_heard(heard, sound(tone_path("start")))


def test_a_broken_sound_file_is_one_cue_less(
    room: SoundServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    install_fake(tmp_path, monkeypatch)
    cache = Cache(tmp_path / "speech")
    voice = voice_of(cache)
    assert voice.prepare(["one", "two"]) == {}
    cache.path("one").write_bytes(b"RIFF, but no more than that")
    told(voice, "sound_device_ok")
    say(voice, "one", soon())
    say(voice, "two", soon())
    reports = told(voice, "cue_started", "two")
    assert [report.text for report in reports if report.kind == "cue_dropped"] == ["one"]


def test_the_last_words_are_heard_to_their_end(room: SoundServer, speech: Cache) -> None:
    voice = ready(speech)
    with room.listen() as ear:
        say(voice, STOPPED, time.monotonic_ns(), urgent=True)
        voice.close()
        heard = heard_after(ear, 5)
    assert is_heard(heard, sound(speech.path(STOPPED)))


def test_a_killed_player_is_told_and_replaced(room: SoundServer, speech: Cache) -> None:
    voice = ready(speech)
    say(voice, LONG, soon())
    told(voice, "cue_started", LONG)
    os.kill(child_pid("player_child"), signal.SIGKILL)
    (report,) = (each for each in told(voice, "player_restarted") if each.notice)
    assert report.notice == "SOUND PLAYER STARTED AGAIN: watch the screen"
    # The latency is told beside it, in whatever order they come.
    (back,) = (each for each in told(voice, "sound_device_ok") if each.kind == "sound_device_ok")
    assert back.notice == "", "the notice goes when sound is back"
    with room.listen() as ear:
        say(voice, "Halfway.", soon())
        heard = heard_after(ear, 4)
    assert is_heard(heard, sound(speech.path("Halfway.")))


def test_a_player_that_keeps_dying_is_given_up_and_told(room: SoundServer, speech: Cache) -> None:
    voice = ready(speech)
    for _ in range(RESTARTS):
        os.kill(child_pid("player_child"), signal.SIGKILL)
        told(voice, "player_restarted")
    os.kill(child_pid("player_child"), signal.SIGKILL)
    report = told(voice, "player_lost")[-1]
    assert report.notice == "NO SOUND: the player keeps failing, watch the screen"
    say(voice, "Halfway.", soon())
    voice.silence()
    assert voice.poll() == []


def test_a_player_that_hangs_never_blocks_and_is_replaced(room: SoundServer, speech: Cache) -> None:
    voice = ready(speech)
    stuck = child_pid("player_child")
    os.kill(stuck, signal.SIGSTOP)
    reports: list[VoiceReport] = []
    # More than any pipe holds: would block here for ever if it could.
    for _ in range(2_000):
        say(voice, "Halfway.", soon(0))
        voice.silence()
        reports += voice.poll()
        if any(report.kind == "player_restarted" for report in reports):
            break
    assert "player_restarted" in {report.kind for report in reports}
    assert not Path(f"/proc/{stuck}").exists()
    say(voice, "One.", soon())
    told(voice, "cue_started", "One.")


def test_without_a_loudspeaker_it_is_told_and_found_when_it_comes(
    server: SoundServer, speech: Cache
) -> None:
    voice = voice_of(speech)
    voice.prepare(SPEECH)
    (report,) = told(voice, "no_sound_device")
    assert report.notice == "NO SOUND DEVICE: watch the screen"
    now_ns = time.monotonic_ns()
    voice.say("Three.", at_ns=now_ns, until_ns=now_ns, urgent=False, tone=None)
    told(voice, "cue_dropped", "Three.")
    plugged = server.plug_in()
    (report,) = told(voice, "sound_device_back")
    assert report.notice == ""
    with server.listen() as ear:
        say(voice, "Halfway.", soon())
        heard = heard_after(ear, 4)
    assert is_heard(heard, sound(speech.path("Halfway.")))
    assert not is_heard(heard, sound(speech.path("Three.")))
    voice.poll()
    server.pull_out(plugged)
    assert told(voice, "sound_device_gone")[-1].notice == "SOUND DEVICE GONE: watch the screen"
    server.plug_in("kitchen")
    told(voice, "sound_device_back")


def test_another_loudspeaker_is_taken_without_a_word(room: SoundServer, speech: Cache) -> None:
    voice = ready(speech)
    room.plug_in("kitchen")
    room.ask("set-default-sink", "kitchen")
    with room.listen("kitchen") as ear:
        # As long as it takes until the player has noticed.
        for _ in range(20):
            say(voice, "Halfway.", soon(0.5))
            heard = heard_after(ear, 1.5)
            if is_heard(heard, sound(speech.path("Halfway."))):
                break
    kinds = {report.kind for report in voice.poll()}
    assert is_heard(heard, sound(speech.path("Halfway.")))
    assert kinds - {"output_latency"} == {"cue_started"}


def test_a_sound_server_that_dies_is_told_and_found_again(room: SoundServer, speech: Cache) -> None:
    voice = ready(speech)
    room.kill()
    told(voice, "sound_device_gone")
    room.start()
    room.plug_in()
    told(voice, "sound_device_back")
    say(voice, "One.", soon())
    told(voice, "cue_started", "One.")


def test_the_player_ends_with_its_parent(room: SoundServer, speech: Cache) -> None:
    speech.render(["Halfway."])
    code = (
        "import sys, time; from pathlib import Path\n"
        "from coach.voice.render import Cache; from coach.voice.child_voice import SpokenVoice\n"
        "voice = SpokenVoice(Cache(Path(sys.argv[1]))); voice.prepare([])\n"
        "print(voice._child.pid, flush=True); sys.stdin.read()"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", code, str(speech.folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert parent.stdout is not None
    pid = int(parent.stdout.readline())
    assert Path(f"/proc/{pid}").exists()
    parent.kill()
    parent.communicate()

    def gone() -> list[bool]:
        try:
            # A container's first process may be slow to collect it.
            return [Path(f"/proc/{pid}/stat").read_text().split()[2] == "Z"]
        except OSError:
            return [True]

    until(gone, any)


def without_portaudio(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As where libportaudio2 is not installed: importing sounddevice fails like this there."""
    (folder / "fakes").mkdir()
    (folder / "fakes" / "sounddevice.py").write_text("raise OSError('PortAudio not found')\n")
    monkeypatch.setenv("PYTHONPATH", str(folder / "fakes"))


def test_without_portaudio_a_system_player_is_used(
    room: SoundServer, speech: Cache, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_portaudio(tmp_path, monkeypatch)
    voice = ready(speech)
    with room.listen() as ear:
        say(voice, LONG, soon())
        told(voice, "cue_started", LONG)
        voice.silence()
        say(voice, "", soon(), tone="start")
        say(voice, "Halfway.", soon(3))
        heard = heard_after(ear, 8)
    assert not is_heard(heard, sound(speech.path(LONG))), "silence ends the player"
    places = [found(heard, sound(path)) for path in (tone_path("start"), speech.path("Halfway."))]
    assert [fit > 0.9 for _, fit in places] == [True, True]
    assert places[0] < places[1]


def test_without_any_way_to_play_it_is_told(
    speech: Cache, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    speech.render(SPEECH)
    without_portaudio(tmp_path, monkeypatch)
    monkeypatch.setenv("PATH", str(tmp_path / "nothing here"))
    voice = voice_of(speech)
    assert voice.prepare(SPEECH) == {}
    assert told(voice, "no_sound_device")[-1].notice == "NO SOUND DEVICE: watch the screen"
    say(voice, "Halfway.", soon(-10))
    told(voice, "cue_dropped", "Halfway.")

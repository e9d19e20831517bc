"""The timeline of sounds, held to its rules for any cues and any blocks."""

from array import array
from dataclasses import dataclass

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from coach.voice.audio_outputs import Steadiness
from coach.voice.mixer import AFTER_TONE_NS, FADE, Mixer
from coach.voice.wav_samples import RATE_HZ

NS = 1_000_000_000
BEGIN_NS = 7 * NS
# Distinct levels tell in the mixture who sounds.
TONE, SPEECH = 1_000, 100


def constant(level: int, for_s: float) -> "array[int]":
    return array("h", [level] * round(for_s * RATE_HZ))


@dataclass
class Room:
    """A mixer, what it told, and what it played from BEGIN_NS on."""

    def __post_init__(self) -> None:
        self.told: list[tuple[str, str, int, int]] = []
        self.mixer = Mixer(lambda *words: self.told.append(words))
        self.played = array("h")

    def say(
        self,
        name: str,
        at_s: float,
        *,
        tone_s: float = 0,
        speech_s: float = 0,
        worth_s: float = 1,
        urgent: bool = False,
    ) -> None:
        at_ns = BEGIN_NS + round(at_s * NS)
        self.mixer.add(
            name,
            tone=constant(TONE, tone_s) if tone_s else None,
            speech=constant(SPEECH, speech_s) if speech_s else None,
            at_ns=at_ns,
            until_ns=at_ns + round(worth_s * NS),
            urgent=urgent,
        )

    def play(self, until_s: float, *, frames: int = 551, waver_ns: int = 0) -> None:
        while len(self.played) < until_s * RATE_HZ:
            now_ns = BEGIN_NS + len(self.played) * NS // RATE_HZ + waver_ns
            self.played.extend(self.mixer.block(now_ns, frames))

    def level(self, at_s: float) -> int:
        return self.played[round(at_s * RATE_HZ)]

    def kinds(self, name: str) -> list[str]:
        return [kind for kind, told, _, _ in self.told if told == name]


def test_a_tone_begins_at_its_very_sample_and_words_follow_it() -> None:
    room = Room()
    room.say("hold", 0.5, tone_s=1, speech_s=0.5)
    room.play(2)
    first = next(n for n, level in enumerate(room.played) if level)
    assert abs(first - 0.5 * RATE_HZ) <= 1
    assert room.level(0.5 + 0.2) == TONE
    assert room.level(0.5 + 0.4) == TONE + SPEECH, "words are mixed over the tone"
    assert room.told == [
        ("tone_started", "hold", BEGIN_NS + NS // 2, 0),
        ("cue_started", "hold", BEGIN_NS + NS // 2 + AFTER_TONE_NS, 0),
    ]


def test_words_do_not_begin_on_top_of_the_tone_before_them() -> None:
    room = Room()
    room.say("end of a hold", 0.5, tone_s=1)
    # The words of the move come with the end of the hold, 90 ms later.
    room.say("next", 0.59, speech_s=0.5)
    room.say("much later", 2.0, speech_s=0.5)
    room.play(3)
    (onset_ns,) = [
        at_ns for kind, name, at_ns, _ in room.told if (kind, name) == ("cue_started", "next")
    ]
    assert 350 <= (onset_ns - BEGIN_NS - NS // 2) / 1e6 <= 500
    (late_ns,) = [late for kind, name, _, late in room.told if name == "much later"]
    assert late_ns == 0


def test_speech_waits_for_speech() -> None:
    room = Room()
    room.say("first", 0.1, speech_s=1)
    room.say("second", 0.2, speech_s=1, worth_s=2)
    room.play(3)
    assert max(room.played) == SPEECH, "never two at once"
    assert room.played.count(SPEECH) == 2 * RATE_HZ


def test_speech_that_waited_too_long_is_dropped_not_queued() -> None:
    room = Room()
    room.say("long", 0.1, speech_s=2)
    room.say("late", 0.2, speech_s=1, worth_s=0.5)
    room.play(4)
    assert room.kinds("late") == ["cue_dropped"]
    assert room.level(2.5) == 0


def test_a_tone_is_never_late_for_speech_and_cuts_it_off_softly() -> None:
    room = Room()
    room.say("long", 0.1, speech_s=2)
    room.say("hold", 1.0, tone_s=0.5)
    room.play(3)
    assert room.level(0.9) == SPEECH
    assert room.level(1.02) == TONE
    fall = room.played[RATE_HZ - 5 : RATE_HZ + FADE + 5]
    falling = [level - TONE if level >= TONE else level for level in fall]
    assert falling == sorted(falling, reverse=True)
    assert len(set(falling)) > 20, "a ramp, not a step"


def test_urgent_words_cut_off_everything_and_forget_the_rest() -> None:
    room = Room()
    room.say("tone", 0.1, tone_s=3)
    room.say("long", 0.1, speech_s=3)
    room.say("later", 2, speech_s=1)
    room.play(1)
    began = len(room.played)
    room.say("stopped", 1, speech_s=0.5, urgent=True)
    room.play(4)
    after = room.played[began + FADE :]
    assert after.count(SPEECH) >= 0.5 * RATE_HZ - FADE
    assert max(after) == SPEECH
    assert room.kinds("stopped") == ["cue_started"]
    assert room.kinds("later") == []
    assert room.level(2.5) == 0


def test_what_comes_too_late_is_dropped() -> None:
    room = Room()
    room.say("three", -2, speech_s=0.4, worth_s=1)
    room.say("hold", -2, tone_s=0.4, worth_s=1)
    room.play(1)
    assert room.kinds("three") == ["cue_dropped"]
    assert room.kinds("hold") == ["tone_dropped"]
    assert set(room.played) == {0}


def test_what_comes_a_little_late_is_said_and_told() -> None:
    room = Room()
    room.say("three", -0.5, speech_s=0.4, worth_s=1)
    room.play(1)
    assert room.told == [("cue_started", "three", BEGIN_NS, NS // 2)]


def test_without_a_device_time_passes_unheard() -> None:
    room = Room()
    room.say("gone", 0.5, speech_s=0.4)
    room.say("coming", 5, speech_s=0.4)
    room.mixer.pass_over(BEGIN_NS + 2 * NS)
    assert room.kinds("gone") == ["cue_dropped"]
    room.play(6)
    assert room.kinds("coming") == ["cue_started"]
    assert room.played.count(SPEECH) == round(0.4 * RATE_HZ)


cues = st.lists(
    st.tuples(
        st.floats(0.01, 0.6),  # at, s
        st.sampled_from([0.0, 0.1, 0.4]),  # tone, s
        st.floats(0.02, 0.3),  # speech, s
        st.floats(0.01, 0.5),  # worth saying for, s
    ),
    max_size=6,
)


@given(cues=cues, frames=st.integers(100, 5_000), waver_ns=st.integers(-300_000, 300_000))
def test_for_any_cues_speech_never_overlaps_and_each_is_told_once(
    cues: list[tuple[float, float, float, float]], frames: int, waver_ns: int
) -> None:
    room = Room()
    for n, (at_s, tone_s, speech_s, worth_s) in enumerate(cues):
        room.say(f"cue {n}", at_s, tone_s=tone_s, speech_s=speech_s, worth_s=worth_s)
    room.play(3, frames=frames, waver_ns=waver_ns)
    assert room.mixer.idle
    for n, (_, tone_s, _, _) in enumerate(cues):
        spoken = [kind for kind in room.kinds(f"cue {n}") if kind.startswith("cue")]
        toned = [kind for kind in room.kinds(f"cue {n}") if kind.startswith("tone")]
        assert spoken in (["cue_started"], ["cue_dropped"])
        assert toned == (["tone_started"] if tone_s else [])
    # What fades away under a tone may still touch the words that come with another one.
    overlaps = np.count_nonzero(np.array(room.played) % TONE > SPEECH)
    assert overlaps <= FADE * len(cues)
    for kind, name, onset_ns, late_ns in room.told:
        worth_s = cues[int(name.split()[1])][3]
        if kind.endswith("started"):
            assert 0 <= late_ns <= worth_s * NS + 1
            assert onset_ns >= BEGIN_NS


@given(frames=st.integers(20, 4_000), at_s=st.floats(0, 1))
def test_the_cut_into_blocks_is_not_heard(frames: int, at_s: float) -> None:
    rooms = Room(), Room()
    for room, size in zip(rooms, (frames, 10_000), strict=True):
        room.say("ramp", at_s, speech_s=0.5)
        room.play(1.6, frames=size)
    one, other = (bytes(room.played[: 2 * RATE_HZ]).strip(b"\0") for room in rooms)
    assert one == other


@given(after_s=st.floats(0.2, 0.8), frames=st.integers(100, 3_000))
def test_silence_is_silent_after_a_fade(after_s: float, frames: int) -> None:
    room = Room()
    room.say("long", 0.1, tone_s=1, speech_s=1)
    room.say("later", 0.9, speech_s=1)
    room.play(after_s, frames=frames)
    room.mixer.silence()
    began = len(room.played)
    room.play(3, frames=frames)
    assert set(room.played[began + FADE :]) == {0}
    assert room.mixer.idle


# A device that runs dry


def test_a_steady_device_is_never_called_dry_and_a_dry_one_always() -> None:
    steadiness = Steadiness()
    block, ahead, now = 25_000_000, 70_000_000, BEGIN_NS
    for _ in range(100):
        assert steadiness.asked(now, ahead, block, underflow=False) is None
        now += block
    # Nothing is amiss while what it was given still lasts.
    now += ahead - 1
    assert steadiness.asked(now, ahead, block, underflow=False) is None
    asked = now
    now += ahead + block + 300_000_000
    assert steadiness.asked(now, ahead, block, underflow=False) == (asked, 300_000_000)
    assert steadiness.asked(now + block, ahead, block, underflow=True) == (now, 0)


def test_a_tone_around_which_the_device_ran_dry_is_told_as_not_exact() -> None:
    room = Room()
    room.say("early", 0.2, tone_s=0.1)
    room.say("hold", 1.0, tone_s=0.5)
    room.play(1.2)
    before_ns = BEGIN_NS + NS * 9 // 10
    room.mixer.disturbed(before_ns, 400_000_000)
    assert room.kinds("early") == ["tone_started"]
    assert room.kinds("hold") == ["tone_started", "tone_not_exact"]
    # It is told once.
    room.mixer.disturbed(before_ns, 400_000_000)
    assert room.kinds("hold") == ["tone_started", "tone_not_exact"]

"""Spoken commands by many voices, over noise and barks: how often heard, missed, mistaken.

By hand, and it takes its time:

    python -m tests.voice.corpus                   all voices, speeds and rooms; then other talk
    python -m tests.voice.corpus 1 clean           one speed, one room
    python -m tests.voice.corpus talk 60           an hour of other talk: false alarms
    python -m tests.voice.corpus own               what the coach itself says, and stops over it

The voices are synthetic: espeak-ng (two variants, one family), flite and festival from Debian
(apt install espeak-ng flite festival festvox-kallpc16k festvox-us-slt-hts), whichever is there.
So is the barking. Other talk is Debian's pocketsphinx-testdata (real speech) and these voices
reading the licences of this machine. Try real voices before quoting a rate to an owner.
"""

import re
import shutil
import subprocess
import sys
import tempfile
import wave
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import cycle
from pathlib import Path

import numpy as np
import numpy.typing as npt

from coach.plan.files import load_plan
from coach.plan.spots import spots_of
from coach.session.cues import every_text
from coach.voice.phrases import ACTION_OF, Utterance, phrase_of
from coach.voice.recogniser import FRAME, MICROPHONE_HZ, Chain
from coach.voice.render import Cache
from tests.e2e.virtual import TODAY

Sound = npt.NDArray[np.float64]
FULL = 32_767.0
PLAN = Path(__file__).parents[2] / "plans" / "demo-long-back.toml"
SPEECH_DB = -26.0
SPEEDS = (0.85, 1.0, 1.15)
# Speech over noise in dB; pink, as rooms hum and fans blow.
ROOMS = {"clean": 60.0, "20dB": 20.0, "10dB": 10.0, "barks": 20.0}
BETWEEN_S = 0.9
# A command counts for the phrase that was said last.
DECIDED_WITHIN_S = 1.2


@dataclass(frozen=True, slots=True)
class Voice:
    """A speech engine and one of its voices."""

    engine: str
    name: str

    @property
    def there(self) -> bool:
        """The engine is installed (its voice is then taken for granted)."""
        program = {"espeak": "espeak-ng", "festival": "text2wave"}.get(self.engine, self.engine)
        return shutil.which(program) is not None

    def says(self, text: str, *, speed: float = 1.0) -> Sound:
        """The samples at 48 kHz; speech at :data:`SPEECH_DB`."""
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "said.wav"
            command = {
                "espeak": ["espeak-ng", "-v", self.name, "-s", str(round(160 * speed))],
                "flite": ["flite", "-voice", self.name, "--setf", f"duration_stretch={1 / speed}"],
                "festival": [
                    "text2wave",
                    *("-eval", f"(voice_{self.name})"),
                    *("-eval", f"(Parameter.set 'Duration_Stretch {1 / speed})"),
                ],
            }[self.engine]
            command += {
                "espeak": ["-w", str(path), text],
                "flite": ["-t", text, "-o", str(path)],
                "festival": ["-o", str(path)],
            }[self.engine]
            subprocess.run(command, input=text.encode(), check=True, timeout=120)
            samples = loaded(path)
        return at_level(samples, SPEECH_DB)


VOICES = (
    Voice("espeak", "en-us+m3"),
    Voice("espeak", "en-gb+f2"),
    Voice("flite", "kal16"),
    Voice("flite", "awb"),
    Voice("flite", "rms"),
    Voice("flite", "slt"),
    Voice("festival", "kal_diphone"),
    Voice("festival", "cmu_us_slt_arctic_hts"),
)


def loaded(path: Path) -> Sound:
    """A mono 16-bit WAV at 48 kHz."""
    with wave.open(str(path), "rb") as file:
        rate_hz = file.getframerate()
        samples = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2").astype(np.float64)
    length = len(samples) * MICROPHONE_HZ // rate_hz
    # In the frequency domain: nothing is invented above what was there.
    spectrum = np.zeros(length // 2 + 1, dtype=np.complex128)
    known = np.fft.rfft(samples)[: len(spectrum)]
    spectrum[: len(known)] = known
    slower: Sound = np.fft.irfft(spectrum, length) * length / len(samples)
    return slower


def at_level(sound: Sound, decibels: float) -> Sound:
    """``sound`` with an RMS of so many dB of full scale."""
    rms = float(np.sqrt(np.mean(sound**2)))
    return sound * (FULL * 10 ** (decibels / 20) / rms)


def pink(length: int, dice: np.random.Generator) -> Sound:
    """Noise with as much power in each octave."""
    spectrum = np.fft.rfft(dice.normal(size=length))
    spectrum[1:] /= np.sqrt(np.arange(1, len(spectrum)))
    noise: Sound = np.fft.irfft(spectrum, length)
    return noise


def bark(dice: np.random.Generator) -> Sound:
    """Something like a bark: a fifth of a second, falling, rich in overtones, noisy."""
    t = np.arange(MICROPHONE_HZ // 5) / MICROPHONE_HZ
    pitch_hz = dice.uniform(300, 800) * np.exp(-2 * t)
    turn = 2 * np.pi * np.cumsum(pitch_hz) / MICROPHONE_HZ
    voice = sum(np.sin(n * turn) / n for n in range(1, 9)) + 0.3 * dice.normal(size=len(t))
    swell = np.minimum(1, t / 0.02) * np.exp(-12 * t)
    sound: Sound = voice * swell
    return sound


def in_a_room(sounds: Sequence[Sound], room: str) -> tuple[Sound, list[int]]:
    """``sounds`` one after the other; the samples, and where each ends."""
    dice = np.random.default_rng(1)
    silence = np.zeros(round(BETWEEN_S * MICROPHONE_HZ))
    parts, ends, at = [silence], [], len(silence)
    for sound in sounds:
        parts += [sound, silence]
        ends.append(at + len(sound))
        at += len(sound) + len(silence)
    whole = np.concatenate([*parts, silence])
    whole = whole + at_level(pink(len(whole), dice), SPEECH_DB - ROOMS[room])
    if room == "barks":
        for at in range(0, len(whole) - MICROPHONE_HZ, MICROPHONE_HZ):
            one = at_level(bark(dice), SPEECH_DB - 10)
            begins = at + int(dice.integers(MICROPHONE_HZ // 2))
            whole[begins : begins + len(one)] += one
    return whole, ends


def heard_in(whole: Sound, chain: Chain) -> Iterator[Utterance]:
    """What the chain hears; time counts from the begin of ``whole``."""
    for at in range(0, len(whole), 10 * FRAME):
        part = whole[at : at + 10 * FRAME]
        yield from chain.feed(part, (at + len(part)) * 1_000_000_000 // MICROPHONE_HZ)


def spoken_in_a_row(voice: Voice, texts: Sequence[str], path: Path, *, noise_db: float) -> None:
    """One voice says ``texts`` into a WAV file, over pink noise of so many dB of full scale."""
    whole, _ = in_a_room([voice.says(text) for text in texts], "clean")
    whole = whole + at_level(pink(len(whole), np.random.default_rng(2)), noise_db)
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, MICROPHONE_HZ, 0, "NONE", ""))
        file.writeframes(whole.clip(-FULL, FULL).astype("<i2").tobytes())


def commands(voice: Voice, speed: float, room: str) -> tuple[int, int, list[str]]:
    """Hits, wrong commands, and the phrases that were missed with what was heard."""
    phrases = list(ACTION_OF)
    whole, ends = in_a_room([voice.says(phrase, speed=speed) for phrase in phrases], room)
    heard: list[list[Utterance]] = [[] for _ in phrases]
    late = round(DECIDED_WITHIN_S * MICROPHONE_HZ)
    for utterance in heard_in(whole, Chain()):
        at = utterance.ends_ns * MICROPHONE_HZ // 1_000_000_000
        which = sum(end + late < at for end in ends)
        heard[min(which, len(phrases) - 1)].append(utterance)
    hits, wrong, missed = 0, 0, []
    for phrase, utterances in zip(phrases, heard, strict=True):
        found = [known for each in utterances if (known := phrase_of(each.words))]
        wrong += sum(ACTION_OF[known] != ACTION_OF[phrase] for known in found)
        if found and all(ACTION_OF[known] == ACTION_OF[phrase] for known in found):
            hits += 1
        else:
            missed.append(f"{phrase}: {[' '.join(each.words) for each in utterances]}")
    return hits, wrong, missed


def all_commands(speeds: Iterable[float], rooms: Iterable[str]) -> None:
    """Print a line for each room and voice."""
    voices = [voice for voice in VOICES if voice.there]
    for room in rooms:
        hits = wrong = said = 0
        for voice in voices:
            for speed in speeds:
                right, mistaken, missed = commands(voice, speed, room)
                hits, wrong, said = hits + right, wrong + mistaken, said + len(ACTION_OF)
                line = f"{room} {voice.engine} {voice.name} x{speed}: {right}/{len(ACTION_OF)}"
                print(line, *missed, sep="\n    ", flush=True)
        print(f"{room}: hit {100 * hits / said:.1f} % of {said}, wrong {wrong}", flush=True)


def other_talk(minutes: float) -> None:
    """Print the commands that are heard where nobody says one."""
    real = [loaded(path) for path in sorted(Path("/usr/share/pocketsphinx").rglob("*.wav"))]
    texts = sorted(Path("/usr/share/common-licenses").glob("*"))
    sentences = [
        sentence
        for path in texts
        for sentence in re.findall(r"[A-Za-z][A-Za-z ,]{20,120}", path.read_text(errors="replace"))
    ]
    voices = cycle([voice for voice in VOICES if voice.there])
    chain, heard_s, alarms = Chain(), 0.0, 0
    for number, voice in enumerate(voices):
        if heard_s > 60 * minutes:
            break
        said = sentences[number * 4 % len(sentences) :][:4]
        sounds = [real[number]] if number < len(real) else [voice.says(text) for text in said]
        whole, _ = in_a_room(sounds, "20dB")
        heard_s += len(whole) / MICROPHONE_HZ
        for utterance in heard_in(whole, chain):
            phrase = phrase_of(utterance.words)
            if phrase is not None:
                alarms += 1
                print(f"false alarm: {phrase} in {said}", flush=True)
    print(f"other talk: {alarms} false alarms in {heard_s / 3600:.2f} h", flush=True)


def over_the_coach() -> None:
    """Print what is heard of the coach's own cues, and of stops said over them.

    What counts is stop: while the coach speaks nothing else is obeyed.
    """
    with tempfile.TemporaryDirectory() as folder:
        cache = Cache(Path(folder))
        cues = every_text(spots_of(load_plan(PLAN, today=TODAY).plan), laser_button=True)
        cache.render(cues)
        own = [at_level(loaded(cache.path(cue)), SPEECH_DB) for cue in cues]
    whole, _ = in_a_room(own, "clean")
    heard = [found for each in heard_in(whole, Chain()) if (found := phrase_of(each.words))]
    print(f"{len(own)} cues of the coach: taken for {heard or 'no command'}", flush=True)
    stops = [phrase for phrase, action in ACTION_OF.items() if action == "stop"]
    said = [voice.says(phrase) for voice in VOICES if voice.there for phrase in stops]
    for louder_db in (10, 0):
        mixed: list[Sound] = []
        for number, stop in enumerate(said):
            below = at_level(own[7 * number % len(own)], SPEECH_DB - louder_db)
            both = np.zeros(max(len(stop), len(below)))
            both[: len(below)] += below
            both[: len(stop)] += stop
            mixed.append(both)
        whole, _ = in_a_room(mixed, "clean")
        heard = [found for each in heard_in(whole, Chain()) if (found := phrase_of(each.words))]
        right = sum(ACTION_OF[found] == "stop" for found in heard)
        print(
            f"{len(mixed)} stops over cues, {louder_db} dB louder: {right} heard, "
            f"{len(heard) - right} taken for others",
            flush=True,
        )


def main(words: Sequence[str]) -> None:
    """See the module."""
    if words[:1] == ["talk"]:
        other_talk(float(words[1]))
        return
    if words[:1] == ["own"]:
        over_the_coach()
        return
    speeds = (float(words[0]),) if words else SPEEDS
    all_commands(speeds, words[1:] or ROOMS)
    if not words:
        other_talk(180.0)


if __name__ == "__main__":
    main(sys.argv[1:])

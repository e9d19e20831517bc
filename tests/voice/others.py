"""Sounds in which nobody speaks to the coach: for false alarms, see :mod:`tests.voice.corpus`.

All of it is an endless stream of labelled sounds at 48 kHz. Synthetic but for Debian's
pocketsphinx-testdata (real speech, read) and asc-music (instrumental, played by machine).
"""

import re
import subprocess
import tempfile
from collections.abc import Callable, Iterator, Mapping
from itertools import cycle
from pathlib import Path

import numpy as np

from coach.voice.recogniser import MICROPHONE_HZ
from tests.voice.speaking import SPEECH_DB, VOICES, Sound, at_level, bark, joined, loaded

Labelled = Iterator[tuple[str, Sound]]

# What an owner says to a dog while a session runs, or to somebody in the room; some of it begins
# or ends like a phrase of the coach. Made up; common practice, no source.
TO_THE_DOG = (
    "stop",
    "stop now",
    "stop it",
    "stop that bella",
    "no stop now",
    "stop stop stop",
    "will you stop it",
    "sit",
    "sit down",
    "stay",
    "stay there now",
    "wait",
    "wait a moment bella",
    "good dog",
    "good girl lie down",
    "lie down please",
    "give me your paw",
    "paws off",
    "come here now",
    "go to your bed",
    "go on then",
    "carry on bella",
    "next one please bella",
    "once more bella",
    "say hello",
    "that is everything",
    "how much do you want",
    "leave it now",
    "the session is nearly over",
    "we stop in a moment",
    "I will pause it for you",
)

# What an owner may say instead of the phrases that are shown. Nothing should come of it, or what
# was meant; least of all a stop. Made up; common practice, no source.
OTHERWISE = (
    "stop the session",
    "end the session",
    "finish the session",
    "stop the laser",
    "stop here please",
    "pause",
    "pause now",
    "pause please",
    "pause the laser",
    "take a break",
    "break please",
    "resume the session",
    "start the session",
    "continue please",
    "carry on",
    "go on please",
    "next",
    "next one please",
    "this spot once more",
    "repeat the spot please",
    "how long",
    "what did you say",
)


def _there() -> list[int]:
    return [number for number, voice in enumerate(VOICES) if voice.there]


def reading() -> Labelled:
    """Four sentences by one voice after the other; between them, at first, real speech."""
    real = [loaded(path) for path in sorted(Path("/usr/share/pocketsphinx").rglob("*.wav"))]
    sentences = [
        sentence
        for path in sorted(Path("/usr/share/common-licenses").glob("*"))
        for sentence in re.findall(r"[A-Za-z][A-Za-z ,]{20,120}", path.read_text(errors="replace"))
    ]
    for number, which in enumerate(cycle(_there())):
        said = sentences[number * 4 % len(sentences) :][:4]
        if number < len(real):
            yield "real speech", real[number]
        else:
            yield "; ".join(said), joined([VOICES[which].says(text) for text in said])


def two_at_once() -> Labelled:
    """Two voices read different things at the same time, one up to 6 dB weaker."""
    dice = np.random.default_rng(3)
    one, other = reading(), reading()
    for _ in range(37):
        next(other)
    for (said, sound), (below, weaker) in zip(one, other, strict=False):
        length = max(len(sound), len(weaker))
        both = np.zeros(length)
        both[: len(sound)] += sound
        both[: len(weaker)] += weaker * 10 ** (-dice.uniform(0, 6) / 20)
        yield f"{said} / {below}", both


def to_the_dog() -> Labelled:
    """Words to the dog by every voice, at three speeds; then it ends."""
    for which in _there():
        for speed in (0.85, 1.0, 1.15):
            sounds = [VOICES[which].says(text, speed=speed) for text in TO_THE_DOG]
            yield f"{VOICES[which].name} to the dog", joined(sounds)


def otherwise() -> Labelled:
    """Commands in other words by every voice, at three speeds in turn; then it ends."""
    speeds = cycle((0.85, 1.0, 1.15, 1.0))
    for text in OTHERWISE:
        for which, speed in zip(_there(), speeds, strict=False):
            sound = VOICES[which].says(text, speed=speed)
            yield f"{text}, {VOICES[which].name} x{speed}", joined([sound])


def barking() -> Labelled:
    """A dog that barks without end, once in half a second to two seconds."""
    dice = np.random.default_rng(4)
    while True:
        parts = []
        for _ in range(20):
            parts += [bark(dice), np.zeros(int(dice.uniform(0.3, 1.8) * MICROPHONE_HZ))]
        yield "barks", at_level(np.concatenate(parts), SPEECH_DB)


def music() -> Labelled:
    """Ten seconds of real pieces, where installed, and of chords with a tune in turn."""
    dice = np.random.default_rng(5)
    pieces = cycle(sorted(Path("/usr/share/games/asc").rglob("*.mp3")) or [None])
    while True:
        yield "chords and a tune", at_level(_tune(dice), SPEECH_DB)
        piece = next(pieces)
        if piece is not None:
            whole = _played(piece)
            for at in range(0, len(whole) - MICROPHONE_HZ, 30 * MICROPHONE_HZ):
                part = whole[at : at + 30 * MICROPHONE_HZ]
                if np.any(part):
                    yield piece.name, at_level(part, SPEECH_DB)


def _played(piece: Path) -> Sound:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "piece.wav"
        subprocess.run(["mpg123", "-q", "-m", "-w", str(path), str(piece)], check=True, timeout=120)
        return loaded(path)


def _tune(dice: np.random.Generator) -> Sound:
    """A chord a second with a tune of quarter seconds above it, ten seconds long."""
    chords = ((0, 4, 7), (5, 9, 12), (7, 11, 14), (9, 12, 16))
    whole = np.zeros(10 * MICROPHONE_HZ)
    key_hz = dice.uniform(110, 220)

    def play(begin_s: float, length_s: float, steps: float, loud: float) -> None:
        t = np.arange(round(length_s * MICROPHONE_HZ)) / MICROPHONE_HZ
        hz = key_hz * 2 ** (steps / 12)
        note = sum(np.sin(2 * np.pi * n * hz * t) / n**1.5 for n in range(1, 8))
        at = round(begin_s * MICROPHONE_HZ)
        whole[at : at + len(t)] += loud * note * np.exp(-2 * t / length_s)

    for second in range(10):
        chord = chords[dice.integers(len(chords))]
        for step in chord:
            play(second, 1.0, step, 0.5)
        for quarter in range(4):
            play(second + quarter / 4, 0.25, chord[dice.integers(3)] + 12, 1.0)
    return whole


OTHERS: Mapping[str, Callable[[], Labelled]] = {
    "talk": reading,
    "two": two_at_once,
    "dog": to_the_dog,
    "otherwise": otherwise,
    "barks": barking,
    "music": music,
}

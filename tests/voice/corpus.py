"""Spoken commands by many voices, over noise and barks: how often heard, missed, mistaken.

By hand, and it takes its time:

    python -m tests.voice.corpus                   all voices, speeds and rooms; then the others
    python -m tests.voice.corpus 1 clean           one speed, one room; or either alone
    python -m tests.voice.corpus talk 60           an hour of other talk: false alarms
    python -m tests.voice.corpus talk 60 120       the hour after it
    python -m tests.voice.corpus two 60            two people talk at the same time
    python -m tests.voice.corpus dog               words to the dog, by every voice
    python -m tests.voice.corpus otherwise         commands in words that are no phrases
    python -m tests.voice.corpus barks 30          nothing but barks
    python -m tests.voice.corpus music 60          music in the room
    python -m tests.voice.corpus own               what the coach itself says, and stops over it
    python -m tests.voice.corpus own alone 10 -6   the coach alone; stops 10 dB louder, 6 dB weaker

The voices are in :mod:`tests.voice.speaking`, the others in :mod:`tests.voice.others`: synthetic,
for the most part. Try real voices before quoting a rate to an owner.
"""

import sys
import wave
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import numpy as np

from coach.voice.phrases import ACTION_OF, Utterance, phrase_of
from coach.voice.recogniser import FRAME, MICROPHONE_HZ, Chain
from tests.voice.others import OTHERS
from tests.voice.speaking import (
    BETWEEN_S,
    FULL,
    SPEECH_DB,
    VOICES,
    Sound,
    Voice,
    at_level,
    bark,
    pink,
)

SPEEDS = (0.85, 1.0, 1.15)
# Speech over noise in dB; pink, as rooms hum and fans blow.
ROOMS = {"clean": 60.0, "20dB": 20.0, "10dB": 10.0, "barking": 20.0}
# A command counts for the phrase that was said last.
DECIDED_WITHIN_S = 1.2
# How long each of the others is listened to; words to the dog end by themselves.
MINUTES = {"talk": 180.0, "two": 60.0, "dog": 60.0, "otherwise": 60.0, "barks": 30.0, "music": 60.0}
# How often that tells how far it is.
TELL_EVERY_S = 300.0


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
    if room == "barking":
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


def false_alarms(kind: str, minutes: float, after: float = 0.0) -> None:
    """Print the commands that are heard where nobody says one, from minute ``after`` to
    ``minutes`` of the sound of a kind; every few minutes, how far it is."""
    chain, at_s, heard_s, alarms = Chain(), 0.0, 0.0, 0
    for what, sound in OTHERS[kind]():
        whole, _ = in_a_room([sound], "20dB")
        length_s = len(whole) / MICROPHONE_HZ
        at_s += length_s
        if at_s <= 60 * after:
            continue
        before_s, heard_s = heard_s, heard_s + length_s
        for utterance in heard_in(whole, chain):
            phrase = phrase_of(utterance.words)
            if phrase is not None:
                alarms += 1
                print(f"minute {at_s / 60:.1f}: false alarm: {phrase} in {what}", flush=True)
        if before_s // TELL_EVERY_S < heard_s // TELL_EVERY_S:
            print(f"minute {at_s / 60:.1f}: {alarms} in {heard_s / 3600:.2f} h", flush=True)
        if at_s > 60 * minutes:
            break
    print(f"{kind}: {alarms} false alarms in {heard_s / 3600:.2f} h", flush=True)


def main(words: Sequence[str]) -> None:
    """See the module."""
    if words and words[0] in OTHERS:
        *after, until = [float(word) for word in words[1:]] or [MINUTES[words[0]]]
        false_alarms(words[0], until, *after)
        return
    if words[:1] == ["own"]:
        from tests.voice.over_the_coach import over_the_coach

        levels_db = [float(word) for word in words[1:] if word != "alone"]
        if words[1:]:
            over_the_coach(levels_db, alone="alone" in words)
        else:
            over_the_coach()
        return
    rooms = [word for word in words if word in ROOMS]
    speeds = [float(word) for word in words if word not in ROOMS]
    all_commands(speeds or SPEEDS, rooms or ROOMS)
    if not words:
        for kind, minutes in MINUTES.items():
            false_alarms(kind, minutes)


if __name__ == "__main__":
    main(sys.argv[1:])

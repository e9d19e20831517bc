"""``python -m tests.voice.corpus own``: the coach's own cues, and stops that are said over them."""

import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from coach.plan.files import load_plan
from coach.plan.spots import spots_of
from coach.session.cues import every_text
from coach.voice.phrases import ACTION_OF, phrase_of
from coach.voice.recogniser import MICROPHONE_HZ, Chain
from coach.voice.render import Cache
from tests.e2e.virtual import TODAY
from tests.voice.rooms import NS_PER_S, Evening, Room
from tests.voice.speaking import VOICES, Sound, Voice

PLANS = sorted((Path(__file__).parents[2] / "plans").glob("demo-*.toml"))
STOPS = tuple(phrase for phrase, action in ACTION_OF.items() if action == "stop")
# The coach has said a few cues before anybody stops it; then over every second one.
BEFORE = 4
AT_LEVELS_DB = (10.0, 0.0, -6.0, -10.0)
ROOMS = 2
ALONE_AT_ONCE = 20
LATE_NS = NS_PER_S * 3 // 2


def own_texts() -> list[str]:
    """All that the coach says with the demo plans."""
    texts = [
        text
        for plan in PLANS
        for text in every_text(spots_of(load_plan(plan, today=TODAY).plan), laser_button=True)
    ]
    return list(dict.fromkeys(texts))


def files_of(cache: Cache, texts: Sequence[str]) -> list[Path]:
    """The spoken texts."""
    cache.render(texts)
    return [cache.path(text) for text in texts]


def spoken(voice: Voice, phrase: str) -> Sound:
    """The phrase without the silence around it."""
    sound = voice.says(phrase)
    loud = np.flatnonzero(abs(sound) > 200)
    return sound[loud[0] : loud[-1]]


def stops_heard(evening: Evening) -> tuple[set[int], list[str]]:
    """Over which cues a stop was heard in time, and what else was taken for a stop."""
    heard: set[int] = set()
    wrong = []
    for utterance in evening.heard_by(Chain()):
        phrase = phrase_of(utterance.words)
        if phrase is None or ACTION_OF[phrase] != "stop":
            continue
        over = [
            number
            for number, (text, ends_ns) in enumerate(evening.said)
            if text and utterance.begins_ns < ends_ns < utterance.ends_ns + LATE_NS
        ]
        heard.update(over[:1])
        if not over:
            wrong.append(phrase)
    return heard, wrong


def with_stops(room: Room, cues: Sequence[Path], said: Sequence[tuple[str, Sound]]) -> Evening:
    """An evening in ``room`` in which each of ``said`` comes over a cue that is no shorter."""
    dice = np.random.default_rng(room.number)
    chosen = [cues[int(n)] for n in dice.integers(len(cues), size=BEFORE)]
    over: list[tuple[str, Sound] | None] = [None] * BEFORE
    for phrase, sound in said:
        shortest = len(sound) * 2 * 22_050 // MICROPHONE_HZ
        long_enough = [cue for cue in cues if cue.stat().st_size > shortest * 11 // 10]
        chosen.append(long_enough[int(dice.integers(len(long_enough)))])
        chosen.append(cues[int(dice.integers(len(cues)))])
        over += [(phrase, sound), None]
    return room.evening(chosen, over)


def over_the_coach(levels_db: Sequence[float] = AT_LEVELS_DB, *, alone: bool = True) -> None:
    """Print what is taken for a stop when the coach alone speaks, and how many stops are heard of
    an owner who is so much louder."""
    with tempfile.TemporaryDirectory() as folder:
        cues = files_of(Cache(Path(folder)), own_texts())
        if alone:
            _the_coach_alone(cues)
        said = [
            (phrase, spoken(voice, phrase)) for voice in VOICES if voice.there for phrase in STOPS
        ]
        for louder_db in levels_db:
            right = of = 0
            wrong: list[str] = []
            for number in range(ROOMS):
                evening = with_stops(Room(number=number, louder_db=louder_db), cues, said)
                heard, more = stops_heard(evening)
                right, of, wrong = right + len(heard), of + len(said), wrong + more
                print(f"{louder_db:+.0f} dB: {right} of {of}, elsewhere {wrong}", flush=True)
            print(
                f"stops over cues, {louder_db:+.0f} dB: {right} of {of} heard, "
                f"elsewhere {wrong or 'none'}",
                flush=True,
            )


def _the_coach_alone(cues: Sequence[Path]) -> None:
    wrong: list[str] = []
    for number, at in enumerate(range(0, len(cues), ALONE_AT_ONCE)):
        some = cues[at : at + ALONE_AT_ONCE]
        evening = Room(number=number, louder_db=0.0).evening(some, [None] * len(some))
        wrong += stops_heard(evening)[1]
        print(f"{at + len(some)} cues alone: {wrong}", flush=True)
    print(f"{len(cues)} cues alone: taken for {wrong or 'no stop'}", flush=True)

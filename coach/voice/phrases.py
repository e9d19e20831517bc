"""What may be said to the coach, and what is taken for a command. Pure.

A command is a whole phrase of two words or more: single words are said to the dog all day long.
Each phrase is one word of the recogniser's language and half of all probability is theirs; common
words, the phrases' own words, and how the phrases begin compete with them for the other half, so
that other talk becomes other words. What is not one phrase and nothing else is not a command.

The phrases are English, as the recogniser is; they are not translated.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from importlib.resources import files

from coach.session import commands as cmd

NS_PER_S = 1_000_000_000

# Giving a spot once more, and starting a session, stay with the hand: a misheard word must never
# add a dose. Neither "pause for now" nor "stop now": short and near each other, one was taken for
# the other over noise, and the second is said to dogs. Nor "carry on now", which was heard where
# only a dog was spoken to, and would start a hold. "session" is in the phrases of one action only:
# slowly said, "pause the session" was taken for "stop the session", and "resume the session" is as
# near; who says that all the same gets a pause or nothing. "pause" and "carry_on" are what the one
# key means; the others are ids of actions.
PHRASES: Mapping[str, tuple[str, ...]] = {
    "pause": ("pause the session", "pause session", "take a short break"),
    "carry_on": ("carry on please", "resume from here", "let us carry on"),
    "go": ("next spot please", "go to the next spot"),
    "say": (
        "say that again",
        "repeat that please",
        "once more please",
        "time left please",
        "how long is left",
        "how much longer",
    ),
    "stop": ("stop everything", "stop for today", "finish for today"),
}
COMMANDS: Mapping[str, Callable[[], cmd.Command]] = {
    "pause": cmd.Pause,
    "carry_on": cmd.CarryOn,
    "go": cmd.Go,
    "say": cmd.Say,
    "stop": cmd.Stop,
}
ACTION_OF: Mapping[str, str] = {
    phrase: action for action, phrases in PHRASES.items() for phrase in phrases
}

# After the coach has spoken, its words still sound in the room.
ECHO_NS = 2 * NS_PER_S // 5


def compound(phrase: str) -> str:
    """``phrase`` as one word of the recogniser."""
    return phrase.replace(" ", "_")


def common_words() -> list[str]:
    """The words that compete with the phrases."""
    text = (files("coach.voice") / "common-words.txt").read_text(encoding="ascii")
    return [line for line in text.splitlines() if line and not line.startswith("#")]


def other_words() -> list[str]:
    """All single words: the common ones, and those of the phrases."""
    own = (word for phrase in ACTION_OF for word in phrase.split())
    return list(dict.fromkeys([*common_words(), *own]))


def beginnings() -> list[str]:
    """How the phrases begin, in two words or more: to a dog, "carry on" goes on otherwise."""
    begun = (
        " ".join(words[:count])
        for words in map(str.split, ACTION_OF)
        for count in range(2, len(words))
    )
    return [each for each in dict.fromkeys(begun) if each not in ACTION_OF]


def language_model(others: Iterable[str]) -> str:
    """The unigrams in the format of ARPA: half for the phrases, a quarter each for how they begin
    and for ``others``."""
    shares = (
        (0.5, [compound(phrase) for phrase in ACTION_OF]),
        (0.25, [compound(begun) for begun in beginnings()]),
        (0.25, list(others)),
    )
    each = [(word, share / len(words)) for share, words in shares for word in words]
    lines = [f"{math.log10(share):.4f}\t{word}" for word, share in each]
    return "\n".join(
        [
            "\\data\\",
            f"ngram 1={len(lines) + 2}",
            "",
            "\\1-grams:",
            "-99.0\t<s>",
            f"{math.log10(0.5):.4f}\t</s>",
            *lines,
            "",
            "\\end\\",
            "",
        ]
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Utterance:
    """A stretch of speech and what the recogniser takes it for.

    Attributes:
        words: of the best hypothesis; a phrase is one word, see :func:`compound`.
        begins_ns: by the monotonic clock.
        ends_ns: by the monotonic clock.
    """

    words: tuple[str, ...]
    begins_ns: int
    ends_ns: int


def phrase_of(words: Iterable[str]) -> str | None:
    """The phrase, if the whole hypothesis is one phrase and nothing else."""
    listed = list(words)
    if len(listed) != 1:
        return None
    phrase = listed[0].replace("_", " ")
    return phrase if phrase in ACTION_OF else None

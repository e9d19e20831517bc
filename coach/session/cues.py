"""What is said and when it is worth saying: cues as data, and their words.

At most eight words a cue, the words that matter last, "spot" and never "site", no count but
the last three seconds. Left and right are the dog's.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

from coach.body import region
from coach.body.position import Position
from coach.body.regions import Side
from coach.plan.spots import Spot
from coach.units import NS_PER_S, ceil_s

Tone = Literal["start", "end", "pause"]

HALFWAY_FROM_NS = 10 * NS_PER_S
COUNT_FROM_NS = 8 * NS_PER_S
COUNTED_S = (3, 2, 1)

ASPECT_WORDS = {
    "lateral": "outside",
    "medial": "inside",
    "cranial": "front",
    "caudal": "back face",
    "dorsal": "front",
    "palmar": "underside",
    "plantar": "underside",
}
SIDE_WORDS = {"left": "left", "middle": "middle", "right": "right"}
NUMBER_WORDS = (
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
    "twenty",
)

# Left lateral recumbency is left side DOWN: owners hear which side comes up.
BEGIN_WORDS: dict[Position, str] = {
    "sternal": "Begin with the dog on its chest.",
    "standing": "Begin with the dog standing.",
    "left lateral": "Begin with the dog's right side up.",
    "right lateral": "Begin with the dog's left side up.",
}
TURN_WORDS: dict[Position, str] = {
    "sternal": "Turn the dog: onto its chest.",
    "standing": "Turn the dog: let it stand.",
    "left lateral": "Turn the dog: right side up.",
    "right lateral": "Turn the dog: left side up.",
}
_UP: dict[Position, Side] = {"left lateral": "right", "right lateral": "left"}
NEAR = "The side nearest you."
FAR = "The far side."
ON_TOP = "The side nearest you, on top."
UNDERNEATH = "The far side, underneath."

HOLD = "Hold."
HOLD_BUTTON = "Start the laser. Hold."
HALFWAY = "Halfway."
PAUSED = "Paused. Lift the laser off."
NOTHING_LEFT = "This spot has had its seconds."
PRESS_WHEN_READY = "Press when ready."
SKIPPED = "Skipped."
ONCE_MORE = "Once more, from the beginning."
GOING_BACK = "Going back."
STOPPED = "Stopped. Switch the laser off."
LOG_LOST = "Log lost. Switch the laser off."
FINISHED = "All done. Switch the laser off."


class Priority(IntEnum):
    """Who may cut off whom: a higher one silences a lower one."""

    COUNT = 0
    ROUTINE = 1
    URGENT = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """One spoken line, a tone, or both.

    ``at_ns`` may lie ahead: whoever plays it can line it up exactly. After ``until_ns`` it is
    no longer worth saying and is dropped.
    """

    text: str
    at_ns: int
    until_ns: int
    priority: Priority = Priority.ROUTINE
    tone: Tone | None = None

    def __post_init__(self) -> None:
        if self.until_ns < self.at_ns:
            raise ValueError(f"cue {self.text!r} ends before it begins")
        if not self.text and self.tone is None:
            raise ValueError("a cue needs words or a tone")


def number_word(number: int) -> str:
    """Small numbers as words, which voices and recognisers handle best."""
    return NUMBER_WORDS[number] if number < len(NUMBER_WORDS) else str(number)


def place_text(spot: Spot) -> str:
    """Where the spot is: ``Lower back, left, spot two.``"""
    place = region(spot.region)
    if place.kind == "limb":
        words = f"{SIDE_WORDS[spot.side]} {place.spoken}"
        if spot.aspect is not None:
            words += f", {ASPECT_WORDS.get(spot.aspect, spot.aspect)}"
    else:
        words = f"{place.spoken}, {SIDE_WORDS[spot.side]}"
    if spot.of > 1:
        words += f", spot {number_word(spot.number)}"
    return f"{words[0].upper()}{words[1:]}."


def next_text(before: Spot | None, spot: Spot) -> str:
    """What to say on the way to ``spot``: less when only the number changes."""
    if (
        before is not None
        and (before.region, before.side, before.aspect) == (spot.region, spot.side, spot.aspect)
        and before.number != spot.number
    ):
        return f"Next, spot {number_word(spot.number)}."
    return place_text(spot)


def near_text(spot: Spot, owner_sits: Side | None) -> str:
    """Which side that is for the owner; "" for the middle, or when it is not known.

    ``owner_sits`` is the side of the dog where the owner sits while it stands or lies on its
    chest; it keeps that when the dog is turned and comes back. On its side, whichever way it was
    turned, the side on top is the nearest to whoever kneels by it.
    """
    if owner_sits is None or spot.position is None or spot.side == "middle":
        return ""
    if spot.position in _UP:
        return ON_TOP if spot.side == _UP[spot.position] else UNDERNEATH
    return NEAR if spot.side == owner_sits else FAR


def left_text(left_ns: int) -> str:
    """``Twelve seconds left.``"""
    seconds = ceil_s(left_ns)
    unit = "second" if seconds == 1 else "seconds"
    word = number_word(seconds)
    return f"{word[0].upper()}{word[1:]} {unit} left."


def count_text(seconds: int) -> str:
    """``Three.``"""
    return f"{number_word(seconds).capitalize()}."


def hold_cues(begins_ns: int, until_ns: int) -> list[Cue]:
    """What is said while a spot is held, with the tone that ends it."""
    left_ns = until_ns - begins_ns
    cues = []
    if left_ns > HALFWAY_FROM_NS:
        half_ns = begins_ns + left_ns // 2
        cues.append(Cue(text=HALFWAY, at_ns=half_ns, until_ns=half_ns + 2 * NS_PER_S))
    if left_ns >= COUNT_FROM_NS:
        for seconds in COUNTED_S:
            at_ns = until_ns - seconds * NS_PER_S
            cues.append(
                Cue(
                    text=count_text(seconds),
                    at_ns=at_ns,
                    until_ns=at_ns + NS_PER_S // 2,
                    priority=Priority.COUNT,
                )
            )
    cues.append(tone_cue("end", until_ns))
    return cues


def tone_cue(tone: Tone, at_ns: int, text: str = "", priority: Priority = Priority.ROUTINE) -> Cue:
    """A tone, perhaps with words after it."""
    return Cue(text=text, at_ns=at_ns, until_ns=at_ns + NS_PER_S, tone=tone, priority=priority)


def every_text(
    spots: Sequence[Spot], *, laser_button: bool, owner_sits: Side | None = None
) -> list[str]:
    """Every line that a session over ``spots`` can say, each once, for rendering ahead."""
    longest_s = max((ceil_s(spot.hold_ns) for spot in spots), default=0)

    def lines() -> Iterable[str]:
        yield from (STOPPED, PAUSED, LOG_LOST)
        for before, spot in zip([None, *spots], spots, strict=False):
            yield next_text(before, spot)
            yield place_text(spot)
            if spot.position is not None:
                yield BEGIN_WORDS[spot.position]
                yield TURN_WORDS[spot.position]
            yield from filter(None, [near_text(spot, owner_sits)])
        yield from (HOLD_BUTTON if laser_button else HOLD, HALFWAY, FINISHED)
        yield from (count_text(n) for n in COUNTED_S)
        yield from (NOTHING_LEFT, PRESS_WHEN_READY, SKIPPED, ONCE_MORE, GOING_BACK)
        yield from (left_text(n * NS_PER_S) for n in range(1, longest_s + 1))

    return list(dict.fromkeys(lines()))

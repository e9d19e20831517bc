"""What is said and when it is worth saying: cues as data, and their words.

At most eight words a cue, the words that matter last, "spot" and never "site", no count but
the last three seconds. Left and right are the dog's.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

from coach.body import told
from coach.body.position import Position
from coach.body.regions import Side
from coach.language import N_, _, ngettext
from coach.plan.spots import Spot
from coach.units import NS_PER_S, ceil_s

Tone = Literal["start", "end", "pause"]

HALFWAY_FROM_NS = 10 * NS_PER_S
COUNT_FROM_NS = 8 * NS_PER_S
COUNTED_S = (3, 2, 1)
# Room for the words around the start, the middle and the count.
PASS_APART_NS = 5 * NS_PER_S

ASPECT_WORDS = {
    "lateral": N_("outside"),
    "medial": N_("inside"),
    "cranial": N_("front"),
    "caudal": N_("back face"),
    "dorsal": N_("front"),
    "palmar": N_("underside"),
    "plantar": N_("underside"),
}
SIDE_WORDS: dict[Side, str] = {"left": N_("left"), "middle": N_("middle"), "right": N_("right")}
NUMBER_WORDS = (
    N_("zero"),
    N_("one"),
    N_("two"),
    N_("three"),
    N_("four"),
    N_("five"),
    N_("six"),
    N_("seven"),
    N_("eight"),
    N_("nine"),
    N_("ten"),
    N_("eleven"),
    N_("twelve"),
    N_("thirteen"),
    N_("fourteen"),
    N_("fifteen"),
    N_("sixteen"),
    N_("seventeen"),
    N_("eighteen"),
    N_("nineteen"),
    N_("twenty"),
)

# Left lateral recumbency is left side DOWN: owners hear which side comes up.
BEGIN_WORDS: dict[Position, str] = {
    "sternal": N_("Begin with the dog on its chest."),
    "standing": N_("Begin with the dog standing."),
    "left lateral": N_("Begin with the dog's right side up."),
    "right lateral": N_("Begin with the dog's left side up."),
}
TURN_WORDS: dict[Position, str] = {
    "sternal": N_("Turn the dog: onto its chest."),
    "standing": N_("Turn the dog: let it stand."),
    "left lateral": N_("Turn the dog: right side up."),
    "right lateral": N_("Turn the dog: left side up."),
}
_UP: dict[Position, Side] = {"left lateral": "right", "right lateral": "left"}
TOUCH = N_("Laser off. Stroke the dog calmly.")
NEAR = N_("The side nearest you.")
FAR = N_("The far side.")
ON_TOP = N_("The side nearest you, on top.")
UNDERNEATH = N_("The far side, underneath.")

HOLD = N_("Hold.")
HOLD_BUTTON = N_("Start the laser. Hold.")
SWEEP = N_("Keep moving, slowly, flat, overlapping.")
SWEEP_BUTTON = N_("Start the laser. Keep moving.")
NEXT_PASS = N_("Next pass.")
LIFT = N_("Lift the head.")
SWEEP_PAUSED = N_("Lift the head. Paused.")
SWEEP_STOPPED = N_("Lift the head. Switch the laser off.")
HALFWAY = N_("Halfway.")
PAUSED = N_("Paused. Lift the laser off.")
NO_ANSWER = N_("Paused. Nobody answered. Lift the laser off.")
NOTHING_LEFT = N_("This spot is done.")
PRESS_WHEN_READY = N_("Press when ready.")
SKIPPED = N_("Skipped.")
ONCE_MORE = N_("Once more, from the beginning.")
GOING_BACK = N_("Going back.")
STOPPED = N_("Stopped. Switch the laser off.")
LOG_LOST = N_("Log lost. Switch the laser off.")
FINISHED = N_("All done. Switch the laser off.")


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
    return _(NUMBER_WORDS[number]) if number < len(NUMBER_WORDS) else str(number)


def side_word(side: Side) -> str:
    """The dog's side in the language in use."""
    return _(SIDE_WORDS[side])


def face_word(aspect: str) -> str:
    """The face of a joint in the owner's words; the trade's where there are none."""
    return _(ASPECT_WORDS[aspect]) if aspect in ASPECT_WORDS else aspect


def sentence(text: str) -> str:
    """``text`` with a capital to begin with."""
    return f"{text[0].upper()}{text[1:]}"


def place_text(spot: Spot) -> str:
    """Where the spot is: ``Lower back, left, spot two.``"""
    place = told(spot.region)
    numbered = spot.of > 1
    if place.kind == "axial":
        text = _("{place}, {side}, spot {number}.") if numbered else _("{place}, {side}.")
    elif spot.aspect is None:
        text = _("{side} {place}, spot {number}.") if numbered else _("{side} {place}.")
    else:
        text = (
            _("{side} {place}, {face}, spot {number}.")
            if numbered
            else _("{side} {place}, {face}.")
        )
    return sentence(
        text.format(
            place=place.spoken,
            side=side_word(spot.side),
            face=face_word(spot.aspect or ""),
            number=number_word(spot.number),
        )
    )


def next_text(before: Spot | None, spot: Spot) -> str:
    """What to say on the way to ``spot``: less when only the number changes."""
    if before is not None and before.site.face == spot.site.face and before.number != spot.number:
        return _("Next, spot {number}.").format(number=number_word(spot.number))
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
        return _(ON_TOP if spot.side == _UP[spot.position] else UNDERNEATH)
    return _(NEAR if spot.side == owner_sits else FAR)


def left_text(left_ns: int) -> str:
    """``Twelve seconds left.``"""
    seconds = ceil_s(left_ns)
    text = ngettext("{number} second left.", "{number} seconds left.", seconds)
    return sentence(text.format(number=number_word(seconds)))


def count_text(seconds: int) -> str:
    """``Three.``"""
    return sentence(f"{number_word(seconds)}.")


def touch_text(spot: Spot) -> str:
    """What is said while the dog is stroked before the first spot; the prescriber's own words."""
    return spot.touch_words or _(TOUCH)


def begin_text(spot: Spot, *, laser_button: bool) -> str:
    """What is said with the tone that starts a hold or a sweep."""
    if spot.swept:
        return _(SWEEP_BUTTON if laser_button else SWEEP)
    return _(HOLD_BUTTON if laser_button else HOLD)


def paused_text(spot: Spot) -> str:
    """What is said first in a pause: a moved head must not come to rest."""
    return _(SWEEP_PAUSED if spot.swept else PAUSED)


def stopped_text(spot: Spot) -> str:
    """What is said first at a stop."""
    return _(SWEEP_STOPPED if spot.swept else STOPPED)


def pass_cues(spot: Spot, begins_ns: int, until_ns: int) -> list[Cue]:
    """When the next pass of a sweep begins, where the plan gives a pace; not near the ends.

    A sweep that was paused goes on in the pass in which it was.
    """
    if spot.pass_ns is None:
        return []
    done_ns = max(0, spot.hold_ns - (until_ns - begins_ns))
    number = done_ns // spot.pass_ns + 1
    half_ns = begins_ns + (until_ns - begins_ns) // 2
    cues = []
    while (at_ns := begins_ns - done_ns + number * spot.pass_ns) < until_ns - PASS_APART_NS:
        if at_ns >= begins_ns + PASS_APART_NS and abs(at_ns - half_ns) >= PASS_APART_NS // 2:
            cues.append(Cue(text=_(NEXT_PASS), at_ns=at_ns, until_ns=at_ns + NS_PER_S))
        number += 1
    return cues


def hold_cues(spot: Spot, begins_ns: int, until_ns: int) -> list[Cue]:
    """What is said while a spot is held or an area swept, with the tone that ends it."""
    left_ns = until_ns - begins_ns
    cues = []
    if left_ns > HALFWAY_FROM_NS:
        half_ns = begins_ns + left_ns // 2
        cues.append(Cue(text=_(HALFWAY), at_ns=half_ns, until_ns=half_ns + 2 * NS_PER_S))
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
    if spot.swept:
        cues += pass_cues(spot, begins_ns, until_ns)
        cues.sort(key=lambda cue: cue.at_ns)
    cues.append(tone_cue("end", until_ns, _(LIFT) if spot.swept else ""))
    return cues


def tone_cue(tone: Tone, at_ns: int, text: str = "", priority: Priority = Priority.ROUTINE) -> Cue:
    """A tone, perhaps with words after it."""
    return Cue(text=text, at_ns=at_ns, until_ns=at_ns + NS_PER_S, tone=tone, priority=priority)


def calm_texts(spots: Sequence[Spot]) -> frozenset[str]:
    """What is said about the calm opening and nothing else: it is spoken slower."""
    calm = {place_text(spot) for spot in spots if spot.calm}
    return frozenset(calm - {place_text(spot) for spot in spots if not spot.calm})


def every_text(
    spots: Sequence[Spot], *, laser_button: bool, owner_sits: Side | None = None
) -> list[str]:
    """Every line that a session over ``spots`` can say, each once, for rendering ahead."""
    longest_s = max((ceil_s(spot.hold_ns) for spot in spots), default=0)

    def lines() -> Iterable[str]:
        yield from map(_, (STOPPED, PAUSED, NO_ANSWER, LOG_LOST))
        for before, spot in zip([None, *spots], spots, strict=False):
            yield next_text(before, spot)
            yield place_text(spot)
            if spot.position is not None:
                yield _(BEGIN_WORDS[spot.position])
                yield _(TURN_WORDS[spot.position])
            yield from filter(None, [near_text(spot, owner_sits)])
            if spot.touch_ns:
                yield touch_text(spot)
        yield from map(_, (HOLD_BUTTON if laser_button else HOLD, HALFWAY, FINISHED))
        if any(spot.swept for spot in spots):
            yield _(SWEEP_BUTTON if laser_button else SWEEP)
            yield from map(_, (NEXT_PASS, LIFT, SWEEP_PAUSED, SWEEP_STOPPED))
        yield from (count_text(n) for n in COUNTED_S)
        yield from map(_, (NOTHING_LEFT, PRESS_WHEN_READY, SKIPPED, ONCE_MORE, GOING_BACK))
        yield from (left_text(n * NS_PER_S) for n in range(1, longest_s + 1))

    return list(dict.fromkeys(lines()))

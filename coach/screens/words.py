"""What the parts of the screens say, as plain text from a view. No drawing, no framework.

Only characters that the bare console has as well: ASCII, the full block, the small square and
the middle dot. Left and right are the dog's.
"""

import datetime

from coach.body.regions import region
from coach.plan.spots import Spot
from coach.session.cues import ASPECT_WORDS
from coach.session.machine import OVER, Phase
from coach.session.view import View
from coach.units import NS_PER_S, ceil_s, clock_text, j_from_fj, rounded

DOT = " · "

STATE = {
    Phase.READY: "GET READY",
    Phase.MOVING: "MOVE",
    Phase.HOLDING: "HOLD",
    Phase.PAUSED: "PAUSED",
    Phase.FINISHED: "ALL DONE",
    Phase.STOPPED: "STOPPED",
}
# The shape that goes with the word: the head is on the spot, on its way, or off.
SHAPE = {
    Phase.READY: "::",
    Phase.MOVING: "...",
    Phase.HOLDING: "■■■",
    Phase.PAUSED: "||",
    Phase.FINISHED: "==",
    Phase.STOPPED: "xx",
}
PAUSED_BECAUSE = {"dog_moved": "The dog moved.", "contact_lost": "Contact was lost."}

REHEARSAL = "REHEARSAL: LASER OFF"

CAUTIONS = (
    "Eyewear on everyone; the dog's eyes covered or turned away.",
    "Never aim at an eye. Stop at hot skin, a flinch, a growl.",
    "Others and pets out, door shut, shiny things covered.",
    "Lens clean, coat dry and parted, collar and harness off.",
    "A new lump, wound, fever or medicine, or pregnant? Do not start: ask your vet.",
    "What your prescriber said comes before all of this.",
)


def state_text(view: View) -> str:
    """Shape and word; on the way also the seconds, small on purpose: they are not the hold's."""
    words = f"{SHAPE[view.phase]} {STATE[view.phase]}"
    if view.phase is Phase.MOVING and not view.waits:
        words += f" {ceil_s(view.left_ns)} s"
    return words


def bar_text(view: View, *, width: int, side: bool, clock: bool, speed: int = 1) -> str:
    """The bar at the top. What matters most comes first; what does not fit is left out.

    ``side`` and ``clock`` put the dog's side and the seconds of a hold into words, for when
    they are not drawn large.
    """
    running = view.phase not in OVER and view.phase is not Phase.READY
    state = state_text(view)
    if clock and running and view.phase is not Phase.MOVING:
        state += f" {seconds_text(view.left_ns).removesuffix(' min')}"
    text = state
    if side and running:
        word = view.spot.side.upper()
        # "30 s  LEFT" would read as what is left of the time. Where there is no room for more,
        # the word of the state tells it without its shape; the side must not be cut.
        bare = state.removeprefix(SHAPE[view.phase]).strip()
        forms = (f"{state}  DOG'S {word}", f"{state}  {word}", f"{bare} {word}")
        text = next((form for form in forms if len(form) <= width), forms[-1])
    wishes = [REHEARSAL if speed == 1 else f"{REHEARSAL}, {speed} x AS FAST"]
    wishes = wishes if view.rehearsal else []
    if running:
        wishes.append(f"spot {view.spot.index + 1} of {view.spots}")
        if view.near_side:
            wishes.append(view.near_side.rstrip(".").upper())
    wishes.append(view.dog)
    for wish in wishes:
        if len(text) + 2 + len(wish) <= width:
            text += "  " + wish
        elif wish.startswith(REHEARSAL) and len(text) + 5 <= width:
            text += "  OFF"
    return text


def where(spot: Spot) -> str:
    """``lower back, left, spot 3 of 5``."""
    place = region(spot.region)
    if place.kind == "limb":
        words = f"{spot.side} {place.spoken}"
    else:
        words = f"{place.spoken}, {spot.side}"
    if spot.aspect is not None:
        words += f", {ASPECT_WORDS.get(spot.aspect, spot.aspect)}"
    return ", ".join(filter(None, (words, of_text(spot))))


def of_text(spot: Spot) -> str:
    """``spot 2 of 5``, or "" where there is only one."""
    return f"spot {spot.number} of {spot.of}" if spot.of > 1 else ""


def place_text(view: View, *, term: bool = True) -> str:
    """Region in the owner's words and the trade's, and the aspect in both."""
    words = [view.place.owner_words]
    if term and view.place.term not in words:
        words.append(view.place.term)
    aspect = view.spot.aspect
    if aspect is not None:
        plain = ASPECT_WORDS.get(aspect, aspect)
        words.append(aspect if plain == aspect else f"{plain} ({aspect})")
    return DOT.join(words)


def next_text(view: View) -> str:
    """What comes after this spot."""
    if view.next_spot is None:
        return "Next: nothing, this is the last spot."
    return f"Next: {where(view.next_spot)}"


def span_text(duration_ns: int) -> str:
    """``0:45``, ``11:40``."""
    seconds = ceil_s(duration_ns)
    return f"0:{seconds:02d}" if seconds < 60 else clock_text(seconds)


def progress_text(view: View, *, ends: datetime.datetime, width: int) -> str:
    """How far the session is and when it will end."""
    done = f"{view.done_spots} of {view.spots} spots done"
    to_go = f"{span_text(view.to_come_ns)} to go"
    rest = f"{done}, {to_go}, ends {ends:%H:%M}"
    if len(rest) > width:
        rest = f"{view.done_spots}/{view.spots}, {to_go}, ends {ends:%H:%M}"
    room = min(40, width - len(rest) - 3)
    if room < 6:
        return rest
    filled = room * view.done_spots // view.spots
    return f"[{'█' * filled}{'-' * (room - filled)}] {rest}"


def dose_text(view: View) -> str:
    """Energy so far: counted by the timer, never measured."""
    planned = rounded(j_from_fj(view.planned_fj), 1)
    if view.rehearsal:
        return f"Rehearsal: 0 J given, nothing counts ({planned} J planned)"
    given = rounded(j_from_fj(view.given_fj), 1)
    return f"Given so far {given} of {planned} J (coached, not measured)"


def captions(view: View) -> tuple[str, ...]:
    """What goes under the big word of a move or a pause; most important first."""
    left = seconds_text(view.spot_left_ns)
    if view.phase is Phase.PAUSED:
        why = PAUSED_BECAUSE.get(view.pause_reason, "Lift the laser off.")
        return ("SPACE: carry on", f"{left} left on this spot", why)
    if view.phase is not Phase.MOVING:
        return ()
    if view.spot_left_ns <= 0:
        return ("SPACE: next spot", "this one has had its seconds")
    then = f"then laser on, hold {left}" if view.laser_button else f"then hold {left}"
    if view.waits:
        when_there = "SPACE when the head is on it"
        return (view.turn, when_there, then) if view.turn else (when_there, then)
    to_get_there = f"{seconds_text(view.left_ns)} to get there"
    return (view.turn, to_get_there, then) if view.turn else (to_get_there, then)


def seconds_text(duration_ns: int) -> str:
    """``45 s``, ``1:05 min``."""
    seconds = ceil_s(duration_ns)
    return f"{seconds} s" if seconds < 60 else f"{clock_text(seconds)} min"


def guidance(view: View) -> tuple[str, ...]:
    """How to find the place, where there is room for it; the prescriber's own words first."""
    note = (f"Prescriber: {view.spot.note}",) if view.spot.note else ()
    return (*note, f"Where: {view.place.feel}", f"How: {view.place.hold}")


def one_key_text(view: View) -> str:
    """What the one big key does now."""
    match view.phase:
        case Phase.READY:
            return "start"
        case Phase.MOVING if view.waits:
            return "next spot" if view.spot_left_ns <= 0 else "go"
        case Phase.MOVING | Phase.HOLDING:
            return "pause"
        case Phase.PAUSED:
            return "carry on"
        case _:
            return "more"


def amount_text(view: View) -> str:
    """``26 spots, about 18 minutes, 26.0 J planned``."""
    minutes = max(1, round(view.to_come_ns / NS_PER_S / 60))
    spots = "1 spot" if view.spots == 1 else f"{view.spots} spots"
    unit = "minute" if minutes == 1 else "minutes"
    planned = rounded(j_from_fj(view.planned_fj), 1)
    return f"{spots}, about {minutes} {unit}, {planned} J planned"


def refusal_text(sentence: str) -> str:
    """``Not now: this is the first spot.``"""
    return f"Not now: {sentence.rstrip('.')}."

"""What the parts of the screens say, as plain text from a view. No drawing, no framework.

Only characters that the bare console has as well: ASCII, the full block, the small square and
the middle dot. Left and right are the dog's.
"""

import datetime

from coach.body.regions import told
from coach.language import N_, _, ngettext, number
from coach.plan.spots import Spot
from coach.session.cues import face_word, side_word
from coach.session.machine import OVER, Phase
from coach.session.place_guidance import find_text, held_lines
from coach.session.view import View
from coach.units import NS_PER_S, ceil_s, clock_text, j_from_fj, rounded

DOT = " · "

STATE = {
    Phase.READY: N_("GET READY"),
    Phase.MOVING: N_("MOVE"),
    Phase.HOLDING: N_("HOLD"),
    Phase.PAUSED: N_("PAUSED"),
    Phase.FINISHED: N_("ALL DONE"),
    Phase.STOPPED: N_("STOPPED"),
}
SWEEP = N_("KEEP MOVING")
# The shape that goes with the word: the head is on the spot, on its way, or off.
SHAPE = {
    Phase.READY: "::",
    Phase.MOVING: "...",
    Phase.HOLDING: "■■■",
    Phase.PAUSED: "||",
    Phase.FINISHED: "==",
    Phase.STOPPED: "xx",
}
PAUSED_BECAUSE = {
    "dog_moved": N_("The dog moved."),
    "contact_lost": N_("Contact was lost."),
    "dog_unhappy": N_("Let the dog rest."),
    "no_answer": N_("Nobody answered. Lift the laser off."),
}

REHEARSAL = N_("REHEARSAL: LASER OFF")

CAUTIONS = (
    N_("Eyewear on everyone; the dog's eyes covered or turned away."),
    N_("Never aim at an eye. Stop at hot skin, a flinch, a growl."),
    N_("Others and pets out, door shut, shiny things covered."),
    N_("Lens clean, coat dry and parted, collar and harness off."),
    N_("A new lump, wound, fever or medicine, or pregnant? Do not start: ask your vet."),
    N_("What your prescriber said comes before all of this."),
)


def state_text(view: View) -> str:
    """Shape and word; on the way also the seconds, small on purpose: they are not the hold's."""
    state = SWEEP if view.phase is Phase.HOLDING and view.spot.swept else STATE[view.phase]
    words = f"{SHAPE[view.phase]} {_(state)}"
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
        word = side_word(view.spot.side).upper()
        # "30 s  LEFT" would read as what is left of the time. Where there is no room for more,
        # the word of the state tells it without its shape; the side must not be cut.
        bare = state.removeprefix(SHAPE[view.phase]).strip()
        whose = _("DOG'S {side}").format(side=word)
        forms = (f"{state}  {whose}", f"{state}  {word}", f"{bare} {word}")
        text = next((form for form in forms if len(form) <= width), forms[-1])
    rehearsal = _(REHEARSAL)
    if speed != 1:
        rehearsal = _("REHEARSAL: LASER OFF, {speed} x AS FAST").format(speed=speed)
    wishes = [rehearsal] if view.rehearsal else []
    if running:
        wishes.append(_("spot {number} of {of}").format(number=view.spot.index + 1, of=view.spots))
        if view.near_side:
            wishes.append(view.near_side.rstrip(".").upper())
    wishes.append(view.dog)
    for wish in wishes:
        if len(text) + 2 + len(wish) <= width:
            text += "  " + wish
        elif wish == rehearsal and len(text) + 2 + len(_("OFF")) <= width:
            text += "  " + _("OFF")
    return text


def where(spot: Spot) -> str:
    """``lower back, left, spot 3 of 5``."""
    place = told(spot.region)
    words = _("{side} {place}") if place.kind == "limb" else _("{place}, {side}")
    words = words.format(side=side_word(spot.side), place=place.spoken)
    face = face_word(spot.aspect) if spot.aspect is not None else ""
    return ", ".join(filter(None, (words, face, of_text(spot))))


def of_text(spot: Spot) -> str:
    """``spot 2 of 5``, or "" where there is only one."""
    if spot.of <= 1:
        return ""
    return _("spot {number} of {of}").format(number=spot.number, of=spot.of)


def place_text(view: View, *, term: bool = True) -> str:
    """Region in the owner's words and the trade's, and the aspect in both."""
    words = [view.place.owner_words]
    if term and view.place.term not in words:
        words.append(view.place.term)
    aspect = view.spot.aspect
    if aspect is not None:
        plain = face_word(aspect)
        words.append(aspect if plain == aspect else f"{plain} ({aspect})")
    return DOT.join(words)


def next_text(view: View) -> str:
    """What comes after this spot."""
    if view.next_spot is None:
        return _("Next: nothing, this is the last spot.")
    return _("Next: {where}").format(where=where(view.next_spot))


def below_text(view: View, *, tip: bool) -> str:
    """The line below: what matters most besides the state. ``tip``: it is not shown elsewhere."""
    if view.phase is Phase.PAUSED:
        return _("Lift the laser off.")
    # On the way the reminder matters more than the spot after this one; the hold tells that.
    return view.tip if view.tip and tip else next_text(view)


def span_text(duration_ns: int) -> str:
    """``0:45``, ``11:40``."""
    seconds = ceil_s(duration_ns)
    return f"0:{seconds:02d}" if seconds < 60 else clock_text(seconds)


def progress_text(view: View, *, ends: datetime.datetime, width: int) -> str:
    """How far the session is and when it will end."""
    values = {
        "done": view.done_spots,
        "spots": view.spots,
        "time": span_text(view.to_come_ns),
        "ends": f"{ends:%H:%M}",
    }
    rest = _("{done} of {spots} spots done, {time} to go, ends {ends}").format(**values)
    if len(rest) > width:
        rest = _("{done}/{spots}, {time} to go, ends {ends}").format(**values)
    room = min(40, width - len(rest) - 3)
    if room < 6:
        return rest
    filled = room * view.done_spots // view.spots
    return f"[{'█' * filled}{'-' * (room - filled)}] {rest}"


def dose_text(view: View) -> str:
    """Energy so far: counted by the timer, never measured."""
    planned = number(rounded(j_from_fj(view.planned_fj), 1))
    if view.rehearsal:
        return _("Rehearsal: 0 J given, nothing counts ({planned} J planned)").format(
            planned=planned
        )
    given = number(rounded(j_from_fj(view.given_fj), 1))
    return _("Given so far {given} of {planned} J (coached, not measured)").format(
        given=given, planned=planned
    )


def captions(view: View) -> tuple[str, ...]:
    """What goes under the big word of a move or a pause; most important first."""
    left = seconds_text(view.spot_left_ns)
    if view.phase is Phase.PAUSED:
        why = PAUSED_BECAUSE.get(view.pause_reason)
        because = () if why is None else (_(why),)
        return (
            _("SPACE: carry on"),
            _("SPACE twice: all choices"),
            _("{time} left on this spot").format(time=left),
            *because,
        )
    if view.phase is not Phase.MOVING:
        return ()
    if view.spot_left_ns <= 0:
        return (_("SPACE: next spot"), _("this spot is done"))
    then = _("then laser on, hold {time}") if view.laser_button else _("then hold {time}")
    if view.spot.swept:
        then = _("then keep moving, {time}")
    then = then.format(time=left)
    if view.waits:
        when_there = _("SPACE when the head is on it")
        return (view.turn, when_there, then) if view.turn else (when_there, then)
    to_get_there = _("{time} to get there").format(time=seconds_text(view.left_ns))
    return (view.turn, to_get_there, then) if view.turn else (to_get_there, then)


def seconds_text(duration_ns: int) -> str:
    """``45 s``, ``1:05 min``."""
    seconds = ceil_s(duration_ns)
    return f"{seconds} s" if seconds < 60 else f"{clock_text(seconds)} min"


def guidance(view: View) -> tuple[str, ...]:
    """How to find the place, where there is room for it; the prescriber's own words first."""
    note = (_("Prescriber: {words}").format(words=view.spot.words),) if view.spot.words else ()
    note = (*((view.tip,) if view.tip else ()), *note, *held_lines(view.spot))
    if view.spot.care:
        note = (_("Care: {caution}").format(caution=view.spot.care), *note)
    if view.reminders == "few":
        return note
    where = _("Where: {words}").format(words=find_text(view.spot))
    return (*note, where, _("How: {words}").format(words=view.place.hold))


def one_key_text(view: View) -> str:
    """What the one big key does now."""
    match view.phase:
        case Phase.READY if view.asks:
            return _("yes")
        case Phase.READY:
            return _("start")
        case Phase.MOVING if view.waits:
            return _("next spot") if view.spot_left_ns <= 0 else _("go")
        case Phase.MOVING | Phase.HOLDING:
            return _("pause")
        case Phase.PAUSED:
            return _("carry on")
        case _:
            return _("more")


def amount_text(view: View) -> str:
    """``26 spots, about 18 minutes, 26.0 J planned``."""
    minutes = max(1, round(view.to_come_ns / NS_PER_S / 60))
    spots = ngettext("{count} spot", "{count} spots", view.spots).format(count=view.spots)
    about = ngettext("about {count} minute", "about {count} minutes", minutes)
    planned = number(rounded(j_from_fj(view.planned_fj), 1))
    planned = _("{planned} J planned").format(planned=planned)
    return ", ".join((spots, about.format(count=minutes), planned))


def refusal_text(sentence: str) -> str:
    """``Not now: this is the first spot.``"""
    return _("Not now: {reason}.").format(reason=sentence.rstrip("."))

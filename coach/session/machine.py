"""The session machine: a table of phase x command, and deadlines.

Theory. The machine does no I/O and has no clock. Whoever runs it hands in commands and the
monotonic time in integer nanoseconds, and gets back events (what happened, to be written down
first) and cues (what to say, possibly a little ahead of time). All that it knows is one frozen
:class:`Sitting`; a command that is not in :data:`TABLE` for the phase raises :class:`NotNow`
and leaves the sitting as it was.

Time is counted only in HOLDING and only between ``since_ns`` and the deadline, never by ticks:
a late tick ends a hold at its deadline. What follows a deadline begins at the deadline, so that
a whole session does not drift, unless the tick came so late (:data:`STALL_NS`) that nobody was
told: then it begins at the tick.

A move without a deadline waits for the owner, but not for ever: after the patience of the plan the
session pauses by itself, as if somebody had asked for it. A pause waits.

Longer than other files on purpose: the table and all its handlers have to be seen together.

A spot is never given more than it was granted. A grant is the planned time; ``Again`` adds one
more from where it stands, at most ``repeats_allowed`` times.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from coach.body.position import Position
from coach.language import _
from coach.plan.spots import Spot
from coach.session import commands as cmd
from coach.session import cues as say
from coach.session import events as ev
from coach.session.cues import Cue, Priority, hold_cues, tone_cue
from coach.session.state import (
    NOT_NOW,
    NOTHING,
    OVER,
    NotNow,
    Options,
    Phase,
    Result,
    Sitting,
    Step,
    with_value,
)
from coach.units import NS_PER_S

STALL_NS = NS_PER_S
START_WORTH_NS = NS_PER_S
# How the dog is to lie is told first; the place comes when that has been said.
TELL_NS = 4 * NS_PER_S


__all__ = ["OVER", "TABLE", "Machine", "NotNow", "Options", "Phase", "Sitting", "Step", "one_key"]

C = TypeVar("C", bound=cmd.Command)


class Machine:
    """One session over ``spots``. Hand in time with every call; earlier times count as now."""

    def __init__(self, spots: Sequence[Spot], options: Options) -> None:
        if not spots:
            raise ValueError("a session needs at least one spot")
        self.spots = tuple(spots)
        self.options = options
        # A turn that the order did not foresee (going back over one) takes as long as the others.
        self.turn_ns = max(spot.turn_ns for spot in self.spots)
        self.sitting = Sitting(
            phase=Phase.READY,
            index=0,
            given_ns=(0,) * len(spots),
            granted_ns=tuple(spot.hold_ns for spot in spots),
            repeats=(0,) * len(spots),
            skipped=frozenset(),
            now_ns=0,
        )

    @property
    def phase(self) -> Phase:
        """Where the session stands."""
        return self.sitting.phase

    @property
    def spot(self) -> Spot:
        """The current spot."""
        return self.spots[self.sitting.index]

    @property
    def next_spot(self) -> Spot | None:
        """The spot after the current one, or None."""
        following = self.sitting.following
        return None if following is None else self.spots[following]

    def given_ns(self, index: int, now_ns: int) -> int:
        """Given on a spot so far, the running hold included."""
        running = self.sitting.held_ns(now_ns) if index == self.sitting.index else 0
        return self.sitting.given_ns[index] + running

    def left_ns(self, now_ns: int) -> int:
        """Still to be given on the current spot."""
        return self.sitting.left_ns - self.sitting.held_ns(now_ns)

    def to_come_ns(self, now_ns: int) -> int:
        """Time until the end if nothing interferes: holds and moves that are still to come."""
        sitting = self.sitting
        if sitting.phase in OVER:
            return 0
        total = self.left_ns(now_ns)
        if sitting.phase is Phase.MOVING:
            total += max(0, (sitting.until_ns or now_ns) - now_ns)
        elif sitting.phase is Phase.READY:
            total += self.spot.move_ns
        lies = self.spot.position
        for index in range(sitting.index + 1, len(self.spots)):
            left = sitting.granted_ns[index] - sitting.given_ns[index]
            if left > 0 and index not in sitting.skipped:
                total += left + self.move_ns(index, lies)
                lies = self.spots[index].position
        return total

    def turns(self, index: int, lies: Position | None) -> bool:
        """Whether a dog that ``lies`` so (None: nobody knows) must be turned for a spot."""
        return lies is not None and self.spots[index].position not in (None, lies)

    def move_ns(self, index: int, lies: Position | None, *, turning: bool = False) -> int:
        """Time to get to a spot with the dog as it ``lies``, or half turned."""
        spot = self.spots[index]
        if lies is None:
            return spot.move_ns
        turns = self.turns(index, lies) or (turning and spot.position is not None)
        return spot.move_ns - spot.touch_ns - spot.turn_ns + self.turn_ns * turns

    def next_deadline(self, now_ns: int) -> int | None:
        """When :meth:`tick` has something to do, not before ``now_ns``; None if never."""
        sitting = self.sitting
        alarms = (sitting.until_ns, sitting.beat_ns, sitting.answer_ns)
        times = [t for t in alarms if t is not None]
        return max(now_ns, min(times)) if times else None

    def tick(self, now_ns: int) -> Step:
        """Do what is due by ``now_ns``."""
        self.sitting, step = self._due(self.sitting, now_ns)
        return step

    def do(self, command: cmd.Command, now_ns: int) -> Step:
        """Do what is due, then ``command``. Raises NotNow and changes nothing if unlisted."""
        sitting, due = self._due(self.sitting, now_ns)
        handler = TABLE.get((sitting.phase, type(command)))
        if handler is None:
            raise NotNow(_(NOT_NOW[sitting.phase]))
        self.sitting, step = handler(self, sitting, command)
        return due + step

    # Deadlines

    def _due(self, sitting: Sitting, now_ns: int) -> Result:
        now_ns = max(now_ns, sitting.now_ns)
        sitting = replace(sitting, now_ns=now_ns)
        step = NOTHING
        while sitting.until_ns is not None and now_ns >= sitting.until_ns:
            told_ns = sitting.until_ns
            begins_ns = told_ns if now_ns - told_ns <= STALL_NS else now_ns
            if sitting.phase is Phase.HOLDING:
                sitting, more = self._complete(sitting, begins_ns)
            else:
                sitting, more = self._hold(sitting, begins_ns, ahead=begins_ns == told_ns)
            step += more
        if sitting.beat_ns is not None and now_ns >= sitting.beat_ns:
            beat = ev.Heartbeat(at_ns=now_ns, spot=sitting.index, given_ns=sitting.held_ns(now_ns))
            sitting = replace(sitting, beat_ns=self._next_beat(sitting.until_ns or now_ns, now_ns))
            step += Step((beat,))
        if sitting.answer_ns is not None and now_ns >= sitting.answer_ns:
            sitting, paused = _pause(self, sitting, cmd.Pause("no_answer"))
            step += paused
        return sitting, step

    def _next_beat(self, until_ns: int, now_ns: int) -> int:
        """In time with the countdown: the screen then wakes once a second, not twice."""
        beat_ns = self.options.heartbeat_ns
        return until_ns - (until_ns - now_ns - 1) // beat_ns * beat_ns

    def _complete(self, sitting: Sitting, begins_ns: int) -> Result:
        until_ns = sitting.until_ns or begins_ns
        sitting, ended = self._bank(sitting, until_ns, "complete")
        sitting, onward = self._onward(sitting, begins_ns)
        return sitting, Step(ended) + onward

    # Pieces

    def _bank(
        self, sitting: Sitting, now_ns: int, reason: ev.HoldEndWhy
    ) -> tuple[Sitting, tuple[ev.Event, ...]]:
        """End the running hold, if any, and add what it gave."""
        if sitting.phase is not Phase.HOLDING:
            return sitting, ()
        held_ns = sitting.held_ns(now_ns)
        given = with_value(
            sitting.given_ns, sitting.index, sitting.given_ns[sitting.index] + held_ns
        )
        event = ev.HoldEnded(at_ns=now_ns, spot=sitting.index, given_ns=held_ns, reason=reason)
        return replace(sitting, given_ns=given, until_ns=None, beat_ns=None), (event,)

    def _onward(self, sitting: Sitting, now_ns: int, *, said: str = "") -> Result:
        """To the next spot that has something left, or to the end."""
        following = sitting.following
        if following is None:
            sitting = sitting.halted(Phase.FINISHED)
            done = Cue(text=_(say.FINISHED), at_ns=now_ns, until_ns=now_ns + 10 * NS_PER_S)
            return sitting, Step((ev.SessionFinished(at_ns=now_ns),), (done,))
        return self._move(replace(sitting, came_from=sitting.index), following, now_ns, said=said)

    def _move(self, sitting: Sitting, to: int, now_ns: int, *, said: str = "") -> Result:
        """Begin the move to a spot."""
        spot = self.spots[to]
        sitting = replace(sitting, index=to, phase=Phase.MOVING, beat_ns=None, since_ns=now_ns)
        waits = self.options.advance == "wait" or sitting.left_ns == 0
        move_ns = self.move_ns(to, sitting.lies, turning=sitting.turning)
        until_ns = None if waits else now_ns + move_ns
        answer_ns = now_ns + move_ns + self.options.patience_ns if until_ns is None else None
        sitting = replace(sitting, until_ns=until_ns, answer_ns=answer_ns)
        before = None if sitting.came_from is None else self.spots[sitting.came_from]
        worth_ns = now_ns + 10 * NS_PER_S if until_ns is None else until_ns
        place = say.next_text(before, spot) if before != spot else say.place_text(spot)
        turn, tell_ns = "", 0
        if spot.position is not None and (spot.position != sitting.lies or sitting.turning):
            sitting = replace(sitting, turning=True)
            begin = sitting.lies is None
            turn = _((say.BEGIN_WORDS if begin else say.TURN_WORDS)[spot.position])
            place = say.place_text(spot)
            # While the dog is being turned nobody remembers a place.
            tell_ns = min(TELL_NS, move_ns // 2) if begin or waits else self.turn_ns
        touch = ""
        if spot.touch_ns and sitting.lies is None:
            touch = say.touch_text(spot)
            turned_ns, tell_ns = (tell_ns if turn else 0), tell_ns + spot.touch_ns
        near = say.near_text(spot, self.options.owner_sits) if place == say.place_text(spot) else ""
        told = [(line, now_ns) for line in (said, turn)]
        if touch:
            told.append((touch, now_ns + turned_ns))
        # Whoever goes back or once more knows how it is done.
        tip = "" if said else self.options.tip(to)
        told += [(line, now_ns + tell_ns) for line in (place, near, tip)]
        if sitting.left_ns == 0:
            told.append((_(say.NOTHING_LEFT), now_ns + tell_ns))
        elif waits:
            told.append((_(say.PRESS_WHEN_READY), now_ns + tell_ns))
        cues = [Cue(text=line, at_ns=at_ns, until_ns=worth_ns) for line, at_ns in told if line]
        if until_ns is not None:
            cues.append(self._start_cue(spot, until_ns))
        event = ev.MoveStarted(at_ns=now_ns, spot=to, until_ns=until_ns)
        return sitting, Step((event,), tuple(cues))

    def _start_cue(self, spot: Spot, at_ns: int) -> Cue:
        text = say.begin_text(spot, laser_button=self.options.laser_button)
        return Cue(text=text, at_ns=at_ns, until_ns=at_ns + START_WORTH_NS, tone="start")

    def _hold(self, sitting: Sitting, begins_ns: int, *, ahead: bool) -> Result:
        """Begin to count. ``ahead``: its start tone has already been lined up."""
        left_ns = sitting.left_ns
        until_ns = begins_ns + left_ns
        sitting = replace(
            sitting,
            phase=Phase.HOLDING,
            answer_ns=None,
            since_ns=begins_ns,
            until_ns=until_ns,
            beat_ns=self._next_beat(until_ns, begins_ns),
            resume=None,
            lies=self.spots[sitting.index].position,
            turning=False,
        )
        spot = self.spots[sitting.index]
        cues = [] if ahead else [self._start_cue(spot, begins_ns)]
        cues += hold_cues(spot, begins_ns, until_ns)
        event = ev.HoldStarted(at_ns=begins_ns, spot=sitting.index, left_ns=left_ns)
        return sitting, Step((event,), tuple(cues))


# Commands: each takes the machine, the sitting after what was due, and the command.


def _start(machine: Machine, sitting: Sitting, _command: cmd.Start) -> Result:
    started = Step((ev.SessionStarted(at_ns=sitting.now_ns),), interrupts=True)
    sitting, step = machine._move(sitting, 0, sitting.now_ns)
    return sitting, started + step


def _go(machine: Machine, sitting: Sitting, _command: cmd.Go) -> Result:
    silent = Step(interrupts=True)
    if sitting.left_ns == 0:
        sitting, step = machine._onward(sitting, sitting.now_ns)
    else:
        begins_ns = sitting.now_ns + machine.options.lead_ns
        sitting, step = machine._hold(sitting, begins_ns, ahead=False)
    return sitting, silent + step


def _pause(machine: Machine, sitting: Sitting, command: cmd.Pause) -> Result:
    now_ns = sitting.now_ns
    was = sitting.phase
    sitting, ended = machine._bank(sitting, now_ns, "paused")
    sitting = sitting.halted(Phase.PAUSED, resume=was)
    paused = ev.Paused(at_ns=now_ns, spot=sitting.index, reason=command.reason)
    spot = machine.spots[sitting.index]
    text = _(say.NO_ANSWER) if command.reason == "no_answer" else say.paused_text(spot)
    cue = tone_cue("pause", now_ns, text, Priority.URGENT)
    return sitting, Step((*ended, paused), (cue,), interrupts=True)


def _carry_on(machine: Machine, sitting: Sitting, _command: cmd.CarryOn) -> Result:
    now_ns = sitting.now_ns
    carried = Step((ev.CarriedOn(at_ns=now_ns, spot=sitting.index),), interrupts=True)
    if sitting.resume is Phase.HOLDING and sitting.left_ns > 0:
        begins_ns = now_ns + machine.options.lead_ns
        sitting, step = machine._hold(sitting, begins_ns, ahead=False)
    else:
        sitting, step = machine._move(replace(sitting, resume=None), sitting.index, now_ns)
    return sitting, carried + step


def _skip(machine: Machine, sitting: Sitting, command: cmd.Skip) -> Result:
    now_ns = sitting.now_ns
    sitting, ended = machine._bank(sitting, now_ns, "skipped")
    event = ev.SpotSkipped(at_ns=now_ns, spot=sitting.index, reason=command.reason)
    sitting = replace(sitting, skipped=sitting.skipped | {sitting.index}, resume=None)
    sitting, step = machine._onward(sitting, now_ns, said=_(say.SKIPPED))
    return sitting, Step((*ended, event), interrupts=True) + step


def _again(machine: Machine, sitting: Sitting, _command: cmd.Again) -> Result:
    """Once more: this spot, or, if it has had nothing yet, the one that was just left."""
    now_ns = sitting.now_ns
    target = sitting.index
    if sitting.given_ns[target] + sitting.held_ns(now_ns) == 0:
        if sitting.came_from is None or sitting.given_ns[sitting.came_from] == 0:
            raise NotNow(_("there is no spot yet to give again"))
        target = sitting.came_from
    if sitting.repeats[target] >= machine.options.repeats_allowed:
        raise NotNow(_("the plan does not allow this spot once more"))
    sitting, ended = machine._bank(sitting, now_ns, "again")
    granted_ns = sitting.given_ns[target] + machine.spots[target].hold_ns
    sitting = replace(
        sitting,
        granted_ns=with_value(sitting.granted_ns, target, granted_ns),
        repeats=with_value(sitting.repeats, target, sitting.repeats[target] + 1),
        skipped=sitting.skipped - {target},
        came_from=None,
        resume=None,
    )
    event = ev.SpotAgain(at_ns=now_ns, spot=target)
    sitting, step = machine._move(sitting, target, now_ns, said=_(say.ONCE_MORE))
    return sitting, Step((*ended, event), interrupts=True) + step


def _back(machine: Machine, sitting: Sitting, _command: cmd.Back) -> Result:
    now_ns = sitting.now_ns
    if sitting.index == 0:
        raise NotNow(_("this is the first spot"))
    sitting, ended = machine._bank(sitting, now_ns, "back")
    target = sitting.index - 1
    event = ev.WentBack(at_ns=now_ns, spot=target)
    sitting = replace(sitting, skipped=sitting.skipped - {target}, came_from=None, resume=None)
    sitting, step = machine._move(sitting, target, now_ns, said=_(say.GOING_BACK))
    return sitting, Step((*ended, event), interrupts=True) + step


def _say(machine: Machine, sitting: Sitting, _command: cmd.Say) -> Result:
    """Where we are and how long is left; the lined-up count and tones stay as they are."""
    now_ns = sitting.now_ns
    left_ns = sitting.left_ns - sitting.held_ns(now_ns)
    spot = machine.spots[sitting.index]
    near = say.near_text(spot, machine.options.owner_sits)
    lines = [line for line in (say.place_text(spot), near, say.left_text(left_ns)) if line]
    if sitting.answer_ns is not None:
        # Whoever asks is there.
        sitting = replace(sitting, answer_ns=now_ns + machine.options.patience_ns)
    worth_ns = now_ns + 3 * NS_PER_S
    return sitting, Step((), tuple(Cue(text=t, at_ns=now_ns, until_ns=worth_ns) for t in lines))


def _stop(machine: Machine, sitting: Sitting, command: cmd.Stop) -> Result:
    now_ns = sitting.now_ns
    sitting, ended = machine._bank(sitting, now_ns, "stopped")
    sitting = sitting.halted(Phase.STOPPED)
    event = ev.SessionStopped(at_ns=now_ns, reason=command.reason)
    stopped = say.stopped_text(machine.spots[sitting.index])
    cue = tone_cue("pause", now_ns, stopped, Priority.URGENT)
    return sitting, Step((*ended, event), (cue,), interrupts=True)


Handler = Callable[[Machine, Sitting, C], Result]

TABLE: Mapping[tuple[Phase, type[cmd.Command]], Callable[..., Result]] = {
    (Phase.READY, cmd.Start): _start,
    (Phase.READY, cmd.Stop): _stop,
    (Phase.MOVING, cmd.Go): _go,
    (Phase.HOLDING, cmd.Pause): _pause,
    (Phase.MOVING, cmd.Pause): _pause,
    (Phase.PAUSED, cmd.CarryOn): _carry_on,
    **{
        (phase, command): handler
        for phase in (Phase.MOVING, Phase.HOLDING, Phase.PAUSED)
        for command, handler in (
            (cmd.Skip, _skip),
            (cmd.Again, _again),
            (cmd.Back, _back),
            (cmd.Say, _say),
            (cmd.Stop, _stop),
        )
    },
}


def one_key(machine: Machine) -> cmd.Command | None:
    """What the one big key means now: start, go when waited for, pause, carry on."""
    match machine.phase:
        case Phase.READY:
            return cmd.Start()
        case Phase.MOVING:
            return cmd.Go() if machine.sitting.until_ns is None else cmd.Pause()
        case Phase.HOLDING:
            return cmd.Pause()
        case Phase.PAUSED:
            return cmd.CarryOn()
        case _:
            return None

"""What a screen or a line of text shows at one moment. Read-only; nothing here decides."""

from dataclasses import dataclass
from typing import Literal

from coach.body.regions import Region, told
from coach.dose.energy import energy_fj
from coach.language import _
from coach.plan.care import Reminders
from coach.plan.spots import Spot
from coach.session import commands as cmd
from coach.session.cues import TURN_WORDS, near_text
from coach.session.machine import TABLE, Machine, Phase
from coach.session.readiness import Round
from coach.units import NS_PER_S

SpotState = Literal["done", "left out", "current", "coming"]


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One moment of a session.

    Attributes:
        phase: where the session stands.
        waits: the coach waits for the one key (get ready, paused, or a move without deadline).
        dog: the dog's name.
        rehearsal: the laser is off and nothing counts.
        spot: the current spot.
        place: its region.
        left_ns: what is left of the running hold, of the move, or of the spot that is to come.
        hold_ns: the planned time of the current spot.
        spot_left_ns: still to be given on the current spot.
        next_spot: the one after it, or None.
        done_spots: spots that need nothing more or were left out.
        spots: how many there are.
        to_come_ns: until the end, if nothing interferes.
        given_fj: energy given so far by the timer (coached, not measured), of a running hold by
            whole seconds.
        planned_fj: energy that the plan orders for the session.
        laser_button: the owner starts the laser at each spot.
        pause_reason: why it is paused, or "".
        notices: lines that must stay visible (no sound device, ...).
        near_side: ``The side nearest you.`` or ``The far side.``, of the current spot; "" when it
            is not known or the spot is in the middle.
        turn: what to do with the dog before the current spot, ``Turn the dog: left side up.``;
            "" when it stays as it lies.
        states: every spot of the session with how it stands, for the picture of the dog.
        tip: what is told on the way to the current spot, or "".
        reminders: how much is said about technique.
        readiness: the round before the start, None where there is none.
        away: nobody has answered for long.
    """

    phase: Phase
    waits: bool
    dog: str
    rehearsal: bool
    spot: Spot
    place: Region
    left_ns: int
    hold_ns: int
    spot_left_ns: int
    next_spot: Spot | None
    done_spots: int
    spots: int
    to_come_ns: int
    given_fj: int
    planned_fj: int
    laser_button: bool
    pause_reason: str
    notices: tuple[str, ...]
    near_side: str = ""
    turn: str = ""
    states: tuple[tuple[Spot, SpotState], ...] = ()
    tip: str = ""
    reminders: Reminders = "full"
    readiness: Round | None = None
    away: bool = False

    @property
    def asks(self) -> bool:
        """Whether the readiness round still has to be gone through."""
        return self.readiness is not None and not self.readiness.verdict

    def allows(self, command: type[cmd.Command]) -> bool:
        """Whether the table lists ``command`` now."""
        return (self.phase, command) in TABLE


def view(
    machine: Machine,
    now_ns: int,
    *,
    dog: str,
    rehearsal: bool,
    power_uw: int,
    notices: tuple[str, ...] = (),
    pause_reason: str = "",
    readiness: Round | None = None,
    away: bool = False,
) -> View:
    """The moment ``now_ns`` of ``machine``."""
    sitting = machine.sitting
    moving = sitting.phase is Phase.MOVING and sitting.until_ns is not None
    left_ns = machine.left_ns(now_ns)
    if moving and sitting.until_ns is not None:
        left_ns = max(0, sitting.until_ns - now_ns)
    given = sum(machine.given_ns(index, now_ns) for index in range(len(machine.spots)))
    # With the countdown, once a second: in between nothing that is shown would change.
    given -= sitting.held_ns(now_ns) % NS_PER_S
    done = sum(
        index in sitting.skipped or sitting.given_ns[index] >= sitting.granted_ns[index]
        for index in range(len(machine.spots))
    )
    states = tuple((spot, _state(machine, spot.index)) for spot in machine.spots)
    turn = ""
    if machine.spot.position is not None and (
        machine.turns(sitting.index, sitting.lies) or (sitting.turning and sitting.lies is not None)
    ):
        turn = _(TURN_WORDS[machine.spot.position])
    return View(
        phase=sitting.phase,
        waits=sitting.phase in (Phase.READY, Phase.PAUSED)
        or (sitting.phase is Phase.MOVING and not moving),
        dog=dog,
        rehearsal=rehearsal,
        spot=machine.spot,
        place=told(machine.spot.region),
        left_ns=left_ns,
        hold_ns=machine.spot.hold_ns,
        spot_left_ns=machine.left_ns(now_ns),
        next_spot=machine.next_spot,
        done_spots=done,
        spots=len(machine.spots),
        to_come_ns=machine.to_come_ns(now_ns),
        given_fj=energy_fj(power_uw=power_uw, duration_ns=given),
        planned_fj=energy_fj(
            power_uw=power_uw, duration_ns=sum(spot.hold_ns for spot in machine.spots)
        ),
        laser_button=machine.options.laser_button,
        pause_reason=pause_reason,
        notices=notices,
        near_side=near_text(machine.spot, machine.options.owner_sits),
        turn=turn,
        states=states,
        tip=machine.options.tip(sitting.index) if sitting.phase is Phase.MOVING else "",
        reminders=machine.options.reminders,
        readiness=readiness,
        away=away,
    )


def _state(machine: Machine, index: int) -> SpotState:
    sitting = machine.sitting
    if index == sitting.index:
        return "current"
    if index in sitting.skipped:
        return "left out"
    return "done" if sitting.given_ns[index] >= sitting.granted_ns[index] else "coming"

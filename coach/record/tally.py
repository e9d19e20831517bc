"""What was given against what was planned: a fold over the lines of a journal. Pure.

Given time comes from the ends of holds alone. A hold without an end, because the plug was
pulled, counts up to its last heartbeat: less than the truth by at most one heartbeat, never more.
Energy is mean power x given time, in integers, so sums are exact in any order. Fluence
(J/cm2) is energy over the beam area at the skin, spot by spot; places are never added up, and
sessions with different or unknown beam areas give none for the same spot.

All of it is coached: what the timer counted with the head said to be on the dog, not measured.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Literal, NamedTuple

from coach.body.site import AtSite, Flank, Site
from coach.dose.energy import energy_fj, fluence_j_cm2
from coach.journal.header import LARGEST, check_header
from coach.record.part import Part, Row, added, row_of
from coach.session.went_wrong import NOT_SAID

# What the answer to a question before a session came to where there is no session today.
REFUSING = frozenset({"stop", "vet_not_asked"})

State = Literal["not_begun", "finished", "stopped", "cut_off"]
Outcome = Literal["given", "cut_short", "skipped", "not_reached"]


class TallyError(ValueError):
    """A line that says what no session can have done; the message names the line."""


class Asked(NamedTuple):
    """Something that may be new before a session: the point, the answer and what came of it."""

    point: str
    answer: str
    outcome: str


class Hold(NamedTuple):
    """One pass over a spot: the line of the journal with which it began, and what it gave."""

    line: int
    given_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotTally(AtSite):
    """One spot of one session.

    Attributes:
        index: place in the session, from 0.
        site: where it is.
        of, settle, note: as in the plan's spots.
        planned_ns: what the plan orders.
        given_ns: what the timer counted, repeats included.
        outcome: ``given`` (at least what was planned), ``cut_short`` (something, not all),
            ``skipped`` (left out by the owner, perhaps after a part), ``not_reached``.
        reason: why it is not ``given``: the reason of the skip, of the stop, ``cut_off``, or "".
        repeats: how often it was asked for once more.
        pauses: reason of each pause on it, in order.
        started_wall, ended_wall: wall clock at its first and after its last hold, or None.
        holds: each pass over it, in order.
        treated_area_um2: the area over which the head was moved; None where it rested.
        contact, distance_mm: how the head was to be held, as far as the plan says.
    """

    index: int
    site: Site
    of: int
    settle: bool
    note: str
    planned_ns: int
    given_ns: int
    outcome: Outcome
    reason: str
    repeats: int
    pauses: tuple[str, ...]
    started_wall: str | None
    ended_wall: str | None
    holds: tuple[Hold, ...] = ()
    treated_area_um2: int | None = None
    contact: bool | None = None
    distance_mm: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftSpot(AtSite):
    """A spot of the plan that a short session left for the next one before it began."""

    site: Site
    of: int
    planned_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionTally:
    """One session.

    Attributes:
        program: version that wrote the journal.
        plan_id, plan_revision, plan_digest, prescriber: the plan.
        dog, weight_kg: the dog.
        rehearsal: the laser was off; nothing in here counts.
        laser: what the header says of the laser.
        power_uw: mean power in microwatts.
        beam_area_um2: beam area at the skin, or None if it was not stated.
        opened_wall, ended_wall: wall clock of the first and of the last line.
        trust: how far the wall clock could be trusted at the first line.
        state: how it ended; ``cut_off`` also while it is still running.
        reason: why it was stopped, or "".
        cuts: how often it was carried on after a cut.
        closed: whether the closing record is there.
        repaired: which lines of which damaged journal were left out, or "".
        helper: who treated, as it was said at the start, or "".
        overruled: what spoke against the start, as it was told, and the owner's reason, or ().
        notices: what went wrong meanwhile (no sound device, ...).
        problems: what does not fit together in the journal.
        spots: every spot of the session, in order.
        way_ns: time on the way to spots, with a laser that stays on; 0 for one with a button.
        refused: what the owner answered to the questions before, where that ended it: point,
            answer, outcome; or ().
        left_for_next: spots of the plan left for the next session from the start: not missed.
        went_wrong: accidents with the laser in use, by their names; ``not_said`` for one that the
            owner did not name.
    """

    program: str
    plan_id: str
    plan_revision: int
    plan_digest: str
    prescriber: str
    dog: str
    weight_kg: str
    rehearsal: bool
    laser: Mapping[str, Any]
    power_uw: int
    beam_area_um2: int | None
    opened_wall: str
    ended_wall: str
    trust: str
    state: State
    reason: str
    cuts: int
    closed: bool
    repaired: str
    overruled: tuple[str, ...]
    notices: tuple[str, ...]
    problems: tuple[str, ...]
    spots: tuple[SpotTally, ...]
    left_for_next: tuple[LeftSpot, ...] = ()
    helper: str = ""
    went_wrong: tuple[str, ...] = ()
    way_ns: int = 0
    refused: tuple[Asked, ...] = ()

    def row(self, spot: SpotTally) -> Row:
        """What ``spot`` adds to a sum."""
        return row_of(planned_ns=spot.planned_ns, given_ns=spot.given_ns, power_uw=self.power_uw)

    def total(self, spots: Iterable[SpotTally] | None = None) -> Part:
        """The sum over ``spots`` (all of them by default)."""
        return added(map(self.row, self.spots if spots is None else spots))

    @property
    def way_fj(self) -> int:
        """What may have been given besides, if the laser stayed on and the head on the dog."""
        return energy_fj(power_uw=self.power_uw, duration_ns=self.way_ns)

    @property
    def counts(self) -> bool:
        """Whether it counts: it was no rehearsal, and it began."""
        return not self.rehearsal and self.state != "not_begun"

    @property
    def ordered_ns(self) -> int:
        """The seconds of the plan's whole session, what was left for the next time included."""
        later_ns = sum(spot.planned_ns for spot in self.left_for_next)
        return later_ns + sum(spot.planned_ns for spot in self.spots)

    @property
    def towards_ns(self) -> int:
        """What was given of these: no spot counts for more than it was to have."""
        return sum(min(spot.given_ns, spot.planned_ns) for spot in self.spots)

    @property
    def share(self) -> Fraction:
        """What was given of the plan's whole session, as a part of 1."""
        return Fraction(self.towards_ns, self.ordered_ns) if self.ordered_ns else Fraction(0)

    def by_side(self) -> dict[Flank, tuple[SpotTally, ...]]:
        """The spots of each region and side, in the order of the session."""
        groups: dict[Flank, tuple[SpotTally, ...]] = {}
        for spot in self.spots:
            key = spot.site.flank
            groups[key] = (*groups.get(key, ()), spot)
        return groups

    def fluence_j_cm2(self, spot: SpotTally, duration_ns: int) -> Fraction | None:
        """Fluence of a spot held for ``duration_ns``.

        None when the beam area is unknown, or where the head was moved.
        """
        if spot.treated_area_um2 is not None:
            return None
        given_fj = energy_fj(power_uw=self.power_uw, duration_ns=duration_ns)
        return over_area(given_fj, self.beam_area_um2)

    def area_fluence_j_cm2(self, spot: SpotTally, duration_ns: int) -> Fraction | None:
        """J/cm2 over the treated area of a sweep; None where the head rested."""
        given_fj = energy_fj(power_uw=self.power_uw, duration_ns=duration_ns)
        return over_area(given_fj, spot.treated_area_um2)


def tally_of(lines: Iterable[Mapping[str, Any]]) -> SessionTally:
    """Fold the trusted lines of one journal, the header first. Raises TallyError."""
    walk = iter(lines)
    line: Mapping[str, Any] | None = None
    try:
        line = next(walk)
        fold = _Fold(line)
        handlers = fold.handlers()
        for line in walk:
            kind = line["kind"]
            # Nearly all lines are heartbeats: they are taken first and without a call.
            if kind == "heartbeat":
                data = line["data"]
                if data["spot"] != fold.running:
                    fold.settle(data["spot"], line["seq"])
                fold.held_ns = data["given_ns"]
            elif kind in handlers:
                handlers[kind](line, line["data"])
        fold.last = line
        return fold.tally()
    except StopIteration:
        raise TallyError("there is no trusted line to tally") from None
    except (LookupError, TypeError, ValueError, AttributeError, ArithmeticError) as error:
        number = "?" if line is None else line.get("seq", "?")
        raise TallyError(f"line {number} cannot be tallied: {error!r}") from error


@dataclass(slots=True)
class _Fold:
    """What is known so far. ``running`` is the spot of the hold that has no end yet, or None."""

    header: Mapping[str, Any]
    running: int | None = None
    begun_at: int = 0
    held_ns: int = 0
    last: Mapping[str, Any] = field(default_factory=dict)
    began: bool = False
    state: State = "cut_off"
    reason: str = ""
    cuts: int = 0
    closing: Mapping[str, Any] | None = None
    overruled: tuple[str, ...] = ()
    helper: str = ""
    refused: tuple[Asked, ...] = ()
    way_from_ns: int | None = None
    way_ns: int = 0
    notices: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    given_ns: list[int] = field(init=False)
    holds: list[list[Hold]] = field(init=False)
    repeats: list[int] = field(init=False)
    skipped: dict[int, str] = field(default_factory=dict)
    pauses: dict[int, list[str]] = field(default_factory=dict)
    started: dict[int, str] = field(default_factory=dict)
    ended: dict[int, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        check_header(self.header["data"])
        spots = self.header["data"]["spots"]
        self.given_ns = [0] * len(spots)
        self.holds = [[] for _ in spots]
        self.repeats = [0] * len(spots)

    def handlers(self) -> Mapping[str, Callable[[Mapping[str, Any], Mapping[str, Any]], None]]:
        return {
            "session_started": self._begin,
            "move_started": self._moves,
            "whats_new": self._told,
            "hold_started": self._hold_started,
            "hold_ended": self._hold_ended,
            "paused": self._paused,
            "spot_skipped": self._skipped,
            "spot_again": self._again,
            "went_back": self._back,
            "session_stopped": self._stopped,
            "session_finished": self._finished,
            "session_resumed": self._resumed,
            "session_cut_off": self._cut_off,
            "session_closed": self._closed,
            "overruled": self._overruled,
            "helper": self._treats,
            "went_wrong": self._wrong,
            "notice": self._notice,
        }

    def settle(self, running: int | None, line: int = 0) -> None:
        """A hold whose end was never written counts up to its last heartbeat.

        ``running`` is the spot of the hold that begins at ``line``, or None.
        """
        if self.running is not None:
            self._give(self.running, self.held_ns)
        self.running, self.begun_at, self.held_ns = running, line, 0

    def _give(self, spot: int, given_ns: int) -> None:
        self.given_ns[spot] += given_ns
        self.holds[spot].append(Hold(self.begun_at, given_ns))

    def _begin(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self.began = True

    def _told(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        if data.get("outcome") in REFUSING:
            self.refused = (*self.refused, Asked(*(str(data[name]) for name in Asked._fields)))

    def _moves(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self._arrive(data)
        self.way_from_ns = data.get("at_ns")

    def _arrive(self, data: Mapping[str, Any]) -> None:
        """The way is over, if there was one."""
        began_ns, self.way_from_ns = self.way_from_ns, None
        if began_ns is not None and "at_ns" in data:
            self.way_ns += max(0, data["at_ns"] - began_ns)

    def _hold_started(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self._arrive(data)
        self.settle(data["spot"], line["seq"])
        self.started.setdefault(data["spot"], line["wall"])

    def _hold_ended(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        spot, given_ns = data["spot"], data["given_ns"]
        if spot != self.running:
            self.settle(None, line["seq"])
        if given_ns < 0:
            raise ValueError("given_ns below zero")
        self._give(spot, given_ns)
        self.running, self.held_ns = None, 0
        self.ended[spot] = line["wall"]

    def _paused(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self._arrive(data)
        self.pauses.setdefault(data["spot"], []).append(data["reason"])

    def _skipped(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self._arrive(data)
        self.skipped[data["spot"]] = data["reason"]

    def _again(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self.repeats[data["spot"]] += 1
        self.skipped.pop(data["spot"], None)

    def _back(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self.skipped.pop(data["spot"], None)

    def _stopped(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self._arrive(data)
        self.state, self.reason = "stopped", data["reason"]

    def _finished(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self.state = "finished"

    def _resumed(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self.settle(None)
        self.way_from_ns = None
        self.cuts += 1

    def _cut_off(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self.settle(None)

    def _closed(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self.closing = data

    def _overruled(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self.overruled = (*map(str, data["texts"]), str(data["because"]))

    def _treats(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self.helper = str(data["name"])

    def _wrong(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self.wrong.append(str(data.get("what") or NOT_SAID))

    def _accidents(self) -> tuple[str, ...]:
        """What went wrong, each once; one that was named takes the place of one that was not."""
        named = [what for what in dict.fromkeys(self.wrong) if what != NOT_SAID]
        return tuple(named) or ((NOT_SAID,) if self.wrong else ())

    def _notice(self, line: Mapping[str, Any], data: Mapping[str, Any]) -> None:
        self.notices.append(data["what"])

    def tally(self) -> SessionTally:
        self.settle(None)
        self._check_kinds()
        head = self.header["data"]
        laser = head["laser"]
        state: State = self.state if self.began or self.state == "finished" else "not_begun"
        return SessionTally(
            program=head["program"],
            plan_id=head["plan"]["id"],
            plan_revision=head["plan"]["revision"],
            plan_digest=head["plan"]["digest"],
            prescriber=head["plan"]["prescriber"],
            dog=head["dog"]["name"],
            weight_kg=str(head["dog"]["weight_kg"]),
            rehearsal=head["rehearsal"],
            laser=laser,
            power_uw=laser["mean_power_uw"],
            beam_area_um2=laser["beam_area_um2"],
            opened_wall=self.header["wall"],
            ended_wall=self.last["wall"],
            trust=self.header["trust"],
            state=state,
            reason=self.reason,
            cuts=self.cuts,
            closed=self.closing is not None,
            repaired=_repaired(head.get("repaired_from")),
            overruled=self.overruled,
            notices=tuple(self.notices),
            helper=self.helper,
            went_wrong=self._accidents(),
            way_ns=0 if head.get("options", {}).get("laser_button") else self.way_ns,
            refused=self.refused if state == "not_begun" else (),
            problems=tuple(self._problems(head["spots"])),
            spots=tuple(self._spot(spot) for spot in head["spots"]),
            left_for_next=tuple(
                LeftSpot(site=Site.read(spot), of=spot["of"], planned_ns=spot["hold_ns"])
                for spot in head.get("left_for_next", ())
            ),
        )

    def _check_kinds(self) -> None:
        """Raise ValueError where the lines said what cannot be counted or told."""
        for given_ns in self.given_ns:
            if type(given_ns) is not int or not 0 <= given_ns <= LARGEST:
                raise ValueError(f"given_ns: found {str(given_ns)[:40]}; allowed: 0 to {LARGEST}")
        pauses = (reason for reasons in self.pauses.values() for reason in reasons)
        for text in (self.reason, *self.skipped.values(), *pauses, *self.notices):
            if type(text) is not str:
                raise ValueError(f"found {str(text)[:40]}; allowed: a text")

    def _spot(self, spot: Mapping[str, Any]) -> SpotTally:
        index = spot["index"]
        given_ns, planned_ns = self.given_ns[index], spot["hold_ns"]
        outcome: Outcome
        reason = self.reason if self.state == "stopped" else ""
        if self.state == "cut_off":
            reason = "cut_off"
        if given_ns >= planned_ns:
            outcome, reason = "given", ""
        elif index in self.skipped:
            outcome, reason = "skipped", self.skipped[index]
        else:
            outcome = "cut_short" if given_ns else "not_reached"
        return SpotTally(
            index=index,
            site=Site.read(spot),
            of=spot["of"],
            settle=spot["settle"],
            note=spot["note"],
            planned_ns=planned_ns,
            given_ns=given_ns,
            outcome=outcome,
            reason=reason,
            repeats=self.repeats[index],
            pauses=tuple(self.pauses.get(index, ())),
            started_wall=self.started.get(index),
            ended_wall=self.ended.get(index),
            holds=tuple(self.holds[index]),
            treated_area_um2=spot.get("treated_area_um2"),
            contact=spot.get("contact"),
            distance_mm=spot.get("distance_mm"),
        )

    def _problems(self, spots: list[Mapping[str, Any]]) -> Iterable[str]:
        for spot, given_ns, repeats in zip(spots, self.given_ns, self.repeats, strict=True):
            if given_ns > spot["hold_ns"] * (1 + repeats):
                yield f"spot {spot['index'] + 1}: more was given than was granted"
        if self.closing is not None and list(self.closing["given_ns"]) != self.given_ns:
            yield "the closing record does not agree with the lines before it"


def _repaired(told: Mapping[str, Any] | None) -> str:
    if told is None:
        return ""
    left_out = ", ".join(str(number) for number in told["left_out"])
    return f"from {told['journal']}, without its lines {left_out}"


def over_area(energy: int, area_um2: int | None) -> Fraction | None:
    """Fluence in J/cm2 of ``energy`` (fJ) over a beam area; None when that is unknown."""
    return None if area_um2 is None else fluence_j_cm2(energy_fj=energy, beam_area_um2=area_um2)

"""A session as it was, by what its household corrected afterwards. Pure; the journal stays.

A correction of the diary (:class:`coach.journal.diary_entries.Correction`) points at a spot, at a
line of the journal (which stands for the hold it belongs to, else for its spot), or at the whole
session. What was given in a hold then

* ``laser_was_off``: was nothing;
* ``wrong_side``: went to the same spot of the other side, on top of what that had. A spot in the
  middle has no other side: said of the whole session it stays as it is, said of that very spot it
  means that nobody knows where it went, as with
* ``wrong_region``: went somewhere else: nothing was given here;
* ``not_this_dog`` (always the whole session): was not for this dog, the session does not count;
* ``note``: stays.

The last one that is no note decides for a hold.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

from coach.body.site import Site
from coach.journal.diary_entries import Correction
from coach.record.tally import Hold, SessionTally, SpotTally

Effect = Literal["wrong_side", "wrong_region", "laser_was_off"]


class LineAt(NamedTuple):
    """What a line of a journal speaks of: a spot (from 0), and before, in or after which hold.

    ``ahead``: it stands before the hold that it belongs to.
    """

    spot: int
    line: int
    ahead: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """A session after its corrections.

    ``tally`` is None when the session was not this dog's; ``effects`` say how many nanoseconds of
    a spot (from 0) were taken away by what; ``remarks`` tell which corrections point at nothing
    and were therefore not used.
    """

    tally: SessionTally | None
    effects: Mapping[int, Mapping[Effect, int]] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()


def corrected(
    tally: SessionTally,
    corrections: Iterable[Correction],
    *,
    at_line: Callable[[int], LineAt | None],
) -> Corrected:
    """``tally`` by ``corrections``, in the order in which they were written.

    ``at_line`` says what a line of the journal (from 1) speaks of, or None.
    """
    remarks: list[str] = []
    effects: dict[_Which, Effect] = {}
    for correction in corrections:
        match correction.what:
            case "note":
                continue
            case "not_this_dog":
                return Corrected(tally=None)
            case effect:
                chosen = list(_chosen(tally, correction, at_line))
                if not chosen:
                    at = f"spot {correction.spot}" if correction.spot else f"line {correction.line}"
                    remarks.append(f"a correction points at {at}, no spot of this session")
                effects.update(dict.fromkeys(chosen, effect))
                if effect == "laser_was_off" and correction.spot is correction.line is None:
                    tally = replace(tally, way_ns=0)
    taken: dict[int, dict[Effect, int]] = {}
    for spot in tally.spots:
        for number, hold in enumerate(_holds(spot)):
            done = effects.get(_Which(spot.index, number))
            if done is not None:
                by = taken.setdefault(spot.index, {})
                by[done] = by.get(done, 0) + hold.given_ns
    if taken:
        tally = replace(tally, spots=_as_it_was(tally.spots, taken))
    return Corrected(tally=tally, effects=MappingProxyType(taken), remarks=tuple(remarks))


def lines_at(lines: Sequence[Mapping[str, Any]]) -> Callable[[int], LineAt | None]:
    """For :func:`corrected`: what a decoded line of a journal speaks of."""

    def look(number: int) -> LineAt | None:
        if not 1 <= number <= len(lines):
            return None
        line = lines[number - 1]
        spot = line["data"].get("spot")
        if not isinstance(spot, int):
            return None
        return LineAt(spot, line["seq"], ahead=line["kind"] in _AHEAD)

    return look


# Lines that stand before the hold to which they belong.
_AHEAD = frozenset({"move_started", "spot_again", "went_back"})


class _Which(NamedTuple):
    """A hold: of which spot, and the how-manieth of it, from 0."""

    spot: int
    hold: int


def _holds(spot: SpotTally) -> Sequence[Hold]:
    """The holds of a spot, at least one."""
    return spot.holds or (Hold(0, spot.given_ns),)


def _every_hold(spot: SpotTally) -> Iterable[_Which]:
    return (_Which(spot.index, number) for number, _ in enumerate(_holds(spot)))


def _chosen(
    tally: SessionTally, correction: Correction, at_line: Callable[[int], LineAt | None]
) -> Iterable[_Which]:
    spots = {spot.index: spot for spot in tally.spots}
    if correction.spot is not None:
        spot = spots.get(correction.spot - 1)
        return () if spot is None else _every_hold(spot)
    if correction.line is not None:
        at = at_line(correction.line)
        spot = None if at is None else spots.get(at.spot)
        return () if at is None or spot is None else _hold_at(spot, at)
    if correction.what == "wrong_side":
        return (one for spot in tally.spots if spot.site.across for one in _every_hold(spot))
    return (one for spot in tally.spots for one in _every_hold(spot))


def _hold_at(spot: SpotTally, at: LineAt) -> Iterable[_Which]:
    """The hold to which a line belongs; every hold of the spot where it belongs to none."""
    begun = [hold.line for hold in spot.holds]
    before = sum(line <= at.line for line in begun)
    found = before if at.ahead else before - 1
    if 0 <= found < len(begun):
        return (_Which(spot.index, found),)
    return _every_hold(spot)


def _as_it_was(
    spots: Sequence[SpotTally], taken: Mapping[int, Mapping[Effect, int]]
) -> tuple[SpotTally, ...]:
    given_ns = {spot.index: spot.given_ns for spot in spots}
    at: dict[Site, int] = {spot.site: spot.index for spot in spots}
    extra: list[SpotTally] = []
    for spot in spots:
        given_ns[spot.index] -= sum(taken.get(spot.index, {}).values())
    for spot in spots:
        across = spot.site.across
        moved_ns = taken.get(spot.index, {}).get("wrong_side", 0)
        if across is None or not moved_ns:
            continue
        if across in at:
            given_ns[at[across]] += moved_ns
            continue
        # The plan has no such spot: it was given all the same.
        extra.append(
            replace(
                spot,
                index=len(spots) + len(extra),
                site=across,
                planned_ns=0,
                given_ns=moved_ns,
                outcome="given",
                reason="wrong_side",
                repeats=0,
                pauses=(),
                holds=(),
            )
        )
    return (*(_given(spot, given_ns[spot.index], taken) for spot in spots), *extra)


def _given(spot: SpotTally, given_ns: int, taken: Mapping[int, Mapping[Effect, int]]) -> SpotTally:
    """``spot`` with what it had in truth."""
    if given_ns == spot.given_ns:
        return spot
    if given_ns >= spot.planned_ns:
        return replace(spot, given_ns=given_ns, outcome="given", reason="", holds=())
    return replace(
        spot,
        given_ns=given_ns,
        outcome="cut_short" if given_ns else "skipped",
        reason=[spot.reason, *taken.get(spot.index, ())][-1],
        holds=(),
    )

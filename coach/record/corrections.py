"""A session as it was, by what its household corrected afterwards. Pure; the journal stays.

A correction of the diary (:class:`coach.journal.diary_entries.Correction`) points at a spot, at a
line of the journal (which stands for its spot), or at the whole session. What was given on a spot
then

* ``laser_was_off``: was nothing;
* ``wrong_side``: went to the same spot of the other side, on top of what that had. A spot in the
  middle has no other side: said of the whole session it stays as it is, said of that very spot it
  means that nobody knows where it went, as with
* ``wrong_region``: went somewhere else: nothing was given here;
* ``not_this_dog`` (always the whole session): was not for this dog, the session does not count;
* ``note``: stays.

The last one that is no note decides for a spot.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Literal

from coach.journal.diary_entries import Correction
from coach.record.tally import SessionTally, SpotTally

_OTHER = {"left": "right", "right": "left"}


Effect = Literal["wrong_side", "wrong_region", "laser_was_off"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """A session after its corrections.

    ``tally`` is None when the session was not this dog's; ``effects`` say what became of a spot
    (from 0); ``remarks`` tell which corrections point at nothing and were therefore not used.
    """

    tally: SessionTally | None
    effects: Mapping[int, Effect] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()


def corrected(
    tally: SessionTally,
    corrections: Iterable[Correction],
    *,
    spot_of_line: Callable[[int], int | None],
) -> Corrected:
    """``tally`` by ``corrections``, in the order in which they were written.

    ``spot_of_line`` gives the spot (from 0) of a line of the journal (from 1), or None.
    """
    remarks: list[str] = []
    effects: dict[int, Effect] = {}
    for correction in corrections:
        match correction.what:
            case "note":
                continue
            case "not_this_dog":
                return Corrected(tally=None)
            case effect:
                chosen = _spots(tally, correction, spot_of_line)
                if not chosen:
                    at = f"spot {correction.spot}" if correction.spot else f"line {correction.line}"
                    remarks.append(f"a correction points at {at}, no spot of this session")
                effects.update(dict.fromkeys(chosen, effect))
    if effects:
        tally = replace(tally, spots=_as_it_was(tally.spots, effects))
    return Corrected(tally=tally, effects=MappingProxyType(effects), remarks=tuple(remarks))


def other_side(side: str) -> str | None:
    """The side across; None for the middle."""
    return _OTHER.get(side)


def spot_of_line(lines: Sequence[Mapping[str, Any]]) -> Callable[[int], int | None]:
    """For :func:`corrected`: the spot that a decoded line of a journal speaks of."""

    def look(number: int) -> int | None:
        if not 1 <= number <= len(lines):
            return None
        spot = lines[number - 1]["data"].get("spot")
        return spot if isinstance(spot, int) else None

    return look


def _spots(
    tally: SessionTally, correction: Correction, at_line: Callable[[int], int | None]
) -> list[int]:
    known = {spot.index for spot in tally.spots}
    if correction.spot is not None:
        return [correction.spot - 1] if correction.spot - 1 in known else []
    if correction.line is not None:
        found = at_line(correction.line)
        return [found] if found is not None and found in known else []
    if correction.what == "wrong_side":
        return [spot.index for spot in tally.spots if spot.side in _OTHER]
    return sorted(known)


def _as_it_was(spots: Sequence[SpotTally], effects: Mapping[int, Effect]) -> tuple[SpotTally, ...]:
    given_ns = {spot.index: 0 if spot.index in effects else spot.given_ns for spot in spots}
    at = {(spot.region, spot.side, spot.aspect, spot.number): spot.index for spot in spots}
    extra: list[SpotTally] = []
    for spot in spots:
        side = _OTHER.get(spot.side)
        if effects.get(spot.index) != "wrong_side" or side is None or not spot.given_ns:
            continue
        there = at.get((spot.region, side, spot.aspect, spot.number))
        if there is not None:
            given_ns[there] += spot.given_ns
            continue
        # The plan has no such spot: it was given all the same.
        extra.append(
            replace(
                spot,
                index=len(spots) + len(extra),
                side=side,
                planned_ns=0,
                outcome="given",
                reason="wrong_side",
                repeats=0,
                pauses=(),
            )
        )
    return (*(_given(spot, given_ns[spot.index], effects) for spot in spots), *extra)


def _given(spot: SpotTally, given_ns: int, effects: Mapping[int, Effect]) -> SpotTally:
    """``spot`` with what it had in truth."""
    if given_ns == spot.given_ns:
        return spot
    if given_ns >= spot.planned_ns:
        return replace(spot, given_ns=given_ns, outcome="given", reason="")
    return replace(
        spot,
        given_ns=given_ns,
        outcome="cut_short" if given_ns else "skipped",
        reason=effects.get(spot.index, spot.reason),
    )

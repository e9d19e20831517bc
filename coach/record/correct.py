"""A session as it was, by what its household corrected afterwards. Pure; the journal stays.

A correction of the diary (:class:`coach.record.entries.Correction`) points at a spot, at a line of
the journal (which stands for its spot), or at the whole session. What was given on a spot then

* ``laser_was_off``: was nothing;
* ``wrong_side``: went to the other side, on top of what that had; where there is no other side
  (the middle) nobody knows where it went, as with
* ``wrong_region``: went somewhere else: nothing was given here;
* ``not_this_dog`` (always the whole session): was not for this dog, the session does not count;
* ``note``: stays.

The last one that is no note decides for a spot.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from coach.record.entries import Correction
from coach.record.tally import SessionTally, SpotTally

_OTHER = {"left": "right", "right": "left"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """A session after its corrections.

    ``tally`` is None when the session was not this dog's; ``remarks`` tell which corrections
    point at nothing and were therefore not used.
    """

    tally: SessionTally | None
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
    by_spot: dict[int, str] = {}
    for correction in corrections:
        if correction.what == "note":
            continue
        if correction.what == "not_this_dog":
            return Corrected(tally=None)
        chosen = _spots(tally, correction, spot_of_line)
        if not chosen:
            at = f"spot {correction.spot}" if correction.spot else f"line {correction.line}"
            remarks.append(f"a correction points at {at}, which is no spot of this session")
        by_spot.update(dict.fromkeys(chosen, correction.what))
    if not by_spot:
        return Corrected(tally=tally, remarks=tuple(remarks))
    spots = [_as_it_was(spot, by_spot.get(spot.index)) for spot in tally.spots]
    moved = [
        replace(
            spot,
            index=len(spots) + count,
            side=_OTHER[spot.side],
            planned_ns=0,
            outcome="given",
            reason="wrong_side",
            repeats=0,
            pauses=(),
        )
        for count, spot in enumerate(
            spot
            for spot in tally.spots
            if by_spot.get(spot.index) == "wrong_side" and spot.given_ns and spot.side in _OTHER
        )
    ]
    return Corrected(tally=replace(tally, spots=(*spots, *moved)), remarks=tuple(remarks))


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
    return sorted(known)


def _as_it_was(spot: SpotTally, what: str | None) -> SpotTally:
    if what is None or spot.given_ns == 0:
        return spot
    return replace(spot, given_ns=0, outcome="skipped", reason=what)

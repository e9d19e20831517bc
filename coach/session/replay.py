"""Where a session stood, from the lines of its journal, so that it can be carried on. Pure.

What was given is taken as given, up to the last heartbeat of a hold that was cut. The session
comes back paused, at the spot where it was cut; nothing runs until the owner carries on.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from coach.plan.spots import Spot
from coach.session.machine import Phase, Sitting


def restore(
    spots: Sequence[Spot], lines: Iterable[Mapping[str, Any]], *, now_ns: int
) -> Sitting | None:
    """The sitting after ``lines`` (decoded, trusted); None if it never began or is over.

    ``spots`` must be those of the header (ValueError if their number or times differ).
    """
    granted = [spot.hold_ns for spot in spots]
    given = [0] * len(spots)
    repeats = [0] * len(spots)
    skipped: set[int] = set()
    index, running, held_ns, began = 0, -1, 0, False
    for line in lines:
        kind, data = line["kind"], line["data"]
        match kind:
            case "session_opened":
                if [spot["hold_ns"] for spot in data["spots"]] != granted:
                    raise ValueError("the journal is about other spots than the plan")
            case "heartbeat":
                held_ns = data["given_ns"]
            case "session_started":
                began = True
            case "move_started":
                index = data["spot"]
            case "hold_started":
                index = running = data["spot"]
                held_ns = 0
            case "hold_ended":
                given[data["spot"]] += data["given_ns"]
                running, held_ns = -1, 0
            case "session_resumed":
                if running >= 0:
                    given[running] += held_ns
                running, held_ns = -1, 0
            case "spot_skipped":
                skipped.add(data["spot"])
            case "spot_again":
                index = data["spot"]
                granted[index] = given[index] + spots[index].hold_ns
                repeats[index] += 1
                skipped.discard(index)
            case "went_back":
                index = data["spot"]
                skipped.discard(index)
            case "session_finished" | "session_stopped" | "session_cut_off" | "session_closed":
                return None
    if not began:
        return None
    if running >= 0:
        given[running] += held_ns
    return Sitting(
        phase=Phase.PAUSED,
        index=_unfinished(index, given, granted, skipped),
        given_ns=tuple(given),
        granted_ns=tuple(granted),
        repeats=tuple(repeats),
        skipped=frozenset(skipped),
        now_ns=now_ns,
    )


def _unfinished(index: int, given: list[int], granted: list[int], skipped: set[int]) -> int:
    """The spot to carry on with: not one that was done or left out just before the cut."""
    for candidate in range(index, len(given)):
        if given[candidate] < granted[candidate] and candidate not in skipped:
            return candidate
    return index

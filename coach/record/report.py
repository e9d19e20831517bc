"""The tally as plain text for a terminal of 60 columns, and as JSON. Pure.

``tallies_json`` gives ``{"schema": 1, "coached": true, "sessions": [...], "course": [...]}``.
Numbers are exact: ``_ns`` nanoseconds, ``_fj`` femtojoules as integers; ``_s``, ``_j`` and
``_j_cm2`` are decimal strings, null where a beam area is unknown or differs. A session has

    plan {id, revision, digest, prescriber}, dog {name, weight_kg}, program, laser, rehearsal,
    opened_wall, ended_wall, trust, state, reason, cuts, closed, repaired, overruled,
    notices, problems,
    total, sides, spots, left_for_next

where ``total`` has spots, given, planned_ns/_s/_fj/_j and given_ns/_s/_fj/_j; ``sides`` are
totals of each region and side; ``spots`` have index, region, side, aspect, number, of, settle,
note, outcome, reason, repeats, pauses, started_wall, ended_wall, planned_ and given_ values and
fluence; ``left_for_next`` what a short session left out from the start. ``course`` sums the
sessions that count, for each dog, place by place.
"""

import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any

from coach.body import region
from coach.dose.energy import energy_fj
from coach.record.course import CourseSpot, counted, course_spots
from coach.record.tally import SessionTally, SpotTally, Sum
from coach.units import j_from_fj, rounded, s_from_ns

WIDTH = 60
JSON_SCHEMA = 1
COACHED = "Counted by the timer (coached), not measured."

STATE_WORDS = {
    "finished": "finished",
    "stopped": "stopped early",
    "cut_off": "not closed: cut off, or still running",
    "not_begun": "opened, but never begun",
}
REASON_WORDS = {
    "asked": "by the owner's wish",
    "sore": "sore",
    "out_of_reach": "out of reach",
    "dog_objects": "the dog objected",
    "lump_or_wound": "a lump or wound",
    "dog_unhappy": "the dog was unhappy",
    "hot_skin": "the skin felt hot",
    "no_time": "no time left",
    "closed": "the program was closed",
    "cut_off": "cut off",
    "dog_moved": "the dog moved",
    "contact_lost": "contact lost",
}
TRUST_WORDS = {
    "synchronised": "",
    "rtc": " (clock not checked)",
    "unknown": " (clock not to be trusted)",
}
OUTCOME_WORDS = {
    "cut_short": "cut short",
    "skipped": "skipped",
    "not_reached": "not reached",
}


def report_lines(tally: SessionTally) -> list[str]:
    """One session, at most 60 columns wide."""
    lines = _wrapped(
        f"{tally.dog}: plan {tally.plan_id}, revision {tally.plan_revision}, "
        f"prescribed by {tally.prescriber}"
    )
    lines += _wrapped(_heading(tally))
    if tally.rehearsal:
        lines.append("REHEARSAL, laser off: nothing of this counts.")
    if tally.repaired:
        lines += _wrapped(f"REPAIRED: {tally.repaired}; what was left out is not counted.")
    lines += [f"{'':9}{'spots':>6}{'seconds':>13}{'J':>16}{'J/cm2 a spot':>16}"]
    shown = ""
    for (key, side), spots in tally.by_side().items():
        if key != shown:
            lines += _wrapped(_region_words(key))
            shown = key
        lines += _row(side, tally.total(spots), _fluences(tally, spots))
    lines += _row("all", tally.total(), "")
    lines += _missed(tally)
    lines += _left(tally)
    for spot in tally.spots:
        if spot.repeats:
            lines += _item(f"{_place(spot)}: given again ({spot.repeats} x)")
    if tally.overruled:
        *against, because = tally.overruled
        lines += _wrapped(f"Started by the owner although {'; '.join(against)}: {because}")
    for notice in dict.fromkeys(tally.notices):
        lines += _item(f"meanwhile: {notice.replace('_', ' ')}")
    for problem in tally.problems:
        lines += _item(f"DOES NOT FIT: {problem}")
    return [*lines, COACHED]


def course_lines(tallies: Sequence[SessionTally]) -> list[str]:
    """Several sessions: each by itself, then the sums for each dog."""
    lines: list[str] = []
    for tally in tallies:
        lines += [*report_lines(tally), ""]
    for dog in dict.fromkeys(tally.dog for tally in tallies):
        of_dog = [tally for tally in tallies if tally.dog == dog]
        if len(of_dog) > 1:
            lines += [*_course(dog, of_dog), ""]
    return lines[:-1]


def tallies_json(tallies: Sequence[SessionTally]) -> dict[str, Any]:
    """Everything, machine-readable; described above."""
    dogs = dict.fromkeys(tally.dog for tally in tallies)
    return {
        "schema": JSON_SCHEMA,
        "coached": True,
        "sessions": [_session_json(tally) for tally in tallies],
        "course": [
            {
                "dog": dog,
                "sessions": len(counted(t for t in tallies if t.dog == dog)),
                "spots": [
                    _course_json(spot) for spot in course_spots(t for t in tallies if t.dog == dog)
                ],
            }
            for dog in dogs
        ],
    }


def _heading(tally: SessionTally) -> str:
    moment = tally.opened_wall[:16].replace("T", " ") + TRUST_WORDS[tally.trust]
    text = f"Session of {moment}: {STATE_WORDS[tally.state]}"
    if tally.reason and tally.state == "stopped":
        text += f" ({REASON_WORDS.get(tally.reason, tally.reason)})"
    if tally.cuts:
        text += f"; carried on after a cut ({tally.cuts} x)"
    return text


def _course(dog: str, tallies: list[SessionTally]) -> list[str]:
    count = counted(tallies)
    left_out = len(tallies) - len(count)
    lines = [f"{dog}: {len(count)} session{'s' * (len(count) != 1)} together"]
    if left_out:
        lines.append(f"({left_out} not counted: rehearsed or never begun)")
    lines.append(f"{'':9}{'spots':>6}{'seconds':>13}{'J':>16}{'J/cm2 a spot':>16}")
    groups: dict[tuple[str, str], list[CourseSpot]] = {}
    for spot in course_spots(tallies):
        groups.setdefault((spot.region, spot.side), []).append(spot)
    shown = ""
    for (key, side), spots in groups.items():
        if key != shown:
            lines += _wrapped(_region_words(key))
            shown = key
        total = Sum(
            spots=sum(spot.sessions for spot in spots),
            given=sum(
                one.outcome == "given"
                for tally in count
                for one in tally.spots
                if (one.region, one.side) == (key, side)
            ),
            planned_ns=sum(spot.planned_ns for spot in spots),
            given_ns=sum(spot.given_ns for spot in spots),
            planned_fj=sum(spot.planned_fj for spot in spots),
            given_fj=sum(spot.given_fj for spot in spots),
        )
        pairs = [(spot.given_j_cm2, spot.planned_j_cm2) for spot in spots]
        lines += _row(side, total, _fluence_text(pairs))
    if any(spot.given_j_cm2 is None for spot in course_spots(tallies)):
        lines += _wrapped(
            "J/cm2 is blank where the beam area is unknown or was not always the same."
        )
    return [*lines, COACHED]


def _region_words(key: str) -> str:
    try:
        place = region(key)
    except KeyError:
        # A region that a newer program knows: its key is all that there is to say.
        return key
    return f"{place.owner_words} / {place.term}"


def _row(name: str, total: Sum, fluence: str) -> list[str]:
    """One line, or several where the values are too long for one."""
    spots = f"{total.given}/{total.spots}"
    seconds = f"{_seconds(total.given_ns)}/{_seconds(total.planned_ns)}"
    joules = f"{_joules(total.given_fj)}/{_joules(total.planned_fj)}"
    row = f"  {name:7}{spots:>6} {seconds:>12} {joules:>15}"
    whole = f"{row} {fluence:>15}".rstrip()
    if len(whole) <= WIDTH:
        return [whole]
    apart = [f"J/cm2 a spot: {fluence}".rjust(WIDTH)] if fluence else []
    if len(row) <= WIDTH:
        return [row, *apart]
    return [
        f"  {name:7}{spots:>6}",
        f"{seconds} s".rjust(WIDTH),
        f"{joules} J".rjust(WIDTH),
        *apart,
    ]


def _fluences(tally: SessionTally, spots: Iterable[SpotTally]) -> str:
    return _fluence_text(
        [
            (tally.fluence_j_cm2(spot.given_ns), tally.fluence_j_cm2(spot.planned_ns))
            for spot in spots
        ]
    )


def _fluence_text(pairs: Sequence[tuple[Fraction | None, Fraction | None]]) -> str:
    """``6.0/6.0``, or the lowest and the highest of the spots; blank when one is unknown."""
    given = [g for g, _ in pairs if g is not None]
    planned = [p for _, p in pairs if p is not None]
    if len(given) < len(pairs) or len(planned) < len(pairs):
        return ""
    return f"{_span(given)}/{_span(planned)}"


def _span(values: Sequence[Fraction]) -> str:
    low, high = rounded(min(values), 1), rounded(max(values), 1)
    return f"{low}" if low == high else f"{low}-{high}"


def _missed(tally: SessionTally) -> list[str]:
    missed = [spot for spot in tally.spots if spot.outcome != "given"]
    if not missed:
        return ["Every spot had its seconds."]
    lines = ["Not given as planned:"]
    # What was never reached is one story, told once; the table above has its places.
    unreached = [spot for spot in missed if spot.outcome == "not_reached"]
    for spot in missed:
        if spot.outcome == "not_reached" and len(unreached) > 1:
            continue
        why = f" ({REASON_WORDS.get(spot.reason, spot.reason)})" if spot.reason else ""
        lines += _item(
            f"{_place(spot)}: {OUTCOME_WORDS[spot.outcome]}{why}, "
            f"{_seconds(spot.given_ns)} of {_seconds(spot.planned_ns)} s"
        )
    if len(unreached) > 1:
        reason = unreached[0].reason
        why = f" ({REASON_WORDS.get(reason, reason)})" if reason else ""
        lines += _item(
            f"{len(unreached)} spots not reached{why}, from {_place(unreached[0])} "
            f"to {_place(unreached[-1])}"
        )
    return lines


def _left(tally: SessionTally) -> list[str]:
    if not tally.left_for_next:
        return []
    places = Counter((spot.region, spot.side, spot.aspect) for spot in tally.left_for_next)
    lines = ["Left for next time from the start, not missed:"]
    for (key, side, aspect), count in places.items():
        where = ", ".join(filter(None, (_owner_words(key), side, aspect)))
        lines += _item(f"{where}: {count} spot{'s' * (count != 1)}")
    return lines


def _owner_words(key: str) -> str:
    try:
        return region(key).owner_words
    except KeyError:
        return key


def _place(spot: SpotTally) -> str:
    parts = [_owner_words(spot.region), spot.side, *([spot.aspect] if spot.aspect else [])]
    return f"{', '.join(parts)}, spot {spot.number} of {spot.of}"


def _seconds(duration_ns: int) -> str:
    exact = s_from_ns(duration_ns)
    return str(rounded(exact, 0 if exact.denominator == 1 else 1))


def _joules(energy: int) -> str:
    return str(rounded(j_from_fj(energy), 2))


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ") or [""]


def _item(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")


def _decimal(value: Fraction | None) -> str | None:
    return None if value is None else str(rounded(value, 6))


def _values(name: str, duration_ns: int, energy: int) -> dict[str, Any]:
    return {
        f"{name}_ns": duration_ns,
        f"{name}_s": _decimal(s_from_ns(duration_ns)),
        f"{name}_fj": energy,
        f"{name}_j": _decimal(j_from_fj(energy)),
    }


def _sum_json(total: Sum) -> dict[str, Any]:
    return {
        "spots": total.spots,
        "given": total.given,
        **_values("planned", total.planned_ns, total.planned_fj),
        **_values("given", total.given_ns, total.given_fj),
    }


def _session_json(tally: SessionTally) -> dict[str, Any]:
    return {
        "plan": {
            "id": tally.plan_id,
            "revision": tally.plan_revision,
            "digest": tally.plan_digest,
            "prescriber": tally.prescriber,
        },
        "dog": {"name": tally.dog, "weight_kg": tally.weight_kg},
        "program": tally.program,
        "laser": dict(tally.laser),
        "rehearsal": tally.rehearsal,
        "opened_wall": tally.opened_wall,
        "ended_wall": tally.ended_wall,
        "trust": tally.trust,
        "state": tally.state,
        "reason": tally.reason,
        "cuts": tally.cuts,
        "closed": tally.closed,
        "repaired": tally.repaired,
        "overruled": list(tally.overruled),
        "notices": list(tally.notices),
        "problems": list(tally.problems),
        "total": _sum_json(tally.total()),
        "sides": [
            {"region": key, "side": side, **_sum_json(tally.total(spots))}
            for (key, side), spots in tally.by_side().items()
        ],
        "spots": [_spot_json(tally, spot) for spot in tally.spots],
        "left_for_next": [
            {
                "region": spot.region,
                "side": spot.side,
                "aspect": spot.aspect,
                "number": spot.number,
                "of": spot.of,
                "planned_ns": spot.planned_ns,
                "planned_s": _decimal(s_from_ns(spot.planned_ns)),
            }
            for spot in tally.left_for_next
        ],
    }


def _spot_json(tally: SessionTally, spot: SpotTally) -> dict[str, Any]:
    def energy(duration_ns: int) -> int:
        return energy_fj(power_uw=tally.power_uw, duration_ns=duration_ns)

    return {
        "index": spot.index,
        "region": spot.region,
        "side": spot.side,
        "aspect": spot.aspect,
        "number": spot.number,
        "of": spot.of,
        "settle": spot.settle,
        "note": spot.note,
        "outcome": spot.outcome,
        "reason": spot.reason,
        "repeats": spot.repeats,
        "pauses": list(spot.pauses),
        "started_wall": spot.started_wall,
        "ended_wall": spot.ended_wall,
        **_values("planned", spot.planned_ns, energy(spot.planned_ns)),
        **_values("given", spot.given_ns, energy(spot.given_ns)),
        "planned_j_cm2": _decimal(tally.fluence_j_cm2(spot.planned_ns)),
        "given_j_cm2": _decimal(tally.fluence_j_cm2(spot.given_ns)),
    }


def _course_json(spot: CourseSpot) -> dict[str, Any]:
    return {
        "region": spot.region,
        "side": spot.side,
        "aspect": spot.aspect,
        "number": spot.number,
        "sessions": spot.sessions,
        **_values("planned", spot.planned_ns, spot.planned_fj),
        **_values("given", spot.given_ns, spot.given_fj),
        "planned_j_cm2": _decimal(spot.planned_j_cm2),
        "given_j_cm2": _decimal(spot.given_j_cm2),
    }

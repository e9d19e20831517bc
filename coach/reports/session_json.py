"""The tally as JSON. Pure.

``tallies_json`` gives ``{"schema": 2, "coached": true, "sessions": [...], "course": [...]}``.
Numbers are exact: ``_ns`` nanoseconds, ``_fj`` femtojoules as integers; ``_s``, ``_j`` and
``_j_cm2`` are decimal strings, null where a beam area is unknown or differs. A session has

    plan {id, revision, digest, prescriber}, dog {name, weight_kg}, program, laser, rehearsal,
    opened_wall, ended_wall, trust, state, reason, cuts, closed, repaired, overruled,
    notices, problems,
    total, way_j, sides, spots, left_for_next

where ``total`` has spots (the planned ones), given (those of them that were complete),
planned_ns/_s/_fj/_j and given_ns/_s/_fj/_j; ``sides`` are totals
of each region and side; ``way_j`` is what may have been given besides, on the way between
spots; ``spots`` have index, region, side, aspect, number, of, settle,
note, outcome, reason, repeats, pauses, started_wall, ended_wall, planned_ and given_ values and
fluence; ``left_for_next`` what a short session left out from the start. ``course`` sums the
sessions that count, for each dog, place by place.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from coach.dose.energy import energy_fj
from coach.record.course_tally import Course, SiteSum, Sums, course_of
from coach.record.part import Part
from coach.record.tally import SessionTally, SpotTally
from coach.units import j_from_fj, rounded, s_from_ns

JSON_SCHEMA = 2


def tallies_json(tallies: Sequence[SessionTally]) -> dict[str, Any]:
    """Everything, machine-readable; described above."""
    dogs = dict.fromkeys(tally.dog for tally in tallies)
    return {
        "schema": JSON_SCHEMA,
        "coached": True,
        "sessions": [_session_json(tally) for tally in tallies],
        "course": [
            _course_json(dog, course_of(Sums.of(tally for tally in tallies if tally.dog == dog)))
            for dog in dogs
        ],
    }


def _decimal(value: Fraction | None) -> str | None:
    return None if value is None else str(rounded(value, 6))


def _values(name: str, duration_ns: int, energy: int) -> dict[str, Any]:
    return {
        f"{name}_ns": duration_ns,
        f"{name}_s": _decimal(s_from_ns(duration_ns)),
        f"{name}_fj": energy,
        f"{name}_j": _decimal(j_from_fj(energy)),
    }


def _sum_json(total: Part) -> dict[str, Any]:
    return {
        "spots": total.planned,
        "given": total.whole,
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
        "way_j": _decimal(j_from_fj(tally.way_fj)),
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
        "planned_j_cm2": _decimal(tally.fluence_j_cm2(spot, spot.planned_ns)),
        "given_j_cm2": _decimal(tally.fluence_j_cm2(spot, spot.given_ns)),
        "technique": "still" if spot.treated_area_um2 is None else "swept",
        "treated_area_um2": spot.treated_area_um2,
        "planned_j_cm2_over_area": _decimal(tally.area_fluence_j_cm2(spot, spot.planned_ns)),
        "given_j_cm2_over_area": _decimal(tally.area_fluence_j_cm2(spot, spot.given_ns)),
    }


def _course_json(dog: str, course: Course) -> dict[str, Any]:
    return {
        "dog": dog,
        "sessions": course.sessions,
        "spots": [_site_json(spot) for side in course.sides for spot in side.spots],
    }


def _site_json(spot: SiteSum) -> dict[str, Any]:
    return {
        "region": spot.region,
        "side": spot.side,
        "aspect": spot.aspect,
        "number": spot.number,
        "sessions": spot.part.planned,
        **_values("planned", spot.part.planned_ns, spot.part.planned_fj),
        **_values("given", spot.part.given_ns, spot.part.given_fj),
        "planned_j_cm2": _decimal(spot.planned_j_cm2),
        "given_j_cm2": _decimal(spot.given_j_cm2),
    }

"""The tally over the course as JSON; ``course.schema.json`` is made from these types. Pure.

``_ns`` are nanoseconds, ``_j`` and ``_j_cm2`` decimal text, shares parts of 1 as decimal text. What
was corrected afterwards counts as corrected. Null: not known, or nothing was planned. Keys may be
added; none is taken away or changes its meaning while ``over`` stays 2. 2
added ``way_j``: what may have been given besides, on the way between spots.
"""

from collections.abc import Mapping
from fractions import Fraction

# Comes with pydantic, which makes the schema; typing's own would do from Python 3.12 on.
from typing_extensions import TypedDict

from coach.record.course_tally import Course, SiteSum
from coach.record.part import Part
from coach.units import j_from_fj, rounded

FORMAT = 2


class PartJson(TypedDict):
    """``planned``: planned spots, each session's counted; ``whole``: had all their seconds."""

    planned: int
    whole: int
    planned_ns: int
    given_ns: int
    planned_j: str
    given_j: str
    share: str | None


class SpotJson(TypedDict):
    """One place; its J/cm2 is that of all sessions together."""

    region: str
    side: str
    aspect: str | None
    number: int
    sums: PartJson
    planned_j_cm2: str | None
    given_j_cm2: str | None


class MissedJson(TypedDict):
    """Spots that did not get their seconds."""

    outcome: str
    reason: str
    spots: int


class SideJson(TypedDict):
    """One side of a region."""

    region: str
    side: str
    sums: PartJson
    missed: list[MissedJson]
    left_for_next: int
    spots: list[SpotJson]


class RevisionJson(TypedDict):
    """What was held by one revision of one plan."""

    plan: str
    revision: int
    sessions: int
    finished: int
    sums: PartJson


class EvenJson(TypedDict):
    """Given as a part of planned on each side; ``even``: the smaller over the larger."""

    region: str
    left: str
    right: str
    even: str | None


class ReachedJson(TypedDict):
    """``enough``: spots that got at least 95 % of their planned seconds, of ``spots``. The
    ``worst``-off tenth of the spots got ``worst_given_ns`` of ``worst_planned_ns`` together, the
    best-off of them the share ``worst_best``."""

    spots: int
    enough: int
    worst: int
    worst_given_ns: int
    worst_planned_ns: int
    worst_best: str | None


class OverJson(TypedDict):
    """The tally over the course of one dog. ``coached``: counted by the timer, not measured."""

    over: int
    coached: bool
    dog: str
    sessions: int
    not_counted: int
    corrected: dict[str, int]
    total: PartJson
    way_j: str
    revisions: list[RevisionJson]
    reached: ReachedJson
    evenness: list[EvenJson]
    sides: list[SideJson]


def over_json(
    dog: str, course: Course, *, corrected: Mapping[str, int], not_counted: int
) -> OverJson:
    """Everything of ``course``."""
    reach = course.reached
    return {
        "over": FORMAT,
        "coached": True,
        "dog": dog,
        "sessions": course.sessions,
        "not_counted": not_counted,
        "corrected": dict(corrected),
        "total": _part(course.total),
        "way_j": _known(j_from_fj(course.way_fj)),
        "revisions": [
            {
                "plan": one.plan_id,
                "revision": one.revision,
                "sessions": one.sessions,
                "finished": one.finished,
                "sums": _part(one.part),
            }
            for one in course.revisions
        ],
        "reached": {
            "spots": reach.spots,
            "enough": reach.enough,
            "worst": reach.worst,
            "worst_given_ns": reach.worst_given_ns,
            "worst_planned_ns": reach.worst_planned_ns,
            "worst_best": _decimal(reach.worst_best),
        },
        "evenness": [
            {
                "region": one.region,
                "left": _known(one.left),
                "right": _known(one.right),
                "even": _decimal(one.even),
            }
            for one in course.evenness
        ],
        "sides": [
            {
                "region": one.region,
                "side": one.side,
                "sums": _part(one.part),
                "missed": [
                    {"outcome": what.outcome, "reason": what.reason, "spots": count}
                    for what, count in one.missed
                ],
                "left_for_next": one.left_for_next,
                "spots": [_spot(spot) for spot in one.spots],
            }
            for one in course.sides
        ],
    }


def _spot(spot: SiteSum) -> SpotJson:
    return {
        "region": spot.region,
        "side": spot.side,
        "aspect": spot.aspect,
        "number": spot.number,
        "sums": _part(spot.part),
        "planned_j_cm2": _decimal(spot.planned_j_cm2),
        "given_j_cm2": _decimal(spot.given_j_cm2),
    }


def _part(part: Part) -> PartJson:
    return {
        "planned": part.planned,
        "whole": part.whole,
        "planned_ns": part.planned_ns,
        "given_ns": part.given_ns,
        "planned_j": _known(j_from_fj(part.planned_fj)),
        "given_j": _known(j_from_fj(part.given_fj)),
        "share": _decimal(part.share),
    }


def _known(value: Fraction) -> str:
    return f"{rounded(value, 6):f}"


def _decimal(value: Fraction | None) -> str | None:
    return None if value is None else _known(value)

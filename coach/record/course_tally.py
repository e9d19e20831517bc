"""The tally over the course: many sessions as sums that can be added and taken away. Pure.

``Sums`` is what a course comes down to: integers that add up in any order, so that old sessions can
be kept folded together (:mod:`coach.record.summary_cache`) and a session that was corrected can be
taken out and put in again. ``course_of`` makes of them what people read.

Two figures tell how far the plan reached every spot, in the manner of the dose-volume figures of
ICRU Report 83 (2010): a V95 (what part of the whole got at least 95 % of what was prescribed) and
a D for the worst-off part; here of spots and their seconds instead of a volume and its absorbed
dose. (The report is known to us second-hand.) On screens they are told in plain words.

All of it is coached: what the timer counted with the head said to be on the dog, not measured.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, NamedTuple

from coach.body.regions import Side
from coach.body.site import AtSite, Flank, Site
from coach.record.part import Part, Row, added, plus
from coach.record.tally import SessionTally, over_area

ENOUGH = Fraction(95, 100)
WORST_PART = Fraction(1, 10)


class PlaceKey(NamedTuple):
    """One place of one plan revision. ``area_um2`` is the beam area, None if it was not stated."""

    plan_id: str
    revision: int
    site: Site
    area_um2: int | None


class Missed(NamedTuple):
    """Spots that did not get their seconds: where, how, why."""

    flank: Flank
    outcome: str
    reason: str


class Held(NamedTuple):
    """Sessions by plan revision and how they ended."""

    plan_id: str
    revision: int
    state: str


@dataclass(slots=True)
class Sums:
    """Sums over sessions.

    Attributes:
        sessions: how many, by :class:`Held`.
        places: the sum of each place.
        shares: how many planned spots had which ``(given_ns, planned_ns)``.
        missed: spots by :class:`Missed`; a spot given on the other side is missed here.
        way_fj: what may have been given besides, on the way between spots.
        left: spots that short sessions left for the next one, by region and side.
    """

    sessions: Counter[Held] = field(default_factory=Counter)
    places: dict[PlaceKey, Row] = field(default_factory=dict)
    shares: Counter[tuple[int, int]] = field(default_factory=Counter)
    missed: Counter[Missed] = field(default_factory=Counter)
    left: Counter[Flank] = field(default_factory=Counter)
    way_fj: int = 0

    @classmethod
    def of(cls, tallies: Iterable[SessionTally]) -> "Sums":
        """The sums over those of ``tallies`` that count."""
        sums = cls()
        for tally in tallies:
            if tally.counts:
                sums.put(tally)
        return sums

    def put(self, tally: SessionTally, sign: int = 1) -> None:
        """Add one session that counts; with ``sign`` -1 take it away again."""
        plan = tally.plan_id, tally.plan_revision
        _count(self.sessions, Held(*plan, tally.state), sign)
        for spot in tally.spots:
            row = tally.row(spot)
            # What was given on the wrong side counts on the side where it was given.
            # A moved head has no J/cm2 under the beam: none is then told of the place.
            area_um2 = tally.beam_area_um2 if spot.treated_area_um2 is None else None
            key = PlaceKey(*plan, spot.site, area_um2)
            self._place(key, row if sign > 0 else row.negative())
            if spot.outcome != "given":
                _count(self.missed, Missed(spot.site.flank, spot.outcome, spot.reason), sign)
            if spot.planned_ns:
                _count(self.shares, (spot.given_ns, spot.planned_ns), sign)
        self.way_fj += sign * tally.way_fj
        for later in tally.left_for_next:
            _count(self.left, later.site.flank, sign)

    def add(self, other: "Sums") -> None:
        """Add the sums of other sessions."""
        for key, row in other.places.items():
            self._place(key, row)
        self.way_fj += other.way_fj
        counters: tuple[tuple[Counter[Any], Counter[Any]], ...] = (
            (self.sessions, other.sessions),
            (self.shares, other.shares),
            (self.missed, other.missed),
            (self.left, other.left),
        )
        for mine, theirs in counters:
            for what, count in theirs.items():
                _count(mine, what, count)

    def _place(self, key: PlaceKey, row: Row) -> None:
        before = self.places.get(key)
        summed = row if before is None else plus(before, row)
        if any(summed):
            self.places[key] = summed
        else:
            self.places.pop(key, None)

    def rows(self) -> dict[str, list[list[Any]]]:
        """Everything as plain JSON values."""
        return {
            "sessions": [[*key, count] for key, count in self.sessions.items()],
            "places": [[*key, *values] for key, values in self.places.items()],
            "shares": [[*key, count] for key, count in self.shares.items()],
            "missed": [[*key, count] for key, count in self.missed.items()],
            "left": [[key, count] for key, count in self.left.items()],
            "way": [[self.way_fj]],
        }

    @classmethod
    def of_rows(cls, rows: Mapping[str, Iterable[Sequence[Any]]]) -> "Sums":
        """What :meth:`rows` gave. KeyError, TypeError, ValueError or IndexError for others."""
        split = len(PlaceKey._fields)
        return cls(
            sessions=Counter({Held(*row[:-1]): row[-1] for row in rows["sessions"]}),
            places={
                PlaceKey(plan, revision, Site(*site), area): Row(*row[split:])
                for row in rows["places"]
                for plan, revision, site, area in (row[:split],)
            },
            shares=Counter({(row[0], row[1]): row[2] for row in rows["shares"]}),
            missed=Counter(
                {Missed(Flank(*row[0]), row[1], row[2]): row[3] for row in rows["missed"]}
            ),
            left=Counter({Flank(*flank): count for flank, count in rows["left"]}),
            way_fj=sum(row[0] for row in rows["way"]),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteSum(AtSite):
    """One place over the course; J/cm2 of all its sessions together, None unless all beam areas
    are known and the same."""

    site: Site
    part: Part
    planned_j_cm2: Fraction | None
    given_j_cm2: Fraction | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SideSum:
    """One side of a region.

    ``planned_j_cm2_a_spot`` and ``given_j_cm2_a_spot`` are means over the planned spots, each
    session's counted; None where a beam area is not known.
    """

    flank: Flank
    part: Part
    planned_j_cm2_a_spot: Fraction | None
    given_j_cm2_a_spot: Fraction | None
    spots: tuple[SiteSum, ...]
    missed: tuple[tuple[Missed, int], ...]
    left_for_next: int

    @property
    def region(self) -> str:
        """Region key."""
        return self.flank.region

    @property
    def side(self) -> Side:
        """The dog's side."""
        return self.flank.side


@dataclass(frozen=True, slots=True, kw_only=True)
class Evenness:
    """A region that was planned on both sides: given seconds as part of the planned, each side.

    ``even`` is the smaller part over the larger one: 1 when both sides had the same part of
    their plan, 0 when one had nothing. None when neither had anything.
    """

    region: str
    left: Fraction
    right: Fraction

    @property
    def even(self) -> Fraction | None:
        low, high = sorted((self.left, self.right))
        return low / high if high else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """How far the plan reached every spot.

    Attributes:
        spots: planned spots, each session's counted.
        enough: those that got at least 95 % of their planned seconds.
        worst: how many make up the worst-off tenth, rounded up.
        worst_given_ns, worst_planned_ns: what these got and should have got, together.
        worst_best: the best share of planned seconds among these: all others had at least that.
    """

    spots: int
    enough: int
    worst: int
    worst_given_ns: int
    worst_planned_ns: int
    worst_best: Fraction | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """What was held by one revision of one plan."""

    plan_id: str
    revision: int
    sessions: int
    finished: int
    part: Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The tally over the course of one dog."""

    sessions: int
    revisions: tuple[Revision, ...]
    total: Part
    sides: tuple[SideSum, ...]
    evenness: tuple[Evenness, ...]
    reached: Reached
    way_fj: int = 0


def course_of(sums: Sums) -> Course:
    """What the sums say, place by place in the order in which places first came."""
    spots: dict[Site, list[PlaceKey]] = {}
    for key in sums.places:
        spots.setdefault(key.site, []).append(key)
    flanks: dict[Flank, list[SiteSum]] = {}
    for site, keys in spots.items():
        part = added(sums.places[key] for key in keys)
        areas = {key.area_um2 for key in keys}
        area_um2 = areas.pop() if len(areas) == 1 else None
        spot = SiteSum(
            site=site,
            part=part,
            planned_j_cm2=over_area(part.planned_fj, area_um2),
            given_j_cm2=over_area(part.given_fj, area_um2),
        )
        flanks.setdefault(site.flank, []).append(spot)
    side_sums = tuple(_side(sums, flank, found) for flank, found in flanks.items())
    return Course(
        sessions=sum(sums.sessions.values()),
        revisions=tuple(_revisions(sums)),
        total=added(sums.places.values()),
        sides=side_sums,
        evenness=tuple(_evenness(side_sums)),
        reached=reached(sums.shares),
        way_fj=sums.way_fj,
    )


def reached(shares: Mapping[tuple[int, int], int]) -> Reached:
    """How far the plan reached; ``shares`` counts spots by ``(given_ns, planned_ns > 0)``."""
    by_share = sorted(shares.items(), key=lambda item: Fraction(*item[0]))
    spots = sum(shares.values())
    worst = -(-spots * WORST_PART.numerator // WORST_PART.denominator)
    left, given_ns, planned_ns = worst, 0, 0
    best: Fraction | None = None
    for (got_ns, due_ns), count in by_share:
        taken = min(left, count)
        if taken == 0:
            break
        left -= taken
        given_ns += taken * got_ns
        planned_ns += taken * due_ns
        best = Fraction(got_ns, due_ns)
    return Reached(
        spots=spots,
        enough=sum(count for (got, due), count in by_share if Fraction(got, due) >= ENOUGH),
        worst=worst,
        worst_given_ns=given_ns,
        worst_planned_ns=planned_ns,
        worst_best=best,
    )


def _side(sums: Sums, flank: Flank, spots: list[SiteSum]) -> SideSum:
    missed = [(what, count) for what, count in sums.missed.items() if what.flank == flank]
    here = {key: row for key, row in sums.places.items() if key.site.flank == flank}
    part = added(here.values())
    return SideSum(
        flank=flank,
        part=part,
        planned_j_cm2_a_spot=_mean(
            part.planned, [over_area(row.planned_fj, key.area_um2) for key, row in here.items()]
        ),
        given_j_cm2_a_spot=_mean(
            part.planned, [over_area(row.given_fj, key.area_um2) for key, row in here.items()]
        ),
        spots=tuple(spots),
        missed=tuple(sorted(missed, key=lambda pair: (-pair[1], pair[0]))),
        left_for_next=sums.left[flank],
    )


def _mean(spots: int, fluences: Sequence[Fraction | None]) -> Fraction | None:
    known = [value for value in fluences if value is not None]
    if not spots or len(known) < len(fluences):
        return None
    return sum(known, Fraction(0)) / spots


def _revisions(sums: Sums) -> Iterable[Revision]:
    for plan_id, revision in sorted({key[:2] for key in sums.sessions}):
        held = {k: n for k, n in sums.sessions.items() if k[:2] == (plan_id, revision)}
        yield Revision(
            plan_id=plan_id,
            revision=revision,
            sessions=sum(held.values()),
            finished=sum(n for k, n in held.items() if k.state == "finished"),
            part=added(v for k, v in sums.places.items() if k[:2] == (plan_id, revision)),
        )


def _evenness(sides: Sequence[SideSum]) -> Iterable[Evenness]:
    found = {side.flank: side.part.share for side in sides}
    for region in dict.fromkeys(side.flank.region for side in sides):
        left, right = found.get(Flank(region, "left")), found.get(Flank(region, "right"))
        if left is not None and right is not None:
            yield Evenness(region=region, left=left, right=right)


def _count(counter: Counter[Any], key: Any, by: int) -> None:
    counter[key] += by
    if counter[key] == 0:
        del counter[key]

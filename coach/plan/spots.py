"""What one session works through: the spots of a plan, in the shortest order."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from coach.body import region
from coach.body.places import thousandths
from coach.body.position import Position, access
from coach.body.regions import SIDES, Side
from coach.body.site import Site
from coach.plan.model import Plan, RegionOrder, Technique
from coach.plan.order import Costs, Item, Ordered, best_order, within_time
from coach.plan.sweep import half_side_mm, pass_ns
from coach.units import NS_PER_S, ns_from_s, um2_from_cm2

SETTLE_REGION = "atlas"

# More time to get to a place that is some trouble to reach. Common practice, no source.
AWKWARD_NS = 5 * NS_PER_S


# What the spot of a log may have beside the fields of format 1; left out where it is the default.
ADDED = (
    "first",
    "spot_note",
    "landmark",
    "care",
    "contact",
    "distance_mm",
    "pressure",
    "technique",
    "treated_area_um2",
    "pass_ns",
    "half_side",
    "touch_ns",
    "touch_words",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """One place where the head rests, once.

    Attributes:
        index: place in the session, from 0.
        region: region key.
        side: the dog's side.
        aspect: face of a joint, or None.
        number: this spot among those of its region, side and aspect, from 1.
        of: how many of those there are.
        hold_ns: planned time on the spot, > 0.
        move_ns: time allowed for getting there, a turn of the dog included.
        settle: of the table ``[settle]`` of format 1.
        first: of a region that comes before all others and is begun calmly.
        note: the prescriber's words about the region, or "".
        spot_note: those about this spot, or "".
        landmark, care: how to find a place of the prescriber's own and what to mind there, or "".
        technique: whether the head rests or is moved over an area, ``treated_area_um2``.
        pass_ns: time of one pass over it, where the plan says so, else None.
        touch_ns, touch_words: of ``move_ns``, the time in which the dog is stroked before the first
            spot, laser off, and how; it is never counted.
        half_side: half the side of that area as a square, in thousandths of the dog's length.
        contact, distance_mm, pressure: how the head is held, as far as the plan says.
        position: how the dog lies for it, or None if that is not known.
        turn_ns: the part of ``move_ns`` in which the dog is turned; 0 when it stays as it lies.
    """

    index: int
    region: str
    side: Side
    aspect: str | None
    number: int
    of: int
    hold_ns: int
    move_ns: int
    settle: bool = False
    note: str = ""
    position: Position | None = None
    turn_ns: int = 0
    first: bool = False
    spot_note: str = ""
    landmark: str = ""
    care: str = ""
    contact: bool | None = None
    distance_mm: int | None = None
    pressure: Literal["light", "none"] | None = None
    technique: Technique = "still"
    treated_area_um2: int | None = None
    pass_ns: int | None = None
    half_side: int | None = None
    touch_ns: int = 0
    touch_words: str = ""

    @property
    def swept(self) -> bool:
        """Whether the head is moved over an area instead of resting."""
        return self.technique == "swept"

    @property
    def words(self) -> str:
        """The prescriber's words about the region and about this spot."""
        return " ".join(filter(None, (self.note, self.spot_note)))

    @property
    def calm(self) -> bool:
        """Whether it is part of a calm beginning."""
        return self.settle or self.first

    def __post_init__(self) -> None:
        if (
            self.hold_ns <= 0
            or not 0 <= self.turn_ns <= self.move_ns
            or not 1 <= self.number <= self.of
        ):
            raise ValueError(f"not a spot: {self!r}")

    @property
    def site(self) -> Site:
        """Where it is: the key by which it is found again."""
        return Site(self.region, self.side, self.aspect, self.number)


class NotShortened(ValueError):  # noqa: N818  (an answer to the owner, not a failure)
    """A session that cannot be made as short as was asked. The message says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionSpots:
    """The spots of one session and how their order came about.

    Attributes:
        spots: in the order of the session.
        left_for_next: what a short session leaves out, in the order of the plan.
        items, ordered: what :mod:`coach.plan.order_text` explains.
        free: the best order where the plan pins another, else None.
    """

    spots: tuple[Spot, ...]
    left_for_next: tuple[Spot, ...]
    items: tuple[Item, ...]
    ordered: Ordered
    free: Ordered | None = None


def spots_of(plan: Plan) -> tuple[Spot, ...]:
    """The spots of one whole session of ``plan``, in its best or its pinned order."""
    return session_of(plan).spots


def session_of(plan: Plan, *, budget_ns: int | None = None) -> SessionSpots:
    """One session of ``plan``, or what of it fits into ``budget_ns`` by the plan's priorities.

    No hold is ever shortened, and nothing is ever given twice because it was left out before.

    Raises:
        NotShortened: the prescriber forbids it, or no spot fits beside the settle.
    """
    rules = plan.rules
    listed = _listed(plan)
    items = [one.item for one in listed]
    move_ns, turn_ns = ns_from_s(rules.move_seconds), ns_from_s(rules.turn_seconds)
    costs = Costs(near_ns=move_ns, far_ns=move_ns, turn_ns=turn_ns, awkward_ns=AWKWARD_NS)
    ordered = best_order(items, costs=costs, within=rules.order, pinned=rules.pinned)
    left: tuple[int, ...] = ()
    if budget_ns is not None and ordered.total_ns > budget_ns:
        if not rules.may_be_shortened:
            raise NotShortened("the prescriber does not allow a shorter session")
        left, ordered = within_time(
            items, budget_ns=budget_ns, costs=costs, within=rules.order, pinned=rules.pinned
        )
        if plan.format == 1 and all(items[index].first for index in ordered.order):
            raise NotShortened("not one ordered spot fits, and no hold is ever shortened")
    spots: list[Spot] = []
    for index, position in zip(ordered.order, ordered.positions, strict=True):
        turned_ns = turn_ns if spots and spots[-1].position != position else 0
        awkward_ns = AWKWARD_NS if position in items[index].awkward else 0
        spots.append(
            _spot(
                listed[index],
                index=len(spots),
                move_ns=move_ns + turned_ns + awkward_ns,
                position=position,
                turn_ns=turned_ns,
            )
        )
    if spots and plan.care.touch_seconds is not None:
        touch_ns = plan.care.touch_seconds * NS_PER_S
        spots[0] = replace(
            spots[0],
            move_ns=spots[0].move_ns + touch_ns,
            touch_ns=touch_ns,
            touch_words=plan.care.touch_words,
        )
    return SessionSpots(
        spots=tuple(spots),
        left_for_next=tuple(_spot(listed[i], index=i, move_ns=move_ns) for i in left),
        items=tuple(items),
        ordered=ordered,
        free=best_order(items, costs=costs, within=rules.order)
        if rules.pinned and not left
        else None,
    )


def spots_in(records: Iterable[Mapping[str, Any]]) -> tuple[Spot, ...]:
    """The spots that the header of a journal lists. KeyError, ValueError when they are none."""
    return tuple(
        Spot(
            index=record["index"],
            region=record["region"],
            side=record["side"],
            aspect=record["aspect"],
            number=record["number"],
            of=record["of"],
            hold_ns=record["hold_ns"],
            move_ns=record["move_ns"],
            settle=record["settle"],
            note=record["note"],
            position=record.get("position"),
            turn_ns=record.get("turn_ns", 0),
            **{name: record[name] for name in ADDED if name in record},
        )
        for record in records
    )


def all_ordered(plan: Plan, spots: Iterable[Spot]) -> bool:
    """Whether ``plan`` orders each of ``spots`` for as long: those of a journal may be older."""
    ordered = {_place(spot) for spot in spots_of(plan)}
    return all(_place(spot) in ordered for spot in spots)


def _place(spot: Spot) -> tuple[object, ...]:
    return spot.settle, spot.region, spot.side, spot.aspect, spot.number, spot.hold_ns


def turns(spots: Sequence[Spot]) -> int:
    """How often the dog is turned on the way through ``spots``."""
    return sum(spot.turn_ns > 0 for spot in spots)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Listed:
    """A spot to put in order, with what the order does not need."""

    item: Item
    of: int
    note: str = ""
    settle: bool = False
    more: Mapping[str, Any] = field(default_factory=dict)


def _spot(
    listed: _Listed, *, index: int, move_ns: int, position: Position | None = None, turn_ns: int = 0
) -> Spot:
    item = listed.item
    return Spot(
        index=index,
        region=item.region,
        side=item.side,
        aspect=item.aspect,
        number=item.number,
        of=listed.of,
        hold_ns=item.hold_ns,
        move_ns=move_ns,
        settle=listed.settle,
        note=listed.note,
        position=position,
        turn_ns=turn_ns,
        first=item.first and not listed.settle,
        **listed.more,
    )


def _listed(plan: Plan) -> list[_Listed]:
    """Every spot with its ``of`` and note: the settle, then as the plan lists them."""

    def item(
        key: str, side: Side, aspect: str | None, number: int, hold_ns: int, **more: Any
    ) -> Item:
        reached = access(key, side, aspect)
        return Item(
            region=key,
            side=side,
            aspect=aspect,
            number=number,
            hold_ns=hold_ns,
            positions=reached.positions,
            awkward=reached.awkward,
            **more,
        )

    found: list[_Listed] = []
    hold_ns = plan.settle.each_side_ns
    if hold_ns:
        found += [
            _Listed(item=item(SETTLE_REGION, side, None, 1, hold_ns, first=True), of=1, settle=True)
            for side in region(SETTLE_REGION).sides
        ]
    for order in plan.regions:
        count = plan.spots_each(order)
        hold_ns = plan.hold_ns(order)
        sides = sorted(order.sides, key=SIDES.index)
        aspects: list[str | None] = [*order.aspects] if order.aspects else [None]
        places = [
            (side, aspect, number)
            for side in sides
            for aspect in aspects
            for number in range(1, count + 1)
        ]
        # A joint is never done across: that would turn the dog at every level.
        if plan.rules.order == "across, level by level" and aspects == [None]:
            places.sort(key=lambda place: (place[2], SIDES.index(place[0])))
        found += [
            _Listed(
                item=item(
                    order.region, *place, hold_ns, priority=order.priority, first=order.first
                ),
                of=count,
                note=order.note,
                more={
                    **_held(plan, order),
                    "spot_note": dict(enumerate(order.spot_notes, start=1)).get(place[2], ""),
                },
            )
            for place in places
        ]
    return found


def added(spot: Spot) -> dict[str, Any]:
    """The fields of :data:`ADDED` that a spot has, for a log."""
    fields = Spot.__dataclass_fields__
    values = {name: getattr(spot, name) for name in ADDED}
    return {name: value for name, value in values.items() if value != fields[name].default}


def _held(plan: Plan, order: RegionOrder) -> dict[str, Any]:
    """How the head is held on a region, and how a place of one's own is found."""
    name = order.region.partition("@")[0]
    own = next((place for place in plan.places if place.name == name), None)
    return {
        "landmark": "" if own is None else own.landmark,
        "care": "" if own is None else own.care,
        "contact": order.contact,
        "distance_mm": None if order.distance_cm is None else int(order.distance_cm * 10),
        "pressure": order.pressure,
        **_swept(plan, order),
    }


def _swept(plan: Plan, order: RegionOrder) -> dict[str, Any]:
    area = order.treated_area_cm2
    if order.technique == "still" or area is None:
        return {}
    return {
        "technique": order.technique,
        "treated_area_um2": um2_from_cm2(area),
        "pass_ns": pass_ns(order, plan.laser, plan.hold_ns(order)),
        "half_side": thousandths(half_side_mm(area), dog_length_mm=plan.dog.length_mm),
    }

"""What one session works through: the spots of a plan, in order."""

from dataclasses import dataclass

from coach.body.regions import Side


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
        move_ns: time allowed for getting there.
        settle: part of the calm opening.
        note: the prescriber's words, or "".
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

    def __post_init__(self) -> None:
        if self.hold_ns <= 0 or self.move_ns < 0 or not 1 <= self.number <= self.of:
            raise ValueError(f"not a spot: {self!r}")

"""What the tape says about a plan: lengths, coverage, and what is worth a second look. Pure."""

from coach.body.measures import RegionLength, lengths, questions, remeasure_reasons
from coach.body.spread import Coverage, coverage
from coach.plan.model import Dog, Plan, spots_by_tape


def length_covered(plan: Plan, key: str, count: int) -> tuple[RegionLength, Coverage | None] | None:
    """Length of a region and how ``count`` spots lie on it; None when it was not measured.

    The coverage is None where the width of the head is not stated.
    """
    tape = plan.dog.tape
    if tape is None or key not in lengths(tape):
        return None
    length = lengths(tape)[key]
    footprint = plan.laser.head_footprint_cm
    if footprint is None:
        return length, None
    return length, coverage(
        length_mm=length.length_mm, count=count, footprint_mm=int(footprint * 10)
    )


def measure_remarks(plan: Plan) -> list[tuple[str, str]]:
    """Field and sentence: slips of the tape, when to tape again, caps, overlaps and gaps."""
    tape = plan.dog.tape
    if tape is None:
        return []
    found = [("dog", question.text) for question in questions(tape)]
    again = _again(plan.dog, plan)
    if again:
        found.append(("dog", f"take the tape again: {'; '.join(again)}"))
    for number, order in enumerate(plan.regions, start=1):
        count = plan.spots_each(order)
        if order.spots is None and order.most_spots is not None:
            by_tape = spots_by_tape(order, plan.dog, plan.laser, plan.rules)
            if by_tape is not None and by_tape > order.most_spots:
                found.append(
                    (
                        f"regions[{number}].most_spots",
                        f"the tape gives {by_tape} spots; the prescriber's {order.most_spots} hold",
                    )
                )
        covers = length_covered(plan, order.region, count)
        if covers is not None and covers[1] is not None and covers[1].remark:
            found.append((f"regions[{number}]", covers[1].remark))
    return found


def _again(dog: Dog, plan: Plan) -> list[str]:
    then = dog.weight_when_measured_kg or dog.weight_kg
    return remeasure_reasons(
        weight_then_g=int(then * 1000),
        weight_now_g=int(dog.weight_kg * 1000),
        growing=dog.growing,
        new_plan=dog.measured_on is not None and dog.measured_on < plan.about.prescribed_on,
    )

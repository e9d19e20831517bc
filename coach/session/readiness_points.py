"""The points of the readiness round: what is asked, who says so, and what follows. Pure.

A point is either something to make ready (it waits until it is so) or something that may be new
with the dog. What may be new is a hard stop, a question for the vet, or a caution, as the lists
of contraindications have it: A is the North American consensus of 2010, N Navratil & Kymplova
(J Clin Laser Med Surg 2002;20:341), T a textbook of 2019 (its pages beside the points). Where no
source is named it is common practice, no source. Where the sources disagree, both are told and
the vet decides. What the prescriber has cleared in the plan is not asked again.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from coach.body.position import Position
from coach.body.regions import Side
from coach.dose.hazard import head_hazard
from coach.dose.limits import OutOfScope
from coach.language import N_, _
from coach.plan.laser import Laser
from coach.plan.model import Plan

Stand = Literal["ready", "new", "stop", "ask", "caution"]

# From here on both eyes and skin are at risk (IEC 60825-1:2014, from memory).
STRONG = frozenset({"3B", "4"})
# Where the beam goes towards the belly. Common practice, no source: the lists say "abdomen".
BELLY = frozenset({"thoracolumbar", "lumbar", "lumbosacral", "sacrum"})
NECK = frozenset({"neck_upper", "neck_lower", "cervicothoracic"})

LIES: Mapping[Position, str] = {
    "sternal": N_("To begin with, {dog} lies on its chest."),
    "standing": N_("To begin with, {dog} stands."),
    "left lateral": N_("To begin with, {dog} lies with its right side up."),
    "right lateral": N_("To begin with, {dog} lies with its left side up."),
}
SITS: Mapping[Side, str] = {
    "left": N_("You sit at the left side of {dog}."),
    "right": N_("You sit at the right side of {dog}."),
    "middle": N_("You sit where both hands reach {dog}."),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One point of the round.

    Attributes:
        id: stable name, for the journal; that of a clearance where there is one.
        stand: what follows from "yes": ``ready`` waits for it; ``new`` asks for its ``parts``;
            ``stop``, ``ask`` (the vet) and ``caution`` as they say.
        question: one short sentence that is answered by yes or no.
        help: what makes it easier to answer.
        advice: what is told after "yes", both positions where the sources disagree.
        eyes: it protects eyes.
        parts: what ``new`` stands for.
    """

    id: str
    stand: Stand
    question: str
    help: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()
    eyes: bool = False
    parts: tuple["Point", ...] = ()


# The points, in the order in which they are asked.


def dog_and_plan(plan: Plan) -> Point:
    return Point(
        id="dog_and_plan",
        stand="ready",
        question=_("Is this {dog}, and the right plan?").format(dog=plan.dog.name),
    )


def place(plan: Plan, position: Position | None, owner_sits: Side | None) -> Point:
    dog = plan.dog.name
    lies = plan.care.dog_lies
    help_ = [lies] if lies else []
    if position is not None:
        help_.append(_(LIES[position]).format(dog=dog))
    sits = owner_sits or plan.care.owner_sits or "middle"
    help_.append(_(SITS[sits]).format(dog=dog))
    return Point(
        id="place",
        stand="ready",
        question=_("Are {dog} and you in place?").format(dog=dog),
        help=tuple(help_),
    )


def eyes(plan: Plan) -> tuple[Point, ...]:
    """A, N and T: eyewear for all, the animal's eyes covered or turned away; no disagreement."""
    dog = plan.dog.name
    strong = (
        (_("The light of this laser can blind, even when it bounces back."),)
        if plan.laser.laser_class in STRONG
        else ()
    )
    return (
        Point(
            id="eyewear",
            stand="ready",
            question=_("Is eyewear on everyone in the room?"),
            help=(*_eyewear(plan.laser), *strong),
            eyes=True,
        ),
        Point(
            id="dog_eyes",
            stand="ready",
            question=_("Are {dog}'s eyes covered or turned away?").format(dog=dog),
            help=(_("Never aim at an eye: not the dog's and not yours."),),
            eyes=True,
        ),
    )


def _eyewear(laser: Laser) -> tuple[str, ...]:
    """Which eyewear: by :mod:`coach.dose.hazard` (ICNIRP 2013 / IEC 60825-1:2014)."""
    try:
        density = math.ceil(head_hazard(laser.head).density)
    except OutOfScope:
        density = 0
    if density == 0:
        return (_("It must be made for this laser."),)
    waves = sorted({emitter.wavelength_nm for emitter in laser.head.emitters})
    marked = ", ".join(f"{float(wave):g}" for wave in waves)
    return (
        _("It must be marked for {waves} nm, optical density {density} or more.").format(
            waves=marked, density=density
        ),
    )


def room(plan: Plan) -> tuple[Point, ...]:
    """T p.169 and common practice."""
    heat = (
        (_("No spray, gas or paper near the beam: it can burn."),)
        if plan.laser.laser_class == "4"
        else ()
    )
    return (
        Point(
            id="others_out",
            stand="ready",
            question=_("Are other people and pets out?"),
            help=(_("Who stays wears eyewear."),),
        ),
        Point(id="door_shut", stand="ready", question=_("Is the door shut?")),
        Point(
            id="shiny_covered",
            stand="ready",
            question=_("Are shiny things covered or put away?"),
            help=(_("Mirrors, glass, a watch, rings."), *heat),
        ),
    )


def hands() -> tuple[Point, ...]:
    """T p.61 for creams and wet hair; the rest common practice, no source."""
    return (
        Point(
            id="lens_clean",
            stand="ready",
            question=_("Is the lens clean and dry?"),
            help=(_("Wipe it only while the laser is off."),),
        ),
        Point(
            id="coat_parted",
            stand="ready",
            question=_("Is the coat dry and parted?"),
            help=(_("Cream on the skin? Wash it off and let it dry."),),
        ),
        Point(
            id="collar_off",
            stand="ready",
            question=_("Are collar and harness off?"),
        ),
    )


def asked_always(plan: Plan) -> tuple[Point, ...]:
    """What may have come since last time."""
    dog = plan.dog.name
    belly = any(order.region in BELLY for order in plan.regions)
    points = (
        # A, N and T: not over a tumour, known or suspected, or its surroundings.
        Point(
            id="lump",
            stand="stop",
            question=_("Is there any lump or growth?"),
            help=(_("New, or known and not yet cleared by your vet."),),
            advice=(_("No laser on or near a growth. Your vet must look first."),),
        ),
        # A and N: not over the abdomen.
        Point(
            id="pregnancy",
            stand="stop" if belly else "ask",
            question=_("Could {dog} be pregnant?").format(dog=dog),
            advice=(_("No laser over the belly of a pregnant dog."),),
        ),
        Point(
            id="wound",
            stand="ask",
            question=_("Is there a wound near the spots?"),
            advice=(_("A wound may need another plan."),),
        ),
        # N: fever, infection, bleeding and blood disease "doubtful".
        Point(
            id="fever",
            stand="ask",
            question=_("Is there a fever or an infection?"),
            advice=(_("One list calls the laser doubtful then."),),
        ),
        Point(
            id="bleeding",
            stand="ask",
            question=_("Is there bleeding, or a blood disease?"),
            advice=(_("One list calls the laser doubtful then."),),
        ),
        # A table in American Family Physician, 2007, and common practice.
        Point(
            id="medicine",
            stand="ask",
            question=_("Is there a new medicine or an injection?"),
            help=(_("Cortisone and blood thinners as well."),),
            advice=(_("Some make the skin react to light. Others change how it heals."),),
        ),
        Point(
            id="heat_sensitive",
            stand="ask",
            question=_("Does heat or light hurt the skin?"),
            advice=(_("The laser could hurt or burn there."),),
        ),
        # Common practice: the dog cannot tell you that it is hot.
        Point(
            id="numb",
            stand="caution",
            question=_("Is there a place without any feeling?"),
            advice=(
                _("Feel the skin there often. Stop when it is hot."),
                _("{dog} cannot tell you there.").format(dog=dog),
            ),
        ),
        # N: ask; A: only for visible light pulsed below 30 Hz.
        Point(
            id="epilepsy",
            stand="ask",
            question=_("Has {dog} had a fit?").format(dog=dog),
            advice=(
                _("The lists do not agree. One says: ask your vet first."),
                _("Another one warns only of light you see that flashes slowly."),
            ),
        ),
    )
    return tuple(point for point in points if point.id not in plan.care.clearances)


def asked_once(plan: Plan) -> tuple[Point, ...]:
    """What stays as it is once it was told."""
    dog = plan.dog.name
    # T p.61 allows it; older lists forbid it.
    points = [
        Point(
            id="implant",
            stand="ask",
            question=_("Has {dog} metal or a pacemaker inside?").format(dog=dog),
            advice=(
                _("The books do not agree. A newer one allows it."),
                _("Older lists forbid it."),
            ),
        ),
        # T p.109.
        Point(
            id="dark",
            stand="caution",
            question=_("Is the coat or the skin dark?"),
            help=(_("A tattoo as well."),),
            advice=(
                _("Dark skin gets warm sooner."),
                _("Feel the skin. Stop when it is hot."),
            ),
        ),
    ]
    if not plan.dog.growing:
        # Rats: no effect at 820 and 670 nm, harm at 830 nm daily; no trial in dogs found. Where
        # the plan says that the dog grows, the prescriber knows.
        points.append(
            Point(
                id="young",
                stand="ask",
                question=_("Is {dog} younger than 18 months?").format(dog=dog),
                advice=(
                    _("The bones may still grow. Studies in rats do not agree."),
                    _("Two saw no harm. One saw harm."),
                ),
            )
        )
    if any(order.region in NECK for order in plan.regions):
        # N: not over the front of the neck (with too active a thyroid).
        points.append(
            Point(
                id="thyroid",
                stand="ask",
                question=_("Is the thyroid of {dog} ill?").format(dog=dog),
                advice=(_("One list says: no laser on the front of the neck."),),
            )
        )
    return tuple(point for point in points if point.id not in plan.care.clearances)


def parts(plan: Plan) -> tuple[Point, ...]:
    """One by one what "anything new" stands for."""
    worse = Point(
        id="worse",
        stand="ask",
        question=_("Was {dog} worse after last time?").format(dog=plan.dog.name),
        advice=(_("The plan may have to change."),),
    )
    other = Point(
        id="other",
        stand="ask",
        question=_("Is anything else new that worries you?"),
        advice=(_("Your vet knows this dog best."),),
    )
    return tuple(
        point
        for point in (worse, *asked_always(plan), other)
        if point.id not in plan.care.clearances
    )

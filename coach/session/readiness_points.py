"""The points of the readiness round: what is asked, who says so, and what follows. Pure.

A point is something to make ready (it waits until it is so), a standing fact of the dog (true for
months: an implant), or news (what may have come since last time: a wound). Facts and news are a
hard stop, a question for the vet, or a caution, as the lists of contraindications have it: A is
the North American consensus of 2010, N Navratil & Kymplova (J Clin Laser Med Surg 2002;20:341), T
a textbook of 2019 (its pages beside the points). Where no source is named it is common practice,
no source. Where the sources disagree, both are told and the vet decides. A standing fact that the
prescriber has cleared in the plan is not asked; news cannot be cleared, for it has not happened
yet.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from coach.body.position import Position
from coach.body.regions import Side
from coach.dose.hazard import head_hazard
from coach.dose.limits import OutOfScope
from coach.language import N_, _
from coach.plan.laser import Laser
from coach.plan.model import Plan

Stand = Literal["ready", "new", "stop", "ask", "caution"]
# Points that stand together on one page, each answered by itself.
Page = Literal["", "standing", "today"]

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
        page: the page on which it is a line among others; "" for a screen of its own.
        label: what it is about, for that line.
    """

    id: str
    stand: Stand
    question: str
    help: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()
    eyes: bool = False
    parts: tuple["Point", ...] = ()
    page: Page = ""
    label: str = ""

    @property
    def health(self) -> bool:
        """Whether it is about the dog's health: no key answers it by itself."""
        return self.stand != "ready"


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
        question=_("Are you and {dog} settled?").format(dog=dog),
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


def room(plan: Plan) -> Point:
    """T p.169 and common practice."""
    heat = (
        (_("No spray, gas or paper near the beam: it can burn."),)
        if plan.laser.laser_class == "4"
        else ()
    )
    return Point(
        id="room",
        stand="ready",
        question=_("Is the room safe?"),
        help=(
            _("Everyone else is out, pets too. The door is shut."),
            _("Anyone who stays wears eyewear."),
            _("Mirrors, glass, a watch, rings: covered or put away."),
            *heat,
        ),
    )


def lens_and_coat() -> Point:
    """T p.61 for creams and wet hair; the rest common practice, no source."""
    return Point(
        id="lens_and_coat",
        stand="ready",
        question=_("Are the lens and the coat ready?"),
        help=(
            _("The lens is clean and dry. Wipe it only while the laser is off."),
            _("The coat is dry and parted. Cream is washed off."),
            _("Collar and harness are off."),
        ),
    )


def all_in_place(plan: Plan, position: Position | None, owner_sits: Side | None) -> Point:
    """Room, lens, coat and place in one, for owners who have done each of them before."""
    heat = (
        (_("No spray, gas or paper near the beam: it can burn."),)
        if plan.laser.laser_class == "4"
        else ()
    )
    return Point(
        id="ready",
        stand="ready",
        question=_("Are room, dog and lens ready?"),
        help=(
            _("Others and pets are out. The door is shut. Shiny things are covered."),
            *heat,
            _("The lens is clean. The coat is dry and parted."),
            _("Collar and harness are off."),
            *place(plan, position, owner_sits).help,
        ),
    )


def standing_facts(plan: Plan) -> tuple[Point, ...]:
    """What stays as it is for months: asked once for the plan, on one page."""
    dog = plan.dog.name
    belly = any(order.region in BELLY for order in plan.regions)
    points = [
        # T p.61 allows it; older lists advise against it.
        Point(
            id="implant",
            stand="ask",
            page="standing",
            label=_("metal implant or pacemaker"),
            question=_("Does {dog} have metal implants or a pacemaker?").format(dog=dog),
            advice=(
                _("The books do not agree. A newer one allows it."),
                _("Older lists advise against it."),
            ),
        ),
        # N: ask; A: only for visible light pulsed below 30 Hz.
        Point(
            id="epilepsy",
            stand="ask",
            page="standing",
            label=_("fits (seizures)"),
            question=_("Has {dog} ever had a fit?").format(dog=dog),
            advice=(
                _("The lists do not agree. One says: ask your vet first."),
                _("Another one warns only of light you see that flashes slowly."),
            ),
        ),
        # N: bleeding and blood disease "doubtful".
        Point(
            id="blood",
            stand="ask",
            page="standing",
            label=_("bleeding or clotting disorder"),
            question=_("Does {dog} have a bleeding or clotting disorder?").format(dog=dog),
            advice=(_("One published list advises caution."),),
        ),
        Point(
            id="heat_sensitive",
            stand="ask",
            page="standing",
            label=_("skin sensitive to heat or light"),
            question=_("Is {dog}'s skin sensitive to heat or light?").format(dog=dog),
            advice=(_("The laser could hurt or burn there."),),
        ),
        # Common practice: the dog cannot tell you that it is hot.
        Point(
            id="numb",
            stand="caution",
            page="standing",
            label=_("a spot that can't feel touch"),
            question=_("Any spot where {dog} can't feel touch?").format(dog=dog),
            advice=(
                _("Feel the skin there often. Stop when it is hot."),
                _("{dog} cannot tell you there.").format(dog=dog),
            ),
        ),
        # A and N: not over the abdomen.
        Point(
            id="pregnancy",
            stand="stop" if belly else "ask",
            page="standing",
            label=_("perhaps pregnant"),
            question=_("Could {dog} be pregnant?").format(dog=dog),
            advice=(_("No laser over the belly of a pregnant dog."),),
        ),
    ]
    if not plan.dog.growing:
        # Rats: no effect at 820 and 670 nm, harm at 830 nm daily; no trial in dogs found. Where
        # the plan says that the dog grows, the prescriber knows.
        points.append(
            Point(
                id="young",
                stand="ask",
                page="standing",
                label=_("younger than 18 months"),
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
                page="standing",
                label=_("thyroid problem"),
                question=_("Does {dog} have a thyroid problem?").format(dog=dog),
                advice=(_("One list says: no laser on the front of the neck."),),
            )
        )
    # T p.109.
    points.append(
        Point(
            id="dark",
            stand="caution",
            page="standing",
            label=_("dark coat, dark skin or tattoo"),
            question=_("Is the coat or the skin dark?"),
            help=(_("Tattoos count too."),),
            advice=(
                _("Dark skin gets warm sooner."),
                _("Feel the skin. Stop when it is hot."),
            ),
        )
    )
    return tuple(point for point in points if point.id not in plan.care.cleared)


def today(plan: Plan, *, first: bool) -> tuple[Point, ...]:
    """What may have come since last time, each for itself on one page. Nothing clears it."""
    dog = plan.dog.name
    worse = Point(
        id="worse",
        stand="ask",
        page="today",
        label=_("worse after last time"),
        question=_("Was {dog} worse after last time?").format(dog=dog),
        advice=(_("The plan may have to change."),),
    )
    points = (
        # A, N and T: not over a tumour, known or suspected, or its surroundings.
        Point(
            id="lump",
            stand="stop",
            page="today",
            label=_("lump or growth"),
            question=_("Does {dog} have any lump or growth?").format(dog=dog),
            help=(_("New, or known and not yet cleared by your vet."),),
            advice=(_("No laser on or near a growth. Your vet must look first."),),
        ),
        Point(
            id="wound",
            stand="ask",
            page="today",
            label=_("wound near the spots"),
            question=_("Is there a wound near the spots?"),
            advice=(_("A wound may need another plan."),),
        ),
        # N: fever, infection and bleeding "doubtful".
        Point(
            id="fever",
            stand="ask",
            page="today",
            label=_("fever or infection"),
            question=_("Does {dog} have a fever or an infection?").format(dog=dog),
            advice=(_("One published list advises caution."),),
        ),
        Point(
            id="bleeding",
            stand="ask",
            page="today",
            label=_("bleeding"),
            question=_("Is {dog} bleeding anywhere?").format(dog=dog),
            advice=(_("One published list advises caution."),),
        ),
        # A table in American Family Physician, 2007, and common practice.
        Point(
            id="medicine",
            stand="ask",
            page="today",
            label=_("new medicine or injection"),
            question=_("Is there a new medicine or an injection?"),
            help=(_("Steroids and blood thinners count too."),),
            advice=(_("Some make the skin react to light. Others change how it heals."),),
        ),
        Point(
            id="other",
            stand="ask",
            page="today",
            label=_("anything else that worries you"),
            question=_("Does anything else worry you today?"),
            advice=(_("Your vet knows this dog best."),),
        ),
    )
    return points if first else (worse, *points)


def anything_new(plan: Plan) -> Point:
    """One question for all that may be new, with the list in sight; yes asks line by line.

    What a standing fact says may be new as well: a fit, a pregnancy, skin that is no longer as it
    was. Those that were cleared stay out.
    """
    dog = plan.dog.name
    changed = tuple(
        replace(point, page="today")
        for point in standing_facts(plan)
        if point.id in {"epilepsy", "pregnancy", "heat_sensitive", "numb"}
    )
    return Point(
        id="anything_new",
        stand="new",
        question=_("Is anything on this list new with {dog}?").format(dog=dog),
        help=(
            _("Worse after last time. A lump or a growth."),
            _("A wound near the spots. Bleeding. A fever, an infection."),
            _("A new medicine or an injection."),
            _("A fit. Perhaps pregnant."),
            _("Skin that hurts, or that feels nothing."),
            _("Anything else that worries you."),
        ),
        parts=(*today(plan, first=False), *changed),
    )

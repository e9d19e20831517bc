"""The readiness round: what has to be so before the first spot, one point at a time. Pure.

A point is either something to make ready (it waits until it is so) or something that may be new
with the dog. What may be new is a hard stop, a question for the vet, or a caution, as the lists
of contraindications have it: A is the North American consensus of 2010, N Navratil & Kymplova
(J Clin Laser Med Surg 2002;20:341), T a textbook of 2019 (its pages beside the points). Where no
source is named it is common practice, no source. Where the sources disagree, both are told and
the vet decides. What the prescriber has cleared in the plan is not asked again.

The first round asks everything one by one. Later ones ask for the room, for the dog and for
"anything new" at once; the eyes are asked for on their own each time.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from coach.body.position import Position
from coach.body.regions import Side
from coach.dose.hazard import head_hazard
from coach.dose.limits import OutOfScope
from coach.language import N_, _
from coach.plan.laser import Laser
from coach.plan.model import Plan

Stand = Literal["ready", "new", "stop", "ask", "caution"]
Answer = Literal["done", "not_yet", "no", "yes", "vet_agreed", "not_asked", "go_on"]
Verdict = Literal["", "go", "stop"]

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One answer: its key (``y`` or ``n``), what it means and what is read."""

    key: str
    answer: Answer
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Prompt:
    """What is asked now. The one big key gives the first of ``options``."""

    point: Point
    lines: tuple[str, ...]
    options: tuple[Option, ...]

    @property
    def spoken(self) -> str:
        """What is said: the question itself."""
        return self.lines[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A line for the journal: ``readiness`` or ``whats_new``."""

    kind: str
    data: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """A readiness round, somewhere between its first point and its end.

    Attributes:
        points: all that are asked, in order.
        index: the one that is asked now.
        step: ``ask`` the point; then, after "yes", whether the ``vet`` agrees, or the ``advice``.
        verdict: ``go``, ``stop``, or "" while something is still to be asked.
        told: a sentence about the last answer, or "".
    """

    points: tuple[Point, ...]
    index: int = 0
    step: Literal["ask", "vet", "advice"] = "ask"
    verdict: Verdict = ""
    told: str = ""
    stopped_by: Point | None = None

    @property
    def point(self) -> Point:
        """The point that is asked now, or was last."""
        return self.points[min(self.index, len(self.points) - 1)]

    @property
    def prompt(self) -> Prompt | None:
        """What is asked now; None once there is a verdict."""
        if self.verdict:
            return None
        point = self.point
        if self.step == "advice":
            on = Option(key="y", answer="go_on", text=_("go on"))
            return Prompt(point=point, lines=point.advice, options=(on,))
        if self.step == "vet":
            lines = (_("Did your vet say you may go on?"), *point.advice)
            not_asked = Option(key="n", answer="not_asked", text=_("no: not today"))
            agreed = Option(key="y", answer="vet_agreed", text=_("yes, the vet agreed"))
            return Prompt(point=point, lines=lines, options=(not_asked, agreed))
        lines = (point.question, *point.help)
        if point.stand == "ready":
            done = Option(key="y", answer="done", text=_("yes, done"))
            wait = Option(key="n", answer="not_yet", text=_("not yet"))
            return Prompt(point=point, lines=lines, options=(done, wait))
        no = Option(key="n", answer="no", text=_("no"))
        yes = Option(key="y", answer="yes", text=_("yes"))
        return Prompt(point=point, lines=lines, options=(no, yes))

    @property
    def why_not(self) -> tuple[str, ...]:
        """What the owner reads and hears when the session may not start; () otherwise."""
        if self.stopped_by is None:
            return ()
        return (_("No session today. Phone your vet."), *self.stopped_by.advice)

    def answer(self, answer: Answer) -> tuple["Round", Row]:
        """What comes after ``answer``, and what is to be written down first.

        Raises ValueError for an answer that is none of the options of the prompt.
        """
        prompt = self.prompt
        if prompt is None or answer not in {option.answer for option in prompt.options}:
            raise ValueError(f"{answer!r} is no answer to {self.point.id!r}")
        point = self.point
        match answer:
            case "done":
                return self._next(), Row(
                    kind="readiness", data={"point": point.id, "answer": "yes"}
                )
            case "not_yet":
                row = Row(kind="readiness", data={"point": point.id, "answer": "not_yet"})
                return replace(self, told=_("Take your time. I wait.")), row
            case "no":
                return self._next(), _row(point, "no", "go")
            case "yes":
                return self._yes(point)
            case "vet_agreed":
                return self._next(), _row(point, "yes", "vet_agreed")
            case "go_on":
                return self._next(), _row(point, "yes", "go")
            case "not_asked":
                return self._stop(point), _row(point, "yes", "vet_not_asked")

    def _yes(self, point: Point) -> tuple["Round", Row]:
        match point.stand:
            case "stop":
                return self._stop(point), _row(point, "yes", "stop")
            case "new":
                at = self.index + 1
                points = (*self.points[:at], *point.parts, *self.points[at:])
                return replace(self, points=points)._next(), _row(point, "yes", "asked")
            case "caution":
                return replace(self, step="advice", told=""), _row(point, "yes", "caution")
            case _:
                return replace(self, step="vet", told=""), _row(point, "yes", "ask_vet")

    def back(self) -> "Round":
        """To the point before; its answer will be asked anew."""
        if self.verdict == "stop":
            return self
        index = self.index if self.step != "ask" else max(0, self.index - 1)
        return replace(self, index=index, step="ask", told="", verdict="")

    def _next(self) -> "Round":
        index = self.index + 1
        verdict: Verdict = "go" if index >= len(self.points) else ""
        return replace(self, index=index, step="ask", told="", verdict=verdict)

    def _stop(self, point: Point) -> "Round":
        return replace(self, verdict="stop", told="", stopped_by=point)


def _row(point: Point, answer: str, outcome: str) -> Row:
    return Row(kind="whats_new", data={"point": point.id, "answer": answer, "outcome": outcome})


def round_for(
    plan: Plan,
    *,
    first: bool,
    position: Position | None = None,
    owner_sits: Side | None = None,
) -> Round:
    """The round before a session of ``plan``: long for the ``first`` session, else short.

    ``position`` is how the dog lies for the first spot, ``owner_sits`` the side of the dog where
    the owner sits; None where that is not known.
    """
    dog = plan.dog.name
    ready = [_dog_and_plan(plan), _place(plan, position, owner_sits)]
    ready += _eyes(plan)
    if first:
        ready += [*_room(plan), *_hands(), *_asked_once(plan), *_asked_always(plan)]
        return Round(points=tuple(ready))
    ready.append(
        Point(
            id="room",
            stand="ready",
            question=_("Is the room safe?"),
            help=(_("Others and pets are out. The door is shut. Shiny things are covered."),),
        )
    )
    ready.append(
        Point(
            id="lens_and_coat",
            stand="ready",
            question=_("Are the lens and the dog ready?"),
            help=(
                _("The lens is clean. The coat is dry and parted."),
                _("Collar and harness are off."),
            ),
        )
    )
    ready.append(
        Point(
            id="anything_new",
            stand="new",
            question=_("Is anything new since last time?"),
            help=(
                _(
                    "A lump, a wound, a fever, a new medicine? A fit? Could {dog} be pregnant?"
                ).format(dog=dog),
                _("Worse after last time? Skin that hurts, or that feels nothing?"),
            ),
            parts=_parts(plan),
        )
    )
    return Round(points=tuple(ready))


def eyes_only(plan: Plan) -> Round:
    """The round before a session that was cut off is carried on: the eyes, each time."""
    return Round(points=_eyes(plan))


def every_sentence(start: Round) -> list[str]:
    """All that the round can say aloud, each once, for rendering ahead."""

    def lines(points: tuple[Point, ...]) -> Iterator[str]:
        for point in points:
            yield point.question
            yield from point.advice
            yield from lines(point.parts)

    ends = (
        _("Did your vet say you may go on?"),
        _("No session today. Phone your vet."),
        _("Take your time. I wait."),
        all_ready(),
        waiting(),
    )
    return list(dict.fromkeys((*lines(start.points), *ends)))


def all_ready() -> str:
    """What is said when the round is through."""
    return _("All is ready. Press to start.")


def waiting() -> str:
    """What is said, once, to an owner who has gone away."""
    return _("I am still here. Press to go on.")


# The points, in the order in which they are asked.


def _dog_and_plan(plan: Plan) -> Point:
    return Point(
        id="dog_and_plan",
        stand="ready",
        question=_("Is this {dog}, and the right plan?").format(dog=plan.dog.name),
    )


def _place(plan: Plan, position: Position | None, owner_sits: Side | None) -> Point:
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


def _eyes(plan: Plan) -> tuple[Point, ...]:
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
        density = math.ceil(head_hazard(laser.head).required_od)
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


def _room(plan: Plan) -> tuple[Point, ...]:
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


def _hands() -> tuple[Point, ...]:
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


def _asked_always(plan: Plan) -> tuple[Point, ...]:
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


def _asked_once(plan: Plan) -> tuple[Point, ...]:
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


def _parts(plan: Plan) -> tuple[Point, ...]:
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
        for point in (worse, *_asked_always(plan), other)
        if point.id not in plan.care.clearances
    )

"""The readiness round: one point after the other, what is answered and what follows. Pure.

The first round asks every point of :mod:`coach.session.readiness_points` one by one. Later ones ask
for the room, for the dog and for "anything new" at once; the eyes are asked for on their own each
time.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from coach.body.position import Position
from coach.body.regions import Side
from coach.language import _
from coach.plan.model import Plan
from coach.session.readiness_points import (
    Point,
    asked_always,
    asked_once,
    dog_and_plan,
    eyes,
    hands,
    parts,
    place,
    room,
)

Answer = Literal["done", "not_yet", "no", "yes", "vet_agreed", "not_asked", "go_on"]
Verdict = Literal["", "go", "stop"]
Asks = Literal["ask", "vet", "advice"]
STEPS: tuple[Asks, ...] = ("ask", "vet", "advice")


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One answer: its key (``y`` or ``n``), what it means and what is read."""

    key: str
    answer: Answer
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Prompt:
    """What is asked now. The one big key gives the first of ``options``.

    ``said_first`` of ``lines`` are said at once, the others when the owner asks for more.
    """

    point: Point
    lines: tuple[str, ...]
    options: tuple[Option, ...]
    said_first: int = 1

    @property
    def said(self) -> tuple[str, ...]:
        """What is said at once, a line each: the question, and which key answers what."""
        more = (_("R: more."),) if self.said_first < len(self.lines) else ()
        return (*self.lines[: self.said_first], *self.keys, *more)

    @property
    def said_again(self) -> tuple[str, ...]:
        """What is said to an owner who asks: all of it."""
        return (*self.lines, *self.keys)

    @property
    def keys(self) -> tuple[str, ...]:
        """Which key gives which answer, for an owner who does not see them."""
        first, *others = self.options
        told = [_("Big key: {answer}.").format(answer=first.text)]
        for option in others:
            key = _("Y") if option.key == "y" else "N"
            told.append(_("{key}: {answer}.").format(key=key, answer=option.text))
        return tuple(told)


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
    step: Asks = "ask"
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
            lines = point.advice
            return Prompt(point=point, lines=lines, options=(on,), said_first=len(lines))
        if self.step == "vet":
            lines = (_("Did your vet say you may go on?"), *point.advice)
            not_asked = Option(key="n", answer="not_asked", text=_("no: not today"))
            agreed = Option(key="y", answer="vet_agreed", text=_("yes, the vet agreed"))
            options = (not_asked, agreed)
            return Prompt(point=point, lines=lines, options=options, said_first=len(lines))
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
    ready = [dog_and_plan(plan), place(plan, position, owner_sits)]
    ready += eyes(plan)
    if first:
        ready += [*room(plan), *hands(), *asked_once(plan), *asked_always(plan)]
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
            parts=parts(plan),
        )
    )
    return Round(points=tuple(ready))


def eyes_only(plan: Plan) -> Round:
    """The round before a session that was cut off is carried on: the eyes, each time."""
    return Round(points=eyes(plan))


def every_sentence(start: Round) -> list[str]:
    """All that the round can say aloud, each once, for rendering ahead."""

    def lines(points: tuple[Point, ...]) -> Iterator[str]:
        for point in points:
            yield from (point.question, *point.help, *point.advice)
            for step in STEPS:
                asked = Round(points=(point,), step=step).prompt
                yield from () if asked is None else asked.said
            yield from lines(point.parts)

    ends = (
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

"""The readiness round: one point after the other, what is answered and what follows. Pure.

Health comes first, then the room, and the eyes last, so that nobody sits through a dozen questions
with covered eyes. Points of one page (:data:`coach.session.readiness_points.Page`) stand together;
each is answered by itself, in any order, and the page is left when none is open. What is asked
about health has no answer that a key gives by habit.

The first round asks the standing facts and, each by itself, what may be so today: at most nine
screens. Later ones ask "is anything on this list new?" and for room, dog and lens at once: five.
The standing facts are asked again when the plan has changed or after :data:`FACTS_DAYS`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from coach.body.position import Position
from coach.body.regions import Side
from coach.language import N_, _
from coach.plan.model import Plan
from coach.session.readiness_points import (
    Page,
    Point,
    all_in_place,
    anything_new,
    dog_and_plan,
    eyes,
    lens_and_coat,
    place,
    room,
    standing_facts,
    today,
)

Answer = Literal["done", "not_yet", "no", "yes", "vet_agreed", "not_asked", "go_on"]
Verdict = Literal["", "go", "stop"]
Asks = Literal["ask", "vet", "advice"]
STEPS: tuple[Asks, ...] = ("ask", "vet", "advice")
# So long a standing fact is taken to stand. Common practice, no source.
FACTS_DAYS = 30
HEADINGS: Mapping[Page, str] = {
    "standing": N_("About {dog}, once for this plan"),
    "today": N_("How is {dog} today?"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One answer: its key (``y`` or ``n``), what it means and what is read."""

    key: str
    answer: Answer
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Prompt:
    """What is asked now.

    Attributes:
        point: what it is about.
        lines: the question, and what helps to answer it.
        options: the answers.
        said_first: so many of ``lines`` are said at once, the others when the owner asks for more.
        preset: the one big key gives the first of ``options``; else it only steps through them.
        heading: said before the first line of a page, or "".
    """

    point: Point
    lines: tuple[str, ...]
    options: tuple[Option, ...]
    said_first: int = 1
    preset: bool = True
    heading: str = ""

    @property
    def said(self) -> tuple[str, ...]:
        """What is said at once, a line each: the question, and which key answers what."""
        more = (_("R: more."),) if self.said_first < len(self.lines) else ()
        return (*self._headed, *self.lines[: self.said_first], *self.keys, *more)

    @property
    def said_again(self) -> tuple[str, ...]:
        """What is said to an owner who asks: all of it."""
        return (*self._headed, *self.lines, *self.keys)

    @property
    def _headed(self) -> tuple[str, ...]:
        return (self.heading,) if self.heading else ()

    @property
    def keys(self) -> tuple[str, ...]:
        """Which key gives which answer, for an owner who does not see them."""
        big, others = self.options[: self.preset], self.options[self.preset :]
        told = [_("Big key: {answer}.").format(answer=option.text) for option in big]
        for option in others:
            key = _("Y") if option.key == "y" else "N"
            told.append(_("{key}: {answer}.").format(key=key, answer=option.text))
        if not self.preset and (self.heading or not self.point.page):
            told.append(_("Or choose with the big key, then wait."))
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
        dog: the dog's name, for headings.
        index: the one that is asked now.
        answers: what has been answered, by the id of its point.
        step: ``ask`` the point; then, after "yes", whether the ``vet`` agrees, or the ``advice``.
        verdict: ``go``, ``stop``, or "" while something is still to be asked.
        told: a sentence about the last answer, or "".
    """

    points: tuple[Point, ...]
    dog: str = ""
    index: int = 0
    answers: Mapping[str, Answer] = field(default_factory=dict)
    step: Asks = "ask"
    verdict: Verdict = ""
    told: str = ""
    stopped_by: Point | None = None

    @property
    def point(self) -> Point:
        """The point that is asked now, or was last."""
        return self.points[min(self.index, len(self.points) - 1)]

    @property
    def page(self) -> tuple[Point, ...]:
        """All lines of the page that is asked now; () where the point has a screen of its own."""
        page = self.point.page
        return tuple(point for point in self.points if point.page == page) if page else ()

    @property
    def screen(self) -> tuple[int, int]:
        """The number of the screen that is asked now, and how many there are."""
        places = [point.page or point.id for point in self.points]
        screens = list(dict.fromkeys(places))
        return screens.index(self.point.page or self.point.id) + 1, len(screens)

    @property
    def heading(self) -> str:
        """What stands over the lines of the page that is asked now; "" where there is none."""
        words = HEADINGS.get(self.point.page)
        return "" if words is None else _(words).format(dog=self.dog)

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
            return Prompt(
                point=point,
                lines=lines,
                options=(not_asked, agreed),
                said_first=len(lines),
                preset=False,
            )
        lines = (point.question, *point.help)
        if point.stand == "ready":
            done = Option(key="y", answer="done", text=_("yes, done"))
            wait = Option(key="n", answer="not_yet", text=_("not yet"))
            return Prompt(point=point, lines=lines, options=(done, wait))
        no = Option(key="n", answer="no", text=_("no"))
        yes = Option(key="y", answer="yes", text=_("yes"))
        begins = not any(line.id in self.answers for line in self.page)
        heading = f"{self.heading.rstrip('?.')}." if self.page and begins else ""
        return Prompt(point=point, lines=lines, options=(no, yes), preset=False, heading=heading)

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
                row = Row(kind="readiness", data={"point": point.id, "answer": "yes"})
                return self._next(answer), row
            case "not_yet":
                row = Row(kind="readiness", data={"point": point.id, "answer": "not_yet"})
                return replace(self, told=_("Take your time. I wait.")), row
            case "no":
                return self._without_parts()._next(answer), _row(point, "no", "go")
            case "yes":
                return self._yes(point)
            case "vet_agreed":
                return self._next("yes"), _row(point, "yes", "vet_agreed")
            case "go_on":
                return self._next("yes"), _row(point, "yes", "go")
            case "not_asked":
                return self._stop(point), _row(point, "yes", "vet_not_asked")

    def _yes(self, point: Point) -> tuple["Round", Row]:
        match point.stand:
            case "stop":
                return self._stop(point), _row(point, "yes", "stop")
            case "new":
                known = {each.id for each in self.points}
                parts = tuple(part for part in point.parts if part.id not in known)
                at = self.index + 1
                points = (*self.points[:at], *parts, *self.points[at:])
                return replace(self, points=points)._next("yes"), _row(point, "yes", "asked")
            case "caution":
                return replace(self, step="advice", told=""), _row(point, "yes", "caution")
            case _:
                return replace(self, step="vet", told=""), _row(point, "yes", "ask_vet")

    def pick(self, point_id: str) -> "Round":
        """To another line of the page that is asked now, answered or not. ValueError for others."""
        if self.verdict or self.step != "ask" or point_id not in {each.id for each in self.page}:
            raise ValueError(f"{point_id!r} is no line of this page")
        index = next(n for n, each in enumerate(self.points) if each.id == point_id)
        answers = {name: answer for name, answer in self.answers.items() if name != point_id}
        return replace(self, index=index, answers=answers, told="")

    def back(self) -> "Round":
        """To the point before; its answer will be asked anew."""
        if self.verdict == "stop":
            return self
        index = self.index if self.step != "ask" else max(0, self.index - 1)
        again = self.points[index].id
        answers = {name: answer for name, answer in self.answers.items() if name != again}
        return replace(self, index=index, answers=answers, step="ask", told="", verdict="")

    def _next(self, answer: Answer) -> "Round":
        """To the first point that is open."""
        answers = {**self.answers, self.point.id: answer}
        places = (n for n, point in enumerate(self.points) if point.id not in answers)
        index = next(places, len(self.points))
        verdict: Verdict = "go" if index >= len(self.points) else ""
        return replace(self, index=index, answers=answers, step="ask", told="", verdict=verdict)

    def _without_parts(self) -> "Round":
        """Without what was asked line by line after a yes that has been taken back."""
        parts = {part.id for part in self.point.parts}
        own = {each.id for each in self.points[: self.index + 1]}
        points = tuple(each for each in self.points if each.id not in parts - own)
        return replace(self, points=points)

    def _stop(self, point: Point) -> "Round":
        return replace(self, verdict="stop", told="", stopped_by=point)


def _row(point: Point, answer: str, outcome: str) -> Row:
    return Row(kind="whats_new", data={"point": point.id, "answer": answer, "outcome": outcome})


def round_for(
    plan: Plan,
    *,
    first: bool,
    facts_due: bool | None = None,
    position: Position | None = None,
    owner_sits: Side | None = None,
) -> Round:
    """The round before a session of ``plan``: long for the ``first`` session, else short.

    ``facts_due``: the standing facts are asked (None: at the first session). ``position`` is how
    the dog lies for the first spot, ``owner_sits`` the side of the dog where the owner sits; None
    where that is not known.
    """
    points = [dog_and_plan(plan)]
    if first if facts_due is None else facts_due:
        points += standing_facts(plan)
    if first:
        points += [*today(plan, first=True), room(plan), lens_and_coat()]
        points.append(place(plan, position, owner_sits))
    else:
        points += [anything_new(plan), all_in_place(plan, position, owner_sits)]
    return Round(points=(*points, *eyes(plan)), dog=plan.dog.name)


def eyes_only(plan: Plan) -> Round:
    """The round before a session that was cut off is carried on: the eyes, each time."""
    return Round(points=eyes(plan), dog=plan.dog.name)


def every_sentence(start: Round) -> list[str]:
    """All that the round can say aloud, each once, for rendering ahead."""

    def lines(points: tuple[Point, ...]) -> Iterator[str]:
        for point in points:
            yield from (point.question, *point.help, *point.advice)
            for step in STEPS:
                asked = Round(points=(point,), dog=start.dog, step=step).prompt
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

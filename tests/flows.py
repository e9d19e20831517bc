"""A flow of the evening, given a list of answers."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from coach.bedside.flow import Ask, Coach, Flow, Gone, Pressed, Show, Step, Tell, Work
from coach.session.questions import Asking


@dataclass(slots=True)
class Play:
    """A flow that is given a list of answers, as a test does. ``steps`` are those that it yielded.

    An answer of :class:`Ask` is a mapping by question or a list in the order of the questions
    (None goes past one), of :class:`Show` the id of a key or a :class:`Pressed`, of :class:`Coach`
    a function that is given the runner, or the phase. Tell takes no answer, and Work does its job.
    When the answers are at an end, nobody is there any more.
    """

    flow: Flow[Any]
    answers: Sequence[Any]
    steps: list[Step] = field(default_factory=list)
    result: Any = None
    ended: bool = False

    def run(self) -> "Play":
        """Until the flow returns or the answers are used up."""
        answers = list(self.answers)
        try:
            step = next(self.flow)
            while True:
                self.steps.append(step)
                if isinstance(step, Tell | Work) or answers:
                    step = self.flow.send(self._answer(step, answers))
                else:
                    step = self.flow.throw(Gone())
        except StopIteration as end:
            self.result, self.ended = end.value, not answers
        except Gone:
            self.ended = False
        return self

    def told(self) -> list[str]:
        """Every sentence that was told."""
        return [line for step in self.steps if isinstance(step, Tell) for line in step.lines]

    def _answer(self, step: Step, answers: list[Any]) -> Any:
        match step:
            case Tell():
                return None
            case Work():
                return step.job(lambda done, of: None)
            case Ask():
                return _answered(step, answers.pop(0))
            case Show():
                given = answers.pop(0)
                known = {key.id for key in step.page.keys}
                pressed = given if isinstance(given, Pressed) else Pressed(str(given))
                if pressed.id not in known:
                    raise ValueError(f"{pressed.id}: the page has {', '.join(sorted(known))}")
                return pressed
            case Coach():
                given = answers.pop(0)
                return given(step.runner) if callable(given) else given


def _answered(step: Ask, given: Any) -> Asking:
    """The round with the answers ``given``; one that cannot be kept is an error here."""
    asking = step.asking
    in_order = None if hasattr(given, "keys") else list(given)
    while not asking.over:
        question = asking.question
        if question is None:
            asking = asking.on()
            continue
        if in_order is None:
            answer = given.get(question.id)
        elif in_order:
            answer = in_order.pop(0)
        else:
            return asking
        if answer is None:
            asking = asking.on()
            continue
        if question.typed is not None:
            answer = question.typed(str(answer))
        refusal = step.keep(question.id, answer)
        if refusal:
            raise ValueError(f"{question.id}: {refusal}")
        asking = asking.answer(answer)
    return asking

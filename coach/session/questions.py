"""Questions, one at a time: what is asked, what may be answered, and where we are. Pure.

A round of questions is frozen; every answer gives the next state. Nothing has to be answered:
``on`` goes past a question, ``back`` returns to the one before, and answering that again is
answering it anew. Whoever runs a round keeps each answer at once; nothing waits for the end.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

Answer = str | int


def _nothing(answer: Answer) -> tuple[str, ...]:
    return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One answer. ``key`` takes it, ``text`` is read and heard ("" where the key says it all)."""

    key: str
    value: Answer
    text: str = ""

    @property
    def words(self) -> str:
        """How it is said: its text, or its value."""
        return self.text or str(self.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question.

    Attributes:
        id: stable name, under which the answer is kept.
        text: the question, one sentence.
        help: what makes it easier to answer, a sentence each.
        choices: the answers that can be picked; empty where the answer is typed.
        typed: makes an answer of typed text, or raises ValueError with a sentence.
        reply: what has to be read after an answer before going on; () for most.
    """

    id: str
    text: str
    help: tuple[str, ...] = ()
    choices: tuple[Choice, ...] = ()
    typed: Callable[[str], Answer] | None = None
    reply: Callable[[Answer], tuple[str, ...]] = _nothing

    def __post_init__(self) -> None:
        if bool(self.choices) == (self.typed is not None):
            raise ValueError(f"{self.id}: either choices or typed")
        if len({choice.key for choice in self.choices}) < len(self.choices):
            raise ValueError(f"{self.id}: a key twice")

    def by_key(self, key: str) -> Choice | None:
        """The choice that ``key`` takes."""
        return next((choice for choice in self.choices if choice.key == key), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asking:
    """A round of questions, somewhere between its first and its end.

    Attributes:
        questions: all of them.
        index: the one that is asked; as many as there are when the round is over.
        answers: by the id of their question.
        told: the reply to the last answer, until :meth:`on`.
    """

    questions: tuple[Question, ...]
    index: int = 0
    answers: Mapping[str, Answer] = field(default_factory=dict)
    told: tuple[str, ...] = ()

    @property
    def over(self) -> bool:
        """Whether nothing is left to ask or to tell."""
        return self.index >= len(self.questions) and not self.told

    @property
    def question(self) -> Question | None:
        """What is asked now; None while a reply is told, and at the end."""
        return None if self.told or self.over else self.questions[self.index]

    def answer(self, answer: Answer) -> "Asking":
        """Take ``answer`` and go on, to its reply if there is one. ValueError if none is asked."""
        question = self.question
        if question is None:
            raise ValueError("nothing is asked")
        if question.choices and answer not in {choice.value for choice in question.choices}:
            raise ValueError(f"{question.id}: {answer!r} is none of the choices")
        return replace(
            self,
            index=self.index + 1,
            answers={**self.answers, question.id: answer},
            told=question.reply(answer),
        )

    def on(self) -> "Asking":
        """Past a reply, or past a question without an answer."""
        if self.told:
            return replace(self, told=())
        return self if self.over else replace(self, index=self.index + 1)

    def back(self) -> "Asking":
        """To the question before; from a reply, to the question that it is about."""
        return replace(self, index=max(0, self.index - 1), told=())


TEN_KEY = "t"


def scale(low: int, high: int) -> tuple[Choice, ...]:
    """Whole numbers from ``low`` to ``high`` (at most 10), each by its digit; ten has a letter."""
    return tuple(
        Choice(key=str(number) if number < 10 else TEN_KEY, value=number)
        for number in range(low, high + 1)
    )


def numbered(*choices: tuple[Answer, str]) -> tuple[Choice, ...]:
    """Up to nine choices by the digits from 1 on."""
    return tuple(
        Choice(key=str(number), value=value, text=text)
        for number, (value, text) in enumerate(choices, start=1)
    )

"""The evening as data: a flow yields what the owner is asked, told or shown, and gets an answer.

A flow is a generator. It knows no screen, no keyboard and no colour; a driver runs it: one draws
(``coach.screens.driver``), one goes line by line (``coach.lines.driver``), and a test has a list of
answers. What a driver gives back for each step:

    Ask     the :class:`Asking`, answered as far as the owner liked
    Tell    None, once the owner has gone on
    Show    the :class:`Pressed` key of the page
    Coach   the phase in which the session was left
    Work    what the job returned; None when the owner did not wait for it

When nobody is there any more (the terminal is gone, the input has ended, a signal), the driver
throws :class:`Gone` into the flow: it may write down what it holds, and yields no more.

A flow calls another with ``yield from``. :func:`ask` and its sisters are the steps with the types
of their answers.
"""

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from coach.session.questions import Answer, Asking, Question

if TYPE_CHECKING:
    from coach.bedside.after_session import SessionAfter
    from coach.bedside.runner import Runner
    from coach.session.machine import Phase

T = TypeVar("T")

Keep = Callable[[str, Answer], str]
# How much is done, of how much.
Progress = Callable[[int, int], None]
Job = Callable[[Progress], Any]


class Gone(Exception):  # noqa: N818  (not a failure)
    """Nobody is there any more: the flow ends."""


class Fault(Exception):  # noqa: N818  (thrown into a flow)
    """The driver has failed: what runs is left as it is."""


def taken(_question: str, _answer: Answer) -> str:
    """Keeps nothing: the answers are in what the step gives back."""
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """A round of questions. ``keep`` gets each answer at once; "" when it is kept, else why not.

    Where it ``leaves``, back from the first question leaves the round.
    """

    asking: Asking
    title: str = ""
    keep: Keep = taken
    leaves: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Tell:
    """Sentences that stay until the owner goes on."""

    lines: tuple[str, ...]
    title: str = ""


@dataclass(frozen=True, slots=True)
class Key:
    """A key of a page: ``id`` is what it means, ``key`` what is pressed, ``label`` what it says.

    Without a ``label`` it works and is not shown. A ``vital`` one is shown on the smallest screen.
    """

    id: str
    key: str
    label: str
    vital: bool = False


@dataclass(frozen=True, slots=True)
class Pressed:
    """The key that was pressed, and for which line of the page where it has several."""

    id: str
    at: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """Something to look at, with keys that leave it. Screens may draw a kind of page their own way.

    The first of ``keys`` is also the one big key, and Enter.
    """

    title: str = ""
    keys: tuple[Key, ...] = ()

    def lines(self) -> Sequence[str]:
        """The page in lines of text."""
        raise NotImplementedError

    def spoken(self) -> str:
        """What is said when it opens; "" for nothing."""
        return " ".join(self.lines())


@dataclass(frozen=True, slots=True, kw_only=True)
class TextPage(Page):
    """A page of sentences."""

    text: tuple[str, ...] = ()

    def lines(self) -> Sequence[str]:
        """The sentences."""
        return self.text


@dataclass(frozen=True, slots=True, kw_only=True)
class Show:
    """A page, until one of its keys is pressed."""

    page: Page


@dataclass(frozen=True, slots=True, kw_only=True)
class Coach:
    """A session, until its end screen is left. ``after`` is what is asked about it then."""

    runner: "Runner"
    after: "SessionAfter | None" = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A job that takes a while; ``text`` says what is being done. It tells its own errors.

    With ``skip`` the owner may go on without waiting for it: ``skip`` is called, and should make
    the job return soon.
    """

    job: Job
    text: str
    title: str = ""
    skip: Callable[[], None] | None = None


Step = Ask | Tell | Show | Coach | Work
Flow = Generator[Step, Any, T]


def ask(asking: Asking, *, title: str = "", keep: Keep = taken) -> Flow[Asking]:
    """Ask a round; it comes back as far as it was answered. Nothing is asked of an empty one."""
    if asking.over:
        return asking
    answered: Asking = yield Ask(asking=asking, title=title, keep=keep)
    return answered


def choose(question: Question, *, title: str = "") -> Flow[Answer | None]:
    """Ask one question; its answer, or None."""
    answered = yield from ask(Asking(questions=(question,)), title=title)
    return answered.answers.get(question.id)


def tell(*lines: str, title: str = "") -> Flow[None]:
    """Tell sentences; nothing where there are none."""
    if lines:
        yield Tell(lines=lines, title=title)


def show(page: Page) -> Flow[Pressed]:
    """Show a page; the key with which it was left."""
    pressed: Pressed = yield Show(page=page)
    return pressed


def coached(runner: "Runner", after: "SessionAfter | None" = None) -> "Flow[Phase]":
    """Coach a session to its end; the phase in which it was left."""
    phase: Phase = yield Coach(runner=runner, after=after)
    return phase


def work(
    job: Callable[[Progress], T],
    text: str,
    *,
    title: str = "",
    skip: Callable[[], None] | None = None,
) -> Flow[T | None]:
    """Do a job in the background of the screen; what it returned, None if that was not awaited."""
    done: T | None = yield Work(job=job, text=text, title=title, skip=skip)
    return done

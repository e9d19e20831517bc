"""What is said to an owner who does not see the keys: what to press now, sentence by sentence."""

from collections.abc import Iterable, Iterator, Sequence

from coach.language import N_, _
from coach.screens.actions import BY_ID, REASONS
from coach.session.machine import Phase
from coach.session.signals import SIGNALS
from coach.session.view import View

CARRY_ON = N_("Press to carry on.")
START = N_("Press to start.")
READY = N_("Press when ready.")
CLOSE = N_("Q: close.")
TWICE = N_("Twice: all choices.")
MORE = N_("R: more.")
# Not "stop": a microphone in the room would hear the coach say it.
END = N_("X: end it.")
SIGNS_DONE = (N_("Big key: done."), END)
CHOICES = ("unhappy", "skip", "again", "back")
QUESTIONS = N_("Big key: a few short questions.")
CHOOSE = N_("Wait: leave as it is. Press: next choice.")
CHOOSE_ANSWER = N_("Wait to choose it. Press: next choice.")


def skip_aloud() -> tuple[str, ...]:
    """Why a spot is left out, and the way back."""
    reasons = ((reason.key, _(reason.text)) for reason in REASONS)
    return (_("Why skip?"), *_choices(reasons), _("Big key: do not skip."))


def signs_aloud() -> tuple[str, ...]:
    """What a dog may show that is not happy."""
    signs = ((signal.key.upper(), _(signal.text)) for signal in SIGNALS)
    return (_("What do you see?"), *_choices(signs), *signs_done())


def signs_done() -> tuple[str, ...]:
    """What can be done once signs are marked."""
    return tuple(_(text) for text in SIGNS_DONE)


def end_aloud(farewell: Sequence[str], *, asks: bool) -> str:
    """What is left to do once the session is over, as one text."""
    return " ".join((*farewell, *((_(QUESTIONS),) if asks else ()), _(CLOSE)))


def now_aloud(view: View) -> tuple[str, ...]:
    """What the one big key is waited for; () where nothing waits, or a question says it."""
    if view.asks:
        return ()
    if view.phase is Phase.PAUSED:
        return (_(CARRY_ON), _(TWICE), _(MORE))
    if view.phase is Phase.READY:
        return (_(START),)
    return (_(READY),) if view.phase is Phase.MOVING and view.waits else ()


def more_aloud(view: View) -> tuple[str, ...]:
    """What is said, with where we are, to an owner who asks: in a pause all that can be done."""
    if view.phase is not Phase.PAUSED or view.asks:
        return now_aloud(view)
    choices = (BY_ID[choice] for choice in CHOICES)
    offered = ((action.key, _(action.label)) for action in choices if action.offered(view))
    return (*_choices(offered), _(END), _(CARRY_ON))


def every_sentence() -> list[str]:
    """All that is said with the same words each time, for rendering ahead."""
    texts = map(_, (CARRY_ON, TWICE, MORE, START, READY, CHOOSE, CHOOSE_ANSWER))
    choices = _choices((BY_ID[choice].key, _(BY_ID[choice].label)) for choice in CHOICES)
    ends = (end_aloud((), asks=asks) for asks in (True, False))
    return [*skip_aloud(), *signs_aloud(), *texts, *choices, *ends]


def _choices(choices: Iterable[tuple[str, str]]) -> Iterator[str]:
    return (_("{key}: {answer}.").format(key=key, answer=text) for key, text in choices)

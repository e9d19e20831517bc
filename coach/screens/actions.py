"""Everything that the owner can do, once: bindings, keys on screen and help come from here."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from textual.binding import Binding

from coach.language import N_, _
from coach.screens import session_text
from coach.session import commands as cmd
from coach.session.machine import OVER, Phase
from coach.session.view import View

RUNNING = frozenset({Phase.MOVING, Phase.HOLDING, Phase.PAUSED})
EVERY = frozenset(Phase)


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing to do.

    Attributes:
        id: stable name, also that of its binding, so that keys can be changed.
        keys: as the framework names them; pedals and page-turners send some of them.
        shown: the key as the owner reads it.
        label: a word or two for the screen.
        help: one line for the help screen.
        command: what it asks of the session; None when the screens do it themselves.
        phases: where it is offered.
        repeats: a key that repeats while it is held down may do it more than once.
    """

    id: str
    keys: tuple[str, ...]
    shown: str
    label: str
    help: str
    command: Callable[[], cmd.Command] | None = None
    phases: frozenset[Phase] = RUNNING
    repeats: bool = False

    def offered(self, view: View) -> bool:
        """Whether to show it now. The session's own table has the last word."""
        if self.id == "go" and view.waits:
            return False  # the one big key says it already
        if view.phase not in self.phases:
            return False
        return self.command is None or view.allows(type(self.command()))

    def label_now(self, view: View) -> str:
        """The word on the screen."""
        return session_text.one_key_text(view) if self.id == "one_key" else _(self.label)

    @property
    def key(self) -> str:
        """The key as the owner reads it in the language in use."""
        return _(self.shown)


ACTIONS: tuple[Action, ...] = (
    Action(
        id="one_key",
        keys=("space", "enter", "pagedown", "right", "down"),
        shown=N_("SPACE"),
        label="",
        help=N_(
            "start, pause, carry on (also Enter, a pedal, a tap). "
            "Press twice in a row: all choices, one by one."
        ),
        phases=EVERY,
    ),
    Action(
        id="stop",
        keys=("x",),
        shown="X",
        label=N_("STOP"),
        help=N_("end the session at once; nothing more is asked"),
        command=cmd.Stop,
        phases=RUNNING | {Phase.READY},
        repeats=True,
    ),
    Action(
        id="emergency",
        keys=("e",),
        shown="E",
        label=N_("emergency"),
        help=N_("stop: eye hit, burn, bite, wrong spot; what to do"),
        phases=EVERY,
        repeats=True,
    ),
    Action(
        id="dog_moved",
        keys=("d",),
        shown="D",
        label=N_("dog moved"),
        help=N_("pause at once; the remaining seconds are kept"),
        command=lambda: cmd.Pause("dog_moved"),
        repeats=True,
    ),
    Action(
        id="unhappy",
        keys=("u",),
        shown="U",
        label=N_("not happy"),
        help=N_("dog not happy: pause at once, say what you see"),
    ),
    Action(
        id="go",
        keys=("g",),
        shown="G",
        label=N_("go now"),
        help=N_("the head is in place: end the move and count"),
        command=cmd.Go,
    ),
    Action(
        id="skip",
        keys=("s",),
        shown="S",
        label=N_("skip"),
        help=N_("skip this spot; pauses and asks why"),
    ),
    Action(
        id="again",
        keys=("a",),
        shown="A",
        label=N_("again"),
        help=N_("this spot once more, if the plan allows it"),
        command=cmd.Again,
    ),
    Action(
        id="back",
        keys=("b",),
        shown="B",
        label=N_("back"),
        help=N_("back to the previous spot"),
        command=cmd.Back,
    ),
    Action(
        id="say",
        keys=("r", "pageup", "left", "up"),
        shown="R",
        label=N_("say again"),
        help=N_("repeat where we are and how long is left"),
        command=cmd.Say,
    ),
    Action(
        id="picture",
        keys=("p",),
        shown="P",
        label=N_("picture"),
        help=N_("the dog with its spots, or large letters"),
    ),
    Action(
        id="look",
        keys=("l",),
        shown="L",
        label=N_("light"),
        help=N_("other colours: dark, daylight, plain console"),
        phases=frozenset({Phase.READY}) | OVER,
    ),
    Action(
        id="help",
        keys=("question_mark", "f1"),
        shown="?",
        label=N_("help"),
        help=N_("this help; the session keeps running"),
        phases=EVERY,
    ),
    Action(
        id="quit",
        keys=("q",),
        shown="Q",
        label=N_("close"),
        help=N_("close the coach, once the session is over"),
        phases=OVER,
    ),
    Action(
        id="close",
        keys=("ctrl+q", "ctrl+c"),
        shown=N_("Ctrl+Q"),
        label=N_("close"),
        help=N_("stop and save; press again to close"),
        phases=frozenset(),
    ),
)
BY_ID: Mapping[str, Action] = {action.id: action for action in ACTIONS}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why a spot is left out: one key each."""

    key: str
    text: str
    reason: cmd.SkipReason


REASONS: tuple[Reason, ...] = (
    Reason(key="1", text=N_("it is sore there"), reason="sore"),
    Reason(key="2", text=N_("I cannot reach it"), reason="out_of_reach"),
    Reason(key="3", text=N_("the dog does not want it"), reason="dog_objects"),
    Reason(key="4", text=N_("a lump or a wound"), reason="lump_or_wound"),
    Reason(key="5", text=N_("no reason"), reason="asked"),
)


def bindings() -> list[Binding]:
    """Every key of every action, each with the id of its action."""
    return [
        Binding(",".join(action.keys), f"act('{action.id}')", action.help, id=action.id)
        for action in ACTIONS
    ]


def offered(view: View) -> tuple[Action, ...]:
    """What can be done now, most important first."""
    return tuple(action for action in ACTIONS if action.offered(view))

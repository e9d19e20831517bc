"""The home screen: one dog at a time, what is so, what to do, and one key to start.

It decides nothing: what it shows is a :class:`coach.bedside.home_status.AtHome` of each dog, and a
key either opens a page on top of it or closes it with a wish that the command line fulfils.
"""

import datetime
import textwrap
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import Screen

from coach.appliance.notify import from_environment
from coach.bedside.home_status import AtHome, empty_lines
from coach.language import _
from coach.screens import block_letters
from coach.screens.base_app import LastingApp
from coach.screens.block_letters import LETTER_ROWS, Rows
from coach.screens.key_bar import Keys
from coach.screens.key_bar_layout import TALL, Tap, fitting, flow, rows_of
from coach.screens.key_debounce import OnePress
from coach.screens.layout_rows import ROOMY_ROWS
from coach.screens.messages import Asked
from coach.screens.text_block import Sign
from coach.screens.themes import LOOKS

# Below it the sign is a word in the bar of the dog, not drawn.
SIGN_FROM_ROWS = 18
PAGES = frozenset({"course", "tally", "trend"})
# A key that is held down goes on from dog to dog.
TURNS = {"next_dog": 1, "dog_before": -1}
KEYS = {
    "go": "space,enter,pagedown",
    "next_dog": "n,right,down",
    "dog_before": "left,up",
    "score": "s",
    "course": "c",
    "tally": "t",
    "trend": "h",
    "rehearse": "r",
    "vet": "v",
    "look": "l",
    "leave": "q,escape,ctrl+q,ctrl+c",
}
BEAT_S = 10.0
ALIVE_S = 1.0
TEND_S = 0.1
# A screen by the dog bed is never closed, and what is due changes with the day.
STALE_S = 600.0


@dataclass(frozen=True, slots=True)
class Wish:
    """What the owner wants: ``start``, ``carry_on``, ``rehearse``, ``score``, ``vet``, for ``at``.

    ``look_again`` is the screen's own wish: what it shows may be out of date.
    """

    name: str
    at: int


class HomeScreen(Screen[None], inherit_bindings=False):
    """A bar, a sign, words, and the keys."""

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    CSS_PATH = "home.tcss"

    def __init__(
        self,
        homes: Sequence[AtHome],
        *,
        at: int,
        now: Callable[[], datetime.datetime],
        say: Callable[[str], None] | None = None,
    ) -> None:
        super().__init__()
        self._homes = homes
        self.at = at if at < len(homes) else 0
        self._now = now
        self._say = say
        self.refusal = ""
        self._bar = Sign("bar")
        self._sign = Sign("sign", asks="go")
        self._text = Sign("text", asks="go")
        self._lines = Sign("lines", asks="go")
        self._keys = Keys(id="keys")

    @property
    def home(self) -> AtHome | None:
        """The dog that is shown."""
        return self._homes[self.at] if self._homes else None

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        yield self._bar
        yield self._sign
        with Vertical(id="page"):
            yield self._text
            yield self._lines
        yield self._keys

    def on_mount(self) -> None:
        """The clock goes on."""
        self.set_interval(BEAT_S, self.draw)

    def on_resize(self) -> None:
        """The same in another size."""
        self.draw()

    def turn(self, step: int) -> None:
        """Another dog; the same once more where there is one."""
        if self._homes:
            self.at = (self.at + step) % len(self._homes)
            self.refusal = ""
            self.draw()
            self.tell()

    def refuse(self, text: str) -> None:
        """Show and say why a key does nothing."""
        self.refusal = text
        if self._say is not None:
            self._say(text)
        self.draw()

    def tell(self) -> None:
        """Say how it is with the dog, and what the keys do."""
        if self._say is None:
            return
        home = self.home
        if home is None:
            lines = empty_lines()
        else:
            todo = () if home.key else (home.todo,)
            lines = (f"{home.dog}.", home.text, *todo, *home.notes)
        self._say(" ".join((*lines, *keys_aloud(self._taps(home)))))

    def draw(self) -> None:
        """Put the dog into the widgets."""
        width, height = self.size
        if not width:
            return
        home = self.home
        self._bar.show((self._bar_text(home, width),))
        tall = height >= ROOMY_ROWS
        taps = self._taps(home)
        key_rows = min(rows_of(flow(taps, width=width, tall=tall)), max(1, height // 4))
        used = key_rows * (TALL if tall else 1)
        self._keys.show(fitting(taps, width=width, rows=key_rows, tall=tall), tall=tall, rows=used)
        self._sign.show(_sign_rows(home, width, height))
        if home is None:
            self._text.show(())
            self._lines.show(("", *_rows(empty_lines(), width)))
            return
        said = (self.refusal or home.todo,)
        self._text.show(("", *_rows((home.text,), width), *_rows(said, width), ""))
        self._lines.show(_rows((home.last, *home.notes), width))

    def _bar_text(self, home: AtHome | None, width: int) -> str:
        clock = f"{self._now():%Y-%m-%d %H:%M}"
        if home is None:
            name = _("HOME")
        elif len(self._homes) == 1:
            name = home.dog
        else:
            name = _("{dog} (dog {number} of {of})").format(
                dog=home.dog, number=self.at + 1, of=len(self._homes)
            )
        room = width - len(clock) - 1
        return f"{name[:room]:<{room}} {clock}" if room > 0 else name[:width]

    def _taps(self, home: AtHome | None) -> tuple[Tap, ...]:
        close = Tap(id="leave", key="Q", label=_("close"), vital=True)
        rehearse = Tap(id="rehearse", key="R", label=_("rehearse, laser off"), vital=True)
        vet = Tap(id="vet", key="V", label=_("for the vet"), vital=True)
        light = Tap(id="look", key="L", label=_("light"))
        if home is None:
            return (rehearse, vet, light, close)
        labels = {"start": _("start a session"), "carry_on": _("carry on")}
        taps = []
        if home.key:
            taps.append(Tap(id="go", key=_("SPACE"), label=labels[home.key], vital=True))
        if len(self._homes) > 1:
            taps.append(Tap(id="next_dog", key="N", label=_("next dog"), vital=True))
        return (
            *taps,
            Tap(id="course", key="C", label=_("course")),
            Tap(id="tally", key="T", label=_("tally")),
            Tap(id="score", key="S", label=_("score")),
            Tap(id="trend", key="H", label=_("how it goes")),
            rehearse,
            vet,
            light,
            close,
        )


def keys_aloud(taps: Sequence[Tap]) -> tuple[str, ...]:
    """What the keys do that matter most."""
    names = {"go": _("Big key")}
    return tuple(
        _("{key}: {answer}.").format(key=names.get(tap.id, tap.key), answer=tap.label)
        for tap in taps
        if tap.vital
    )


def _sign_rows(home: AtHome | None, width: int, height: int) -> Rows:
    if home is None:
        return ()
    if height >= SIGN_FROM_ROWS:
        drawn = block_letters.letters(home.sign, width=width, height=LETTER_ROWS)
        if drawn is not None:
            return ("", *block_letters.centred(drawn, width=width, height=len(drawn)))
    return (home.sign.center(width)[:width],)


def _rows(lines: Sequence[str], width: int) -> Rows:
    return tuple(row for line in lines for row in textwrap.wrap(line, max(10, width)))


class HomeApp(LastingApp[Wish], inherit_bindings=False):
    """Shows home; returns what the owner wants next, or None to close.

    Args:
        homes: each dog.
        at: which of them first.
        now: the clock on the wall.
        opens: makes the screen of a page for a dog; None when there is nothing to show.
        say: speaks instead of what is being said, if there is a voice.
        tend: called again and again while it is open, for the voice.
        tells: whether it says how things are before anybody presses a key.
        look: one of ``LOOKS``.
        mono_ns: monotonic time, to tell presses from repeats.
    """

    BINDINGS = [Binding(keys, f"do('{name}')") for name, keys in KEYS.items()]  # noqa: RUF012

    def __init__(
        self,
        homes: Sequence[AtHome],
        *,
        now: Callable[[], datetime.datetime],
        opens: Callable[[int, str], Screen[Any] | None],
        at: int = 0,
        look: str = "dark",
        mono_ns: Callable[[], int] = time.monotonic_ns,
        say: Callable[[str], None] | None = None,
        tend: Callable[[], None] | None = None,
        tells: bool = True,
    ) -> None:
        super().__init__(look=look)
        self._tend = tend
        self._tells = tells
        self.hand = OnePress(self._do, mono_ns=mono_ns, later=self.set_timer)
        self._home = HomeScreen(homes, at=at, now=now, say=say)
        self._opens = opens
        self._watchdog = from_environment()

    def on_mount(self) -> None:
        """Open; tell the service manager that the screen lives."""
        self.hand.anew()
        self.push_screen(self._home)
        self._watchdog.begin()
        self.set_interval(ALIVE_S, self._watchdog.beat)
        self.set_interval(STALE_S, self._look_again)
        if self._tend is not None:
            self.set_interval(TEND_S, self._tend)
        if self._tells:
            # Opening the voice takes a moment: the screen is there first.
            self.call_after_refresh(self._home.tell)

    def on_unmount(self) -> None:
        """What follows may wait for the owner."""
        self._watchdog.end()

    def _look_again(self) -> None:
        """It may be another day by now."""
        if self.screen is self._home:
            self.exit(Wish("look_again", self._home.at))

    def on_asked(self, message: Asked) -> None:
        """A tap."""
        message.stop()
        self.action_do(message.id)

    def action_do(self, name: str) -> None:
        """What a key asks."""
        if self.screen is not self._home:
            return
        if name in TURNS:
            self._home.turn(TURNS[name])
        else:
            self.hand.press(name)

    def _do(self, name: str, _at_ns: int) -> None:
        screen, home = self._home, self._home.home
        if name in PAGES and home is not None:
            page = self._opens(screen.at, name)
            if page is None:
                screen.refuse(_("There is no plan to show."))
            else:
                # The key that closed the page may still be down.
                self.push_screen(page, lambda _: self.hand.anew())
        elif name == "go":
            if home is not None and home.key:
                self.exit(Wish(home.key, screen.at))
            else:
                screen.refuse(_("No session can be started now."))
        elif name in ("rehearse", "vet") or (name == "score" and home is not None):
            self.exit(Wish(name, screen.at))
        elif name == "look":
            self.theme = LOOKS[(LOOKS.index(self.theme) + 1) % len(LOOKS)]
            screen.draw()
        elif name == "leave":
            self.exit(None)

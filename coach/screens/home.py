"""The home screen: one dog at a time, what is so, what to do, and one key to start.

It decides nothing: it draws a :class:`coach.bedside.pages.HomePage` and gives back the key that
leads away from it. Where no session can be started now, the one big key steps through what else
there is; the one on which it stays is taken.
"""

import textwrap
import time
from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import Screen

from coach.bedside.flow import Pressed
from coach.bedside.home import LOOK_AGAIN
from coach.bedside.home_status import AtHome, empty_lines
from coach.bedside.pages import HomePage
from coach.language import _
from coach.screens import block_letters
from coach.screens.block_letters import LETTER_ROWS, Rows
from coach.screens.key_bar import Keys
from coach.screens.key_bar_layout import TALL, Tap, fitting, flow, rows_of
from coach.screens.key_debounce import OnePress
from coach.screens.layout_rows import ROOMY_ROWS
from coach.screens.messages import Asked
from coach.screens.spoken_help import CHOOSE
from coach.screens.step_scanning import Stepping
from coach.screens.text_block import Sign
from coach.units import NS_PER_S

# Below it the sign is a word in the bar of the dog, not drawn.
SIGN_FROM_ROWS = 18
# A key that is held down goes on from dog to dog.
TURNS = {"next_dog": 1, "dog_before": -1}
KEYS = {
    "one_key": "space,enter,pagedown",
    "next_dog": "n,right,down",
    "dog_before": "left,up",
    "score": "s",
    "course": "c",
    "tally": "t",
    "trend": "h",
    "rehearse": "r",
    "vet": "v",
    "amend": "a",
    "take": "p",
    "what": "w",
    "look": "l",
    "leave": "q,escape,ctrl+q,ctrl+c",
}
BEAT_S = 0.5
# A screen by the dog bed is never closed, and what is due changes with the day.
STALE_NS = 600 * NS_PER_S


class HomeScreen(Screen[Pressed], inherit_bindings=False):
    """A bar, a sign, words, and the keys.

    Args:
        page: what to show.
        mono_ns: monotonic time, to tell presses from repeats.
        say: speaks instead of what is being said, if there is a voice.
        next_look: another of the looks.
    """

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    CSS_PATH = "home.tcss"
    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        Binding(keys, f"do('{name}')", id=name) for name, keys in KEYS.items()
    ]

    def __init__(
        self,
        page: HomePage,
        *,
        mono_ns: Callable[[], int] = time.monotonic_ns,
        say: Callable[[str], None] | None = None,
        next_look: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__()
        self._page = page
        self._homes = page.homes
        self.at = page.at if page.at < len(page.homes) else 0
        self._now = page.now
        self._say = say
        self._next_look = next_look
        self._mono_ns = mono_ns
        self._hand = OnePress(self._do, mono_ns=mono_ns, later=self.set_timer)
        self._steps = Stepping(mono_ns)
        self._opened_ns = mono_ns()
        self._left = False
        self.refusal = ""
        self._bar = Sign("bar")
        self._sign = Sign("sign", asks="one_key")
        self._text = Sign("text", asks="one_key")
        self._lines = Sign("lines", asks="one_key")
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
        self.set_interval(BEAT_S, self.beat)
        if self._page.tells:
            # Opening the voice takes a moment: the screen is there first.
            self.call_after_refresh(self.tell)

    def beat(self) -> None:
        """Take the choice on which the big key has stayed; look again when it is another day."""
        self._hand.beat()
        chosen = self._steps.due()
        if chosen:
            self._act(chosen)
        elif self._mono_ns() - self._opened_ns >= STALE_NS:
            self._leave(LOOK_AGAIN)
        else:
            self.draw()

    def on_asked(self, message: Asked) -> None:
        """A tap."""
        message.stop()
        self.action_do(message.id)

    def action_do(self, name: str) -> None:
        """What a key asks."""
        if name in TURNS:
            self.turn(TURNS[name])
        else:
            self._hand.press(name)

    def _do(self, name: str, _at_ns: int) -> None:
        if name == "one_key":
            self._one_key()
        else:
            self._steps.close()
            self._act(name)

    def _one_key(self) -> None:
        home = self.home
        step = self._steps.step()
        if step:
            if self._say is not None:
                self._say(step)
            self.draw()
        elif home is not None and home.key and not self._page.steps:
            self._leave(home.key)
        else:
            self._steps.open(self._taps(home))
            if home is not None and not home.key:
                self.refuse(_("No session can be started now."))
            elif self._say is not None:
                self._say(_(CHOOSE))
            self.draw()

    def _act(self, name: str) -> None:
        """Do what was pressed or chosen."""
        if name == "look":
            self._next_look()
            self.draw()
        elif name in TURNS:
            self.turn(TURNS[name])
        elif name == "go":
            self._leave(self.home.key if self.home is not None else "")
        elif any(key.id == name for key in self._page.keys):
            self._leave(name)

    def _leave(self, name: str) -> None:
        if self._left or not name:
            return
        self._left = True
        if self._say is not None:
            self._say("")
        self.dismiss(Pressed(name, self.at))

    def on_resize(self) -> None:
        """The same in another size."""
        self.draw()

    def turn(self, step: int) -> None:
        """Another dog; the same once more where there is one."""
        if self._homes:
            self.at = (self.at + step) % len(self._homes)
            self.refusal = ""
            self._steps.close()
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
        chooses = self._steps.told
        self._bar.show((self._bar_text(home, width),))
        tall = height >= ROOMY_ROWS
        taps = self._taps(home)
        key_rows = min(rows_of(flow(taps, width=width, tall=tall)), max(1, height // 4))
        used = key_rows * (TALL if tall else 1)
        self._keys.show(fitting(taps, width=width, rows=key_rows, tall=tall), tall=tall, rows=used)
        self._sign.show(_sign_rows(home, width, height))
        if home is None:
            self._text.show(())
            self._lines.show(("", *_rows((*chooses, *empty_lines()), width)))
            return
        said = (self.refusal or home.todo, *chooses)
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
        """The keys of the page that fit the dog in sight."""
        taps = []
        for key in self._page.keys:
            if key.id in ("start", "carry_on"):
                if home is not None and home.key == key.id:
                    # Spoken and shown as the one big key.
                    taps.append(Tap(id="go", key=key.key, label=key.label, vital=True))
            elif key.label:
                taps.append(Tap(id=key.id, key=key.key, label=key.label, vital=key.vital))
        light = Tap(id="look", key="L", label=_("light"))
        if len(self._homes) > 1:
            next_dog = Tap(id="next_dog", key="N", label=_("next dog"), vital=True)
            taps.insert(1 if taps and taps[0].id == "go" else 0, next_dog)
        return (*taps[:-1], light, *taps[-1:])


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

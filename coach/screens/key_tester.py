"""What a pedal, page-turner, button or keyboard sends, shown as it arrives."""

import time
from collections.abc import Callable, Mapping

from textual import events
from textual.app import App, ComposeResult
from textual.widgets import Static

from coach.language import _
from coach.voice.key_input import Presses

LEAVE = frozenset({"ctrl+q", "ctrl+c"})
SHOWN_LINES = 12


def key_name(event: events.Key) -> str:
    """The key as the settings file names it: the character itself where there is one."""
    character = event.character
    if character is not None and character.isprintable() and character not in " ,":
        return character
    return event.key


class ArrivalsApp(App[str], inherit_bindings=False):
    """Shows every key; with ``wanted`` the first one ends it and is the result.

    Args:
        means: for each key the id of its action.
        wanted: the action that a key is looked for, or None.
        mono_ns: monotonic time, to tell presses from repeats.
    """

    ENABLE_COMMAND_PALETTE = False

    def __init__(
        self,
        means: Mapping[str, str],
        wanted: str | None = None,
        *,
        mono_ns: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        super().__init__()
        self._means = means
        self._wanted = wanted
        self._mono_ns = mono_ns
        self._presses: dict[str, Presses] = {}
        self.arrived: list[str] = []
        asks = _("Press any key or pedal. Ctrl+Q leaves.")
        if wanted:
            asks = _("Press the key or pedal for: {action}. Ctrl+Q leaves.").format(action=wanted)
        self._title = Static(f"{asks}\n", markup=False)
        self._list = Static(_("Nothing has arrived yet."), id="arrived", markup=False)

    def compose(self) -> ComposeResult:
        """A line that asks, and what arrived."""
        yield self._title
        yield self._list

    def on_key(self, event: events.Key) -> None:
        """Show it, or take it."""
        event.stop()
        if event.key in LEAVE:
            self.exit()
            return
        name = key_name(event)
        if self._wanted is not None:
            self.exit(name)
            return
        presses = self._presses.setdefault(name, Presses())
        now_ns = self._mono_ns()
        presses.due(now_ns)
        note = "" if presses.press(now_ns) != "same" else _("  (the same press: counts once)")
        means = self._means.get(name, self._means.get(event.key, _("nothing yet")))
        self.arrived.append(f"{name:<12} {means}{note}")
        self._list.update("\n".join(self.arrived[-SHOWN_LINES:]))

"""Keys, pedals, page-turners, big buttons and presenters: all of them send keys. Pure.

Which key does what, with the owner's own bindings over the usual ones; and which presses are one
press. Pedals bounce, and a key that is held down repeats; a terminal tells neither apart.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from coach.plan.parse import UNREADABLE
from coach.plan.problems import Report, meant, show

NS_PER_S = 1_000_000_000

# Twice within this is one press. Common practice, no source.
DOUBLE_NS = 3 * NS_PER_S // 10
# Where two presses in a row mean something of their own, only what comes this soon is a contact
# that bounces: switches bounce for some 10 ms, fingers tap twice in 100 to 300. From memory.
BOUNCE_NS = 8 * NS_PER_S // 100
# A key held down repeats for the first time after 0.25 s (Linux console) to 0.66 s (X.Org), and
# then 10.9 (console) to 30 times a second. Usual settings, from memory.
FIRST_REPEAT_NS = 7 * NS_PER_S // 10
REPEAT_NS = NS_PER_S // 10

Verdict = Literal["press", "same", "wait"]


@dataclass(slots=True)
class Presses:
    """Tells new presses of one key from bounces and repeats of the last.

    A press that comes when the first repeat of a held key might come waits :data:`REPEAT_NS` for
    the second repeat: if that comes, the key is held down, and if not, it was a press.

    Attributes:
        last_ns: when the key was last seen, or may have been; None for never.
    """

    last_ns: int | None = None
    _waits_ns: int | None = None
    _held: bool = False

    def press(self, now_ns: int, *, pairs: bool = False) -> Verdict:
        """What a key that arrives at ``now_ns`` is.

        After ``wait`` ask :meth:`due` when :data:`REPEAT_NS` have passed, and before the next
        press: what waits then becomes a press, or else counts as held down. ``pairs``: two quick
        presses are two presses.
        """
        since_ns = None if self.last_ns is None else now_ns - self.last_ns
        self.last_ns = now_ns
        if self._waits_ns is not None:
            # Came back before it was due: the key is held down.
            self._waits_ns = None
            self._held = True
            return "same"
        if since_ns is None or since_ns > FIRST_REPEAT_NS:
            self._held = False
            return "press"
        if since_ns <= (BOUNCE_NS if pairs and not self._held else DOUBLE_NS):
            return "same"
        self._held = False
        self._waits_ns = now_ns + REPEAT_NS
        return "wait"

    def due(self, now_ns: int) -> bool:
        """The press that waited was one after all. True once."""
        if self._waits_ns is None or now_ns < self._waits_ns:
            return False
        self._waits_ns = None
        return True


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyWishes:
    """What the ``[keys]`` table may say: for each action the keys that shall mean it as well.

    Attributes:
        usual: the keys of each action by its id, as the framework names them.
        fixed: keys that always mean what they usually mean, such as the one that stops.
        names: the names of the keys that are not a single character.
    """

    usual: Mapping[str, tuple[str, ...]]
    fixed: Collection[str]
    names: Collection[str]

    def of(self, table: Any, report: Report) -> dict[str, tuple[str, ...]]:
        """The bindings in ``table``; what is wrong goes to ``report`` and is left out."""
        if table is UNREADABLE:
            return {}
        if not isinstance(table, dict):
            report.add(("keys",), show(table), "a table [keys]")
            return {}
        bound: dict[str, str] = {}
        for action, keys in table.items():
            if action not in self.usual:
                allowed = ", ".join(self.usual)
                report.add(
                    ("keys", action), "an unknown action", allowed, meant(action, list(self.usual))
                )
                continue
            if keys is UNREADABLE:
                continue
            listed = [keys] if isinstance(keys, str) else keys
            if not isinstance(listed, list) or not all(isinstance(key, str) for key in listed):
                allowed = 'keys in quotes, such as ["f9", "b"]'
                report.add(("keys", action), show(keys), allowed)
                continue
            for key in listed:
                problem = self.problem(key, action, bound)
                if problem is None:
                    bound[key] = action
                else:
                    report.add(("keys", action), show(key), problem, self._hint(key))
        return {
            action: tuple(key for key, meaning in bound.items() if meaning == action)
            for action in dict.fromkeys(bound.values())
        }

    def problem(self, key: str, action: str, bound: Mapping[str, str]) -> str | None:
        """What may stand there, if ``key`` cannot mean ``action`` besides ``bound``."""
        if len(key) != 1 and key not in self.names:
            return "the name of a key as coach keys shows it"
        if not key.isprintable() or key in ", ":
            return "the name of a key as coach keys shows it"
        if key in self.fixed and key not in self.usual[action]:
            return "another key: this one always keeps its meaning"
        if bound.get(key, action) != action:
            return f"another key: this one means {bound[key]} already"
        return None

    def _hint(self, key: str) -> str:
        return "" if len(key) < 2 or key in self.names else meant(key, self.names)

    def keymap(self, wishes: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
        """All keys of each action. A wish takes its key from the action that usually has it; an
        action whose only key was a small letter moves to the capital, as the screen shows it."""
        taken = {key: action for action, keys in wishes.items() for key in keys}
        result = {}
        for action, usual in self.usual.items():
            kept = [key for key in usual if taken.get(key, action) == action]
            if not kept and not wishes.get(action):
                kept = [key.upper() for key in usual if len(key) == 1 and key.upper() not in taken]
            result[action] = tuple(dict.fromkeys([*kept, *wishes.get(action, ())]))
        return result

"""Which keys can be bound to which actions."""

from textual.keys import Keys

from coach.screens.actions import ACTIONS, REASONS
from coach.voice.key_input import KeyWishes

# Whatever is bound, these do what the screen says: the one key, stop, emergency, help, leave, and
# reasons.
FIXED = frozenset(
    {"space", "x", "e", "?", "escape", "ctrl+q", "ctrl+c", *(why.key for why in REASONS)}
)


def key_wishes() -> KeyWishes:
    """Every action of the screens, every key but the vital ones."""
    return KeyWishes(
        usual={action.id: action.keys for action in ACTIONS},
        fixed=FIXED,
        names={key.value for key in Keys if "<" not in key.value},
    )

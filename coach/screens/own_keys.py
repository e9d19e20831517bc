"""The owner's own keys: each is taken for the usual key of what it shall mean, on every screen.

A pedal that sends F9 and shall be the one key is the space bar wherever it is pressed, so that no
screen has to know of it. Pure.
"""

from collections.abc import Mapping

# What a letter answers on a screen that asks goes before what the owner bound it to.
ANSWERS = frozenset("ynj0123456789")


def translation(keymap: Mapping[str, str], usual: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    """For each of the owner's keys the usual one that it stands for.

    ``keymap`` has all keys of an action, with commas between them, by its id; ``usual`` those that
    it has without any wish.
    """
    return {
        key: usual[action][0]
        for action, keys in keymap.items()
        if action in usual
        for key in keys.split(",")
        if key not in usual[action]
    }

"""Who treats the dogs of this household: names that were said once. One small file.

``household.toml`` in the state folder: ``helpers``, in the order in which they were named.
Without the file nobody has been asked yet. What cannot be read is told and asked anew; it is
never worth a session.
"""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import tomli_w

from coach.journal.diary_entries import LONGEST_NAME
from coach.journal.disk import write_whole

MOST_HELPERS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Household:
    """``helpers`` by name; ``asked`` once somebody has been asked, whatever the answer was."""

    helpers: tuple[str, ...] = ()
    asked: bool = False
    problem: str = ""


def helper_name(text: str) -> str:
    """A name as it was typed. Raises ValueError with what is allowed."""
    name = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if not 1 <= len(name) <= LONGEST_NAME:
        raise ValueError(f"a name of 1 to {LONGEST_NAME} letters")
    return name


def read_household(path: Path) -> Household:
    """The household kept in ``path``."""
    try:
        listed = tomllib.loads(path.read_text(encoding="utf-8")).get("helpers", [])
        if not isinstance(listed, list) or len(listed) > MOST_HELPERS:
            raise ValueError(f"helpers: allowed: a list of at most {MOST_HELPERS} names")
        return Household(helpers=tuple(helper_name(str(name)) for name in listed), asked=True)
    except FileNotFoundError:
        return Household()
    except (OSError, ValueError) as error:
        return Household(problem=f"{path}: not used: {error}")


def write_household(path: Path, helpers: Sequence[str]) -> None:
    """Keep ``helpers``, whole or not at all. Raises OSError, ValueError (too many, a bad name)."""
    names: dict[str, str] = {}
    for name in helpers:
        names.setdefault(helper_name(name).casefold(), helper_name(name))
    if len(names) > MOST_HELPERS:
        raise ValueError(f"at most {MOST_HELPERS} names")
    write_whole(path, tomli_w.dumps({"helpers": list(names.values())}))

"""The unit files of ``systemd/`` as this user and this machine need them, marked as ours."""

import hashlib
import re
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Literal

MARK = "# Written by coach install; coach uninstall takes it away. SHA-256 of what follows: "
# What systemd.syntax(7) lets stand in a word without quotes, and without specifiers or variables.
PLAIN_WORD = re.compile(r"[A-Za-z0-9/._+:@=,-]+")

Scope = Literal["system", "user"]
Standing = Literal["absent", "same", "older", "changed", "foreign"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """What differs from machine to machine. Every value is one plain word (:class:`NotPlain`).

    Attributes:
        user: who sits by the dog bed; never root.
        uid: of that user.
        lang: the locale, such as ``en_GB.UTF-8``.
        coach: the ``coach`` command.
        cage: the compositor, or where it will be once it is there.
        state, cache, config: the three folders that the coach writes in.
        home: ``COACH_HOME`` where that is set, or None.
    """

    user: str
    uid: int
    lang: str
    coach: Path
    cage: Path
    state: Path
    cache: Path
    config: Path
    home: Path | None = None


class NotPlain(ValueError):  # noqa: N818  (said of a value, not of a failure)
    """A value that a unit file cannot hold."""


def templates(scope: Scope) -> list[Path]:
    """The unit files of the project for the system's or the user's service manager, by name."""
    packaged = Path(str(files("coach"))) / "_systemd"
    folder = packaged if packaged.is_dir() else Path(__file__).parents[2] / "systemd"
    return sorted((folder / scope).iterdir())


def rendered(template: str, place: Place) -> str:
    """The text of a unit file with its mark. Raises NotPlain, naming every such value."""
    values = {
        "USER": place.user,
        "UID": str(place.uid),
        "LANG": place.lang,
        "COACH": str(place.coach),
        "CAGE": str(place.cage),
        "STATE": str(place.state),
        "CACHE": str(place.cache),
        "CONFIG": str(place.config),
    }
    if place.home is not None:
        values["HOME"] = str(place.home)
    bad = [
        f"{name.lower()}: found {value!r}; allowed: letters, digits and . / _ + : @ = , -"
        for name, value in values.items()
        if not PLAIN_WORD.fullmatch(value)
    ]
    if place.uid == 0 or place.user == "root":
        bad.append(f"user: found {place.user!r}; allowed: an ordinary user, nothing runs as root")
    if bad:
        raise NotPlain("\n".join(bad))
    body = re.sub("@([A-Z]+)@", lambda found: values[found[1]], template)
    if place.home is not None:
        body = body.replace("\nEnvironment=", f"\nEnvironment=COACH_HOME={place.home} ")
    return f"{MARK}{hashlib.sha256(body.encode()).hexdigest()}\n{body}"


def standing(found: str | None, wanted: str | None) -> Standing:
    """How a file ``found`` on disk stands to what is ``wanted``; None for there is none.

    ``older``: ours as we wrote it, but not what is wanted now. ``changed``: ours, and somebody
    has edited it since. ``foreign``: not written by us.
    """
    if found is None:
        return "absent"
    first, _, body = found.partition("\n")
    if not first.startswith(MARK):
        return "foreign"
    if first.removeprefix(MARK) != hashlib.sha256(body.encode()).hexdigest():
        return "changed"
    return "same" if found == wanted else "older"

"""The languages besides English: one catalogue each in ``messages/``, loaded when it is asked for.

Which language: what the command line says, else ``COACH_LANGUAGE``, else ``language`` of the
settings file, else English.
"""

import gettext
import io
import tomllib
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path

from coach.language import ENGLISH, use

VARIABLE = "COACH_LANGUAGE"


def languages() -> tuple[str, ...]:
    """The codes of all languages, English first."""
    folder = files("coach") / "messages"
    found = (Path(entry.name) for entry in folder.iterdir())
    return (ENGLISH, *sorted(path.stem for path in found if path.suffix == ".po"))


def speak(code: str) -> None:
    """Use the language ``code``. Raises ValueError for one that is not there."""
    if code == ENGLISH:
        use(ENGLISH)
        return
    if code not in languages():
        raise ValueError(f"found {code!r}; allowed: {', '.join(languages())}")
    # Loaded only here: English costs nothing.
    import polib

    text = (files("coach") / "messages" / f"{code}.po").read_text(encoding="utf-8")
    use(code, gettext.GNUTranslations(io.BytesIO(polib.pofile(text).to_binary())))


def wished(asked: str | None, environment: Mapping[str, str], settings: Path) -> tuple[str, str]:
    """The language that is wished, and who wishes it (for a message).

    A settings file that cannot be read wishes nothing; whoever needs the settings tells what is
    wrong with it.
    """
    if asked is not None:
        return asked, "--language"
    if environment.get(VARIABLE):
        return environment[VARIABLE], VARIABLE
    try:
        found = tomllib.loads(settings.read_text(encoding="utf-8-sig")).get("language")
    except (OSError, ValueError):
        found = None
    return (found if isinstance(found, str) else ENGLISH), str(settings)

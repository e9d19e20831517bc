"""The language in which the coach speaks to the owner.

Every text that an owner reads or hears is written in English where it is used, and goes through
one of three words of the gettext kind:

* ``_("Pause")`` at the moment of use: the text in the language in use;
* ``ngettext("{n} spot", "{n} spots", n).format(n=n)`` where a number decides about the form;
* ``N_("Pause")`` only marks a constant of a module; it goes through ``_`` when it is shown.

Numbers with a decimal point go through ``number``.

A message is a whole sentence with named placeholders, filled in after it went through ``_``. What
only a vet or an engineer reads stays as it is. Nothing is read or opened here: another language
is loaded at an edge (``coach.translations``) and handed to ``use``.
"""

from decimal import Decimal
from typing import Protocol


class Translations(Protocol):
    """What is asked of a catalogue; ``gettext.NullTranslations`` and its kin have it."""

    def gettext(self, message: str, /) -> str:
        """The text for ``message``; ``message`` itself if there is none."""

    def ngettext(self, one: str, many: str, n: int, /) -> str:
        """The form for ``n``; the English one if there is none."""


class English:
    """The language in which the texts are written."""

    def gettext(self, message: str, /) -> str:
        return message

    def ngettext(self, one: str, many: str, n: int, /) -> str:
        return one if n == 1 else many


ENGLISH = "en"
# Unicode CLDR, common/main/de.xml: the decimal sign of German is the comma.
DECIMAL_SIGNS = {"de": ","}

_code = ENGLISH
_texts: Translations = English()


def use(code: str, texts: Translations | None = None) -> None:
    """Speak language ``code`` (such as "de") from now on; ``texts`` may be left out for English.

    Raises ValueError for another language without texts.
    """
    global _code, _texts
    if texts is None and code != ENGLISH:
        raise ValueError(f"no texts for the language {code!r}")
    _code, _texts = code, texts or English()


def language() -> str:
    """The code of the language in use: "en", or another from ISO 639-1."""
    return _code


def _(message: str) -> str:
    """``message`` in the language in use."""
    # An empty message is the key of a catalogue's header, which nobody should see.
    return _texts.gettext(message) if message else ""


def ngettext(one: str, many: str, n: int) -> str:
    """``one`` or ``many`` in the language in use, in the form that goes with ``n``."""
    return _texts.ngettext(one, many, n)


def number(value: Decimal | int) -> str:
    """``value`` as it stands, with the decimal sign of the language in use: ``26.0``, ``26,0``."""
    return str(value).replace(".", DECIMAL_SIGNS.get(_code, "."))


def thousands_sign() -> str:
    """The sign between thousands in the language in use: "," in English, "." in German."""
    return "," if DECIMAL_SIGNS.get(_code, ".") == "." else "."


def N_(message: str) -> str:  # noqa: N802 (the customary name, which extracting tools look for)
    """``message`` itself, marked as one that is shown through ``_`` later."""
    return message

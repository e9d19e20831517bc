"""The three words that every text for an owner goes through."""

import gettext

import pytest

from coach import language
from coach.language import N_, _, ngettext


class Shouting(gettext.NullTranslations):
    def gettext(self, message: str) -> str:
        return message.upper()

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return (msgid1 if n < 2 else msgid2).upper()


def test_texts_come_as_they_are_written_unless_another_language_is_in_use() -> None:
    language.use("en")
    assert _("Pause") == "Pause"
    assert [ngettext("{n} spot", "{n} spots", n).format(n=n) for n in (0, 1, 2)] == [
        "0 spots",
        "1 spot",
        "2 spots",
    ]
    assert language.language() == "en"


def test_a_marked_text_is_translated_when_it_is_shown_and_not_before() -> None:
    marked = N_("Pause")
    language.use("xx", Shouting())
    assert (marked, _(marked)) == ("Pause", "PAUSE")
    assert ngettext("spot", "spots", 0) == "SPOT"
    assert language.language() == "xx"
    language.use("en")
    assert _(marked) == "Pause"


def test_an_empty_text_stays_empty() -> None:
    """Its translation in a catalogue is the catalogue's header (GNU gettext manual, 6.2)."""
    language.use("xx", Shouting())
    assert _("") == ""


def test_another_language_needs_texts() -> None:
    with pytest.raises(ValueError, match="'xx'"):
        language.use("xx")
    assert language.language() == "en"

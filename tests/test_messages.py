"""The catalogues hold what the code says, and what they say fits where it is put."""

import re
import string
from pathlib import Path

import polib
import pytest

from coach import language, translations
from coach.body import region, regions, told
from coach.language import _, ngettext
from coach.lines import line_mode
from tests import messages
from tests.messages import Message, NotLiteralError, in_code

OTHERS = translations.languages()[1:]


def placeholders(text: str) -> set[str]:
    return {name for _text, name, _spec, _how in string.Formatter().parse(text) if name is not None}


def pairs(entry: polib.POEntry) -> list[tuple[str, str]]:
    """Every translation with the English that it stands for."""
    if not entry.msgid_plural:
        return [(entry.msgid, entry.msgstr)]
    return [
        (entry.msgid if n == 0 else entry.msgid_plural, s) for n, s in entry.msgstr_plural.items()
    ]


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_fills_in_the_same_values_as_the_english(code: str) -> None:
    odd = []
    for entry in messages.catalogue(code):
        for english, text in pairs(entry):
            missing = placeholders(english) ^ placeholders(text)
            # "one second" needs no number (GNU gettext manual, 11.2.6).
            if text and entry.msgid_plural and english == entry.msgid:
                missing -= placeholders(english)
            if text and missing:
                odd.append((english, text, missing))
    assert odd == []


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_begins_and_ends_like_the_english(code: str) -> None:
    """Blanks and line ends hold the screen together; a sentence stays a sentence."""
    odd = [
        (english, text)
        for entry in messages.catalogue(code)
        for english, text in pairs(entry)
        if text
        and (
            re.match(r"\s*", english)[0] != re.match(r"\s*", text)[0]  # type: ignore[index]
            or re.search(r"\s*$", english)[0] != re.search(r"\s*$", text)[0]  # type: ignore[index]
            or english.count("\n") != text.count("\n")
            or (english.rstrip()[-1] == "?") != (text.rstrip()[-1] == "?")
        )
    ]
    assert odd == []


@pytest.mark.parametrize("code", OTHERS)
def test_letters_that_are_drawn_large_are_there(code: str) -> None:
    language_blocks = {}
    translations.speak(code)
    for key in regions():
        language_blocks[key] = told(key).block
    bad = {
        key: text
        for key, text in language_blocks.items()
        if not re.fullmatch("[A-Z][A-Z ]{0,9}", text)
    }
    assert bad == {}
    assert len(set(language_blocks.values())) == len(language_blocks)
    for text in (
        "left",
        "middle",
        "right",
        "GET READY",
        "MOVE",
        "HOLD",
        "PAUSED",
        "ALL DONE",
        "STOPPED",
    ):
        assert re.fullmatch("[A-Z ]+", _(text).upper()), text


@pytest.mark.parametrize("code", OTHERS)
def test_words_of_the_home_screen_can_be_drawn_large(code: str) -> None:
    signs = [
        (entry.msgid, entry.msgstr)
        for entry in messages.catalogue(code)
        if ("bedside/home_status.py", "") in entry.occurrences and entry.msgid.isupper()
    ]
    assert len(signs) > 5
    assert [sign for sign in signs if not re.fullmatch("[A-Z ]{1,11}", sign[1])] == []


@pytest.mark.parametrize("code", OTHERS)
def test_every_text_is_said_and_none_that_is_gone(code: str) -> None:
    """Mend it with: python -m tests.messages, then write what it names into the catalogue."""
    fresh = messages.brought_up(code)
    assert messages.untranslated(fresh) == []
    kept = {(entry.msgid, entry.msgid_plural) for entry in messages.catalogue(code)}
    assert kept == {(entry.msgid, entry.msgid_plural) for entry in fresh}


@pytest.mark.parametrize("code", translations.languages())
def test_no_two_typed_words_are_the_same(code: str) -> None:
    translations.speak(code)
    typed = [_(word).lower() for word in line_mode.WORDS]
    assert len(set(typed)) == len(typed)
    for word, command in line_mode.WORDS.items():
        assert line_mode.command_of(word) == command
        assert line_mode.command_of(_(word).lower()) == command


@pytest.mark.parametrize("code", OTHERS)
def test_a_region_is_spoken_in_few_words_and_keeps_its_facts(code: str) -> None:
    translations.speak(code)
    for key in regions():
        place, english = told(key), region(key)
        assert len(place.spoken.split()) <= 4
        assert len(place.cautions) == len(english.cautions)
        assert (place.key, place.sides, place.aspects) == (key, english.sides, english.aspects)


def test_texts_are_found_where_they_are_marked() -> None:
    source = """
A = N_("Pause")
def f(n):
    print(_("a {b} " "c").format(b=1), ngettext("{n} spot", "{n} spots", n), _(A))
"""
    assert sorted(in_code(source, file="x.py"), key=str) == [
        Message("Pause", "", "x.py"),
        Message("a {b} c", "", "x.py"),
        Message("{n} spot", "{n} spots", "x.py"),
    ]


@pytest.mark.parametrize(
    "source", ['_(f"{n} spots")', '_("a" + b)', "N_(text)", "ngettext(a, b, n)"]
)
def test_a_text_that_is_put_together_first_is_refused(source: str) -> None:
    with pytest.raises(NotLiteralError, match=r"x\.py, line 1"):
        list(in_code(source, file="x.py"))


def test_every_text_is_a_literal() -> None:
    assert len(messages.every_message()) > 100


def test_plurals_follow_the_rule_of_the_language() -> None:
    """German, as English: one, and everything else (Unicode CLDR, plural rules of de)."""
    translations.speak("de")
    assert [
        ngettext("{count} spot", "{count} spots", n).format(count=n) for n in (0, 1, 2, 11)
    ] == ["0 Punkte", "1 Punkt", "2 Punkte", "11 Punkte"]


@pytest.mark.parametrize(
    ("asked", "environment", "settings", "wished"),
    [
        (None, {}, None, "en"),
        (None, {}, 'language = "de"\n', "de"),
        (None, {"COACH_LANGUAGE": "en"}, 'language = "de"\n', "en"),
        ("de", {"COACH_LANGUAGE": "en"}, 'language = "en"\n', "de"),
        (None, {}, "language = 3\n", "en"),
        (None, {}, "language = [\n", "en"),
    ],
)
def test_who_decides_about_the_language(
    tmp_path: Path,
    asked: str | None,
    environment: dict[str, str],
    settings: str | None,
    wished: str,
) -> None:
    file = tmp_path / "settings.toml"
    if settings is not None:
        file.write_text(settings)
    assert translations.wished(asked, environment, file)[0] == wished


def test_a_language_that_is_not_there_is_refused_and_none_is_changed() -> None:
    with pytest.raises(ValueError, match=r"'xx'; allowed: en, de"):
        translations.speak("xx")
    assert language.language() == "en"

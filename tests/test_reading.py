"""What an owner reads is plain: at most grade 6, by a published formula, in both languages.

The formulas were made for samples of about a hundred words (Flesch 1948), and say little of a
line. So texts are taken together as the owner meets them: each file of the program by itself when
it has so many words, the small ones of a room together. Cues and the labels on keys, of fewer than
four words, are no sentences and are left out; their length is tested with the cues. What is filled
in while the program runs stands for itself: numbers are not counted, all else is a two-syllable
word.
"""

import re
from collections import defaultdict
from collections.abc import Mapping

import pytest

from coach import translations
from tests import messages, reading
from tests.messages import REGION_FILE

MOST = 6.0
SAMPLE_WORDS = 100
LABEL_WORDS = 3
# One long line by itself: a little more, because the formula jumps there.
LONG_WORDS, MOST_OF_A_LINE = 10, 8.0
COUNTED = re.compile(r"\{[^}]*\}")
FILLED = {"en": "puppy", "de": "Welpe"}
# Terms of the trade stand beside the owner's words, for the vet who looks over a shoulder.
TRADE = re.compile(r"[CLST]\d|joint$|gelenk$|carpus|Karpus|tarsus|Tarsus")


def owner_texts(code: str) -> dict[str, list[str]]:
    """Every text with its words filled in, by the file in which it stands."""
    found = defaultdict(list)
    for entry in messages.catalogue(code if code != "en" else "de"):
        texts = [entry.msgid, entry.msgid_plural]
        if code != "en":
            texts = [entry.msgstr, *entry.msgstr_plural.values()]
        for text in filter(None, texts):
            whole = COUNTED.sub(FILLED[code], text)
            if len(reading.words(whole)) > LABEL_WORDS and not TRADE.search(whole):
                found[entry.occurrences[0][0]].append(whole)
    return found


def samples(code: str) -> Mapping[str, str]:
    """The texts that are read together."""
    together: dict[str, list[str]] = defaultdict(list)
    for file, texts in owner_texts(code).items():
        enough = sum(len(reading.words(text)) for text in texts) >= SAMPLE_WORDS
        together[file if enough else file.rpartition("/")[0] or "coach"] += texts
    return {name: "\n".join(texts) for name, texts in together.items()}


@pytest.mark.parametrize("code", translations.languages())
def test_texts_are_at_most_grade_six(code: str) -> None:
    grades = {name: reading.grade(text, code) for name, text in samples(code).items()}
    assert len(grades) > 8
    assert {name: grade for name, grade in grades.items() if grade > MOST} == {}


def test_no_long_line_is_much_harder() -> None:
    hard = [
        (round(reading.grade(text, "en"), 1), text)
        for texts in owner_texts("en").values()
        for text in texts
        if len(reading.words(text)) >= LONG_WORDS and reading.grade(text, "en") > MOST_OF_A_LINE
    ]
    assert hard == []


def test_the_page_of_each_region_is_at_most_grade_six() -> None:
    from coach.body import regions

    for key, place in regions().items():
        page = "\n".join((place.feel, place.hold, *place.cautions))
        assert reading.grade(page, "en") <= MOST, key
    assert REGION_FILE in owner_texts("en")


@pytest.mark.parametrize(
    ("text", "grade"),
    [
        # The two worked examples of the encyclopedia's article on the formula, from memory.
        ("The cat sat on the mat.", -1.45),
        (
            "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.",
            11.3,
        ),
    ],
)
def test_the_grade_is_that_of_worked_examples(text: str, grade: float) -> None:
    assert reading.grade(text, "en") == pytest.approx(grade, abs=0.05)


def test_longer_words_and_longer_sentences_are_harder_in_german() -> None:
    easy = "Der Hund liegt da. Er ruht."
    assert reading.grade(easy, "de") < reading.grade("Der Hund liegt da und er ruht.", "de")
    assert reading.grade(easy, "de") < reading.grade("Der Schäferhund entspannt. Er ruht.", "de")
    assert [reading.syllables(word, "de") for word in ("Hund", "Punkte", "Laserkopf")] == [1, 2, 3]


def test_hard_english_would_be_found() -> None:
    hard = "Contraindications necessitate immediate discontinuation of photobiomodulation."
    assert reading.grade(hard, "en") > MOST

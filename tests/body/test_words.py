"""Words of the trade for the regions. The synonyms are common practice, no source."""

import pytest

from coach.body import regions
from coach.body.words import region_for, synonyms


@pytest.mark.parametrize(
    ("word", "key"),
    [
        # The examples of the issue, and what the German trade says; common practice, no source.
        ("coxofemoral", "hip"),
        ("L7-S1", "lumbosacral"),
        ("l7\u2013s1", "lumbosacral"),
        ("knee", "stifle"),
        ("Wrist", "carpus"),
        ("Hüfte", "hip"),
        ("HÜFTGELENK", "hip"),
        ("LWS", "lumbar"),
        ("Sprunggelenk", "hock"),
        ("neck_upper", "neck_upper"),
        ("  lower   back ", "lumbar"),
    ],
)
def test_a_word_of_the_trade(word: str, key: str) -> None:
    assert region_for(word) == key


def test_everything_that_the_program_prints_for_a_region_means_it() -> None:
    for key, place in regions().items():
        for word in (key, place.term, place.owner_words):
            assert region_for(word) == key, word


def test_there_are_sixty_words_and_none_means_two_regions() -> None:
    words = [(word.casefold(), key) for key, here in synonyms().items() for word in here]
    assert len(words) >= 60
    assert set(synonyms()) == set(regions())
    assert len({word for word, _ in words}) == len(words)
    # None of them hides a word that the program prints for another region.
    assert all(region_for(word) == key for word, key in words)


@pytest.mark.parametrize("word", ["", "liver", "leg", "left hip"])
def test_what_is_no_region(word: str) -> None:
    assert region_for(word) is None

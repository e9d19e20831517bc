"""Some words get sounds of their own; nothing else of a text is touched."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.voice.pronounce import SOUNDS, pronounced

AMERICAN = "gmw/en-US+m3"


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("Next, spot two.", "Next, [[{spot}]] two."),
        ("Spot nine.", "[[{spot}]] nine."),
        ("40 seconds left.", "[[{forty}]] seconds left."),
        ("49 seconds left.", "[[{forty}]] nine seconds left."),
        # What espeak-ng says well is left to it.
        ("27 seconds left.", "27 seconds left."),
        ("Wait until 19:45, or 2026-11-29.", "Wait until 19:45, or 2026-11-29."),
        ("4.29 J, 149 s, 40%", "4.29 J, 149 s, 40%"),
        ("Begin with the dog's left side up.", "Begin with the dog's left side up."),
        ("Spotless, nineteen, forty-one.", "Spotless, nineteen, [[{forty}]]-one."),
        ("Bella [[f'u:]] is here.", "Bella ((f'u:]] is here."),
    ],
)
def test_words_that_were_misheard_have_sounds(text: str, read: str) -> None:
    assert pronounced(text, AMERICAN) == _filled(read)
    assert pronounced(text, "gmw/en") == text.replace("[", "(")


def _filled(read: str) -> str:
    return re.sub(r"\[\[\{(\w+)\}\]\]", lambda found: f"[[{SOUNDS[found[1]]}]]", read)


@given(st.text(alphabet="[]49 spotnie'", max_size=30))
def test_what_a_person_wrote_is_never_taken_for_sounds(text: str) -> None:
    told = re.findall(r"\[+(.*?)\]\]", pronounced(text, AMERICAN))
    assert all(sounds in SOUNDS.values() for sounds in told)
    assert "[[[" not in pronounced(text, AMERICAN)

"""What is said of a place, a side, a number and a time, and when in a hold.

The words are the house's: at most eight a cue, "spot" and never "site" (after Holland & Fletcher
2000); left lateral recumbency is left side DOWN (trade term).
"""

from dataclasses import replace

import pytest

from coach.body.position import Position
from coach.body.regions import Side
from coach.plan.spots import Spot
from coach.session.cues import (
    FINISHED,
    HALFWAY,
    HOLD,
    HOLD_BUTTON,
    LOG_LOST,
    NO_ANSWER,
    Cue,
    Priority,
    calm_texts,
    every_text,
    face_word,
    hold_cues,
    left_text,
    near_text,
    next_text,
    number_word,
    place_text,
    sentence,
    tone_cue,
)
from coach.units import NS_PER_S

S = NS_PER_S
BACK = Spot(
    index=0,
    region="lumbar",
    side="left",
    aspect=None,
    number=2,
    of=3,
    hold_ns=30 * S,
    move_ns=8 * S,
)
KNEE = replace(BACK, region="stifle", side="right", aspect="medial")


@pytest.mark.parametrize(
    ("spot", "text"),
    [
        (BACK, "Lower back, left, spot two."),
        (replace(BACK, number=1, of=1), "Lower back, left."),
        (replace(BACK, side="middle"), "Lower back, middle, spot two."),
        (KNEE, "Right knee, inside, spot two."),
        (replace(KNEE, number=1, of=1, aspect="lateral"), "Right knee, outside."),
        (replace(KNEE, aspect=None), "Right knee, spot two."),
        (replace(KNEE, aspect=None, number=1, of=1), "Right knee."),
        (replace(KNEE, aspect="of another kind"), "Right knee, of another kind, spot two."),
    ],
)
def test_a_place_is_said_with_side_face_and_number(spot: Spot, text: str) -> None:
    assert place_text(spot) == text
    assert next_text(None, spot) == text


@pytest.mark.parametrize(
    ("before", "text"),
    [
        (replace(BACK, number=1), "Next, spot two."),
        (BACK, "Lower back, left, spot two."),
        (replace(BACK, number=1, side="right"), "Lower back, left, spot two."),
        (replace(BACK, number=1, region="stifle"), "Lower back, left, spot two."),
        (replace(BACK, number=1, aspect="lateral"), "Lower back, left, spot two."),
    ],
)
def test_only_the_number_is_said_where_only_the_number_changes(before: Spot, text: str) -> None:
    assert next_text(before, BACK) == text


@pytest.mark.parametrize(
    ("aspect", "word"),
    [
        ("lateral", "outside"),
        ("medial", "inside"),
        ("cranial", "front"),
        ("dorsal", "front"),
        ("caudal", "back face"),
        ("palmar", "underside"),
        ("plantar", "underside"),
    ],
)
def test_the_faces_of_a_joint_in_the_words_of_an_owner(aspect: str, word: str) -> None:
    # Directional terms of veterinary anatomy (Nomina Anatomica Veterinaria).
    assert face_word(aspect) == word


@pytest.mark.parametrize(
    ("position", "side", "owner_sits", "text"),
    [
        ("sternal", "left", "left", "The side nearest you."),
        ("sternal", "right", "left", "The far side."),
        ("standing", "right", "right", "The side nearest you."),
        # Left lateral is left side down: the right one is on top, wherever the owner sits.
        ("left lateral", "right", "left", "The side nearest you, on top."),
        ("left lateral", "left", "left", "The far side, underneath."),
        ("right lateral", "left", "right", "The side nearest you, on top."),
        ("right lateral", "right", "right", "The far side, underneath."),
        ("sternal", "middle", "left", ""),
        ("sternal", "left", None, ""),
        (None, "left", "left", ""),
    ],
)
def test_which_side_is_near(
    position: Position | None, side: Side, owner_sits: Side | None, text: str
) -> None:
    assert near_text(replace(BACK, position=position, side=side), owner_sits) == text


@pytest.mark.parametrize(
    ("left_ns", "text"),
    [
        (12 * S, "Twelve seconds left."),
        (11 * S + 1, "Twelve seconds left."),
        (1 * S, "One second left."),
        (20 * S, "Twenty seconds left."),
        (21 * S, "21 seconds left."),
        (0, "Zero seconds left."),
    ],
)
def test_what_is_left_is_said_in_begun_seconds(left_ns: int, text: str) -> None:
    assert left_text(left_ns) == text


def test_small_numbers_are_words() -> None:
    assert [number_word(n) for n in (0, 7, 20, 21)] == ["zero", "seven", "twenty", "21"]
    assert sentence("spot two") == "Spot two"


@pytest.mark.parametrize(
    ("left_s", "said"),
    [
        (7, []),
        (8, [(5, "Three."), (6, "Two."), (7, "One.")]),
        (10, [(7, "Three."), (8, "Two."), (9, "One.")]),
        (11, [(5.5, "Halfway."), (8, "Three."), (9, "Two."), (10, "One.")]),
        (60, [(30, "Halfway."), (57, "Three."), (58, "Two."), (59, "One.")]),
    ],
)
def test_a_hold_says_halfway_and_the_last_three_seconds_and_ends_with_a_tone(
    left_s: int, said: list[tuple[float, str]]
) -> None:
    begins_ns = 100 * S
    *words, tone = hold_cues(BACK, begins_ns, begins_ns + left_s * S)
    assert [((cue.at_ns - begins_ns) / S, cue.text) for cue in words] == said
    assert all(cue.tone is None for cue in words)
    assert (tone.tone, tone.text, tone.at_ns) == ("end", "", begins_ns + left_s * S)
    for cue in words:
        # A count that comes late would be the wrong number: it gives way to all else.
        count = cue.text != HALFWAY
        assert cue.priority == (Priority.COUNT if count else Priority.ROUTINE)
        assert cue.until_ns - cue.at_ns == (S // 2 if count else 2 * S)


def test_a_cue_has_words_or_a_tone_and_a_time_to_say_it() -> None:
    cue = tone_cue("pause", 5, "Paused.", Priority.URGENT)
    assert cue == Cue(
        text="Paused.", at_ns=5, until_ns=5 + S, tone="pause", priority=Priority.URGENT
    )
    assert tone_cue("end", 5).priority is Priority.ROUTINE
    with pytest.raises(ValueError, match="ends before it begins"):
        Cue(text="Hold.", at_ns=5, until_ns=4)
    with pytest.raises(ValueError, match="needs words or a tone"):
        Cue(text="", at_ns=5, until_ns=6)
    assert Cue(text="Hold.", at_ns=5, until_ns=5).until_ns == 5


def test_only_what_is_said_about_the_calm_opening_alone_is_calm() -> None:
    settling = replace(BACK, region="thoracic", settle=True)
    both = replace(BACK, settle=True)
    assert calm_texts([settling, both, BACK]) == {place_text(settling)}


@pytest.mark.parametrize("laser_button", [True, False])
def test_everything_that_a_session_says_is_rendered_ahead_once(laser_button: bool) -> None:
    first = replace(BACK, number=1, position="left lateral")
    second = replace(BACK, index=1, position="left lateral", hold_ns=31 * S - S // 2)
    ahead = every_text([first, second], laser_button=laser_button, owner_sits="left")
    assert len(set(ahead)) == len(ahead)
    assert {
        "Lower back, left, spot one.",
        "Lower back, left, spot two.",
        "Next, spot two.",
        "Begin with the dog's right side up.",
        "Turn the dog: right side up.",
        "The far side, underneath.",
        "Halfway.",
        "Three.",
        "Two.",
        "One.",
        "One second left.",
        "31 seconds left.",
        "This spot is done.",
        "Press when ready.",
        "Skipped.",
        "Once more, from the beginning.",
        "Going back.",
        "Stopped. Switch the laser off.",
        "Paused. Lift the laser off.",
        NO_ANSWER,
        LOG_LOST,
        FINISHED,
        HOLD_BUTTON if laser_button else HOLD,
    } <= set(ahead)
    assert "32 seconds left." not in ahead
    assert (HOLD_BUTTON in ahead) is laser_button
    assert (HOLD in ahead) is not laser_button
    # Without a position nothing is said of a side that is near.
    plain = every_text([BACK], laser_button=laser_button, owner_sits="left")
    assert not any("side" in text for text in plain)

"""A whole session in German, line by line, and what must be right in every language.

The German words for left, middle and right are everyday German, from memory; the numbers are
those of ``num2words``, which the coach never imports.
"""

import io
import re
from pathlib import Path

import pytest
from num2words import num2words

from coach import translations
from coach.body import regions
from coach.body.position import Position
from coach.body.regions import SIDES, Side
from coach.journal.journal import read_journal
from coach.lines.line_mode import PlainCoach
from coach.plan.spots import Spot
from coach.session.cues import (
    count_text,
    every_text,
    left_text,
    near_text,
    number_word,
    place_text,
)
from coach.session.machine import Phase
from coach.units import NS_PER_S
from tests import messages
from tests.e2e.virtual import FakeTime, Script, runner_for, wall
from tests.expected_texts import compare

PLANS = Path(__file__).parents[2] / "plans"
EXPECTED = Path(__file__).parent / "expected" / "plain-de-troubles.txt"
SIDES_SAID = {
    "en": {"left": "left", "middle": "middle", "right": "right"},
    "de": {"left": "links", "middle": "Mitte", "right": "rechts"},
}
LONGEST_WORDS = 8

TROUBLES = [
    (0, ""),
    (10, "bewegt"),
    (30, ""),
    (33, "los"),
    (40, "sag"),
    (70, "auslassen"),
    (80, "go"),
    (85, "nochmal"),
    (90, "nochmal"),
    (91, "zurück"),
    (92, "frobnicate"),
    (95, "hilfe"),
    (100, "LOS"),
    (105, "stopp"),
]


def spot(region: str, side: Side, aspect: str | None, number: int, of: int) -> Spot:
    return Spot(
        index=0,
        region=region,
        side=side,
        aspect=aspect,
        number=number,
        of=of,
        hold_ns=30 * NS_PER_S,
        move_ns=0,
    )


def test_a_whole_session_in_german_reads_as_expected(tmp_path: Path) -> None:
    """Read line by line when it was written."""
    translations.speak("de")
    time = FakeTime()
    runner = runner_for(PLANS / "demo-long-back.toml", tmp_path, time)
    out = io.StringIO()
    PlainCoach(runner, Script(time, list(TROUBLES)), out, wall=wall).run()
    runner.close()
    compare(EXPECTED, out.getvalue())
    # The record is the same in every language.
    kinds = [line["kind"] for line in read_journal(runner.path).lines]
    assert kinds.count("spot_skipped") == 1
    assert kinds.count("spot_again") == 1
    assert kinds.count("went_back") == 1
    assert runner.machine.phase is Phase.STOPPED


def test_each_move_of_a_german_session_names_the_side_of_the_plan(tmp_path: Path) -> None:
    translations.speak("de")
    time = FakeTime()
    runner = runner_for(PLANS / "demo-long-back.toml", tmp_path, time)
    out = io.StringIO()
    PlainCoach(runner, Script(time, [(0, "")]), out).run()
    runner.close()
    assert runner.machine.phase is Phase.FINISHED
    moves = re.findall(
        r"WECHSEL zu Punkt (\d+) von 21: [^(]*\b(links|Mitte|rechts)\b", out.getvalue()
    )
    assert moves == [
        (str(spot.index + 1), SIDES_SAID["de"][spot.side]) for spot in runner.machine.spots
    ]


@pytest.mark.parametrize("code", SIDES_SAID)
def test_every_place_is_told_with_its_own_side_and_no_other(code: str) -> None:
    translations.speak(code)
    words = SIDES_SAID[code]
    for key, place in regions().items():
        for side in place.sides:
            for aspect in place.aspects or (None,):
                for number, of in ((1, 1), (2, 3)):
                    text = place_text(spot(key, side, aspect, number, of))
                    said = [
                        other for other in SIDES if re.search(rf"\b{words[other]}\b", text, re.I)
                    ]
                    assert said == [side], text
                    assert number_word(2) in text or of == 1
                    assert text[0].isupper()
                    assert text.endswith(".")


@pytest.mark.parametrize("code", SIDES_SAID)
def test_the_side_on_top_is_told_by_the_dogs_own_side(code: str) -> None:
    """Left lateral recumbency is left side down, so the right side is up (tests/body)."""
    translations.speak(code)
    up: dict[Position, tuple[Side, Side]] = {
        "left lateral": ("right", "left"),
        "right lateral": ("left", "right"),
    }
    stems = {"en": {"left": "left", "right": "right"}, "de": {"left": "linke", "right": "rechte"}}[
        code
    ]
    for position, (on_top, below) in up.items():
        lying = Spot(
            index=0,
            region="hip",
            side=on_top,
            aspect="lateral",
            number=1,
            of=1,
            hold_ns=NS_PER_S,
            move_ns=0,
            position=position,
        )
        turns = [text for text in every_text([lying], laser_button=False) if stems[on_top] in text]
        assert len(turns) >= 2
        assert not [text for text in turns if re.search(rf"\b{stems[below]}\b", text)]
        assert near_text(lying, "left") != ""


@pytest.mark.parametrize("code", SIDES_SAID)
def test_numbers_are_said_as_the_language_counts(code: str) -> None:
    translations.speak(code)
    assert [number_word(n) for n in range(21)] == [num2words(n, lang=code) for n in range(21)]
    assert [count_text(n).rstrip(".").lower() for n in (3, 2, 1)] == [
        num2words(n, lang=code) for n in (3, 2, 1)
    ]
    for n in range(2, 21):
        assert num2words(n, lang=code) in left_text(n * NS_PER_S).lower()
    one = {"en": "One second left.", "de": "Noch eine Sekunde."}
    assert left_text(NS_PER_S) == one[code]
    assert "47" in left_text(47 * NS_PER_S)


@pytest.mark.parametrize("code", translations.languages()[1:])
def test_reminders_and_signs_are_no_longer_than_eight_words_or_the_english(code: str) -> None:
    spoken = {("session/levels.py", ""), ("session/signals.py", "")}
    entries = [e for e in messages.catalogue(code) if spoken & set(e.occurrences)]
    assert len(entries) > 20
    assert [
        entry.msgstr
        for entry in entries
        if len(entry.msgstr.split()) > max(LONGEST_WORDS, len(entry.msgid.split()))
    ] == []


@pytest.mark.parametrize("code", translations.languages())
@pytest.mark.parametrize("laser_button", [False, True])
def test_a_cue_has_at_most_eight_words(code: str, laser_button: bool) -> None:
    translations.speak(code)
    spots = [
        spot(key, side, aspect, 2, 3)
        for key, place in regions().items()
        for side in place.sides
        for aspect in (place.aspects or (None,))
    ]
    texts = every_text(spots, laser_button=laser_button, owner_sits="left")
    assert [text for text in texts if len(text.split()) > LONGEST_WORDS] == []

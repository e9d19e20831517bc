"""What can go wrong, and what to do: first aid as published, transcribed here under its source."""

import pytest

from coach.session.went_wrong import MISHAPS, every_sentence, name_text, question, what_to_do

WHOM = {"name": "Dr. Ada Muster", "phone": "+49 30 000000"}

# Transcribed from memory; the sources are named so that they can be looked up.
FIRST_AID = {
    # European Resuscitation Council 2021, first aid: cool a burn with cool or cold running water
    # for 20 minutes.
    "burn": ("cool running water", "20 minutes"),
    # WHO position paper on rabies vaccines, 2018: wash with soap and water for about 15 minutes.
    "bite": ("soap and water", "15 minutes", "doctor"),
    # Laser safety programmes: an examination of the eye soon, for the retina does not hurt.
    "eye": ("eye doctor today", "even without pain"),
    # Common practice, no source: take the power away; nobody in front of the head.
    "stays_on": ("Pull the plug", "battery", "at nobody", "Eyewear stays on"),
    # Common practice, no source.
    "wrong_spot": ("No more laser today", "vet"),
}


@pytest.mark.parametrize("what", FIRST_AID)
def test_what_to_do_is_what_first_aid_says(what: str) -> None:
    told = " ".join(what_to_do(what, **WHOM))
    assert all(words in told for words in FIRST_AID[what])


@pytest.mark.parametrize("mishap", MISHAPS, ids=lambda mishap: mishap.id)
def test_the_number_of_the_plan_is_told_and_without_one_the_vet(mishap: object) -> None:
    what = mishap.id  # type: ignore[attr-defined]
    assert what_to_do(what, **WHOM)[-1] == "Phone Dr. Ada Muster: +49 30 000000."
    assert what_to_do(what, name="Dr. Ada Muster", phone="")[-1] == "Phone your vet."


def test_each_has_a_key_of_its_own_and_is_said_ahead_in_short_lines() -> None:
    assert len({mishap.key for mishap in MISHAPS}) == len(MISHAPS)
    assert len(question()) == len(MISHAPS) + 1
    ahead = every_sentence(**WHOM)
    said = {line for mishap in MISHAPS for line in what_to_do(mishap.id, **WHOM)}
    assert said | set(question()) == set(ahead)
    # At most 8 words a spoken line: house rule after Holland & Fletcher 2000.
    assert all(len(line.split()) <= 8 for line in ahead)


def test_what_a_newer_program_names_is_told_as_it_stands() -> None:
    assert name_text("eye") == "light in an eye"
    assert name_text("a_fall") == "a fall"
    assert name_text("not_said") == name_text("") == "not said what"

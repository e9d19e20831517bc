"""When to take a break and when to stop, by the signs of the dog.

Early signs: Mariti and others 2012, 1,190 owners. Signs to stop for, and "pause on two or more":
common practice, no source, as the house's reference on the session at home has them.
"""

import itertools

import pytest

from coach.session.signals import EARLY, SIGNALS, STOPS, advice, every_sentence, stop_reason, taught

MARITI_2012 = {
    "turns_away", "yawns", "licks_lips", "lifts_paw", "ears_back", "stiffens", "pants",
}  # fmt: skip
STOP_NOW = {"growls", "snaps", "freezes", "flinches", "leaves_twice", "trembles", "hot_skin"}


def test_the_signs_are_those_of_the_sources() -> None:
    assert {signal.id for signal in EARLY} == MARITI_2012
    assert {signal.id for signal in STOPS} == STOP_NOW


def test_one_early_sign_is_watched_two_are_a_break() -> None:
    assert advice([]) == "go_on"
    for one, other in itertools.combinations(sorted(MARITI_2012), 2):
        assert advice([one]) == "go_on"
        assert advice([one, one]) == "go_on"
        assert advice([one, other]) == "pause"


@pytest.mark.parametrize("sign", sorted(STOP_NOW))
def test_each_sign_to_stop_for_stops_whatever_else_was_seen(sign: str) -> None:
    assert advice([sign]) == advice([*sorted(MARITI_2012), sign]) == "stop"
    assert stop_reason([sign]) == ("hot_skin" if sign == "hot_skin" else "dog_unhappy")


def test_an_unknown_sign_is_refused() -> None:
    with pytest.raises(ValueError, match="barks"):
        advice(["barks"])


def test_each_sign_has_a_key_of_its_own_that_stops_nothing_else() -> None:
    keys = [signal.key for signal in SIGNALS]
    assert len(set(keys)) == len(keys)
    # X stops, D pauses, U opens the list: they keep their meaning.
    assert not set(keys) & set("xdu")


def test_one_early_sign_is_taught_a_session_until_all_are_known() -> None:
    assert {taught(number).id for number in range(7)} == MARITI_2012
    # At most 8 words a spoken line: house rule after Holland & Fletcher 2000.
    assert all(0 < len(signal.lesson.split()) <= 8 for signal in EARLY)


def test_what_is_said_about_signs_is_rendered_ahead() -> None:
    assert {
        "Watch your dog. One more sign: take a break.",
        "Take a break. Let your dog rest.",
        "It is best to stop now.",
    } <= set(every_sentence())

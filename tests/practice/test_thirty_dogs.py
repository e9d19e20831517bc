"""Thirty invented dogs, in the order in which a vet would phone their owners.

All are invented. The order is argued beside each dog: common practice, no source. What may hurt
before the day is over comes first, then what the plan or the household stopped for, then what has
changed for the worse, then what was not done as ordered, then what is only late.
"""

import datetime
from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest

from coach.practice.call_list import CallList, call_list
from coach.practice.calls import add_call
from coach.practice.rules import house_rules
from tests.practice.many import TODAY, held, write

MADE = f"{TODAY}T08:00:00+01:00"
# Monday, Wednesday and Friday for four weeks from 2 November: written out by hand.
DUE = (2, 4, 6, 9, 11, 13, 16, 18, 20, 23, 25, 27)
GIVEN = DUE[:10]
Cells = Mapping[str, str]


def november(day: int) -> datetime.date:
    return datetime.date(2026, 11, day)


def course(given: int, due: Sequence[int] = DUE) -> dict[str, object]:
    """The course as a handover of that morning tells it."""
    dues: list[dict[str, object]] = [
        {
            "number": number,
            "planned_on": november(day).isoformat(),
            "day": november(day).isoformat(),
            "state": "given" if number <= given else "to_come" if day >= 25 else "ask",
        }
        for number, day in enumerate(due, start=1)
    ]
    planned = sum(day < TODAY.day for day in due)
    told = {"start": "2026-11-02", "whole_course": len(due), "planned": planned, "given": given}
    return {**told, "missed": 0, "dues": dues}


def sessions(days: Sequence[int], on: Mapping[int, Cells]) -> list[dict[str, str]]:
    """A whole, quiet session on each of the days; ``on`` changes those of a day."""
    return [
        held(number, november(day), **on.get(day, {})) for number, day in enumerate(days, start=1)
    ]


# Who, the rule, the figure, and why here.
ORDER = (
    ("Blaze", "went_wrong", 1, "light in an eye: an eye doctor today, before anything else"),
    ("Drago", "alarming_words", 1, "drags both hind legs: hours count for a spinal cord"),
    ("Ruler", "stop_rule", 2, "the prescriber said beforehand: stop and call after two"),
    ("Snap", "stop_sign", 2, "growled and snapped yesterday: somebody may be bitten"),
    ("Frost", "stop_sign", 1, "froze once, five days ago: the same, but fewer"),
    ("Wilma", "refused", 1, "worse after the last time, and nobody has asked the vet"),
    ("Ada", "call_again", 1, "promised: call again today"),
    ("Rosso", "red_skin", 3, "red three times, and no fine one since: skin is being hurt"),
    ("Ruby", "red_skin", 1, "red once, yesterday"),
    ("Nope", "stopped_for_dog", 2, "the owner stopped twice for the dog's sake"),
    ("Fall", "tolerance_fall", 8, "from 9 to 1: something has changed"),
    ("Slip", "tolerance_fall", 3, "from 8 to 5: less, but the same question"),
    ("Stairs", "score_fall", 4, "function from 7 to 3 though the laser goes on"),
    ("Forge", "bad_log", 1, "a signature that does not hold: what was given is not known"),
    ("Diary", "owner_words", 1, "the owner wrote something that nobody has read"),
    ("Twice", "two_a_day", 1, "two sessions a day where one is ordered: too much, on purpose"),
    ("Eager", "beyond", 4, "four sessions more than were due"),
    ("Bold", "overruled", 1, "the owner overruled a limit of the plan"),
    ("Warm", "warm_skin", 5, "warm five times running: not red, but never fine"),
    ("Grump", "tolerance_low", 1, "has hardly put up with it from the start"),
    ("Ghost", "silence", 40, "forty days without a word"),
    ("Hush", "silence", 14, "two weeks without a word"),
    ("Lag", "behind", 3, "three behind, but at it"),
    ("Late", "behind", 1, "one behind"),
    ("Visit", "recheck", 1, "the recheck is due"),
    ("Faded", "plan_over", 1, "the plan has run out: a new one or none"),
    ("Yawn", "early_sign", 1, "yawned, three days ago: worth a word when there is time"),
    # No reason to call, by name.
    ("Calm", "", 0, "on its way"),
    ("Healed", "", 0, "red on the 6th, fine ever since; one yawn ten days ago"),
    ("Through", "", 0, "done"),
)


@pytest.fixture
def practice(tmp_path: Path) -> Path:
    folder = tmp_path / "handovers"

    def dog(
        name: str,
        days: Sequence[int] = GIVEN,
        *,
        given: int | None = None,
        due: Sequence[int] = DUE,
        plan: str = "",
        more: Mapping[str, object] | None = None,
        on: Mapping[int, Cells] | None = None,
    ) -> None:
        write(
            folder / name.lower(),
            dog=name,
            device=f"{sum(name.encode()):064x}",
            made_at=MADE,
            sessions=sessions(days, on or {}),
            course=course(len(days) if given is None else given, due),
            plan=plan,
            **(more or {}),
        )

    wrong = {"session": "", "at": "2026-11-24T19:02:00+01:00", "what": "light_in_an_eye"}
    dog("Blaze", more={"went_wrong": [wrong]})
    dog("Drago", on={23: {"words": "Since this morning she drags both hind legs."}})
    rule = '[[recheck.stop]]\nsign = "red skin"\ntimes = 2\n'
    dog("Ruler", plan=rule, on={11: {"skin": "red"}, 18: {"skin": "red"}})
    bites = {23: {"signals": "growls"}, 24: {"signals": "snaps"}}
    dog("Snap", (*GIVEN[:-1], 23, 24), given=10, on=bites)
    dog("Frost", on={20: {"signals": "freezes"}})
    refused = {"session": "000010-20261123T190000-demo-r1", "point": "worse", "answer": "yes"}
    dog("Wilma", more={"asked": [{**refused, "outcome": "vet_not_asked"}]})
    dog("Ada")
    red = {"skin": "red"}
    dog("Rosso", on={18: red, 20: red, 23: red})
    dog("Ruby", on={23: red})
    stop = {"state": "stopped", "reason": "dog_unhappy"}
    dog("Nope", on={18: stop, 20: stop})
    dog("Fall", on={20: {"tolerance_0_10": "9"}, 23: {"tolerance_0_10": "1"}})
    dog("Slip", on={23: {"tolerance_0_10": "5"}})
    scores = [
        {"at": f"2026-11-{day:02}T18:00:00+01:00", "score_0_10": score}
        for day, score in ((2, 6), (9, 7), (23, 3))
    ]
    dog("Stairs", more={"scores": scores})
    dog("Forge", on={20: {"signature": "bad"}})
    dog("Diary", on={18: {"words": "Sleeps on the other side now."}})
    dog("Twice", sorted((*DUE[:7], 18, 18)), given=9)
    dog("Eager", sorted((*GIVEN, 7, 14, 21, 22)), given=10)
    dog("Bold", on={20: {"overruled": "too soon: we are away tomorrow"}})
    dog("Warm", on={day: {"skin": "warm"} for day in (13, 16, 18, 20, 23)})
    dog("Grump", on={day: {"tolerance_0_10": "3"} for day in GIVEN})
    october = ("2026-10-14", "2026-10-16", "2026-10-19")
    write(
        folder / "ghost",
        dog="Ghost",
        device="a" * 64,
        made_at="2026-10-17T08:00:00+02:00",
        sessions=[held(n, datetime.date(2026, 10, day)) for n, day in ((1, 14), (2, 16))],
        course={
            "start": "2026-10-14",
            "whole_course": 3,
            "planned": 2,
            "given": 2,
            "dues": [
                {
                    "number": n,
                    "planned_on": day,
                    "day": day,
                    "state": "given" if n < 3 else "to_come",
                }
                for n, day in enumerate(october, start=1)
            ],
        },
    )
    dog("Hush", GIVEN[:5])
    dog("Lag", (*GIVEN[:6], 20), given=7)
    dog("Late", GIVEN[:9])
    dog("Visit", plan="[recheck]\non = 2026-11-24\n")
    now = {"id": "demo", "revision": 1, "valid_until": "2026-11-24"}
    dog("Faded", more={"plan_now": now})
    dog("Yawn", (*GIVEN[:-1], 22), given=10, on={22: {"signals": "yawns"}})
    dog("Calm")
    dog("Healed", on={6: red, 13: {"signals": "yawns"}})
    dog("Through", DUE[:6], due=DUE[:6])
    return folder


def listed(folder: Path) -> CallList:
    add_call(
        folder,
        at=datetime.datetime(2026, 11, 18, 9, tzinfo=datetime.UTC),
        dog="Ada",
        device=f"{sum(b'Ada'):064x}",
        by="Robin (invented)",
        note="how are the stairs?",
        until=TODAY,
    )
    return call_list(folder, TODAY, house_rules())


def test_thirty_dogs_stand_in_the_order_in_which_a_vet_would_phone(practice: Path) -> None:
    found = listed(practice)
    assert found.remarks == ()
    assert len(found.dogs) == len(ORDER) == 30
    stood = [
        (dog.dog, dog.why.rule if dog.why else "", dog.why.figure if dog.why else 0)
        for dog in found.dogs
    ]
    assert stood == [row[:3] for row in ORDER]

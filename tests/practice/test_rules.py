"""The rules, a practice's own file, and which handovers are of one dog."""

import datetime
from pathlib import Path

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from coach.plan.problems import PlanProblems
from coach.practice.call_list import call_list
from coach.practice.identity import Known, dog_keys
from coach.practice.rules import SameDog, first_word, house_rules, rules_for
from tests.practice.many import TODAY, held, write

MADE = f"{TODAY}T08:00:00+01:00"
DAY = datetime.timedelta(days=1)


def test_every_rule_says_who_says_so_and_can_be_the_worst() -> None:
    rules = house_rules()
    assert len(rules.rules) >= 20
    assert len({rule.weight for rule in rules.rules.values()}) == len(rules.rules)
    assert all(rule.source and rule.words and rule.weight for rule in rules.rules.values())


def test_a_practice_changes_what_weighs_most(tmp_path: Path) -> None:
    sessions = [held(1, TODAY - 2 * DAY, signals="growls"), held(2, TODAY - DAY, signals="yawns")]
    write(tmp_path / "a", dog="A", device="a", made_at=MADE, sessions=sessions)
    ours = call_list(tmp_path, TODAY, rules_for(tmp_path)).dogs[0]
    assert [reason.rule for reason in ours.reasons] == ["stop_sign", "early_sign"]
    own = tmp_path / "practice.toml"
    own.write_text("practice = 1\n[rules.early_sign]\nweight = 99\n[rules.stop_sign]\nweight = 0\n")
    theirs = call_list(tmp_path, TODAY, rules_for(tmp_path)).dogs[0]
    assert [(one.rule, one.weight) for one in theirs.reasons] == [("early_sign", 99)]
    own.write_text(
        "practice = 1\n[rules.stop_sign]\nlasts_days = 1\n[rules.early_sign]\nleast = 2\n"
    )
    assert call_list(tmp_path, TODAY, rules_for(tmp_path)).dogs[0].reasons == ()


def test_every_error_of_a_practice_file_is_told_with_its_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = tmp_path / "practice.toml"
    own.write_text(
        'practice = 2\nname = "Mill Pond"\n[rules.early_sing]\nweight = 1\n'
        '[rules.silence]\nweight = 101\nleats = 3\n[[same_dog]]\ndog = "Pip"\ndevices = ["x"]\n'
    )
    with pytest.raises(PlanProblems) as caught:
        rules_for(tmp_path)
    assert [(problem.line, problem.field) for problem in caught.value.problems] == [
        (1, "practice"),
        (2, "name"),
        (6, "rules.silence.weight"),
        (7, "rules.silence.leats"),
        (10, "same_dog[1].devices[1]"),
        (10, "same_dog[1].devices"),
    ]
    own.write_text("practice = 1\n[rules.early_sing]\nweight = 1\n")
    with pytest.raises(PlanProblems, match='did you mean "early_sign"') as caught:
        rules_for(tmp_path)
    assert caught.value.problems[0].line == 2
    for text, part in (
        (b"", "an empty file"),
        (b"practice = \xff\n", "0xff"),
        (b"practice 1\n", "practice.toml:1"),
        (b"x" * 2_000_000, "more than 1 MB"),
    ):
        own.write_bytes(text)
        assert run(["caseload", str(tmp_path)]) == Exit.BAD_INPUT
        assert part in capsys.readouterr().err
    own.unlink()
    own.mkdir()
    assert run(["caseload", str(tmp_path)]) == Exit.BAD_INPUT
    assert run(["caseload", str(tmp_path), "--practice", str(tmp_path / "no")]) == Exit.BAD_INPUT


@pytest.mark.parametrize(
    ("words", "hit"),
    [
        ("Since this morning she drags both hind legs", True),
        ("Schleift die Hinterbeine", True),
        ("He can't  get up alone", True),
        ("Went well, she slept afterwards", False),
        ("a hydrangea bush", False),
        ("", False),
    ],
)
def test_words_to_read_at_once(words: str, hit: bool) -> None:
    assert first_word(words, house_rules().first_words) is hit


def known(device: str, dog: str, number: str = "", chip: str = "", clinic: str = "") -> Known:
    return Known(device=device, dog=dog, patient_number=number, chip=chip, clinic=clinic)


def test_the_same_dog_on_another_computer_is_one_dog() -> None:
    keys, told = dog_keys(
        [
            known("a", "Pip", chip="276098100000001"),
            known("b", "Pip", chip="276098100000001", number="P-1", clinic="M"),
            known("c", "pip", number="P-1", clinic="M"),
            known("d", "Pip", number="P-1", clinic="another"),
            known("e", "Pip"),
            known("0f" * 32, "Moss"),
            known("1f" * 32, "Moss"),
            known("1f" * 32, "Fern"),
        ],
        [SameDog(dog="Moss", devices=("0f0f0f0f", "1f1f1f1f"))],
    )
    assert keys["a", "Pip"] == keys["b", "Pip"] == keys["c", "pip"] == "a/Pip"
    assert len(set(keys.values())) == 5
    assert keys["0f" * 32, "Moss"] == keys["1f" * 32, "Moss"]
    assert told == []


def test_what_cannot_be_one_dog_is_told() -> None:
    keys, told = dog_keys(
        [
            known("a", "Pip", chip="1"),
            known("b", "Moss", chip="1"),
            known("c", "Fern", number="7"),
            known("d", "Ash", number="7"),
        ],
        [SameDog(dog="Nobody", devices=("00000000", "11111111"))],
    )
    assert keys["a", "Pip"] == keys["b", "Moss"]
    assert keys["c", "Fern"] != keys["d", "Ash"]
    assert "chip 1: Moss and Pip are taken as one dog" in told[0]
    assert "patient number 7: given to Ash and Fern; taken as two dogs" in told[1]
    assert len(told) == 4


def test_a_replaced_computer_goes_on_where_the_old_one_ended(tmp_path: Path) -> None:
    plan = '[patient]\nchip = "276098100000001"\nowner_phone = "+49 30 000000"\n'
    days = [(TODAY - n * DAY).isoformat() for n in (9, 7, 5, 3)]
    dues = [{"number": n, "planned_on": day, "day": day} for n, day in enumerate(days, start=1)]
    for device, numbers, ago in (("a", (9, 7), 6), ("b", (5, 3), 0)):
        states = [
            {**due, "state": "given" if 9 - 2 * n in numbers else "ask"}
            for n, due in enumerate(dues)
        ]
        write(
            tmp_path / device,
            dog="Pip",
            device=device,
            made_at=f"{TODAY - ago * DAY}T08:00:00+01:00",
            sessions=[held(n, TODAY - n * DAY) for n in numbers],
            course={"start": days[0], "whole_course": 4, "planned": 4, "given": 2, "dues": states},
            plan=plan,
        )
    found = call_list(tmp_path, TODAY, house_rules())
    assert len(found.dogs) == 1
    dog = found.dogs[0]
    assert (dog.computers, dog.sessions, dog.given, dog.behind) == (2, 4, 4, 0)
    assert dog.phone == "+49 30 000000"
    assert dog.reasons == ()

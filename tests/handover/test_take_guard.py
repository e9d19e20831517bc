"""What a plan must show before it is taken. Dogs, people, clinics and lasers are invented."""

import hashlib
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from coach import paths
from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.take_plan import known_keys, sign_plan, signed_by
from coach.journal.signing import device_key
from coach.plan.check_number import check_number, same_number
from coach.plan.files import load_plan
from tests.handover.dogs import PLAN
from tests.handover.test_take import TODAY

Take = Callable[..., tuple[int, str]]
NEXT = PLAN.replace("revision = 1", "revision = 2", 1)
TENFOLD = NEXT.replace("mean_power_mw = 100", "mean_power_mw = 1000")


@pytest.fixture
def take(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Take:
    def taken(text: str, *more: str) -> tuple[int, str]:
        path = tmp_path / "new.toml"
        path.write_text(text, encoding="utf-8")
        code = run(["take", str(path), "--yes", *more])
        out = capsys.readouterr()
        return code, " ".join((out.out + out.err).split())

    return taken


def number_of(text: str) -> str:
    return check_number(hashlib.sha256(text.encode()).hexdigest())


def in_use() -> str:
    return (paths.dog_folder("Juniper") / "plan.toml").read_text(encoding="utf-8")


def test_three_groups_of_four_digits_that_any_change_changes() -> None:
    number = number_of(PLAN)
    assert re.fullmatch(r"\d{4} \d{4} \d{4}", number)
    assert number != number_of(PLAN + " ")
    digest = hashlib.sha256(PLAN.encode()).hexdigest()
    for typed in (number, number.replace(" ", ""), number.replace(" ", "-"), f" {number} "):
        assert same_number(typed, digest)
    wrong = f"{number[:-1]}{(int(number[-1]) + 1) % 10}"
    for typed in ("", wrong, "1" * 12, number[:-1], number.replace("0", "٠") + "٠"):
        assert not same_number(typed, digest)


def test_check_prints_the_number_for_the_prescriber(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN, encoding="utf-8")
    assert run(["check", str(path)]) == Exit.DONE
    assert number_of(PLAN) in capsys.readouterr().out


def test_a_plan_with_nothing_grave_needs_no_number(take: Take) -> None:
    assert take(PLAN)[0] == Exit.DONE
    assert take(NEXT)[0] == Exit.DONE


def test_a_tenfold_change_needs_the_number(take: Take) -> None:
    assert take(PLAN)[0] == Exit.DONE
    code, told = take(TENFOLD)
    assert code == Exit.BAD_INPUT
    assert "The power of the laser goes from 100 mW to 1000 mW." in told
    assert "the check number is needed" in told
    assert in_use() == PLAN
    code, told = take(TENFOLD, "--number", number_of(NEXT))
    assert code == Exit.BAD_INPUT
    assert "not the check number of this plan" in told
    assert in_use() == PLAN
    assert take(TENFOLD, "--number", number_of(TENFOLD))[0] == Exit.DONE
    assert in_use() == TENFOLD


def test_a_class_that_does_not_go_with_the_power_needs_it_at_the_first_plan(take: Take) -> None:
    strong = PLAN.replace("mean_power_mw = 100", "mean_power_mw = 900")
    code, told = take(strong)
    assert code == Exit.BAD_INPUT
    assert "class" in told
    assert take(strong, "--number", number_of(strong))[0] == Exit.DONE


def test_once_a_key_is_known_an_unsigned_plan_needs_it(take: Take, tmp_path: Path) -> None:
    key = device_key(tmp_path / "vet.key")
    assert run(["take", "--know", key.public_key, "--name", "Dr. Ada"]) == Exit.DONE
    code, told = take(PLAN)
    assert code == Exit.BAD_INPUT
    assert "known signature so far" in told
    sign_plan(load_plan(tmp_path / "new.toml", today=TODAY), key)
    assert take(PLAN)[0] == Exit.DONE


def test_a_plan_can_ask_for_a_second_check(take: Take, tmp_path: Path) -> None:
    asks = PLAN.replace("coach_plan = 1", "coach_plan = 2")
    asks = re.sub(r"\[settle\]\n(.+\n)*", "", asks)
    asks = asks.replace("revision = 1", "revision = 1\nneeds_second_check = true", 1)
    if "starts" not in asks:
        asks = asks.replace('laser_class = "3B"', 'laser_class = "3B"\nstarts = "stays on"')
    code, told = take(asks)
    assert code == Exit.BAD_INPUT
    assert "nobody has checked it" in told
    said = asks.replace(
        "needs_second_check = true",
        'needs_second_check = true\nchecked_by = "Dr. Bo"\nchecked_on = 2026-11-20',
    )
    code, told = take(said)
    assert code == Exit.DONE
    assert "Checked by Dr. Bo on 2026-11-20: so the plan says, it is not signed." in told


def test_two_signatures_are_a_second_check(take: Take, tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    path.write_text(PLAN, encoding="utf-8")
    plan_file = load_plan(path, today=TODAY)
    ada, bo, third = (device_key(tmp_path / f"{name}.key") for name in ("ada", "bo", "third"))
    sign_plan(plan_file, ada)
    with pytest.raises(FileExistsError):
        sign_plan(plan_file, ada)
    sign_plan(plan_file, bo)
    signed = signed_by(plan_file, {bo.public_key: "Dr. Bo"})
    assert (signed.state, signed.name, signed.count) == ("known", "Dr. Bo", 2)
    with pytest.raises(FileExistsError):
        sign_plan(plan_file, third)
    assert known_keys(paths.prescriber_keys_file()) == {}
    signature = tmp_path / "new.toml.sig"
    signature.write_text(signature.read_text()[:-4] + "beef", encoding="ascii")
    assert signed_by(plan_file, {}).state == "bad"


def test_what_changes_is_told_in_the_order_of_what_matters(take: Take) -> None:
    """40 s at 100 mW over 0.5 cm2 are 4 J and 8 J/cm2; at 120 mW they are 4.8 J and 9.6 J/cm2."""
    assert take(PLAN)[0] == Exit.DONE
    code, told = take(
        NEXT.replace("mean_power_mw = 100", "mean_power_mw = 120").replace(
            'clinic = "Practice', 'clinic = "Clinic'
        )
    )
    assert code == Exit.DONE
    dose = told.index("4.8 J (9.6 J/cm2) on each spot, before 4 J (8 J/cm2).")
    power = told.index("The mean power of the laser is now 120 mW, before 100 mW.")
    clinic = told.index("Where. Now: Clinic")
    assert dose < power < clinic

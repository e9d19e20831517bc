"""Handovers of every version, and what the newest ones say, as the rooms that write them say it."""

import datetime
import json
import shutil
from pathlib import Path

from coach import __version__
from coach.handover.build_info import Made
from coach.handover.folder import write_handover
from coach.journal.signing import DeviceKey
from coach.plan.patient import STOP_SIGNS, Patient, Recheck, StopRule
from coach.practice.call_list import CallList, Dog, call_list, question
from coach.practice.rules import house_rules
from tests.handover.conftest import plain_report
from tests.handover.dogs import PLAN, session
from tests.practice.many import TODAY, held, write

__all__ = ["plain_report"]
OLD = Path(__file__).parent.parent / "data" / "0.1.0"
AT = f"{TODAY}T10:00:00+01:00"


def listed(folder: Path, day: datetime.date = TODAY) -> CallList:
    return call_list(folder, day, house_rules())


def only(folder: Path) -> Dog:
    (dog,) = listed(folder).dogs
    return dog


def test_handovers_of_0_1_0_are_read(tmp_path: Path) -> None:
    """Written by that release: nine sessions of Juniper from 2 to 23 November, once unnamed."""
    for name in ("handover.zip", "handover-without-names.zip"):
        shutil.copy(OLD / name, tmp_path)
    found = listed(tmp_path, datetime.date(2026, 11, 28))
    assert found.remarks == ()
    named, nameless = sorted(found.dogs, key=lambda dog: dog.dog != "Juniper")
    assert (named.dog, nameless.dog[:4]) == ("Juniper", "dog-")
    assert named.sessions == nameless.sessions
    assert named.sessions == 9
    assert named.last_session == datetime.date(2026, 11, 23)


def test_the_fields_of_a_plan_are_called_as_they_are_read() -> None:
    """What is read from plan.toml is there in the models of the plan, and nothing is misspelt."""
    assert {"number", "chip", "owner_name", "owner_phone"} <= Patient.model_fields.keys()
    assert {"on", "after_sessions", "stop"} <= Recheck.model_fields.keys()
    assert {"sign", "times", "within_days"} <= StopRule.model_fields.keys()
    assert all(f"'{sign}' AS sign" in question() for sign in STOP_SIGNS)


def test_the_stop_rules_of_the_prescriber_are_kept(tmp_path: Path) -> None:
    days = [TODAY - datetime.timedelta(days=n) for n in (20, 12, 5, 3)]
    sessions = [held(n, day, skin="warm" if n < 3 else "fine") for n, day in enumerate(days)]
    for name, rule, holds in (
        ("whole", 'sign = "warm skin"\ntimes = 3', True),
        ("late", 'sign = "warm skin"\ntimes = 3\nwithin_days = 14', False),
        ("two", 'sign = "warm skin"\ntimes = 2\nwithin_days = 14', True),
        ("four", 'sign = "warm skin"\ntimes = 4', False),
        ("other", 'sign = "red skin"\ntimes = 1', False),
    ):
        place = tmp_path / name / "x"
        plan = f"[[recheck.stop]]\n{rule}\n"
        write(place, dog="P", device="a", made_at=AT, sessions=sessions, plan=plan)
        rules = [reason.rule for reason in only(tmp_path / name).reasons]
        assert ("stop_rule" in rules) is holds, name


def test_a_recheck_after_so_many_sessions(tmp_path: Path) -> None:
    for name, count in (("due", 4), ("not", 3)):
        sessions = [held(n, TODAY - datetime.timedelta(days=9 - n)) for n in range(count)]
        plan = "[recheck]\nafter_sessions = 4\n"
        place = tmp_path / name / "x"
        write(place, dog="P", device="a", made_at=AT, sessions=sessions, plan=plan)
        reasons = only(tmp_path / name).reasons
        assert [one.what for one in reasons if one.rule == "recheck"] == (
            ["after 4 sessions"] if name == "due" else []
        )


def test_a_session_refused_at_its_questions_is_in_the_list(
    tmp_path: Path, plain_report: None
) -> None:
    """Through the real journal and handover: worse after the last time, the vet not asked."""
    dog = tmp_path / "dog"
    key = DeviceKey(bytes(32))
    (dog / "journals").mkdir(parents=True)
    (dog / "plan.toml").write_text(PLAN.replace('name = "Juniper"', 'name = "Pip"'))
    news = [{"point": "worse", "answer": "yes", "outcome": "vet_not_asked"}]
    session(dog, "2026-11-20", key=key)
    session(dog, "2026-11-23", key=key, news=news, stop_after=0)
    made = Made(at=AT, program=__version__)
    write_handover(dog, tmp_path / "in", made=made, signer=key, with_names=True, zipped=False)
    found = only(tmp_path / "in")
    refused = [reason for reason in found.reasons if reason.rule == "refused"]
    assert [(one.what, one.last) for one in refused] == [
        ("worse: vet not asked", datetime.date(2026, 11, 23))
    ]


def test_the_questions_that_ended_a_session_are_read_from_its_row(tmp_path: Path) -> None:
    row = held(1, TODAY, counts="no", state="not_begun")
    refused = [{"point": "lump", "answer": "yes", "outcome": "stop"}]
    place = tmp_path / "x"
    asked = [{"session": row["session"], **refused[0]}]
    write(place, dog="P", device="a", made_at=AT, sessions=[row], asked=asked)
    summary = json.loads((place / "summary.json").read_text())
    told = {"sessions": [{"session": row["session"], "refused": refused}]}
    (place / "summary.json").write_text(json.dumps({**summary, **told}))
    assert [(one.rule, one.what, one.figure) for one in only(tmp_path).reasons][:1] == [
        ("refused", "lump: stop", 1)
    ]

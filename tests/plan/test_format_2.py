"""Plans of format 2: what they add, how they are read, written and refused.

The dogs, the people, the places and the lasers are invented. The fields are those of
``coach/plan/fields.toml``; what is expected here is written out by hand.
"""

import datetime

import pytest

from coach.plan.formats import NOT_YET
from coach.plan.patient import StopRule
from coach.plan.people_text import people_lines
from coach.plan.write import write_plan
from tests.plan.worlds import PLAN, changed, line_in, problems_of, read

SETTLE = "[settle]\nseconds_each_side = 30\n\n"
PLAN_2 = changed(("coach_plan = 1", "coach_plan = 2"), (SETTLE, ""))
PEOPLE = """
[patient]
number = "P-20417"
chip = "276098100000001"
breed = "dachshund"
sex = "female neutered"
born = 2018-05-01
coat = "short"
coat_colour = "dark"
owner_name = "Robin Muster"
owner_phone = "+49 30 000000"

[reason]
problem = "stiff after lying"
goal = "ten steps without a stumble"
precautions = "dark coat"
consent_by = "Robin Muster"
consent_on = 2026-11-20
instructions_by = "Dr. Ada Muster"
instructions_on = 2026-11-20

[recheck]
on = 2026-12-18
after_sessions = 6
note = "bring the dog hungry"
"""


def test_who_and_why_are_read_and_written_back() -> None:
    plan = read(PLAN_2 + PEOPLE)
    assert plan.format == 2
    assert (plan.patient.sex, plan.patient.born) == (
        "female neutered",
        datetime.date(2018, 5, 1),
    )
    assert plan.reason.goal == "ten steps without a stumble"
    assert (plan.recheck.on, plan.recheck.after_sessions) == (datetime.date(2026, 12, 18), 6)
    assert read(write_plan(plan)) == plan


def test_a_region_goes_by_any_word_of_the_trade() -> None:
    text = changed(
        ('region = "lumbar"', 'region = "Lendenwirbelsäule"'),
        ('region = "hip"', 'region = "coxofemoral joint"'),
        text=PLAN_2,
    )
    assert read(text) == read(PLAN_2)
    # Format 1 takes keys only, as it always did.
    (problem,) = problems_of(changed(('region = "hip"', 'region = "coxofemoral joint"')))
    assert problem.field == "regions[2].region"


def test_who_and_why_are_shown_to_the_prescriber() -> None:
    checked = 'revision = 3\nchecked_by = "Dr. Bo Muster"\nchecked_on = 2026-11-20'
    plan = read(changed(("revision = 3", checked), text=PLAN_2) + PEOPLE)
    assert dict(people_lines(plan)) == {
        "Patient": "no. P-20417, chip 276098100000001, dachshund, female neutered, "
        "born 2018-05-01, short dark coat",
        "Owner": "Robin Muster, +49 30 000000",
        "Problem": "stiff after lying",
        "Goal": "ten steps without a stumble",
        "Precautions": "dark coat",
        "Consent": "Robin Muster on 2026-11-20",
        "Instructed": "Dr. Ada Muster on 2026-11-20",
        "Checked": "by Dr. Bo Muster on 2026-11-20 (said, not signed)",
        "Recheck": "on 2026-12-18, after 6 sessions, bring the dog hungry",
    }
    assert list(people_lines(read(PLAN_2))) == []


def test_a_plan_of_format_1_is_written_as_one() -> None:
    plan = read(PLAN)
    text = write_plan(plan)
    assert plan.format == 1
    assert "coach_plan = 1" in text
    assert "[settle]" in text
    assert read(text) == plan


def test_format_2_has_no_special_first_step() -> None:
    (problem,) = problems_of(PLAN_2.replace("[session]", SETTLE + "[session]"))
    assert (problem.field, problem.hint) == (
        "settle",
        "write first = true in the region that comes first, with its dose",
    )
    assert "[settle]" not in write_plan(read(PLAN_2))


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ("[dog]", '[reason]\nproblem = "stiff"\n[dog]', "reason"),
        ("revision = 3", 'revision = 3\nphone = "030"', "plan.phone"),
        ('region = "lumbar"', 'region = "lumbar"\nfirst = true', "regions[1].first"),
        ("weeks = 2", 'weeks = 2\n[[course.regions]]\nregion = "lumbar"', "course[1].regions"),
    ],
)
def test_format_1_has_none_of_the_new(old: str, new: str, field: str) -> None:
    (problem,) = problems_of(changed((old, new)))
    assert problem.field == field
    assert problem.hint.startswith(("a field of coach_plan = 2", "a table of coach_plan = 2"))


# What is allowed is house rules; a slip of each kind, with the words that it must be told in.
BAD = {
    "how the laser starts is not said": (
        ('starts = "stays on"\n', ""),
        "laser.starts",
        "nothing",
        'this field must be there: "stays on" or "button at each spot"',
    ),
    "checked by nobody": (
        ("revision = 3", "revision = 3\nchecked_on = 2026-11-20"),
        "plan.checked_by",
        "nothing",
        "both checked_by and checked_on, or neither of them",
    ),
    "checked by the prescriber": (
        (
            "revision = 3",
            'revision = 3\nchecked_by = "dr. ada muster (invented)"\nchecked_on = 2026-11-20',
        ),
        "plan.checked_by",
        '"dr. ada muster (invented)"',
        "another person than the prescriber",
    ),
    "checked before it was written": (
        ("revision = 3", 'revision = 3\nchecked_by = "Dr. Bo"\nchecked_on = 2026-10-31'),
        "plan.checked_on",
        "2026-10-31",
        "a day from 2026-11-01 (prescribed_on) to today (2026-11-25)",
    ),
    "born tomorrow": (
        ("[dog]", "[patient]\nborn = 2026-11-26\n[dog]"),
        "patient.born",
        "2026-11-26",
        "today (2026-11-25) or earlier",
    ),
    "consent without a day": (
        ("[dog]", '[reason]\nconsent_by = "Robin"\n[dog]'),
        "reason.consent_on",
        "nothing",
        "the day, beside consent_by",
    ),
    "seen again before the plan": (
        ("[dog]", "[recheck]\non = 2026-10-01\n[dog]"),
        "recheck.on",
        "2026-10-01",
        "2026-11-01 (prescribed_on) or later",
    ),
    "no such sex": (
        ("[dog]", '[patient]\nsex = "neuter"\n[dog]'),
        "patient.sex",
        '"neuter"',
        '"female", "female neutered", "male" or "male neutered"',
    ),
}


@pytest.mark.parametrize(("change", "field", "found", "allowed"), BAD.values(), ids=BAD)
def test_bad(change: tuple[str, str], field: str, found: str, allowed: str) -> None:
    text = changed(change, text=PLAN_2)
    (problem,) = problems_of(text)
    assert (problem.field, problem.found, problem.allowed) == (field, found, allowed)
    assert problem.line is not None


def test_everything_wrong_is_told_at_once() -> None:
    text = changed(*(change for change, *_ in list(BAD.values())[::2]), text=PLAN_2)
    assert len(problems_of(text)) == 4


@pytest.mark.parametrize("name", sorted(name for name in NOT_YET if "." not in name))
def test_a_table_that_is_not_done_yet_is_refused(name: str) -> None:
    problems = problems_of(PLAN_2 + f"\n[[{name}]]\nx = 1\n")
    assert any("does not do it yet" in problem.allowed for problem in problems)


def test_a_field_that_is_not_done_yet_is_refused() -> None:
    for name in sorted(name for name in NOT_YET if name.startswith("regions.")):
        text = changed(
            ('region = "hip"', f'region = "hip"\n{name.removeprefix("regions.")} = 1'), text=PLAN_2
        )
        (problem,) = problems_of(text)
        assert problem.line == line_in(text, 'region = "hip"') + 1
        assert "does not do it yet" in problem.allowed


def test_a_stop_rule_has_a_sign_and_a_count() -> None:
    rule = StopRule.model_validate({"sign": "red skin", "times": 2})
    assert (rule.sign, rule.times, rule.then) == ("red skin", 2, "stop and call")

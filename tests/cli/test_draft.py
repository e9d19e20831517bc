"""``coach draft``: what is asked, refused and written. Dogs, people and lasers are invented.

Longer than other files: one conversation of questions, and its tests share the answers.
"""

import datetime
import os
import pty
import re
import subprocess
import sys
import typing
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.body.regions import regions
from coach.cli import run
from coach.cli.interview import Interview
from coach.plan.draft import (
    Draft,
    count_text,
    course_text,
    dose_text,
    empty,
    next_revision,
    read_count,
    read_course,
    read_dose,
    read_region,
    read_settle,
    settle_text,
    to_plan,
)
from coach.plan.draft_questions import QUESTIONS
from coach.plan.files import PlanThere, load_plan, save_plan
from coach.plan.model import Dog, Laser, Limits, Rules, Table

TODAY = datetime.date(2026, 11, 25)
FLAGS = {
    "--id": "juniper",
    "--prescriber": "Dr. Ada Muster (invented)",
    "--prescribed-on": "2026-11-25",
    "--valid-until": "2099-12-31",
    "--dog": "Juniper",
    "--weight-kg": "9.5",
    "--laser-label": "invented laser",
    "--laser-class": "3B",
    "--laser-wavelength-nm": "808",
    "--laser-mean-power-mw": "100",
    "--laser-beam-area-cm2": "0.5",
    "--settle": "20s",
    "--repeats": "0",
}
LUMBAR = "lumbar:left,right:4:40s"
STIFLE = "stifle:left:medial,lateral:1:4J:slow: he is shy"


def options(*more: str, **other: str | None) -> list[str]:
    """All that a plan needs; ``other`` changes a flag (``weight_kg="3"``) or leaves it out."""
    flags: dict[str, str | None] = dict(FLAGS)
    flags |= {f"--{name.replace('_', '-')}": value for name, value in other.items()}
    given = [word for flag, value in flags.items() if value is not None for word in (flag, value)]
    return ["draft", *given, *more]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def written(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


# By options


def test_options_alone_make_a_plan_that_means_what_was_said(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(options("--region", LUMBAR, "--region", STIFLE, "--course", "induction:3x2")) == 0
    assert written(folder) == ["juniper-r1.toml"]
    plan = load_plan(folder / "juniper-r1.toml", today=TODAY).plan
    assert (plan.dog.name, plan.dog.weight_kg) == ("Juniper", Decimal("9.5"))
    assert plan.settle.seconds_each_side == 20
    assert plan.rules.repeats_allowed == 0
    assert [phase.name for phase in plan.course] == ["induction"]
    lumbar, stifle = plan.regions
    assert lumbar.sides == ["left", "right"]
    assert lumbar.spots == 4
    assert lumbar.seconds_each_spot == 40
    assert stifle.aspects == ["medial", "lateral"]
    assert stifle.joules_each_spot == 4
    assert stifle.note == "slow: he is shy"
    text = capsys.readouterr().out
    # 100 mW for 40 s are 4 J (E = P t), and 4 J on 0.5 cm2 are 8 J/cm2.
    assert re.search(r"lower back +8 +40 +4\.00 +8\.00", text)
    # What is left blank is remarked.
    assert "- laser.starts: the plan does not say how the laser" in text
    assert "- regions[1]: " not in text
    assert "Written: juniper-r1.toml" in text


def test_everything_missing_is_told_at_once_and_no_dose_is_offered(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["draft"]) == 2
    error = capsys.readouterr().err
    for flag in (*FLAGS, "--region"):
        if flag != "--laser-beam-area-cm2":
            assert f"coach draft: {flag}: nothing found; allowed: " in error
    assert error.splitlines()[-1] == "coach draft: nothing written"
    for line in error.splitlines():
        if line.startswith(("coach draft: --region", "coach draft: --settle")):
            assert not re.search(r"\d+ ?(s|J|seconds)\b", line)
    assert written(folder) == []


def test_everything_wrong_is_told_at_once(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wrong = options(
        *("--region", "lumber:left:x:30", "--region", "hip:middle:lateral:0:30s"),
        *("--course", "often"),
        weight_kg="9,5",
        laser_mean_power_mw="0.1",
        valid_until="2020-01-01",
        prescribed_on="yesterday",
        settle="20",
        repeats="9",
    )
    assert run(wrong) == 2
    told = [line.removeprefix("coach draft: ") for line in capsys.readouterr().err.splitlines()]
    expected = [
        '--prescribed-on: "yesterday" found',
        '--weight-kg: "9,5" found; allowed: a number without a unit (a point, not a comma)',
        '--settle: "20" found',
        '--course 1: "often" found; allowed: NAME:TIMESxWEEKS',
        '--region 1: "lumber" found; allowed: atlas',
        '--region 1: "x" found; allowed: a whole number',
        '--region 1: "30" found; allowed: seconds (s)',
        '--region 2 sides: "middle" found; allowed: left, right',
        "--region 2 spots: 0 found; allowed: a whole number, 1 to 60",
        "--laser-mean-power-mw: 0.1 found; allowed: 1 to 30000 mW (this looks like watts)",
        "--repeats: 9 found; allowed: a whole number, 0 to 3",
    ]
    for line in expected:
        assert any(text.startswith(line) for text in told), (line, told)
    assert 'did you mean "lumbar"' in "\n".join(told)
    assert written(folder) == []


@pytest.mark.parametrize("number", ["1e999999999", "-5", "1e-999999999", "nan", "inf"])
def test_absurd_numbers_are_refused_at_once(
    number: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(options("--region", LUMBAR, weight_kg=number)) == 2
    assert "coach draft: --weight-kg: " in capsys.readouterr().err


def test_a_date_that_has_passed_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(options("--region", LUMBAR, valid_until="2020-01-01")) == 2
    assert "--valid-until: 2020-01-01 found" in capsys.readouterr().err


def test_a_pulsed_laser_needs_what_makes_its_mean_power(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pulsed = options("--region", LUMBAR, "--laser-peak-power-mw", "400", laser_mean_power_mw=None)
    assert run(pulsed) == 2
    assert "duty" in capsys.readouterr().err
    assert run([*pulsed, "--laser-duty-cycle", "0.5"]) == 0
    # Mean power is peak power x duty cycle: 400 mW x 0.5 = 200 mW.
    assert load_plan(folder / "juniper-r1.toml", today=TODAY).plan.laser.power_uw == 200_000


def test_the_tape_counts_the_spots_under_the_prescribers_cap(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    measures = ("--neck-cm", "20", "--back-cm", "50", "--loin-cm", "21")
    by_tape = ("--region", "lumbar:left:tape/2cm/max60:40s")
    capped = ("--region", "lumbar:right:tape/2cm/max8:40s")
    assert run(options(*measures, *by_tape, *capped)) == 0
    plan = load_plan(folder / "juniper-r1.toml", today=TODAY).plan
    # The loin tape is 21 cm: ceil(21 / 2) = 11 spots; the prescriber allows 8 on the right.
    assert [plan.spots_each(order) for order in plan.regions] == [11, 8]
    assert run(options(*by_tape)) == 2
    assert "--region 1 " in capsys.readouterr().err


def test_yes_and_no_are_read(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ("--may-be-shortened", "no", "--pinned", "Yes")
    assert run(options("--region", LUMBAR, *words)) == 0
    rules = load_plan(folder / "juniper-r1.toml", today=TODAY).plan.rules
    assert (rules.may_be_shortened, rules.pinned) == (False, True)
    assert run(options("--region", LUMBAR, "--growing", "perhaps")) == 2
    assert '--growing: "perhaps" found; allowed: yes or no' in capsys.readouterr().err


# Files


def test_the_next_revision_leaves_the_plan_before_as_it_was(folder: Path) -> None:
    assert run(options("--region", LUMBAR, "--note", "first", prescribed_on="2026-01-01")) == 0
    old = folder / "juniper-r1.toml"
    before = old.read_bytes()
    assert run(["draft", str(old), "--weight-kg", "10"]) == 0
    assert old.read_bytes() == before
    assert written(folder) == ["juniper-r1.toml", "juniper-r2.toml"]
    new = load_plan(folder / "juniper-r2.toml", today=TODAY).plan
    old_plan = load_plan(old, today=TODAY).plan
    assert new.about.revision == 2
    assert new.dog.weight_kg == 10
    assert new.about.prescribed_on > old_plan.about.prescribed_on
    assert new.regions == old_plan.regions
    assert new.laser == old_plan.laser


def test_a_plan_that_has_run_out_can_be_renewed(folder: Path) -> None:
    draft = complete()
    draft["plan"] |= {
        "prescribed_on": datetime.date(2020, 1, 1),
        "valid_until": datetime.date(2020, 2, 1),
    }
    from coach.plan.write import write_plan

    old = folder / "old.toml"
    old.write_text(write_plan(to_plan(draft, today=datetime.date(2020, 1, 2))))
    assert run(["draft", str(old), "--valid-until", "2099-01-01"]) == 0
    assert written(folder) == ["juniper-r2.toml", "old.toml"]


def test_a_plan_before_that_is_wrong_is_told_and_nothing_written(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = folder / "bad.toml"
    bad.write_text("coach_plan = 1\n[dog]\nname = 3\n")
    assert run(["draft", str(bad)]) == 2
    error = capsys.readouterr().err
    assert "bad.toml:3: dog.name: found 3" in error
    assert "nothing written" in error
    assert written(folder) == ["bad.toml"]


@pytest.mark.parametrize("extra", [[], ["--out", "other.toml"]])
def test_what_is_there_is_never_overwritten_unasked(
    extra: list[str], folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = folder / (extra[1] if extra else "juniper-r1.toml")
    path.write_text("something else")
    assert run(options("--region", LUMBAR, *extra)) == 2
    assert "is there already" in capsys.readouterr().err
    assert path.read_text() == "something else"
    assert run(options("--region", LUMBAR, "--replace", *extra)) == 0
    assert load_plan(path, today=TODAY).plan.dog.name == "Juniper"
    assert written(folder) == [path.name]


def test_even_replace_never_touches_the_plan_before(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(options("--region", LUMBAR)) == 0
    old = folder / "juniper-r1.toml"
    before = old.read_bytes()
    (folder / "alias.toml").symlink_to(old)
    for name in ("juniper-r1.toml", "alias.toml"):
        assert run(["draft", str(old), "--weight-kg", "10", "--out", name, "--replace"]) == 2
        assert "another file than PLAN" in capsys.readouterr().err
    assert old.read_bytes() == before


def test_a_folder_that_is_not_there_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(options("--region", LUMBAR, "--out", "no/such/place.toml")) == 2
    assert "cannot be written: No such file or directory" in capsys.readouterr().err


def test_a_file_is_written_whole_or_not_at_all(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = folder / "plan.toml"
    save_plan(path, "whole")
    with pytest.raises(PlanThere):
        save_plan(path, "another")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    for replace in (True, False):
        with pytest.raises(OSError, match="No space"):
            save_plan(folder / ("plan.toml" if replace else "new.toml"), "half", replace=replace)
    assert path.read_text() == "whole"
    assert written(folder) == ["plan.toml"]


def test_a_stick_without_links_is_written_to_as_well(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", no_links)
    save_plan(folder / "plan.toml", "whole")
    with pytest.raises(PlanThere):
        save_plan(folder / "plan.toml", "another")
    assert (folder / "plan.toml").read_text() == "whole"
    assert written(folder) == ["plan.toml"]


# Asked


class Script:
    """A prescriber who answers what a prompt asks, and has more than one answer where needed."""

    def __init__(self, answers: dict[str, list[str]]) -> None:
        self.answers = {start: list(found) for start, found in answers.items()}
        self.prompts: list[str] = []
        self.lines: list[str] = []

    def read(self, prompt: str) -> str:
        self.prompts.append(prompt)
        for start, answers in self.answers.items():
            if prompt.startswith(start):
                if not answers:
                    raise EOFError(prompt)
                return answers.pop(0)
        return ""


NEW = {
    "Name of the plan": ["Juniper Spine", "juniper"],
    "Prescriber": ["", "Dr. Ada Muster"],
    "Prescribed on": ["25.11.2026", "2026-11-25"],
    "Valid until": ["2026-11-01", "2099-12-31"],
    "Name of the dog": ["Juniper"],
    "Weight in kg": ["9500", "9.5"],
    "The laser, as you call it": ["invented laser"],
    "Class on its label": ["5", "3B"],
    "Wavelength": ["808"],
    "Mean power": ["100"],
    "Beam area": ["0.5"],
    "How often": ["many", "1"],
    "Course": ["induction", "induction:3x2, taper:1x2"],
    "Calm opening": ["", "20", "none"],
    "Region": ["", "lumbr", "lower back", "knee", ""],
    "Sides": ["left, rigth", "left right", "left"],
    "Faces": ["medial"],
    "Spots": ["0", "4", "1"],
    "Dose": ["40", "40s", "4J"],
}


def interview(script: Script, draft: Draft) -> Interview:
    return Interview(draft, today=TODAY, read=script.read, tell=script.lines.append)


def complete() -> Draft:
    draft = empty()
    script = Script(NEW)
    interview(script, draft).ask_everything()
    return draft


def test_answers_make_a_plan_and_bad_ones_are_asked_again() -> None:
    script = Script(NEW)
    draft = empty()
    interview(script, draft).ask_everything()
    plan = to_plan(draft, today=TODAY)
    assert plan.about.id == "juniper"
    assert plan.settle.leave_out
    assert [phase.weeks for phase in plan.course] == [2, 2]
    assert [order.region for order in plan.regions] == ["lumbar", "stifle"]
    assert plan.regions[0].seconds_each_spot == 40
    assert plan.regions[1].joules_each_spot == 4
    told = "\n".join(script.lines)
    for sentence in (
        '"Juniper Spine" found; allowed: small letters, digits and hyphens',
        "nothing found; allowed: Prescriber",
        '"25.11.2026" found; allowed: a date',
        "2026-11-01 found; allowed: 2026-11-25 (prescribed_on) or later",
        "9500 found; allowed: 0.5 to 120 kg (this looks like grams)",
        '"5" found; allowed: "1", "1C"',
        '"many" found; allowed: a whole number',
        '"induction" found; allowed: NAME:TIMESxWEEKS',
        '"20" found; allowed: seconds on each side with the unit s; or none',
        "nothing found; allowed: at least one region",
        '"lumbr" found. Did you mean "lumbar"?',
        '"rigth" found; allowed: "left"',
        "0 found; allowed: a whole number, 1 to 60",
        '"40" found; allowed: seconds (s), joules (J)',
    ):
        assert sentence in told, sentence


def test_spots_time_and_dose_are_told_as_it_goes() -> None:
    script = Script(NEW)
    interview(script, empty()).ask_everything()
    # Two sides of 4 spots for 40 s: 320 s; 100 mW for 40 s are 4 J; 8 s for each move, and 30 s
    # for the one turn of the dog to its side.
    assert "  lower back, left, right: 8 spots of 40 s, 5:20 min on the spots" in script.lines
    assert "  4.00 J a spot (8.00 J/cm2), 32.00 J in all" in script.lines
    assert "  So far: 8 spots, 6:24 min with moves and turns, 32.00 J" in script.lines
    assert "  So far: 9 spots, 7:42 min with moves and turns, 36.00 J" in script.lines


def test_no_prompt_of_a_new_plan_offers_a_number() -> None:
    script = Script(NEW)
    interview(script, empty()).ask_everything()
    for prompt in script.prompts:
        assert "[" not in prompt
    asked = [text for text in script.prompts if text.startswith(("Dose", "Spots", "Calm"))]
    assert len(asked) >= 6
    assert not any(re.search(r"\d", text.replace("cm2", "")) for text in asked)


def test_a_pulsed_laser_is_asked_until_its_mean_power_follows() -> None:
    pulsed = {
        "Mean power": ["", ""],
        "Peak power": ["400", ""],
        "Duty cycle": ["", "0.5"],
        "Beam area": ["0.5"],
    }
    script = Script(NEW | pulsed)
    draft = empty()
    interview(script, draft).ask_everything()
    assert to_plan(draft, today=TODAY).laser.power_uw == 200_000
    assert any("nothing found; allowed: the duty cycle" in line for line in script.lines)


def test_enter_keeps_everything_of_the_plan_before() -> None:
    before = to_plan(complete(), today=TODAY)
    draft = next_revision(before, today=TODAY)
    interview(Script({}), draft).ask_everything()
    after = to_plan(draft, today=TODAY)
    assert after.about.revision == before.about.revision + 1
    revised = after.about.model_copy(update={"revision": before.about.revision})
    assert after.model_copy(update={"about": revised}) == before


def test_regions_can_be_changed_removed_and_added() -> None:
    draft = next_revision(to_plan(complete(), today=TODAY), today=TODAY)
    answers = {
        "Keep, change": ["c", "remove"],
        "Sides": ["", "middle"],
        "Spots": ["5", "1"],
        "Dose": ["", "30s"],
        "Region": ["tail base", ""],
    }
    script = Script(answers)
    interview(script, draft).ask_everything()
    plan = to_plan(draft, today=TODAY)
    assert [order.region for order in plan.regions] == ["lumbar", "tail_base"]
    assert plan.regions[0].spots == 5
    assert plan.regions[0].seconds_each_spot == 40
    assert "lumbar: left, right, 4 spots, 40s" in "\n".join(script.lines)


def test_a_dash_empties_what_may_be_empty() -> None:
    draft = complete()
    answers = {"Beam area": ["-"], "Course": ["-"], "Weight": ["-", ""]}
    script = Script(answers)
    interview(script, draft).ask_everything()
    plan = to_plan(draft, today=TODAY)
    assert plan.laser.beam_area_cm2 is None
    assert plan.course == ()
    assert plan.dog.weight_kg == Decimal("9.5")


@pytest.mark.parametrize("there", [True, False])
def test_where_to_write_is_asked_until_it_is_safe(there: bool, folder: Path) -> None:
    old, new = folder / "old.toml", folder / "new.toml"
    old.write_text("old")
    if there:
        new.write_text("new")
    answers: dict[str, list[str]] = {
        "Write to": [str(old), ""],
        "Another file:": [str(new)],
        "Another file, or": ["replace"],
    }
    asking = interview(Script(answers), empty())
    assert asking.ask_where(folder / "r2.toml", replace=False, never=old) == (new, there)


# A real process on a real terminal


def on_terminal(folder: Path, arguments: list[str], typed: str) -> tuple[int, str]:
    """Run ``coach`` on a terminal of its own, with ``typed`` waiting on it."""
    master, slave = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "coach", *arguments],
        stdin=slave,
        stdout=slave,
        stderr=slave,
        cwd=folder,
        start_new_session=True,
    ) as process:
        os.close(slave)
        os.write(master, typed.encode())
        shown = b""
        while True:
            try:
                piece = os.read(master, 4096)
            except OSError:
                break
            if not piece:
                break
            shown += piece
        code = process.wait()
    os.close(master)
    return code, shown.decode().replace("\r\n", "\n")


def test_on_a_terminal_what_no_option_says_is_asked(folder: Path) -> None:
    arguments = options("--region", LUMBAR, weight_kg=None, repeats=None)
    code, shown = on_terminal(folder, arguments, "9500\n9.5\n1\n\n")
    assert code == 0, shown
    assert "this looks like grams" in shown
    plan = load_plan(folder / "juniper-r1.toml", today=TODAY).plan
    assert (plan.dog.weight_kg, plan.rules.repeats_allowed) == (Decimal("9.5"), 1)


@pytest.mark.parametrize("typed", ["9.5\n\x04", "\x04"], ids=["midway", "at once"])
def test_the_end_of_input_writes_nothing(typed: str, folder: Path) -> None:
    code, shown = on_terminal(folder, options("--region", LUMBAR, weight_kg=None), typed)
    assert code == 2
    assert "coach draft: given up; nothing written" in shown
    assert "Traceback" not in shown
    assert written(folder) == []


def test_ctrl_c_writes_nothing(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(*_: object, **__: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr("coach.cli.draft._finish", interrupted)
    assert run(options("--region", LUMBAR)) == 2
    assert "given up; nothing written" in capsys.readouterr().err
    assert written(folder) == []


# Answers and their reverse


NUMBERS = st.decimals(min_value=1, max_value=1800, places=1)


@given(number=NUMBERS, unit=st.sampled_from(["s", "J", "J/cm2"]), gap=st.sampled_from(["", " "]))
def test_a_dose_is_read_with_its_unit_and_told_back(number: Decimal, unit: str, gap: str) -> None:
    field = {
        "s": "seconds_each_spot",
        "J": "joules_each_spot",
        "J/cm2": "joules_per_cm2_each_spot",
    }[unit]
    assert read_dose(f"{number}{gap}{unit}") == {field: number}
    assert read_dose(dose_text({field: number})) == {field: number}


@given(count=st.integers(1, 60), spacing=st.none() | st.decimals(1, 30, places=1))
def test_a_count_is_read_and_told_back(count: int, spacing: Decimal | None) -> None:
    assert read_count(count_text({"spots": count})) == {"spots": count}
    by_tape: Draft = {"most_spots": count}
    if spacing is not None:
        by_tape["spacing_cm"] = spacing
    assert read_count(count_text(by_tape)) == by_tape


@given(number=NUMBERS)
def test_settle_is_read_and_told_back(number: Decimal) -> None:
    for answer in (f"{number}s", "none"):
        settle = read_settle(answer)
        assert read_settle(settle_text(settle)) == settle
    assert read_settle(f"{number}s") == {"seconds_each_side": number}


@given(
    name=st.text(st.characters(categories=["L"]), min_size=1),
    times=st.integers(0, 99),
    weeks=st.integers(0, 99),
)
def test_a_course_is_read_and_told_back(name: str, times: int, weeks: int) -> None:
    phase = read_course(f"{name}:{times}x{weeks}")
    assert phase == {"name": name, "times_a_week": times, "weeks": weeks}
    assert read_course(course_text(phase)) == phase


@pytest.mark.parametrize("key", list(regions()))
def test_every_region_can_be_ordered(key: str) -> None:
    place = regions()[key]
    faces = f":{','.join(place.aspects)}" if place.aspects else ""
    order = read_region(f"{key}:{','.join(place.sides)}{faces}:2:30s")
    draft = complete() | {"regions": [order]}
    (ordered,) = to_plan(draft, today=TODAY).regions
    assert tuple(ordered.sides) == place.sides
    assert tuple(ordered.aspects or ()) == place.aspects


def test_questions_offer_exactly_what_the_plan_allows() -> None:
    models: list[tuple[str, str, type[Table], Callable[[str], list[str]]]] = [
        ("laser", "laser_class", Laser, lambda text: text.split(", ")),
        ("laser", "starts", Laser, lambda text: text.split(", ")),
        ("session", "order", Rules, lambda text: text.split("; ")),
        ("session", "advance", Rules, lambda text: [w.split(",")[0] for w in text.split("; ")]),
    ]
    for table, name, model, read in models:
        (question,) = [q for q in QUESTIONS if (q.table, q.field) == (table, name)]
        allowed = typing.get_args(model.model_fields[name].annotation)
        assert read(question.ask.partition(": ")[2]) == list(allowed)


def test_what_holds_when_a_question_is_left_empty_is_what_the_plan_says() -> None:
    models: dict[str, type[Table]] = {
        "dog": Dog,
        "laser": Laser,
        "session": Rules,
        "limits": Limits,
    }
    checked = 0
    for question in QUESTIONS:
        model = models.get(question.table)
        default = model.model_fields[question.field].default if model else None
        if question.needed or default is None:
            continue
        words = {True: "yes", False: "no"}.get(default) if isinstance(default, bool) else default
        assert question.otherwise == str(words), question
        checked += 1
    assert checked >= 8

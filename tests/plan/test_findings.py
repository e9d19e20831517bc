"""What a careful colleague would remark on a plan that can be used."""

import subprocess
import sys
from pathlib import Path

import pytest

from coach.cli import run
from coach.plan.desk import Desk
from coach.plan.phase_findings import all_findings
from coach.plan.summary_text import FINDING_LINES, finding_lines
from tests.plan.worlds import PLAN, TODAY, changed, plain_findings, read


def remarks(text: str) -> list[tuple[str, str]]:
    return [(finding.field, finding.text) for finding in plain_findings(read(text))]


def test_nothing_to_remark() -> None:
    assert remarks(PLAN) == []


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ("spots = 4", "spots = 60", "regions", "over half an hour"),
        ("seconds_each_spot = 40", "seconds_each_spot = 4", "regions[1]", "less than 5 s a spot"),
        (
            "seconds_each_spot = 40",
            "seconds_each_spot = 40\njoules_each_spot = 4",
            "regions[1]",
            "the seconds rule",
        ),
        ("beam_area_cm2 = 0.5\n", "", "laser.beam_area_cm2", "J/cm2 stays blank"),
        # Class 3B, mean output 5-500 mW: WALT 2010, read second-hand.
        (
            "mean_power_mw = 100\nbeam_area_cm2 = 0.5\n",
            "mean_power_mw = 501\nbeam_area_cm2 = 2\n",
            "laser.laser_class",
            "501 mW is more than a laser of class 3B may give (500 mW)",
        ),
        # 61 days are valid, both ends counted; nine weeks are 63.
        ("weeks = 2", "weeks = 9", "plan.valid_until", "takes 63 days, the plan is valid for 61"),
        (
            "[[course]]",
            '[care]\nclearances = ["implant", "fever"]\n\n[[course]]',
            "care.clearances",
            "fever is news, not a standing fact",
        ),
        (
            'region = "hip"\nsides = ["right"]\naspects = ["lateral", "cranial"]',
            'region = "lumbar"\nsides = ["right"]',
            "regions",
            "lumbar right is ordered 2 times",
        ),
    ],
)
def test_a_remark(old: str, new: str, field: str, words: str) -> None:
    ((found_field, text),) = remarks(changed((old, new)))
    assert found_field == field
    assert words in text


@pytest.mark.parametrize(
    ("old", "new"),
    [
        # 500 mW over 2 cm2: 250 mW/cm2, below the skin limit.
        (
            "mean_power_mw = 100\nbeam_area_cm2 = 0.5\n",
            "mean_power_mw = 500\nbeam_area_cm2 = 2\n",
        ),
        ("seconds_each_spot = 40", "seconds_each_spot = 5"),
        ("weeks = 2", "weeks = 8"),
        ('laser_class = "3B"', 'laser_class = "4"'),
    ],
)
def test_no_remark_on_the_right_side_of_the_line(old: str, new: str) -> None:
    assert remarks(changed((old, new))) == []


STRONG = (
    ("mean_power_mw = 100\n", "mean_power_mw = 400\n"),
    ("joules_each_spot = 4", "joules_each_spot = 1"),
)
MANY = changed(
    ('starts = "stays on"\n', ""),
    ("repeats_allowed = 1\n", ""),
    ("[settle]\nseconds_each_side = 30\n\n", ""),
    ("seconds_each_spot = 40", "seconds_each_spot = 1800"),
    *STRONG,
)


def test_the_worst_comes_first() -> None:
    found = all_findings(read(MANY), today=TODAY)
    ranks = [finding.rank for finding in found]
    assert ranks == sorted(ranks)
    # 1800 s at 400 mW are 720 J.
    assert found[0].field == "regions[1]"
    assert "720 J on each spot" in found[0].text


def test_few_lines_are_shown_and_the_rest_is_counted() -> None:
    found = all_findings(read(MANY), today=TODAY)
    lines = finding_lines(found, most_lines=FINDING_LINES)
    assert len(lines) <= FINDING_LINES + 1
    shown = sum(line.startswith("- ") for line in lines)
    assert lines[-1] == f"  {len(found) - shown} more: coach check --findings"
    whole = " ".join(" ".join(finding_lines(found)).split())
    assert all(" ".join(finding.text.split()) in whole for finding in found)
    assert "more: coach check" not in "".join(finding_lines(found[:1], most_lines=FINDING_LINES))


def test_two_spots_at_the_row_take_no_line_and_below_it_five_at_most() -> None:
    hip = PLAN[: PLAN.index("[[regions]]")] + (
        '[[regions]]\nregion = "hip"\nsides = ["left"]\naspects = ["lateral", "cranial"]\n'
        "spots = 1\njoules_each_spot = {}\n"
    )
    at_row = [f for f in all_findings(read(hip.format(6)), today=TODAY) if f.rank == 3]
    below = [f for f in all_findings(read(hip.format(3)), today=TODAY) if f.rank == 3]
    assert at_row == []
    # Nine lines before findings were folded.
    assert len(finding_lines(below, most_lines=FINDING_LINES)) <= 5


def test_check_draft_take_and_desk_say_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = changed(("seconds_each_spot = 40", "seconds_each_spot = 1800"), *STRONG)
    expected = finding_lines(all_findings(read(text), today=TODAY), most_lines=FINDING_LINES)
    assert "720 J on each spot" in expected[0]
    path = tmp_path / "plan.toml"
    path.write_text(text, encoding="utf-8")
    said = {
        "check": ["check", str(path)],
        "draft": ["draft", str(path), "--out", str(tmp_path / "next.toml")],
        "take": ["take", str(path), "--yes"],
    }
    for name, words in said.items():
        run(words)
        told = capsys.readouterr()
        assert "\n".join(expected) in told.out, (name, told.out, told.err)
    desk = Desk.open(text, today=TODAY)
    assert list(desk.sheet().findings) == all_findings(read(text), today=TODAY)


@pytest.mark.long
def test_a_rehearsal_says_the_same(tmp_path: Path) -> None:
    """A real process: the page of the rehearsal itself needs a keyboard."""
    text = changed(("joules_each_spot = 4", "joules_each_spot = 1"))
    expected = finding_lines(all_findings(read(text), today=TODAY), most_lines=FINDING_LINES)
    path = tmp_path / "plan.toml"
    path.write_text(text, encoding="utf-8")
    words = ["rehearse", str(path), "--plain", "--silent", "--speed", "60"]
    done = subprocess.run(
        [sys.executable, "-m", "coach", *words], input="stop\n", capture_output=True, text=True,
        check=False, timeout=60,
    )  # fmt: skip
    assert "\n".join(["Ask your vet to look at this again:", *expected]) in done.stdout

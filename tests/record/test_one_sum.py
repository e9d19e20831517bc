"""One place adds up what was given: a search for another, and one figure in every output."""

import ast
import datetime
import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

import coach
from coach import paths
from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.anonymise import Names
from coach.handover.build_info import Record
from coach.handover.dog_case import read_case
from coach.handover.summary import summary_of
from coach.handover.tables import session_rows, spot_rows
from coach.journal.diary_entries import Correction
from coach.journal.journal import read_journal
from coach.plan.spots import Spot
from coach.record.corrections import corrected, lines_at
from coach.record.course_tally import Sums, course_of
from coach.record.tally import tally_of
from coach.reports.course_text import over_lines
from coach.reports.session_text import report_lines
from coach.session import commands as cmd
from coach.units import FJ_PER_J, NS_PER_S
from tests.handover.conftest import MADE
from tests.handover.dogs import PLAN, said, session
from tests.record.test_tally import session as tally_session
from tests.worlds import spots_for

ROOT = Path(coach.__file__).parent
# What was given, and what of the planned it is a part of.
GIVEN = frozenset({"given_ns", "given_fj", "planned_fj", "whole"})
ADDER = "record/part.py"
# One session and nothing more: the fold over its lines, what a correction moves between its spots,
# the machine and what a screen shows of it.
ONE_SESSION = frozenset(
    {
        "record/tally.py",
        "record/corrections.py",
        "handover/tables.py",
        "session/state.py",
        "session/view.py",
    }
)


def adds(tree: ast.AST) -> list[int]:
    """The lines in which something given is added up."""
    found: list[int] = []

    def is_given(node: ast.AST) -> bool:
        return isinstance(node, ast.Attribute) and node.attr in GIVEN

    def given(node: ast.AST) -> bool:
        return any(map(is_given, ast.walk(node)))

    for node in ast.walk(tree):
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in ("sum", "fsum", "reduce")
            and given(node)
        ):
            found.append(node.lineno)
        if (
            isinstance(node, ast.AugAssign)
            and isinstance(node.op, ast.Add)
            and is_given(node.value)
        ):
            found.append(node.lineno)
        if (
            isinstance(node, ast.BinOp)
            and isinstance(node.op, ast.Add)
            and any(is_given(side) for side in (node.left, node.right))
        ):
            found.append(node.lineno)
    return found


def test_the_search_finds_an_adder() -> None:
    for text in (
        "sum(s.given_ns for s in spots)",
        "total += spot.given_fj",
        "one.given_ns + other.given_ns",
    ):
        assert adds(ast.parse(text)) == [1]
    assert adds(ast.parse("spot.given_ns / 2")) == []


def test_only_one_function_adds_up_a_course() -> None:
    found = {
        path.relative_to(ROOT).as_posix(): lines
        for path in ROOT.rglob("*.py")
        if (lines := adds(ast.parse(path.read_text(encoding="utf-8"))))
    }
    assert ADDER in found
    assert found.keys() - {ADDER} <= ONE_SESSION


def left_spots(hold_s: Sequence[int]) -> tuple[Spot, ...]:
    """Spots on the left of an invented lower back."""
    return tuple(
        replace(spot, side="left", number=spot.index + 1, of=len(hold_s))
        for spot in spots_for(hold_s)
    )


@pytest.fixture
def other_side(own_world: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """A dog with one session of two spots on the left, 30 s each; the first was on the right."""
    folder = paths.dog_folder("Pip")
    folder.mkdir(parents=True)
    plan = PLAN.replace('"Juniper"', '"Pip"').replace('"demo-long-back"', '"demo"')
    (folder / "plan.toml").write_text(plan)
    path = session(folder, "2026-11-20", spots=left_spots((30, 30)))
    said(folder, Correction(session=path.stem, spot=1, what="wrong_side"))
    capsys.readouterr()
    return folder


def test_a_spot_given_on_the_other_side_is_one_of_two_in_every_output(
    other_side: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["tally", "--json"]) == Exit.DONE
    total = json.loads(capsys.readouterr().out)["sessions"][0]["total"]
    # Two spots were planned; the second had its seconds where it should have had them.
    assert (total["spots"], total["given"]) == (2, 1)
    assert run(["tally"]) == Exit.DONE
    (row,) = [line for line in capsys.readouterr().out.splitlines() if line.startswith("  all ")]
    assert row.split()[1] == "1/2"

    assert run(["tally", "--course", "--json"]) == Exit.DONE
    course = json.loads(capsys.readouterr().out)
    assert (course["total"]["planned"], course["total"]["whole"]) == (2, 1)

    case = read_case(other_side, today=datetime.date(2026, 11, 25))
    summary = summary_of(case, MADE, Names(), Record(sha256="0" * 64))
    totals = summary["totals"]
    # As logged both were complete; that is told too.
    assert (totals["spots"], totals["spots_given"], totals["spots_complete"]) == (2, 2, 1)
    (one,) = summary["sessions"]
    assert (one["spots"], one["spots_given"], one["spots_complete"]) == (2, 2, 1)


def test_a_correction_of_a_line_corrects_that_hold() -> None:
    # 8 s to get there, 7 s of the spot, then the whole of it again: 0.5 W x (7 + 20) s = 13.5 J.
    lines = tally_session([20], (15, cmd.Again())).lines
    logged = tally_of(lines)
    assert logged.total().given_fj * 2 == 27 * FJ_PER_J
    first, second = (
        [line["seq"] for line in lines if line["kind"] == kind][at]
        for kind, at in (("hold_started", 0), ("hold_ended", -1))
    )
    for line, left_s in ((first, 20), (first + 1, 20), (second, 7)):
        off = Correction(session="s", what="laser_was_off", line=line)
        then = corrected(logged, [off], at_line=lines_at(lines))
        assert then.tally is not None
        assert then.tally.total().given_ns == left_s * NS_PER_S
        assert then.tally.total().whole == (left_s == 20)
    both = [Correction(session="s", what="laser_was_off", line=at) for at in (first, second)]
    then = corrected(logged, both, at_line=lines_at(lines))
    assert then.tally is not None
    assert (then.tally.total().given_fj, then.tally.total().whole) == (0, 0)


def test_a_hold_on_the_other_side_counts_there_and_the_other_stays(other_side: Path) -> None:
    """One of two passes went to the other side: the table has a row for each."""
    path = session(other_side, "2026-11-22", spots=left_spots((30,)), commands=((15, cmd.Again()),))
    lines = read_journal(path).lines
    first = next(line["seq"] for line in lines if line["kind"] == "hold_started")
    said(other_side, Correction(session=path.stem, line=first, what="wrong_side"))
    case = read_case(other_side, today=datetime.date(2026, 11, 25))
    rows = [row for row in spot_rows(case, Names()) if row["session"] == path.stem]
    told = [(row["given_s"], row["counted_side"], row["counted_s"]) for row in rows]
    assert told == [("37", "left", "30"), ("0", "right", "7")]
    assert len({row["row"] for row in rows}) == 2


def test_light_on_the_way_is_told_as_up_to_so_much_more(
    own_world: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The demonstration: 21 spots, 770 s at 100 mW are 77 J; 21 ways of 8 s are 16.8 J more."""
    demo = Path(__file__).parents[2] / "plans" / "demo-long-back.toml"
    assert run(["check", str(demo)]) == Exit.DONE
    assert "up to 16.80 J more" in " ".join(capsys.readouterr().out.split())
    # 2 spots of 10 s at 0.5 W, each after a way of 8 s: 10 J, and up to 8 J more.
    tally = tally_of(tally_session([10, 10]).lines)
    assert (tally.total().given_fj, tally.way_fj) == (10 * FJ_PER_J, 8 * FJ_PER_J)
    more = "Up to 8.00 J more if the laser stayed on"
    assert more in " ".join(report_lines(tally))
    course = course_of(Sums.of([tally, tally]))
    assert course.way_fj == 16 * FJ_PER_J
    lines = over_lines("Pip", course, corrected={}, not_counted=0)
    assert "Up to 16.00 J more if the laser stayed on" in " ".join(lines)
    # With a button at each spot the head is dark on the way.
    dark = tally_session([10, 10])
    dark.lines[0]["data"]["options"]["laser_button"] = True
    assert tally_of(dark.lines).way_fj == 0
    # Where the laser was off all along, it was off on the way.
    off = Correction(session="s", what="laser_was_off")
    then = corrected(tally, [off], at_line=lambda _: None).tally
    assert then is not None
    assert then.way_fj == 0


def test_a_pause_on_the_way_is_no_light() -> None:
    # 3 s of the way, a pause of 60 s, the way once more (8 s): up to 11 s of light.
    commands = ((3, cmd.Pause("dog_moved")), (63, cmd.CarryOn()))
    tally = tally_of(tally_session([10], *commands).lines)
    assert tally.way_ns == 11 * NS_PER_S


def test_a_session_refused_at_the_questions_is_a_row_with_what_was_asked() -> None:
    """As release 0.1.0 wrote it: worse after last time, the vet had not said to go on."""
    old = Path(__file__).parents[1] / "data" / "0.1.0" / "juniper"
    case = read_case(old, today=datetime.date(2026, 11, 28))
    summary = summary_of(case, MADE, Names(), Record(sha256="0" * 64))
    (refused,) = [one for one in summary["sessions"] if one["refused"]]
    assert (refused["state"], refused["reason"], refused["counts"]) == (
        "not_begun",
        "not_ready",
        False,
    )
    assert refused["refused"] == [{"point": "worse", "answer": "yes", "outcome": "vet_not_asked"}]
    (row,) = [row for row in session_rows(case, Names()) if row["refused"]]
    assert row["refused"] == "worse yes vet_not_asked"

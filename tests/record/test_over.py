"""The tally over the course: against what was really given, and against figures worked by hand."""

import csv
import io
import json
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import jsonschema
import pytest
from pydantic import TypeAdapter

from coach.body.drawing import Mark, Tag, draw_dog
from coach.cli import run
from coach.journal.diary import write_entry
from coach.journal.diary_entries import Correction
from coach.journal.journal import journal_files, read_journal
from coach.plan.spots import spots_of
from coach.record.course_tally import Evenness, Sums, course_of, reached
from coach.record.tally import SessionTally, tally_of
from coach.reports.course_json import OverJson, over_json
from coach.units import NS_PER_S
from tests.handover.dogs import session
from tests.homes import FIRST, Evening, evening, write_session
from tests.plan.worlds import PLAN, read
from tests.sim.simulator import Evening as Simulated
from tests.worlds import Clock

S = NS_PER_S
SCHEMA = Path(__file__).parents[2] / "coach" / "reports" / "course.schema.json"


def sums_of(tallies: Iterable[SessionTally]) -> Sums:
    sums = Sums()
    for tally in tallies:
        sums.put(tally)
    return sums


def test_the_course_of_simulated_evenings_adds_up_to_what_was_held(tmp_path: Path) -> None:
    """The simulator keeps the truth by itself: the time for which the head was on each spot."""
    tallies = []
    truth_ns = loss_ns = planned_ns = cut = 0
    for seed in range(24):
        one = Simulated(seed, tmp_path / str(seed))
        one.run()
        (path,) = [path for path in journal_files(one.folder) if path.stat().st_size > 0][-1:]
        tally = tally_of(read_journal(path).lines)
        tallies.append(tally)
        if one.loss_ns == 0:
            assert sum(spot.given_ns for spot in tally.spots) == sum(one.truth.held_ns)
        cut += one.loss_ns > 0
        truth_ns += sum(one.truth.held_ns)
        loss_ns += one.loss_ns
        planned_ns += sum(spot.hold_ns for spot in one.spots)
    course = course_of(sums_of(tallies))
    assert 0 < cut < 24
    assert truth_ns - loss_ns <= course.total.given_ns <= truth_ns
    assert course.total.planned_ns == planned_ns
    assert course.total.given_ns == sum(side.part.given_ns for side in course.sides)
    assert course.sessions == 24


def test_each_spot_each_side_and_each_revision_has_what_it_was_given(tmp_path: Path) -> None:
    went: list[tuple[int, Evening]] = []
    for number in range(1, 13):
        one = evening(number, (4, 3, 2, 2))
        went.append((1 + number // 8, one))
        write_session(tmp_path, number, one, begins=FIRST, revision=1 + number // 8)
    tallies = [tally_of(read_journal(path).lines) for path in journal_files(tmp_path)]
    course = course_of(sums_of(tallies))
    for side in course.sides:
        for spot in side.spots:
            true_ns = sum(
                given_ns
                for _, one in went
                for where, given_ns in zip(one.spots, one.given_ns, strict=True)
                if (where.side, where.number) == (spot.side, spot.number)
            )
            assert spot.part.given_ns == true_ns
            # 0.5 W and 1 cm2, as in the header: J = J/cm2 = half the seconds.
            assert spot.given_j_cm2 == Fraction(true_ns, 2 * S)
    for revision in course.revisions:
        given = [sum(one.given_ns) for rev, one in went if rev == revision.revision]
        assert (revision.sessions, revision.part.given_ns) == (len(given), sum(given))
    (lumbar,) = course.evenness
    assert lumbar.left == course.sides[0].part.share


def test_how_far_the_plan_reached_is_counted_in_spots_and_seconds() -> None:
    # By hand. 20 spots of 30 s: 15 whole, two with 28.5 s (95 % exactly), one with 28 s, one
    # with 10 s, one with nothing. 17 have 95 %; the worst tenth is two: 0 + 10 of 60 s, and the
    # better of the two had a third of its seconds.
    shares = {
        (30 * S, 30 * S): 15,
        (28_500_000_000, 30 * S): 2,
        (28 * S, 30 * S): 1,
        (10 * S, 30 * S): 1,
        (0, 30 * S): 1,
    }
    found = reached(shares)
    assert (found.spots, found.enough) == (20, 17)
    assert (found.worst, found.worst_given_ns, found.worst_planned_ns) == (2, 10 * S, 60 * S)
    assert found.worst_best == Fraction(1, 3)
    # Seconds are held against each spot's own plan: 20 of 20 s is better off than 59 of 60 s.
    assert reached({(20 * S, 20 * S): 1, (59 * S, 60 * S): 1}).worst_given_ns == 59 * S
    assert reached({}).worst_best is None


def test_two_sides_are_even_when_both_had_the_same_part_of_their_plan() -> None:
    even = Evenness(region="lumbar", left=Fraction(9, 10), right=Fraction(3, 5))
    assert even.even == Fraction(2, 3)
    assert Evenness(region="lumbar", left=Fraction(0), right=Fraction(0)).even is None


def _home(home: Path) -> Path:
    folder = home / "state" / "dogs" / "pip"
    for number in range(1, 5):
        write_session(folder / "journals", number, evening(0, (4, 3)), begins=FIRST)
    return folder


def _correct(folder: Path, number: int, what: str, spot: int | None = None) -> None:
    stem = journal_files(folder / "journals")[number - 1].stem
    entry = Correction.model_validate({"session": stem, "what": what, "spot": spot})
    write_entry(folder, entry, dog="Pip", stamp=Clock().stamp)


def test_what_was_corrected_counts_as_corrected(
    own_world: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Four sessions of 4 s left, 3 s right; then the corrections, by hand."""
    folder = _home(own_world)
    _correct(folder, 1, "laser_was_off")
    _correct(folder, 2, "wrong_side", spot=1)
    _correct(folder, 3, "not_this_dog")
    for _again in range(2):  # the second time from the summary that was kept
        assert run(["tally", "--course", "pip", "--json"]) == 0
        told = json.loads(capsys.readouterr().out)
        jsonschema.validate(told, json.loads(SCHEMA.read_text()))
        left, right = told["sides"]
        assert told["sessions"] == 3
        assert left["sums"]["given_ns"] == 4 * S
        assert right["sums"]["given_ns"] == (3 + 4 + 3) * S
        assert (left["sums"]["planned_ns"], right["sums"]["planned_ns"]) == (12 * S, 9 * S)
        assert told["corrected"] == {"laser_was_off": 1, "wrong_side": 1, "not_this_dog": 1}
        assert {missed["reason"] for missed in left["missed"]} == {"laser_was_off", "wrong_side"}
        assert told["reached"] == {
            "spots": 6,
            "enough": 3,
            "worst": 1,
            "worst_given_ns": 0,
            "worst_planned_ns": told["reached"]["worst_planned_ns"],
            "worst_best": "0.000000",
        }


def test_the_table_the_picture_and_the_cells_say_the_same(
    own_world: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = _home(own_world)
    cut = evening(5, (4, 3))
    assert cut.given_ns == (4 * S, 0)
    write_session(folder / "journals", 5, cut, begins=FIRST, revision=2)
    assert run(["tally", "--course", "--look", "console"]) == 0
    text = capsys.readouterr().out
    assert "Pip: 5 sessions over the course" in text
    assert "Plan demo, revision 2: 1 session" in text
    assert all(len(line) <= 60 for line in text.splitlines())
    table, _, picture = text.partition("dog's right")
    for number, sign in (("1", "*"), ("2", "o")):
        assert f" {number}{sign} " in table
        assert f"{number}{sign}" in picture
    assert run(["tally", "--course", "--csv"]) == 0
    raw = capsys.readouterr().out
    rows = list(csv.DictReader(io.StringIO(raw, newline="")))
    assert [(row["side"], row["given_s"], row["prescribed_s"]) for row in rows] == [
        ("left", "20", "20"),
        ("right", "12", "15"),
    ]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["tally", "--csv"], "only together with --course"),
        (["tally", "--course", "Rex"], "found 'Rex'; allowed: one of Pip"),
        (["tally", "x.jsonl", "--course", "Pip"], "no files"),
    ],
)
def test_what_cannot_be_meant_is_refused(
    own_world: Path, capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    _home(own_world)
    assert run(words) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert told in captured.err


def test_the_schema_is_made_from_the_types_and_holds_a_course_without_sessions() -> None:
    schema = TypeAdapter(OverJson).json_schema()
    assert schema == json.loads(SCHEMA.read_text())
    told = over_json("Pip", course_of(sums_of([])), corrected={}, not_counted=0)
    jsonschema.validate(told, schema)


def test_tags_stand_near_their_places_and_never_run_into_each_other() -> None:
    mark = Mark(region="lumbar", side="left")
    tags = [Tag(mark=mark, text=f"{number}*") for number in range(4)]
    lines = draw_dog(width=60, height=20, look="console", view="top", tags=tags).text().split("\n")
    rows = [row for row, line in enumerate(lines) for number in range(4) if f"{number}*" in line]
    assert len(rows) == 4
    assert max(rows) - min(rows) == 3
    hidden = Mark(region="elbow", side="right", aspect="lateral")
    drawn = draw_dog(width=60, height=20, look="console", tags=[Tag(mark=hidden, text="9*")])
    assert "9*" not in drawn.text()


def test_logs_written_before_are_summed_by_their_own_header(tmp_path: Path) -> None:
    """A plan without [settle] once gave 30 s a side: what was given stays given."""
    plan_text = PLAN.replace("[settle]\nseconds_each_side = 30\n", "")
    assert not any(spot.settle for spot in spots_of(read(plan_text)))
    path = session(tmp_path, "2026-11-20", spots=spots_of(read(PLAN)))
    tally = tally_of(read_journal(path).lines)
    assert [spot.given_ns for spot in tally.spots if spot.settle] == [30 * S, 30 * S]
    course = course_of(sums_of([tally]))
    planned_ns = sum(spot.hold_ns for spot in spots_of(read(PLAN)))
    assert course.total.given_ns == course.total.planned_ns == planned_ns
    assert {"atlas"} <= {spot.region for side in course.sides for spot in side.spots}

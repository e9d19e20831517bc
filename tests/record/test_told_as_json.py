"""Courses and scores as programs read them, and all of a dog together: each field by hand."""

import datetime
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from coach.journal.diary import write_entry
from coach.journal.diary_entries import Correction
from coach.journal.journal import journal_files
from coach.record.adherence import Adherence
from coach.record.dog_record import read_whole
from coach.reports.calendar_json import course_json
from coach.reports.trend_json import trend_json
from coach.reports.trend_text import Series
from coach.units import NS_PER_S
from tests.homes import FIRST, evening, write_session
from tests.plan.courses import BERLIN, DAY, MONDAY, calendar_of, due, session
from tests.worlds import Clock, QuickDisk

S = NS_PER_S
FIGURES = Adherence(
    due=1,
    begun=9,
    complete=8,
    in_part=(Fraction(1, 4),),
    too_little=10,
    extra=11,
    behind=12,
    beyond=13,
    given=2,
    whole_course=3,
    on_the_day=4,
    in_window=5,
    day_unknown=6,
    longest_gap_days=7,
)


def test_a_course_has_every_session_and_every_figure() -> None:
    evening_of = datetime.datetime(2026, 12, 1, 19, tzinfo=BERLIN)
    calendar = calendar_of(
        due(1, MONDAY, "given", held=session(4, MONDAY, hour=20)),
        due(2, MONDAY + DAY, "to_come", planned=MONDAY, at=evening_of),
        assumed=True,
        extra=[session(5, MONDAY, trusted=False, plan_revision=2)],
        before=[session(3, MONDAY, began=None)],
        others=8,
        not_before=evening_of,
    )
    assert course_json(calendar, FIGURES, clock_trusted=False) == {
        "format": 2,
        "dog": "Juniper",
        "plan": "spine",
        "plan_revision": 3,
        "today": "2026-11-30",
        "clock_trusted": False,
        "start": "2026-11-30",
        "assumed": True,
        "missed": "ask",
        "not_before": "2026-12-01T19:00:00+01:00",
        "sessions": [
            {
                "number": 1,
                "phase": "build up",
                "planned_on": "2026-11-30",
                "day": "2026-11-30",
                "at": None,
                "state": "given",
                "given": {
                    "journal": 4,
                    "plan_revision": 3,
                    "began": "2026-11-30T20:00:00+01:00",
                    "day": "2026-11-30",
                },
            },
            {
                "number": 2,
                "phase": "build up",
                "planned_on": "2026-11-30",
                "day": "2026-12-01",
                "at": "2026-12-01T19:00:00+01:00",
                "state": "to_come",
                "given": None,
            },
        ],
        "extra": [
            {
                "journal": 5,
                "plan_revision": 2,
                "began": "2026-11-30T19:00:00+01:00",
                "day": None,
            }
        ],
        "part": [],
        "before": [{"journal": 3, "plan_revision": 3, "began": None, "day": None}],
        "other_plans": 8,
        "adherence": {
            "planned": 1,
            "due": 1,
            "begun": 9,
            "complete": 8,
            "in_part": [0.25],
            "too_little": 10,
            "extra": 11,
            "behind": 12,
            "beyond": 13,
            "given": 2,
            "whole_course": 3,
            "on_the_day": 4,
            "in_window": 5,
            "day_unknown": 6,
            "longest_gap_days": 7,
        },
    }
    bare = course_json(calendar_of(today=MONDAY + DAY), FIGURES, clock_trusted=True)
    assert (bare["today"], bare["clock_trusted"]) == ("2026-12-01", True)
    assert (bare["sessions"], bare["not_before"]) == ([], None)


def test_scores_have_their_scale_their_points_and_their_figures() -> None:
    began = datetime.datetime(2026, 1, 1, 19, tzinfo=datetime.UTC)
    rising = tuple((began + day * DAY, Decimal(day)) for day in range(5))
    # So many ties that there is no interval.
    tied = (*[(began, Decimal(1))] * 4, (began + DAY, Decimal("2.50")))
    told = trend_json(
        "Pip",
        [
            Series(name="stairs", scale=(0, 4), points=rising),
            Series(name="form", scale=None, points=tied),
            Series(name="sofa", scale=(0, 4), points=rising[:1]),
        ],
        [(began, 7)],
    )
    stairs, form, sofa = told["series"]
    assert (told["trend"], told["owners_own_scores"], told["dog"]) == (2, True, "Pip")
    assert told["sessions"] == [{"at": "2026-01-01T19:00:00+00:00", "given_fj": 7}]
    assert (stairs["name"], stairs["scale"]) == ("stairs", [0, 4])
    assert stairs["points"][1] == {"at": "2026-01-02T19:00:00+00:00", "value": "1"}
    # A point a day; 2 of the 120 orders of five scores are as clear.
    assert stairs["figures"] == {
        "slope": 1,
        "interval": [1, 1],
        "coverage": 1 - 2 / 120,
        "tau": 1,
        "p": 2 / 120,
    }
    assert (form["scale"], form["points"][4]["value"]) == (None, "2.50")
    assert form["figures"] is not None
    assert (form["figures"]["slope"], form["figures"]["interval"]) == (1.5, None)
    assert sofa["figures"] is None


def test_all_of_a_dog_together_counts_as_corrected_and_tells_what_it_could_not_use(
    tmp_path: Path,
) -> None:
    folder, journals = tmp_path / "pip", tmp_path / "pip" / "journals"
    for number in range(1, 5):
        write_session(journals, number, evening(0, (4, 3)), begins=FIRST, closed=number != 4)
    write_session(journals, 5, evening(0, (4, 3)), begins=FIRST, dog="Rex")
    stems = [path.stem for path in journal_files(journals)]
    for what, number, spot in (
        ("laser_was_off", 1, 1),
        ("not_this_dog", 2, None),
        ("note", 3, None),
        ("laser_was_off", 1, 9),
        ("wrong_side", 5, 1),
    ):
        entry = Correction.model_validate(
            {"session": stems[number - 1], "what": what, "spot": spot}
        )
        write_entry(folder, entry, dog="Pip", stamp=Clock().stamp, disk=QuickDisk())
    whole = read_whole(journals, "Pip", kept=None)
    assert whole.dog == "Pip"
    # 4 s on the left, 3 s on the right, at 0.5 W each; the first had its left with the laser off.
    told = [
        (brief.number, brief.given_ns // S, brief.given_fj, brief.whole) for brief in whole.briefs
    ]
    joule = 10**15
    assert told == [
        (1, 3, 3 * joule // 2, 1),
        (3, 7, 7 * joule // 2, 2),
        (4, 7, 7 * joule // 2, 2),
    ]
    assert sum(row[3] for row in whole.sums.places.values()) == (3 + 7 + 7) * S
    assert whole.corrected == {"laser_was_off": 1, "not_this_dog": 1}
    assert whole.not_counted == 0
    first, last = (f"{journals / stems[number]}.jsonl" for number in (0, 4))
    assert whole.remarks == (
        f"{last}: a session of Rex, not of Pip; not counted",
        f"{first}: a correction points at spot 9, no spot of this session",
        f"{last}: corrected, but not among the sessions that count",
    )

"""Scores over time: each row of the picture and each figure, worked out by hand.

The exact p of Mann and Kendall for n scores that only rise: 2 of n! orders are as clear, so 2/120
for five (counted by hand).
"""

import datetime
from collections.abc import Iterator, Sequence
from decimal import Decimal

import pytest

from coach import language
from coach.body.raster import Look
from coach.journal.diary_entries import AfterSession, Entry, FunctionScore
from coach.record.session_row import brief_of
from coach.record.tally import tally_of
from coach.reports.trend_text import Dose, Series, doses_of, plot, series_of, trend_lines
from tests.worlds import Lines, header_for, spots_for

FIRST = datetime.datetime(2026, 1, 1, 19, tzinfo=datetime.UTC)
DAY = datetime.timedelta(days=1)
NOT_WHY = "These are the owner's own scores. They tell how it looks at home, not why."


def series(
    *points: tuple[float, str], scale: tuple[int, int] | None = (0, 4), name: str = "stairs, 0 to 4"
) -> Series:
    return Series(
        name=name,
        scale=scale,
        points=tuple((FIRST + days * DAY, Decimal(value)) for days, value in points),
    )


def doses(*given: tuple[float, int]) -> list[Dose]:
    return [(FIRST + days * DAY, energy) for days, energy in given]


def drawn(one: Series, *given: tuple[float, int], width: int = 16, look: Look = "console") -> str:
    rows = plot(one, doses(*given), width=width, look=look)
    return "\n".join(rows)


# What is taken for a score


def test_scores_are_sorted_by_what_they_are_about() -> None:
    def said(day: int, trust: str = "rtc", **data: object) -> tuple[str, str, Entry]:
        wall = (FIRST + day * DAY).isoformat()
        return wall, trust, FunctionScore.model_validate(data)

    after = ("2026-01-01T19:00:00+00:00", "rtc", AfterSession(session="s"))
    entries = [
        after,
        said(2, score_0_10=7, activities={"stairs": 2}),
        said(1, trust="unknown", score_0_10=1, total={"instrument": "LOAD", "value": "9"}),
        said(0, score_0_10=0),
        said(1, trust="unknown", activities={"stairs": 1}),
        said(3, trust="synchronised", activities={"stairs": 0, "sofa": 4}),
        said(4, total={"instrument": "LOAD", "value": "21.5"}),
        said(4, total={"instrument": "COI", "value": "8"}),
    ]
    found, left_out = series_of(entries, dog="Pip", instrument="load")
    assert left_out == 2
    assert [(one.name, one.scale, one.asked) for one in found] == [
        ("How well Pip gets about, 0 to 10", (0, 10), False),
        ("stairs, 0 to 4", (0, 4), False),
        ("sofa, 0 to 4", (0, 4), False),
        ("LOAD", None, True),
        ("COI", None, False),
    ]
    points = [[((when - FIRST) // DAY, value) for when, value in one.points] for one in found]
    assert points == [
        [(0, Decimal(0)), (2, Decimal(7))],
        [(2, Decimal(2)), (3, Decimal(0))],
        [(3, Decimal(4))],
        [(4, Decimal("21.5"))],
        [(4, Decimal(8))],
    ]
    unasked, _left_out = series_of(entries, dog="Pip")
    assert [one.asked for one in unasked] == [False] * 5
    # Not even an activity that is called like the form.
    (like,), _left_out = series_of(
        [said(0, activities={"LOAD": 1})], dog="Pip", instrument="LOAD, 0 to 4"
    )
    assert (like.name, like.asked) == ("LOAD, 0 to 4", False)


# The picture


def test_each_score_stands_over_its_day_and_at_its_height() -> None:
    # Ten columns for nine days: a column a day. Of 9 J at most: 1 to 3 are a third, 4 to 6 two.
    given = (0, 1), (1, 3), (2, 4), (4, 6), (5, 7), (7, 4), (7, 5)
    assert (
        drawn(series((0, "0"), (3, "2"), (5, "1"), (9, "4")), *given)
        == """\
   4 |         *
     |
   2 |   *
     |     *
   0 |*
     +----------
   J  ..: :# #
      2026-01-01"""
    )


def test_the_days_of_the_sessions_widen_the_picture() -> None:
    # 21 columns for 20 days; room for both dates from there on.
    assert (
        drawn(series((5, "3"), scale=(0, 10)), (0, 2), (20, 2), width=27)
        == """\
  10 |
     |
   8 |
     |
   6 |
     |
   4 |
     |     *
   2 |
     |
   0 |
     +---------------------
   J  #                   #
      2026-01-01 2026-01-21"""
    )


def test_two_dates_need_their_room_and_a_narrow_picture_has_ten_columns() -> None:
    one = series((0, "0"), (20, "0"))
    assert drawn(one, width=27).splitlines()[-1] == "      2026-01-01 2026-01-21"
    assert drawn(one, width=26).splitlines()[-1] == "      2026-01-01"
    for width in (0, 15, 16):
        assert drawn(one, width=width).splitlines()[-3:] == [
            "   0 |*        *",
            "     +----------",
            "      2026-01-01",
        ]
    assert drawn(one, width=17).splitlines()[-2] == "     +-----------"


def test_a_single_moment_stands_at_the_left() -> None:
    assert (
        drawn(series((0, "4")), (0, 5))
        == """\
   4 |*
     |
   2 |
     |
   0 |
     +----------
   J  #
      2026-01-01"""
    )
    # Nothing given: no row of doses.
    assert drawn(series((0, "4")), (0, 0)).splitlines()[-2:] == [
        "     +----------",
        "      2026-01-01",
    ]


def test_the_rich_look_has_a_dot_and_eight_steps() -> None:
    given = [(float(day), day) for day in range(1, 9)]
    rows = drawn(series((0, "4"), (9, "4")), *given, look="colour").splitlines()
    assert rows[0] == "   4 |●        ●"
    assert rows[-2] == "   J   ▁▂▃▄▅▆▇█"


def test_the_total_of_a_form_gets_a_scale_of_its_own() -> None:
    def labels(*values: str) -> list[str]:
        one = series(*((day, value) for day, value in enumerate(values)), scale=None)
        rows = drawn(one).splitlines()
        assert rows[11] == "     +----------"
        return [row.partition("|")[0].strip() for row in rows[:11]]

    # At least ten apart, whole numbers below and above.
    assert labels("22.9", "30") == ["32", "", "30", "", "28", "", "26", "", "24", "", "22"]
    # 20 to 46 in ten steps of 2.6: 46, 40.8, 35.6, 30.4, 25.2, 20.
    assert labels("45.5", "20") == ["46", "", "41", "", "36", "", "30", "", "25", "", "20"]
    # A total of 45 may still rise above 45.
    assert labels("45", "20") == ["46", "", "41", "", "36", "", "30", "", "25", "", "20"]
    rows = drawn(series((0, "22"), (9, "31.9"), (3, "27"), scale=None)).splitlines()
    assert (rows[0], rows[5], rows[10]) == ("  32 |         *", "     |   *", "  22 |*")


# In words


def words(one: Series, *, left_out: int = 0, asked: bool = False) -> list[str]:
    """What is said below the picture, unwrapped."""
    of = Series(name=one.name, scale=one.scale, points=one.points, asked=asked)
    lines = trend_lines([of], [], left_out=left_out, width=200, look="console")
    assert lines[0] == f"{one.name}: the owner's own scores"
    below = next(
        place
        for place, line in enumerate(lines)
        if line.endswith("2026-01-01") or line.startswith("      2026-01-01")
    )
    return lines[below + 1 :]


def weekly(*values: str, name: str = "stairs, 0 to 4") -> Series:
    return series(*((7 * n, value) for n, value in enumerate(values)), name=name, scale=(0, 40))


def test_few_scores_are_counted_and_no_more_is_said() -> None:
    few = "Too few to say which way they go (fewer than 5)."
    assert words(weekly("4")) == ["1 score.", few, "", NOT_WHY]
    assert words(weekly("1", "2", "3", "4")) == ["4 scores.", few, "", NOT_WHY]
    same = "All of one day or all the same: no way to say which way they go."
    assert words(weekly("4", "4", "4", "4", "4")) == ["5 scores.", same, "", NOT_WHY]


def test_the_slope_is_in_points_a_month_with_its_sign() -> None:
    # One point a day, up or down: 30 in 30 days, whichever two are taken. From the least slope of
    # five scores to the greatest: all orders but 2 of 120, so 98.3 %.
    rising = series(*((day, str(day)) for day in range(5)), scale=(0, 10))
    falling = series(*((day, str(9 - day)) for day in range(5)), scale=(0, 10))
    assert words(rising) == [
        "5 scores.",
        "Slope: +30.00 points in 30 days (98 % interval: +30.00 to +30.00).",
        "Theil-Sen; Mann-Kendall: tau 1.00, p 0.017.",
        "",
        NOT_WHY,
    ]
    assert words(falling)[1:3] == [
        "Slope: -30.00 points in 30 days (98 % interval: -30.00 to -30.00).",
        "Theil-Sen; Mann-Kendall: tau -1.00, p 0.017.",
    ]


def test_no_slope_has_no_sign_and_its_interval_has_both() -> None:
    # 0 1 2 1 0 on five days: slopes 1 1 1/3 0, 1 0 -1/3, -1 -1, -1; the middle one is 0.
    slope, test = words(series(*enumerate("01210"), scale=(0, 4)))[1:3]
    assert slope == "Slope: 0 points in 30 days (98 % interval: -30.00 to +30.00)."
    # As many pairs rise as fall.
    assert test == "Theil-Sen; Mann-Kendall: tau 0.00, p 1.000."


def test_a_slope_without_an_interval_says_so_by_saying_none() -> None:
    # Four of five on one day: four slopes, and the later day is as often first, second ... or last
    # in the order: even from the least to the greatest slope they cover 3 of 5 cases.
    slope = words(series((0, "1"), (0, "1"), (0, "1"), (0, "1"), (1, "2")))[1]
    assert slope == "Slope: +30.00 points in 30 days."


@pytest.fixture
def german() -> Iterator[None]:
    language.use("de", language.English())
    yield
    language.use(language.ENGLISH)


@pytest.mark.usefixtures("german")
def test_figures_have_the_decimal_sign_of_the_language() -> None:
    assert words(series(*((day, str(day)) for day in range(5)), scale=(0, 10)))[1:3] == [
        "Slope: +30,00 points in 30 days (98 % interval: +30,00 to +30,00).",
        "Theil-Sen; Mann-Kendall: tau 1,00, p 0,017.",
    ]


def test_what_mattered_to_owners_is_told_of_a_form_that_the_vet_asks_for() -> None:
    # LOAD -4, COI -14: PMC10511076, as in people.md.
    for name, points in (("LOAD", -4), ("coi", -14)):
        assert words(weekly("9", name=name), asked=True)[2] == (
            f"A change of {points} points is the smallest that mattered to owners in a published "
            "study (PMC10511076)."
        )
        assert words(weekly("9", name=name))[2] == ""
    assert words(weekly("9", name="Own form"), asked=True)[2] == ""


def told(found: Sequence[Series], **more: int) -> list[str]:
    return trend_lines(found, [], look="console", width=60, **more)


def test_without_scores_the_owner_is_told_how_to_give_some() -> None:
    assert told([]) == [
        "No scores yet. coach score asks for them.",
        "These are the owner's own scores. They tell how it looks at",
        "  home, not why.",
    ]
    assert told([], left_out=1)[1:3] == [
        "1 score is left out: the clock could not be trusted then.",
        "These are the owner's own scores. They tell how it looks at",
    ]
    assert told([], left_out=2)[1:3] == [
        "2 scores are left out: the clock could not be trusted then.",
        "These are the owner's own scores. They tell how it looks at",
    ]


def test_each_series_has_a_heading_a_picture_and_words_of_its_own() -> None:
    long = series((0, "1"), name="to climb all the stairs to the first floor, 0 to 4")
    lines = trend_lines([long, weekly("4")], doses((0, 1)), width=40, look="console")
    assert lines[:3] == [
        "to climb all the stairs to the first",
        "  floor, 0 to 4: the owner's own scores",
        "   4 |",
    ]
    again = lines.index("stairs, 0 to 4: the owner's own scores")
    assert lines[again - 4 : again] == [
        "1 score.",
        "Too few to say which way they go (fewer",
        "  than 5).",
        "",
    ]
    assert sum(line.startswith("   J  #") for line in lines) == 2
    assert "No scores yet" not in " ".join(lines)


def test_doses_are_those_of_sessions_whose_day_is_known() -> None:
    lines = Lines(header_for(spots_for([10])))
    row = brief_of("000001-x.jsonl", 1, tally_of(lines.lines), lines.lines)
    rows = [
        row._replace(trust=trust, opened_wall=(FIRST + n * DAY).isoformat(), given_fj=n)
        for n, trust in enumerate(("synchronised", "unknown", "rtc"))
    ]
    assert doses_of(rows) == [(FIRST, 0), (FIRST + 2 * DAY, 2)]

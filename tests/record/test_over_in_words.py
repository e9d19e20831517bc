"""The tally over the course as it is read: a whole page by hand, and each line that may lack.

0.5 W all along, so joules are half the seconds; halves are rounded to even. Region words: the
region file of the body room.
"""

from fractions import Fraction

import pytest

from coach import language
from coach.body.drawing import Mark, Tag, draw_dog
from coach.body.regions import Side, region
from coach.body.site import Flank, Site
from coach.record.course_tally import (
    Course,
    Evenness,
    Missed,
    Reached,
    Revision,
    SideSum,
    SiteSum,
)
from coach.record.part import Part
from coach.reports.course_text import over_lines, pictures
from coach.units import FJ_PER_J, NS_PER_S

S = NS_PER_S
NOBODY = Reached(spots=0, enough=0, worst=0, worst_given_ns=0, worst_planned_ns=0, worst_best=None)
COACHED = "Counted by the timer (coached), not measured."


def part(given_s: float, planned_s: float) -> Part:
    given_ns, planned_ns = int(given_s * S), int(planned_s * S)
    return Part(
        planned=1,
        whole=0,
        planned_ns=planned_ns,
        given_ns=given_ns,
        planned_fj=planned_ns * FJ_PER_J // (2 * S),
        given_fj=given_ns * FJ_PER_J // (2 * S),
    )


def spot(
    number: int,
    given_s: float,
    planned_s: float,
    *,
    fluence: tuple[str, str] | None = None,
    where: str = "lumbar",
    side: str = "left",
    aspect: str | None = None,
) -> SiteSum:
    given, planned = (None, None) if fluence is None else map(Fraction, fluence)
    return SiteSum(
        site=Site(where, side, aspect, number),  # type: ignore[arg-type]
        part=part(given_s, planned_s),
        planned_j_cm2=planned,
        given_j_cm2=given,
    )


def side_of(
    *spots: SiteSum, missed: tuple[tuple[Missed, int], ...] = (), left_for_next: int = 0
) -> SideSum:
    given = sum(one.part.given_ns for one in spots)
    planned = sum(one.part.planned_ns for one in spots)
    return SideSum(
        flank=spots[0].site.flank,
        part=part(given / S, planned / S),
        planned_j_cm2_a_spot=None,
        given_j_cm2_a_spot=None,
        spots=spots,
        missed=missed,
        left_for_next=left_for_next,
    )


def course_of(
    *sides: SideSum,
    sessions: int = 1,
    revisions: tuple[Revision, ...] = (),
    total: Part | None = None,
    evenness: tuple[Evenness, ...] = (),
    reached: Reached = NOBODY,
) -> Course:
    return Course(
        sessions=sessions,
        revisions=revisions,
        total=total or part(0, 0),
        sides=sides,
        evenness=evenness,
        reached=reached,
    )


PAGE = """\
Pip: 3 sessions over the course
  (2 not counted: rehearsed or never begun)
  Corrected afterwards in 2 sessions: the laser was off
  Corrected afterwards in 1 session: the other side was
    treated
  Plan back, revision 1: 1 session, 99 % of its seconds
  Plan back, revision 2: 2 sessions, 100 % of their seconds

18 of 20 planned spots got at least 95 % of their seconds
  (90 %).
The worst-off tenth of the spots (2) got 9.5 of 60 s
  together.

                     seconds             J       J/cm2
lower back / lumbar spine, L1-L7
 1✓ left             150/150     75.0/75.0             100 %
    1                  90/90     45.0/45.0   45.0/45.0 100 %
    2                  60/60     30.0/30.0   30.0/30.0 100 %
 2○ right            27.5/90     13.8/45.0              30 %
    1                27.5/90     13.8/45.0   13.8/45.0  30 %
inside and outside
 3✓ left               67/60     33.5/30.0             111 %
    medial 1             0/0       0.0/0.0     0.0/0.0
    medial 2            10/0       5.0/0.0   999.9/1.0
    lateral 1          57/60     28.5/30.0    0.0/1000  95 %
gills
 4× both                0/30      0.0/15.0               0 %
    1                   0/30      0.0/15.0               0 %
all              1990.5/2100    995.2/1050              94 %
J/cm2 is blank where the beam area is unknown or was not
  always the same.
  lower back: left 100 % of its plan, right 30 %
  gills: left 0 % of its plan, right 99 %
Not given as planned:
  lower back, right: 2 x cut short (no time left)
  lower back, right: 1 x not reached
  lower back, right: 3 x left for next time
  gills, both: 1 x skipped (sore)
✓ at least 95 % of the planned seconds, ○ less, × nothing.
  Left and right are the dog's.
Counted by the timer (coached), not measured.
"""


def whole_course() -> Course:
    def missed(where: str, side: str, outcome: str, reason: str) -> Missed:
        return Missed(Flank(where, side), outcome, reason)  # type: ignore[arg-type]

    def revision(plan: str, number: int, sessions: int, of: Part) -> Revision:
        return Revision(plan_id=plan, revision=number, sessions=sessions, finished=0, part=of)

    return course_of(
        side_of(
            spot(1, 90, 90, fluence=("45", "45")),
            spot(2, 60, 60, fluence=("30", "30")),
        ),
        side_of(
            spot(1, 27.5, 90, fluence=("13.75", "45"), side="right"),
            missed=(
                (missed("lumbar", "right", "cut_short", "no_time"), 2),
                (missed("lumbar", "right", "not_reached", ""), 1),
            ),
            left_for_next=3,
        ),
        side_of(
            spot(1, 0, 0, fluence=("0", "0"), where="stifle", aspect="medial"),
            spot(1, 57, 60, fluence=("0", "1000"), where="stifle", aspect="lateral"),
            spot(2, 10, 0, fluence=("999.9", "1"), where="stifle", aspect="medial"),
        ),
        side_of(
            spot(1, 0, 30, where="gills", side="both"),
            missed=((missed("gills", "both", "skipped", "sore"), 1),),
        ),
        sessions=3,
        # 199 of 200 s is 99.5 %: rounded down, so that only what is whole is 100 %.
        revisions=(
            revision("back", 1, 1, part(199, 200)),
            revision("back", 2, 2, part(200, 200)),
        ),
        total=part(1990.5, 2100),
        evenness=(
            Evenness(region="lumbar", left=Fraction(1), right=Fraction(55, 180)),
            Evenness(region="gills", left=Fraction(0), right=Fraction(999, 1000)),
        ),
        reached=Reached(
            spots=20,
            enough=18,
            worst=2,
            worst_given_ns=9_500_000_000,
            worst_planned_ns=60 * S,
            worst_best=Fraction(1, 3),
        ),
    )


def test_a_whole_page_by_hand() -> None:
    corrected = {"wrong_side": 1, "laser_was_off": 2}
    lines = over_lines("Pip", whole_course(), corrected=corrected, not_counted=2)
    place = region("stifle")
    words = f"{place.owner_words} / {place.term}"
    expected = PAGE.replace("inside and outside", words).splitlines()
    assert [line.rstrip() for line in lines] == expected
    assert max(map(len, lines)) == 60


def told(course: Course, **more: int) -> list[str]:
    lines = over_lines(
        "Pip", course, corrected={}, not_counted=more.get("not_counted", 0), look="console"
    )
    return [line.rstrip() for line in lines]


def test_a_course_without_sessions_is_told_as_one() -> None:
    assert told(course_of(sessions=0)) == [
        "Pip: 0 sessions over the course",
        "",
        "Nothing was planned and given yet.",
        "",
        "                     seconds             J       J/cm2",
        "all                      0/0       0.0/0.0",
        "* at least 95 % of the planned seconds, o less, x nothing.",
        "  Left and right are the dog's.",
        COACHED,
    ]
    assert told(course_of(sessions=1), not_counted=1)[:2] == [
        "Pip: 1 session over the course",
        "  (1 not counted: rehearsed or never begun)",
    ]


def test_one_spot_is_told_as_one() -> None:
    one = Reached(
        spots=1,
        enough=1,
        worst=1,
        worst_given_ns=30 * S,
        worst_planned_ns=30 * S,
        worst_best=Fraction(1),
    )
    assert told(course_of(reached=one))[2:5] == [
        "1 of 1 planned spot got at least 95 % of its seconds (100",
        "  %).",
        "The worst-off tenth of the spots (1) got 30 of 30 s.",
    ]


@pytest.mark.parametrize(
    ("given_s", "planned_s", "sign"),
    [
        (0, 30, "x"),
        (0.5, 30, "o"),
        # 95 % of 60 s is 57 s.
        (56.9, 60, "o"),
        (57, 60, "*"),
        (61, 60, "*"),
        # Given where nothing was planned: not less than planned.
        (1, 0, "*"),
        (0, 0, "x"),
    ],
)
def test_a_sign_tells_how_much_of_its_plan_a_place_had(
    given_s: float, planned_s: float, sign: str
) -> None:
    course = course_of(side_of(spot(1, given_s, planned_s, fluence=("1", "1"))))
    (row,) = [line for line in told(course) if " left " in line]
    assert row.startswith(f" 1{sign} left ")


def test_joules_to_the_square_centimetre_need_both_numbers() -> None:
    blank = "J/cm2 is blank where the beam area is unknown or was not"
    known = course_of(side_of(spot(1, 1, 1, fluence=("0.5", "0.5"))))
    assert blank not in told(known)
    half = spot(1, 1, 1, fluence=("0.5", "0.5"))
    one_sided = SiteSum(
        site=Site("lumbar", "left"),
        part=half.part,
        planned_j_cm2=None,
        given_j_cm2=Fraction(1),
    )
    (row,) = [line for line in told(course_of(side_of(one_sided))) if line.startswith("    1 ")]
    assert row.split() == ["1", "1/1", "0.5/0.5", "100", "%"]
    # It is enough that one place of one side does not know it.
    both = course_of(side_of(half, spot(2, 1, 1)), side_of(spot(1, 1, 1, side="right")))
    assert blank in told(both)


def test_what_was_left_for_the_next_time_is_not_missed() -> None:
    course = course_of(side_of(spot(1, 1, 1, fluence=("1", "1")), left_for_next=1))
    lines = told(course)
    at = lines.index("Not given as planned:")
    assert lines[at + 1] == "  lower back, left: 1 x left for next time"
    assert "Not given as planned:" not in told(course_of(side_of(spot(1, 1, 1))))


def test_a_reason_of_a_newer_program_is_told_as_it_stands() -> None:
    # Its name is no text of the catalogue, on which the tests insist otherwise.
    language.use(language.ENGLISH)
    missed = Missed(Flank("gills", "both"), "skipped", "moonlight")  # type: ignore[arg-type]
    course = course_of(side_of(spot(1, 0, 1, where="gills", side="both"), missed=((missed, 1),)))
    assert "  gills, both: 1 x skipped (moonlight)" in told(course)


# The picture


def tag(number: int, sign: str, where: str, side: Side, aspect: str | None = None) -> Tag:
    return Tag(mark=Mark(region=where, side=side, aspect=aspect), text=f"{number}{sign}")


def test_every_place_stands_in_the_picture_of_its_side_with_its_number() -> None:
    course = course_of(
        side_of(spot(1, 30, 30, side="right")),
        side_of(spot(1, 0, 30, where="gills")),
        side_of(spot(1, 10, 30, side="middle")),
        side_of(spot(1, 0, 30, where="stifle", aspect="lateral")),
        # The inner face of the left leg is seen from the right, when that leg lies below.
        side_of(spot(1, 30, 30, where="hock", aspect="medial")),
        side_of(spot(1, 30, 30, where="elbow", side="right", aspect="lateral")),
        # A side, a face that a joint does not have, and a joint without a face.
        side_of(spot(1, 30, 30, where="stifle", side="middle", aspect="lateral")),
        side_of(spot(1, 30, 30, where="stifle", side="right", aspect="palmar")),
        side_of(spot(1, 30, 30, where="hip", side="right")),
        side_of(spot(1, 30, 30, where="hip"), spot(1, 30, 30, where="hip", aspect="lateral")),
    )
    drawn = pictures(course, width=70, height=22, look="console")
    expected = [
        draw_dog(
            width=70,
            height=22,
            look="console",
            view="top",
            side="left",
            tags=[tag(1, "*", "lumbar", "right"), tag(3, "o", "lumbar", "middle")],
        ),
        draw_dog(
            width=70,
            height=22,
            look="console",
            side="left",
            tags=[tag(4, "x", "stifle", "left", "lateral")],
        ),
        draw_dog(
            width=70,
            height=22,
            look="console",
            side="right",
            tags=[tag(5, "*", "hock", "left", "medial"), tag(6, "*", "elbow", "right", "lateral")],
        ),
    ]
    assert [one.text() for one in drawn] == [one.text() for one in expected]
    for one, texts in zip(drawn, (("1*", "3o"), ("4x",), ("5*", "6*")), strict=True):
        assert all(text in one.text() for text in texts)
    assert pictures(course_of(), width=70, height=22, look="console") == []

"""The report of sessions: whole pages by hand.

0.5 W on 1 cm2 all along, so that J and J/cm2 are half the seconds; halves are rounded to even.
Region words: the region file of the body room.
"""

import dataclasses
from typing import Any

from coach import language
from coach.body.regions import region
from coach.body.site import Site
from coach.record.tally import LeftSpot, SessionTally, SpotTally, tally_of
from coach.reports.session_text import course_lines, report_lines
from coach.units import NS_PER_S
from tests.worlds import Lines, header_for, spots_for

S = NS_PER_S


def spot(number: int, planned_s: float, given_s: float, **said: Any) -> SpotTally:
    fields: dict[str, Any] = {
        "index": number - 1,
        "site": Site(
            said.pop("region", "lumbar"),
            said.pop("side", "left"),
            said.pop("aspect", None),
            number,
        ),
        "of": 2,
        "settle": False,
        "note": "",
        "planned_ns": int(planned_s * S),
        "given_ns": int(given_s * S),
        "outcome": "given",
        "reason": "",
        "repeats": 0,
        "pauses": (),
        "started_wall": None,
        "ended_wall": None,
    }
    return SpotTally(**{**fields, **said})


def tally(*spots: SpotTally, **said: Any) -> SessionTally:
    """A finished session of New Year's Day 2025 by plan "demo"."""
    one = tally_of(Lines(header_for(spots_for([10]))).lines)
    return dataclasses.replace(one, state="finished", spots=spots, **said)


def left(side: str, count: int, **said: Any) -> tuple[LeftSpot, ...]:
    site = Site(**{"region": "lumbar", "side": side, **said})
    return (LeftSpot(site=site, of=2, planned_ns=S),) * count


PLAIN = """\
Pip: plan demo, revision 1, prescribed by Dr. Invented
Session of 2025-01-01 19:00: finished
          spots      seconds               J    J/cm2 a spot
lower back / lumbar spine, L1-L7
  left      2/2        25/25     12.50/12.50 5.0-7.5/5.0-7.5
  all       2/2        25/25     12.50/12.50
Every spot had its seconds.
Counted by the timer (coached), not measured.
"""

TOGETHER = """\
Pip: 2 sessions together
(1 not counted: rehearsed or never begun)
          spots      seconds               J    J/cm2 a spot
lower back / lumbar spine, L1-L7
  left      3/4      35.5/50     17.75/25.00
                            J/cm2 a spot: 7.8-10.0/10.0-15.0
gills
  both      0/1         0/20      0.00/10.00        0.0/10.0
Counted by the timer (coached), not measured.
"""

ODD = """\
Pip: plan demo, revision 1, prescribed by Dr. Invented
Session of 2025-01-01 19:00 (clock not to be trusted):
  stopped early (no time left); carried on after a cut (2 x)
REHEARSAL, laser off: nothing of this counts.
REPAIRED: two lines; what was left out is not counted.
          spots      seconds               J    J/cm2 a spot
lower back / lumbar spine, L1-L7
  left      1/2      10.5/25      5.25/12.50 0.2-5.0/5.0-7.5
  right     0/2         0/25      0.00/12.50     0.0/5.0-7.5
STIFLE
  left      1/1        30/20     15.00/10.00       15.0/10.0
gills
  both      0/1         0/20      0.00/10.00        0.0/10.0
  all       2/6      40.5/90     20.25/45.00
Not given as planned:
  lower back, left, spot 2 of 2: cut short (no time left),
    0.5 of 15 s
  gills, both, spot 1 of 2: skipped, 0 of 20 s
  2 spots not reached (cut off), from lower back, right,
    spot 1 of 2 to lower back, right, spot 2 of 2
Left for next time from the start, not missed:
  lower back, left: 2 spots
  lower back, right: 1 spot
  gills, both, dorsal: 1 spot
  knee, left, medial, spot 1 of 2: given again (3 x)
Started by the owner although it is too soon; it is late:
  the vet said so
  meanwhile: player lost
  meanwhile: sound device gone
  DOES NOT FIT: one hold has no end
  DOES NOT FIT: two holds overlap
Counted by the timer (coached), not measured.
"""


def odd() -> SessionTally:
    return tally(
        spot(1, 10, 10),
        spot(2, 15, 0.5, outcome="cut_short", reason="no_time"),
        spot(1, 10, 0, side="right", outcome="not_reached", reason="cut_off"),
        spot(2, 15, 0, side="right", outcome="not_reached", reason="cut_off"),
        spot(1, 20, 30, region="stifle", aspect="medial", repeats=3),
        spot(1, 20, 0, region="gills", side="both", outcome="skipped"),
    )


def test_everything_that_a_report_can_tell() -> None:
    place = region("stifle")
    one = dataclasses.replace(
        odd(),
        state="stopped",
        reason="no_time",
        trust="unknown",
        cuts=2,
        rehearsal=True,
        repaired="two lines",
        overruled=("it is too soon", "it is late", "the vet said so"),
        notices=("player_lost", "sound_device_gone", "player_lost"),
        problems=("one hold has no end", "two holds overlap"),
        left_for_next=left("left", 2)
        + left("right", 1)
        + left("both", 1, region="gills", aspect="dorsal"),
    )
    words = f"{place.owner_words} / {place.term}"
    expected = ODD.replace("STIFLE", words).replace("knee", place.owner_words)
    assert report_lines(one) == expected.splitlines()


def test_an_ordinary_report_is_short() -> None:
    one = tally(spot(1, 10, 10), spot(2, 15, 15))
    assert report_lines(one) == PLAIN.splitlines()
    # A reason belongs to a stop, and a clock that was only not checked is said to be so.
    told = report_lines(dataclasses.replace(one, reason="no_time", trust="rtc"))
    assert told[1:3] == [
        "Session of 2025-01-01 19:00 (clock not checked): finished",
        PLAIN.splitlines()[2],
    ]
    (missed,) = [
        line
        for line in report_lines(tally(spot(1, 10, 0, outcome="not_reached", reason="cut_off")))
        if "not reached" in line
    ]
    assert missed == "  lower back, left, spot 1 of 2: not reached (cut off), 0 of"


def test_sessions_together_are_added_up_for_each_dog_with_more_than_one() -> None:
    first = tally(spot(1, 10, 10), spot(2, 15, 15))
    gills = spot(1, 20, 0, region="gills", side="both", outcome="skipped")
    second = tally(spot(1, 10, 10), spot(2, 15, 0.5, outcome="cut_short"), gills)
    rehearsed = dataclasses.replace(first, rehearsal=True)
    other = dataclasses.replace(first, dog="Rex")
    sessions = [first, other, second, rehearsed]
    lines = course_lines(sessions)
    expected: list[str] = []
    for one in sessions:
        expected += [*report_lines(one), ""]
    assert lines[: len(expected)] == expected
    # 20 and 15.5 s over the two places; 7.75 J/cm2.
    assert lines[len(expected) :] == TOGETHER.splitlines()
    assert course_lines([first]) == PLAIN.splitlines()
    assert "Pip: 1 session together" in course_lines([first, rehearsed])
    unknown = course_lines([first, dataclasses.replace(first, beam_area_um2=None)])
    assert unknown[-3:] == [
        "J/cm2 is blank where the beam area is unknown or was not",
        "  always the same.",
        "Counted by the timer (coached), not measured.",
    ]
    assert course_lines([rehearsed, rehearsed])[-4:-1] == [
        "Pip: 0 sessions together",
        "(2 not counted: rehearsed or never begun)",
        "          spots      seconds               J    J/cm2 a spot",
    ]


def test_long_figures_stand_in_lines_of_their_own() -> None:
    lines = report_lines(tally(spot(1, 10**10, 10**10)))
    # Right-aligned in 60 columns; places are never added up, so "all" has no J/cm2.
    assert [line.strip() for line in lines[4:11]] == [
        "left      1/1",
        "10000000000/10000000000 s",
        "5000000000.00/5000000000.00 J",
        "J/cm2 a spot: 5000000000.0/5000000000.0",
        "all       1/1",
        "10000000000/10000000000 s",
        "5000000000.00/5000000000.00 J",
    ]
    assert [len(line) for line in lines[4:11]] == [15, 60, 60, 60, 15, 60, 60]
    blank = report_lines(dataclasses.replace(tally(spot(1, 10**10, 1)), beam_area_um2=None))
    assert not any("J/cm2 a spot:" in line for line in blank)


def test_words_of_a_newer_program_are_told_as_they_stand() -> None:
    # They are no texts of the catalogue, on which the tests insist otherwise.
    language.use(language.ENGLISH)
    one = tally(spot(1, 10, 0, outcome="skipped", reason="moonlight"), notices=("new_moon",))
    told = report_lines(dataclasses.replace(one, state="stopped", reason="moonlight"))
    assert told[1] == "Session of 2025-01-01 19:00: stopped early (moonlight)"
    assert "  lower back, left, spot 1 of 2: skipped (moonlight), 0 of" in told
    assert "  meanwhile: new moon" in told

"""The tally: published doses, outcomes, cuts, sums over sessions, and how it reads."""

import json
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import pytest

from coach.plan.spots import Spot
from coach.record.course_tally import SiteSum, Sums, course_of
from coach.record.tally import SessionTally, TallyError, tally_of
from coach.reports.session_json import tallies_json
from coach.reports.session_text import WIDTH, course_lines, report_lines
from coach.session import commands as cmd
from coach.session.machine import Machine, Options
from coach.units import NS_PER_S, um2_from_cm2, uw_from_mw
from tests.worlds import Lines, header_for, spots_for

S = NS_PER_S


def course_spots(tallies: Sequence[SessionTally]) -> list[SiteSum]:
    """Each place over the course, in order of appearance."""
    return [spot for side in course_of(Sums.of(tallies)).sides for spot in side.spots]


def session(
    hold_s: list[int],
    *commands: tuple[int, cmd.Command],
    until_s: int = 10_000,
    header: dict[str, Any] | None = None,
    **laser: Any,
) -> Lines:
    """A session in which each command is given so many seconds after the start."""
    machine = Machine(spots_for(hold_s), Options())
    lines = Lines(header or header_for(machine.spots, **laser))
    lines.add_events(machine.do(cmd.Start(), 0).events)
    left = list(commands)
    now_ns: int | None = 0
    while now_ns is not None:
        deadline_ns = machine.next_deadline(now_ns)
        if left and (deadline_ns is None or left[0][0] * S <= deadline_ns):
            at_s, command = left.pop(0)
            now_ns = at_s * S
            if at_s > until_s:
                break
            lines.add_events(machine.do(command, now_ns).events)
            continue
        if deadline_ns is None or deadline_ns > until_s * S:
            break
        now_ns = deadline_ns
        lines.add_events(machine.tick(now_ns).events)
    return lines


# Published doses, through a session: source and status beside each.
@pytest.mark.parametrize(
    ("power_mw", "area_cm2", "hold_s", "spots", "spot_j", "spot_j_cm2", "total_j"),
    [
        # BC Physical Therapy Tendinopathy Task Force, laser dosage toolkit (R):
        # 2 J at 50 mW takes 40 s; 20 mW, 0.5 cm2, 100 s: 2 J, 4 J/cm2;
        # 10 mW, 0.25 cm2, 100 s: 1 J, 4 J/cm2.
        ("50", None, 40, 1, "2", None, "2"),
        ("20", "0.5", 100, 1, "2", "4", "2"),
        ("10", "0.25", 100, 1, "1", "4", "1"),
        # Hegedues 2009, quoted by Fangel 2019 (R2): 50 mW, 120 s, 0.005 cm2, 8 points.
        ("50", "0.005", 120, 8, "6", "1200", "48"),
        # Fukuda 2011, quoted by Fangel 2019 (R2): 60 mW, 50 s, 0.5 cm2, 9 points.
        ("60", "0.5", 50, 9, "3", "6", "27"),
        # WALT 2010, 780-860 nm (R2): neck 4 points of 4 J; hip 2 points of 6 J.
        # The power is ours; the joules are the source's.
        ("100", None, 40, 4, "4", None, "16"),
        ("100", None, 60, 2, "6", None, "12"),
    ],
)
def test_published_doses(
    power_mw: str,
    area_cm2: str | None,
    hold_s: int,
    spots: int,
    spot_j: str,
    spot_j_cm2: str | None,
    total_j: str,
) -> None:
    lines = session(
        [hold_s] * spots,
        power_uw=uw_from_mw(int(power_mw)),
        beam_area_um2=None if area_cm2 is None else um2_from_cm2(Fraction(area_cm2)),
    )
    out = tallies_json([tally_of(lines.lines)])["sessions"][0]
    assert {Fraction(spot["given_j"]) for spot in out["spots"]} == {Fraction(spot_j)}
    fluences = {spot["given_j_cm2"] for spot in out["spots"]}
    assert {None if f is None else Fraction(f) for f in fluences} == {
        None if spot_j_cm2 is None else Fraction(spot_j_cm2)
    }
    assert Fraction(out["total"]["given_j"]) == Fraction(total_j)
    assert out["state"] == "finished"


def test_fluence_of_a_long_hold() -> None:
    # Ando 2011, PLoS One 6:e26212 (R): 50 mW/cm2 for 720 s is 36 J/cm2.
    lines = session([720], power_uw=uw_from_mw(50), beam_area_um2=um2_from_cm2(1))
    tally = tally_of(lines.lines)
    assert tally.fluence_j_cm2(tally.spots[0], tally.spots[0].given_ns) == 36


# Outcomes


def outcomes(tally: SessionTally) -> list[tuple[str, str, int]]:
    return [(spot.outcome, spot.reason, spot.given_ns // S) for spot in tally.spots]


def test_each_spot_says_what_became_of_it() -> None:
    # Holds begin after 8 s; spot 1 runs 8-18, spot 2 from 26 on.
    lines = session(
        [10, 20, 30, 40],
        (30, cmd.Skip("sore")),
        (40, cmd.Pause("dog_moved")),
        (50, cmd.CarryOn()),
        (55, cmd.Stop("dog_unhappy")),
    )
    tally = tally_of(lines.lines)
    assert outcomes(tally) == [
        ("given", "", 10),
        ("skipped", "sore", 4),
        ("cut_short", "dog_unhappy", 2 + 5),
        ("not_reached", "dog_unhappy", 0),
    ]
    assert (tally.state, tally.reason) == ("stopped", "dog_unhappy")
    assert tally.spots[2].pauses == ("dog_moved",)
    assert tally.spots[0].started_wall is not None
    assert tally.spots[3].started_wall is None


def test_a_spot_given_again_counts_twice_and_says_so() -> None:
    tally = tally_of(session([10, 20], (20, cmd.Again())).lines)
    assert outcomes(tally) == [("given", "", 20), ("given", "", 20)]
    assert tally.spots[0].repeats == 1
    assert "given again (1 x)" in "\n".join(report_lines(tally))


def test_a_skipped_spot_that_the_owner_came_back_to_is_given() -> None:
    tally = tally_of(session([10, 20], (2, cmd.Skip("sore")), (4, cmd.Back())).lines)
    assert outcomes(tally) == [("given", "", 10), ("given", "", 20)]


def test_a_pulled_plug_counts_up_to_the_last_heartbeat() -> None:
    # The second hold begins at 26 s; the last heartbeat by 33 s is that of its seventh second.
    tally = tally_of(session([10, 20], until_s=33).lines)
    assert tally.state == "cut_off"
    assert outcomes(tally) == [("given", "", 10), ("cut_short", "cut_off", 7)]
    assert not tally.closed


def test_a_session_that_never_began() -> None:
    lines = Lines(header_for(spots_for([10])))
    assert tally_of(lines.lines).state == "not_begun"
    lines.add("session_stopped", {"at_ns": 1, "reason": "closed"})
    assert tally_of(lines.lines).state == "not_begun"


def test_more_than_was_granted_is_told() -> None:
    lines = session([10])
    lines.lines[-2]["data"]["given_ns"] += 1
    assert tally_of(lines.lines).problems == ("spot 1: more was given than was granted",)


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("hold_ended", {"spot": 7, "given_ns": 1}),
        ("hold_ended", {"spot": 0, "given_ns": -1}),
        ("hold_ended", {"spot": 0}),
        ("heartbeat", {"given_ns": 5}),
        ("paused", {"spot": 0}),
        ("hold_ended", {"spot": "0", "given_ns": 1}),
    ],
)
def test_a_line_that_no_session_writes_is_named(kind: str, data: dict[str, Any]) -> None:
    lines = Lines(header_for(spots_for([10])))
    lines.add(kind, data)
    with pytest.raises(TallyError, match="line 2 cannot be tallied"):
        tally_of(lines.lines)


def test_nothing_to_tally() -> None:
    with pytest.raises(TallyError, match="no trusted line"):
        tally_of([])


# Several sessions


def test_sums_over_sessions_keep_places_apart() -> None:
    tallies = [tally_of(session([10, 20]).lines), tally_of(session([10, 20], until_s=15).lines)]
    first, second = course_spots(tallies)
    assert (first.part.given_ns, first.part.planned_ns, first.part.planned) == (17 * S, 20 * S, 2)
    assert (second.part.given_ns, second.part.planned_ns) == (20 * S, 40 * S)
    # 500 mW for 17 s over 1 cm2, by hand: 8.5 J/cm2.
    assert first.given_j_cm2 == Fraction("8.5")


@pytest.mark.parametrize("other", [None, 50_000_000])
def test_j_cm2_of_different_or_unknown_beam_areas_are_never_added(other: int | None) -> None:
    tallies = [
        tally_of(session([10]).lines),
        tally_of(session([10], beam_area_um2=other).lines),
    ]
    (spot,) = course_spots(tallies)
    assert (spot.given_j_cm2, spot.planned_j_cm2) == (None, None)
    assert spot.part.given_fj == 2 * 500_000 * 10 * S
    assert "J/cm2 is blank where the beam area" in "\n".join(course_lines(tallies)).replace(
        "\n  ", " "
    )


def test_rehearsals_and_what_never_began_do_not_count() -> None:
    never = Lines(header_for(spots_for([10])))
    tallies = [
        tally_of(session([10]).lines),
        tally_of(session([10], rehearsal=True).lines),
        tally_of(never.lines),
    ]
    (spot,) = course_spots(tallies)
    assert (spot.part.planned, spot.part.given_ns) == (1, 10 * S)
    text = "\n".join(course_lines(tallies))
    assert "REHEARSAL" in text
    assert "(2 not counted: rehearsed or never begun)" in text
    assert tallies_json(tallies)["course"][0]["sessions"] == 1


def test_dogs_are_never_added_up() -> None:
    other = header_for(spots_for([10]))
    other["dog"] = {"name": "Rex", "weight_kg": "30"}
    tallies = [tally_of(session([10]).lines), tally_of(session([10], header=other).lines)]
    course = tallies_json(tallies)["course"]
    assert [(dog["dog"], dog["spots"][0]["given_ns"]) for dog in course] == [
        ("Pip", 10 * S),
        ("Rex", 10 * S),
    ]


# How it reads


def test_the_report_in_full() -> None:
    lines = session([10, 20, 30], (30, cmd.Skip("sore")), (50, cmd.Stop("hot_skin")))
    lines.add("notice", {"what": "no_sound_device"})
    assert report_lines(tally_of(lines.lines)) == [
        "Pip: plan demo, revision 1, prescribed by Dr. Invented",
        "Session of 2025-01-01 19:00: stopped early (the skin felt",
        "  hot)",
        "          spots      seconds               J    J/cm2 a spot",
        "lower back / lumbar spine, L1-L7",
        "  left      1/2        22/40     11.00/20.00",
        "                              J/cm2 a spot: 5.0-6.0/5.0-15.0",
        "  right     0/1         4/20      2.00/10.00        2.0/10.0",
        "  all       1/3        26/60     13.00/30.00",
        "Not given as planned:",
        "  lower back, right, spot 1 of 2: skipped (sore), 4 of 20 s",
        "  lower back, left, spot 2 of 2: cut short (the skin felt",
        "    hot), 12 of 30 s",
        "  meanwhile: no sound device",
        # Three ways of 8 s at 0.5 W.
        "Up to 12.00 J more if the laser stayed on and the head on",
        "  the dog between spots.",
        "Counted by the timer (coached), not measured.",
    ]


@pytest.mark.parametrize("trust", ["rtc", "unknown"])
def test_a_clock_that_is_not_to_be_trusted_is_told(trust: str) -> None:
    lines = session([10])
    lines.lines[0]["trust"] = trust
    assert "(clock not" in report_lines(tally_of(lines.lines))[1]


def test_the_widest_report_fits() -> None:
    long = tuple(
        Spot(
            index=n,
            region=region,
            side="middle",
            aspect=None,
            number=n + 1,
            of=60,
            hold_ns=1800 * S + n,
            move_ns=8 * S,
        )
        for n, region in enumerate(["lumbar", "a_region_of_a_newer_program"] * 30)
    )
    lines = Lines(header_for(long, power_uw=30_000_000, beam_area_um2=100_000_000))
    lines.add("session_started", {"at_ns": 0})
    tally = tally_of(lines.lines)
    assert max(map(len, course_lines([tally, tally]))) <= WIDTH


def test_the_json_is_json_and_names_its_units() -> None:
    out = json.loads(json.dumps(tallies_json([tally_of(session([10]).lines)])))
    assert (out["schema"], out["coached"]) == (2, True)
    assert out["sessions"][0]["total"] == {
        "spots": 1,
        "given": 1,
        "planned_ns": 10_000_000_000,
        "planned_s": "10.000000",
        "planned_fj": 5_000_000_000_000_000,
        "planned_j": "5.000000",
        "given_ns": 10_000_000_000,
        "given_s": "10.000000",
        "given_fj": 5_000_000_000_000_000,
        "given_j": "5.000000",
    }


def test_what_was_left_for_next_time_is_told_and_is_not_missed() -> None:
    header = header_for(spots_for([10]))
    header["left_for_next"] = [
        {
            "region": "lumbar",
            "side": "right",
            "aspect": None,
            "number": number,
            "of": 2,
            "hold_ns": 10 * S,
        }
        for number in (1, 2)
    ]
    tally = tally_of(session([10], header=header).lines)
    assert [(left.number, left.planned_ns) for left in tally.left_for_next] == [
        (1, 10 * S),
        (2, 10 * S),
    ]
    assert tally.total().planned_ns == 10 * S
    text = "\n".join(report_lines(tally))
    assert "Every spot had its seconds." in text
    assert "lower back, right: 2 spots" in text


def test_a_journal_without_that_key_left_nothing() -> None:
    assert tally_of(session([10]).lines).left_for_next == ()

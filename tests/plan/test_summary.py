"""What ``coach check`` tells about a plan, as text and as data.

Sums of the demonstration plan are worked out by hand in test_reading.py; the layout is ours.
"""

import json
from pathlib import Path
from typing import Any

from coach.plan.check_number import check_number
from coach.plan.files import PlanFile
from coach.plan.spots import spots_of
from coach.plan.summary_text import summary_json, summary_lines
from tests.plan.worlds import PLAN, PLANS, changed, plain_findings, read

LONG_BACK = """\
Dog         Juniper, 9.5 kg
Prescriber  Dr. Ada Muster (invented), Practice at the Mill
            Pond (invented)
Plan        demo-long-back, revision 1
            file demo-long-back.toml
Valid       2026-11-01 to 2099-12-31
Laser       invented contact laser, class 3B, 808 nm
            mean power 100 mW, as stated
            beam area 0.5 cm2 at the skin
            irradiance 200 mW/cm2 at the skin
            stays on for the whole session
Check no.   {number}, for the owner by telephone
Note        Invented demonstration, not advice. Spine, from
            the neck to the tail.

   Regions, in this order      spots       s       J   J/cm2
                              in all  a spot  a spot  a spot
------------------------------------------------------------
 - top of the neck, behind         2      30    3.00    6.00
   the ears
   atlas (C1)
   left and right (to settle)
 1 back half of the neck           4      30    3.00    6.00
   caudal cervical spine, C5-C7
   left and right, 2 spots on each
   Note: From the side of the neck, head up, no pressure on
   the windpipe.
 2 where the last rib meets        3      40    4.00    8.00
   the back
   thoracolumbar junction, T13-L1
   left, middle and right
 3 lower back                      8      40    4.00    8.00
   lumbar spine, L1-L7
   left and right, 4 spots on each
 4 dip between the hip points      3      40    4.00    8.00
   lumbosacral junction, L7-S1
   left, middle and right
 5 root of the tail                1      30    3.00    6.00
   tail base
   middle

Session     21 spots, 12 min 50 s of hold, 77.00 J
            up to 16.80 J more if the laser stays on and the
            head on the dog between spots
            takes about 15 min 38 s, with 8 s for each move
            no turn of the dog: on its chest
            moves on by itself
            one side at a time
            a spot may be given again once
Course      induction: 3 times a week for 2 weeks, 6
            sessions
            taper: 2 times a week for 2 weeks, 4 sessions
            in all 10 sessions in 4 weeks, 770.00 J

Findings: none.

Never aim at an eye: laser eyewear for everyone in the room,
the dog's eyes covered or turned away.
Seconds are counted by the timer, not measured. The
prescriber and local rules decide.
"""


def told(text: str, name: str = "plan.toml") -> str:
    plan = read(text)
    spots = spots_of(plan)
    plan_file = PlanFile(path=Path(name), plan=plan, digest="")
    return "\n".join(summary_lines(plan_file, spots, plain_findings(plan)))


def as_data(text: str) -> dict[str, Any]:
    plan = read(text)
    spots = spots_of(plan)
    data: dict[str, Any] = json.loads(
        json.dumps(summary_json(plan, spots, plain_findings(plan)), allow_nan=False)
    )
    return data


def test_a_whole_summary() -> None:
    text = (PLANS / "demo-long-back.toml").read_text(encoding="utf-8")
    # The plan of these tests has no bytes of its own.
    number = check_number("")
    assert told(text, "demo-long-back.toml") + "\n" == LONG_BACK.replace("{number}", number)


def test_pulses_joints_and_waiting_are_told() -> None:
    text = told((PLANS / "demo-big-hips.toml").read_text(encoding="utf-8"))
    assert "mean power 200 mW, worked out (pulsed)" in text
    assert "peak power 400 mW, duty cycle 50 %" in text
    assert "started by its button at each spot" in text
    assert "right and left: lateral, cranial and caudal" in text
    assert "waits for your key at each spot" in text
    assert "maintenance: once a week for 6 weeks, 6 sessions" in text


def test_without_a_beam_area_there_is_a_dash_and_a_finding() -> None:
    text = changed(("beam_area_cm2 = 0.5\n", ""))
    (row,) = (line for line in told(text).splitlines() if "lower back" in line)
    assert row.split() == ["1", "lower", "back", "8", "40", "4.00", "-"]
    assert "beam area at the skin not stated" in told(text)
    assert "- laser.beam_area_cm2: no beam area at the skin" in told(text)
    assert [row["fluence_j_cm2"] for row in as_data(text)["regions"]] == [None] * 3


def test_a_tiny_dose_is_not_shown_as_nothing() -> None:
    text = changed(
        ("mean_power_mw = 100", "mean_power_mw = 1"),
        ("joules_each_spot = 4", "seconds_each_spot = 2"),
    )
    (row,) = (line for line in told(text).splitlines() if line.startswith(" 2 hip"))
    # 1 mW for 2 s: 0.002 J, over 0.5 cm2 0.004 J/cm2
    assert row.split() == ["2", "hip", "2", "2", "0.0020", "0.0040"]


def test_a_course_that_is_not_stated_and_no_repeats() -> None:
    text = changed(
        ('[[course]]\nname = "induction"\ntimes_a_week = 3\nweeks = 2\n', ""),
        ("repeats_allowed = 1", "repeats_allowed = 0"),
    )
    assert "how often is not stated: ask the prescriber" in told(text)
    assert "no spot may be given again" in told(text)
    assert as_data(text)["course"] == {
        "phases": [],
        "sessions": 0,
        "weeks": 0,
        "energy_j": 0,
    }


def test_what_was_cleared_is_told_and_news_is_not_among_it() -> None:
    text = changed(("[[course]]", '[care]\nclearances = ["implant", "wound"]\n\n[[course]]'))
    assert "Cleared     implant: the owner is not asked" in told(text)
    assert as_data(text)["plan"]["cleared"] == ["implant"]


def test_a_file_name_cannot_write_on_the_terminal() -> None:
    assert "\\x1b" in told(PLAN, "\x1b[2J.toml")
    assert "\x1b" not in told(PLAN, "\x1b[2J.toml")


def test_data() -> None:
    data = as_data(PLAN)
    # 2 x 30 + 8 x 40 + 2 x 40 = 460 s at 100 mW: 46 J; twelve moves of 8 s: 96 s; and
    # from its chest, for the back, onto its left side, for the right hip: one turn of 30 s
    assert data["session"] == {
        "spots": 12,
        "hold_ns": 460_000_000_000,
        "hold_s": 460,
        "energy_j": 46,
        "duration_s": 586,
        "move_s": 8,
        "turns": 1,
        "turn_s": 30,
        "positions": ["sternal", "left lateral"],
        "pinned": False,
        "may_be_shortened": True,
        "order": "one side at a time",
        "advance": "auto",
        "patience_minutes": 10,
        "repeats_allowed": 1,
    }
    assert [(row["region"], row["spots"], row["settle"]) for row in data["regions"]] == [
        ("atlas", 2, True),
        ("lumbar", 8, False),
        ("hip", 2, False),
    ]
    hip = data["regions"][2]
    assert hip["positions"] == ["left lateral"]
    assert (hip["length_cm"], hip["covered"]) == (None, None)
    assert (hip["sides"], hip["aspects"]) == (["right"], ["lateral", "cranial"])
    assert (hip["hold_s"], hip["energy_j"], hip["fluence_j_cm2"]) == (40, 4, 8)
    assert data["plan"]["valid_until"] == "2026-12-31"
    assert data["laser"]["pulsed"] is None
    assert data["course"]["sessions"] == 6


# The keys are a promise to whoever reads them by program.
def test_the_keys_of_the_data() -> None:
    assert {
        key: sorted(value) for key, value in as_data(PLAN).items() if isinstance(value, dict)
    } == {
        "plan": [
            "cleared",
            "clinic",
            "id",
            "note",
            "prescribed_on",
            "prescriber",
            "revision",
            "valid_until",
        ],
        "dog": ["name", "weight_kg"],
        "laser": [
            "aperture_area_cm2",
            "beam_area_cm2",
            "emitters",
            "irradiance_mw_cm2",
            "label",
            "laser_class",
            "limits_exposure_s",
            "mean_power_mw",
            "output_check",
            "power_by",
            "power_open",
            "pulsed",
            "skin_times",
            "starts",
            "wavelength_nm",
        ],
        "session": [
            "advance",
            "duration_s",
            "energy_j",
            "hold_ns",
            "hold_s",
            "may_be_shortened",
            "move_s",
            "order",
            "patience_minutes",
            "pinned",
            "positions",
            "repeats_allowed",
            "spots",
            "turn_s",
            "turns",
        ],
        "course": ["energy_j", "phases", "sessions", "weeks"],
    }

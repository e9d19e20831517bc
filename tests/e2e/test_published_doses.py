"""Published doses through the public path: a plan file in, a coached session, the tally out.

Expected values are those printed in the sources, or follow from them as the source states.
Status: R read in the source, R2 read second-hand (another paper that quotes it).
"""

import json
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import pytest

from coach.journal.journal import read_journal
from coach.record.tally import tally_of
from coach.reports.session_json import tallies_json
from tests.e2e.virtual import coach_plainly


@dataclass(frozen=True, kw_only=True)
class Published:
    source: str
    status: str
    power_mw: str
    area_cm2: str
    dose: str
    region: str
    spots: int
    seconds: str
    joules_a_spot: str
    joules: str
    j_cm2: str


PUBLISHED = {
    "D06": Published(
        source="BC Tendinopathy Task Force toolkit, appendix B: 2 J at 50 mW",
        status="R",
        power_mw="50",
        area_cm2="1",
        dose="joules_each_spot = 2",
        region="lumbar",
        spots=1,
        seconds="40",
        joules_a_spot="2",
        joules="2",
        j_cm2="2",
    ),
    "D07": Published(
        source="BC Tendinopathy Task Force toolkit, appendix B: 20 mW, 0.5 cm2, 100 s",
        status="R",
        power_mw="20",
        area_cm2="0.5",
        dose="seconds_each_spot = 100",
        region="lumbar",
        spots=1,
        seconds="100",
        joules_a_spot="2",
        joules="2",
        j_cm2="4",
    ),
    "D08": Published(
        source="BC Tendinopathy Task Force toolkit, appendix B: 10 mW, 0.25 cm2, 100 s",
        status="R",
        power_mw="10",
        area_cm2="0.25",
        dose="joules_per_cm2_each_spot = 4",
        region="lumbar",
        spots=1,
        seconds="100",
        joules_a_spot="1",
        joules="1",
        j_cm2="4",
    ),
    "D09": Published(
        source="Hegedus 2009, quoted by Fangel 2019: 50 mW, 120 s, 0.005 cm2, 8 points",
        status="R2",
        power_mw="50",
        area_cm2="0.005",
        dose="seconds_each_spot = 120",
        region="lumbar",
        spots=8,
        seconds="120",
        joules_a_spot="6",
        joules="48",
        j_cm2="1200",
    ),
    "D10": Published(
        source="Fukuda 2011, quoted by Fangel 2019: 60 mW, 50 s, 0.5 cm2, 9 points",
        status="R2",
        power_mw="60",
        area_cm2="0.5",
        dose="seconds_each_spot = 50",
        region="lumbar",
        spots=9,
        seconds="50",
        joules_a_spot="3",
        joules="27",
        j_cm2="6",
    ),
    "D18": Published(
        source="Ando 2011, PLoS One 6:e26212: 50 mW/cm2 for 720 s, taken over 1 cm2",
        status="R",
        power_mw="50",
        area_cm2="1",
        dose="seconds_each_spot = 720",
        region="lumbar",
        spots=1,
        seconds="720",
        joules_a_spot="36",
        joules="36",
        j_cm2="36",
    ),
    "D20 cervical": Published(
        source="WALT 2010, 780-860 nm: cervical spine, 4 points of 4 J, 16 J in total",
        status="R2",
        power_mw="100",
        area_cm2="1",
        dose="joules_each_spot = 4",
        region="neck_lower",
        spots=4,
        seconds="40",
        joules_a_spot="4",
        joules="16",
        j_cm2="4",
    ),
}

PLAN = """
coach_plan = 1
[plan]
id = "published"
revision = 1
prescriber = "nobody (invented)"
prescribed_on = 2026-11-01
valid_until = 2026-12-31
[dog]
name = "Test dog"
weight_kg = 20
[laser]
label = "as published"
laser_class = "3B"
wavelength_nm = 830
mean_power_mw = {power_mw}
beam_area_cm2 = {area_cm2}
[settle]
leave_out = true
[[regions]]
region = "{region}"
sides = ["left"]
spots = {spots}
{dose}
"""


@pytest.mark.parametrize("case", PUBLISHED.values(), ids=PUBLISHED)
def test_plan_in_tally_out(case: Published, tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    fields = {name: getattr(case, name) for name in ("power_mw", "area_cm2", "region", "dose")}
    plan.write_text(PLAN.format(spots=case.spots, **fields), encoding="utf-8")
    _, journal = coach_plainly(plan, tmp_path / "journals", [(0, "")])
    told = json.loads(json.dumps(tallies_json([tally_of(read_journal(journal).lines)])))
    (session,) = told["sessions"]
    assert [Fraction(spot["given_ns"], 10**9) for spot in session["spots"]] == [
        Fraction(case.seconds)
    ] * case.spots
    assert [Fraction(str(spot["given_j"])) for spot in session["spots"]] == [
        Fraction(case.joules_a_spot)
    ] * case.spots
    assert [Fraction(str(spot["given_j_cm2"])) for spot in session["spots"]] == [
        Fraction(case.j_cm2)
    ] * case.spots
    assert Fraction(session["total"]["given_j"]) == Fraction(case.joules)

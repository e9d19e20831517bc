"""Published doses, recomputed. Inputs and expected values are typed from the print.

Status: R read in the source named; R2 read second-hand; C computed from a formula that is R or
R2; M from memory. Every input is written as a person would type it and goes the whole way
through reading, solving and the JSON that ``coach dose`` prints.
"""

from dataclasses import dataclass

import pytest

from coach.dose.quantity import Quantity, parse
from coach.dose.solve import DoseJson, solve, to_json

BOOK = "Suarez Redondo & Stephens, Veterinary Laser Therapy in Small Animal Practice, 5M 2019"
BC = "BC Physical Therapy Tendinopathy Task Force, laser dosage toolkit, appendix B"


@dataclass(frozen=True, kw_only=True)
class Row:
    id: str
    source: str
    status: str
    given: dict[Quantity, str]
    expected: dict[Quantity, float]
    relative: float = 1e-12
    spots: int = 1
    session_energy_j: float | None = None


ROWS = [
    Row(
        id="D01 duty cycle",
        source=f"{BOOK}, p. 110",
        status="R",
        given={"peak_power_mw": "18 W", "mean_power_mw": "12 W"},
        expected={"duty_cycle_percent": 66.667},
        relative=1e-4,
    ),
    Row(
        id="D02 mean power",
        source=f"{BOOK}, p. 110",
        status="R",
        given={"peak_power_mw": "6 W", "duty_cycle_percent": "50 %"},
        expected={"mean_power_mw": 3000},
    ),
    Row(
        id="D03 pulse width at 100 Hz",
        source=f"{BOOK}, p. 110",
        status="R",
        given={"frequency_hz": "100 Hz", "duty_cycle_percent": "30 %"},
        expected={"pulse_width_us": 3000},
    ),
    Row(
        id="D04 pulse width at 2 Hz",
        source=f"{BOOK}, p. 110",
        status="R",
        given={"frequency_hz": "2 Hz", "duty_cycle_percent": "30 %"},
        expected={"pulse_width_us": 150_000},
    ),
    Row(
        id="D05 mean power of nanosecond pulses (printed 40 mW)",
        source="Silveira, quoted in Oxid Med Cell Longev 2017/5273403 (60 ns from memory)",
        status="R2/M",
        given={"peak_power_mw": "70 W", "pulse_width_us": "60 ns", "frequency_hz": "9500 Hz"},
        expected={"mean_power_mw": 40},
        relative=5e-3,
    ),
    Row(
        id="D06 time for a dose",
        source=BC,
        status="R",
        given={"energy_j": "2 J", "mean_power_mw": "50 mW"},
        expected={"duration_s": 40},
    ),
    Row(
        id="D07 fluence and energy",
        source=BC,
        status="R",
        given={"mean_power_mw": "20 mW", "beam_area_cm2": "0.5 cm2", "duration_s": "100 s"},
        expected={"fluence_j_cm2": 4, "energy_j": 2},
    ),
    Row(
        id="D08 fluence and energy",
        source=BC,
        status="R",
        given={"mean_power_mw": "10 mW", "beam_area_cm2": "0.25 cm2", "duration_s": "1:40"},
        expected={"fluence_j_cm2": 4, "energy_j": 1},
    ),
    Row(
        id="D09 full record, small spot",
        source="Hegedus 2009, quoted by Fangel 2019",
        status="R2",
        given={"mean_power_mw": "50 mW", "duration_s": "120 s", "beam_area_cm2": "0.005 cm2"},
        expected={"irradiance_mw_cm2": 10_000, "fluence_j_cm2": 1200, "energy_j": 6},
        relative=1e-6,
        spots=8,
        session_energy_j=48,
    ),
    Row(
        id="D10 full record, wide spot",
        source="Fukuda 2011, quoted by Fangel 2019",
        status="R2",
        given={"mean_power_mw": "60 mW", "duration_s": "50 s", "beam_area_cm2": "0.5 cm2"},
        expected={"irradiance_mw_cm2": 120, "fluence_j_cm2": 6, "energy_j": 3},
        relative=1e-6,
        spots=9,
        session_energy_j=27,
    ),
    Row(
        id="D11 dog, swept area",
        source="Alves 2022, Am J Vet Res 83(8)",
        status="R2",
        given={
            "mean_power_mw": "6.5 W",
            "duration_s": "275 s",
            "swept_fluence_j_cm2": "14.3 J/cm2",
        },
        expected={"energy_j": 1787.5, "swept_area_cm2": 125.0},
        relative=2e-3,
    ),
    Row(
        id="D12 dog, time from a dose over an area",
        source="Rogatko 2017, Vet Comp Orthop Traumatol 30:46",
        status="R/C",
        given={
            "mean_power_mw": "6 W",
            "swept_fluence_j_cm2": "3.5 J/cm2",
            "swept_area_cm2": "100 cm2",
        },
        expected={"energy_j": 350, "duration_s": 58.33},
        relative=1e-4,
    ),
    Row(
        id="D13 dog, wound, lower end (printed 300 J, 10 J/cm2, 0.7 W/cm2)",
        source=f"{BOOK}, p. 93",
        status="R",
        given={
            "mean_power_mw": "3.5 W",
            "duration_s": "85 s",
            "beam_area_cm2": "5 cm2",
            "swept_area_cm2": "30 cm2",
        },
        expected={"energy_j": 300, "swept_fluence_j_cm2": 10, "irradiance_mw_cm2": 700},
        relative=1e-2,
    ),
    Row(
        id="D13 dog, wound, upper end (printed 450 J, 15 J/cm2)",
        source=f"{BOOK}, p. 93",
        status="R",
        given={"mean_power_mw": "3.5 W", "duration_s": "128 s", "swept_area_cm2": "30 cm2"},
        expected={"energy_j": 450, "swept_fluence_j_cm2": 15},
        relative=1e-2,
    ),
    Row(
        id="D14 beam area from the irradiance at 5 W",
        source="Looney 2018, Can Vet J 59:959",
        status="R2",
        given={"mean_power_mw": "5 W", "irradiance_mw_cm2": "1 W/cm2"},
        expected={"beam_area_cm2": 5.0},
    ),
    Row(
        id="D14 beam area from the irradiance at 12 W",
        source="Looney 2018, Can Vet J 59:959",
        status="R2",
        given={"mean_power_mw": "12 W", "irradiance_mw_cm2": "2.4 W/cm2"},
        expected={"beam_area_cm2": 5.0},
    ),
    *(
        Row(
            id=f"D17 time for {fluence} at {irradiance}",
            source="Castano 2007",
            status="R",
            given={"fluence_j_cm2": fluence, "irradiance_mw_cm2": irradiance},
            expected={"duration_s": seconds},
        )
        for fluence, irradiance, seconds in (
            ("3 J/cm2", "5 mW/cm2", 600),
            ("3 J/cm2", "50 mW/cm2", 60),
            ("30 J/cm2", "5 mW/cm2", 6000),
            ("30 J/cm2", "50 mW/cm2", 600),
        )
    ),
    Row(
        id="D18 fluence",
        source="Ando 2011, PLoS One 6:e26212",
        status="R",
        given={"irradiance_mw_cm2": "50 mW/cm2", "duration_s": "12:00"},
        expected={"fluence_j_cm2": 36},
    ),
    Row(
        id="S08 irradiance of a round spot (printed 12.7)",
        source="Macquarie University, sample calculations",
        status="R",
        given={"mean_power_mw": "10 W", "diameter_mm": "1 cm"},
        expected={"irradiance_mw_cm2": 12_732},
        relative=1e-4,
    ),
]


def answer(given: dict[Quantity, str], spots: int = 1) -> DoseJson:
    return to_json(solve({name: parse(name, text) for name, text in given.items()}, spots=spots))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_a_published_record_is_recomputed(row: Row) -> None:
    found = answer(row.given, row.spots)
    values = {**found["values"]}
    for name, expected in row.expected.items():
        assert values[name] == pytest.approx(expected, rel=row.relative), f"{name}: {row.source}"
    assert found["closes"]
    if row.session_energy_j is not None:
        assert found["session_energy_j"] == pytest.approx(row.session_energy_j, rel=row.relative)


def test_d15_a_printed_record_that_does_not_close_is_flagged() -> None:
    # D15, R: Olivieri 2015, Vet Dermatol 26:35. Stated 3 J/cm2; 3.885 J/cm2, +29.5 %.
    found = answer(
        {
            "mean_power_mw": "1.208 W",
            "duration_s": "80.4 s",
            "beam_area_cm2": "25 cm2",
            "fluence_j_cm2": "3 J/cm2",
        }
    )
    (finding,) = found["not_closing"]
    assert not found["closes"]
    assert finding["quantity"] == "fluence_j_cm2"
    assert finding["stated"] == 3
    assert finding["computed"] == pytest.approx(3.885, rel=1e-3)
    assert finding["deviation_percent"] == pytest.approx(29.5, rel=1e-3)
    assert finding["slips"] == []


def test_d16_watts_for_milliwatts_are_flagged_and_named() -> None:
    # D16, R2: Guaraldo, quoted in Oxid Med Cell Longev 2017/5273403. 4000 J for stated 4 J.
    found = answer({"mean_power_mw": "100 W", "duration_s": "40 s", "energy_j": "4 J"})
    (finding,) = found["not_closing"]
    assert finding["computed"] == 4000
    assert finding["computed"] / finding["stated"] == 1000
    assert "100 W × 40 s = 4000 J" in finding["arithmetic"]
    assert any("mW written as W" in slip and "100 mW" in slip for slip in finding["slips"])
    assert any(remark.startswith("mean power") for remark in found["remarks"])

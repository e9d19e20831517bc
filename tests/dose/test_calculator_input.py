"""The calculator as people type into it: what rules, slips in every given, natural spellings.

Expected values by hand: E = P t (BC Tendinopathy Task Force toolkit, appendix B), H = I t (same),
A = pi d2 / 4 (Macquarie University, sample calculations), H_mean = P t / A_treated.
"""

import json
from fractions import Fraction

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from coach.dose.quantity import Ambiguous, BadQuantity, Quantity, parse
from coach.dose.solve import solve


def answer(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = run(["dose", *words])
    told = capsys.readouterr()
    return code, " ".join(told.out.split()), " ".join(told.err.split())


def test_irradiance_and_time_rule_over_a_fluence() -> None:
    # 100 mW/cm2 x 60 s = 6 J/cm2 beside 5 J/cm2 typed (D18 closes the same way: 50 x 720 = 36).
    found = solve(
        {
            "irradiance_mw_cm2": Fraction(100),
            "duration_s": Fraction(60),
            "fluence_j_cm2": Fraction(5),
        }
    )
    assert found.values["irradiance_mw_cm2"] == 100
    assert found.values["fluence_j_cm2"] == 6
    (bad,) = found.not_closing
    assert bad.quantity == "fluence_j_cm2"
    assert bad.stated == 5
    assert bad.computed == 6


@pytest.mark.parametrize(
    ("energy_j", "spots", "sessions", "says"),
    [
        (120, 4, 1, "is 120 J the session of 4 spots?"),
        (300, 1, 10, "is 300 J the course of 10 sessions?"),
        (1200, 4, 10, "is 1200 J the course of 10 sessions of 4 spots?"),
        (100, 4, 1, None),
    ],
)
def test_a_total_typed_for_one_spot_is_recognised(
    energy_j: int, spots: int, sessions: int, says: str | None
) -> None:
    # 500 mW for 60 s are 30 J.
    found = solve(
        {
            "mean_power_mw": Fraction(500),
            "duration_s": Fraction(60),
            "energy_j": Fraction(energy_j),
        },
        spots=spots,
        sessions=sessions,
    )
    (bad,) = found.not_closing
    assert (says in bad.slips) if says else not [slip for slip in bad.slips if "course" in slip]


def test_a_total_is_recognised_in_j_cm2_too() -> None:
    # 30 J on 0.5 cm2 are 60 J/cm2; 240 is four times that.
    found = solve(
        {
            "mean_power_mw": Fraction(500),
            "duration_s": Fraction(60),
            "beam_area_cm2": Fraction(1, 2),
            "fluence_j_cm2": Fraction(240),
        },
        spots=4,
    )
    (bad,) = found.not_closing
    assert "is 240 J/cm2 the session of 4 spots?" in bad.slips


@pytest.mark.parametrize(
    ("given", "quantity", "slip"),
    [
        # 4 J typed as 4000 (mJ): the energy does not rule, the slip is in it all the same.
        (
            {"mean_power_mw": 100, "duration_s": 40, "energy_j": 4000},
            "energy_j",
            "mJ written as J?",
        ),
        # 8 J/cm2 typed as 8000 mJ/cm2 without the m.
        (
            {"mean_power_mw": 100, "duration_s": 40, "beam_area_cm2": "0.5", "fluence_j_cm2": 8000},
            "fluence_j_cm2",
            "mJ/cm2 written as J/cm2?",
        ),
        # 200 mW/cm2 typed as W/cm2.
        (
            {
                "mean_power_mw": 100,
                "duration_s": 40,
                "beam_area_cm2": "0.5",
                "irradiance_mw_cm2": 200_000,
            },
            "irradiance_mw_cm2",
            "mW/cm2 written as W/cm2?",
        ),
    ],
)
def test_a_slip_is_looked_for_in_every_given(
    given: dict[Quantity, int | str], quantity: str, slip: str
) -> None:
    found = solve({name: Fraction(value) for name, value in given.items()})
    (bad,) = (one for one in found.not_closing if one.quantity == quantity)
    assert slip in bad.slips


def test_a_diameter_shows_its_area(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = answer(capsys, "diameter=8mm", "mean-power=100mW", "time=10s")
    assert code == Exit.DONE
    # pi/4 x 64 mm2 = 50.2655 mm2.
    assert "beam area = pi/4 × (8 mm)² = 0.502655 cm2" in out
    assert "area 0.502655 cm2 as given" not in out


# One meaning each.
@pytest.mark.parametrize(
    ("quantity", "text", "value"),
    [
        ("frequency_hz", "10hz", "10"),
        ("frequency_hz", "10 HZ", "10"),
        ("frequency_hz", "2khz", "2000"),
        ("fluence_j_cm2", "4J·cm-2", "4"),
        ("fluence_j_cm2", "4 J cm-2", "4"),
        ("fluence_j_cm2", "4 J·cm⁻²", "4"),
        ("fluence_j_cm2", "4 J per cm2", "4"),
        ("fluence_j_cm2", "4 j/cm2", "4"),
        ("irradiance_mw_cm2", "50 mW cm⁻²", "50"),
        ("irradiance_mw_cm2", "50 mW/cm^2", "50"),
        ("beam_area_cm2", "0.5 sq cm", "0.5"),
        ("beam_area_cm2", "0.5 cm²", "0.5"),
        ("duration_s", "90 secs", "90"),
        ("duration_s", "90 second", "90"),
        ("duration_s", "1m30s", "90"),
        ("duration_s", "1 m 30 s", "90"),
        ("duration_s", "1min30s", "90"),
        ("duration_s", "2h", "7200"),
        ("duration_s", "0.5 h", "1800"),
        ("duration_s", "1h 30min", "5400"),
        ("duty_cycle_percent", "0.5", "50"),
        ("duty_cycle_percent", "1", "100"),
        ("duty_cycle_percent", "50%", "50"),
        ("mean_power_mw", "500 milliwatts", "500"),
        ("energy_j", "4 joules", "4"),
    ],
)
def test_a_natural_spelling_with_one_meaning_is_read(
    quantity: Quantity, text: str, value: str
) -> None:
    assert parse(quantity, text) == Fraction(value)


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        # A megawatt or a milliwatt.
        ("mean_power_mw", "500 MW"),
        ("energy_j", "4 MJ"),
        # Metres, or minutes.
        ("duration_s", "5m"),
        # A share of 0 to 1, or per cent.
        ("duty_cycle_percent", "50"),
        ("frequency_hz", "10 mhz"),
        ("mean_power_mw", "500"),
    ],
)
def test_a_spelling_with_two_meanings_is_refused(quantity: Quantity, text: str) -> None:
    with pytest.raises(BadQuantity):
        parse(quantity, text)


def test_a_point_that_may_stand_for_thousands_is_refused_with_both_readings(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert parse("mean_power_mw", "1.000 mW") == 1
    with pytest.raises(Ambiguous, match=r"1 mW, or 1000 mW"):
        parse("mean_power_mw", "1.000 mW", thousands=".")
    with pytest.raises(Ambiguous, match=r"12500 mW"):
        parse("mean_power_mw", "12.500 mW", thousands=".")
    for text in ("1.00 mW", "1.5 mW", "0.500 W", "1.0000 mW", "1000 mW"):
        assert parse("mean_power_mw", text, thousands=".") > 0
    monkeypatch.setenv("COACH_LANGUAGE", "de")
    code, _, err = answer(capsys, "mean-power=1.000mW", "time=10s")
    assert code == Exit.BAD_INPUT
    assert "1 mW, or 1000 mW?" in err


# A treated area: any of J, J/cm2 over it or seconds gives the rest, for one area and the session.
@pytest.mark.parametrize(
    "dose", ["time=275s", "energy=1787.5J", "treated-fluence=14.3J/cm2", "swept-fluence=14.3J/cm2"]
)
def test_a_treated_area_gives_all_the_others(dose: str, capsys: pytest.CaptureFixture[str]) -> None:
    # D11, R2: Alves 2022, 6.5 W, 275 s, 14.3 J/cm2: 1787.5 J, 125.0 cm2. Both hips: 3575 J.
    run(["dose", "mean-power=6.5W", "treated-area=125cm2", dose, "spots=2", "--json"])
    found = json.loads(capsys.readouterr().out)
    values = found["values"]
    assert values["duration_s"] == pytest.approx(275, rel=1e-6)
    assert values["energy_j"] == pytest.approx(1787.5, rel=1e-6)
    assert values["swept_fluence_j_cm2"] == pytest.approx(14.3, rel=1e-6)
    assert found["session_energy_j"] == pytest.approx(3575, rel=1e-6)

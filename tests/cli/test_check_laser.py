"""``coach check``: published doses through --json, the findings, and the safety page.

Status: R read in the source named, R2 read second-hand, C computed from a formula that is R or
R2, M from memory.
"""

import json
import math
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from pydantic import TypeAdapter

from coach.cli import run
from coach.cli.exits import Exit
from coach.dose.limits import EDITION, SCOPE
from coach.dose.sheet import PRECAUTIONS
from coach.plan.check_json import CheckJson

PLANS = Path(__file__).parents[2] / "plans"
CHECK = json.loads((files("coach.plan") / "check.schema.json").read_text(encoding="utf-8"))
SAFETY = json.loads((files("coach.dose") / "safety.schema.json").read_text(encoding="utf-8"))

FRAME = """\
coach_plan = 1

[plan]
id = "published"
revision = 1
prescriber = "Dr. Ada Muster (invented)"
prescribed_on = 2026-01-01
valid_until = 2099-12-31

[dog]
name = "Juniper"
weight_kg = 9.5

[settle]
leave_out = true

[laser]
label = "invented laser"
laser_class = "4"
{laser}
{course}
[[regions]]
region = "{region}"
sides = ["left"]
spots = {spots}
{dose}
"""
LASER = "wavelength_nm = 808\nmean_power_mw = 100\nbeam_area_cm2 = 0.5"

MW_20 = "mean_power_mw = 20\nbeam_area_cm2 = 0.5"
MW_50 = "mean_power_mw = 50\nbeam_area_cm2 = 0.005"


def written(
    folder: Path,
    *,
    laser: str = LASER,
    dose: str = "seconds_each_spot = 40",
    spots: int = 1,
    region: str = "lumbar",
    course: str = "",
) -> str:
    path = folder / "published.toml"
    text = FRAME.format(laser=laser, dose=dose, spots=spots, region=region, course=course)
    path.write_text(text, encoding="utf-8")
    return str(path)


def checked(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert run(["check", *words, "--json"]) == Exit.DONE
    out, err = capsys.readouterr()
    assert err == ""
    return json.loads(out)


def printed(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert run(["check", *words]) == Exit.DONE
    out, err = capsys.readouterr()
    assert err == ""
    assert all(len(line) <= 80 for line in out.splitlines())
    return out


@pytest.mark.parametrize(
    ("laser", "dose", "spots", "hold_s", "energy_j", "fluence_j_cm2", "session_j"),
    [
        # D06, R: BC Physical Therapy Tendinopathy Task Force toolkit, appendix B.
        ("mean_power_mw = 50", "joules_each_spot = 2", 1, 40, 2, None, 2),
        # D07 and D08, R: same.
        (MW_20, "seconds_each_spot = 100", 1, 100, 2, 4, 2),
        (MW_20, "joules_per_cm2_each_spot = 4", 1, 100, 2, 4, 2),
        ("mean_power_mw = 10\nbeam_area_cm2 = 0.25", "seconds_each_spot = 100", 1, 100, 1, 4, 1),
        # D09, R2: Hegedus 2009, quoted by Fangel 2019.
        (MW_50, "seconds_each_spot = 120", 8, 120, 6, 1200, 48),
        # D10, R2: Fukuda 2011, same.
        ("mean_power_mw = 60\nbeam_area_cm2 = 0.5", "seconds_each_spot = 50", 9, 50, 3, 6, 27),
        # D10 over the same area as a rectangle.
        (
            "mean_power_mw = 60\nbeam_rectangle_cm = [1.0, 0.5]",
            "seconds_each_spot = 50", 9, 50, 3, 6, 27,
        ),
        # D20, R2: WALT 2010, hip, 2 points of 6 J; 100 mW is ours.
        ("mean_power_mw = 100", "joules_each_spot = 6", 2, 60, 6, None, 12),
    ],
)  # fmt: skip
def test_published_doses_through_check(
    laser: str,
    dose: str,
    spots: int,
    hold_s: float,
    energy_j: float,
    fluence_j_cm2: float | None,
    session_j: float,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = written(tmp_path, laser=f"wavelength_nm = 808\n{laser}", dose=dose, spots=spots)
    found = checked(capsys, path)
    (row,) = found["regions"]
    assert (row["spots"], row["hold_s"], row["energy_j"]) == (spots, hold_s, energy_j)
    assert row["fluence_j_cm2"] == fluence_j_cm2
    assert row["all_spots_energy_j"] == session_j
    assert found["session"]["energy_j"] == session_j


@pytest.mark.parametrize(
    ("phases", "sessions"),
    [
        # D19, R: acral-lick trial 2021; R2: Alves 2022; R2: Looney 2018.
        ([(3, 2), (2, 2)], 10),
        ([(3, 1), (2, 1), (1, 1)], 6),
        ([(2, 3), (1, 3)], 9),
    ],
)
def test_sessions_of_published_courses(
    phases: list[tuple[int, int]],
    sessions: int,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    course = "".join(
        f'[[course]]\nname = "phase"\ntimes_a_week = {times}\nweeks = {weeks}\n'
        for times, weeks in phases
    )
    found = checked(capsys, written(tmp_path, course=course))["course"]
    assert found["sessions"] == sessions
    # One spot of 40 s at 100 mW is 4 J.
    assert found["energy_j"] == 4 * sessions


@pytest.mark.parametrize(
    ("pulses", "mean_mw", "relative"),
    [
        # D02, R: textbook 2019 p. 110, peak 6 W at half the time.
        ("peak_power_mw = 6000\nduty_cycle = 0.5", 3000, 0),
        # D05, R2/M: Silveira, quoted in Oxid Med Cell Longev 2017/5273403 (60 ns from memory).
        ("peak_power_mw = 70000\npulse_width_us = 0.06\nfrequency_hz = 9500", 40, 5e-3),
    ],
)
def test_published_mean_powers_of_pulsed_heads(
    pulses: str,
    mean_mw: float,
    relative: float,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = written(tmp_path, laser=f"wavelength_nm = 904\n[laser.pulsed]\n{pulses}")
    found = checked(capsys, path)["laser"]
    assert found["mean_power_mw"] == pytest.approx(mean_mw, rel=relative)
    assert found["emitters"][0]["pulsed"]["peak_power_mw"] in (6000, 70000)


@pytest.mark.parametrize(
    ("laser", "dose", "says"),
    [
        # D15, R: Olivieri 2015, Vet Dermatol 26:35: 3.885 J/cm2, +29.5 %, where 3 is stated.
        (
            "mean_power_mw = 1208\nbeam_area_cm2 = 25",
            "seconds_each_spot = 80.4\njoules_per_cm2_each_spot = 3",
            ["1.208 W × 80.4 s", "+29.5 %"],
        ),
        # D16, R2: Guaraldo, quoted in Oxid Med Cell Longev 2017/5273403: "100 W" for 100 mW.
        (
            "mean_power_mw = 100000",
            "seconds_each_spot = 40\njoules_each_spot = 4",
            ["this looks like mW written as W"],
        ),
    ],
)
def test_published_slips_are_refused_before_a_dog_is_treated(
    laser: str,
    dose: str,
    says: list[str],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = written(tmp_path, laser=f"wavelength_nm = 808\n{laser}", dose=dose)
    assert run(["check", path, "--json"]) == Exit.BAD_INPUT
    out, err = capsys.readouterr()
    assert out == ""
    for words in says:
        assert words in err


MANY = """\
[[laser.emitter]]
wavelength_nm = 808
mean_power_mw = 100
[[laser.emitter]]
wavelength_nm = 905
[laser.emitter.pulsed]
peak_power_mw = 25000
pulse_width_us = 0.2
frequency_hz = 5000
"""


@pytest.mark.parametrize(
    "laser",
    [
        LASER,
        MANY,
        f"{LASER}\n[laser.output_check]\nmeasured_mw = 70\non = 2026-01-05\nvalid_days = 7",
        f"{LASER}\n[laser.output_check]\nvalid_days = 7",
    ],
)
def test_the_json_keeps_to_its_schema(
    laser: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    jsonschema.validate(checked(capsys, written(tmp_path, laser=laser)), CHECK)


@pytest.mark.parametrize("plan", ["demo-long-back.toml", "demo-big-hips.toml"])
def test_every_key_of_the_demo_plans_is_in_the_schema(
    plan: str, capsys: pytest.CaptureFixture[str]
) -> None:
    found = checked(capsys, str(PLANS / plan))
    jsonschema.validate(found, closed(CHECK))


def closed(schema: Any) -> Any:
    """The same schema, but a key that it does not know is refused."""
    if isinstance(schema, list):
        return [closed(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    inner = {key: closed(value) for key, value in schema.items()}
    return inner | {"additionalProperties": False} if "properties" in schema else inner


def test_the_schema_in_the_project_is_the_one_of_the_code() -> None:
    assert TypeAdapter(CheckJson).json_schema() == CHECK


def test_findings_about_bands_and_output_are_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    laser = f"{LASER}\n[laser.output_check]\nmeasured_mw = 70\non = 2026-01-05\nvalid_days = 7"
    path = written(tmp_path, laser=laser)
    fields = {finding["field"] for finding in checked(capsys, path)["findings"]}
    assert {"laser.output_check", "regions[1]"} <= fields
    text = " ".join(printed(capsys, path).split())
    # (70 - 100) / 100 = -30 %
    assert "mean power 100 mW, as stated; 70 mW measured on 2026-01-05, -30.0 %" in text
    assert "the larger of the two is used: the shorter holds" in text
    assert "the plan allows 7" in text
    whole = " ".join(printed(capsys, "--findings", path).split())
    assert "made for people; seen as an excerpt" in whole


def test_emitters_are_told_one_by_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = written(tmp_path, laser=MANY)
    text = " ".join(printed(capsys, path).split())
    assert "808 and 905 nm" in text
    # 100 mW and 25 W x 0.2 us x 5000 Hz = 25 mW.
    assert "mean power 125 mW, 2 emitters together" in text
    assert "905 nm: 25 mW as stated" in text
    found = checked(capsys, path)["laser"]
    assert found["wavelength_nm"] is None
    assert [emitter["mean_power_mw"] for emitter in found["emitters"]] == [100, 25]


# S11, C: 808 nm, 0.5 W, 5 mm, 0.2 rad, 10 s: 0.9588 m, `lasercalc` and by hand.
AREA = "beam_area_cm2 = 0.5\n"
S11 = (
    "wavelength_nm = 808\nmean_power_mw = 500\naperture_diameter_cm = 0.5\ndivergence_mrad = 200\n"
)


def test_the_safety_numbers_of_a_published_case(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = checked(capsys, "--safety", written(tmp_path, laser=S11))
    jsonschema.validate(found, closed(SAFETY))
    # 0.9588 m for a full angle at 1/e; a format 1 plan cannot say so, and gets 1.41 times as much.
    assert found["nohd_linear_m"] == pytest.approx(0.9588 * math.sqrt(2), rel=1e-3)
    # S03, C: 16.4437 W/m2. 0.5 W in a pupil of 7 mm is 12992.2 W/m2: log10 of the ratio is 2.8977.
    assert found["emitters"][0]["eye_mpe_w_m2"] == pytest.approx(16.4437, rel=1e-5)
    assert found["required_od"] == pytest.approx(2.8977, rel=1e-4)
    assert found["edition"] == EDITION
    assert found["scope"] == SCOPE


def test_the_safety_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = printed(capsys, "--safety", written(tmp_path, laser=S11))
    assert len(text.splitlines()) <= 60
    words = " ".join(text.split())
    # Quadrature form by hand: sqrt(4 x 0.5 / (pi x 16.4437) - 0.005^2) / 0.2 = 0.9834 m; up: 1.0.
    assert "1.4 m in a straight line" in words
    assert "the reading that gives the farther distance (1.41 times)" in words
    assert "optical density 3 or more at 808 nm" in words
    for sentence in (*PRECAUTIONS, EDITION, SCOPE):
        assert " ".join(sentence.split()) in words


def test_the_safety_page_says_what_is_missing_and_what_was_taken_instead(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bare = "wavelength_nm = 905\n[laser.pulsed]\npeak_power_mw = 400\nduty_cycle = 0.5"
    words = " ".join(printed(capsys, "--safety", written(tmp_path, laser=bare)).split())
    assert "no divergence is stated; take it as the whole room" in words
    assert "no beam area is stated; keep fingers out of the beam" in words
    assert "taken as continuous at the peak power" in words
    assert checked(capsys, "--safety", written(tmp_path, laser=bare))["nohd_linear_m"] is None
    open_angle = "wavelength_nm = 808\nmean_power_mw = 100\ndivergence_mrad = 200"
    words = " ".join(printed(capsys, "--safety", written(tmp_path, laser=open_angle)).split())
    assert "no beam diameter at the opening stated: taken as a point" in words


def test_the_safety_page_takes_the_measured_power(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    check = "[laser.output_check]\nmeasured_mw = 700\non = 2026-01-05\n"
    found = checked(capsys, "--safety", written(tmp_path, laser=S11 + check))
    assert found["emitters"][0]["power_mw"] == pytest.approx(700)
    assert (found["power_by"], found["power_mw"]) == ("measured", pytest.approx(700))


def test_a_low_reading_takes_nothing_off_the_safety_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The page of 500 mW stays that of 500 mW when an old check says 50 mW."""
    check = "[laser.output_check]\nmeasured_mw = 50\non = 2026-01-05\nvalid_days = 30\n"
    stated = checked(capsys, "--safety", written(tmp_path, laser=S11 + AREA))
    found = checked(capsys, "--safety", written(tmp_path, laser=S11 + AREA + check))
    for key in ("required_od", "nohd_linear_m", "nohd_quadrature_m", "skin_ratio", "emitters"):
        assert found[key] == stated[key], key
    assert (found["power_by"], found["power_mw"], found["measured_power_mw"]) == ("stated", 500, 50)
    page = " ".join(
        printed(capsys, "--safety", written(tmp_path, laser=S11 + AREA + check)).split()
    )
    for words in (
        "1.4 m in a straight line",
        "optical density 3 or more",
        "Computed with 500 mW, the larger of 500 mW stated and 50 mW measured.",
    ):
        assert words in page
    # 1 W/cm2 against 0.2 C_A = 0.3289 W/cm2 (S07).
    assert "3.1 times the limit for the hand" in page
    path = written(tmp_path, laser=S11 + AREA + check)
    told = " ".join(printed(capsys, "--findings", path).split())
    # Among the first lines, too.
    first = " ".join(printed(capsys, path).split())
    assert "50 mW measured, 500 mW stated: a tenth of it, as a decimal point in the wrong" in first
    assert "a tenth of it, as a decimal point in the wrong place" in told


@pytest.mark.parametrize(
    ("time", "seconds"), [("0.25s", 0.25), ("10s", 10), ("100s", 100), ("8h", 28_800)]
)
def test_the_safety_page_is_computed_for_the_time_that_is_asked(
    time: str, seconds: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # Eye: 18·C_A·t^-0.25 W/m2 below 10 s, 10·C_A from there; skin 1.1·C_A·t^-0.75 W/cm2 below 10 s,
    # 0.2·C_A from there; C_A 1.64437 at 808 nm (S01).
    path = written(tmp_path, laser=S11)
    (found,) = checked(capsys, "--safety", "--for", time, path)["emitters"]
    short = seconds < 10
    eye = 18 * 1.64437 * seconds**-0.25 if short else 16.4437
    skin = 11_000 * 1.64437 * seconds**-0.75 if short else 3288.74
    assert found["eye_mpe_w_m2"] == pytest.approx(eye, rel=1e-4)
    assert found["skin_mpe_w_m2"] == pytest.approx(skin, rel=1e-4)
    assert found["skin_mpe_j_m2"] == pytest.approx(skin * seconds, rel=1e-4)
    words = " ".join(printed(capsys, "--safety", "--for", time, path).split())
    assert ("Nobody blinks at light that cannot be seen" in words) is short
    assert f"Computed for {'8 h' if time == '8h' else time.replace('s', ' s')} of looking" in words


def test_check_shows_every_limit_it_uses(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # S03, S07: eye 16.4437 W/m2, skin 0.2·C_A = 0.328874 W/cm2 at 808 nm from 10 s on; 100 mW on
    # 0.5 cm2 are 0.2 W/cm2.
    laser = checked(capsys, written(tmp_path))["laser"]
    (emitter,) = laser["emitters"]
    assert emitter["eye_limit_w_m2"] == pytest.approx(16.4437, rel=1e-4)
    assert emitter["skin_limit_w_cm2"] == pytest.approx(0.328874, rel=1e-4)
    assert (laser["limits_exposure_s"], laser["irradiance_mw_cm2"]) == (10, 200)
    assert laser["skin_times"] == pytest.approx(0.2 / 0.328874, rel=1e-4)


def test_a_time_that_is_not_offered_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as raised:
        run(["check", "--safety", "--for", "5s"])
    assert raised.value.code == Exit.BAD_INPUT
    assert "allowed: 0.25s, 10s, 100s, 8h" in capsys.readouterr().err


def test_pulses_for_which_no_limit_is_held_are_refused_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # 104 % of the time, within the 5 % by which statements may differ.
    overlapping = "duty_cycle = 1\npulse_width_us = 104000\nfrequency_hz = 10"
    laser = f"wavelength_nm = 905\n[laser.pulsed]\npeak_power_mw = 400\n{overlapping}"
    assert run(["check", "--safety", written(tmp_path, laser=laser)]) == Exit.BAD_INPUT
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("coach check --safety: ")


@pytest.mark.parametrize("plan", ["demo-long-back.toml", "demo-big-hips.toml"])
def test_the_demo_plans_have_a_safety_page(plan: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert EDITION in printed(capsys, "--safety", str(PLANS / plan))


def test_no_safety_page_for_a_plan_that_is_wrong(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = written(tmp_path, laser="wavelength_nm = 8080\nmean_power_mw = 100")
    assert run(["check", "--safety", path]) == Exit.BAD_INPUT
    assert capsys.readouterr().out == ""

"""``coach draft``: several sources in a head, the checked output, care. All of it is invented."""

import datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.cli import run
from coach.plan.draft import next_revision, read_source, source_text, to_plan
from coach.plan.files import load_plan
from coach.plan.laser import Emitter
from coach.plan.model import Plan
from tests.cli.test_draft import LUMBAR, TODAY, Script, complete, interview, options

# 60 mW beside pulses of 25 W, 0.1 us, 9000 Hz: 22.5 mW (P = P_peak f t, Suarez Redondo & Stephens
# 2019, p. 110), together 82.5 mW.
TWO = ("--laser-source", "808:60", "--laser-source", "905:25000/0.1us/9000Hz")
TWO_UW = 82_500


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def of_two(*more: str) -> list[str]:
    return options(
        "--region", LUMBAR, *TWO, *more, laser_wavelength_nm=None, laser_mean_power_mw=None
    )


def plan_in(path: Path) -> Plan:
    return load_plan(path, today=TODAY).plan


def test_several_sources_by_options_and_one_again_in_the_next_revision(folder: Path) -> None:
    assert run(of_two()) == 0
    first = plan_in(folder / "juniper-r1.toml")
    assert [source.wavelength_nm for source in first.laser.sources] == [808, 905]
    assert first.laser.power_uw == TWO_UW

    assert run(["draft", "juniper-r1.toml", "--note", "as before"]) == 0
    assert plan_in(folder / "juniper-r2.toml").laser == first.laser

    assert run(["draft", "juniper-r2.toml", *("--laser-source", "660:50")]) == 0
    assert plan_in(folder / "juniper-r3.toml").laser.power_uw == 50_000

    back = ["--laser-wavelength-nm", "830", "--laser-mean-power-mw", "70"]
    assert run(["draft", "juniper-r3.toml", *back]) == 0
    one = plan_in(folder / "juniper-r4.toml").laser
    assert one.emitter is None
    assert one.wavelength_nm == 830
    assert one.power_uw == 70_000


def test_a_checked_output_and_what_the_prescriber_allows(folder: Path) -> None:
    checked = ["--laser-measured-mw", "80", "--laser-measured-on", "2026-11-20"]
    care = ["--clearances", "implant, young", "--dog-lies", "On the mat.", "--owner-sits", "left"]
    assert run(of_two(*checked, *care, "--reminders", "few")) == 0
    plan = plan_in(folder / "juniper-r1.toml")
    assert plan.laser.power_uw == 80_000
    assert plan.laser.head.checked is not None
    assert plan.laser.head.checked.on == datetime.date(2026, 11, 20)
    assert plan.care is not None
    assert plan.care.clearances == ["implant", "young"]
    assert (plan.care.dog_lies, plan.care.owner_sits) == ("On the mat.", "left")
    assert plan.care.reminders == "few"


def test_what_is_wrong_names_its_option(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wrong = ["--laser-source", "905:25000/2", "--laser-source", "905nm", "--clearances", "implent"]
    assert run(of_two(*wrong)) == 2
    error = capsys.readouterr().err
    assert '--laser-source 4: "905nm" found; allowed: NM:MW, the mean power' in error
    assert "--laser-source 3 pulsed.duty_cycle: 2 found; allowed: 0.000001 to 1" in error
    assert '--clearances: "implent" found' in error
    assert 'did you mean "implant"?' in error
    assert run(of_two("--laser-measured-mw", "80")) == 2
    error = capsys.readouterr().err
    assert "--laser-measured-on: nothing found; allowed: both measured_mw and on" in error
    assert list(folder.iterdir()) == []


def test_one_source_beside_several_is_refused(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(options("--region", LUMBAR, *TWO)) == 2
    error = capsys.readouterr().err
    assert "--laser-mean-power-mw: " in error
    assert "allowed: mean_power_mw only under each [[laser.emitter]]" in error
    assert list(folder.iterdir()) == []


def test_the_conversation_asks_several_sources_only_for_themselves() -> None:
    draft = next_revision(to_plan(complete(), today=TODAY), today=TODAY)
    script = Script(
        {
            "Sources": ["808", "808:60, 905:25000/0.1us/9000Hz"],
            "Output that a meter": ["80", ""],
            "Checked on": ["", "2026-11-20"],
            "Standing facts": ["implants", "implant"],
        }
    )
    interview(script, draft).ask_everything()
    plan = to_plan(draft, today=TODAY)
    assert [source.wavelength_nm for source in plan.laser.sources] == [808, 905]
    assert plan.laser.power_uw == 80_000
    assert plan.care is not None
    assert plan.care.clearances == ["implant"]
    assert not any(prompt.startswith(("Wavelength", "Mean power")) for prompt in script.prompts)
    told = "\n".join(script.lines)
    assert '"808" found; allowed: NM:MW' in told
    assert "allowed: both measured_mw and on, or neither" in told
    assert 'did you mean "implant"?' in told

    again = next_revision(plan, today=TODAY)
    interview(
        Script({"Sources": ["-"], "Wavelength": ["660"], "Mean": ["90"]}), again
    ).ask_everything()
    assert to_plan(again, today=TODAY).laser.emitter is None
    assert to_plan(again, today=TODAY).laser.stated_power_uw == 90_000


@given(
    wavelength_nm=st.integers(400, 1400),
    power_mw=st.integers(1, 30_000),
    pulses=st.one_of(
        st.none(),
        st.integers(1, 999).map(lambda part: f"{Decimal(part) / 1000}"),
        st.tuples(st.integers(1, 500), st.integers(1, 20_000)).map(
            lambda pair: f"{Decimal(pair[0]) / 1000}us/{pair[1]}Hz"
        ),
    ),
)
def test_a_source_reads_back_as_it_was_said(
    wavelength_nm: int, power_mw: int, pulses: str | None
) -> None:
    said = f"{wavelength_nm}:{power_mw}" + ("" if pulses is None else f"/{pulses}")
    read = read_source(said)
    assert source_text(read) == said
    assert Emitter.model_validate(read).wavelength_nm == wavelength_nm

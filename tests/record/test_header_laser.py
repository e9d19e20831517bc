"""The laser in the first line of a journal: every emitter, and the power that was counted with."""

from coach.bedside.runner import header_of
from coach.plan.files import PlanFile
from coach.plan.spots import spots_of
from coach.session.machine import Options
from tests.plan.test_laser import TWO, with_laser
from tests.plan.worlds import PLANS, read


def laser_in_header(text: str) -> object:
    plan = read(text)
    plan_file = PlanFile(path=PLANS / "spine.toml", plan=plan, digest="0" * 64)
    header = header_of(plan_file, spots_of(plan), Options(), version="0", rehearsal=False)
    return header["laser"]


def test_every_emitter_is_named_with_its_power() -> None:
    # 25 W x 0.2 us x 5000 Hz = 25 mW beside 100 mW.
    assert laser_in_header(with_laser(TWO, power="")) == {
        "label": "invented laser",
        "laser_class": "3B",
        "wavelength_nm": ["808", "905"],
        "mean_power_uw": 125_000,
        "beam_area_um2": 50_000_000,
        "emitters": [
            {"wavelength_nm": "808", "stated_power_uw": 100_000},
            {
                "wavelength_nm": "905",
                "stated_power_uw": 25_000,
                "peak_power_mw": "25000",
                "pulse_width_us": "0.2",
                "frequency_hz": "5000",
            },
        ],
        "output_check": None,
    }


def test_the_measured_power_counts_and_the_stated_one_is_kept() -> None:
    check = "\n[laser.output_check]\nmeasured_mw = 80\non = 2026-11-20\n"
    found = laser_in_header(with_laser(check))
    assert isinstance(found, dict)
    assert found["mean_power_uw"] == 80_000
    assert found["emitters"] == [{"wavelength_nm": "808", "stated_power_uw": 100_000}]
    assert found["output_check"] == {"measured_power_uw": 80_000, "on": "2026-11-20"}

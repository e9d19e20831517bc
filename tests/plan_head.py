"""How small plans of the tests begin. The dog, the people and the laser are invented."""

_HEAD = """\
coach_plan = 1

[plan]
id = "{id}"
revision = {revision}
prescriber = "Dr. Ada Muster (invented)"
prescribed_on = 2026-11-01
valid_until = {valid_until}

[dog]
name = "Juniper"
weight_kg = 9.5

[laser]
label = "invented laser"
laser_class = "3B"
starts = "stays on"
wavelength_nm = 808
mean_power_mw = 100
beam_area_cm2 = 0.5
"""


def head(plan_id: str, *, revision: int = 1, valid_until: str = "2099-12-31") -> str:
    """A plan file from its first line into its table ``[laser]``."""
    return _HEAD.format(id=plan_id, revision=revision, valid_until=valid_until)

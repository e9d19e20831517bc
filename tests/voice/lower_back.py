"""A plan of two rows of spots along the lower back, to be listened to."""

# The dog, the people and the laser are invented.
_PLAN = """\
coach_plan = 1
[plan]
id = "lower-back"
revision = 1
prescriber = "Dr. Ada Muster (invented)"
prescribed_on = 2026-11-01
valid_until = 2099-12-31
[dog]
name = "Juniper"
weight_kg = 9.5
[laser]
label = "invented laser"
laser_class = "3B"
wavelength_nm = 808
mean_power_mw = 100
beam_area_cm2 = 0.5
[settle]
leave_out = true
[session]
move_seconds = 5
[[regions]]
region = "lumbar"
sides = ["left", "right"]
spots = {each_side}
seconds_each_spot = {hold_s}
"""


def lower_back(*, each_side: int, hold_s: int) -> str:
    """So many spots on the left and on the right, each held so long, as a plan file."""
    return _PLAN.format(each_side=each_side, hold_s=hold_s)

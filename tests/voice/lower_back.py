"""A plan of two rows of spots along the lower back, to be listened to."""

from tests.plan_head import head

_PLAN = """\
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
    return head("lower-back") + _PLAN.format(each_side=each_side, hold_s=hold_s)

"""``coach check --safety``: one page about eyes, skin and bystanders for the plan's laser."""

from coach.plan.laser import Laser


def print_safety(laser: Laser, *, as_json: bool) -> None:
    """Print the page, or the same as data."""
    from coach.dose.hazard import head_hazard
    from coach.dose.sheet import sheet, to_json

    hazard = head_hazard(laser.head)
    if as_json:
        import json

        print(json.dumps(to_json(hazard), indent=2, allow_nan=False))
        return
    import textwrap

    for line in sheet(hazard, label=laser.label, laser_class=laser.laser_class):
        indent = " " * (len(line) - len(line.lstrip()))
        print("\n".join(textwrap.wrap(line, 80, subsequent_indent=indent)))

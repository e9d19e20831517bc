"""``coach check --safety``: one page about eyes, skin and bystanders for the plan's laser."""

import sys

from coach.cli.exits import Exit
from coach.plan.laser import Laser


def print_safety(laser: Laser, *, as_json: bool) -> Exit:
    """Print the page, or the same as data; or why no limit is held for such a laser."""
    from coach.dose.hazard import head_hazard
    from coach.dose.limits import OutOfScope
    from coach.dose.sheet import sheet, to_json

    try:
        hazard = head_hazard(laser.head)
    except OutOfScope as reason:
        print(f"coach check --safety: {reason}", file=sys.stderr)
        return Exit.BAD_INPUT
    if as_json:
        import json

        print(json.dumps(to_json(hazard), indent=2, allow_nan=False))
        return Exit.DONE
    import textwrap

    for line in sheet(hazard, label=laser.label, laser_class=laser.laser_class):
        indent = " " * (len(line) - len(line.lstrip()))
        print("\n".join(textwrap.wrap(line, 80, subsequent_indent=indent)))
    return Exit.DONE

"""``coach check --safety``: one page about eyes, skin and bystanders for the plan's laser."""

import argparse
import sys

from coach.cli.exits import Exit
from coach.plan.laser import Laser

# Seconds by what may be typed behind --for: a blink, a stare, a long one, a working day.
EXPOSURES = {"0.25s": 0.25, "10s": 10.0, "100s": 100.0, "8h": 28_800.0}


def exposure(text: str) -> float:
    """Seconds of ``0.25s``, ``10s``, ``100s`` or ``8h``, as argparse takes them."""
    found = EXPOSURES.get(text.replace(" ", "").lower())
    if found is None:
        raise argparse.ArgumentTypeError(f"found {text!r}; allowed: {', '.join(EXPOSURES)}")
    return found


def print_safety(laser: Laser, *, as_json: bool, exposure_s: float | None = None) -> Exit:
    """Print the page, or the same as data; or why no limit is held for such a laser."""
    from coach.dose.hazard import head_hazard
    from coach.dose.limits import OutOfScope
    from coach.dose.sheet import sheet, to_json

    try:
        hazard = head_hazard(laser.head, exposure_s=exposure_s)
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

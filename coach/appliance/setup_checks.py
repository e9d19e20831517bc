"""What ``coach selfcheck`` makes of how this computer is set up. Pure: facts in, findings out."""

from collections.abc import Mapping, Sequence

from coach.appliance.checks import Finding

# Boards begin to slow down at 80 degrees (common practice, no source); a closed cupboard is warm.
HOT_C, WARM_C = 80.0, 70.0


def settings(problems: Sequence[str], *, volume_percent: int) -> Finding:
    """``problems``: what could not be used of the settings file, one line each."""
    if problems:
        return Finding(
            topic="settings",
            level="trouble",
            found=f"{len(problems)} that cannot be used; the first: {problems[0]}",
            matters="The defaults are used instead.",
            to_do="Mend the line, or set it anew: coach voice, coach keys.",
        )
    if volume_percent == 0:
        return Finding(
            topic="settings",
            level="trouble",
            found="volume 0 percent",
            matters="Neither cues nor tones can be heard.",
            to_do="coach voice --volume 100",
        )
    return Finding(topic="settings", level="fine", found=f"volume {volume_percent} percent")


def home(value: str | None, *, absolute: bool, is_file: bool) -> Finding | None:
    """``value``: COACH_HOME, or None where it is not set: then there is nothing to say."""
    if value is None:
        return None
    if is_file:
        found, matters = f"{value} is a file", "Nothing can be kept there."
    elif not absolute:
        found, matters = f"{value} is relative", "Each folder would have dogs of its own."
    else:
        return Finding(topic="COACH_HOME", level="fine", found=value)
    return Finding(
        topic="COACH_HOME",
        level="trouble",
        found=found,
        matters=matters,
        to_do="Set it to a folder, from the root on, such as /srv/coach.",
    )


def strays(dog: str, names: Sequence[str]) -> Finding | None:
    """``names``: what lies among the logs of a dog and is no log."""
    if not names:
        return None
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    return Finding(
        topic=f"logs of {dog}",
        level="remark",
        found=f"{names[0]}{more} among them is no log of the coach",
        matters="It is not read and not handed over.",
        to_do="Move it away.",
    )


def network(states: Mapping[str, str]) -> Finding:
    """``states``: operstate of each interface but the loopback, as the kernel names them."""
    up = sorted(name for name, state in states.items() if state == "up")
    if up:
        return Finding(topic="network", level="fine", found=f"connected: {', '.join(up)}")
    found = f"not connected: {', '.join(sorted(states))}" if states else "none"
    return Finding(
        topic="network",
        level="remark",
        found=found,
        matters="Sessions need none. The clock is set by it, and a tablet's page needs it.",
    )


def temperature(millidegrees: Sequence[int]) -> Finding:
    """``millidegrees``: of each thermal zone, as the kernel tells."""
    if not millidegrees:
        return Finding(topic="temperature", level="unknown", found="this board does not tell")
    hottest_c = max(millidegrees) / 1000
    found = f"{hottest_c:.0f} degrees Celsius"
    if hottest_c >= HOT_C:
        return Finding(
            topic="temperature",
            level="trouble",
            found=found,
            matters="The board slows down, and tones may come late.",
            to_do="Give it air, or a heat sink.",
        )
    if hottest_c >= WARM_C:
        return Finding(topic="temperature", level="remark", found=found, to_do="Give it air.")
    return Finding(topic="temperature", level="fine", found=found)


def starts_by_itself(units: Mapping[str, str], *, lingers: bool, user_units: bool) -> Finding:
    """``units``: is-active of each of our units that is enabled; whether the user lingers."""
    failed = sorted(name for name, state in units.items() if state == "failed")
    if failed:
        return Finding(
            topic="start",
            level="trouble",
            found=f"{', '.join(failed)} failed",
            matters="The coach does not come up by itself.",
            to_do=f"systemctl status {failed[0]} tells why.",
        )
    if user_units and not lingers:
        return Finding(
            topic="start",
            level="trouble",
            found="reminder or tablet page set up, but only after a login",
            matters="After switching on, nobody is logged in.",
            to_do="coach install --yes, or: sudo loginctl enable-linger",
        )
    found = f"by itself: {', '.join(sorted(units))}" if units else "by hand: coach"
    return Finding(topic="start", level="fine", found=found)


def sticks(*, udisks: bool) -> Finding:
    """Whether memory sticks can be mounted without root."""
    if udisks:
        return Finding(topic="sticks", level="fine", found="mounted by udisks")
    return Finding(
        topic="sticks",
        level="remark",
        found="udisks is not installed",
        matters="The coach cannot mount a stick; one that is mounted already can be used.",
        to_do="sudo apt-get install udisks2",
    )

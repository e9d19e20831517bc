"""``coach selfcheck``: is this computer fit for a session? What, whether it matters, what to do."""

import argparse
import os
import shutil
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import Exit

if TYPE_CHECKING:
    from coach.appliance.checks import Finding

DEVICE_ANSWERS_WITHIN_S = 8.0
# Old logs do not change, and a verification reads every line.
NEWEST_LOGS = 50
# What the coach itself keeps beside the logs.
KEPT_BESIDE_LOGS = frozenset({"index.jsonl", "lock"})
SIGNS = "█ ▀ ▄ ✓ ○ ● ■ ⠿ ← →"


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "selfcheck",
        help="is this computer fit for a session?",
        description="Look at sound, microphone, screen, clock, disk, card, power, keys, plans and "
        "logs: what was found, whether it matters, what to do.",
    )
    command.add_argument("--json", action="store_true", help="machine-readable; asks nothing")
    command.add_argument(
        "--no-questions", action="store_true", help="do not ask for the pedal to be pressed"
    )
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Look, tell."""
    from coach.appliance.checks import lines, ready, to_json

    terminal = sys.stdin.isatty() and sys.stdout.isatty()
    asks = terminal and not args.json and not args.no_questions
    findings = [
        _sound(),
        _microphone(),
        _screen(),
        _clock(),
        *_disk(),
        _power(),
        *_setup(),
        _keys(asks=asks),
        *_dogs(),
    ]
    if args.json:
        import json

        print(json.dumps(to_json(findings), indent=2, ensure_ascii=False))
    else:
        print("\n".join(lines(findings)))
        if terminal:
            print(f"\nEach of these ten signs should look like itself: {SIGNS}")
    return Exit.DONE if ready(findings) else Exit.NOT_READY


def _sound() -> "Finding":
    from coach.appliance.checks import sound
    from coach.appliance.system_probe import text_of
    from coach.cli.keys import settings
    from coach.cli.voice import sample
    from coach.voice.device_watch import CARDS
    from coach.voice.wished_voice import spoken_voice

    voice = spoken_voice(settings().voice)
    kind = ""
    try:
        problems = voice.prepare([sample()])
        ends_s = time.monotonic() + DEVICE_ANSWERS_WITHIN_S
        while not kind and time.monotonic() < ends_s:
            kinds = [report.kind for report in voice.poll()]
            kind = next((one for one in kinds if one in ("sound_device_ok", "no_sound_device")), "")
            time.sleep(0.05)
    finally:
        voice.close()
    return sound(kind, text_of(CARDS), next(iter(problems.values()), ""))


def _microphone() -> "Finding":
    from coach.appliance.checks import microphone
    from coach.appliance.system_probe import text_of
    from coach.cli.keys import settings

    known = settings()
    trial = ""
    if known.trial is not None:
        went = known.trial
        trial = (
            f"tried on {went.on}: {went.right} of {went.of} phrases understood, "
            f"{went.wrong} taken for another; "
            f"sessions {'listen' if known.listens else 'do not listen'}"
        )
    return microphone(text_of(Path("/proc/asound/pcm")), trial=trial)


def _screen() -> "Finding":
    from coach.appliance.checks import screen
    from coach.appliance.display import displays

    size = shutil.get_terminal_size() if sys.stdout.isatty() else None
    return screen(
        displays(),
        terminal=None if size is None else (size.columns, size.lines),
        kind=os.environ.get("TERM", ""),
        encoding=sys.stdout.encoding or "",
    )


def _clock() -> "Finding":
    import datetime

    from coach.appliance.checks import clock
    from coach.appliance.clock import trust

    now = datetime.datetime.now().astimezone()
    return clock(trust(), f"{now:%Y-%m-%d %H:%M}", now.tzname() or "")


def _disk() -> "list[Finding]":
    from coach.appliance.checks import Finding, disk, wear
    from coach.appliance.system_probe import card_age, file_system_errors, mount_of
    from coach.journal.disk import free_bytes
    from coach.paths import state_folder

    folder = state_folder()
    mount = mount_of(folder)
    if mount is None:
        untold = "this computer does not tell"
        return [Finding(topic=topic, level="unknown", found=untold) for topic in ("disk", "card")]
    there = next(place for place in (folder, *folder.parents) if place.is_dir())
    life, spare = card_age(mount)
    return [
        disk(mount.kind, mount.options, free_bytes=free_bytes(there), folder=str(folder)),
        wear(errors=file_system_errors(mount), life=life, spare=spare),
    ]


def _power() -> "Finding":
    from coach.appliance.checks import power
    from coach.appliance.system_probe import throttled, under_voltage

    return power(alarm=under_voltage(), throttled=throttled())


def _setup() -> "list[Finding]":
    import getpass

    from coach.appliance import setup_checks
    from coach.appliance.install import CONSOLE, KIOSK, REMINDER, TABLET
    from coach.appliance.install_run import lingering
    from coach.appliance.system_probe import network_states, temperatures, unit_states
    from coach.paths import settings_file
    from coach.screens.bindable_keys import key_wishes
    from coach.voice.settings_file import read_settings

    known = read_settings(settings_file(), key_wishes=key_wishes())
    value = os.environ.get("COACH_HOME") or None
    home = Path(value or "/")
    ours = [("system", KIOSK), ("system", CONSOLE), ("user", REMINDER), ("user", TABLET)]
    units = unit_states(ours)
    findings = [
        setup_checks.settings(
            [str(problem) for problem in known.problems],
            volume_percent=known.voice.volume_percent,
        ),
        setup_checks.home(value, absolute=home.is_absolute(), is_file=home.is_file()),
        setup_checks.network(network_states()),
        setup_checks.temperature(temperatures()),
        setup_checks.starts_by_itself(
            units,
            lingers=lingering(getpass.getuser()),
            user_units=bool({REMINDER, TABLET} & units.keys()),
        ),
        setup_checks.sticks(udisks=shutil.which("udisksctl") is not None),
    ]
    return [finding for finding in findings if finding is not None]


def _keys(*, asks: bool) -> "Finding":
    from coach.appliance.checks import keys
    from coach.appliance.system_probe import text_of
    from coach.cli.keys import settings
    from coach.screens.bindable_keys import key_wishes

    pressed: str | None = None
    means = ""
    if asks:
        from coach.screens.key_tester import ArrivalsApp

        keymap = key_wishes().keymap(settings().keys)
        meanings = {key: action for action, names in keymap.items() for key in names}
        pressed = ArrivalsApp(meanings, "one_key").run() or ""
        means = meanings.get(pressed, "nothing yet (coach keys --bind)")
    return keys(text_of(Path("/proc/bus/input/devices")), pressed=pressed, means=means)


def _dogs() -> "list[Finding]":
    from coach.appliance.checks import Finding
    from coach.paths import own_plans

    plans = own_plans()
    if not plans:
        return [
            Finding(
                topic="plan",
                level="remark",
                found="no dog has one yet",
                matters="Only rehearsals of the demo plan are possible.",
                to_do="coach take FILE.toml puts the prescriber's plan there.",
            )
        ]
    found = [
        finding
        for path in plans
        for finding in (_plan(path), _logs(path.parent), _strays(path.parent))
    ]
    return [finding for finding in found if finding is not None]


def _strays(dog: Path) -> "Finding | None":
    from coach.appliance.setup_checks import strays
    from coach.journal.journal import journal_files

    folder = dog / "journals"
    if not folder.is_dir():
        return None
    logs = {path.name for path in journal_files(folder)}
    others = sorted(
        path.name
        for path in folder.iterdir()
        if path.name.removesuffix(".sig") not in logs and path.name not in KEPT_BESIDE_LOGS
    )
    return strays(dog.name, [name for name in others if not name.startswith(".")])


def _plan(path: Path) -> "Finding":
    from coach.appliance.checks import Finding
    from coach.appliance.clock import today
    from coach.plan.files import load_plan
    from coach.plan.problems import PlanProblems

    topic = f"plan of {path.parent.name}"
    try:
        plan = load_plan(path, today=today()).plan
    except PlanProblems as problems:
        return Finding(
            topic=topic,
            level="trouble",
            found=f"{len(problems.problems)} problems; the first: {problems.problems[0]}",
            matters="No session can start from it.",
            to_do=f"coach check {path}",
        )
    found = f"{plan.about.id}, revision {plan.about.revision}, holds to {plan.about.valid_until}"
    if today() > plan.about.valid_until:
        return Finding(
            topic=topic,
            level="trouble",
            found=found,
            matters="It holds no longer: no session starts from it.",
            to_do="Ask the prescriber for the next revision.",
        )
    return Finding(topic=topic, level="fine", found=found)


def _logs(dog: Path) -> "Finding":
    from coach.appliance.checks import Finding
    from coach.journal.journal import journal_files
    from coach.record.verify import verify_all

    topic = f"logs of {dog.name}"
    files = journal_files(dog / "journals")
    newest = files[-NEWEST_LOGS:]
    results = verify_all(newest)
    looked = f"the newest {len(newest)} of {len(files)}" if len(files) > len(newest) else "all"
    bad = [one for one in results if one.verdict in ("damaged", "unreadable") or one.findings]
    if bad:
        return Finding(
            topic=topic,
            level="trouble",
            found=f"{len(bad)} damaged, such as {bad[0].path.name}",
            matters="What they say cannot be trusted as it stands.",
            to_do="coach verify tells which lines; coach repair saves what still holds.",
        )
    still_open = sum(one.verdict == "not_closed" for one in results)
    if still_open:
        return Finding(
            topic=topic,
            level="remark",
            found=f"{looked} hold; {still_open} not closed",
            matters="A session was cut off, or is being held now.",
            to_do="The next start offers to carry on with it, or closes it.",
        )
    found = f"{looked} hold" if files else "none yet"
    return Finding(topic=topic, level="fine", found=found)

"""``coach remind``: say once, softly, that a session is due. Run by a timer every quarter hour."""

import argparse
import sys
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

from coach.cli.exits import Exit
from coach.language import _

if TYPE_CHECKING:
    import datetime

    from coach.bedside.dogs import DogHome
    from coach.voice.reminder import Facts, Hours

# Half of what the owner set for a session: it speaks into a room where nobody waits for it.
SOFTER = 2


def _hours(text: str) -> "Hours":
    from coach.voice.reminder import hours_from

    try:
        return hours_from(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from error


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "remind",
        help="say once, softly, when a session is due",
        description="Say once a day, softly, that a session of a dog is due: within the hours that "
        "you set, never during a session, never on a clock that cannot be trusted. coach install "
        "has it looked for every quarter hour.",
    )
    choice = command.add_mutually_exclusive_group()
    choice.add_argument(
        "--between", type=_hours, metavar="18:00-20:30", help="set the hours in which it may speak"
    )
    choice.add_argument("--never", action="store_true", help="do not remind any more")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Set the hours, or look and perhaps speak."""
    if args.between is not None or args.never:
        return _set(args.between)
    from coach.bedside.dogs import known_dogs
    from coach.cli.keys import settings

    wishes = settings()
    due = []
    for dog in known_dogs():
        reason = _silent_because(dog, wishes.reminder)
        if reason is None:
            due.append(dog)
        else:
            print(f"{dog.name}: not said: {reason}.")
    code = _remind(due) if due else Exit.DONE
    _look_for_rot()
    return code


def _look_for_rot() -> None:
    """Read all logs once a week, silently; what is wrong with them is told on home."""
    import os

    from coach.appliance.backup import earlier_keys
    from coach.journal.signing import KeyUnusable, device_key
    from coach.paths import device_key_file, dogs_folder, state_folder
    from coach.record.weekly_check import check_weekly

    key = None
    try:
        if device_key_file().exists():
            own = device_key(device_key_file()).public_key
            key = ",".join([own, *earlier_keys(state_folder())])
        with suppress(PermissionError):
            # Whatever else runs here is more urgent; the service may not even ask for that.
            os.nice(10)
        for folder in sorted(path for path in dogs_folder().glob("*") if path.is_dir()):
            check_weekly(folder, today=local_now().date(), key=key)
    except (KeyUnusable, OSError) as error:
        print(f"coach: the logs were not checked: {error}", file=sys.stderr)


def local_now() -> "datetime.datetime":
    """The clock on the wall."""
    import datetime

    return datetime.datetime.now().astimezone()


def _set(hours: "Hours | None") -> int:
    from coach.paths import settings_file
    from coach.voice.reminder import as_table
    from coach.voice.settings_file import change_settings

    try:
        change_settings(settings_file(), "reminder", as_table(hours))
    except (OSError, ValueError) as error:
        print(f"coach: the settings cannot be kept: {error}", file=sys.stderr)
        return Exit.BAD_INPUT
    if hours is None:
        print(_("You will not be reminded."))
    else:
        print(
            _("You will be reminded between {since} and {until}.").format(
                since=f"{hours.since:%H:%M}", until=f"{hours.until:%H:%M}"
            )
        )
    return Exit.DONE


def _silent_because(dog: "DogHome", hours: "Hours | None") -> str | None:
    from coach.voice.reminder import silent_because

    facts = _facts(dog)
    return "it has no plan that can be used" if facts is None else silent_because(facts, hours)


def _facts(dog: "DogHome") -> "Facts | None":
    from coach.appliance.clock import trust
    from coach.journal.disk import held_by
    from coach.paths import SUMMARY
    from coach.plan.calendar import due_dates
    from coach.record.dog_course import given_of
    from coach.record.summary_cache import summary_of
    from coach.voice.reminder import Facts

    plan = dog.plan
    if plan is None:
        return None
    now = local_now()
    summary = summary_of(dog.journals, kept=dog.folder / SUMMARY)
    given = [given_of(one) for one in summary.briefs if one.dog == dog.name and one.matters]
    calendar = None
    if plan.course and now.tzinfo is not None:
        calendar = due_dates(plan, None, given, now.date(), now.tzinfo)
    return Facts(
        now=now,
        trusted=trust() != "unknown",
        prescribed_on=plan.about.prescribed_on,
        valid_until=plan.about.valid_until,
        calendar=calendar,
        unsure=any(one.day is None for one in given)
        or any(not one.nothing_begun for one in summary.unread),
        running=held_by(dog.journals) is not None,
        reminded_on=_reminded().get(dog.folder.name),
    )


def _remind(dogs: "list[DogHome]") -> int:
    from coach.cli.keys import settings
    from coach.cli.voice import say_once

    today = local_now().date()
    try:
        # Kept before it is said: a plug that is pulled between the two must not make it two.
        _keep({**_reminded(), **{dog.folder.name: today for dog in dogs}})
    except OSError as error:
        print(f"coach: not said, because it cannot be kept that it was: {error}", file=sys.stderr)
        return Exit.NOT_WRITTEN
    voice = settings().voice
    softly = replace(voice, volume_percent=voice.volume_percent // SOFTER)
    for dog in dogs:
        text = _("A session for {dog} is due today.").format(dog=dog.name)
        print(text, flush=True)
        say_once(text, softly, tone=None)
    return Exit.DONE


def _reminded() -> "dict[str, datetime.date]":
    import datetime
    import json

    from coach.paths import reminded_file

    try:
        told = json.loads(reminded_file().read_text(encoding="utf-8"))
        return {str(name): datetime.date.fromisoformat(day) for name, day in told.items()}
    except FileNotFoundError:
        return {}
    except (OSError, ValueError, TypeError, AttributeError) as error:
        # Whatever it said: at most one reminder more, and the file is written anew.
        print(
            f"coach: {reminded_file()} cannot be read and is begun anew: {error}", file=sys.stderr
        )
        return {}


def _keep(reminded: "dict[str, datetime.date]") -> None:
    import json

    from coach.journal.disk import write_whole
    from coach.paths import reminded_file

    days = {name: day.isoformat() for name, day in reminded.items()}
    write_whole(reminded_file(), json.dumps(days))

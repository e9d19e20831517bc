"""``coach course``: what is due, what was given, on the calendar."""

import argparse
import datetime
import os
import shutil
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import Exit
from coach.language import _, ngettext

if TYPE_CHECKING:
    from coach.plan.calendar import Calendar
    from coach.plan.model import Plan

PIPED_COLUMNS = 90


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "course",
        help="the course on the calendar: due, given, missed",
        description="Show the course of a dog's plan on the calendar: what is due, what was given "
        "and what was missed, and how that went. What becomes of a missed session is what the "
        "plan says under [calendar].",
        epilog="examples: coach course; coach course Juniper --list; "
        "coach course --ics juniper.ics",
    )
    command.add_argument("dog", nargs="?", metavar="DOG|PLAN", help="default: the only dog")
    how = command.add_mutually_exclusive_group()
    how.add_argument("--list", action="store_true", help="one line a session")
    how.add_argument("--pages", action="store_true", help="full screen, one key a page")
    how.add_argument("--json", action="store_true", help="machine-readable")
    how.add_argument(
        "--ics",
        type=Path,
        metavar="FILE",
        help="write it for a calendar program; a file of an earlier export is brought up to date",
    )
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Show or write the course."""
    from coach import paths
    from coach.appliance.clock import trust
    from coach.bedside.dogs import NoSuchDog, dog_home
    from coach.record.dog_course import figures_of, read_course

    try:
        home = dog_home(args.dog)
    except NoSuchDog as error:
        print(f"coach course: {error}", file=sys.stderr)
        return Exit.BAD_INPUT
    plan = home.plan
    if plan is None:
        return _no_plan(home.name, home.folder / "plan.toml")
    calendar = read_course(plan, home.folder, kept=paths.summary_folder(home.name))
    if args.ics is not None:
        return _write_ics(args.ics, plan, calendar)
    figures = figures_of(plan, calendar)
    if args.json:
        import json

        from coach.reports.calendar_json import course_json

        found = course_json(calendar, figures, clock_trusted=trust() != "unknown")
        print(json.dumps(found, indent=2))
        return Exit.DONE
    if args.pages and sys.stdin.isatty() and sys.stdout.isatty():
        from coach.bedside.flow import show
        from coach.bedside.pages import CoursePage, close_key
        from coach.cli.running import run_flow

        look = "console" if _ascii_only() else "dark"
        page = CoursePage(calendar=calendar, figures=figures, keys=(close_key(),))
        run_flow(lambda _evening: show(page), argparse.Namespace(look=look, silent=True))
        return Exit.DONE
    if args.pages:
        print(_("No terminal here: text instead."), file=sys.stderr)
    _print(calendar, listed=args.list)
    from coach.reports.calendar_text import adherence_lines, unsure_text

    print()
    print("\n".join(adherence_lines(figures)))
    if trust() == "unknown":
        print(unsure_text(calendar.today))
    return Exit.DONE


def _no_plan(dog: str, path: Path) -> int:
    """Why the plan cannot be used, as far as there is one."""
    from coach.cli.plans import load

    if path.exists():
        load(path)
    else:
        print(f"coach course: no plan for {dog}; allowed: {path} or a PLAN", file=sys.stderr)
    return Exit.BAD_INPUT


def _ascii_only() -> bool:
    """Where the signs of Unicode cannot be shown."""
    from coach.cli.regions import BARE_CONSOLES

    encoding = (sys.stdout.encoding or "").lower().replace("-", "")
    return encoding != "utf8" or os.environ.get("TERM", "") in BARE_CONSOLES


def _print(calendar: "Calendar", *, listed: bool) -> None:
    from coach.reports import calendar_text as told

    width = PIPED_COLUMNS
    if sys.stdout.isatty():
        width = shutil.get_terminal_size((PIPED_COLUMNS, 24)).columns
    ascii_only = _ascii_only()
    print(f"{calendar.dog}: {told.headline(calendar)}")
    if listed:
        print("\n".join(told.due_lines(calendar)))
    elif calendar.dues:
        for rows in told.month_pages(calendar, width=width, ascii_only=ascii_only):
            print()
            print("\n".join(rows))
        print(told.legend_text(calendar, ascii_only=ascii_only))
    for line in told.remark_lines(calendar):
        print(line)


def _write_ics(path: Path, plan: "Plan", calendar: "Calendar") -> int:
    from coach.plan.findings import total_ns
    from coach.plan.spots import spots_of
    from coach.reports.calendar_ics import NotOurs, Told, course_ics

    duration = datetime.timedelta(microseconds=total_ns(spots_of(plan)) // 1000)
    now = datetime.datetime.now(datetime.UTC)
    told = Told(prescriber=plan.about.prescriber, duration=duration)
    part = path.with_name(f"{path.name}.part")
    try:
        before = path.read_bytes() if path.exists() else None
        new = course_ics(calendar, told, now=now, before=before)
        part.write_bytes(new)
        part.replace(path)
    except NotOurs as error:
        allowed = "allowed: a new file, or one that this command wrote"
        print(f"coach course: {path}: {error}; {allowed}; nothing written", file=sys.stderr)
        return Exit.BAD_INPUT
    except OSError as error:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        print(f"coach course: {path}: {error.strerror}; nothing written", file=sys.stderr)
        return Exit.BAD_INPUT
    line = ngettext(
        "{file}: {count} session. Import it again after each export.",
        "{file}: {count} sessions. Import it again after each export.",
        len(calendar.dues),
    )
    print(line.format(file=path, count=len(calendar.dues)))
    return Exit.DONE

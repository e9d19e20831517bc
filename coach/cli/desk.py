"""``coach desk``: write a plan on the dog, full screen."""

import argparse
import sys
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import Exit

if TYPE_CHECKING:
    import datetime

    from coach.plan.desk import Desk


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "desk",
        help="for the prescriber: write a plan on the dog, or its next revision",
        description=(
            "Write a plan full screen: any field at any time, the dog with every spot, findings "
            "and totals beside it. With PLAN the next revision is written; PLAN stays as it is. "
            "Everything is kept as a draft at once. No dose is ever proposed."
        ),
    )
    command.add_argument("plan", type=Path, nargs="?", help="plan file (default: a new plan)")
    command.add_argument(
        "--template",
        type=Path,
        metavar="PLAN",
        help="begin from one of your own plans, without its dog; every region is marked as copied",
    )
    command.add_argument("--out", type=Path, metavar="FILE", help="where to save it")
    command.add_argument("--fresh", action="store_true", help="forget the draft of last time")
    command.add_argument("--look", default="dark", choices=("dark", "daylight", "console"))
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Open the desk, and say where the plan is."""
    from coach.appliance.clock import today
    from coach.plan.desk_file import draft_path, drop_draft, keep_draft

    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        print("coach desk needs a terminal; coach draft takes options", file=sys.stderr)
        return Exit.BAD_INPUT
    draft = draft_path(args.plan or args.out or Path("new-plan.toml"))
    if args.fresh:
        drop_draft(draft)
    opened = open_desk(args, draft, today())
    if opened is None:
        return Exit.BAD_INPUT
    desk, message = opened
    keeper = Keeper(draft, args.out, args.plan)

    def autosave(desk: "Desk") -> str:
        try:
            keep_draft(draft, desk)
        except OSError as error:
            return f"The draft cannot be kept: {error.strerror}"
        return ""

    from coach.screens.desk.desk_app import DeskApp
    from coach.screens.desk.desk_screen import DeskScreen

    screen = DeskScreen(desk, autosave=autosave, save=keeper.save, message=message)
    DeskApp(screen, look=args.look).run()
    if keeper.path is None:
        if draft.exists():
            print(f"Not saved. The draft is kept: coach desk {args.plan or ''} goes on with it.")
            return Exit.ENDED_EARLY
        return Exit.DONE
    print(f"Saved: {keeper.path}")
    print(f"Next: coach check {keeper.path}")
    return Exit.DONE


def open_desk(
    args: argparse.Namespace, draft: Path, today: "datetime.date"
) -> "tuple[Desk, str] | None":
    """The desk with the draft of last time, or as it begins; None when that was refused."""
    from dataclasses import replace

    from coach.handover.outside import read_file
    from coach.plan.desk import Desk
    from coach.plan.desk_file import read_draft
    from coach.plan.files import LARGEST_BYTES

    try:
        kept = read_draft(draft)
        if kept is not None:
            text, copied = kept
            desk = Desk.open(text, today=today)
            marks = tuple(number in copied for number in range(len(desk.regions)))
            desk = replace(desk, version=replace(desk.version, copied=marks))
            return desk, "The draft of last time goes on. coach desk --fresh begins anew."
    except (OSError, ValueError) as error:
        print(
            f"{draft}: the draft cannot be read: {error}. Move it away, or give --fresh.",
            file=sys.stderr,
        )
        return None
    source = args.plan or args.template
    if source is None:
        return Desk.empty(today=today), ""
    try:
        text = read_file(source, most=LARGEST_BYTES).decode("utf-8")
        tomllib.loads(text)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else error
        print(f"{source}: {reason}. Allowed: a plan file.", file=sys.stderr)
        return None
    begin = Desk.revise if args.plan else Desk.from_template
    return begin(text, today=today), ""


class Keeper:
    """Saves the plan. ``path``: where it was saved, None for not yet."""

    def __init__(self, draft: Path, out: Path | None, source: Path | None) -> None:
        self.draft, self._out, self._source = draft, out, source
        self.path: Path | None = None

    def save(self, desk: "Desk") -> str:
        """A sentence for the prescriber."""
        from coach.plan.desk_file import drop_draft
        from coach.plan.files import PlanThere, save_plan

        plan = desk.sheet().plan
        if plan is None:
            count = len(desk.sheet().problems)
            return f"Not saved: {count} field{'s' * (count != 1)} to fill in or mend. Draft kept."
        folder = self._source.parent if self._source else Path()
        path = self._out or folder / f"{plan.about.id}-r{plan.about.revision}.toml"
        try:
            save_plan(path, desk.text, replace=path == self.path)
        except PlanThere:
            return f"Not saved: {path} is there already. Change id or revision, or give --out."
        except OSError as error:
            return f"Not saved: {path}: {error.strerror}"
        self.path = path
        drop_draft(self.draft)
        return f"Saved: {path}"

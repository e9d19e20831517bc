"""``coach regions``: the dog's regions, each with its landmark, picture and cautions."""

import argparse
import os
import shutil
import sys
from typing import TYPE_CHECKING

from coach.cli.exits import Exit
from coach.language import _

if TYPE_CHECKING:
    from coach.body.drawing import Drawing
    from coach.body.raster import Look
    from coach.body.regions import Region
    from coach.screens.region_page import Place

PIPED_COLUMNS = 60
WIDEST = 100
# Terminals that have neither braille nor half blocks in their font.
BARE_CONSOLES = frozenset({"linux", "dumb", "vt100", "vt220"})

# For rich. Every role also has a sign of its own: colour is a help, never needed.
COLOURS = {
    "region": "yellow",
    "done": "bold",
    "coming": "bold",
    "current": "bold",
    "number": "bold reverse",
}


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "regions",
        help="the dog's regions: where, how to hold, a picture, cautions",
        description="The dog's regions by the trade's words and yours, each with its landmark, "
        "how to hold the head there, a picture and cautions. Left and right are the dog's.",
    )
    command.add_argument(
        "region",
        nargs="*",
        metavar="KEY",
        help='a region by its key ("lumbar"), trade term or your words ("lower back")',
    )
    command.add_argument("--side", help="the side to show: left, middle, right")
    command.add_argument("--face", help='the face of a joint to show, such as "medial"')
    how = command.add_mutually_exclusive_group()
    how.add_argument(
        "--pages", action="store_true", help="full-screen pages (as without KEY in a terminal)"
    )
    how.add_argument("--plain", action="store_true", help="text, for pipes and screen readers")
    command.add_argument(
        "--measured",
        action="store_true",
        help="for prescribers: light that was measured behind tissue there, with its sources",
    )
    command.add_argument(
        "--look",
        choices=("colour", "console"),
        help="characters of the picture: braille and blocks, or only what every console has",
    )
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print or open what was asked for."""
    from coach.body.regions import regions
    from coach.screens.region_page import Unknown, find, list_lines, places

    chosen = find(" ".join(args.region)) if args.region else None
    problems = [f"KEY: {chosen}"] if isinstance(chosen, Unknown) else _misplaced(chosen, args)
    if problems or isinstance(chosen, Unknown):
        print("\n".join(f"coach regions: {problem}" for problem in problems), file=sys.stderr)
        return Exit.BAD_INPUT
    if args.measured:
        return _print_measured(chosen)
    look = args.look or look_here()
    if args.pages or (chosen is None and not args.plain):
        if sys.stdin.isatty() and sys.stdout.isatty():
            return _pages(chosen, args, look)
        if args.pages:
            print(_("No terminal here: text instead (as with --plain)."), file=sys.stderr)
    if chosen is not None:
        shown = [
            place
            for place in places(chosen)
            if args.side in (None, place.side) and args.face in (None, place.aspect)
        ]
        _print_page(chosen, shown[0], look)
    elif args.pages:
        for place in regions().values():
            _print_page(place, places(place)[0], look)
            print()
    else:
        print("\n".join(list_lines(width=columns())))
    return Exit.DONE


def _print_measured(chosen: "Region | None") -> int:
    from coach.dose.measured import measured_lines

    if chosen is None:
        print("coach regions: --measured: found no KEY; allowed: KEY --measured", file=sys.stderr)
        return Exit.BAD_INPUT
    print(f"{chosen.term} ({chosen.key}): what was measured")
    print("\n".join(measured_lines(chosen.key, width=columns())))
    return Exit.DONE


def _pages(chosen: "Region | None", args: argparse.Namespace, look: "Look") -> int:
    from coach.bedside.flow import show
    from coach.bedside.pages import RegionsPage, close_key
    from coach.cli.running import run_flow

    args.look = "console" if look == "console" else "dark"
    page = RegionsPage(region=chosen.key if chosen else None, keys=(close_key(),))
    run_flow(lambda _evening: show(page), argparse.Namespace(look=args.look, silent=True))
    return Exit.DONE


def _misplaced(chosen: "Region | None", args: argparse.Namespace) -> list[str]:
    """What is wrong with the side and the face that were asked for."""
    problems = []
    for option, found, allowed in (
        ("--side", args.side, chosen.sides if chosen else ()),
        ("--face", args.face, chosen.aspects if chosen else ()),
    ):
        if found is None or found in allowed:
            continue
        if chosen is None:
            what = "only together with a KEY"
        else:
            what = ", ".join(allowed) or f"none, {chosen.key} has no faces"
        problems.append(f'{option}: "{found}" found. Allowed: {what}')
    return problems


def _print_page(place: "Region", shown: "Place", look: "Look") -> None:
    from coach.screens.region_page import LEGENDS, broken, page_lines, picture, place_words

    width = columns()
    print("\n".join(broken(page_lines(place), width=width)))
    print()
    print_drawing(picture(place.key, shown, width=width, height=width // 3, look=look))
    print(
        "\n".join(
            broken(
                [_("Shown:  {place}").format(place=place_words(shown)), _(LEGENDS[look])],
                width=width,
            )
        )
    )


def print_drawing(drawing: "Drawing") -> None:
    """In colour on a terminal, unless NO_COLOR says otherwise; plain everywhere else."""
    if not sys.stdout.isatty():
        print(drawing.text())
        return
    from rich.console import Console
    from rich.text import Text

    console = Console(highlight=False)
    for row in drawing.rows:
        line = Text.assemble(*((run.text, COLOURS.get(run.role, "")) for run in row))
        line.rstrip()
        console.print(line, no_wrap=True, crop=False)


def look_here() -> "Look":
    """Console signs where nothing else can be shown."""
    unicode = (sys.stdout.encoding or "").lower().replace("-", "") == "utf8"
    bare = os.environ.get("TERM", "") in BARE_CONSOLES
    return "colour" if unicode and not bare else "console"


def columns() -> int:
    """Of the terminal, as far as lines are good to read; fixed in a pipe."""
    if not sys.stdout.isatty():
        return PIPED_COLUMNS
    return max(20, min(WIDEST, shutil.get_terminal_size((PIPED_COLUMNS, 24)).columns))

"""``coach caseload``: for the practice: many handovers, and whom to call today."""

import argparse
import datetime
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import Exit
from coach.plan.formatting import counted

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coach.practice.call_list import CallList
    from coach.practice.rules import Rules

DESCRIPTION = """\
For the practice: reads all handovers in a folder and its folders (zip files too) and lists every
dog once, the one to call first on top, with the reason, its day and its figure. It only lists what
the handovers say; check a single one with coach verify, and say with coach call whom you called.

A file practice.toml beside the handovers changes what weighs most (coach caseload --rules lists
the rules with their sources):

  practice = 1
  first_words = ["wobbl"]        # more beginnings of words of the owner to read at once

  [rules.early_sign]
  weight = 40                    # 0 to 100; 0: never. Also least, lasts_days

  [[same_dog]]                   # a replaced computer: said here, or by chip or patient number
  dog = "Pip"
  devices = ["3b6a27bc", "8f01cc2d"]"""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "caseload",
        help="for the practice: many handovers, whom to call today",
        description=DESCRIPTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.add_argument("folder", type=Path, metavar="FOLDER", nargs="?")
    command.add_argument("--json", action="store_true", help="machine-readable")
    command.add_argument("--csv", action="store_true", help="as a table for other programs")
    command.add_argument(
        "--html",
        type=Path,
        metavar="FILE",
        help="write the list as one page to look at and print, with pictures of each dog",
    )
    command.add_argument("--today", type=_day, metavar="DAY", help="as of another day (2026-11-25)")
    command.add_argument(
        "--engine", choices=("sqlite", "duckdb"), default="sqlite", help="default: sqlite"
    )
    command.add_argument(
        "--database",
        metavar="URL",
        help="load into a PostgreSQL and ask there, for several desks (postgresql://...; extra "
        "database)",
    )
    command.add_argument(
        "--cluster",
        metavar="MASTER",
        help="ask a Spark cluster (spark://... or local[*]); FOLDER is what --parquet wrote",
    )
    command.add_argument(
        "--parquet",
        type=Path,
        metavar="DIR",
        help="write all tables as Parquet into the new folder DIR (uses duckdb), and end",
    )
    command.add_argument(
        "--inbox",
        type=Path,
        metavar="DIR",
        help="verify what is new in DIR (folders, zip files, mails, sealed ones) and file it by "
        "dog in FOLDER",
    )
    command.add_argument(
        "--watch", action="store_true", help="with --inbox: go on looking until Ctrl-C"
    )
    command.add_argument(
        "--make-key",
        action="store_true",
        help="print the key to which households seal handovers, made on first use, and end",
    )
    command.add_argument(
        "--export",
        type=Path,
        metavar="DIR",
        help="write a FHIR R4 bundle and a visit note a dog into the new folder DIR",
    )
    command.add_argument(
        "--registry",
        action="store_true",
        help="of handovers without names: energy by region and week, change of tolerance and score",
    )
    command.add_argument(
        "--practice", type=Path, metavar="FILE", help="default: practice.toml in FOLDER"
    )
    command.add_argument(
        "--rules", action="store_true", help="list the rules as they hold, and end"
    )
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """List the dogs."""
    from coach.plan.problems import PlanProblems
    from coach.practice.duck import NoEngine
    from coach.practice.postgres import DatabaseGone

    told = _wrong_words(args)
    if told:
        return _bad(told)
    folder = args.folder or Path.cwd()
    try:
        return _done(args, folder)
    except OSError as error:
        return _bad(f"{error.filename or folder}: {error.strerror or error}")
    except (NoEngine, PlanProblems, ValueError) as error:
        return _bad(str(error))
    except DatabaseGone as error:
        print(f"coach: {error}", file=sys.stderr)
        return Exit.NOT_WRITTEN


def _wrong_words(args: argparse.Namespace) -> str:
    """Options that do not go together."""
    for several in (("json", "csv"), ("database", "cluster", "parquet")):
        given = [f"--{one}" for one in several if getattr(args, one)]
        if len(given) > 1:
            return f"found {' and '.join(given)}; allowed: one of them"
    if args.watch and args.inbox is None:
        return "--watch: found no --inbox; allowed: with the folder to watch"
    if args.folder is None and not (args.rules or args.make_key):
        return "FOLDER: found nothing; allowed: the folder with the handovers"
    return ""


def _done(args: argparse.Namespace, folder: Path) -> int:
    from coach.practice.rules import rules_for

    if args.make_key:
        from coach.practice.sealed import make_key

        print(make_key())
        return Exit.DONE
    rules = rules_for(folder, args.practice)
    if args.rules:
        print("\n".join(_rules(rules)))
        return Exit.DONE
    if args.parquet is not None:
        return _to_parquet(folder, rules, args.parquet)
    if args.registry:
        return _registry(folder, rules, args)
    if args.inbox is not None:
        from coach.cli.practice_inbox import look_through

        return look_through(args, folder, lambda: _listed(folder, rules, args))
    return _listed(folder, rules, args)


def _listed(folder: Path, rules: "Rules", args: argparse.Namespace) -> int:
    """Read, ask, and show the list as was asked for."""
    from coach.appliance.clock import today

    found = _asked(folder, args.today or today(), rules, args)
    _remarks(found.remarks)
    code = Exit.BAD_INPUT if found.remarks else Exit.DONE
    if args.export is not None:
        return max(code, _to_export(found, folder, args.export))
    if args.html is not None:
        return max(code, _to_html(found, folder, args.html))
    _print(found, args)
    return code


def _remarks(remarks: "Iterable[str]") -> None:
    for remark in remarks:
        print(f"coach: {remark}", file=sys.stderr)


def _to_export(found: "CallList", folder: Path, to: Path) -> int:
    from coach.practice.export import write_export

    count, remarks = write_export(found, folder, to)
    _remarks(remarks)
    print(f"Written: {to} ({counted(count, 'dog')})")
    return Exit.BAD_INPUT if remarks else Exit.DONE


def _asked(
    folder: Path, day: datetime.date, rules: "Rules", args: argparse.Namespace
) -> "CallList":
    from coach.practice.call_list import call_list, call_list_on_cluster, call_list_on_database

    details = args.html is not None
    if args.database is not None:
        return call_list_on_database(
            folder, day, rules, url=args.database, details=details, progress=_progress
        )
    if args.cluster is not None:
        return call_list_on_cluster(folder, day, rules, master=args.cluster, details=details)
    return call_list(folder, day, rules, engine=args.engine, details=details, progress=_progress)


def _to_html(found: "CallList", folder: Path, to: Path) -> int:
    from coach.journal.disk import write_whole
    from coach.practice.page import call_page

    page = call_page(found, found.details, folder=folder, at=to)
    try:
        write_whole(to, page)
    except OSError as error:
        print(f"coach: {to}: {error.strerror}; nothing was written", file=sys.stderr)
        return Exit.NOT_WRITTEN
    print(f"Written: {to}")
    return Exit.DONE


def _registry(folder: Path, rules: "Rules", args: argparse.Namespace) -> int:
    from coach.practice.duck import duck_of_lake, is_lake
    from coach.practice.registry import Registry, registry, registry_json, registry_lines
    from coach.practice.spark import spark_of_lake
    from coach.practice.store import SqliteStore, load, with_store

    remarks: list[str] = []

    def work(store: SqliteStore) -> Registry:
        remarks.extend(load(store, folder, rules, progress=_progress))
        return registry(store, rules, is_lake=False)

    if args.cluster is not None:
        with spark_of_lake(folder, args.cluster) as engine:
            found = registry(engine, rules, is_lake=True)
    elif is_lake(folder):
        found = registry(duck_of_lake(folder), rules, is_lake=True)
    else:
        found = with_store(folder, rules, remarks, work)
    _remarks(remarks)
    if args.json:
        print(json.dumps(registry_json(found), indent=2, ensure_ascii=False))
    else:
        print("\n".join(registry_lines(found)))
    return Exit.BAD_INPUT if remarks else Exit.DONE


def _to_parquet(folder: Path, rules: "Rules", to: Path) -> int:
    from coach.practice.duck import write_lake
    from coach.practice.store import SqliteStore, load, with_store

    remarks: list[str] = []

    def work(store: SqliteStore) -> None:
        remarks.extend(load(store, folder, rules, progress=_progress))
        write_lake(store, to, practice=rules.practice)

    with_store(folder, rules, remarks, work)
    _remarks(remarks)
    print(f"Written: {to}")
    return Exit.BAD_INPUT if remarks else Exit.DONE


def _progress(done: int, of: int) -> None:
    """Where somebody looks on and it takes long."""
    if of > 1000 and sys.stderr.isatty():
        end = "\n" if done == of else ""
        print(f"\rreading {done} of {of} handovers", end=end, file=sys.stderr, flush=True)


def _print(found: "CallList", args: argparse.Namespace) -> None:
    from coach.practice.call_text import call_csv, call_json, call_lines

    if args.json:
        print(json.dumps(call_json(found), indent=2, ensure_ascii=False))
    elif args.csv:
        print(call_csv(found.dogs), end="")
    elif found.dogs:
        print("\n".join(call_lines(found)))
    else:
        print("No handover was found.")


def _rules(rules: "Rules") -> list[str]:
    lines = ["weight  rule", ""]
    for key, rule in sorted(rules.rules.items(), key=lambda item: -item[1].weight):
        least = f", from {rule.least} on" if rule.least > 1 else ""
        lines.append(f"{rule.weight:>6}  {key}: {rule.words}{least}")
        holds = "until it changes" if rule.standing else f"for {rule.lasts_days} days"
        lines.append(f"        holds {holds}; source: {rule.source}")
    return lines


def _bad(text: str) -> int:
    print(f"coach: {text}", file=sys.stderr)
    return Exit.BAD_INPUT


def _day(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"found {text!r}; allowed: a day such as 2026-11-01"
        ) from None

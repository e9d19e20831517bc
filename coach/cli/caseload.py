"""``coach caseload``: for the practice: many handovers, and who needs a call."""

import argparse
import csv
import datetime
import io
import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from coach.cli.exits import Exit
from coach.plan.formatting import counted

DESCRIPTION = """\
For the practice: reads all handovers in a folder and its folders, and lists every dog once, those
that need a call first: red skin, a session stopped for the dog's sake, signals, a broken log,
behind the course. It only lists what the handovers say; check a single one with coach verify."""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "caseload",
        help="for the practice: many handovers, who needs a call",
        description=DESCRIPTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.add_argument("folder", type=Path, metavar="FOLDER")
    command.add_argument("--json", action="store_true", help="machine-readable")
    command.add_argument("--csv", action="store_true", help="as a table for other programs")
    command.add_argument(
        "--today", type=datetime.date.fromisoformat, metavar="DAY", help="as of another day"
    )
    command.add_argument(
        "--engine", choices=("sqlite", "duckdb"), default="sqlite", help="default: sqlite"
    )
    command.add_argument(
        "--parquet",
        type=Path,
        metavar="DIR",
        help="also write both tables as Parquet into the new folder DIR (uses duckdb)",
    )
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """List the dogs."""
    from coach.bedside.runner import today
    from coach.practice.caseload import RECENT_DAYS, Engine, caseload
    from coach.practice.caseload_duck import NoDuckDb

    if args.json and args.csv:
        print("coach: found --json and --csv; allowed: one of them", file=sys.stderr)
        return Exit.BAD_INPUT
    day = args.today or today()
    recent = (day - datetime.timedelta(days=RECENT_DAYS - 1)).isoformat()
    engine: Engine = args.engine if args.parquet is None else "duckdb"
    try:
        found = caseload(args.folder, recent=recent, engine=engine, pool=args.parquet)
    except OSError as error:
        print(f"coach: {error.filename or args.folder}: {error.strerror or error}", file=sys.stderr)
        return Exit.BAD_INPUT
    except (NoDuckDb, ValueError) as error:
        print(f"coach: {error}", file=sys.stderr)
        return Exit.BAD_INPUT
    for remark in found.remarks:
        print(f"coach: {remark}", file=sys.stderr)
    if args.json:
        told = {"caseload": 1, "recent_since": recent, "dogs": list(found.rows)}
        print(json.dumps(told, indent=2, ensure_ascii=False))
    elif args.csv:
        print(_csv(found.rows), end="")
    elif found.rows:
        print("\n".join(_lines(found.rows, found.handovers, recent)))
    else:
        print("No handover was found.")
    return Exit.BAD_INPUT if found.remarks else Exit.DONE


def _lines(rows: Sequence[Mapping[str, Any]], handovers: int, recent: str) -> list[str]:
    dogs, folders = counted(len(rows), "dog"), counted(handovers, "handover")
    lines = [f"{dogs} in {folders}; recent: since {recent}"]
    shown = ""
    for row in rows:
        standing = str(row["standing"])[2:]
        if standing != shown:
            lines += ["", standing]
            shown = standing
        lines.append(f"  {row['dog']} ({row['plan']} r{row['plan_revision']}): {_about(row)}")
    return lines


def _about(row: Mapping[str, Any]) -> str:
    told = [f"{row['given']} of {row['whole_course']} given" if row["whole_course"] else ""]
    told.append(f"{counted(row['sessions'], 'session')}, last {row['last_session'] or 'never'}")
    told += [
        f"{row[name]} {words}"
        for name, words in (
            ("behind", "behind"),
            ("red_skin", "with red skin"),
            ("with_signals", "with signals"),
            ("dog_stops", "stopped for the dog"),
            ("broken_journals", "broken logs"),
        )
        if row[name]
    ]
    if row["last_state"] not in ("", "finished"):
        told.append(
            f"the last one {row['last_state']} {row['last_reason']}".replace("_", " ").rstrip()
        )
    if row["last_tolerance"] is not None:
        told.append(f"tolerance {row['last_tolerance']}/10")
    return ", ".join(filter(None, told))


def _csv(rows: Sequence[Mapping[str, Any]]) -> str:
    from coach.handover.tables import harmless

    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    if rows:
        writer.writerow(rows[0])
    for row in rows:
        writer.writerow(["" if cell is None else harmless(str(cell)) for cell in row.values()])
    return text.getvalue()

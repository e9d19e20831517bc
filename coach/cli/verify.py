"""``coach verify``, ``coach repair`` and ``coach key``: can the record be trusted?"""

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import Exit

if TYPE_CHECKING:
    from coach.journal.signing import DeviceKey


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the three commands to the command line."""
    from coach.cli.journals import WHICH

    also = "or a handover, as a folder or a zip file: every figure is computed anew"
    verify = commands.add_parser(
        "verify",
        help="are the journals as they were written?",
        description="Check every line of the journals against the line before it, the totals, the "
        "signature, and the link to the session before. Of a handover, compute every figure anew "
        "from the logs in it and say which line disagrees. Reads only; repairs nothing.",
    )
    verify.add_argument(
        "files", type=Path, nargs="*", metavar="PLAN|JOURNAL|HANDOVER", help=f"{WHICH}; {also}"
    )
    verify.add_argument(
        "--key",
        type=public_keys,
        help="public key (hex) that must have signed them; of a device that was replaced both, "
        "parted by a comma",
    )
    verify.add_argument("--json", action="store_true", help="machine-readable")
    verify.set_defaults(run=run_verify)
    repair = commands.add_parser(
        "repair",
        help="save what still holds of a damaged journal, in a new file",
        description="Write the lines of a damaged journal that still hold into a new file beside "
        "it. The damaged one is kept as it is; the new one says what was left out.",
    )
    repair.add_argument("file", type=Path, metavar="JOURNAL")
    repair.set_defaults(run=run_repair)
    key = commands.add_parser(
        "key",
        help="the public key by which a vet can check this device's signatures",
        description="Print the public key of this device (made on first use). Give it to the vet "
        "once, in person or on paper: coach verify --key KEY then shows who signed.",
    )
    key.add_argument(
        "--sign",
        type=Path,
        metavar="PLAN",
        help="for the prescriber: sign a plan with the key of this computer, in PLAN.sig",
    )
    key.set_defaults(run=run_key)


def public_key(text: str) -> str:
    """A public key as it is typed. Raises ArgumentTypeError."""
    plain = text.strip().lower()
    if len(plain) != 64 or not set(plain) <= set("0123456789abcdef"):
        raise argparse.ArgumentTypeError(f"found {text!r}; allowed: 64 hex digits (coach key)")
    return plain


def public_keys(text: str) -> str:
    """One key or several, parted by commas. Raises ArgumentTypeError."""
    return ",".join(public_key(one) for one in text.split(","))


def run_verify(args: argparse.Namespace) -> int:
    """Check the journals meant."""
    from coach.cli.journals import every_file, journals
    from coach.handover.recheck import is_handover, recheck, recheck_json, recheck_lines
    from coach.record.verify import verify_all, verify_json, verify_lines

    handovers = [recheck(path, key=args.key) for path in args.files if is_handover(path)]
    others = [path for path in args.files if not is_handover(path)]
    paths, bad = journals(others, every_file) if others or not handovers else ([], False)
    results = [one for key, some in _by_key(paths, args.key) for one in verify_all(some, key=key)]
    _check_summaries(paths)
    if args.json:
        import json

        print(json.dumps(verify_json(results) | recheck_json(handovers), indent=2))
    elif results or handovers:
        print("\n".join(line for handover in handovers for line in recheck_lines(handover)))
        if results:
            print("\n".join(verify_lines(results)))
    elif not bad:
        print("No session has been logged yet.")
    if bad:
        return Exit.BAD_INPUT
    good = all(result.good for result in results) and all(done.good for done in handovers)
    return Exit.DONE if good else Exit.NOT_WHOLE


def _by_key(paths: Sequence[Path], asked: str | None) -> list[tuple[str | None, list[Path]]]:
    """The key that must have signed: the one asked for; for logs kept here that of this device."""
    from coach.appliance.backup import earlier_keys
    from coach.journal.signing import KeyUnusable, device_key
    from coach.paths import device_key_file, state_folder

    file, home = device_key_file(), os.path.realpath(state_folder())
    own = asked
    try:
        if asked is None and file.exists():
            own = ",".join([device_key(file).public_key, *earlier_keys(state_folder())])
    except (KeyUnusable, OSError) as error:
        print(f"coach: signatures are not held against this device's key: {error}", file=sys.stderr)
    # Not Path.resolve, which ends at links that lead round in a circle.
    here = [path for path in paths if Path(os.path.realpath(path)).is_relative_to(home)]
    others = [path for path in paths if path not in here]
    return [(own, here), (asked, others)]


def _check_summaries(paths: Sequence[Path]) -> None:
    """Hold what is kept of the journals against them; it is derived, so that is only told."""
    from coach.paths import JOURNALS, SUMMARY
    from coach.record.summary_cache import check

    for folder in dict.fromkeys(path.parent for path in paths):
        if folder.name == JOURNALS:
            for told in check(folder, folder.with_name(SUMMARY)):
                print(told, file=sys.stderr)


def run_repair(args: argparse.Namespace) -> int:
    """Repair one journal into a new file."""
    from coach.journal.journal import JournalError, JournalUnreadable
    from coach.journal.repair import repair

    try:
        done = repair(args.file)
    except JournalUnreadable as error:
        print(f"coach: {error}", file=sys.stderr)
        return Exit.BAD_INPUT
    except JournalError as error:
        print(f"coach: {error}", file=sys.stderr)
        return Exit.NOT_WRITTEN
    left_out = ", ".join(str(number) for number in done.left_out) or "none"
    print(f"Kept {len(done.kept)} lines; left out: {left_out}")
    print(f"The damaged journal is kept: {args.file}")
    print(f"Repaired: {done.path}")
    return Exit.DONE


def run_key(args: argparse.Namespace) -> int:
    """Print the public key, or sign a plan."""
    from coach.journal.signing import KeyUnusable, device_key
    from coach.paths import device_key_file

    path = device_key_file()
    try:
        key = device_key(path)
        if args.sign is not None:
            return _sign(args.sign, key)
        print(key.public_key)
    except KeyUnusable as error:
        print(f"coach: {error}", file=sys.stderr)
        return Exit.BAD_INPUT
    except OSError as error:
        print(f"coach: {path}: {error.strerror}", file=sys.stderr)
        return Exit.NOT_WRITTEN
    return Exit.DONE


def _sign(path: Path, key: "DeviceKey") -> int:
    from coach.cli.plans import load
    from coach.handover.take_plan import sign_plan

    plan_file = load(path)
    if plan_file is None:
        return Exit.BAD_INPUT
    try:
        print(f"Signed: {sign_plan(plan_file, key)}")
    except FileExistsError as error:
        print(f"coach: {error.filename}: there is a signature already", file=sys.stderr)
        return Exit.BAD_INPUT
    return Exit.DONE

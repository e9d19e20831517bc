"""``coach handover``: one folder, or zip file, for the vet."""

import argparse
import datetime
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import Exit

if TYPE_CHECKING:
    from coach.handover.folder import Handover

DESCRIPTION = """\
Write everything the vet needs about one dog into a new folder (or a zip file): a report of one
page, tables, a summary, the logs as they were written, diary and plan, and a signed list of it
all. Nothing leaves this machine but what you carry away or send. Check it with: coach verify
FOLDER"""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "handover",
        help="a folder for the vet: report, tables, logs, signed",
        description=DESCRIPTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    command.add_argument("dog", nargs="?", metavar="DOG|PLAN", help="default: the only dog")
    command.add_argument(
        "--since", type=_day, metavar="DAY", help="sessions from this day on (2026-11-01)"
    )
    command.add_argument(
        "--to", type=Path, metavar="DIR", help="folder to write into; default: the current one"
    )
    command.add_argument(
        "--stick", action="store_true", help="onto a stick that is plugged in: you choose which"
    )
    command.add_argument("--yes", action="store_true", help="take the only stick without asking")
    command.add_argument(
        "--qr", action="store_true", help="show one session as a code for a phone; write nothing"
    )
    command.add_argument(
        "--session", type=int, metavar="N", help="with --qr: its number; default: the last one"
    )
    command.add_argument(
        "--link",
        action="store_true",
        help="give one zip file to one phone in your network, for ten minutes, once",
    )
    command.add_argument(
        "--screen", action="store_true", help="full screen, one key a step: what home opens with V"
    )
    command.add_argument(
        "--look", choices=("dark", "daylight", "console"), default="dark", help="of --screen"
    )
    command.add_argument("--silent", action="store_true", help="with --screen: no voice")
    command.add_argument("--zip", action="store_true", help="one zip file instead of a folder")
    command.add_argument(
        "--seal-to",
        action="append",
        default=[],
        metavar="KEY",
        help="one sealed zip file that only the practice opens, for mail or a shared folder: its "
        "public key (age1...); may be repeated",
    )
    command.add_argument(
        "--without-names",
        action="store_true",
        help="leave out names and notes, and with them logs, diary and plan",
    )
    command.add_argument(
        "--fhir", action="store_true", help="with a bundle for systems that read HL7 FHIR R4"
    )
    command.add_argument(
        "--paper", choices=("A4", "Letter"), default="A4", help="of the report; default: A4"
    )
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the handover and say where it is and what is in it."""
    from coach.bedside.dogs import NoSuchDog, dog_home
    from coach.language import _

    if args.screen:
        return _on_screen(args)
    try:
        folder = dog_home(args.dog).folder
    except NoSuchDog as error:
        print(f"coach: {error}", file=sys.stderr)
        return Exit.BAD_INPUT
    ways = [f"--{way}" for way in ("to", "stick", "qr", "link") if getattr(args, way)]
    if args.seal_to and ways not in ([], ["--to"]):
        ways.append("--seal-to")
    if len(ways) > 1:
        print(f"coach: found {' and '.join(ways)}; allowed: one of them", file=sys.stderr)
        return Exit.BAD_INPUT
    if args.qr:
        return _code(folder, args)
    if args.link:
        from coach.cli.phone import offer_link

        args.zip = True
        return offer_link(lambda to: _written(folder, to, args))
    if args.stick:
        return _onto_stick(folder, args)
    to = args.to or Path.cwd()
    if to.exists() and not to.is_dir():
        print(f"coach: {to}: found a file; allowed: a folder to write into", file=sys.stderr)
        return Exit.BAD_INPUT
    if args.seal_to:
        return _sealed(folder, to, args)
    done = _written(folder, to, args)
    if isinstance(done, int):
        return done
    print(_("Written: {path}").format(path=done.path))
    return Exit.DONE


def _sealed(folder: Path, to: Path, args: argparse.Namespace) -> int:
    """One file that only the practice opens: it may travel by mail or a shared folder."""
    import tempfile

    from coach.appliance.backup import NotBackedUp, write_sealed
    from coach.language import _
    from coach.sealing import NotSealed, check_public_key, seal

    args.zip = True
    try:
        keys = [check_public_key(key) for key in args.seal_to]
        with tempfile.TemporaryDirectory(prefix="handover-") as name:
            done = _written(folder, Path(name), args)
            if isinstance(done, int):
                return done
            sealed = seal(done.path.read_bytes(), public_keys=keys)
            path = write_sealed(sealed, to, done.path.stem, ".zip.age")
    except (NotSealed, NotBackedUp) as error:
        print(f"coach: {error}", file=sys.stderr)
        return Exit.BAD_INPUT
    print(_("Sealed and read back: {path}").format(path=path))
    return Exit.DONE


def _on_screen(args: argparse.Namespace) -> int:
    from coach.bedside.dog_facts import home_of
    from coach.bedside.dogs import NoSuchDog, dog_home, known_dogs
    from coach.bedside.evening import Evening
    from coach.bedside.flow import Flow
    from coach.bedside.for_vet import for_vet
    from coach.cli.running import has_terminal, run_flow
    from coach.record.dog_course import local_zone

    if not has_terminal():
        print("coach: --screen: found no terminal; allowed: without it", file=sys.stderr)
        return Exit.BAD_INPUT
    folder = None
    if args.dog is not None or known_dogs():
        try:
            folder = dog_home(args.dog).folder
        except NoSuchDog as error:
            print(f"coach: {error}", file=sys.stderr)
            return Exit.BAD_INPUT

    def flow(evening: Evening) -> Flow[None]:
        dog = None if folder is None else home_of(folder, evening.stamp(), local_zone())
        yield from for_vet(evening, dog)

    run_flow(flow, args)
    return Exit.DONE


def _onto_stick(folder: Path, args: argparse.Namespace) -> int:
    import tempfile

    from coach.cli.stick import choose, put_on

    drive = choose(sure=args.yes)
    if drive is None:
        return Exit.BAD_INPUT
    with tempfile.TemporaryDirectory(prefix="handover-") as name:
        done = _written(folder, Path(name), args)
        return done if isinstance(done, int) else put_on(done.path, drive)


def _code(folder: Path, args: argparse.Namespace) -> int:
    from coach import paths
    from coach.appliance.clock import today
    from coach.cli.phone import show_session
    from coach.handover.anonymise import Names
    from coach.handover.dog_case import read_case
    from coach.journal.signing import KeyUnusable, device_key

    try:
        signer = device_key(paths.device_key_file()) if args.without_names else None
    except (KeyUnusable, OSError) as error:
        print(f"coach: {error}", file=sys.stderr)
        return Exit.BAD_INPUT
    return show_session(read_case(folder, today=today()), args.session, Names(signer=signer))


def _written(folder: Path, to: Path, args: argparse.Namespace) -> "Handover | int":
    """Write the handover into ``to`` and say what counts; else the exit code."""
    from coach import __version__, paths
    from coach.appliance.backup import earlier_keys
    from coach.handover.build_info import Made
    from coach.handover.dog_case import JOURNALS
    from coach.handover.folder import write_handover
    from coach.handover.log_doubts import doubts
    from coach.journal.signing import KeyUnusable, device_key
    from coach.language import _, ngettext

    made = Made(
        at=datetime.datetime.now().astimezone().isoformat(timespec="seconds"),
        program=__version__,
        since=None if args.since is None else args.since.isoformat(),
        paper=args.paper,
        fhir=args.fhir,
    )
    try:
        key = device_key(paths.device_key_file())
        known = ",".join([key.public_key, *earlier_keys(paths.state_folder())])
        for doubt in doubts(folder / JOURNALS, key=known):
            print(_("Not as this device wrote it: {what}").format(what=doubt), file=sys.stderr)
        done = write_handover(
            folder, to, made=made, signer=key, with_names=not args.without_names, zipped=args.zip
        )
    except KeyUnusable as error:
        print(f"coach: {error}", file=sys.stderr)
        return Exit.BAD_INPUT
    except OSError as error:
        told = f"{to}: {error.strerror or error}"
        print(f"coach: {told}; nothing was handed over", file=sys.stderr)
        return Exit.NOT_WRITTEN
    count = len(done.case.counted)
    print(ngettext("{n} session that counts.", "{n} sessions that count.", count).format(n=count))
    for remark in done.case.remarks:
        print(_("To know: {remark}").format(remark=remark))
    return done


def _day(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"found {text!r}; allowed: a day such as 2026-11-01"
        ) from None

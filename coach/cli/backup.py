"""``coach backup`` and ``coach restore``: all that cannot be made again, as one sealed file."""

import argparse
import datetime
import sys
from collections.abc import Callable
from pathlib import Path

from coach.cli.exits import Exit
from coach.language import _, ngettext


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add both commands to the command line."""
    backup = commands.add_parser(
        "backup",
        help="all dogs, plans, logs and diaries as one sealed file",
        description="Write all dogs, plans, logs and diaries as one file that only your passphrase "
        "opens (or the private key to a public key), and read it back. Keep the passphrase where "
        "the file is not: without it nobody can help you. Put back with: coach restore FILE",
    )
    backup.add_argument("--to", type=Path, metavar="DIR", help="folder; default: the current one")
    backup.add_argument("--stick", action="store_true", help="onto a stick that is plugged in")
    backup.add_argument("--yes", action="store_true", help="take the only stick without asking")
    backup.add_argument(
        "--seal-to",
        action="append",
        default=[],
        metavar="KEY",
        help="a public key (age1..., from age-keygen) instead of a passphrase; may be repeated",
    )
    backup.add_argument(
        "--with-device-key",
        action="store_true",
        help="also the key with which this device signs: only to replace this device",
    )
    restore = commands.add_parser(
        "restore",
        help="put back what coach backup has kept; replaces nothing",
        description="Put back all dogs, plans, logs and diaries from a sealed file. What is here "
        "already is never replaced.",
    )
    restore.add_argument("file", type=Path, metavar="FILE")
    restore.add_argument(
        "--identity", type=Path, metavar="FILE", help="the private key, as age-keygen wrote it"
    )
    for command in (backup, restore):
        command.add_argument(
            "--passphrase-file",
            type=Path,
            metavar="FILE",
            help="the passphrase is the first line of this file",
        )
    backup.set_defaults(run=run_backup)
    restore.set_defaults(run=run_restore)


def run_backup(args: argparse.Namespace) -> int:
    """Write a backup and say what is in it."""
    from coach.appliance.backup import NotBackedUp, write_backup
    from coach.journal.signing import KeyUnusable, device_key
    from coach.paths import device_key_file, state_folder
    from coach.sealing import NotSealed, check_public_key

    if args.to is not None and args.stick:
        return _refused("found --to and --stick; allowed: one of them")
    try:
        keys = [check_public_key(key) for key in args.seal_to]
        phrase = None if keys else _passphrase(args.passphrase_file, new=True)
        own = device_key(device_key_file()).public_key

        def written(to: Path) -> int:
            done = write_backup(
                state_folder(),
                to,
                now=datetime.datetime.now().astimezone(),
                public_key=own,
                with_key=args.with_device_key,
                passphrase=phrase,
                public_keys=keys,
            )
            dogs = ngettext("{n} dog: {names}.", "{n} dogs: {names}.", len(done.dogs))
            print(dogs.format(n=len(done.dogs), names=", ".join(done.dogs)))
            print(_("Sealed and read back: {path}").format(path=done.path))
            if done.with_key:
                print(_("The key of this device is in it: keep it as you keep a passport."))
            return Exit.DONE

        return _onto_stick(args, written) if args.stick else written(args.to or Path.cwd())
    except (NotBackedUp, NotSealed, KeyUnusable, OSError) as error:
        return _refused(str(error))


def run_restore(args: argparse.Namespace) -> int:
    """Put back what a backup holds."""
    from coach.appliance.backup import NotBackedUp, restore_backup
    from coach.paths import state_folder
    from coach.sealing import LARGEST_IDENTITY, NotSealed

    if args.identity is not None and args.passphrase_file is not None:
        return _refused("found --identity and --passphrase-file; allowed: one of them")
    try:
        identity = phrase = None
        if args.identity is not None:
            with args.identity.open(encoding="ascii", errors="replace") as stream:
                identity = stream.read(LARGEST_IDENTITY)
        else:
            phrase = _passphrase(args.passphrase_file, new=False)
        done = restore_backup(args.file, state_folder(), passphrase=phrase, identity=identity)
    except (NotBackedUp, NotSealed, OSError) as error:
        return _refused(str(error))
    print(_("Restored: {names}.").format(names=", ".join(done.dogs)))
    if done.with_key:
        print(
            _(
                "This device now signs with the key of the old one. The old one must stop: two "
                "with one key cannot be told apart."
            )
        )
    else:
        print(
            _(
                "This device signs with a key of its own. Give your vet both: {old} signed the "
                "logs until now; coach key shows the new one."
            ).format(old=done.public_key)
        )
    return Exit.DONE


def _onto_stick(args: argparse.Namespace, written: "Callable[[Path], int]") -> int:
    from coach.appliance.drives import DriveTrouble, borrowed
    from coach.cli.stick import choose

    drive = choose(sure=args.yes)
    if drive is None:
        return Exit.BAD_INPUT
    try:
        with borrowed(drive) as stick:
            code = written(stick)
    except DriveTrouble as error:
        return _refused(str(error))
    print(_("It is safe to pull the stick out now."))
    return code


def _passphrase(file: Path | None, *, new: bool) -> str:
    """From the file, else from the terminal, twice for a new one. Raises NotSealed, OSError."""
    from coach.sealing import NotSealed, check_passphrase

    if file is not None:
        with file.open(encoding="utf-8", errors="replace") as stream:
            text = stream.readline(1000).rstrip("\r\n")
        return check_passphrase(text) if new else text
    if not sys.stdin.isatty():
        raise NotSealed("found no terminal to ask for the passphrase; allowed: --passphrase-file")
    import getpass

    text = getpass.getpass(_("Passphrase: "))
    if new:
        check_passphrase(text)
        if getpass.getpass(_("The same once more: ")) != text:
            raise NotSealed("found two that differ; nothing was written")
    return text


def _refused(why: str) -> int:
    print(f"coach: {why}", file=sys.stderr)
    return Exit.BAD_INPUT

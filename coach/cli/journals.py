"""Finding the journals that a command speaks of."""

from collections.abc import Callable, Sequence
from pathlib import Path

WHICH = "a plan: all its dog's sessions; journals or folders of them; default: all dogs"


def every_file(folder: Path) -> list[Path]:
    """All journal files of a folder, damaged ones beside their repaired ones."""
    from coach.journal.journal import log_files

    return log_files(folder)


def journals(
    given: Sequence[Path], files_of: Callable[[Path], list[Path]]
) -> tuple[list[Path], bool]:
    """The journal files meant, and whether a plan that was named is no good (told on stderr)."""
    from coach import paths
    from coach.cli.plans import load

    if not given:
        folders = sorted((paths.state_folder() / "dogs").glob("*/journals"))
        return [path for folder in folders for path in files_of(folder)], False
    found: list[Path] = []
    bad = False
    for path in given:
        if path.suffix == ".toml":
            plan_file = load(path)
            if plan_file is None:
                bad = True
                continue
            found += files_of(paths.journal_folder(plan_file.plan.dog.name, rehearsal=False))
        elif path.is_dir():
            found += files_of(path)
        else:
            found.append(path)
    return found, bad

"""Finding the dog that a command speaks of."""

import sys
from pathlib import Path


def dog_folder_of(plan: Path | None, dog: str | None) -> Path | None:
    """The folder of the dog of ``plan`` or with the name ``dog``, else of the only dog there is.

    None after the reason has been told on stderr.
    """
    from coach import places
    from coach.cli.plans import load

    if plan is not None:
        plan_file = load(plan)
        return None if plan_file is None else places.dog_folder(plan_file.plan.dog.name)
    folders = sorted(path for path in (places.state_folder() / "dogs").glob("*") if path.is_dir())
    known = ", ".join(path.name for path in folders) or "none yet"
    if dog is not None:
        wanted = places.dog_folder(dog)
        for path in folders:
            if path == wanted or path.name == dog:
                return path
        print(f"coach: --dog: found {dog!r}; allowed: {known}", file=sys.stderr)
        return None
    if len(folders) == 1:
        return folders[0]
    if folders:
        print(f"coach: several dogs are here; say which with --dog: {known}", file=sys.stderr)
    else:
        print(
            "coach: no session has been logged yet; start one with: coach session PLAN",
            file=sys.stderr,
        )
    return None

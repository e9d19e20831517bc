"""Which dog a command speaks of, and its folder."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from coach import paths

if TYPE_CHECKING:
    from coach.plan.model import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class DogHome:
    """A dog that this computer knows. ``plan`` is None where none is kept or it is not usable."""

    name: str
    folder: Path
    plan: "Plan | None"

    @property
    def journals(self) -> Path:
        """Where its sessions are logged."""
        return self.folder / "journals"


class NoSuchDog(ValueError):  # noqa: N818  (an answer to the user)
    """The text says what was found and what is allowed."""


def known_dogs() -> list[DogHome]:
    """Every dog with a folder, by name."""
    folders = sorted(path for path in (paths.state_folder() / "dogs").glob("*") if path.is_dir())
    return [home for folder in folders if (home := _home(folder)) is not None]


def dog_home(wanted: str | None) -> DogHome:
    """The dog called ``wanted`` or with the plan file ``wanted``; the only one for None.

    Raises NoSuchDog.
    """
    if wanted is not None and wanted.endswith(".toml"):
        return _of_plan(Path(wanted))
    dogs = known_dogs()
    names = ", ".join(dog.name for dog in dogs) or "none yet; give a plan file"
    if wanted is None:
        if len(dogs) == 1:
            return dogs[0]
        raise NoSuchDog(f"found no DOG; allowed: one of {names}")
    for dog in dogs:
        if wanted.casefold() in (dog.name.casefold(), dog.folder.name):
            return dog
    raise NoSuchDog(f"found {wanted!r}; allowed: one of {names}")


def _of_plan(path: Path) -> DogHome:
    from coach.appliance.clock import today
    from coach.plan.files import load_plan
    from coach.plan.problems import PlanProblems

    try:
        plan = load_plan(path, today=today()).plan
    except PlanProblems as problems:
        raise NoSuchDog(str(problems)) from problems
    return DogHome(name=plan.dog.name, folder=paths.dog_folder(plan.dog.name), plan=plan)


def _home(folder: Path) -> DogHome | None:
    from coach.appliance.clock import today
    from coach.plan.files import load_plan
    from coach.plan.problems import PlanProblems

    plan = None
    path = folder / "plan.toml"
    if path.exists():
        try:
            plan = load_plan(path, today=today()).plan
        except PlanProblems:
            # Told by whatever needs the plan; the dog's records can be used without it.
            plan = None
    name = plan.dog.name if plan is not None else next(_named(folder), None)
    return None if name is None else DogHome(name=name, folder=folder, plan=plan)


def _named(folder: Path) -> Iterator[str]:
    """The dog's name as its diary and journals have it."""
    from coach.journal.diary import read_diary
    from coach.journal.disk import raw_lines
    from coach.journal.journal import journal_files

    dog = read_diary(folder).dog
    if dog is not None:
        yield dog
    for path in reversed(journal_files(folder / "journals")):
        try:
            first = next(raw_lines(path), b"")
            yield str(json.loads(first)["data"]["dog"]["name"])
        except (OSError, ValueError, KeyError, TypeError):
            # Cut or damaged: another one will know.
            continue

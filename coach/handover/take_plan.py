"""A new plan comes to the machine: found, held against the one in use, put in its place.

The plan that it replaces stays, under the day and time at which it was replaced. A signature lies
beside a plan as ``PLAN.toml.sig``: one line, ``PUBLIC-KEY SIGNATURE`` in hex (Ed25519), over
:func:`plan_message`. Keys of prescribers are kept in ``prescriber-keys.json``, name by key.
"""

import datetime
import errno
import json
import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from coach.handover import outside
from coach.handover.kept import load_kept
from coach.handover.outside import NotRead
from coach.journal.disk import held_by
from coach.journal.journal_lines import Signer
from coach.journal.signing import signature_holds
from coach.plan.files import LARGEST_BYTES, PlanFile, load_plan, save_plan
from coach.plan.problems import PlanProblems

PLAN = "plan.toml"
OLD_PLANS = "old-plans"
SIGNATURE = ".sig"
# The prescriber's, and that of whoever checked the plan.
MOST_SIGNATURES = 2
LONGEST_SIGNATURE = 1000

Signed = Literal["no", "known", "unknown", "bad"]


class NotTaken(ValueError):  # noqa: N818  (an answer to the owner)
    """The plan is not taken; the message says what was found and what is allowed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedBy:
    """Whether a plan is signed, and by whom as far as is known here; by ``count`` keys."""

    state: Signed
    name: str = ""
    public_key: str = ""
    count: int = 0


def plan_message(digest: str) -> bytes:
    """What is signed of a plan whose bytes have the SHA-256 ``digest``."""
    return f"laser session plan {digest}".encode()


def sign_plan(plan_file: PlanFile, signer: Signer) -> Path:
    """Write the signature of a plan beside it.

    Where one person has signed it, another adds a line: the second check. FileExistsError if this
    key or two others have signed it already.
    """
    path = plan_file.path.with_name(plan_file.path.name + SIGNATURE)
    line = f"{signer.public_key} {signer.sign(plan_message(plan_file.digest))}\n"
    before: list[tuple[str, str]] | None = None
    with suppress(FileNotFoundError):
        before = _signatures(path)
    if before is not None:
        signers = {public_key.lower() for public_key, _ in before}
        if len(before) >= MOST_SIGNATURES or signer.public_key.lower() in signers:
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
    with path.open("x" if before is None else "a", encoding="ascii") as stream:
        stream.write(line)
        stream.flush()
        os.fsync(stream.fileno())
    return path


def signed_by(plan_file: PlanFile, known: Mapping[str, str]) -> SignedBy:
    """Who signed a plan, the first of two; ``known`` gives names of prescribers by public key.

    One signature that is not valid makes all of them bad.
    """
    path = plan_file.path.with_name(plan_file.path.name + SIGNATURE)
    try:
        found = _signatures(path)
    except FileNotFoundError:
        return SignedBy(state="no")
    except (ValueError, OSError):
        return SignedBy(state="bad")
    message = plan_message(plan_file.digest)
    for public_key, signature in found:
        if not signature_holds(public_key=public_key, signature=signature, message=message):
            return SignedBy(state="bad", public_key=public_key)
    count = len({public_key.lower() for public_key, _ in found})
    for public_key, _ in found:
        name = known.get(public_key.lower())
        if name is not None:
            return SignedBy(state="known", name=name, public_key=public_key, count=count)
    return SignedBy(state="unknown", public_key=found[0][0], count=count)


def _signatures(path: Path) -> list[tuple[str, str]]:
    """Key and signature of each line. ValueError when the file is not that; OSError."""
    text = outside.read_file(path, most=MOST_SIGNATURES * LONGEST_SIGNATURE).decode("ascii")
    found = []
    for line in text.splitlines():
        public_key, signature = line.split()
        found.append((public_key, signature))
    if not 1 <= len(found) <= MOST_SIGNATURES:
        raise ValueError(f"{path}: found {len(found)} lines; allowed: 1 or {MOST_SIGNATURES}")
    return found


def known_keys(path: Path) -> dict[str, str]:
    """Names of prescribers by public key. ValueError when the file is not that."""
    try:
        keys = outside.read_json(path)
    except FileNotFoundError:
        return {}
    except NotRead as error:
        raise ValueError(f"{path}: found something else; allowed: names by public key") from error
    if not isinstance(keys, dict):
        raise ValueError(f"{path}: found no table; allowed: names by public key")
    return {str(key).lower(): str(name) for key, name in keys.items()}


def add_key(path: Path, *, name: str, public_key: str) -> None:
    """Remember the key of a prescriber. Raises ValueError, OSError."""
    keys = known_keys(path) | {public_key.lower(): name}
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    save_plan(path, json.dumps(keys, indent=2, ensure_ascii=False) + "\n", replace=True)


def plans_in(folder: Path, *, today: datetime.date) -> tuple[list[PlanFile], list[str]]:
    """The plans that lie in a folder, and what is wrong with files that look like one."""
    found: list[PlanFile] = []
    problems: list[str] = []
    for path in sorted(folder.glob("*.toml")):
        if path.name.startswith(".") or not path.is_file():
            continue
        try:
            if b"coach_plan" not in outside.read_file(path, most=LARGEST_BYTES):
                continue
        except (NotRead, OSError) as error:
            problems.append(f"{path}: {error}")
            continue
        try:
            found.append(load_plan(path, today=today))
        except PlanProblems as error:
            problems.append(str(error))
    return found, problems


def check_follows(new: PlanFile, before: PlanFile | None) -> None:
    """Raise NotTaken unless ``new`` may follow on ``before``."""
    about = new.plan.about
    if before is None:
        return
    now = before.plan.about
    if new.digest == before.digest:
        raise NotTaken(f"found the plan that is in use already ({now.id}, revision {now.revision})")
    if new.plan.dog.name != before.plan.dog.name:
        raise NotTaken(
            f"found a plan for {new.plan.dog.name}; allowed: one for {before.plan.dog.name}"
        )
    if about.id != now.id:
        raise NotTaken(
            f"found the plan {about.id!r}; allowed: a revision of {now.id!r}, which is in use"
        )
    if about.revision <= now.revision:
        raise NotTaken(
            f"found revision {about.revision}; allowed: revision {now.revision + 1} or later, "
            f"for revision {now.revision} is in use"
        )
    if about.prescribed_on < now.prescribed_on:
        raise NotTaken(
            f"found a plan of {about.prescribed_on}; allowed: one of {now.prescribed_on} or later"
        )


def put_in_place(new: PlanFile, folder: Path, *, at: datetime.datetime) -> Path | None:
    """Make ``new`` the plan in use; the one before it is kept. Its new place, or None.

    Raises NotTaken when a session runs, or the file has changed since it was read; OSError.
    """
    holder = held_by(folder / "journals") if (folder / "journals").is_dir() else None
    if holder is not None:
        raise NotTaken(f"a session is running ({holder}); take the plan when it is over")
    read_again = load_plan(new.path, today=at.date())
    if read_again.digest != new.digest:
        raise NotTaken(f"{new.path} has changed since it was read; nothing was taken")
    text = new.path.read_bytes().decode("utf-8")
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    path = folder / PLAN
    kept = _set_aside(path, folder / OLD_PLANS, at) if path.exists() else None
    try:
        save_plan(path, text, replace=True)
    except OSError:
        if kept is not None:
            kept.unlink()
        raise
    return kept


def _set_aside(path: Path, old: Path, at: datetime.datetime) -> Path:
    """A copy of the plan in use, byte by byte: its sessions name its digest."""
    old.mkdir(mode=0o700, exist_ok=True)
    kept = old / f"until-{at:%Y%m%dT%H%M%S}-{_title(path, at.date())}.toml"
    content = path.read_bytes()
    fd = os.open(kept, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
    try:
        with os.fdopen(fd, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
    except OSError:
        kept.unlink()
        raise
    return kept


def _title(path: Path, today: datetime.date) -> str:
    try:
        about = load_kept(path, today=today).plan.about
    except PlanProblems:
        return "damaged"
    return f"{about.id}-r{about.revision}"

"""Handovers that are sealed to the practice (age, by :mod:`coach.sealing`).

The practice makes its key once and gives the public half to the households; whoever finds a sealed
handover on the way cannot read it. It is opened in memory and in a private folder only, and stays
sealed where it lies.
"""

import os
from pathlib import Path

from coach import paths
from coach.handover.outside import NotRead
from coach.sealing import LARGEST_BYTES as LARGEST_BYTES
from coach.sealing import NotSealed, public_key_of, unseal

SEALED = ".age"


def practice_key_file() -> Path:
    """The private key of this practice (an age identity, as ``age-keygen`` writes them)."""
    return paths.state_folder() / "practice-key.txt"


def make_key() -> str:
    """The practice's public key, ``age1...``; its private key is made where there is none.

    Raises OSError, NotSealed for a key file that holds none.
    """
    path = practice_key_file()
    if not path.exists():
        from pyrage import x25519

        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        identity = x25519.Identity.generate()
        text = f"# public key: {identity.to_public()}\n{identity}\n"
        fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
        with os.fdopen(fd, "w", encoding="ascii") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
    return public_key_of(path.read_text(encoding="utf-8", errors="replace"))


def unsealed(content: bytes) -> bytes:
    """What a sealed file holds. Raises NotRead with what to do."""
    path = practice_key_file()
    try:
        identity = path.read_text(encoding="utf-8", errors="replace")
    except OSError as error:
        told = "found a sealed handover, and no key of the practice here; see --make-key"
        raise NotRead(told) from error
    try:
        return unseal(content, identity=identity)
    except NotSealed as error:
        raise NotRead(f"sealed: {error}; is it sealed to the key of this practice?") from error

"""Files sealed so that only a passphrase or a private key opens them: the age format, by pyrage.

The format is public (https://age-encryption.org/v1): Debian's ``age -d`` opens what is sealed
here. A public key begins with ``age1``; whoever wants to receive makes one with ``age-keygen``.
Nothing in here touches a file.
"""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

# Loaded where something is sealed: nothing else needs it, and it costs a few MiB.
LEAST_PASSPHRASE = 12
LARGEST_BYTES = 512 << 20
LARGEST_IDENTITY = 10_000
BEGINS = b"age-encryption.org/v1\n"


class NotSealed(ValueError):  # noqa: N818  (told to the owner)
    """It cannot be sealed or opened; the message says what was found and what is allowed."""


@dataclass(frozen=True, slots=True)
class Sealed:
    """``content`` is what is written; ``holds`` says whether what was read back opens to it."""

    content: bytes
    holds: Callable[[bytes], bool]


def check_passphrase(text: str) -> str:
    """``text`` if it is long enough to keep a thief busy. Raises NotSealed."""
    if len(text) < LEAST_PASSPHRASE:
        raise NotSealed(
            f"found a passphrase of {len(text)} signs; allowed: {LEAST_PASSPHRASE} or more, "
            "such as four words that do not belong together"
        )
    return text


def check_public_key(text: str) -> str:
    """``text`` if it is the public key of a receiver. Raises NotSealed."""
    from pyrage import RecipientError, x25519

    plain = text.strip()
    try:
        x25519.Recipient.from_str(plain)
    except RecipientError as error:
        found = f"found {text!r}"
        raise NotSealed(f"{found}; allowed: a public key such as age1... (age-keygen)") from error
    return plain


def seal(
    content: bytes, *, passphrase: str | None = None, public_keys: Sequence[str] = ()
) -> Sealed:
    """Seal ``content`` to a passphrase or to public keys, one of the two. Raises NotSealed."""
    import pyrage

    if (passphrase is None) == (not public_keys):
        raise NotSealed("found neither or both; allowed: a passphrase, or public keys")
    if len(content) > LARGEST_BYTES:
        raise NotSealed(f"found more than {LARGEST_BYTES >> 20} MiB; allowed: at most that")
    digest = hashlib.sha256(content).digest()
    if passphrase is not None:
        phrase = check_passphrase(passphrase)
        sealed = pyrage.passphrase.encrypt(content, phrase)

        def by_phrase(read: bytes) -> bool:
            return _opens(lambda: pyrage.passphrase.decrypt(read, phrase), digest)

        return Sealed(sealed, by_phrase)
    # A key of this moment, which nobody keeps: without it nobody here could read back what is
    # sealed to somebody else.
    moment = pyrage.x25519.Identity.generate()
    keys = [pyrage.x25519.Recipient.from_str(check_public_key(key)) for key in public_keys]
    sealed = pyrage.encrypt(content, [*keys, moment.to_public()])

    def by_key(read: bytes) -> bool:
        return _opens(lambda: pyrage.decrypt(read, [moment]), digest)

    return Sealed(sealed, by_key)


def unseal(content: bytes, *, passphrase: str | None = None, identity: str | None = None) -> bytes:
    """What was sealed. ``identity`` is the text of a private key file. Raises NotSealed."""
    import pyrage

    if not content.startswith(BEGINS):
        raise NotSealed("found no sealed file; allowed: one that coach or age has sealed")
    try:
        if identity is not None:
            return bytes(pyrage.decrypt(content, _identities(identity)))
        return bytes(pyrage.passphrase.decrypt(content, passphrase or ""))
    except pyrage.DecryptError as error:
        raise NotSealed(f"it does not open with that ({error})") from error


def public_key_of(identity: str) -> str:
    """The public key, ``age1...``, of the first key in the text of a key file. Raises NotSealed."""
    key: Any = _identities(identity)[0]
    return str(key.to_public())


def _identities(text: str) -> "list[object]":
    from pyrage import IdentityError, x25519

    lines = [line.strip() for line in text.splitlines()]
    keys = [line for line in lines if line and not line.startswith("#")]
    try:
        found: list[object] = [x25519.Identity.from_str(key) for key in keys]
    except IdentityError as error:
        raise NotSealed("found no private key; allowed: the file that age-keygen made") from error
    if not found:
        raise NotSealed("found no private key; allowed: the file that age-keygen made")
    return found


def _opens(opened: Callable[[], bytes], digest: bytes) -> bool:
    from pyrage import DecryptError

    try:
        return hashlib.sha256(opened()).digest() == digest
    except DecryptError:
        return False

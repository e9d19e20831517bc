"""The check number of a plan: what a prescriber reads to an owner over the phone. Pure.

Twelve digits from the SHA-256 of the plan's bytes, in three groups of four. It shows that the file
that arrived is the one that was sent, not who wrote it: one wrong number in 10^12 passes.
"""

import hashlib
import re

DIGITS = 12
GROUP = 4


def check_number(digest: str) -> str:
    """``1234 5678 9012`` for a plan whose bytes have the SHA-256 ``digest`` (hex)."""
    hashed = hashlib.sha256(f"laser session plan check number {digest}".encode()).hexdigest()
    digits = f"{int(hashed, 16) % 10**DIGITS:0{DIGITS}d}"
    return " ".join(digits[at : at + GROUP] for at in range(0, DIGITS, GROUP))


def same_number(typed: str, digest: str) -> bool:
    """Whether ``typed`` is the check number, however its digits are grouped."""
    digits = re.sub(r"[\s.\-]", "", typed)
    return digits.isascii() and digits == check_number(digest).replace(" ", "")

"""Who may be named: everybody, or nobody (``--without-names``). Pure but for the signer.

Without names a dog, a person, a plan and the notes of people are left out; a dog and a plan keep
a stand-in, so that two handovers of the same dog can be told to be of the same dog. The stand-in
is made with the key of the device, so that nobody can find the name by trying names.
"""

import hashlib
from dataclasses import dataclass

from coach.journal.journal_lines import Signer


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """What to write for a name. ``signer`` None: everybody is named."""

    signer: Signer | None = None

    @property
    def shown(self) -> bool:
        """Whether names and notes are written."""
        return self.signer is None

    def person(self, name: str) -> str:
        """A person or a practice."""
        return name if self.shown else ""

    def text(self, text: str) -> str:
        """What somebody wrote in their own words."""
        return text if self.shown else ""

    def dog(self, name: str) -> str:
        """The dog, or its stand-in."""
        return self._stand_in("dog", name)

    def plan(self, plan_id: str) -> str:
        """The plan, which is often called after the dog, or its stand-in."""
        return self._stand_in("plan", plan_id)

    def session(self, stem: str) -> str:
        """A session's journal: number and time, without the plan's id."""
        return stem if self.shown else "-".join(stem.split("-")[:2])

    def why_not(self, text: str) -> str:
        """Why a session does not count, which may name another dog."""
        other = "it is a session of "
        return text if self.shown or not text.startswith(other) else f"{other}another dog"

    def _stand_in(self, kind: str, name: str) -> str:
        if self.signer is None:
            return name
        secret = self.signer.sign(f"stand-in {kind} {name}".encode())
        return f"{kind}-{hashlib.sha256(secret.encode()).hexdigest()[:8]}"

"""One remark on a plan. Pure."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A remark with its reason.

    Attributes:
        field: the place in the plan it speaks of, or several by commas.
        text: the whole remark, with source and status where there is one.
        short: the same where lines are few, or "" for ``text``.
        rank: 0 for what must not wait, up to 5; findings are told in this order.
    """

    field: str
    text: str
    short: str = ""
    rank: int = 5

    @property
    def line(self) -> str:
        """What is said where lines are few."""
        return self.short or self.text

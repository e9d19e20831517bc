"""One remark on a plan. Pure."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A remark with its reason; ``field`` is the place in the plan it speaks of."""

    field: str
    text: str

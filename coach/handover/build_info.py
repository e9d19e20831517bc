"""When a handover was made, and what it is bound to. Pure."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """When, by what and for whom a handover is made.

    ``at`` is RFC 3339 with offset, ``since`` a day or None, ``paper`` A4 or Letter; ``fhir``:
    with a FHIR bundle.
    """

    at: str
    program: str
    since: str | None = None
    paper: str = "A4"
    fhir: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """The digest over the raw files of a handover, and the device's signature of it."""

    sha256: str
    public_key: str | None = None
    signature: str | None = None

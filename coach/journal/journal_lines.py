"""Journal lines as bytes, and the chain that binds each to the one before. Pure.

A line is one compact JSON object in UTF-8, its keys always in this order::

    v        schema of the line, 1
    seq      1, 2, 3, ... within the file
    mono_ns  monotonic clock, ns; comparable only between lines of the same boot
    boot     id of the boot
    wall     wall clock, RFC 3339 with offset
    trust    how far the wall clock can be trusted: synchronised, rtc or unknown
    kind     what happened
    data     an object; for session events the event's own fields
    sum      SHA-256 as 64 hex digits

``sum`` is taken over the sum of the line before (64 ASCII digits; zeros before the first line)
followed by this line's bytes up to, not including, ``,"sum"``. It is taken over bytes, not over
what they mean, so a changed space is found like a changed number. The first line holds plan,
revision, digest and dog: all later lines are bound to them.

The chain holds no secret: whoever can write the file can also compute it anew. It finds faults
and careless changes; only a signature (:mod:`coach.journal.signing`) answers a careful forger.
A signed line ends its data with ``"signed":{"public_key":…,"signature":…}``; what is signed is
the sum of the line before followed by this line's bytes up to, not including, ``,"signature"``.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any, Literal, Protocol

from pydantic_core import from_json

SCHEMA = 1
GENESIS = "0" * 64
OPENED = "session_opened"
CLOSED = "session_closed"
RESUMED = "session_resumed"
CUT_OFF = "session_cut_off"
# Kinds that may follow a torn line; their data says how many bytes were set aside.
REOPENING = frozenset({RESUMED, CUT_OFF})
# A diary (:mod:`coach.journal.diary`) is made of the same lines and never closed.
DIARY_OPENED = "diary_opened"
DIARY_RESUMED = "diary_resumed"
# The list of closed sessions (:mod:`coach.journal.closed_index`) too.
INDEX_OPENED = "index_opened"
INDEX_RESUMED = "index_resumed"
_TELLING = REOPENING | {DIARY_RESUMED, INDEX_RESUMED}
_NAMES = {
    OPENED: "a session journal",
    DIARY_OPENED: "a diary",
    INDEX_OPENED: "a list of sessions",
}
LONGEST_LINE = 1 << 20
MOST_NS = 1 << 63
CUT_FIRST = "a first line that was cut while it was written"

Trust = Literal["synchronised", "rtc", "unknown"]

# A line read: in half the time of json.loads, and no NaN, which we never write. Keys come again in
# every line; the rest of a line is its own, and remembering it would only cost memory.
decode = partial(from_json, allow_inf_nan=False, cache_strings="keys")

_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":"))

_SUM_KEY = b',"sum":"'
_SIGNATURE_KEY = b',"signature":"'
_SUFFIX = len(_SUM_KEY) + 64 + 2
_HEX = frozenset(b"0123456789abcdef")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """When, by every clock there is. ``wall`` is RFC 3339 with offset."""

    mono_ns: int
    boot_id: str
    wall: str
    trust: Trust


class NotAJournal(ValueError):  # noqa: N818  (said of a file)
    """The bytes are no journal of this schema: ``line`` from 1, what was found, what may be."""

    def __init__(self, line: int, found: str, allowed: str) -> None:
        super().__init__(f"line {line}: found {found}; allowed: {allowed}")
        self.line = line
        self.found = found
        self.allowed = allowed


@dataclass(frozen=True, slots=True, kw_only=True)
class Torn:
    """Bytes of a line that was being written when it was cut; kept in the file, never counted."""

    line: int
    size: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """The first place where the chain breaks.

    ``line`` is its line in the file; lines before it can be trusted. ``later`` are ranges of
    lines after it that hold together among themselves but do not join the trusted ones.
    """

    line: int
    what: str
    later: tuple[tuple[int, int], ...]

    def __str__(self) -> str:
        if self.line == 1:
            trusted = "no line can be trusted"
        else:
            trusted = f"lines 1 to {self.line - 1} can be trusted"
        spans = ", ".join(f"{a}" if a == b else f"{a} to {b}" for a, b in self.later)
        later = f"; lines {spans} hold together but do not join them" if spans else ""
        return f"line {self.line}: {self.what}; {trusted}{later}"


class Signer(Protocol):
    """Who can sign a line."""

    @property
    def public_key(self) -> str:
        """The key by which others check, as hex."""

    def sign(self, message: bytes) -> str:
        """The signature of ``message``, as hex."""


def encode(
    *,
    seq: int,
    stamp: Stamp,
    kind: str,
    data: Mapping[str, Any],
    previous: str,
    signer: Signer | None = None,
) -> tuple[bytes, str]:
    """One line with its line end, and its sum. ValueError or TypeError if ``data`` is no JSON."""
    if signer is not None:
        data = {**data, "signed": {"public_key": signer.public_key}}
    fields = {
        "v": SCHEMA,
        "seq": seq,
        "mono_ns": stamp.mono_ns,
        "boot": stamp.boot_id,
        "wall": stamp.wall,
        "trust": stamp.trust,
        "kind": kind,
        "data": dict(data),
    }
    text = _ENCODER.encode(fields)
    head = text.encode()[:-1]
    if signer is not None:
        signed = head.removesuffix(b"}}")
        signature = signer.sign(previous.encode() + signed)
        head = signed + _SIGNATURE_KEY + signature.encode() + b'"}}'
    total = hashlib.sha256(previous.encode() + head).hexdigest()
    line = head + _SUM_KEY + total.encode() + b'"}\n'
    if len(line) > LONGEST_LINE:
        raise ValueError(f"a line of {len(line)} bytes; at most {LONGEST_LINE} are allowed")
    return line, total


def stated_sum(line: bytes) -> bytes | None:
    """The sum that a line (without its line end) states, or None if it has not that shape."""
    if line[-_SUFFIX:-66] != _SUM_KEY or line[-2:] != b'"}' or not _HEX.issuperset(line[-66:-2]):
        return None
    return line[-66:-2]


def signed_part(line: bytes) -> bytes:
    """What of a signed line is signed, without the sum of the line before."""
    return line[: max(0, line.rfind(_SIGNATURE_KEY))]


def holds(line: bytes, previous: bytes) -> bool:
    """Whether a line (without its line end) follows on the line whose sum is ``previous``."""
    stated = stated_sum(line)
    return (
        stated is not None
        and hashlib.sha256(previous + line[:-_SUFFIX]).hexdigest().encode() == stated
    )


class Scan:
    """Walks through raw lines and yields the decoded ones that can be trusted.

    Tolerant at the tail, strict in the middle: what was cut while it was written is set aside
    and told in ``torn`` (or in ``set_aside`` when the session was carried on after it); where a
    line in the middle does not hold, nothing more is yielded and ``damage`` tells it. Look at
    these only when the walk is over. Raises NotAJournal if the first line is not of the kind
    ``opening``.
    """

    def __init__(self, raw_lines: Iterable[bytes], *, opening: str = OPENED) -> None:
        self._raw = raw_lines
        self._opening = opening
        self.seq = 0
        self.size = 0
        self.sum = GENESIS
        self.closed = False
        self.closing: tuple[str, bytes] | None = None
        self.torn: Torn | None = None
        self.set_aside: tuple[Torn, ...] = ()
        self.damage: Damage | None = None
        self.unended = False

    def __iter__(self) -> Iterator[dict[str, Any]]:
        raw_lines = iter(self._raw)
        sha256, read, previous = hashlib.sha256, decode, GENESIS.encode()
        fromisoformat = datetime.fromisoformat
        number = 0
        for raw in raw_lines:
            number += 1
            ended = raw.endswith(b"\n")
            line = raw[:-1] if ended else raw
            stated = line[-66:-2]
            if (
                sha256(previous + line[:-_SUFFIX]).hexdigest().encode() != stated
                or line[-_SUFFIX:-66] != _SUM_KEY
                or line[-2:] != b'"}'
            ):
                if self.seq == 0:
                    _first(line, self._opening, ended=ended)
                rest = self._broken(number, raw, raw_lines, previous)
                if rest is None:
                    return
                number, raw = rest
                ended = raw.endswith(b"\n")
                line = raw[:-1] if ended else raw
                stated = line[-66:-2]
            seq = self.seq + 1
            what = ""
            try:
                fields = read(line)
                if fields["v"] != SCHEMA or fields["seq"] != seq:
                    what = f"schema {fields['v']}, number {fields['seq']}; {seq} was due"
                elif (fields["kind"] == self._opening) != (seq == 1):
                    what = f"{_NAMES[self._opening]} opens with its first line and only there"
                elif self.closed:
                    what = "a line after the closing record"
                elif not isinstance(fields["data"], dict):
                    what = "its data is no object"
                elif fromisoformat(fields["wall"]).tzinfo is None:
                    what = "its wall clock has no offset"
                elif (
                    type(fields["mono_ns"]) is not int or not -MOST_NS < fields["mono_ns"] < MOST_NS
                ):
                    what = "its monotonic clock is no whole number that a clock shows"
                elif type(fields["boot"]) is not str or type(fields["trust"]) is not str:
                    what = "boot and trust are no texts"
            except (ValueError, KeyError, TypeError) as error:
                what = f"it is no record ({error})"
            if what:
                if seq == 1:
                    _first(line, self._opening, ended=ended)
                self.damage = Damage(line=number, what=what, later=())
                return
            previous_sum = self.sum
            previous = stated
            self.seq, self.sum = seq, stated.decode()
            self.size += len(raw)
            if fields["kind"] == CLOSED:
                self.closed, self.closing = True, (previous_sum, line)
            self.unended = not ended
            yield fields

    def _broken(
        self, number: int, raw: bytes, raw_lines: Iterator[bytes], previous: bytes
    ) -> tuple[int, bytes] | None:
        """Follow what does not hold: a tail, a fragment that was told, or damage."""
        first, fragment, size = number, hashlib.sha256(), 0
        last = b""
        while True:
            line = raw.removesuffix(b"\n")
            if stated_sum(line) is not None:
                break
            # The line end that parts a fragment from the line after it is no part of it.
            fragment.update(last)
            fragment.update(line)
            size += len(last) + len(line)
            last = raw[len(line) :]
            following = next(raw_lines, None)
            if following is None:
                self.torn = Torn(
                    line=first, size=size + len(last), sha256=_with_end(fragment, last)
                )
                return None
            number += 1
            raw = following
        torn = Torn(line=first, size=size, sha256=fragment.hexdigest())
        if size and holds(line, previous) and _tells(line, torn):
            self.set_aside += (torn,)
            return number, raw
        what = "it does not follow on the line before: changed, left out or put in"
        if size:
            what = "not a whole line, and no line after it says that it was set aside"
        self.damage = Damage(line=first, what=what, later=_later(number, raw, raw_lines))
        return None


def _with_end(fragment: "hashlib._Hash", end: bytes) -> str:
    fragment.update(end)
    return fragment.hexdigest()


def _tells(line: bytes, torn: Torn) -> bool:
    """Whether a line that holds says that ``torn`` was set aside before it."""
    try:
        fields = decode(line)
        told = fields["data"]["torn"]
        return (
            fields["kind"] in _TELLING
            and told is not None
            and (told["bytes"], told["sha256"]) == (torn.size, torn.sha256)
        )
    except (ValueError, KeyError, TypeError):
        return False


def _later(number: int, raw: bytes, raw_lines: Iterator[bytes]) -> tuple[tuple[int, int], ...]:
    """Ranges of lines, from ``raw`` on, each of which follows on the line before it."""
    spans: list[tuple[int, int]] = []
    before = stated_sum(raw.removesuffix(b"\n"))
    for following in raw_lines:
        number += 1
        line = following.removesuffix(b"\n")
        if before is not None and holds(line, before):
            if spans and spans[-1][1] == number - 1:
                spans[-1] = (spans[-1][0], number)
            else:
                spans.append((number, number))
        before = stated_sum(line)
    return tuple(spans)


def _first(line: bytes, opening: str, *, ended: bool) -> None:
    """Say why a first line that does not hold is no journal; return if it is a damaged one."""
    try:
        fields = decode(line)
        version = fields["v"]
        if fields["kind"] == opening and version == SCHEMA and stated_sum(line) is not None:
            return
    except (ValueError, KeyError, TypeError):
        found = CUT_FIRST if not ended else "something else"
        if line[:9] != b'{"v":1,"s':
            found = "something else"
        raise NotAJournal(1, found, f"the first line of {_NAMES[opening]}") from None
    if version != SCHEMA:
        raise NotAJournal(
            1, f"schema {version!r}", f"schema {SCHEMA}; a newer program may read this one"
        )
    raise NotAJournal(1, f"a line of kind {fields['kind']!r}", f"a first line of kind {opening!r}")

"""Who may come in from the network: one code for one browser, shown when the owner asks. Pure.

There is a code only for a few minutes after the owner, at the device, wanted to see one; until
then nothing can be guessed. Wrong codes cost the address from which they come, and nobody else:
five, and it has to wait half a minute. A code that was guessed at too often is no code any more.
"""

import hashlib
import hmac
from collections.abc import Callable
from dataclasses import dataclass, field
from ipaddress import IPv6Address, ip_address
from typing import Literal

NS_PER_S = 1_000_000_000
TRIES = 5
WAIT_NS = 30 * NS_PER_S
# A wrong code is answered so late; a right one at once.
DELAY_S = 1.0
CODE_HOLDS_NS = 5 * 60 * NS_PER_S
# Of a million codes, whatever addresses they come from: one chance in ten thousand.
MANY = 100
HOUR_NS = 3600 * NS_PER_S
TOKEN_HOLDS_NS = 30 * 24 * HOUR_NS
MOST_ADDRESSES = 1000

Verdict = Literal["in", "wrong", "wait", "no_code"]


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of a code; ``token`` is for the browser that is let in."""

    verdict: Verdict
    token: str = ""


@dataclass(slots=True)
class _Address:
    wrong: int = 0
    waits_until_ns: int = 0


@dataclass(slots=True)
class Door:
    """Opens for a code once; then that browser is known by its token.

    Attributes:
        draw_code: a new code of six digits, by chance.
        draw_token: a new secret for a browser, by chance.
        mono_ns: monotonic time.
    """

    draw_code: Callable[[], str]
    draw_token: Callable[[], str]
    mono_ns: Callable[[], int]
    _code: str = ""
    _until_ns: int = 0
    _wrong_ns: list[int] = field(default_factory=list)
    _addresses: dict[str, _Address] = field(default_factory=dict)
    _tokens: dict[bytes, int] = field(default_factory=dict)

    def show(self) -> str:
        """The owner wants to see the code: the one that holds, or a new one."""
        now_ns = self.mono_ns()
        if not self._holds(now_ns):
            self._code = self.draw_code()
        self._until_ns = now_ns + CODE_HOLDS_NS
        return self._code

    def knock(self, code: str, address: str) -> Answer:
        """What comes of ``code`` from a browser at ``address`` (an IP address)."""
        now_ns = self.mono_ns()
        one = self._from(address)
        if now_ns < one.waits_until_ns:
            return Answer("wait")
        if not self._holds(now_ns):
            return Answer("no_code")
        if hmac.compare_digest(code.strip().encode(errors="replace"), self._code.encode()):
            self._code = ""
            one.wrong = 0
            token = self.draw_token()
            self._tokens[_hashed(token)] = now_ns
            return Answer("in", token)
        one.wrong += 1
        if one.wrong >= TRIES:
            one.wrong, one.waits_until_ns = 0, now_ns + WAIT_NS
        self._wrong_ns = [at for at in self._wrong_ns if now_ns - at < HOUR_NS] + [now_ns]
        if len(self._wrong_ns) >= MANY:
            self._wrong_ns.clear()
            self._code = ""
        return Answer("wrong")

    def knows(self, token: str) -> bool:
        """Whether a browser came in with a right code before, and not too long ago."""
        now_ns, key = self.mono_ns(), _hashed(token)
        since_ns = self._tokens.get(key)
        if since_ns is None:
            return False
        if now_ns - since_ns > TOKEN_HOLDS_NS:
            del self._tokens[key]
            return False
        return True

    def forget(self) -> int:
        """Let no browser in without a new code; how many were known."""
        known = len(self._tokens)
        self._tokens.clear()
        return known

    def _holds(self, now_ns: int) -> bool:
        return bool(self._code) and now_ns < self._until_ns

    def _from(self, address: str) -> _Address:
        name = _network(address)
        one = self._addresses.pop(name, None) or _Address()
        # The newest last; who has not been heard of for longest is forgotten first.
        self._addresses[name] = one
        while len(self._addresses) > MOST_ADDRESSES:
            del self._addresses[next(iter(self._addresses))]
        return one


def _network(address: str) -> str:
    """The address; of IPv6 the network, for one computer has as many addresses as it likes."""
    try:
        parsed = ip_address(address.partition("%")[0])
    except ValueError:
        return "unknown"
    if isinstance(parsed, IPv6Address):
        mapped = parsed.ipv4_mapped
        return str(mapped) if mapped else parsed.exploded[:19]
    return str(parsed)


def _hashed(token: str) -> bytes:
    return hashlib.sha256(token.encode(errors="replace")).digest()

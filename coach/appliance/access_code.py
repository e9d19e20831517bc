"""Who may come in from the network: one code for one browser, shown on the device. Pure."""

import hmac
from collections.abc import Callable
from dataclasses import dataclass, field

NS_PER_S = 1_000_000_000
# A million codes, five tries, then half a minute: guessing takes years.
TRIES = 5
WAIT_NS = 30 * NS_PER_S


@dataclass(slots=True)
class Door:
    """Opens for a code once; then that browser is known by its token.

    Attributes:
        draw_code: a new code of six digits, by chance.
        draw_token: a new secret for a browser, by chance.
        mono_ns: monotonic time.
        code: what is to be shown on the device now.
    """

    draw_code: Callable[[], str]
    draw_token: Callable[[], str]
    mono_ns: Callable[[], int]
    code: str = field(init=False)
    _tokens: list[str] = field(default_factory=list)
    _wrong: int = 0
    _shut_until_ns: int = 0

    def __post_init__(self) -> None:
        self.code = self.draw_code()

    def knock(self, code: str) -> str | None:
        """The token for a browser that has the right code; None for any other, and while shut."""
        if self.mono_ns() < self._shut_until_ns:
            return None
        if not hmac.compare_digest(code.strip().encode(), self.code.encode()):
            self._wrong += 1
            if self._wrong >= TRIES:
                self._wrong = 0
                self._shut_until_ns = self.mono_ns() + WAIT_NS
                self.code = self.draw_code()
            return None
        self._wrong = 0
        self.code = self.draw_code()
        token = self.draw_token()
        self._tokens.append(token)
        return token

    def knows(self, token: str) -> bool:
        """Whether a browser came in with a right code before."""
        return any(hmac.compare_digest(token.encode(), known.encode()) for known in self._tokens)

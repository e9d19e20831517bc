"""Every test runs in a world of its own: no real settings, no real journals, no colour wishes."""

import os
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from coach import language
from tests import expected_texts, lanes, messages

# Whoever runs the tests wherever: the same zone, with nights in which the clock changes.
ZONE = "Europe/Berlin"
# What a terminal, a display, a service manager or a wish would change.
STRAY = (
    *("LANG", "LANGUAGE", "TERM", "COLORTERM", "COLUMNS", "LINES", "NO_COLOR", "FORCE_COLOR"),
    *("DISPLAY", "WAYLAND_DISPLAY", "NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID"),
    *("COACH_LANGUAGE", "COACH_VOICE"),
)

# A busy machine is no fault of the code: no example is timed.
settings.register_profile("new examples", deadline=None)
# The same examples each time, for what must tell a change of the code and nothing else.
settings.register_profile("fixed examples", deadline=None, derandomize=True)


class KnownTexts(language.English):
    """English that refuses a text which no translator was given: one that is put together."""

    def __init__(self) -> None:
        self.known = {
            text for entry in messages.catalogue("de") for text in (entry.msgid, entry.msgid_plural)
        }

    def gettext(self, message: str) -> str:
        # Keys without a name ("X", "<-") are looked up as those with one are, but are no text.
        word = re.search(r"[a-z]{2}", message, re.IGNORECASE)
        assert message in self.known or not word, f"no text of the catalogue: {message!r}"
        return message

    def ngettext(self, one: str, many: str, n: int) -> str:
        assert {one, many} <= self.known, f"no text of the catalogue: {one!r}, {many!r}"
        return super().ngettext(one, many, n)


KNOWN_TEXTS = KnownTexts()


@pytest.fixture(autouse=True)
def own_world(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A fresh COACH_HOME, which it gives; one time zone, and English of the catalogue."""
    home = tmp_path / "coach-home"
    monkeypatch.setenv("COACH_HOME", str(home))
    for name in (*STRAY, *(name for name in os.environ if name.startswith("LC_"))):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TZ", ZONE)
    time.tzset()
    # The natural voice takes its time; whoever tests it takes this away.
    monkeypatch.setenv("COACH_VOICE", "gmw/en-US+m3")
    language.use(language.ENGLISH, KNOWN_TEXTS)
    yield home
    language.use(language.ENGLISH)


def pytest_addoption(parser: pytest.Parser) -> None:
    """The lane."""
    lanes.add_option(parser)


def pytest_configure(config: pytest.Config) -> None:
    """What was not proven is said once, not by each worker."""
    expected_texts.refuse_in_ci()
    fixed = os.environ.get("CI") or not config.getoption("--long")
    settings.load_profile("fixed examples" if fixed else "new examples")
    if not hasattr(config, "workerinput"):
        config.pluginmanager.register(lanes.NotProven(config))


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """One lane; what waits for sound goes first, the longest before all: else others wait."""
    lanes.choose(config, items)
    items.sort(
        key=lambda item: (
            not item.nodeid.startswith("tests/voice/test_whole_rehearsal"),
            not item.nodeid.startswith("tests/voice/"),
        )
    )

"""Every test runs in a world of its own: no real settings, no real journals, no colour wishes."""

import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from coach import language
from tests import lanes, messages

# A busy machine is no fault of the code: no example is timed.
settings.register_profile("untimed", deadline=None)
# The gate tries the same examples each time; everywhere else every run looks at new ones.
settings.register_profile("gate", deadline=None, derandomize=True)
settings.load_profile("gate" if os.environ.get("CI") else "untimed")


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
    """A fresh COACH_HOME, which it gives; English of the catalogue, and English after it."""
    home = tmp_path / "coach-home"
    monkeypatch.setenv("COACH_HOME", str(home))
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.delenv("COACH_LANGUAGE", raising=False)
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

"""Two lanes of proof: what a newcomer waits for, and the rest.

The short lane runs by itself; ``--long`` runs the other one. A file or a test that is named runs
whole. What a test needs decides, not taste: real processes, a sound server, a recogniser, a file
system of its own or more than a few seconds make it ``@pytest.mark.long``.

What was skipped was not proven. That is said at the end, and a test may only be skipped where
`MAY_BE_SKIPPED` says what it needs: whoever lets that list grow has to write it down here.
"""

import os
from collections import Counter
from pathlib import Path

import pytest

# Fixtures that need more than a Python process, wherever they are used.
LONG_FIXTURES = frozenset({"server", "room", "fat"})

SMALL_DISK = "a disk that fills up: mounting a tmpfs"
BROWSER = "the page of the call list in a browser: Debian's chromium, and npm for the referee"
DATABASE = "PostgreSQL: Debian's package postgresql"
AGE = "handovers sealed by another program: Debian's package age"
CLUSTER = "Spark, by hand: pip install '.[cluster]' (456 MB) and a Java runtime"
# What a machine may lack, by the test (without parameters) that needs it.
MAY_BE_SKIPPED = {
    "tests/record/test_journal_format.py::test_all_ed25519_vectors_of_cryptography_hold": (
        "the 1,024 vectors of Ed25519: a package index that has cryptography-vectors"
    ),
    "tests/handover/test_stick.py::"
    "test_a_real_fat_stick_takes_it_whole_and_never_twice_under_one_name": (
        "a FAT stick: root, a loop device, mkfs.vfat or mkfs.exfat"
    ),
    "tests/packaging/test_installed.py::test_what_is_installed_coaches_a_whole_evening": (
        "the wheel and the sdist, installed: a network, or an index without one"
    ),
    "tests/record/test_bad_input_commands.py::test_a_journal_that_may_not_be_read_is_told": (
        "a file that may not be read: an ordinary user, or setpriv"
    ),
    "tests/record/test_disk_fails.py::test_a_real_session_on_a_disk_that_fills_up": SMALL_DISK,
    "tests/record/test_real_disk.py::"
    "test_a_full_disk_loses_no_line_and_goes_on_when_there_is_room": SMALL_DISK,
    "tests/record/test_real_disk.py::"
    "test_a_disk_that_is_full_from_the_start_is_told_and_keeps_no_file": SMALL_DISK,
    "tests/record/test_real_disk.py::test_a_disk_that_turns_read_only_while_it_is_written": (
        SMALL_DISK
    ),
    "tests/practice/test_inbox.py::test_what_debians_age_seals_is_opened": AGE,
    **{
        f"tests/practice/test_page.py::{test}": BROWSER
        for test in (
            "test_it_is_searched_and_sorted_by_keyboard_alone",
            "test_it_fits_a_phone_a_desk_and_paper_and_axe_finds_nothing",
        )
    },
    **{
        f"tests/practice/test_engines.py::{test}": DATABASE
        for test in (
            "test_a_thousand_dogs_stand_alike_on_every_engine_that_is_here",
            "test_the_thirty_dogs_stand_alike_on_a_server_and_in_a_lake",
            "test_a_server_killed_in_the_middle_of_loading_goes_on_where_it_was",
            "test_a_desk_killed_in_the_middle_of_loading_leaves_nothing_half",
            "test_two_desks_load_and_ask_at_once",
            "test_a_database_of_an_older_program_is_brought_up_and_a_newer_one_refused",
            "test_what_only_a_server_can_refuse_is_told",
        )
    },
    **{
        f"tests/practice/test_engines.py::{test}": CLUSTER
        for test in ("test_a_thousand_dogs_stand_alike_on_a_spark_cluster",)
    },
}


def add_option(parser: pytest.Parser) -> None:
    """``--long``."""
    parser.addoption("--long", action="store_true", help="run the long lane, and nothing else")


def is_long(item: pytest.Item) -> bool:
    """Whether it belongs to the long lane."""
    needs = getattr(item, "fixturenames", ())
    return item.get_closest_marker("long") is not None or not LONG_FIXTURES.isdisjoint(needs)


def choose(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave one lane in ``items``, and all of a file that was named."""
    long_lane = config.getoption("--long")
    words = [] if long_lane else config.args
    files = [Path(config.invocation_params.dir, word.split("::")[0]).resolve() for word in words]
    named = {file for file in files if file.is_file()}
    chosen: list[pytest.Item] = []
    left: list[pytest.Item] = []
    for item in items:
        (chosen if is_long(item) == long_lane or item.path in named else left).append(item)
    if left:
        config.hook.pytest_deselected(items=left)
        items[:] = chosen


class NotProven:
    """Gathers what was skipped, where the reports of all workers come together."""

    def __init__(self, config: pytest.Config) -> None:
        self.lane = "short" if config.getoption("--long") else "long"
        self.skipped: Counter[str] = Counter()
        self.unknown: dict[str, str] = {}

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """A test that was skipped."""
        if report.skipped and not hasattr(report, "wasxfail"):
            self._keep(report.nodeid, report.longrepr)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """A file that was skipped."""
        if report.skipped:
            self._keep(report.nodeid, report.longrepr)

    def _keep(self, nodeid: str, why: object) -> None:
        needs = MAY_BE_SKIPPED.get(nodeid.split("[")[0])
        if needs is None:
            self.unknown[nodeid] = str(why[-1] if isinstance(why, tuple) else why)
        else:
            self.skipped[needs] += 1

    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        """Fail when the list has grown."""
        if self.unknown and session.exitstatus == pytest.ExitCode.OK:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        """Say it."""
        write = terminalreporter.write_line
        terminalreporter.section("not proven here")
        write(f"what the {self.lane} lane proves")
        for needs, tests in sorted(self.skipped.items()):
            write(f"{needs} ({tests} {'test' if tests == 1 else 'tests'})")
        if os.geteuid() == 0:
            write("that an ordinary user can do the same: these tests ran as root")
        for nodeid, why in sorted(self.unknown.items()):
            write(f"FAILED {nodeid}: skipped ({why}). Provide it, or see tests/lanes.py", red=True)

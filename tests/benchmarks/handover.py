"""The handover of a course of 90 days, beside only reading the same journals."""

import tempfile
from itertools import count
from pathlib import Path

from coach.handover.build_info import Made
from coach.handover.folder import write_handover
from coach.journal.journal import journal_files, read_journal
from coach.journal.signing import DeviceKey
from tests.benchmarks.frame import Figure, pairs, say, timed_s
from tests.benchmarks.home import HOLD_S, PLANS
from tests.homes import write_home

DAYS, QUICK_DAYS = 90, 15
MADE = Made(at="2015-04-15T10:00:00+02:00", program="benchmark")


def measure(*, quick: bool) -> list[Figure]:
    """A folder with report, tables, summary and logs; each is a new one."""
    days = QUICK_DAYS if quick else DAYS
    say(f"handover: {days} days")
    key = DeviceKey(bytes(32))
    with tempfile.TemporaryDirectory(prefix="coach-handover-") as name:
        dog, to = Path(name) / "pip", Path(name) / "to"
        write_home(dog / "journals", days, hold_s=HOLD_S)
        text = (PLANS / "demo-long-back.toml").read_text(encoding="utf-8")
        (dog / "plan.toml").write_text(text.replace("Juniper", "Pip"), encoding="utf-8")
        journals = journal_files(dog / "journals")
        lines = sum(len(read_journal(path).lines) for path in journals)
        numbers = count()

        def handed_over() -> None:
            place = to / str(next(numbers))
            done = write_handover(dog, place, made=MADE, signer=key, with_names=True, zipped=False)
            if len(done.case.counted) != days:
                raise SystemExit(f"{len(done.case.counted)} of {days} sessions were handed over")

        def read() -> None:
            for path in journals:
                read_journal(path)

        # The first report of a process also loads its font.
        handed_over()
        ours, baseline = pairs(
            lambda: timed_s(handed_over), lambda: timed_s(read), rounds=3 if quick else 9
        )
    return [
        Figure(
            name=f"handover of {days} daily sessions",
            ours=ours,
            baseline=baseline,
            unit="s",
            against="reading the same journals",
            note=f"{lines} lines",
        )
    ]
